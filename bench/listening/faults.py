"""Planted faults: named first, passed by mistake; and clean takes that are accused.

    python -m bench.listening.faults --takes 12 --split chosen --conditions "MIDI,dry,room 30 dB,phone"

Kits are split: "chosen" are those that limits may be chosen with, "unseen" those that stay unseen until the
end. Half of the takes have one repetition, half have three.
"""

from __future__ import annotations

import argparse
from collections import Counter
from collections.abc import Iterable
from dataclasses import dataclass, replace
from multiprocessing import Pool
from zlib import crc32

import numpy as np

from bench.listening.kits import BenchKit, list_kits, report_missing_kits
from bench.listening.pieces import Piece, list_pieces
from bench.listening.planted_faults import CLEAN, FAULTS, PlantedFault
from bench.listening.simulated_onsets import simulate_electronic_kit
from bench.listening.simulated_player import (
    PlayedSound,
    PlayingStyle,
    SimulatedPlayer,
    TakeTruth,
    list_lengths,
)
from bench.listening.takes import record_truth
from fillwright.listen.alignment.align import align_take
from fillwright.listen.detected_take import DetectedTake
from fillwright.listen.onsets.detect import detect_onsets
from fillwright.listen.report.build import build_report
from fillwright.listen.report.confidence import rate_confidence
from fillwright.listen.report.faults import find_first_fault
from fillwright.listen.report.sentences import write_sentences
from fillwright.listen.report.stored.records import TakeOrigin, record_report
from fillwright.listen.verdict.judge import judge
from fillwright.listen.written import WrittenPhrase, write_phrase

SPLITS = {"chosen": "tune", "unseen": "report"}
"""Names of the kits' splits here, and in `kits.KITS`."""

# All ours, not measured.
_WORKERS = 2  # processes
_REPETITIONS = (1, 3)  # of even and of odd takes
_START_SECONDS = (0.5, 2.0)  # range of the silence before the first stroke
_DEVIATION_MS, _DRIFT = (5.0, 9.0), 0.003  # of a good player
_TEMPO_FACTORS = (0.985, 1.015)  # of a good player's tempo against the target
_FLAM_MS = (20.0, 45.0)  # of good flams


@dataclass(frozen=True, slots=True, kw_only=True)
class Judged:
    """One take as it was reported.

    Attributes:
        key: of the first fault, "refused: ..." for a refused take.
        passed: True, False, or None if it could not be judged.
        words: the three sentences.
        piece: name of the piece.
        reasons: what is wrong or not shown, by the verdict.
    """

    key: str
    passed: bool | None
    words: tuple[str, str, str]
    piece: str
    reasons: tuple[str, ...]


Job = tuple[str, str, str, int]
"""Name of the fault, split, condition, number."""


def _choose_piece(fault: PlantedFault, split: str, chance: np.random.Generator) -> tuple[Piece, float]:
    """Return a piece that fits and its tempo; pieces differ between the splits."""
    half = list_pieces()[0 if split == "chosen" else 1 :: 2]
    for _ in range(500):
        piece = half[int(chance.integers(len(half)))]
        tempo = float(chance.choice(piece.ladder))
        if fault.fits(piece, write_phrase(piece.phrase, tempo, piece.feel)):
            return piece, tempo
    raise ValueError(f"No piece for {fault.name}")


def _choose_other(piece: Piece, chance: np.random.Generator) -> Piece:
    """Return another fill of the same lesson whose strokes are elsewhere."""
    lesson = piece.name.split("/")[0]
    mine = _list_places(piece)
    others = [
        other
        for other in list_pieces()
        if other.name.split("/")[0] == lesson and len(_list_places(other) ^ mine) >= 4
    ]
    return others[int(chance.integers(len(others)))]


def _list_places(piece: Piece) -> set[object]:
    return {hit.at for hit in piece.phrase.hits() if piece.phrase.is_in_fill(hit.at)}


def _play(
    fault: PlantedFault, piece: Piece, tempo: float, number: int, chance: np.random.Generator
) -> TakeTruth:
    """Play a take with the fault in every repetition."""
    played_piece = _choose_other(piece, chance) if fault.other else piece
    feel = piece.feel
    phrase = write_phrase(played_piece.phrase, tempo, feel)
    style = PlayingStyle(
        **{
            "tempo": tempo * float(chance.uniform(*_TEMPO_FACTORS)),
            "deviation_ms": float(chance.uniform(*_DEVIATION_MS)),
            "drift": _DRIFT,
            "flam_ms": _FLAM_MS,
            **fault.style,
        }
    )
    lengths = list_lengths(played_piece.phrase, tempo, feel, phrase)
    player = SimulatedPlayer(phrase=phrase, lengths=lengths, style=style, chance=chance)
    seconds = float(chance.uniform(*_START_SECONDS))
    sounds: list[PlayedSound] = []
    for repetition in range(1 if fault.once else _REPETITIONS[number % 2]):
        player.played.clear()
        bars = player.play_once(repetition, 0.0)
        once = sorted(player.played, key=lambda sound: sound.seconds)
        changed = fault.change(phrase, once, chance) if fault.change else once
        moved = max(sound.seconds for sound in changed) - max(sound.seconds for sound in once)
        sounds += [replace(sound, seconds=sound.seconds * fault.scale + seconds) for sound in changed]
        seconds += (float(bars[-1]) + moved) * fault.scale
    return TakeTruth(
        played=tuple(sorted(sounds, key=lambda sound: sound.seconds)),
        missing=(),
        starts=(),
        bar_starts=(),
        tempo=style.tempo,
        rush_percent=style.rush_percent,
        deviation_ms=style.deviation_ms,
    )


