"""A clip: one fill as a film for a teacher's own recording, with notation, cursor, count-in and sound."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np

from fillwright.atomic import write_file
from fillwright.clip.cursor import time_cursor
from fillwright.clip.encode import encode_mp4
from fillwright.clip.frames import FRAMES_PER_SECOND, Shot, find_background, render_frames
from fillwright.clip.picture import Words, draw_picture
from fillwright.errors import FillwrightError, OutputError
from fillwright.lesson.single_fill import SingleFill
from fillwright.music.counting import name_counts
from fillwright.score.sheet import Sheet
from fillwright.sound.files.audio import Audio
from fillwright.sound.model.bank import SoundBank
from fillwright.sound.playalong.clicks import list_count_in_places
from fillwright.sound.playalong.options import DEFAULT_OPTIONS, Options
from fillwright.sound.playalong.render import render_sections
from fillwright.sound.playalong.sections import plan_sections

LEAD_SECONDS = 0.5
"""Stillness before the first click, so that no video player cuts it off (ours, not measured)."""

MOST_SECONDS = 900
"""Longest clip, in seconds; a longer one was not meant (ours)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class ClipSettings:
    """Settings of a clip.

    Attributes:
        tempo: in the meter's beats a minute.
        options: count-in, click, feel and the rest.
        background: name of one of `clip.frames.BACKGROUNDS`.
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
        frames: number of frames, 30 a second.
        start_seconds: time of the phrase's first beat.
    """

    content: bytes
    frames: int
    start_seconds: float

    @property
    def seconds(self) -> float:
        """Length in seconds."""
        return self.frames / FRAMES_PER_SECOND

    def report(self) -> dict[str, float]:
        """Return the clip's length, start and frame rate, as values for JSON."""
        return {
            "seconds": self.seconds,
            "start_seconds": self.start_seconds,
            "frames": self.frames,
            "frames_per_second": FRAMES_PER_SECOND,
        }


def make_clip(
    fill: SingleFill,
    settings: ClipSettings,
    *,
    bank: SoundBank | None = None,
    warn: Callable[[str], None] | None = None,
) -> Clip:
    """Make a clip of one fill in its phrase.

    Args:
        fill: the fill.
        settings: what is to be filmed.
        bank: where the sounds come from; the modelled kit by default.
        warn: called with a sentence if a second choice has to do.

    Raises:
        UnknownNameError: for an unknown background.
        FillwrightError: for a clip of more than a quarter of an hour.
        OutputError: where it can't be encoded.
    """
    background = find_background(settings.background)
    (section,) = plan_sections(fill.phrase, (settings.tempo,), settings.options)
    if section.rests_seconds > MOST_SECONDS:
        raise FillwrightError(
            f"A clip of {section.rests_seconds / 60:.0f} minutes is too long; the limit is "
            f"{MOST_SECONDS // 60} minutes. Use fewer repeats or bars."
        )
    sheet = Sheet(phrase=fill.phrase, tempo=str(settings.tempo), label="Fill", cue=fill.step.figure.cue)
    drawing = draw_picture(sheet, _write_words(fill, settings), small=background.has_card)
    audio = delay_audio(render_sections((section,), bank=bank))
    shot = Shot(
        section=section,
        way=time_cursor(drawing.marks, fill.phrase, section, settings.options.feel),
        lead_seconds=LEAD_SECONDS,
        frames=math.ceil(audio.seconds * FRAMES_PER_SECOND),
    )
    return Clip(
        content=encode_mp4(render_frames(drawing, background, shot), audio, warn=warn or (lambda _: None)),
        frames=shot.frames,
        start_seconds=audio.start_seconds,
    )


def _write_words(fill: SingleFill, settings: ClipSettings) -> Words:
    title, _, caption = fill.title.partition(": ")
    if settings.title is not None:
        title, caption = settings.title, ""
    meter, options = fill.phrase.meter, settings.options
    counts = name_counts(meter, list_count_in_places(meter, options)) * options.count_in_bars
    return Words(title=title, caption=caption, counts=counts)


def delay_audio(audio: Audio) -> Audio:
    """Return the audio with the stillness of the lead before it."""
    lead = np.zeros((round(LEAD_SECONDS * audio.rate), 2), np.float32)
    samples = np.concatenate([lead, audio.samples])
    return replace(audio, samples=samples, start_seconds=audio.start_seconds + LEAD_SECONDS)


def write_clip(path: Path, make: Callable[[], Clip]) -> Clip:
    """Make a clip and write it whole; another ending is refused before the work begins.

    Raises:
        OutputError: for another ending than .mp4, or where the file can't be written.
    """
    if path.suffix.lower() != ".mp4":
        raise OutputError(f'"{path.suffix}" is not an ending for a clip; use .mp4.')
    clip = make()
    write_file(path, clip.content)
    return clip
