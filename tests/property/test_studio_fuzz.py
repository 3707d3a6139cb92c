"""Whatever is sent to the studio, by whomever: nothing breaks, and every answer carries the headers.

The requests are drawn from the table of all pages, with the forms of the access test, bent at random; the
seed of each evening is its number. FILLWRIGHT_FUZZ says how many requests are sent (1,500).
"""

from __future__ import annotations

import gc
import os
from dataclasses import asdict
from random import Random
from urllib.parse import quote, quote_plus, urlencode

import pytest

from tests.e2e.test_studio_access import TABLE
from tests.studio import FILL, LESSON, MIDI, VISITORS, Schools, silence

REQUESTS = int(os.environ.get("FILLWRIGHT_FUZZ", "1500"))
EVENING = 125
"""So many requests until a school is as it was: by then its students are gone and its teachers signed out."""

_HEAVY = ("/sign-in", "/invitation/", "/account/password", "/sound/kit", "book.pdf")
"""Asked seldom: hashing and packing take long on purpose."""

_NUMBERS = (
    *(
        "0",
        "1",
        "-1",
        "2",
        "7",
        "60",
        "80",
        "1e3",
        "1e400",
        "0x10",
        "1_0",
        " 1",
        "+1",
        "1.5",
        "1,5",
        "nan",
        "inf",
    ),
    *(
        "-0",
        "9" * 9,
        "2147483647",
        "2147483648",
        "9" * 18,
        "9" * 60,
        "9" * 5_000,
        "٣",
        "½",
        "1/0",
        "4/4",
        "0/1",
    ),
)
_TEXTS = (
    *("", " ", "a", "x" * 79, "x" * 81, "x" * 121, "x" * 5_000, "é", "ß", "İ", "\u0000", "a\u0000b", "\x1b[0m"),
    *("\ud800", "\ufeff", "\u202e", "\U0001f941", "e\u0301", "\r\n", "\n", "\t", "\u2028", "\x7f", "\x85"),
    *(
        "'",
        '"',
        "'; DROP TABLE student; --",
        "%",
        "%s",
        "%00",
        "{}",
        "{0.__class__}",
        "{{ 7 * 7 }}",
        "${x}",
        "\\",
    ),
    *(
        "<script>alert(1)</script>",
        "</textarea>",
        "&amp;",
        "../../etc/passwd",
        "/",
        "//x.example",
        "a:b",
        ":",
        "::",
    ),
    *(
        "true",
        "null",
        "[]",
        "[[figure]]",
        "on",
        "R L R L",
        "R R L L",
        "rL z >R (L)",
        "- - - -",
        "16",
        "8t 8t 8t",
    ),
    *("single paradiddle", "five-piece", "straight eighths", "first-year", "left", "electronic kit", "letter"),
    *(
        "2026-03-01",
        "0001-01-01",
        "9999-12-31",
        "2026-02-30",
        "1:",
        "1:x",
        FILL,
        "all",
        "4",
        "2.5",
        "0.5",
        "65",
    ),
)
_LESSONS = (
    LESSON,
    LESSON.replace("60..80 step 10", "60..80 step 0"),
    LESSON.replace("60..80 step 10", "1..999999 step 1"),
    LESSON.replace("number = 1", "number = 99999999999999999999"),
    LESSON.replace("number = 1", "number = -5"),
    LESSON.replace("Two hands", "x" * 500),
    LESSON.replace("Two hands", "<b>&\\u0000"),
    LESSON + "\n[[figure]]\nname = 'flam'\n" * 30,
    LESSON + "a = " + "[" * 3_000,
    LESSON.replace('name = "single stroke four"', 'name = "no such figure"'),
    "number = ",
    "\ufeff" + LESSON,
    "",
)
_NAMES = tuple(
    sorted(
        {name for row in TABLE for name in (*row.form, *row.query)} | {"said", "version", "token", "a[b][c]"}
    )
)
_METHODS = ("GET", "POST", "HEAD", "PUT", "DELETE", "OPTIONS", "PATCH", "TRACE", "get", "X")
_FORM = "application/x-www-form-urlencoded"


