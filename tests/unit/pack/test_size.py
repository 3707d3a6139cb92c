import time

import pytest

from fillwright import budget
from fillwright.errors import FitError
from fillwright.lesson.file import parse_lesson
from fillwright.lesson.fills import build_fills
from fillwright.music.rudiments import load_rudiments
from fillwright.pack.build import build_pack
from fillwright.pack.size import check_pack_size, estimate_bytes

SMALL = """number = 1
title = "Small"
tempo = [100, 120]
bars = 1
audio = "wav"

[[figure]]
name = "single paradiddle"
steps = ["last beat", "whole bar"]
"""


def count(text):
    lesson = parse_lesson(text)
    return lesson, build_fills(lesson).fills


def test_an_ordinary_lesson_is_accepted():
    check_pack_size(*count(SMALL))


def test_too_many_audio_files_are_refused_with_the_counts(tmp_path, monkeypatch):
    lesson, fills = count(SMALL)
    files = sum(len(fill.ladder) for fill in fills)
    monkeypatch.setattr(budget, "PACK_AUDIO_FILES", files - 1)
    with pytest.raises(FitError) as caught:
        build_pack(lesson, SMALL, tmp_path / "pack")
    assert str(caught.value) == (
        f"The lesson has {len(fills)} fills at up to 2 tempos, together {files} audio files; "
        f"a pack has at most {files - 1}, so name fewer figures, steps or tempos, or split the lesson."
    )
    assert list(tmp_path.iterdir()) == []
    monkeypatch.setattr(budget, "PACK_AUDIO_FILES", files)
    check_pack_size(lesson, fills)


def test_too_many_fills_are_refused(monkeypatch):
    lesson, fills = count(SMALL)
    monkeypatch.setattr(budget, "FILLS", len(fills) - 1)
    with pytest.raises(FitError, match=rf"has {len(fills)} fills; a pack has at most {len(fills) - 1}, so"):
        check_pack_size(lesson, fills)


def test_too_many_bytes_are_refused_with_the_size(monkeypatch):
    lesson, fills = count(SMALL)
    monkeypatch.setattr(budget, "PACK_BYTES", 1_000_000)
    with pytest.raises(FitError, match=r"^The pack would have about \d.* MB with \d+ wav files; at most 1 MB"):
        check_pack_size(lesson, fills)


@pytest.mark.parametrize("audio", ["wav", "flac", "ogg", "mp3"])
def test_the_estimate_is_near_the_real_size(tmp_path, audio):
    text = SMALL.replace('"wav"', f'"{audio}"').replace('"last beat", ', "")
    lesson, fills = count(text)
    build_pack(lesson, text, tmp_path)
    built = list((tmp_path / "fills").rglob(f"*.{audio}"))
    estimate = estimate_bytes(lesson, fills) - estimate_bytes(lesson, ()) - 400_000 * len(fills)
    real = sum(path.stat().st_size for path in built)
    assert real / 3 < estimate < 3 * real


def test_every_rudiment_at_forty_tempos_is_refused_before_the_work(tmp_path):
    figures = "".join(f'[[figure]]\nname = "{figure.name}"\n' for figure in load_rudiments())
    text = f'number = 1\ntitle = "All"\ntempo = {list(range(40, 80))}\n{figures}'
    started = time.process_time()
    with pytest.raises(
        FitError, match=r"has \d+ fills at up to 40 tempos, together \d\d,\d+ audio files; a pack has"
    ):
        build_pack(parse_lesson(text), text, tmp_path / "pack")
    assert time.process_time() - started < 8  # the fills have to be planned to be counted: 3 s of one core
    assert list(tmp_path.iterdir()) == []
