"""Standard MIDI Files: a phrase for other programs and electronic kits.

Type 1, 960 ticks a quarter: a conductor track with the title, tempo, meter and a marker for every bar, and a
drum track on channel 10 with General MIDI notes. Every tick is rounded from its absolute time, so swing and
flams are where they are played and errors don't add up.
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

_CHANNEL = 9  # the drum channel, 10, counted from 0 (General MIDI)
_LONGEST_TICKS = TICKS_PER_QUARTER // 8
"""A drum note needs no length; a thirty-second is seen easily in an editor and seldom meets the next one."""


@dataclass(frozen=True, slots=True, kw_only=True)
class _Clock:
    """Seconds to ticks at the tempo that the file can hold: whole microseconds a quarter."""

    us_per_quarter: int

    def ticks(self, seconds: float) -> int:
        return round(seconds * 1e6 * TICKS_PER_QUARTER / self.us_per_quarter)


@dataclass(frozen=True, slots=True, kw_only=True, order=True)
class _DrumNote:
    """One drum note of the file."""

    tick: int
    key: int
    velocity: int


def encode_midi(phrase: Phrase, tempo: float, *, title: str = "", feel: Feel = STRAIGHT) -> bytes:
    """Encode a phrase as a Standard MIDI File, the same bytes every time.

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
    whole_seconds = whole_note_seconds(phrase.meter, tempo)
    clock = _Clock(us_per_quarter=round(whole_seconds / 4 * 1e6))
    end = clock.ticks(float(phrase.length) * whole_seconds)
    file = mido.MidiFile(type=1, ticks_per_beat=TICKS_PER_QUARTER, charset="utf-8")
    file.tracks.append(_build_track(_list_conductor_events(phrase, whole_seconds, clock, title), end))
    file.tracks.append(_build_track(_list_drum_events(time_phrase(phrase, tempo, feel), clock, end), end))
    out = io.BytesIO()
    file.save(file=out)
    return out.getvalue()


Event = tuple[int, "mido.Message | mido.MetaMessage"]
"""A message at an absolute tick."""


def _build_track(events: Iterable[Event], end: int) -> mido.MidiTrack:
    """Convert events by absolute tick to a track of deltas that lasts until `end`."""
    track = mido.MidiTrack()
    now = 0
    for tick, message in (*events, (end, mido.MetaMessage("end_of_track"))):
        track.append(message.copy(time=tick - now))
        now = tick
    return track


def _list_conductor_events(phrase: Phrase, whole_seconds: float, clock: _Clock, title: str) -> Iterator[Event]:
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
            clocks_per_click=_count_clocks(meter),
            notated_32nd_notes_per_beat=8,
        ),
    )
    for at, text in _list_markers(phrase):
        yield clock.ticks(at * whole_seconds), mido.MetaMessage("marker", text=text)


def _count_clocks(meter: Meter) -> int:
    """Count MIDI clocks, 24 a quarter, from click to click: a beat, or an eighth if beats differ in length."""
    uneven = len(set(meter.beats)) > 1
    return 12 if uneven else int(meter.beats[0] * 4 * 24)


def _list_markers(phrase: Phrase) -> list[tuple[float, str]]:
    """List what every bar is for, in whole notes from the start; the fill where it starts, in mid-bar too."""
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


def _list_drum_events(timed: Iterable[TimedHit], clock: _Clock, end: int) -> Iterator[Event]:
    yield 0, mido.MetaMessage("track_name", name="Drums")
    yield 0, mido.Message("program_change", channel=_CHANNEL, program=0)
    events: list[tuple[int, int, int, int]] = []
    for note, off in _limit_lengths(_collect_notes(timed, clock), end):
        events.append((note.tick, 1, note.key, note.velocity))
        events.append((off, 0, note.key, 0))
    for tick, sounding, key, velocity in sorted(events):
        kind = "note_on" if sounding else "note_off"
        yield tick, mido.Message(kind, channel=_CHANNEL, note=key, velocity=velocity)


def _collect_notes(timed: Iterable[TimedHit], clock: _Clock) -> list[_DrumNote]:
    """List every note of the file, ascending, one at a time on each MIDI note."""
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
    return sorted(_DrumNote(tick=at, key=key, velocity=loud) for (at, key), loud in loudest.items())


def _limit_lengths(struck: Iterable[_DrumNote], end: int) -> Iterator[tuple[_DrumNote, int]]:
    """Yield each note with the tick where it stops: before the next of its kind, and before the file ends."""
    by_key: dict[int, list[_DrumNote]] = {}
    for note in struck:
        by_key.setdefault(note.key, []).append(note)
    for notes in by_key.values():
        stops = [following.tick for _, following in pairwise(notes)]
        for note, stop in zip(notes, [*stops, end], strict=True):
            yield note, min(stop, note.tick + _LONGEST_TICKS)