class Fuzzer:
    """Draws requests, the same for the same seed."""

    def __init__(self, seed: str, school) -> None:
        self._random = Random(seed)
        self._mine = {name: str(value) for name, value in asdict(school.ada).items()}
        self._others = {name: str(value) for name, value in asdict(school.bo).items()}

    def visitor(self) -> str:
        return self._random.choice((*VISITORS, "ada", "ada", "ada", "pim", "pim"))

    def request(self):
        """Method, path with its query, headers and the blocks of a body."""
        row = self._random.choice(TABLE)
        while any(part in row.page for part in _HEAVY) and self._random.random() < 0.9:
            row = self._random.choice(TABLE)
        method, path = row.page.split(" ", 1)
        if self._random.random() < 0.05:
            method = self._random.choice(_METHODS)
        query = self._bent(row.query) if row.query or self._random.random() < 0.3 else {}
        path = f"{self._path(path)}?{urlencode(query, errors='replace')}"
        content_type, body = self._body(self._bent(row.form)) if method == "POST" else ("", [])
        headers = {"content-type": content_type} if content_type else {}
        return method, path, {**headers, **self._headers()}, body

    def _value(self) -> str:
        return self._random.choice(self._random.choice((_NUMBERS, _TEXTS)))

    def _near(self, usual: str) -> str:
        """A value, or the usual one with something added or taken away."""
        at = self._random.randint(0, len(usual))
        return self._random.choice((self._value(), usual + self._value(), self._value() + usual, usual[:at]))

    def _lesson(self) -> str:
        """A text of a lesson that is not quite one, or has one value bent."""
        lines = LESSON.split("\n")
        at = self._random.randrange(len(lines))
        key, _, value = lines[at].partition(" = ")
        bent = [*lines[:at], f"{key} = {self._near(value)}", *lines[at + 1 :]]
        return self._random.choice((self._random.choice(_LESSONS), "\n".join(bent)))

    def _path(self, path: str) -> str:
        if self._random.random() < 0.03:
            return "/" + quote(self._value(), safe="/%.", errors="replace")
        things = {**self._mine} if self._random.random() < 0.8 else {**self._others}
        for name in things:
            if self._random.random() < 0.06:
                things[name] = self._value()
        if self._random.random() < 0.5:
            things["what"] = self._random.choice(("drop", "pin", "up", "down", "x"))
        for name, value in things.items():
            path = path.replace(f"{{{name}:int}}", quote(value, errors="replace"))
            path = path.replace(f"{{{name}}}", quote(value, safe="", errors="replace"))
        return path

    def _bent(self, usual):
        """A form, some of its fields missing, bent, or added."""
        things = self._mine if self._random.random() < 0.8 else self._others
        fields = {name: value.format(**things) for name, value in usual.items()}
        for name in list(fields):
            chance = self._random.random()
            if chance < 0.15:
                fields[name] = self._lesson() if name == "text" else self._near(fields[name])
            elif chance < 0.2:
                del fields[name]
        while self._random.random() < 0.25:
            fields[self._random.choice((*_NAMES, self._value()))] = self._value()
        return fields

    def _body(self, fields):
        """A form as bytes, in one of the ways in which forms are sent, or in none."""
        chance = self._random.random()
        if chance < 0.8:
            pairs = [f"{_quoted(name)}={_quoted(value)}" for name, value in fields.items()]
            return _FORM, ["&".join(pairs).encode("ascii")]
        boundary = "b" * self._random.randint(1, 60)
        parts = [_part(boundary, f'name="{name}"', value) for name, value in fields.items()]
        content = self._random.choice((MIDI, MIDI[:12], b"", b"RIFF\0\0\0\0WAVE", b"OggS" * 9, b"ID3" * 9))
        parts.append(
            _part(boundary, f'name="recording"; filename="{self._value()}"', content.decode("latin-1"))
        )
        whole = "".join((*parts, f"--{boundary}--\r\n")).encode("utf-8", "surrogatepass")
        if self._random.random() < 0.2:
            at = self._random.randrange(len(whole))
            whole = whole[:at] + bytes([self._random.randrange(256)]) + whole[at + self._random.randint(0, 3) :]
        cut = self._random.randrange(len(whole))
        return f"multipart/form-data; boundary={boundary}", [whole[:cut], whole[cut:]]

    def _headers(self):
        found = {}
        if self._random.random() < 0.05:
            name = self._random.choice(
                (
                    "cookie",
                    "host",
                    "x-token",
                    "content-type",
                    "content-length",
                    "range",
                    "if-none-match",
                    "accept",
                )
            )
            found[name] = self._random.choice((self._value(), "bytes=0-", "bytes=9-2", "fillwright=x.y.z", "0"))
        return found


def _quoted(text: str) -> str:
    return quote_plus(text.encode("utf-8", "surrogatepass"))


def _part(boundary: str, disposition: str, text: str) -> str:
    return f"--{boundary}\r\nContent-Disposition: form-data; {disposition}\r\n\r\n{text}\r\n"


# the part of a form that breaks off leaves its file for Python to close
@pytest.mark.filterwarnings("ignore:Unclosed file <tempfile.SpooledTemporaryFile:ResourceWarning")
@pytest.mark.parametrize("backend", ["sqlite", "postgresql"])
def test_nothing_that_is_sent_breaks_anything(backend, request, tmp_path, monkeypatch):
    silence(monkeypatch)
    server = request.getfixturevalue("postgres_url") if backend == "postgresql" else ""
    schools = Schools(tmp_path, server)
    try:
        for evening in range(-(-REQUESTS // 2 // EVENING)):
            with schools.one(school=evening % 4 != 3) as school:
                _one_evening(f"{backend} {evening}", school)
    finally:
        schools.close()
        gc.collect()


def _one_evening(seed, school):
    fuzzer = Fuzzer(seed, school)
    asked = set()
    for _ in range(EVENING):
        who = fuzzer.visitor()
        method, path, headers, body = fuzzer.request()
        with school.browser(who) as browser:
            answer = browser.send_request(method, path, headers=headers, body=body)
        said = f"{seed}: {who} {method} {path[:300]} {headers} {[part[:600] for part in body]}"
        assert answer.broke is None, f"{answer.broke!r} at {said}"
        assert 200 <= answer.status < 500, f"{answer.status} at {said}"
        assert "content-security-policy" in answer.headers, said
        assert answer.headers.get("location", "/").startswith(("/", "http://localhost/")), said
        assert not answer.headers.get("location", "/").startswith("//"), said
        asked.add(answer.status)
    assert {200, 303, 404} <= asked
