"""When the engraver thinks that each note sounds.

Source: verovio (whole milliseconds, nothing inside repeated bars)
"""

from __future__ import annotations

import json
from collections.abc import Callable

import pytest
import verovio

from fillwright.music.grooves import Groove, load_grooves
from fillwright.music.phrase import Phrase, build_landing, build_phrase
from fillwright.music.rudiments import load_rudiments
from fillwright.music.stroke import Limb
from fillwright.score.engraving.mei import write_mei
from fillwright.score.sheet import Sheet

MS_PER_WHOLE = 2000
"""Without a tempo it plays 120 quarters a minute."""


@pytest.fixture(scope="module")
def toolkit() -> verovio.toolkit:
    verovio.enableLog(verovio.LOG_OFF)
    return verovio.toolkit()


def timemap(toolkit: verovio.toolkit, sheet: Sheet) -> list[dict[str, object]]:
    """Return the engraver's times of a sheet; grace notes, which it places by a rule of its own, left out."""
    assert toolkit.loadData(write_mei(sheet))
    toolkit.renderToMIDI()
    events = toolkit.renderToTimemap({"includeMeasures": True})
    return events if isinstance(events, list) else json.loads(events)


def onsets(events: list[dict[str, object]]) -> list[float]:
    """Return milliseconds at which a main note starts (ids of grace notes end in g and a number)."""
    return [
        event["tstamp"]
        for event in events
        if any(note.rpartition("g")[1] != "g" for note in event.get("on", []))
    ]


def list_written(music: Phrase) -> list[float]:
    """Return milliseconds of the phrase's onsets, without bars that repeat the one before."""
    bar = music.meter.bar
    repeated = {
        number
        for number in range(1, len(music.bars))
        if music.bars[number].hits == music.bars[number - 1].hits and music.bars[number].part.value == "groove"
    }
    return sorted({float(hit.at) * MS_PER_WHOLE for hit in music.hits() if hit.at // bar not in repeated})


@pytest.mark.parametrize("name", [figure.name for figure in load_rudiments()])
def test_onsets_of_fills(
    name: str, phrases_of: Callable[[str], tuple[Phrase, ...]], toolkit: verovio.toolkit
) -> None:
    for music in phrases_of(name)[::4]:
        times = onsets(timemap(toolkit, Sheet(phrase=music)))
        wanted = list_written(music)
        # Where a fill opens the page with grace notes the engraver delays its first note: nothing is before it.
        first = 1 if any(hit.at == 0 and hit.stroke.kind.graces for hit in music.hits()) else 0
        assert len(times) == len(wanted)
        assert times[first:] == pytest.approx(wanted[first:], abs=1)


@pytest.mark.parametrize("groove", load_grooves(), ids=lambda groove: groove.name)
def test_onsets_and_length_of_a_phrase(groove: Groove, toolkit: verovio.toolkit) -> None:
    music = build_phrase(groove, None, bars=3, land=build_landing(groove.meter, Limb.RIGHT))
    events = timemap(toolkit, Sheet(phrase=music, closing="single"))
    assert onsets(events) == pytest.approx(list_written(music), abs=1)
    assert events[-1]["tstamp"] == pytest.approx(float(music.length) * MS_PER_WHOLE, abs=1)
