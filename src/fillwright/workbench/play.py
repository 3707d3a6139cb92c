"""Playing of one fill: the request, its audio, its tags and its file."""

from __future__ import annotations

from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

from fillwright.atomic import write_file
from fillwright.errors import FillwrightError
from fillwright.lesson.single_fill import SingleFill
from fillwright.music.ladder import parse_ladder
from fillwright.sound.files.audio import Audio
from fillwright.sound.files.encode import NO_TAGS, Tags, encode_audio
from fillwright.sound.model.bank import SoundBank
from fillwright.sound.playalong.options import Options, Shape
from fillwright.sound.playalong.render import render_loop, render_sections
from fillwright.sound.playalong.sections import Section, plan_sections


@dataclass(frozen=True, slots=True, kw_only=True)
class PlayRequest:
    """Tempos and options of a fill's audio.

    Attributes:
        tempos: in bpm (beats of the meter), in order.
        options: count-in, click, feel and the rest.
        shape: the way in which several tempos become one file.
    """

    tempos: tuple[int, ...]
    options: Options
    shape: Shape = Shape.APART


@dataclass(frozen=True, slots=True, kw_only=True)
class FillAudio:
    """A fill as audio.

    Attributes:
        title: of the fill.
        about: meter and note values, for the tags.
        audio: the samples.
        sections: times of everything in it.
    """

    title: str
    about: str
    audio: Audio
    sections: tuple[Section, ...]

    @property
    def tempos(self) -> str:
        """First tempo, and the last where there are several, in words."""
        first, last = self.sections[0].tempo, self.sections[-1].tempo
        return f"{first:g}" if first == last else f"{first:g} to {last:g}"

    def describe(self) -> dict[str, Any]:
        """Return numbers about the audio, as `--json` prints them."""
        return {
            "title": self.title,
            "seconds": self.audio.seconds,
            "start_seconds": self.audio.start_seconds,
            "loops": self.audio.loops,
            "onsets": sum(len(section.timed) for section in self.sections),
            "clicks": sum(len(section.clicks) for section in self.sections),
            "sections": [
                {
                    "tempo": section.tempo,
                    "repeats": section.repeats,
                    "opens_seconds": section.opens_seconds,
                    "start_seconds": section.start_seconds,
                    "end_seconds": section.end_seconds,
                    "onsets": len(section.timed),
                    "clicks": len(section.clicks),
                }
                for section in self.sections
            ],
        }


def make_request(
    tempos: int | str, options: Options, *, climb: int | None = None, loop: bool = False
) -> PlayRequest:
    """Make a request from options.

    Args:
        tempos: one tempo, or a ladder as `music.ladder` reads it.
        options: count-in, click, feel and the rest.
        climb: repetitions at each tempo of a ladder that is played without a stop; None to stop between tempos.
        loop: True for audio that loops without a gap.

    Raises:
        TempoError: for a ladder that can't be read.
        FillwrightError: for options that contradict each other.
    """
    rungs = parse_ladder(tempos) if isinstance(tempos, str) else (tempos,)
    if loop:
        if climb is not None or isinstance(tempos, str):
            raise FillwrightError("A loop has one tempo; leave out the ladder, or the loop.")
        return PlayRequest(tempos=rungs, options=options, shape=Shape.LOOP)
    if climb is None:
        return PlayRequest(tempos=rungs, options=options)
    if len(rungs) < 2:
        raise FillwrightError("A climb needs several tempos; give a ladder, such as 60..100 step 10.")
    if options.repeats != 1:
        raise FillwrightError("A climb sets the number of repeats; leave out the repeats.")
    return PlayRequest(tempos=rungs, options=replace(options, repeats=climb), shape=Shape.CLIMBING)


def play_fill(fill: SingleFill, request: PlayRequest, *, bank: SoundBank | None = None) -> FillAudio:
    """Play a fill in its phrase.

    Args:
        fill: in its phrase.
        request: tempos and options.
        bank: sounds; the modelled kit by default.
    """
    sections = plan_sections(fill.phrase, request.tempos, request.options, request.shape)
    loops = request.shape is Shape.LOOP
    return FillAudio(
        title=fill.title,
        about=f"{fill.phrase.meter.name}, {fill.step.rhythm.name}",
        audio=render_loop(sections[0], bank=bank) if loops else render_sections(sections, bank=bank),
        sections=sections,
    )


def make_tags(fill_audio: FillAudio, *, artist: str = "", album: str = "", track: int = 0) -> Tags:
    """Make the tags of an audio file, which music players show.

    Raises:
        FillwrightError: for a track number below 0.
    """
    if track < 0:
        raise FillwrightError(f"{track} is not a track number; use 1 or more.")
    return Tags(
        title=f"{fill_audio.title}, {fill_audio.tempos}",
        artist=artist,
        album=album,
        track=track,
        comment=f"{fill_audio.tempos} bpm, {fill_audio.about}",
    )


def write_audio(path: Path, audio: Audio, *, tags: Tags = NO_TAGS) -> None:
    """Write audio as .wav, .flac, .ogg or .mp3, with its tags.

    Raises:
        OutputError: for another ending, or where the file can't be written.
    """
    write_file(path, encode_audio(audio, path.suffix.lower(), tags=tags))
