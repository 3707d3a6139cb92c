"""Who may see what: every page of the studio, for every visitor, on things of one's own and of others.

Every page of the table needs a row here. What is not allowed must not be there (404), lead to the sign-in (303)
or be refused (403), and must leave the store as it is.
"""

from __future__ import annotations

from dataclasses import asdict, dataclass, field
from urllib.parse import quote, urlencode

import pytest
from sqlalchemy import event

from fillwright.studio.routes import PAGES
from tests.studio import FILL, LESSON, SETTINGS, VISITORS, WORDS, Schools, silence

EVERYONE = frozenset(VISITORS)
SIGNED_IN = EVERYONE - {"anonymous"}
TEACHERS = frozenset({"ada", "bo"})
ADA = frozenset({"ada"})
ADA_AND_PIM = frozenset({"ada", "pim"})


@dataclass(frozen=True, slots=True, kw_only=True)
class Row:
    """What a page is asked in the test.

    Attributes:
        page: its method and path; the path's parameters name things of Ada's, and of her student Pim's.
        roles: visitors that are answered.
        answers: one of these.
        query: behind the path.
        form: sent along.
    """

    page: str
    roles: frozenset[str]
    answers: tuple[int, ...] = (200,)
    query: dict[str, str] = field(default_factory=dict)
    form: dict[str, str] = field(default_factory=dict)


def _row(page: str, who: frozenset[str], /, *answers: int, **form: str) -> Row:
    usual = (303,) if page.startswith("POST") else (200,)
    return Row(page=page, roles=who, answers=answers or usual, form=form)


_GROOVE = {
    "name": "My own",
    "meter": "4/4",
    "line-0-surface": "hi-hat",
    "line-0-hand": "right",
    "line-0-on": "1 & 2 & 3 & 4 &",
}
_OF = {"lesson": "{lesson}", "fill": FILL, "tempo": "60"}
_TAKE = {"lesson": "{lesson}", "fill": FILL}