def _detect(truth: TakeTruth, written: WrittenPhrase, kit: BenchKit, condition: str, name: str) -> DetectedTake:
    if condition == "MIDI":
        return simulate_electronic_kit(truth, np.random.default_rng(crc32(name.encode())))
    known = record_truth(truth, written, kit, name, condition)
    return detect_onsets(known.samples, known.rate)


def generate_case(job: Job) -> tuple[WrittenPhrase, DetectedTake, Piece]:
    """Return what is written, what is detected, and the piece of one take."""
    name, split, condition, number = job
    fault = next((fault for fault in FAULTS if fault.name == name), CLEAN)
    chance = np.random.default_rng([crc32(f"{name} {split}".encode()), number])
    piece, tempo = _choose_piece(fault, split, chance)
    written = write_phrase(piece.phrase, tempo, piece.feel)
    truth = _play(fault, piece, tempo, number, chance)
    kits = list_kits(SPLITS[split])
    kit = kits[number % len(kits)]
    return written, _detect(truth, written, kit, condition, f"{name} {split} {number} on {kit.name}"), piece


def judge_job(job: Job) -> tuple[Job, Judged]:
    """Generate, detect, align, report and judge one take."""
    written, detected, piece = generate_case(job)
    report = build_report(written, detected, align_take(written, detected))
    confidence = rate_confidence(report, detected)
    origin = TakeOrigin(take="take", against=piece.name)
    verdict = judge(record_report(origin, report, ("", "", ""), confidence))
    words = write_sentences(report, ladder=piece.ladder)
    key = f"refused: {report.refused}" if report.refused else find_first_fault(report)[0]
    if key == "nothing" and "target" in words[1]:
        key = "other_tempo"
    reasons = tuple(f"{finding.key}: {finding.words}" for finding in (*verdict.wrong, *verdict.not_shown))
    return job, Judged(key=key, passed=verdict.passed, words=words, piece=piece.name, reasons=reasons)


def _list_jobs(names: Iterable[str], split: str, conditions: Iterable[str], takes: int) -> list[Job]:
    return [
        (name, split, condition, number)
        for name in names
        for condition in conditions
        for number in range(takes)
    ]


def _print_table(judged: list[tuple[Job, Judged]], *, verbose: bool) -> None:
    print(f"{'fault':<20} {'condition':<12} named first  passed  can't be judged  other first sentences")
    rows: dict[tuple[str, str], list[Judged]] = {}
    for (name, _, condition, _), result in judged:
        rows.setdefault((name, condition), []).append(result)
    for (name, condition), results in rows.items():
        fault = next((fault for fault in FAULTS if fault.name == name), CLEAN)
        named = fault.named or frozenset({"nothing"})
        first = sum(result.key in named for result in results)
        others = Counter(result.key for result in results if result.key not in named)
        passed = sum(result.passed is True for result in results)
        unknown = sum(result.passed is None for result in results)
        print(
            f"{name:<20} {condition:<12} {first:>3} of {len(results):<5} {passed:>5} {unknown:>12}       "
            + ", ".join(f"{key} {count}" for key, count in others.most_common(4))
        )
    if verbose:
        for job, result in judged:
            print(job, result.piece, result.key, result.passed, *result.words, *result.reasons, sep="\n   ")


def _print_clean(judged: list[tuple[Job, Judged]]) -> None:
    """Print how many clean takes were accused, of one repetition and of three."""
    clean = [(job, result) for job, result in judged if job[0] == CLEAN.name]
    for parity, repetitions in enumerate(_REPETITIONS):
        results = [result for job, result in clean if job[3] % 2 == parity]
        accused = [result for result in results if result.key != "nothing"]
        not_passed = [result for result in results if result.passed is False]
        print(
            f"clean takes of {repetitions} repetition(s): {len(accused)} of {len(results)} accused, "
            f"{len(not_passed)} not passed, {sum(result.passed is True for result in results)} passed"
        )


def main() -> None:
    """Print the table."""
    parser = argparse.ArgumentParser(prog="python -m bench.listening.faults")
    parser.add_argument("--takes", type=int, default=12, help="takes of each kind [12]")
    parser.add_argument("--clean", type=int, default=24, help="clean takes of each condition [24]")
    parser.add_argument("--split", choices=tuple(SPLITS), default="unseen", help="kits [unseen]")
    parser.add_argument("--conditions", default="MIDI,dry,room 30 dB,phone", help="recording conditions")
    parser.add_argument("--only", default="", help="names of faults, with commas [all]")
    parser.add_argument("--verbose", action="store_true", help="print the sentences of every take")
    choices = parser.parse_args()
    report_missing_kits(SPLITS[choices.split])
    conditions = choices.conditions.split(",")
    names = choices.only.split(",") if choices.only else [fault.name for fault in FAULTS]
    jobs = _list_jobs([name for name in names if name != CLEAN.name], choices.split, conditions, choices.takes)
    jobs += _list_jobs([CLEAN.name], choices.split, conditions, choices.clean)
    with Pool(_WORKERS) as pool:
        judged = list(pool.imap(judge_job, jobs))
    _print_table(judged, verbose=choices.verbose)
    _print_clean(judged)


if __name__ == "__main__":
    main()
