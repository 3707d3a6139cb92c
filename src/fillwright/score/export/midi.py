"""Standard MIDI Files: a phrase for other programs and electronic kits.

Type 1, 960 ticks a quarter: a conductor track with the title, tempo, meter and a marker for every bar, and a
drum track on channel 10 with General MIDI keys. Every tick is rounded from its absolute time, so swing and
flams stand where they are played and nothing adds up.
"""

from __future__ import annotations

import io
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from itertools import pairwise
from math import ceil

import mido

from fillwright.music.meter import Meter
from fillwright.music.phrase import Part, Phrase
from fillwright.music.stroke import GRACE_VELOCITY
from fillwright.music.timing import STRAIGHT, Feel, TimedHit, time_phrase, whole_note_seconds

TICKS_PER_QUARTER = 960
"""Resolution of the file: at 120 quarters a minute a tick is about half a millisecond."""

_CHANNEL = 9
_LONGEST_TICKS = TICKS_PER_QUARTER // 8
"""A drum note needs no length; a thirty-second is seen easily in an editor and seldom meets the next one."""


@dataclass(frozen=True, slots=True, kw_only=True)
class _Clock:
    """Seconds as ticks at the tempo the file can say: whole microseconds a quarter."""

    us_per_quarter: int

    def ticks(self, seconds: float) -> int:
        return round(seconds * 1e6 * TICKS_PER_QUARTER / self.us_per_quarter)


@dataclass(frozen=True, slots=True, kw_only=True, order=True)
class _Struck:
    """One drum note of the file."""

    tick: int
    key: int
    velocity: int


def encode_midi(phrase: Phrase, tempo: float, *, title: str = "", feel: Feel = STRAIGHT) -> bytes:
    """A phrase as a Standard MIDI File, the same bytes every time.

    Grace notes are notes of their own, ahead of the main note. The file starts with the phrase: a grace note
    that would sound before it moves to the start, and is left out where its main note stands there already.
    Two strokes on one drum at once are one note, as loud as the louder.

    Args:
        phrase: what is played.
        tempo: in the meter's beats a minute.
        title: name of the file's first track, written in UTF-8.
        feel: swing and flams.

    Raises:
        TempoError: for a tempo that can't be played.
    """
    whole = whole_note_seconds(phrase.meter, tempo)
    clock = _Clock(us_per_quarter=round(whole / 4 * 1e6))
    end = clock.ticks(float(phrase.length) * whole)
    file = mido.MidiFile(type=1, ticks_per_beat=TICKS_PER_QUARTER, charset="utf-8")
    file.tracks.append(_track(_conductor(phrase, whole, clock, title), end))
    file.tracks.append(_track(_drums(time_phrase(phrase, tempo, feel), clock, end), end))
    out = io.BytesIO()
    file.save(file=out)
    return out.getvalue()


Event = tuple[int, "mido.Message | mido.MetaMessage"]
"""A message at an absolute tick."""


def _track(events: Iterable[Event], end: int) -> mido.MidiTrack:
    """Events by absolute tick as a track of deltas that lasts until `end`."""
    track = mido.MidiTrack()
    now = 0
    for tick, message in (*events, (end, mido.MetaMessage("end_of_track"))):
        track.append(message.copy(time=tick - now))
        now = tick
    return track


def _conductor(phrase: Phrase, whole: float, clock: _Clock, title: str) -> Iterator[Event]:
    meter = phrase.meter
    name = title.encode("utf-8", "replace").decode("utf-8")
    yield 0, mido.MetaMessage("track_name", name=name)
    yield 0, mido.MetaMessage("set_tempo", tempo=clock.us_per_quarter)
    yield (
        0,
        mido.MetaMessage(
            "time_signature",
            numerator=meter.numerator,
            denominator=meter.denominator,
            clocks_per_click=_clocks_per_click(meter),
            notated_32nd_notes_per_beat=8,
        ),
    )
    for at, text in _markers(phrase):
        yield clock.ticks(at * whole), mido.MetaMessage("marker", text=text)


def _clocks_per_click(meter: Meter) -> int:
    """MIDI clocks, 24 a quarter, between clicks: each beat, or each eighth where the beats differ in length."""
    uneven = len(set(meter.beats)) > 1
    return 12 if uneven else int(meter.beats[0] * 4 * 24)


def _markers(phrase: Phrase) -> list[tuple[float, str]]:
    """What every bar is for, in whole notes from the start; the fill where it starts, in mid-bar too."""
    span, length = phrase.span, phrase.meter.bar
    places = []
    for number, bar in enumerate(phrase.bars):
        start = number * length
        if bar.part is not Part.FILL or span is None:
            places.append((start, bar.part.value))
        elif start < span.start:
            places += [(start, Part.GROOVE.value), (span.start, Part.FILL.value)]
        elif start == span.start:
            places.append((start, Part.FILL.value))
        else:
            places.append((start, f"fill, bar {ceil((start - span.start) / length) + 1}"))
    return [(float(at), words) for at, words in places]


def _drums(timed: Iterable[TimedHit], clock: _Clock, end: int) -> Iterator[Event]:
    yield 0, mido.MetaMessage("track_name", name="Drums")
    yield 0, mido.Message("program_change", channel=_CHANNEL, program=0)
    events: list[tuple[int, int, int, int]] = []
    for note, off in _lengths(_struck(timed, clock), end):
        events.append((note.tick, 1, note.key, note.velocity))
        events.append((off, 0, note.key, 0))
    for tick, sounding, key, velocity in sorted(events):
        kind = "note_on" if sounding else "note_off"
        yield tick, mido.Message(kind, channel=_CHANNEL, note=key, velocity=velocity)


def _struck(timed: Iterable[TimedHit], clock: _Clock) -> list[_Struck]:
    """Every note of the file, ascending, one at a time on each key."""
    loudest: dict[tuple[int, int], int] = {}

    def strike(tick: int, key: int, velocity: int) -> None:
        loudest[tick, key] = max(velocity, loudest.get((tick, key), 0))

    for hit in timed:
        tick, key = clock.ticks(hit.onset_seconds), hit.hit.surface.key
        graced = hit.hit.grace_surface.key
        strike(tick, key, hit.hit.stroke.level.velocity)
        for grace_seconds in hit.grace_seconds:
            grace = max(0, clock.ticks(grace_seconds))
            if grace < tick:
                strike(grace, graced, GRACE_VELOCITY)
    return sorted(_Struck(tick=at, key=key, velocity=loud) for (at, key), loud in loudest.items())


def _lengths(struck: Iterable[_Struck], end: int) -> Iterator[tuple[_Struck, int]]:
    """Each note with the tick where it stops: before the next on its key, and before the file ends."""
    by_key: dict[int, list[_Struck]] = {}
    for note in struck:
        by_key.setdefault(note.key, []).append(note)
    for notes in by_key.values():
        stops = [following.tick for _, following in pairwise(notes)]
        for note, stop in zip(notes, [*stops, end], strict=True):
            yield note, min(stop, note.tick + _LONGEST_TICKS)
