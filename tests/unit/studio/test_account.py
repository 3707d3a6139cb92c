"""Signing in, sessions, tokens, invitations, one's own account."""

from __future__ import annotations

import hashlib
from datetime import timedelta

import pytest
from itsdangerous import URLSafeTimedSerializer
from sqlalchemy import select

from fillwright.store.accounts import find_account_by_login
from fillwright.store.database import open_store
from fillwright.store.lessons import add_series, list_series
from fillwright.store.schema import account, audit, invitation, session, teacher
from fillwright.store.sessions import MOST_SESSIONS, add_session
from fillwright.store.transaction import begin_reading, begin_writing, ensure_teacher
from fillwright.studio.serve import make_first_link, set_up
from fillwright.studio.web.addresses import parse_proxy
from fillwright.studio.web.devices import DEVICE_COOKIE
from fillwright.studio.web.setup import LOCAL_HOSTS
from fillwright.studio.web.sign_in_limits import ADDRESS_ALLOWANCE, FIRST_WAIT, FREE_TRIES
from fillwright.studio.web.visitor import COOKIE, SESSION_SECONDS
from tests.studio import NOW, VISITORS, WORDS, token_of


def _sign_in(browser, login="ada", password=WORDS, **more):
    token = token_of(browser.get("/sign-in").text)
    return browser.post("/sign-in", {"token": token, "login": login, "password": password, **more})


def _audit(school):
    with school.setup.store.begin_reading() as connection:
        query = select(audit.c.who, audit.c.what, audit.c.detail).order_by(audit.c.id)
        return [tuple(row) for row in connection.execute(query)]


def test_the_cookie_is_kept_from_scripts_and_from_other_sites(schools):
    for secure in (False, True):
        with schools.one(secure=secure) as school, school.browser() as browser:
            answer = _sign_in(browser)
            words = answer.headers["set-cookie"].split("; ")
            assert answer.status == 303
            assert {"HttpOnly", "SameSite=lax", "Path=/", f"Max-Age={SESSION_SECONDS}"} <= set(words)
            assert ("Secure" in words) == secure


def test_signing_in_begins_a_session_of_its_own(school):
    with school.browser() as browser:
        before = token_of(browser.get("/sign-in").text)
        cookie = browser.cookies[COOKIE]
        _sign_in(browser)
        assert browser.cookies[COOKIE] != cookie
        assert token_of(browser.get("/help/shortcuts").text) != before
        browser.cookies[COOKIE] = cookie
        assert browser.get("/help/shortcuts").status == 303


@pytest.mark.parametrize(
    "cookie",
    ["", "x", "a.b.c", ".....", "e30.x.y", "\xff\xfe", "=" * 4_000, '"', "null"],
)
def test_a_cookie_that_is_none_is_nobodys(school, cookie):
    with school.browser() as browser:
        assert browser.get("/help/shortcuts", headers={"cookie": f"{COOKIE}={cookie}"}).status == 303


def test_a_cookie_signed_with_another_secret_or_for_another_use_is_nobodys(school):
    session = {"token": "t", "account": 1, "epoch": 0}
    for secret, salt in (("x" * 48, "session"), (school.setup.secret, "other")):
        with school.browser() as browser:
            browser.cookies[COOKIE] = URLSafeTimedSerializer(secret, salt=salt).dumps(session)
            assert browser.get("/help/shortcuts").status == 303


@pytest.mark.parametrize(
    "session", [[], "ada", None, {"account": "1"}, {"token": 3}, {"account": True, "epoch": 0}]
)
def test_a_signed_cookie_of_another_shape_is_nobodys(school, session):
    with school.browser() as browser:
        browser.cookies[COOKIE] = URLSafeTimedSerializer(school.setup.secret, salt="session").dumps(session)
        assert browser.get("/help/shortcuts").status == 303


def _list_sessions(school):
    with school.setup.store.begin_reading() as connection:
        query = select(session).order_by(session.c.id)
        login = account.c.login
        return list(connection.execute(query.join(account).add_columns(login)))


def test_signing_out_ends_this_session_only(school):
    with school.browser("ada") as one, school.browser() as other:
        _sign_in(other)
        old = one.cookies[COOKIE]
        assert one.post("/sign-out").status == 303
        assert one.get("/").status == 303
        one.cookies[COOKIE] = old
        assert one.get("/").status == 303
        assert other.get("/").status == 200


