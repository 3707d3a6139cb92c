"""One fill played and written: what was asked for, the audio, what players show, the file."""

from __future__ import annotations

from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

from fillwright.atomic import write_whole
from fillwright.errors import FillwrightError
from fillwright.lesson.single_fill import Single
from fillwright.music.ladder import parse_ladder
from fillwright.sound.files.audio import Audio
from fillwright.sound.files.encode import NO_TAGS, Tags, encoded
from fillwright.sound.model.bank import SoundBank
from fillwright.sound.playalong.options import Options, Shape
from fillwright.sound.playalong.render import sounded, sounded_loop
from fillwright.sound.playalong.sections import Section, planned


@dataclass(frozen=True, slots=True, kw_only=True)
class Request:
    """What is to be played.

    Attributes:
        tempos: in the meter's beats a minute, in order.
        options: count-in, click, feel and the rest.
        shape: how several tempos become one file.
    """

    tempos: tuple[int, ...]
    options: Options
    shape: Shape = Shape.APART


@dataclass(frozen=True, slots=True, kw_only=True)
class Recording:
    """What was played.

    Attributes:
        title: of the fill.
        about: meter and note values, for players to show.
        audio: the sound.
        sections: when everything in it sounds.
    """

    title: str
    about: str
    audio: Audio
    sections: tuple[Section, ...]

    @property
    def tempos(self) -> str:
        """The first tempo, and the last where there are several, in words."""
        first, last = self.sections[0].tempo, self.sections[-1].tempo
        return f"{first:g}" if first == last else f"{first:g} to {last:g}"

    def report(self) -> dict[str, Any]:
        """What programs want to know, as JSON has it."""
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


def request(tempos: int | str, options: Options, *, climb: int | None = None, loop: bool = False) -> Request:
    """What is to be played, from what was asked.

    Args:
        tempos: one tempo, or a ladder as `music.ladder` reads it.
        options: count-in, click, feel and the rest.
        climb: how often the phrase is played at each tempo of a ladder without a stop; None to stop.
        loop: whether the audio closes to the sample.

    Raises:
        TempoError: for a ladder that can't be read.
        FillwrightError: for wishes that go against each other.
    """
    rungs = parse_ladder(tempos) if isinstance(tempos, str) else (tempos,)
    if loop:
        if climb is not None or isinstance(tempos, str):
            raise FillwrightError("A loop has one tempo; leave out the ladder, or the loop.")
        return Request(tempos=rungs, options=options, shape=Shape.LOOP)
    if climb is None:
        return Request(tempos=rungs, options=options)
    if len(rungs) < 2:
        raise FillwrightError("A climb needs several tempos; give a ladder, such as 60..100 step 10.")
    if options.repeats != 1:
        raise FillwrightError("A climb says itself how often the phrase is played; leave out the repeats.")
    return Request(tempos=rungs, options=replace(options, repeats=climb), shape=Shape.CLIMBING)


def record(one: Single, asked: Request, *, bank: SoundBank | None = None) -> Recording:
    """Play a fill in its phrase.

    Args:
        one: the fill.
        asked: what is to be played.
        bank: where the sounds come from; the modelled kit by default.
    """
    sections = planned(one.phrase, asked.tempos, asked.options, asked.shape)
    loops = asked.shape is Shape.LOOP
    return Recording(
        title=one.title,
        about=f"{one.phrase.meter.name}, {one.step.rhythm.name}",
        audio=sounded_loop(sections[0], bank=bank) if loops else sounded(sections, bank=bank),
        sections=sections,
    )


def tagged(made: Recording, *, artist: str = "", album: str = "", track: int = 0) -> Tags:
    """What players show of a recording.

    Raises:
        FillwrightError: for a track number below 0.
    """
    if track < 0:
        raise FillwrightError(f"{track} is no track number; give one from 1.")
    return Tags(
        title=f"{made.title}, {made.tempos}",
        artist=artist,
        album=album,
        track=track,
        comment=f"{made.tempos} beats a minute, {made.about}",
    )


def write_audio(path: Path, audio: Audio, *, tags: Tags = NO_TAGS) -> None:
    """Write audio as .wav, .flac, .ogg or .mp3, with what players show.

    Raises:
        OutputError: for another ending, or where the file can't be written.
    """
    write_whole(path, encoded(audio, path.suffix.lower(), tags=tags))
