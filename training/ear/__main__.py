"""The pipeline, a step at a time or whole; README.md beside this file says what each step needs.

python -m training.ear shots     FOLDER   render the SoundFonts' shots
python -m training.ear compare   FOLDER   list sounds that splits share
python -m training.ear modelled  FOLDER   render the modelled kits' shots
python -m training.ear train     FOLDER   train, with PyTorch
"""

from __future__ import annotations

import argparse
import os
from pathlib import Path

from training.ear.kits import FONT_KITS, MODELLED_KITS
from training.ear.shots import read_shots, write_shots

_FONT_FILE, _MODELLED_FILE = "font_shots.npz", "modelled_shots.npz"


def main() -> None:
    """Run one step."""
    parser = argparse.ArgumentParser(prog="python -m training.ear", description=__doc__)
    parser.add_argument("step", choices=["shots", "compare", "modelled", "train"])
    parser.add_argument("folder", type=Path)
    parser.add_argument("--out", type=Path, help="folder that weights are written to [FOLDER]")
    parser.add_argument("--kits", type=int, default=len(MODELLED_KITS["train"]), help="modelled kits [120]")
    parser.add_argument("--seconds", type=float, default=420.0, help="time of the training [420]")
    parser.add_argument("--seed", type=int, default=1, help="of the training [1]")
    parser.add_argument("--sizes", default="", help="networks to train, with commas between [all]")
    options = parser.parse_args()
    options.folder.mkdir(parents=True, exist_ok=True)
    _STEPS[options.step](options)


def _render_fonts(options: argparse.Namespace) -> None:
    from training.ear.shots import render_font_shots  # noqa: PLC0415 - needs FluidSynth

    write_shots(options.folder / _FONT_FILE, render_font_shots())


def _compare(options: argparse.Namespace) -> None:
    from training.ear.compare import list_shared_sounds  # noqa: PLC0415 - one step of several

    for first, second, sound, correlation in list_shared_sounds(read_shots(options.folder / _FONT_FILE)):
        print(f"{first} and {second}: {sound} ({correlation:.2f})")


def _render_modelled(options: argparse.Namespace) -> None:
    from training.ear.modelled_kits import render_many  # noqa: PLC0415 - one step of several

    seeds = list(MODELLED_KITS["train"])[: options.kits]
    write_shots(options.folder / _MODELLED_FILE, render_many(seeds, os.cpu_count() or 1))


def _train(options: argparse.Namespace) -> None:
    from training.ear.train import SHAPES, Plan, train  # noqa: PLC0415 - needs PyTorch

    kits = {kit.name for kit in FONT_KITS if kit.split == "train"}
    shots = [shot for shot in read_shots(options.folder / _FONT_FILE) if shot.kit in kits]
    if (options.folder / _MODELLED_FILE).exists():
        shots += read_shots(options.folder / _MODELLED_FILE)
    sizes = tuple(options.sizes.split(",")) if options.sizes else tuple(SHAPES)
    plan = Plan(
        seconds=options.seconds, seed=options.seed, sizes=sizes, workers=max(1, (os.cpu_count() or 1) - 2)
    )
    train(shots, plan, options.out or options.folder)


_STEPS = {"shots": _render_fonts, "compare": _compare, "modelled": _render_modelled, "train": _train}

if __name__ == "__main__":
    main()
