"""HTTP requests as input: those of tests/property/test_studio_fuzz.py, one after another."""

from __future__ import annotations

from contextlib import ExitStack
from pathlib import Path

import pytest

from fillwright.errors import FillwrightError
from tests.property.test_studio_fuzz import EVENING, Fuzzer
from tests.studio import Schools, silence


class Requests:
    """A studio that is sent one request after another; every evening begins with a new school."""

    def __init__(self) -> None:
        self._stack = ExitStack()
        self._schools: Schools | None = None
        self._evening = ExitStack()
        self._sent = 0
        self._first = 0

    def __call__(self, content: bytes, folder: Path) -> None:
        """Send the next request; the content is the number of the first evening.

        Raises:
            FillwrightError: if the studio refuses it with 4xx, as a reader refuses an input.
            AssertionError: for 5xx, an exception, or an answer without the headers.
        """
        if self._schools is None:
            silence(self._stack.enter_context(pytest.MonkeyPatch.context()))
            self._schools = Schools(folder)
            self._first = int(content)
        if self._sent % EVENING == 0:
            self._evening.close()
            self._school = self._evening.enter_context(self._schools.one(school=self._sent // EVENING % 4 != 3))
            self._fuzzer = Fuzzer(f"fuzz {self._first + self._sent // EVENING}", self._school)
        self._sent += 1
        who = self._fuzzer.visitor()
        method, path, headers, body = self._fuzzer.request()
        with self._school.browser(who) as browser:
            answer = browser.send_request(method, path, headers=headers, body=body)
        sent = f"{who} {method} {path[:300]} {headers} {[part[:600] for part in body]}"
        assert answer.broke is None, f"{answer.broke!r} at {sent}"
        assert 200 <= answer.status < 500, f"{answer.status} at {sent}"
        assert "content-security-policy" in answer.headers, sent
        if answer.status >= 400:
            raise FillwrightError(f"status {answer.status}")
