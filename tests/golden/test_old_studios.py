"""Studios of earlier versions still open: a backup, on both databases, and a file of SQLite.

`backups/version-1.zip` and `backups/studio-1.db.gz` hold the same school, made by the version whose reports
had no `version` yet: a teacher with her own figure, groove and kit, settings, a series of two lessons, two
students, four takes and a practice log.
"""

from __future__ import annotations

import gzip
from contextlib import closing
from datetime import UTC, datetime
from pathlib import Path

import pytest

from fillwright.store.archive import restore_backup_file
from fillwright.store.criteria import Criteria
from fillwright.store.database import open_store
from fillwright.store.export import export_student
from fillwright.store.settings import list_own, read_criteria, read_settings
from fillwright.store.students import list_assignments, list_students
from fillwright.store.takes import get_report, list_passes, list_takes
from fillwright.store.transaction import begin_reading
from fillwright.studio.app import make_app
from fillwright.studio.web.setup import Setup
from tests.asgi import Browser
from tests.postgres import database
from tests.studio import WORDS, NoBuilds, token_of

BACKUPS = Path(__file__).parent / "backups"
TODAY = datetime(2026, 3, 7, 17, 0, tzinfo=UTC)
PLACES = ["backup on sqlite", "backup on postgresql", "studio.db"]


@pytest.fixture(scope="module", params=PLACES)
def store(request, tmp_path_factory):
    folder = tmp_path_factory.mktemp("old")
    if request.param == "backup on postgresql":
        with database(request.getfixturevalue("postgres_url"), "old_studio") as url:
            opened = open_store(url)
            restore_backup_file(opened, BACKUPS / "version-1.zip", replace=False)
            yield opened
            opened.close()
        return
    path = folder / "studio.db"
    if request.param == "studio.db":
        path.write_bytes(gzip.decompress((BACKUPS / "studio-1.db.gz").read_bytes()))
    opened = open_store(path)
    if request.param == "backup on sqlite":
        restore_backup_file(opened, BACKUPS / "version-1.zip", replace=False)
    yield opened
    opened.close()


@pytest.fixture
def ada(store, tmp_path):
    """Return a browser in which the teacher is signed in, with the password of that day."""
    setup = Setup(
        store=store,
        packs=tmp_path / "packs",
        sounds=tmp_path / "sounds",
        secret="s" * 48,
        school=True,
        clock=lambda: TODAY,
        builds=NoBuilds(),
    )
    with closing(Browser(make_app(setup))) as browser:
        token = token_of(browser.get("/sign-in").text)
        answer = browser.post("/sign-in", {"token": token, "login": "ada", "password": WORDS})
        assert answer.status == 303
        yield browser


def test_everything_is_in_the_store(store):
    with begin_reading(store, 1, lambda: TODAY) as transaction:
        names = [student.profile.name for student in list_students(transaction)]
        own = {
            kind: [item.name for item in list_own(transaction, kind)] for kind in ("figure", "groove", "kit")
        }
        assert names == ["Pim", "Quinn"]
        assert own == {"figure": ["Ada's four"], "groove": ["slow walk"], "kit": ["small room"]}
        assert read_settings(transaction)["kit"] == "small room"
        assert read_criteria(transaction) == Criteria(
            most_missing=1, on_time_ms=35.0, on_time_share=0.85, most_spread_ms=25.0, most_rush_percent=3.0
        )
        assert [row.fill for row in list_assignments(transaction, 1)] == ["", "ada-s-four-last-beat"]
        assert [row.take for row in list_passes(transaction, 1)] == [1, None]
        assert [take.passed for take in list_takes(transaction, 1)] == [False, True]
        assert export_student(transaction, 1)


def test_stored_reports_are_read(store):
    with begin_reading(store, 1, lambda: TODAY) as transaction:
        reports = {number: get_report(transaction, number) for number in (1, 2, 3, 4)}
    assert (reports[1].strokes_written, len(reports[1].missing)) == (51, 1)
    assert reports[1].numbers[0] == ("Strokes", "50 of 51 heard")
    assert reports[2].fill_unevenness_ms > 25
    assert len(reports[3].wrong_surface) > 5
    assert (reports[4].refused != "", reports[4].strokes) == (True, ())


@pytest.mark.parametrize(
    ("path", "words"),
    [
        ("/", ("First steps, Ünder way", "Paradiddles", "A groove of our own")),
        ("/series/1", ("Rudiments: 2 of 40",)),
        ("/lessons/1", ("Move the single paradiddle around the kit.", "Removed fills (1)")),
        ("/lessons/2", ("Fills on a small kit.", "Slow walk")),
        ("/lessons/2/text", ("# our own figure", "Earlier versions (1)")),
        ("/lessons/2/form", ("Count aloud.", "small room")),
        ("/figures", ("Ada&#39;s four",)),
        ("/grooves", ("slow walk",)),
        ("/kits", ("small room",)),
        ("/settings", ('value="0.85"', "<option selected>small room</option>")),
        ("/students", ("Pim", "Quinn")),
        ("/students/1", ("25 minutes logged", "due 20 March 2026", "Likes ghost notes.", "Takes")),
        ("/students/2", ("left-handed", "small room kit")),
        ("/takes/1", ("Passed at 60 bpm", "hi-hat on beat 3 of bar 2", "<svg")),
        ("/takes/2", ("Not passed yet", "The fill is uneven by 70 ms", "<audio")),
        ("/takes/3", ("On another drum", "low")),
        ("/takes/4", ("This take is not scored.", "does not fit the phrase")),
    ],
)
def test_the_pages_show_it(ada, path, words):
    answer = ada.get(path)
    assert answer.status == 200, answer.text
    for text in words:
        assert text in answer.text, text


def test_recordings_are_whole(ada):
    assert ada.get("/takes/1/recording").content.startswith(b"MThd")
    assert len(ada.get("/takes/2/recording").content) > 40_000