TABLE = (
    _row("GET /", SIGNED_IN, 200, 303),
    _row("POST /series", TEACHERS, title="Another"),
    _row("GET /series/{series:int}", ADA),
    _row("GET /series/{series:int}/edit", ADA),
    _row("POST /series/{series:int}/edit", ADA, title="Renamed"),
    _row("POST /series/{series:int}/delete", ADA, confirmation="The series of ada"),
    _row("GET /series/{series:int}/book.pdf", ADA),
    _row("GET /series/{series:int}/new", ADA),
    _row("POST /series/{series:int}/new", ADA, text=LESSON),
    _row("GET /lessons/{lesson:int}", ADA),
    _row("GET /lessons/{lesson:int}/text", ADA),
    _row("POST /lessons/{lesson:int}/text", ADA, text=LESSON.replace("Two", "Three")),
    _row("GET /lessons/{lesson:int}/form", ADA),
    _row("POST /lessons/{lesson:int}/form", ADA, 422),
    _row("POST /lessons/{lesson:int}/remove", ADA),
    _row("POST /lessons/{lesson:int}/restore", ADA),
    _row("POST /lessons/{lesson:int}/fills/{fill}/{action}", ADA),
    _row("POST /lessons/{lesson:int}/removed/{removed}/restore", ADA),
    _row("GET /lessons/{lesson:int}/pack", ADA),
    _row("POST /lessons/{lesson:int}/pack", ADA),
    _row("GET /lessons/{lesson:int}/pack/progress", ADA),
    _row("POST /lessons/{lesson:int}/pack/cancel", ADA),
    _row("GET /lessons/{lesson:int}/pack.zip", ADA),
    _row("GET /lessons/{lesson:int}/practice", ADA_AND_PIM),
    _row("GET /lessons/{lesson:int}/handout.pdf", ADA_AND_PIM),
    _row("GET /lessons/{lesson:int}/fills/{fill}/sound.json", ADA_AND_PIM),
    _row("GET /fonts/{name}.otf", EVERYONE, 404),
    _row("GET /sign-in", EVERYONE),
    _row("POST /sign-in", EVERYONE, login="ada", password=WORDS),
    _row("POST /sign-out", SIGNED_IN),
    _row("GET /account", SIGNED_IN),
    _row("POST /account/password", SIGNED_IN, password=WORDS, new="four old drum sticks"),
    _row("POST /account/sessions/end", SIGNED_IN),
    _row("POST /account/sessions/{session:int}/end", ADA),
    _row("POST /account/invitation", TEACHERS, 200),
    _row("GET /invitation/{secret}", EVERYONE),
    _row("POST /invitation/{secret}", EVERYONE, 303, 422, login="new", password=WORDS),
    _row("GET /figures", TEACHERS),
    _row("POST /figures", TEACHERS, name="My own", sticking="R L R L", rhythm="16"),
    _row("POST /figures/delete", TEACHERS, name="My own"),
    _row("GET /figures/{name}", ADA),
    _row("GET /figures/{name}/sound.json", ADA),
    _row("GET /grooves", TEACHERS),
    _row("POST /grooves", TEACHERS, **_GROOVE),
    _row("POST /grooves/delete", TEACHERS, name="My own"),
    _row("GET /kits", TEACHERS),
    _row("POST /kits", TEACHERS, 422, name="My own", surfaces="kick", **{"from": "practice pad"}),
    _row("POST /kits/delete", TEACHERS, name="My own"),
    _row("GET /workshop", TEACHERS),
    _row("POST /workshop/try", TEACHERS, 422, sticking="R"),
    _row("POST /workshop/save", TEACHERS, 422),
    _row("GET /settings", TEACHERS),
    _row("POST /settings", TEACHERS, **SETTINGS),
    _row("GET /help/shortcuts", SIGNED_IN),
    _row("GET /help/glossary", SIGNED_IN),
    _row("GET /students", TEACHERS),
    _row("POST /students", TEACHERS, name="Another"),
    _row("GET /students/{student:int}", ADA_AND_PIM),
    _row("POST /students/{student:int}", ADA, name="Pim again"),
    _row("POST /students/{student:int}/delete", ADA, name="pim"),
    _row("POST /students/{student:int}/invitation", ADA, 422),
    _row("POST /students/{student:int}/access", ADA, 200),
    _row("GET /students/{student:int}/export.zip", ADA),
    _row("POST /students/{student:int}/assignments", ADA, what="{lesson}:" + FILL),
    _row("POST /students/{student:int}/assignments/{assignment:int}/unassign", ADA),
    _row("POST /students/{student:int}/passed", ADA, **_OF),
    _row("POST /students/{student:int}/practice", ADA_AND_PIM, minutes="10", **_OF),
    Row(page="GET /students/{student:int}/takes/new", roles=ADA_AND_PIM, query=_TAKE),
    _row("POST /students/{student:int}/takes", ADA_AND_PIM, 422, **_OF),
    _row("GET /students/{student:int}/takes/waiting/{job}", ADA_AND_PIM),
    _row("GET /students/{student:int}/takes/waiting/{job}/progress", ADA_AND_PIM),
    _row("POST /students/{student:int}/takes/waiting/{job}/cancel", ADA_AND_PIM),
    _row("GET /takes/{take:int}", ADA_AND_PIM),
    _row("GET /takes/{take:int}/recording", ADA_AND_PIM),
    _row("POST /takes/{take:int}/delete", ADA_AND_PIM, 303, 404),
    _row("GET /sound/kit.json", SIGNED_IN),
    _row("GET /sound/kit/{digest}/{layer:int}", SIGNED_IN),
    _row("GET /sound/{name}.mjs", EVERYONE, 404),
    _row("GET /students/{student:int}/plan.pdf", ADA_AND_PIM),
    _row("GET /students/{student:int}/plan.ics", ADA_AND_PIM),
)


@pytest.fixture(autouse=True)
def _silent(monkeypatch):
    silence(monkeypatch)


@pytest.fixture(scope="module", params=["sqlite", "postgresql"])
def schools(request, tmp_path_factory):
    server = request.getfixturevalue("postgres_url") if request.param == "postgresql" else ""
    made = Schools(tmp_path_factory.mktemp(request.param), server)
    yield made
    made.close()


def test_every_page_has_a_row():
    assert sorted(row.page for row in TABLE) == sorted(f"{page.method} {page.path}" for page in PAGES)