def test_the_account_lists_its_own_devices_and_ends_each(school):
    with school.browser("ada") as computer, school.browser() as phone, school.browser() as tablet:
        for browser, agent in ((phone, "x Mobi y"), (tablet, "Tablet; Mobile")):
            browser.headers["user-agent"] = agent
            assert _sign_in(browser).status == 303
        page = computer.get("/account").text
        assert (page.count("Sign out</button>"), page.count("(this one)")) == (3, 1)  # one is in the header
        assert "Sign out the phone of 2 March 2026" in page
        number = {row.device: row.id for row in _list_sessions(school) if row.login == "ada"}
        assert computer.post(f"/account/sessions/{number['phone']}/end").status == 303
        assert (phone.get("/account").status, tablet.get("/account").status) == (303, 200)
        assert computer.post(f"/account/sessions/{number['phone']}/end").status == 404
        assert computer.post("/account/sessions/end").status == 303
        assert (tablet.get("/account").status, computer.get("/account").status) == (303, 200)
        assert "Sign out every other device" not in computer.get("/account").text
    with school.browser("pim") as pim:
        assert pim.get("/account").status == 200


def test_signing_in_again_takes_the_place_of_the_session_before(school):
    with school.browser() as browser:
        before = len(_list_sessions(school))
        for _ in range(3):
            assert _sign_in(browser).status == 303
        assert len(_list_sessions(school)) == before + 1


def test_a_session_is_stored_as_a_digest_and_its_use_to_ten_minutes(schools):
    now = [NOW]
    with schools.one(clock=lambda: now[0]) as school, school.browser("ada") as browser:
        mine = next(row for row in _list_sessions(school) if row.login == "ada")
        assert mine.token == hashlib.sha256(school.tokens["ada"].encode()).hexdigest()
        for minutes, seen in ((9, 0), (10, 10), (19, 10), (25, 25)):
            now[0] = NOW + timedelta(minutes=minutes)
            assert browser.get("/help/shortcuts").status == 200
            mine = next(row for row in _list_sessions(school) if row.login == "ada")
            assert (mine.created, mine.seen) == (NOW, NOW + timedelta(minutes=seen))
        now[0] = NOW + timedelta(seconds=SESSION_SECONDS)
        assert browser.get("/help/shortcuts").status == 303


def test_an_account_has_so_many_sessions_and_the_oldest_end(school):
    with school.setup.store.begin_writing() as connection:
        number = find_account_by_login(connection, "ada").id
        for index in range(MOST_SESSIONS):
            add_session(connection, number, f"token {index}", device="computer", now=NOW)
    with school.browser("ada") as first, school.browser("pim") as pim:
        assert (first.get("/account").status, pim.get("/account").status) == (303, 200)
    assert len([row for row in _list_sessions(school) if row.login == "ada"]) == MOST_SESSIONS


def test_an_account_that_gets_the_number_of_a_deleted_one_is_not_opened_by_its_session(school):
    with school.browser("rosa") as old, school.browser("bo") as bo:
        link = bo.post(f"/students/{school.bo.student}/access").text.split("/invitation/")[1].split("<")[0]
        assert old.get("/help/shortcuts").status == 303
        with school.browser() as fresh:
            token = token_of(fresh.get(f"/invitation/{link}").text)
            fields = {"token": token, "login": "rosa the second", "password": WORDS}
            assert fresh.post(f"/invitation/{link}", fields).status == 303
            assert fresh.get("/help/shortcuts").status == 200
        assert old.get("/help/shortcuts").status == 303


@pytest.mark.parametrize("token", [None, "", "wrong", "\xff", "bo's"])
def test_a_form_without_the_sessions_token_changes_nothing(school, token):
    sent = school.tokens["bo"] if token == "bo's" else token
    with school.browser("ada") as browser:
        del browser.headers["x-token"]
        before = school.rows()
        for path in ("/series", "/sign-out", f"/students/{school.ada.student}/delete", "/settings"):
            fields = {"title": "x", "name": "pim"} | ({} if sent is None else {"token": sent})
            answer = browser.post(path, fields)
            assert (path, answer.status) == (path, 403)
            assert "load the page again" in answer.text
        assert school.rows() == before


def test_signing_in_needs_the_token_as_well(school):
    with school.browser() as browser:
        assert browser.post("/sign-in", {"login": "ada", "password": WORDS}).status == 403


