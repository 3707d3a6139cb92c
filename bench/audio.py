"""Play-alongs: how many times faster than real time they are rendered, and what the first one costs more."""

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

_RUNS = 15
_TEMPO = 102
_OPTIONS = Options(count_in_bars=0, repeats=6)
_ROUND_THE_KIT = ("snare", "high tom", "mid tom", "floor tom")


def main() -> dict[str, float]:
    """Print and return the figures: the first render's seconds, then multiples of real time."""
    played = round_the_kit()
    bank = ModelledBank(load_kit_recipes())
    start = time.perf_counter()
    audio = render(played, _TEMPO, _OPTIONS, bank=bank)
    cold = time.perf_counter() - start
    warm = median_seconds(lambda: render(played, _TEMPO, _OPTIONS, bank=bank), runs=_RUNS)
    hits = len(list_strikes(time_phrase(unroll_repeats(played, _OPTIONS.repeats), _TEMPO)))
    print(f"audio: {audio.seconds:.1f} s of stereo, {hits} strokes, at {_TEMPO} beats a minute")
    print(f"  rendered at {audio.seconds / warm:,.0f} times real time, warm (aim: 1,000 or more)")
    print(f"  and at {audio.seconds / cold:,.0f} times cold: {len(bank)} sounds to be made first, {cold:.2f} s")
    figures = {
        "seconds": audio.seconds,
        "hits": float(hits),
        "warm": audio.seconds / warm,
        "cold_seconds": cold,
    }
    for suffix in SUFFIXES:
        encoding = median_seconds(lambda suffix=suffix: encode_audio(audio, suffix), runs=3)
        figures[suffix] = audio.seconds / encoding
        print(f"  encoded as {suffix:5} at {figures[suffix]:6,.0f} times real time")
    return figures


def round_the_kit() -> Phrase:
    """Three bars of sixteenth hi-hat, a fill round the kit, the landing."""
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