@pytest.mark.parametrize("row", TABLE, ids=lambda row: row.page)
def test_a_page_answers_only_those_it_is_for(row, schools):
    with schools.one() as school:
        before = school.rows()
        for who in sorted(EVERYONE - row.roles):
            answer = _asked(school, who, row)
            assert answer.status == _refused(who, row), f"{row.page} says {answer.status} to {who}"
            if answer.status == 303:
                assert answer.headers["location"].startswith("/sign-in?to=")
        assert school.rows() == before
        for who in sorted(row.roles, reverse=True):  # students first: what a teacher does may end it all
            answer = _asked(school, who, row)
            assert answer.status in row.answers, f"{row.page} says {answer.status} to {who}: {answer.text}"


def _asked(school, who, row):
    things = {name: str(value) for name, value in asdict(school.ada).items()}
    method, path = row.page.split(" ", 1)
    path = path.replace(":int}", "}").format(**things)
    form = {name: value.format(**things) for name, value in row.form.items()}
    query = {name: value.format(**things) for name, value in row.query.items()}
    with school.browser(who) as browser:
        if method == "POST":
            return browser.post(quote(path), form)
        return browser.get(f"{quote(path)}?{urlencode(query)}")


def _refused(who, row):
    """How who may not see a page is turned away."""
    if who != "anonymous":
        return 404
    return 303 if row.page.startswith("GET") else 403


_FOREIGN = (
    ("ada", "/students/{student}/assignments", {"what": "{theirs}:"}),
    ("ada", "/students/{student}/assignments", {"what": "{theirs}:" + FILL}),
    ("ada", "/students/{student}/assignments/{their_assignment}/unassign", {}),
    ("ada", "/students/{student}/passed", {**_OF, "lesson": "{theirs}"}),
    ("ada", "/students/{student}/practice", {**_OF, "lesson": "{theirs}", "minutes": "5"}),
    ("pim", "/students/{student}/practice", {**_OF, "lesson": "{theirs}", "minutes": "5"}),
    ("ada", "/students/{student}/takes", {**_OF, "lesson": "{theirs}"}),
    ("pim", "/students/{student}/takes", {**_OF, "lesson": "{theirs}"}),
    ("ada", "/workshop/save", {"lesson": "{theirs}", "sticking": "R L R L", "rhythm": "16", "beats": "1"}),
)


@pytest.mark.parametrize(("who", "path", "form"), _FOREIGN)
def test_a_form_can_not_name_what_is_anothers(who, path, form, schools):
    with schools.one() as school:
        things = {**asdict(school.ada), "theirs": school.bo.lesson, "their_assignment": school.bo.assignment}
        before = school.rows()
        with school.browser(who) as browser:
            answer = browser.post(
                path.format(**things), {name: value.format(**things) for name, value in form.items()}
            )
        assert answer.status in {404, 422}
        assert school.rows() == before


def test_a_student_plays_only_what_is_assigned(schools):
    with schools.one() as school, school.browser("ada") as ada, school.browser("pim") as pim:
        path = f"/students/{school.ada.student}"
        assert pim.get(f"{path}/takes/new?lesson={school.ada.lesson}&fill={FILL}").status == 200
        ada.post(f"{path}/assignments/{school.ada.assignment}/unassign")
        assert pim.get(f"{path}/takes/new?lesson={school.ada.lesson}&fill={FILL}").status == 404
        assert pim.get(f"/lessons/{school.ada.lesson}/practice").status == 404
        assert pim.get(f"/takes/{school.ada.take}").status == 200


def test_no_page_holds_two_connections_at_once(schools):
    """Thirty who did would wait for each other until all of them gave up."""
    with schools.one() as school:
        engine, most = school.setup.store.engine, []
        event.listen(engine, "checkout", lambda *_: most.append(engine.pool.checkedout()))
        for row in sorted(
            TABLE, key=lambda row: ("sign-out" in row.page, "password" in row.page, "/sessions/" in row.page)
        ):
            _asked(school, "ada", row)
        assert set(most) == {1}


def test_no_page_shows_the_names_of_other_teachers_students(schools):
    with schools.one() as school:
        for who, names in (("bo", ("pim", "quinn")), ("ada", ("rosa",)), ("pim", ("quinn", "rosa", "waiting"))):
            with school.browser(who) as browser:
                for row in TABLE:
                    if row.page.startswith("GET") and "{" not in row.page and "sound" not in row.page:
                        page = browser.get(row.page.split(" ", 1)[1]).text.casefold()
                        assert not [name for name in names if name in page], (who, row.page)
