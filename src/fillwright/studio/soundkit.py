"""The kit as the studio's pages play it: every surface at every loudness, packed once."""

from __future__ import annotations

import base64
import json
from contextlib import suppress
from dataclasses import dataclass
from fractions import Fraction
from typing import Any

import platformdirs

from fillwright.errors import OutputError
from fillwright.lesson.practice.data import packed_table, rules_table, time_table
from fillwright.lesson.practice.sounds import packed
from fillwright.lesson.practice.strokes import place, places, score
from fillwright.lesson.recipes import program_digest
from fillwright.lesson.whole import write_whole
from fillwright.music.hit import Hit
from fillwright.music.meter import meter
from fillwright.music.phrase import Bar, Part, Phrase
from fillwright.music.stroke import Kind, Level, Limb, Stroke
from fillwright.music.surfaces import Surface, surfaces
from fillwright.music.timing import Feel
from fillwright.sound.bank import default_bank
from fillwright.studio.once import once

_FLAM_MS = 25.0


@dataclass(frozen=True, slots=True, kw_only=True)
class SoundKit:
    """All sounds, for one download.

    Attributes:
        table: for the script: where each sound lies, and how strokes sound.
        recording: an MP3 file.
        names: of the sounds, in the order of the table.
    """

    table: dict[str, Any]
    recording: bytes
    names: tuple[str, ...]


@once(maxsize=1)
def sound_kit() -> SoundKit:
    """The modelled kit, packed when it is first asked for; kept on disk for the next start."""
    kept = platformdirs.user_cache_path("fillwright") / f"studio-kit-{program_digest()[:16]}.json"
    try:
        return _read(kept.read_bytes())
    except (OSError, ValueError, KeyError, TypeError):
        made = _packed()
        with suppress(OSError, OutputError):
            kept.parent.mkdir(parents=True, exist_ok=True)
            write_whole(kept, _written(made))
        return made


def _written(kit: SoundKit) -> bytes:
    recording = base64.b64encode(kit.recording).decode("ascii")
    return json.dumps({"table": kit.table, "names": kit.names, "recording": recording}).encode("utf-8")


def _read(content: bytes) -> SoundKit:
    found = json.loads(content)
    recording = base64.b64decode(found["recording"], validate=True)
    return SoundKit(table=found["table"], recording=recording, names=tuple(found["names"]))


def _packed() -> SoundKit:
    bank = default_bank()
    strokes = score(_everything(), Feel()).strokes
    sounds = packed(strokes, 1, bank)
    names = tuple(sounds.sounds)
    table = {"packed": packed_table(sounds), "rules": rules_table(_FLAM_MS, names, bank)}
    return SoundKit(table=table, recording=sounds.recording, names=names)


def playable(phrase: Phrase, feel: Feel) -> dict[str, Any]:
    """A phrase as the player plays it."""
    played = score(phrase, feel)
    when = places(phrase, feel)
    span = phrase.span
    return {
        **time_table(phrase, played, sound_kit().names),
        "span": [when(span.start), place(float(span.end))] if span else [0, 0],
        "flamMs": feel.flam_ms,
    }


def _everything() -> Phrase:
    """A bar of strokes that uses every sound of the kit."""
    hits: list[Hit] = []
    for where in surfaces().values():
        for stroke in _strokes(where):
            hits.append(Hit(at=len(hits) * _STEP, length=_STEP, stroke=stroke, surface=where))
    size = meter("4/4").bar
    count = -(-len(hits) * _STEP // size)
    bars = [
        Bar(part=Part.GROOVE, hits=tuple(h.moved(-n * size) for h in hits if n * size <= h.at < (n + 1) * size))
        for n in range(int(count))
    ]
    return Phrase(meter=meter("4/4"), bars=tuple(bars))


_STEP = Fraction(1, 4)


def _strokes(where: Surface) -> list[Stroke]:
    limb = where.foot or Limb.RIGHT
    made = [Stroke(hand=limb, level=level) for level in Level]
    if where.foot is None:
        made.append(Stroke(hand=limb, kind=Kind.FLAM))
        made.append(Stroke(hand=limb, kind=Kind.BUZZ))
    return made
