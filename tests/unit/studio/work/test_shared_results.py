"""Work done once for many."""

from __future__ import annotations

import time
from concurrent.futures import ThreadPoolExecutor
from threading import Event

import pytest

from fillwright.score.engraving.engrave import engrave
from fillwright.studio.work.lessons import WIDE_MM, draw_fill, plan_text
from fillwright.studio.work.shared_results import share_results
from tests.studio import LESSON


def test_many_who_ask_at_once_get_the_one_that_was_made():
    made = []

    @share_results(maxsize=4)
    def thing(name):
        made.append(name)
        time.sleep(0.05)
        return object()

    with ThreadPoolExecutor(20) as pool:
        found = set(pool.map(thing, ["a"] * 40))
    assert made == ["a"]
    assert len(found) == 1


def test_nobody_waits_for_the_work_of_others():
    goes_on = Event()

    @share_results(maxsize=100)
    def thing(number):
        if number == 0:
            goes_on.wait(30)
        return number

    with ThreadPoolExecutor(2) as pool:
        first = pool.submit(thing, 0)
        other = next(number for number in range(1, 99) if hash(((number,),)) % 64 != hash(((0,),)) % 64)
        assert thing(other) == other
        assert not first.done()
        goes_on.set()
        assert first.result() == 0


def test_what_broke_is_tried_again():
    tries = []

    @share_results(maxsize=4)
    def thing():
        tries.append(1)
        if len(tries) == 1:
            raise ValueError("stop")
        return "made"

    with pytest.raises(ValueError, match="stop"):
        thing()
    assert thing() == "made"


def test_a_lesson_worked_out_in_many_threads_is_one():
    text = LESSON.replace("Two hands", "Many hands")
    with ThreadPoolExecutor(8) as pool:
        found = list(pool.map(plan_text, [text] * 16))
        drawings = set(pool.map(lambda one: draw_fill(one, one.fills[0].name, WIDE_MM), found))
    assert len(set(map(id, found))) == len(drawings) == 1


def test_the_engraver_draws_the_same_in_every_thread():
    """A pack is engraved while pages are."""
    fills = plan_text(LESSON).fills
    sheets = [fill.sheet for fill in fills] * 6
    alone = [engrave(sheet).svg for sheet in sheets]
    with ThreadPoolExecutor(4) as pool:
        together = list(pool.map(lambda sheet: engrave(sheet).svg, sheets))
    assert together == alone
