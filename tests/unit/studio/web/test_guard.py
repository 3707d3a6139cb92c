"""What stands before every page: hosts, headers, bodies, paths."""

from __future__ import annotations

import asyncio

import pytest

from fillwright.studio.app import make_app
from fillwright.studio.web.guard import LARGEST_BODY_BYTES, LARGEST_FORM_BYTES, POLICY
from fillwright.studio.web.setup import LOCAL_HOSTS

FORM = {"content-type": "application/x-www-form-urlencoded"}


@pytest.mark.parametrize("host", ["localhost", "localhost:8371", "127.0.0.1:8371", "[::1]:8371", "LOCALHOST"])
def test_a_studio_answers_to_its_names(ada, host):
    assert ada.get("/", headers={"host": host}).status == 200


@pytest.mark.parametrize(
    "host",
    [
        "elsewhere.example",
        "",
        "localhost.elsewhere.example",
        "127.0.0.1.elsewhere.example",
        "[::1",
        "[::1]x",
        "localhost:x",
        "0.0.0.0",
        "localhost@x",
    ],
)
def test_a_studio_does_not_answer_to_other_names(ada, host):
    for path in ("/", "/static/studio.css", "/fonts/serif-regular.otf"):
        answer = ada.get(path, headers={"host": host})
        assert answer.status == 421
        assert b"localhost" in answer.content


def test_local_names_are_those_of_this_machine():
    assert sorted(LOCAL_HOSTS) == ["127.0.0.1", "[::1]", "localhost"]


@pytest.mark.parametrize(
    ("path", "status"),
    [
        ("/", 200),
        ("/help/shortcuts", 200),
        ("/nowhere", 404),
        ("/series/99", 404),
        ("/students/", 307),
        ("/sound/player.mjs", 200),
        ("/static/studio.css", 200),
        ("/static/none.css", 404),
        ("/fonts/serif-regular.otf", 200),
        ("/sign-out", 405),
        ("/" + "x" * 2_000, 404),
        ("/lessons/1/fills/%00/sound.json", 404),
    ],
)
def test_every_answer_carries_the_headers(ada, path, status):
    answer = ada.get(path)
    assert answer.status == status
    assert answer.headers["content-security-policy"] == POLICY
    assert answer.headers["x-content-type-options"] == "nosniff"
    assert answer.headers["referrer-policy"] == "same-origin"
    assert answer.headers["cross-origin-opener-policy"] == "same-origin"
    assert "cache-control" in answer.headers


def test_an_answer_that_something_broke_carries_them_too(school, monkeypatch, caplog):
    monkeypatch.setattr("fillwright.studio.pages.help_pages.render_page", lambda *_a, **_k: 1 / 0)
    with school.browser("ada") as browser:
        answer = browser.get("/help/shortcuts")
    assert answer.status == 500
    assert isinstance(answer.broke, ZeroDivisionError)
    assert answer.headers["content-security-policy"] == POLICY
    assert "ZeroDivisionError" not in answer.text
    assert "/help/shortcuts" in caplog.text


def test_nothing_from_elsewhere_and_nothing_inline_may_run():
    rules = dict(rule.split(" ", 1) for rule in POLICY.split("; "))
    assert rules["default-src"] == "'none'"
    assert rules["script-src"] == rules["style-src"] == "'self'"
    assert rules["frame-ancestors"] == rules["base-uri"] == "'none'"
    assert "unsafe" not in POLICY
    assert "http" not in POLICY


def test_pages_are_not_kept_but_files_are(ada):
    assert ada.get("/students").headers["cache-control"] == "no-store"
    style = ada.get("/static/studio.css")
    assert style.headers["cache-control"] == "no-cache"
    again = ada.get("/static/studio.css", headers={"if-none-match": style.headers["etag"]})
    assert (again.status, again.content) == (304, b"")
    assert "max-age" in ada.get("/fonts/serif-regular.otf").headers["cache-control"]


def test_an_answer_that_is_kept_hands_out_no_session(school):
    with school.browser() as browser:
        for path in ("/fonts/serif-regular.otf", "/static/studio.css", "/sound/player.mjs"):
            assert "set-cookie" not in browser.get(path).headers
        assert "set-cookie" in browser.get("/sign-in").headers


@pytest.mark.parametrize(
    "path",
    [
        "/static/../app.py",
        "/static/..%2fapp.py",
        "/static/%2e%2e/app.py",
        "/static/%2e%2e%2fapp.py",
        "/static/..%5capp.py",
        "/static//etc/passwd",
        "/static/%2fetc%2fpasswd",
        "/static/....//app.py",
        "/static/studio.css%00.js",
        "/static/" + "a" * 300,
        "/static/" + "../" * 30 + "etc/passwd",
        "/static/.",
        "/static/",
        "/static",
        "/static/studio.css/x",
        "/fonts/..%2f..%2fapp.otf",
        "/sound/..%2fplayer.mjs",
    ],
)
def test_no_path_leads_out(ada, path):
    answer = ada.get(path)
    assert answer.status in {307, 404}
    assert b"import" not in answer.content
    assert b"root:" not in answer.content


