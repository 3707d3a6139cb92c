"""A studio that is killed at any moment opens again, whole, with everything that it said it had saved.

FILLWRIGHT_KILLS sets the number of kills; `make soak` sets 50.
"""

from __future__ import annotations

import hashlib
import io
import json
import os
import re
import signal
import socket
import subprocess
import sys
import threading
import time
import zipfile
from contextlib import contextmanager, suppress
from functools import cache
from random import Random

import httpx
import pytest
from alembic.autogenerate import compare_metadata
from alembic.migration import MigrationContext
from sqlalchemy import func, select, text

from fillwright.pack.build import CONTENTS_FILE
from fillwright.score.export.midi import encode_midi
from fillwright.store.database import open_store
from fillwright.store.lessons import add_lesson, add_series, get_newest_version, list_versions
from fillwright.store.practice_log import list_practice
from fillwright.store.schema import metadata, take, take_media
from fillwright.store.students import Profile, add_student, assign
from fillwright.store.takes import list_takes
from fillwright.store.transaction import begin_reading, begin_writing, ensure_teacher
from fillwright.studio.work.lessons import plan_text
from tests.studio import FILL, LESSON

KILLS = int(os.environ.get("FILLWRIGHT_KILLS", "3"))
BUILDS_KILLED = int(os.environ.get("FILLWRIGHT_KILLS", "2"))
_PATIENCE_SECONDS = 120


class Studio:
    """The real server, in a process of its own."""

    def __init__(self, folder):
        self.folder = folder
        with socket.socket() as found:
            found.bind(("127.0.0.1", 0))
            self.port = found.getsockname()[1]
        words = ["serve", "--folder", str(folder), "--port", str(self.port), "--quiet", "--no-browser"]
        self.process = subprocess.Popen(
            [sys.executable, "-m", "fillwright.cli", *words], stderr=subprocess.PIPE
        )

    def wait(self):
        """Until it answers."""
        deadline = time.monotonic() + _PATIENCE_SECONDS
        while time.monotonic() < deadline and self.process.poll() is None:
            with suppress(httpx.TransportError):
                return httpx.get(f"http://127.0.0.1:{self.port}/help/shortcuts", timeout=60)
            time.sleep(0.1)
        pytest.fail(f"the studio does not answer: {self.process.communicate(timeout=5)}")

    @contextmanager
    def client(self):
        """A browser whose forms carry the token of its session."""
        with httpx.Client(base_url=f"http://127.0.0.1:{self.port}", timeout=60) as client:
            page = client.get("/help/shortcuts").text
            client.headers["x-token"] = re.search('data-token="([^"]+)"', page)[1]
            yield client

    def kill(self):
        """Without a warning."""
        self.process.send_signal(signal.SIGKILL)
        self.process.communicate(timeout=60)

    def __enter__(self):
        return self

    def __exit__(self, *_):
        self.kill()


def _whole(folder):
    """Open the store and look at all of it."""
    store = open_store(folder / "studio.db")
    with store.begin_reading() as connection:
        assert connection.execute(text("PRAGMA integrity_check")).scalar_one() == "ok"
        assert connection.execute(text("PRAGMA foreign_key_check")).all() == []
        assert compare_metadata(MigrationContext.configure(connection), metadata) == []
        halves = select(func.count()).select_from(take).where(take.c.id.not_in(select(take_media.c.take_id)))
        assert connection.execute(halves).scalar_one() == 0
    return store


def _filled(folder):
    store = open_store(folder / "studio.db")
    teacher = ensure_teacher(store)
    with begin_writing(store, teacher) as transaction:
        lesson = add_lesson(transaction, add_series(transaction, "Killed"), LESSON)
        student = add_student(transaction, Profile(name="Pim"))
        assign(transaction, student, lesson)
    store.close()
    return lesson, student


def _while_killed(studio, send, wait_seconds):
    """Send again and again until the studio is gone."""

    def sending():
        with suppress(httpx.TransportError), studio.client() as client:
            for number in range(10_000):
                send(client, number)

    thread = threading.Thread(target=sending)
    thread.start()
    time.sleep(wait_seconds)
    studio.kill()
    thread.join(timeout=_PATIENCE_SECONDS)
    assert not thread.is_alive()


