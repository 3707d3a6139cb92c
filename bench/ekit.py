"""An electronic kit as it records: rims and edges on MIDI notes of their own, and all the faults of pads."""

from __future__ import annotations

import io
import random
from collections.abc import Iterable
from dataclasses import dataclass

import mido

TICKS = 480  # to a quarter (common practice, no source)

# MIDI notes of heads and bows (General MIDI).
HEADS = {
    "snare": 38,
    "rim": 37,
    "high": 48,
    "mid": 45,
    "floor": 43,
    "hat": 42,
    "open": 46,
    "pedal": 44,
    "ride": 51,
    "bell": 53,
    "crash": 49,
    "crash 2": 57,
    "kick": 36,
}
# MIDI notes of rims and edges, as many electronic kits send them (common practice, no source).
EDGES = {
    "snare": 40,
    "high": 50,
    "mid": 47,
    "floor": 58,
    "hat": 22,
    "open": 26,
    "ride": 59,
    "crash": 55,
    "crash 2": 52,
}
NEIGHBOURS = {"high": "mid", "mid": "high", "snare": "high", "crash": "high", "crash 2": "mid", "floor": "mid"}


@dataclass(frozen=True, slots=True, kw_only=True)
class Beat:
    """A stroke as it is meant: beat, pad, velocity, and how many seconds ahead of its place."""

    at: float
    pad: str
    loud: int = 85
    ahead: float = 0.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Hit:
    """A stroke as the kit sends it."""

    seconds: float
    key: int
    velocity: int


def send(beat: Beat, seconds: float, chance: random.Random) -> Iterable[Hit]:
    """Return one stroke as the kit sends it, faults and all."""
    loud = min(127, max(1, round(beat.loud * chance.gauss(1, 0.08))))
    edge = beat.pad in EDGES and chance.random() < (0.25 if loud > 95 else 0.08)
    key = EDGES[beat.pad] if edge else HEADS[beat.pad]
    yield Hit(seconds=seconds, key=key, velocity=loud)
    if beat.pad in EDGES and loud > 95 and chance.random() < 0.06:  # rim and head, bow and edge together
        other = HEADS[beat.pad] if edge else EDGES[beat.pad]
        yield Hit(
            seconds=seconds + chance.uniform(0, 0.008), key=other, velocity=int(loud * chance.uniform(0.3, 1))
        )
    if chance.random() < 0.01:  # triggered twice
        yield Hit(
            seconds=seconds + chance.uniform(0.002, 0.014),
            key=key,
            velocity=max(1, int(loud * chance.uniform(0.2, 0.9))),
        )
    if chance.random() < 0.003:  # the stick or beater bounces
        yield Hit(
            seconds=seconds + chance.uniform(0.018, 0.045),
            key=key,
            velocity=max(1, int(loud * chance.uniform(0.15, 0.45))),
        )
    if loud > 105 and beat.pad in NEIGHBOURS and chance.random() < 0.02:  # a neighbour hears it
        heard = max(1, int(loud * chance.uniform(0.03, 0.3)))
        yield Hit(seconds=seconds + chance.uniform(0, 0.006), key=HEADS[NEIGHBOURS[beat.pad]], velocity=heard)
    if beat.pad == "open" and chance.random() < 0.3:  # the foot closes it a little later
        yield Hit(seconds=seconds + chance.uniform(0.1, 0.2), key=44, velocity=40)


def as_midi(hits: Iterable[Hit], tempo: float) -> bytes:
    """Return hits at whole milliseconds as a file of format 0, 480 ticks a quarter, on channel 10."""
    us = round(60e6 / tempo)
    events = []
    for hit in hits:
        at = round(max(0.0, hit.seconds), 3)
        tick = round(at * 1e6 / us * TICKS)
        events.append((tick, 1, hit.key, hit.velocity))
        events.append((tick + 40, 0, hit.key, 64))
    file = mido.MidiFile(type=0, ticks_per_beat=TICKS)
    track = mido.MidiTrack()
    file.tracks.append(track)
    track.append(mido.MetaMessage("set_tempo", tempo=us))
    track.append(mido.MetaMessage("time_signature", numerator=4, denominator=4))
    now = 0
    for tick, on, key, velocity in sorted(events):
        kind = "note_on" if on else "note_off"
        track.append(mido.Message(kind, channel=9, note=key, velocity=velocity, time=tick - now))
        now = tick
    out = io.BytesIO()
    file.save(file=out)
    return out.getvalue()