def test_wrong_passwords_make_one_login_wait_at_one_address_and_longer_each_time(schools):
    now = [NOW]
    with schools.one(clock=lambda: now[0]) as school, school.browser() as browser:
        for _ in range(FREE_TRIES):
            assert _sign_in(browser, password="wrong wrong wrong").status == 403
        refused = _sign_in(browser, login=" ADA ")
        assert (refused.status, refused.headers["retry-after"]) == (429, "15")
        assert "Try again in 15 seconds." in refused.text
        now[0] += FIRST_WAIT
        assert _sign_in(browser, password="wrong wrong wrong").status == 403
        now[0] += FIRST_WAIT
        assert _sign_in(browser).status == 429
        now[0] += FIRST_WAIT
        assert _sign_in(browser).status == 303
        for _ in range(FREE_TRIES):
            assert _sign_in(browser, password="wrong wrong wrong").status == 403


def test_wrong_passwords_of_somebody_else_keep_nobody_out(school):
    with school.browser() as teacher, school.browser() as other, school.browser() as elsewhere:
        assert _sign_in(teacher).status == 303
        for _ in range(FREE_TRIES + 1):
            last = _sign_in(other, password="wrong wrong wrong")
        assert last.status == 429
        teacher.cookies.pop(COOKIE)
        assert _sign_in(teacher).status == 303  # at the same address, on a device that signed in before
        elsewhere._address = "192.0.2.8"
        assert _sign_in(elsewhere).status == 303  # on a new device at another address
        assert _sign_in(other, login="bo").status == 303


def test_a_remembered_device_has_its_own_tries_for_its_own_logins(school):
    with school.browser() as browser:
        assert _sign_in(browser).status == _sign_in(browser, login="pim").status == 303
        device = browser.cookies[DEVICE_COOKIE]
        browser.cookies.pop(COOKIE)
        answers = [_sign_in(browser, password="wrong wrong wrong").status for _ in range(FREE_TRIES + 1)]
        assert answers == [403] * FREE_TRIES + [429]
        assert _sign_in(browser, login="pim").status == 303
        for guess in (device[:-2] + "xx", "x", "a.b.c"):
            browser.cookies[DEVICE_COOKIE] = guess
            assert _sign_in(browser, login="bo").status == 303
    assert "ada" not in device


def test_a_whole_school_behind_one_address_signs_in(school, monkeypatch):
    found = find_account_by_login
    monkeypatch.setattr(
        "fillwright.studio.pages.account.sign_in",
        lambda connection, _, password: found(connection, "pim") if password == WORDS else None,
    )
    with school.browser() as browser:
        for number in range(60):  # each mistypes twice, all in the same second
            answers = [
                _sign_in(browser, login=f"student {number}", password=words).status
                for words in ("x", "y", WORDS)
            ]
            assert answers == [403, 403, 303]
            browser.cookies.clear()


def test_an_address_with_hundreds_of_wrong_passwords_waits_a_second_for_each(schools, monkeypatch):
    now = [NOW]
    monkeypatch.setattr("fillwright.studio.pages.account.sign_in", lambda *_: None)
    with schools.one(clock=lambda: now[0]) as school, school.browser() as browser:
        for number in range(ADDRESS_ALLOWANCE.most):
            assert _sign_in(browser, login=f"guess {number}").status == 403
        refused = _sign_in(browser, login="bo")
        assert (refused.status, refused.headers["retry-after"]) == (429, "1")
        now[0] += ADDRESS_ALLOWANCE.every
        monkeypatch.undo()
        assert _sign_in(browser, login="bo").status == 303


@pytest.mark.parametrize(
    ("proxies", "forwarded", "address"),
    [
        ((), "198.51.100.9", "192.0.2.7"),
        (("10.0.0.0/8",), "198.51.100.9", "192.0.2.7"),
        (("192.0.2.7",), "198.51.100.9", "198.51.100.9"),
        (("192.0.2.7",), "203.0.113.5, 198.51.100.9", "198.51.100.9"),
        (("192.0.2.0/24",), "203.0.113.5, 198.51.100.9, 192.0.2.99", "198.51.100.9"),
        (("192.0.2.7",), "nonsense", "192.0.2.7"),
        (("192.0.2.7",), "2001:db8::1", "2001:db8::1"),
        (("192.0.2.7",), "", "192.0.2.7"),
    ],
)
def test_only_trusted_proxies_say_where_a_visitor_is(schools, proxies, forwarded, address):
    with schools.one(proxies=tuple(map(parse_proxy, proxies))) as school, school.browser() as browser:
        browser.headers["x-forwarded-for"] = forwarded
        assert _sign_in(browser).status == 303
        assert _audit(school)[-1] == ("ada", "signed in", address)