def test_nothing_that_was_acknowledged_is_lost(tmp_path):
    """One studio, killed again and again while lessons, minutes and takes are sent."""
    lesson, student = _filled(tmp_path)
    texts, minutes, takes = {LESSON}, 0, 0
    for evening in range(KILLS):
        sent_texts, said_texts, said = [], [], [0, 0]

        def send(client, number, evening=evening, sent=sent_texts, kept=said_texts, said=said):
            sent.append(LESSON.replace("Two hands", f"Evening {evening}, version {number}"))
            if client.post(f"/lessons/{lesson}/text", data={"text": sent[-1]}).status_code == 303:
                kept.append(sent[-1])
            form = {"lesson": str(lesson), "fill": FILL, "tempo": "60"}
            said[0] += (
                client.post(f"/students/{student}/practice", data={**form, "minutes": "1"}).status_code == 303
            )
            files = {"recording": ("take.mid", _played(), "audio/midi")}
            answer = client.post(f"/students/{student}/takes", data=form, files=files)
            said[1] += answer.headers.get("location", "").startswith("/takes/")  # other pages say it waits

        with Studio(tmp_path) as studio:
            studio.wait()
            _while_killed(studio, send, Random(evening).uniform(0.0, 2.0))
        store = _whole(tmp_path)
        with begin_reading(store, ensure_teacher(store)) as transaction:
            kept = {one.text for one in list_versions(transaction, lesson)}
            assert texts | set(said_texts) <= kept <= texts | set(sent_texts)
            assert not said_texts or get_newest_version(transaction, lesson).text in (
                sent_texts[-1],
                said_texts[-1],
            )
            log, played = (
                len(list_practice(transaction, student)),
                len(list_takes(transaction, student, most=10_000)),
            )
        store.close()
        assert minutes + said[0] <= log <= minutes + said[0] + 1
        assert takes + said[1] <= played <= takes + said[1] + 1
        texts, minutes, takes = kept, log, played
    assert len(texts) > 1
    assert minutes
    assert takes


def test_a_studio_killed_at_its_first_start_starts_again(tmp_path):
    for evening in range(KILLS):
        folder = tmp_path / str(evening)
        with Studio(folder):
            time.sleep(Random(f"first {evening}").uniform(0.5, 4.0))
        _whole(folder).close()
    with Studio(folder) as studio:
        assert studio.wait().status_code == 200


def test_no_half_pack_is_shown(tmp_path):
    lesson, _ = _filled(tmp_path)
    shown = 0
    for evening in range(BUILDS_KILLED):
        with Studio(tmp_path) as studio:
            studio.wait()
            with studio.client() as client:
                text = LESSON.replace("Two hands", f"Pack {evening}")
                assert client.post(f"/lessons/{lesson}/text", data={"text": text}).status_code == 303
                assert client.post(f"/lessons/{lesson}/pack").status_code == 303
                time.sleep(Random(f"pack {evening}").uniform(0.0, 12.0))
        with Studio(tmp_path) as studio:
            studio.wait()
            with studio.client() as client:
                answer = client.get(f"/lessons/{lesson}/pack.zip")
        assert answer.status_code == (200 if shown else answer.status_code)
        assert answer.status_code in {200, 404}
        if answer.status_code == 200:
            shown += 1
            _check_pack(answer.content)


def _check_pack(content):
    """Every file that the list of contents names, as it was made."""
    with zipfile.ZipFile(io.BytesIO(content)) as archive:
        names = {name.partition("/")[2]: name for name in archive.namelist()}
        files = json.loads(archive.read(names[CONTENTS_FILE]))["files"]
        assert set(files) | {CONTENTS_FILE} == set(names)
        for path, row in files.items():
            assert hashlib.sha256(archive.read(names[path])).hexdigest() == row["sha256"]


@cache
def _played():
    """The fill as an electronic kit plays it, exactly."""
    found = plan_text(LESSON)
    return encode_midi(found.fills[0].phrase, 60.0, title="A take", feel=found.lesson.feel)
