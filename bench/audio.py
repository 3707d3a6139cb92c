"""Play-alongs: speed of rendering and encoding in multiples of real time, with and without a full bank."""

from __future__ import annotations

import time
from fractions import Fraction

from bench.timer import median_seconds
from fillwright.music.grooves import find_groove
from fillwright.music.hit import Hit
from fillwright.music.phrase import Fill, Phrase, build_landing, build_phrase, locate_last_beats
from fillwright.music.stroke import Level, Limb, Stroke
from fillwright.music.surfaces import find_surface
from fillwright.music.timing import time_phrase
from fillwright.sound.files.encode import SUFFIXES, encode_audio
from fillwright.sound.model.bank import ModelledBank
from fillwright.sound.model.recipe import load_kit_recipes
from fillwright.sound.playalong.options import Options
from fillwright.sound.playalong.render import render
from fillwright.sound.playalong.sections import unroll_repeats
from fillwright.sound.playalong.strikes import list_strikes

_RUNS = 15  # renderings of which the median counts; ours
_TEMPO = 102  # bpm; ours
_OPTIONS = Options(count_in_bars=0, repeats=6)
_ROUND_THE_KIT = ("snare", "high tom", "mid tom", "floor tom")


def main() -> dict[str, float]:
    """Print and return the numbers: seconds of the first rendering, then multiples of real time."""
    phrase = make_phrase_round_kit()
    bank = ModelledBank(load_kit_recipes())
    start = time.perf_counter()
    audio = render(phrase, _TEMPO, _OPTIONS, bank=bank)
    cold = time.perf_counter() - start
    warm = median_seconds(lambda: render(phrase, _TEMPO, _OPTIONS, bank=bank), runs=_RUNS)
    strokes = len(list_strikes(time_phrase(unroll_repeats(phrase, _OPTIONS.repeats), _TEMPO)))
    print(f"audio: {audio.seconds:.1f} s of stereo, {strokes} sounds, at {_TEMPO} bpm")
    print(f"  rendered at {audio.seconds / warm:,.0f} times real time, warm (aim: 1,000 or more)")
    print(f"  and at {audio.seconds / cold:,.0f} times cold: {len(bank)} sounds calculated first, {cold:.2f} s")
    numbers = {
        "seconds": audio.seconds,
        "hits": float(strokes),
        "warm": audio.seconds / warm,
        "cold_seconds": cold,
    }
    for suffix in SUFFIXES:
        encoding = median_seconds(lambda suffix=suffix: encode_audio(audio, suffix), runs=3)
        numbers[suffix] = audio.seconds / encoding
        print(f"  encoded as {suffix:5} at {numbers[suffix]:6,.0f} times real time")
    return numbers


def make_phrase_round_kit() -> Phrase:
    """Return three bars of a sixteenth hi-hat groove, a fill round the kit and the landing."""
    groove = find_groove("sixteenth hi-hat")
    step = Fraction(1, 16)
    hits = tuple(
        Hit(
            at=index * step,
            length=step,
            stroke=Stroke(
                hand=(Limb.RIGHT, Limb.LEFT)[index % 2], level=Level.TAP if index % 4 else Level.ACCENT
            ),
            surface=find_surface(_ROUND_THE_KIT[index // 4]),
        )
        for index in range(16)
    )
    fill = Fill(span=locate_last_beats(groove.meter, 4, Fraction(4)), hits=hits)
    return build_phrase(groove, fill, land=build_landing(groove.meter, Limb.RIGHT))


if __name__ == "__main__":
    main()
