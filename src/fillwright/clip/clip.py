"""A clip: one fill as a film for a teacher's own recording, with notation, cursor, count-in and sound."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np

from fillwright.atomic import write_whole
from fillwright.clip.cursor import time_cursor
from fillwright.clip.encode import encode_mp4
from fillwright.clip.frames import FRAMES_PER_SECOND, Shot, find_background, render_frames
from fillwright.clip.picture import Words, draw_picture
from fillwright.errors import FillwrightError, OutputError
from fillwright.lesson.single_fill import Single
from fillwright.music.counting import name_counts
from fillwright.score.sheet import Sheet
from fillwright.sound.files.audio import Audio
from fillwright.sound.model.bank import SoundBank
from fillwright.sound.playalong.clicks import list_count_in_places
from fillwright.sound.playalong.options import DEFAULT_OPTIONS, Options
from fillwright.sound.playalong.render import render_sections
from fillwright.sound.playalong.sections import plan_sections

LEAD_SECONDS = 0.5
"""Stillness before the first click, so that no player swallows it."""

MOST_SECONDS = 900
"""The longest clip; a longer one was not meant."""


@dataclass(frozen=True, slots=True, kw_only=True)
class ClipSettings:
    """What is to be filmed.

    Attributes:
        tempo: in the meter's beats a minute.
        options: count-in, click, feel and the rest.
        background: name of one of `clip_frames.GROUNDS`.
        title: above the music; None for the fill's own, "" for none.
    """

    tempo: int
    options: Options = DEFAULT_OPTIONS
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


def make_clip(
    one: Single, wish: ClipSettings, *, bank: SoundBank | None = None, warn: Callable[[str], None] | None = None
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
    on = find_background(wish.background)
    (section,) = plan_sections(one.phrase, (wish.tempo,), wish.options)
    if section.rests_seconds > MOST_SECONDS:
        raise FillwrightError(
            f"A clip of {section.rests_seconds / 60:.0f} minutes is too long; it may last "
            f"{MOST_SECONDS // 60}. Ask for fewer repeats or bars."
        )
    sheet = Sheet(phrase=one.phrase, tempo=str(wish.tempo), label="Fill", cue=one.step.figure.cue)
    drawn = draw_picture(sheet, _words(one, wish), small=on.has_card)
    audio = delay_audio(render_sections((section,), bank=bank))
    shot = Shot(
        section=section,
        way=time_cursor(drawn.marks, one.phrase, section, wish.options.feel),
        lead_seconds=LEAD_SECONDS,
        frames=math.ceil(audio.seconds * FRAMES_PER_SECOND),
    )
    return Clip(
        content=encode_mp4(render_frames(drawn, on, shot), audio, warn=warn or (lambda _: None)),
        frames=shot.frames,
        start_seconds=audio.start_seconds,
    )


def _words(one: Single, wish: ClipSettings) -> Words:
    title, _, caption = one.title.partition(": ")
    if wish.title is not None:
        title, caption = wish.title, ""
    meter, options = one.phrase.meter, wish.options
    counts = name_counts(meter, list_count_in_places(meter, options)) * options.count_in_bars
    return Words(title=title, caption=caption, counts=counts)


def delay_audio(audio: Audio) -> Audio:
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