@pytest.mark.parametrize("length", [str(LARGEST_BODY_BYTES + 1), "9" * 18])
def test_a_body_that_says_to_be_too_large_is_not_read(ada, length):
    assert (
        ada.send_request(
            "POST", "/series", headers={**FORM, "content-length": length}, body=[b"title=x"]
        ).status
        == 413
    )
    assert b"title=x" not in ada.get("/").content


@pytest.mark.parametrize("length", ["-1", "x", "1e9", "٣", "9" * 30])
def test_a_length_that_is_none_is_refused(ada, length):
    assert ada.send_request("POST", "/series", headers={**FORM, "content-length": length}).status == 400


def test_a_body_without_a_length_is_read_up_to_the_limit(ada):
    block = b"title=" + b"a" * 250_000
    blocks = [block] + [b"&x=" + b"a" * 250_000] * (LARGEST_FORM_BYTES // 250_000)
    answer = ada.send_request("POST", "/series", headers={**FORM, "transfer-encoding": "chunked"}, body=blocks)
    assert answer.status == 413
    assert "A form can have 2 MB" in answer.text


def test_nobody_may_send_a_recording(school):
    with school.browser("anonymous") as browser:
        blocks = [b"login=" + b"a" * 100_000] * 30
        assert browser.send_request("POST", "/sign-in", headers=FORM, body=blocks).status in {400, 413}


@pytest.mark.parametrize(
    "body",
    [
        "&".join(f"f{number}=1" for number in range(500)),
        "title=" + "a" * 500_000,
        "title" + "[a]" * 30_000 + "=1",
        "title=%00",
        "title=a%01b",
        "%00=x",
        "title=%1b[31m",
    ],
)
def test_a_form_that_nobody_typed_is_refused(ada, body):
    answer = ada.send_request("POST", "/series", headers=FORM, body=[body.encode("ascii")])
    assert answer.status in {400, 422}
    assert 'class="lead"' in answer.text or 'class="wrong"' in answer.text


@pytest.mark.parametrize(
    "charset", ["utf-16", "utf-7", "raw_unicode_escape", "idna", "punycode", "hex", "none", "utf-8"]
)
@pytest.mark.parametrize("text", [b"\xff\xfe\x00", b"\\ud800", b"a..b", b"\xc3", b"-\x80"])
def test_a_form_in_no_alphabet_breaks_nothing(ada, charset, text):
    body = b'--x\r\nContent-Disposition: form-data; name="title"\r\n\r\n' + text + b"\r\n--x--\r\n"
    headers = {"content-type": f"multipart/form-data; boundary=x; charset={charset}"}
    assert ada.send_request("POST", "/series", headers=headers, body=[body]).status in {303, 400, 422}


@pytest.mark.parametrize(
    "content_type",
    [
        "",
        "text/plain",
        "application/json",
        "multipart/form-data",
        "multipart/form-data; boundary=",
        "x" * 5_000,
        "multipart/form-data; boundary=" + "x" * 9_000,
    ],
)
def test_a_body_that_is_no_form_breaks_nothing(ada, content_type):
    answer = ada.send_request("POST", "/series", headers={"content-type": content_type}, body=[b"\0\xff--"])
    assert answer.status in {400, 422}


@pytest.mark.parametrize(
    "number", ["0", "2147483648", "9" * 25, "9" * 900, "00000000001", "1e3", "-1", "%2b1", "1.0"]
)
def test_a_number_that_no_row_has_is_not_there(ada, number):
    for path in ("series/{}", "lessons/{}", "students/{}", "takes/{}", "students/{}/plan.pdf"):
        answer = ada.get("/" + path.format(number))
        assert answer.status in ({404} if number != "00000000001" else {200, 404})


def test_someone_who_leaves_while_sending_breaks_nothing(school):
    sent = []

    async def receive():
        return {"type": "http.disconnect"}

    async def send(message):
        sent.append(message)

    with school.browser("ada") as browser:
        cookie = f"fillwright={browser.cookies['fillwright']}".encode("latin-1")
    scope = {
        "type": "http",
        "method": "POST",
        "path": "/series",
        "raw_path": b"/series",
        "root_path": "",
        "query_string": b"",
        "scheme": "http",
        "http_version": "1.1",
        "server": ("127.0.0.1", 80),
        "client": ("192.0.2.7", 1),
        "headers": [
            (b"host", b"localhost"),
            (b"cookie", cookie),
            (b"content-type", FORM["content-type"].encode()),
        ],
    }
    asyncio.run(make_app(school.setup)(scope, receive, send))
    assert sent[0]["status"] == 400