@pytest.mark.parametrize(
    ("changes", "accepted"),
    [
        ({}, False),
        ({"insecure": True}, True),
        ({"secure": True}, True),
        ({"hosts": frozenset()}, False),
        ({"hosts": LOCAL_HOSTS}, True),
    ],
)
def test_passwords_are_refused_where_others_on_the_network_can_read_them(schools, changes, accepted):
    with schools.one(**{"hosts": LOCAL_HOSTS | {"drums.example"}, **changes}) as school:
        before = school.rows()
        with school.browser() as browser, school.browser("pim") as pim:
            page, link = browser.get("/sign-in"), f"/invitation/{school.ada.secret}"
            assert page.status == browser.get(link).status == 200
            assert ("refuses passwords" not in page.text) == ('name="password"' in page.text) == accepted
            if accepted:
                assert _sign_in(browser).status == 303
                return
            token = token_of(page.text)
            change = {"password": WORDS, "new": "four old drum sticks"}
            for answer in (
                browser.post("/sign-in", {"token": token, "login": "ada", "password": WORDS}),
                browser.post(link, {"token": token, "login": "new", "password": WORDS}),
                pim.post("/account/password", change),
            ):
                assert answer.status == 403
                assert "refuses passwords" in answer.text
        assert school.rows() == before


def test_a_login_that_nobody_has_waits_as_well(school):
    with school.browser() as browser:
        answers = [_sign_in(browser, login="nobody at all", password="x") for _ in range(FREE_TRIES + 1)]
    with school.browser() as browser:
        known = [_sign_in(browser, login="ada", password="x") for _ in range(FREE_TRIES + 1)]
    assert [one.status for one in answers] == [one.status for one in known]


def test_a_password_is_checked_in_the_same_way_whether_there_is_such_a_login(school, monkeypatch):
    checked = []

    class Counting:
        def verify(self, hashed, password):
            checked.append((hashed.split("$")[1:4], password))
            return True

    monkeypatch.setattr("fillwright.store.accounts._HASHER", Counting())
    with school.browser() as browser:
        assert _sign_in(browser, login="nobody at all", password="guess").status == 403
        assert _sign_in(browser, login="ada", password="guess").status == 303
    assert checked[0] == checked[1]


@pytest.mark.parametrize(
    ("to", "where"),
    [
        ("/students", "/students"),
        ("//elsewhere.example", "/"),
        ("/\\elsewhere.example", "/"),
        ("https://elsewhere.example", "/"),
        ("javascript:alert(1)", "/"),
        ("", "/"),
        ("/\t/elsewhere.example", "/"),
        ("/x\nset-cookie: a=b", "/"),
        ("/\u2028", "/"),
    ],
)
def test_signing_in_leads_to_a_page_of_ours_only(school, to, where):
    with school.browser() as browser:
        answer = _sign_in(browser, to=to)
        assert answer.status == 303
        assert answer.headers["location"] == where
        assert "a" not in browser.cookies


def test_the_audit_has_a_line_for_every_sign_in_and_names_no_student(school):
    before = len(_audit(school))
    with school.browser() as browser:
        _sign_in(browser)
        browser.post("/sign-out", {"token": token_of(browser.get("/help/shortcuts").text)})
        _sign_in(browser, login="pim")
        _sign_in(browser, login="pim", password="wrong")
        _sign_in(browser, login="my password by mistake")
    address = "192.0.2.7"
    student = f"student {school.ada.student}"
    assert _audit(school)[before:] == [
        ("ada", "signed in", address),
        ("ada", "signed out", ""),
        (student, "signed in", address),
        (student, "sign-in failed", address),
        ("unknown", "sign-in failed", address),
    ]


def test_the_audit_has_a_line_for_every_deletion(school):
    before = len(_audit(school))
    with school.browser("ada") as browser:
        assert browser.post(f"/takes/{school.ada.take}/delete").status == 303
        assert browser.post(f"/students/{school.ada.student}/delete", {"name": "pim"}).status == 303
    assert _audit(school)[before:] == [
        ("ada", "take deleted", f"take {school.ada.take} of student {school.ada.student}"),
        ("ada", "student deleted", f"student {school.ada.student}"),
    ]


def test_a_student_who_is_deleted_is_signed_out(school):
    with school.browser("pim") as pim, school.browser("ada") as ada:
        assert pim.get("/help/shortcuts").status == 200
        ada.post(f"/students/{school.ada.student}/delete", {"name": "pim"})
        assert pim.get("/help/shortcuts").status == 303


