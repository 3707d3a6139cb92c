"""A furnished studio and a school, each with a browser that complains of nothing."""

from __future__ import annotations

import io
import wave
from concurrent.futures import ThreadPoolExecutor

import pytest

from fillwright.score.export.midi import encode_midi
from fillwright.studio.serve import set_up
from fillwright.studio.sounds.kit_sounds import load_all_layers
from fillwright.studio.work.lessons import plan_text
from tests.e2e.studio.pages import SCREEN, TAKE
from tests.e2e.studio_server import (
    FILL,
    LESSON,
    answering,
    changed,
    chromium,
    furnish,
    send_take,
    watched,
)
from tests.studio import Schools


@pytest.fixture(scope="module")
def setup(tmp_path_factory):
    """A furnished studio."""
    made = set_up(tmp_path_factory.mktemp("pages") / "studio")
    furnish(made)
    load_all_layers()  # for the first time it takes longer than a browser waits
    return made


@pytest.fixture(scope="module")
def browser():
    """Chromium, for all tests."""
    with chromium() as made:
        yield made


@pytest.fixture(scope="module")
def midi():
    """The fill, played as written."""
    return encode_midi(plan_text(LESSON).find_fill(FILL).phrase, 60.0)


@pytest.fixture(scope="module")
def studio(setup, browser, midi):
    """Its address; three takes have been sent: a poor one, a good one, and one with nothing in it."""
    with answering(setup) as address:
        page = browser.new_page(base_url=address)
        page.set_default_timeout(60_000)
        silence = io.BytesIO()
        with wave.open(silence, "wb") as file:
            file.setparams((1, 2, 44100, 0, "NONE", ""))
            file.writeframes(bytes(2 * 44100 * 12))
        poor = changed(midi, without=2, later_ms=60)
        takes = (("poor.mid", poor), ("good.mid", changed(midi)), ("silent.wav", silence.getvalue()))
        for name, content in takes:
            send_take(page, 1, name, content)
            page.wait_for_url(TAKE)
        page.close()
        yield address


@pytest.fixture(scope="module")
def school(tmp_path_factory):
    """A school, and its address."""
    with ThreadPoolExecutor(1) as aside:  # it asks the app, and the browser's own loop runs in this thread
        schools = aside.submit(Schools, tmp_path_factory.mktemp("school")).result()
    with schools.one() as made, answering(made.setup) as address:
        yield made, address
    schools.close()


@pytest.fixture
def open_page(studio, browser):
    """Opens a page of the studio; no page may complain in the console."""
    contexts, complaints = [], []

    def opened(path, size=SCREEN, **options):
        context = browser.new_context(
            viewport={"width": size[0], "height": size[1]}, base_url=options.pop("base_url", studio), **options
        )
        contexts.append(context)
        page = context.new_page()
        page.set_default_timeout(60_000)
        complaints.append(watched(page))
        page.goto(path)
        return page

    yield opened
    for context in contexts:
        context.close()
    assert [text for each in complaints for text in each] == []
