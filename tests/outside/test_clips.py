"""Clips read back: picture and sound as another program decodes them, and how the file is laid out.

Source: PyAV (decodes H.264 and AAC)
Source: ISO/IEC 14496-12, ISO base media file format (from memory)
Source: ITU-R BT.709 (from memory)
"""

from __future__ import annotations

import io
import struct
from fractions import Fraction

import av
import numpy as np
import pytest

from fillwright.clip.clip import LEAD_SECONDS, Clip, ClipSettings, make_clip
from fillwright.clip.cursor import find_cursor, time_cursor
from fillwright.clip.frames import BACKGROUNDS, Compositor, find_background
from fillwright.clip.picture import MARGIN, ClipPicture, Words, draw_picture
from fillwright.lesson.single_fill import FillChoice, make_single_fill
from fillwright.music.timing import STRAIGHT
from fillwright.score.sheet import Sheet
from fillwright.sound.playalong.options import Click, Options
from fillwright.sound.playalong.sections import Section, plan_sections

FILL = make_single_fill(FillChoice(figure="single paradiddle", bars=1))
SETTINGS = ClipSettings(tempo=150, options=Options(click=Click.OFF), title="")
PRIMING_SECONDS = 0.003
"""What the sound may be off by: attacks smear in AAC; its 1024 samples of priming are trimmed by the file."""


@pytest.fixture(scope="module")
def clip() -> Clip:
    return make_clip(FILL, SETTINGS)


@pytest.fixture(scope="module")
def shown(clip: Clip) -> list[tuple[float, np.ndarray]]:
    """Brightness of every frame with its time."""
    with av.open(io.BytesIO(clip.content)) as file:
        return [
            (float(frame.pts * frame.time_base), frame.to_ndarray()[: frame.height].astype(int))
            for frame in file.decode(video=0)
        ]


@pytest.fixture(scope="module")
def section() -> Section:
    (found,) = plan_sections(FILL.phrase, (SETTINGS.tempo,), SETTINGS.options)
    return found


@pytest.fixture(scope="module")
def drawn() -> ClipPicture:
    sheet = Sheet(phrase=FILL.phrase, tempo=str(SETTINGS.tempo), label="Fill", cue=FILL.step.figure.cue)
    return draw_picture(sheet, Words(title="", caption="", counts=("1", "2", "3", "4")))


def test_it_is_1080p_of_30_frames_with_sound(clip):
    with av.open(io.BytesIO(clip.content)) as file:
        video, sound = file.streams.video[0], file.streams.audio[0]
        assert (video.width, video.height) == (1920, 1080)
        assert video.average_rate == 30
        assert video.codec_context.pix_fmt == "yuv420p"
        assert video.frames == clip.frames
        assert float(video.duration * video.time_base) == pytest.approx(clip.seconds, abs=0.001)
        assert float(sound.duration * sound.time_base) == pytest.approx(clip.seconds, abs=0.06)
        assert (sound.codec_context.name, sound.rate, sound.layout.name) == ("aac", 44100, "stereo")


def test_colours_are_named_and_right(clip):
    """Check ITU-R BT.709: primaries, transfer and matrix have the number 1; paper comes back as paper."""
    with av.open(io.BytesIO(clip.content)) as file:
        context = file.streams.video[0].codec_context
        assert (context.color_primaries, context.color_trc, context.colorspace) == (1, 1, 1)
        frame = next(file.decode(video=0)).reformat(format="rgb24", src_colorspace="ITU709")
        corner = frame.to_ndarray()[:8, :8].reshape(-1, 3).mean(axis=0)
    assert corner == pytest.approx(BACKGROUNDS["plain"].paper, abs=3)


def test_it_plays_while_it_loads(clip):
    """Check ISO/IEC 14496-12: the box `moov` with everything about the tracks is before `mdat`, the tracks."""
    at, names = 0, []
    while at < len(clip.content):
        size, name = struct.unpack_from(">I4s", clip.content, at)
        names.append(name)
        at += size
    assert at == len(clip.content)
    assert names[0] == b"ftyp"
    assert names.index(b"moov") < names.index(b"mdat")


def cursor_column(frame: np.ndarray, plain: np.ndarray, rows: slice) -> float:
    changed = np.abs(frame - plain)[rows].sum(axis=0).astype(float)
    changed[changed < changed.max() / 4] = 0
    return float(np.average(np.arange(len(changed)), weights=changed)) + 0.5


def test_the_cursor_is_on_a_stroke_in_the_frame_in_which_it_sounds(shown, section, drawn):
    way = time_cursor(drawn.marks, FILL.phrase, section, STRAIGHT)
    plain = np.median([frame for _, frame in shown[::5]], axis=0)
    top = Compositor(drawn, find_background("plain")).music_row
    onsets = sorted({packet.onset_seconds for packet in section.timed})
    for onset in onsets[:: max(1, len(onsets) // 8)]:
        now = LEAD_SECONDS + section.start_seconds + onset
        at, frame = min(shown, key=lambda packet: abs(packet[0] - now))
        assert abs(at - now) <= 1 / 60 + 1e-6
        earlier, mark = find_cursor(way, at - LEAD_SECONDS - 1 / 30)
        later, _ = find_cursor(way, at - LEAD_SECONDS + 1 / 30)
        rows = slice(top + int(drawn.pixels(mark.top_mm)), top + int(drawn.pixels(mark.bottom_mm)))
        found = cursor_column(frame, plain, rows)
        assert MARGIN + drawn.pixels(earlier) - 2 <= found <= MARGIN + drawn.pixels(later) + 2


def test_attacks_sound_where_they_are_written(clip, section):
    with av.open(io.BytesIO(clip.content)) as file:
        frames = list(file.decode(audio=0))
    first = frames[0]
    samples = np.concatenate([frame.to_ndarray() for frame in frames], axis=1).mean(axis=0)
    lead = float(first.pts * first.time_base) if first.pts else 0.0
    loud = np.flatnonzero(np.abs(samples) > 0.05)
    heard = loud[0] / 44100 + lead
    assert heard == pytest.approx(LEAD_SECONDS, abs=PRIMING_SECONDS)  # the count-in's first click
    landed = LEAD_SECONDS + section.end_seconds
    around = np.abs(samples[round((landed - 0.02 - lead) * 44100) :][: round(0.04 * 44100)])
    jump = np.flatnonzero(around > around.max() / 2)[0] / 44100 - 0.02
    assert abs(jump) <= PRIMING_SECONDS


def test_a_keyed_ground_stays_flat_up_to_the_card():
    """Check that no point outside the card is off by more than a hair after coding, even next to its edge."""
    tiny = make_clip(
        FILL, ClipSettings(tempo=400, options=Options(count_in_bars=0), background="green", title="")
    )
    with av.open(io.BytesIO(tiny.content)) as file:
        frame = next(file.decode(video=0)).reformat(format="rgb24", src_colorspace="ITU709").to_ndarray()
    green = np.abs(frame.astype(int) - BACKGROUNDS["green"].around).max(axis=2)
    inside = np.argwhere(green > 100)
    (top, left), (bottom, right) = inside.min(axis=0), inside.max(axis=0) + 1
    outside = np.ones(green.shape, bool)
    outside[top:bottom, left:right] = False
    assert np.percentile(green[outside], 99.9) <= 6
    assert top % 16 == 0
    assert Fraction(int(outside.sum()), outside.size) > Fraction(1, 4)