def test_a_password_is_changed_by_whoever_knows_it_and_other_sessions_end(school):
    with school.browser("pim") as browser, school.browser("pim") as other:
        wrong = browser.post("/account/password", {"password": "x", "new": "four old drum sticks"})
        short = browser.post("/account/password", {"password": WORDS, "new": "short"})
        assert (wrong.status, short.status) == (403, 422)
        assert "The password has 5 characters" in short.text
        assert (
            browser.post("/account/password", {"password": WORDS, "new": "four old drum sticks"}).status == 303
        )
        assert browser.get("/account").status == 200
        assert other.get("/account").status == 303
        assert _sign_in(other, login="pim").status == 403
        assert _sign_in(other, login="pim", password="four old drum sticks").status == 303


def test_an_old_password_can_not_be_guessed_on_the_account_page(school):
    with school.browser("pim") as browser:
        for _ in range(FREE_TRIES):
            assert browser.post("/account/password", {"password": "x", "new": "y" * 12}).status == 403
        assert browser.post("/account/password", {"password": WORDS, "new": "y" * 12}).status == 429


def test_a_teacher_resets_a_students_access(school):
    with school.browser("ada") as ada, school.browser("pim") as pim:
        answer = ada.post(f"/students/{school.ada.student}/access")
        assert "http://localhost/invitation/" in answer.text
        assert pim.get("/help/shortcuts").status == 303
        link = answer.text.split("http://localhost")[1].split("<")[0]
        token = token_of(pim.get(link).text)
        fields = {"token": token, "login": "pim", "password": "five old drum sticks"}
        assert pim.post(link, fields).status == 303
        assert pim.get(f"/takes/{school.ada.take}").status == 200
        assert pim.post(link, {**fields, "token": token_of(pim.get("/help/shortcuts").text)}).status == 422


def test_a_teacher_invites_another_to_a_desk_of_their_own(school):
    with school.browser("ada") as ada, school.browser() as fresh:
        link = ada.post("/account/invitation").text.split("http://localhost")[1].split("<")[0]
        token = token_of(fresh.get(link).text)
        assert fresh.post(link, {"token": token, "login": "cy", "password": WORDS}).status == 303
        assert fresh.get("/students").status == 200
        assert fresh.get(f"/students/{school.ada.student}").status == 404


def test_links_are_https_where_browsers_come_that_way(schools):
    with schools.one(secure=True) as school, school.browser("ada") as ada:
        assert "https://localhost/invitation/" in ada.post("/account/invitation").text


def test_without_accounts_there_is_nothing_to_sign_in_to(schools):
    with schools.one(school=False) as school, school.browser() as browser:
        token = token_of(browser.get("/").text)
        secret = school.ada.secret
        for path in ("/account", f"/invitation/{secret}"):
            assert browser.get(path).status == 404
        for path in (
            "/account/password",
            "/account/invitation",
            "/sign-out",
            "/sign-in",
            f"/invitation/{secret}",
        ):
            assert (path, browser.post(path, {"token": token, "login": "x", "password": WORDS}).status) == (
                path,
                404,
            )


def test_every_start_before_the_first_account_gives_a_link_and_the_last_one_works(tmp_path):
    links = []
    for _ in range(3):
        setup = set_up(tmp_path, school=True)
        links.append(make_first_link(setup))
        with setup.store.begin_reading() as connection:
            assert len(connection.execute(select(teacher)).all()) == 1
            assert len(connection.execute(select(invitation)).all()) == 1
        setup.store.close()
    assert len(set(links)) == 3


def test_who_worked_alone_finds_everything_when_a_school_begins(tmp_path):
    setup = set_up(tmp_path)
    with begin_writing(setup.store, ensure_teacher(setup.store)) as transaction:
        add_series(transaction, "From before")
    setup.store.close()
    setup = set_up(tmp_path, school=True)
    make_first_link(setup)
    with setup.store.begin_reading() as connection:
        desk_of = connection.execute(select(invitation.c.teacher_id)).scalar_one()
    with begin_reading(setup.store, desk_of) as transaction:
        assert [series.title for series in list_series(transaction)] == ["From before"]
    setup.store.close()


def test_no_visitor_of_the_tests_has_anothers_session(school):
    assert len({school.cookies[who] for who in VISITORS}) == len(VISITORS)
    with school.setup.store.begin_reading() as connection:
        epochs = [row.epoch for row in connection.execute(select(account))]
    assert len(set(epochs)) == len(epochs)


def test_a_secret_is_made_once_and_only_its_owner_may_read_it(tmp_path):
    first = set_up(tmp_path)
    first.store.close()
    again = set_up(tmp_path)
    again.store.close()
    assert first.secret == again.secret
    assert len(first.secret) >= 48
    assert (tmp_path / "secret").stat().st_mode & 0o777 == 0o600
    assert open_store(tmp_path / "studio.db").close() is None
