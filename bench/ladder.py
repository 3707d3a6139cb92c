"""A ladder of 13 tempos as FLAC: ours from a bank in memory against FluidSynth's, both from one SoundFont.

Both times are measured in one run, from the phrase to the encoded bytes, so that their ratio holds on any
machine. Files are made one after the other, then as many at once as there are cores: ours on threads, as in a
pack, FluidSynth's as processes.
"""

from __future__ import annotations

import os
import shutil
import subprocess
import sys
import tempfile
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from functools import partial
from pathlib import Path

from bench.audio import make_phrase_round_kit
from bench.timer import median_seconds
from fillwright.music.phrase import Phrase
from fillwright.score.export.midi import encode_midi
from fillwright.sound.files.encode import encode_audio
from fillwright.sound.playalong.options import Options
from fillwright.sound.playalong.render import render
from fillwright.sound.samples.recorded_bank import RecordedBank
from fillwright.tables.sounds import open_sounds

SOUNDFONT = Path("/usr/share/sounds/sf2/TimGM6mb.sf2")
_TEMPOS = range(60, 121, 5)  # bpm; ours
_OPTIONS = Options(count_in_bars=0)
_RUNS = 5  # runs of which the median counts; ours


def main() -> dict[str, float]:
    """Print the seconds of both and return their ratios."""
    if not SOUNDFONT.exists() or not shutil.which("fluidsynth"):
        print("ladder: left out; it needs a SoundFont (apt-get install fluidsynth timgm6mb-soundfont)")
        return {}
    phrase = make_phrase_round_kit()
    bank = open_sounds(SOUNDFONT, warn=lambda sentence: print(sentence, file=sys.stderr))
    seconds = sum(render(phrase, tempo, _OPTIONS, bank=bank).seconds for tempo in _TEMPOS)
    with tempfile.TemporaryDirectory() as folder:
        pairs = {
            workers: (
                median_seconds(partial(_make_all, partial(_write_ours, phrase, bank), workers), runs=_RUNS),
                median_seconds(
                    partial(_make_all, partial(_write_theirs, phrase, Path(folder)), workers), runs=_RUNS
                ),
            )
            for workers in (1, os.cpu_count() or 2)
        }
    print(f"ladder: {len(_TEMPOS)} tempos, {seconds:.0f} s of stereo as FLAC, from one General MIDI SoundFont")
    for workers, (ours, theirs) in pairs.items():
        print(
            f"  {workers} at a time: ours {ours:.2f} s, FluidSynth {theirs:.2f} s,"
            f" {theirs / ours:.1f} times faster (aim: 5 or more)"
        )
    return {f"ratio_{workers}": theirs / ours for workers, (ours, theirs) in pairs.items()}


def _write_ours(phrase: Phrase, bank: RecordedBank, tempo: int) -> int:
    return len(encode_audio(render(phrase, tempo, _OPTIONS, bank=bank), ".flac"))


def _write_theirs(phrase: Phrase, folder: Path, tempo: int) -> int:
    """Render our MIDI file with FluidSynth as FLAC of 16 bits, without effects; return its size in bytes."""
    notes, audio = folder / f"{tempo}.mid", folder / f"{tempo}.flac"
    notes.write_bytes(encode_midi(phrase, tempo))
    settings = ["-n", "-i", "-q", "-R", "0", "-C", "0", "-r", "44100", "-T", "flac", "-O", "s16", "-F"]
    command = ["fluidsynth", *settings, str(audio), str(SOUNDFONT), str(notes)]
    subprocess.run(command, check=True, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)
    return audio.stat().st_size


def _make_all(make: Callable[[int], int], workers: int) -> None:
    with ThreadPoolExecutor(max_workers=workers) as pool:
        assert all(pool.map(make, _TEMPOS))


if __name__ == "__main__":
    main()
