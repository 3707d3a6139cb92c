"""A clip: one fill as a film for a teacher's own recording, with notation, cursor, count-in and sound."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np

from fillwright.atomic import write_whole
from fillwright.clip.cursor import knots
from fillwright.clip.encode import mp4
from fillwright.clip.frames import FRAMES_PER_SECOND, Shot, frames, ground
from fillwright.clip.picture import Words, picture
from fillwright.errors import FillwrightError, OutputError
from fillwright.lesson.single_fill import Single
from fillwright.music.counting import count_words
from fillwright.score.sheet import Sheet
from fillwright.sound.files.audio import Audio
from fillwright.sound.model.bank import SoundBank
from fillwright.sound.playalong.clicks import counted_places
from fillwright.sound.playalong.options import PLAIN, Options
from fillwright.sound.playalong.render import sounded
from fillwright.sound.playalong.sections import planned

LEAD_SECONDS = 0.5
"""Stillness before the first click, so that no player swallows it."""

MOST_SECONDS = 900
"""The longest clip; a longer one was not meant."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Wish:
    """What is to be filmed.

    Attributes:
        tempo: in the meter's beats a minute.
        options: count-in, click, feel and the rest.
        background: name of one of `clip_frames.GROUNDS`.
        title: above the music; None for the fill's own, "" for none.
    """

    tempo: int
    options: Options = PLAIN
    background: str = "plain"
    title: str | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Clip:
    """A finished clip.

    Attributes:
        content: bytes of an MP4.
        frames: how many it has, 30 a second.
        start_seconds: where the phrase's first beat falls.
    """

    content: bytes
    frames: int
    start_seconds: float

    @property
    def seconds(self) -> float:
        """How long it lasts."""
        return self.frames / FRAMES_PER_SECOND

    def report(self) -> dict[str, float]:
        """What programs want to know, as JSON has it."""
        return {
            "seconds": self.seconds,
            "start_seconds": self.start_seconds,
            "frames": self.frames,
            "frames_per_second": FRAMES_PER_SECOND,
        }


def film(
    one: Single, wish: Wish, *, bank: SoundBank | None = None, warn: Callable[[str], None] | None = None
) -> Clip:
    """One fill in its phrase as a clip.

    Args:
        one: the fill.
        wish: what is to be filmed.
        bank: where the sounds come from; the modelled kit by default.
        warn: told a sentence where a second choice has to do.

    Raises:
        UnknownNameError: for a background that is none.
        FillwrightError: for a clip of more than a quarter of an hour.
        OutputError: where it can't be encoded.
    """
    on = ground(wish.background)
    (section,) = planned(one.phrase, (wish.tempo,), wish.options)
    if section.rests_seconds > MOST_SECONDS:
        raise FillwrightError(
            f"A clip of {section.rests_seconds / 60:.0f} minutes is too long; it may last "
            f"{MOST_SECONDS // 60}. Ask for fewer repeats or bars."
        )
    sheet = Sheet(phrase=one.phrase, tempo=str(wish.tempo), label="Fill", cue=one.step.figure.cue)
    drawn = picture(sheet, _words(one, wish), small=on.has_card)
    audio = _led(sounded((section,), bank=bank))
    shot = Shot(
        section=section,
        way=knots(drawn.marks, one.phrase, section, wish.options.feel),
        lead_seconds=LEAD_SECONDS,
        frames=math.ceil(audio.seconds * FRAMES_PER_SECOND),
    )
    return Clip(
        content=mp4(frames(drawn, on, shot), audio, warn=warn or (lambda _: None)),
        frames=shot.frames,
        start_seconds=audio.start_seconds,
    )


def _words(one: Single, wish: Wish) -> Words:
    title, _, caption = one.title.partition(": ")
    if wish.title is not None:
        title, caption = wish.title, ""
    meter, options = one.phrase.meter, wish.options
    counts = count_words(meter, counted_places(meter, options)) * options.count_in_bars
    return Words(title=title, caption=caption, counts=counts)


def _led(audio: Audio) -> Audio:
    """The audio after its lead."""
    lead = np.zeros((round(LEAD_SECONDS * audio.rate), 2), np.float32)
    samples = np.concatenate([lead, audio.samples])
    return replace(audio, samples=samples, start_seconds=audio.start_seconds + LEAD_SECONDS)


def write_clip(path: Path, make: Callable[[], Clip]) -> Clip:
    """Make a clip and write it whole; another ending is refused before the work begins.

    Raises:
        OutputError: for another ending than .mp4, or where the file can't be written.
    """
    if path.suffix.lower() != ".mp4":
        raise OutputError(f'"{path.suffix}" is no ending for a clip; use .mp4.')
    made = make()
    write_whole(path, made.content)
    return made
