"""The table of what the matching does: takes of kits that nothing was tuned on, every condition, and MIDI.

Each figure stands with the takes and the strokes behind it. "report" kits were looked at when the ears were
built but never tuned on; "odd" ones, electronic and brushed, are told apart.
"""

from __future__ import annotations

import subprocess
import sys
import tempfile
import time
from collections.abc import Iterable
from multiprocessing import Pool
from pathlib import Path

import numpy as np
import numpy.typing as npt

from bench.listening.calibrating import calibration_of
from bench.listening.matching import Tally, measured
from bench.listening.simulated import by_kit
from bench.listening.takes import take
from fillwright.listen.alignment.align import align_take
from fillwright.listen.onsets.detect import detect_onsets

_ROWS = (
    ("report", "dry", 24),
    ("report", "room 40 dB", 12),
    ("report", "room 30 dB", 36),
    ("report", "room 20 dB", 12),
    ("report", "phone", 24),
    ("report", "clipped", 12),
    ("report", "click", 24),
    ("odd", "room 30 dB", 12),
)
_MIDI_TAKES = 60
_WORKERS = 2
_TIMED_SECONDS = 60

Job = tuple[str, str, int, bool]
"""Split, condition ("MIDI" for an electronic kit), number, and whether a calibration is made first."""


def heard_and_matched(job: Job) -> Tally:
    """One take, heard, matched and measured."""
    split, condition, number, calibrated = job
    one = take(split, "dry" if condition == "MIDI" else condition, number)
    if condition == "MIDI":
        heard = by_kit(one.truth, np.random.default_rng([7, number]))
    else:
        heard = detect_onsets(one.samples, one.rate)
    calibration = calibration_of(one, split, number) if calibrated else None
    found = align_take(one.expected, heard, calibration=calibration)
    return measured(one.expected, one.truth, heard, found)


def tallied(jobs: Iterable[Job]) -> Tally:
    """Many takes together."""
    made = Tally()
    with Pool(_WORKERS) as pool:
        for one in pool.imap_unordered(heard_and_matched, jobs, chunksize=2):
            made.add(one)
    return made


def _row(name: str, tally: Tally) -> str:
    def pair(what: str) -> str:
        return "/".join(f"{rate:.2f}" for rate in tally.rates(what)) + f" of {tally.counts[f'{what} true']}"

    counts = tally.counts
    return " | ".join(
        (
            f"{name:<20} {counts['takes']:>3} takes",
            f"{counts['repeats found']}/{counts['repeats']} times through",
            f"{counts['stroke']} strokes: {tally.share('stroke 12 ms', 'stroke'):.3f} within 12 ms, "
            f"{tally.share('stroke 20 ms', 'stroke'):.3f} within 20",
            f"{counts['grace']} grace notes: {tally.share('grace 12 ms', 'grace'):.2f}",
            f"missing {pair('missing')}",
            f"extra {pair('extra')}",
            f"accents {tally.auc():.3f}",
        )
    )


def _surfaces(tally: Tally) -> str:
    precision, recall = tally.rates("wrong")
    return (
        f"   wrong surface {precision:.2f}/{recall:.2f} of {tally.counts['wrong true']}; right surface named "
        f"{tally.share('named right', 'named'):.3f} of {tally.counts['named']}"
    )


def _rushes(tally: Tally) -> str:
    """Rush of the fill, all times through a take together."""
    rows = np.array(tally.rushes)
    away = rows[:, 1] - rows[:, 0]
    steady = rows[:, 4] == 1
    called = np.abs(rows[:, 1]) > np.maximum(2.5 * rows[:, 2], 1.5)
    long = rows[:, 3] > 1.4
    rushed, even = rows[:, 0] == 4, rows[:, 0] == 0
    short = rushed & ~long
    return (
        f"rush of the fill: rms error {_rms(away):.2f} % of {len(rows)} takes, {_rms(away[steady]):.2f} % of "
        f"{steady.sum()} whose tempo does not drift; "
        f"a rush of 4 % is called in {called[rushed & long].sum()} of {(rushed & long).sum()} "
        f"(fills under 1.4 s: {called[short].sum()} of {short.sum()}), "
        f"no rush is called one in {called[even].sum()} of {even.sum()}"
    )


def _rms(values: npt.NDArray[np.float64]) -> float:
    return float(np.sqrt(np.mean(values**2))) if len(values) else float("nan")


def _timed() -> str:
    """A take of a minute from a file to a match, in a process of its own."""
    import soundfile  # noqa: PLC0415 - only here

    one = take("report", "room 30 dB", 0)
    times = -(-_TIMED_SECONDS * one.rate // len(one.samples))
    samples = np.tile(one.samples, times)[: _TIMED_SECONDS * one.rate]
    code = (
        "import resource, sys, pickle, time\n"
        "from fillwright.listen.reading import read_take\n"
        "from fillwright.listen.onsets import hear\n"
        "from fillwright.listen.match import match\n"
        "expected = pickle.load(open(sys.argv[2], 'rb'))\n"
        "from pathlib import Path\n"
        "heard = hear(*read_take(Path(sys.argv[1])))\n"
        "start = time.process_time()\n"
        "match(expected, heard)\n"
        "print(time.process_time() - start, resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024)\n"
    )
    import pickle  # noqa: PLC0415 - only here

    with tempfile.TemporaryDirectory() as folder:
        sound, writing = Path(folder) / "take.wav", Path(folder) / "expected"
        soundfile.write(sound, samples, one.rate)
        writing.write_bytes(pickle.dumps(one.expected))
        start = time.perf_counter()
        made = subprocess.run(
            [sys.executable, "-c", code, str(sound), str(writing)], capture_output=True, text=True, check=True
        )
        whole = time.perf_counter() - start
    matching, memory = map(float, made.stdout.split())
    return (
        f"a take of {_TIMED_SECONDS} s, process start included: {whole:.1f} s, of which matching "
        f"{matching:.2f} s of processor time; {memory:.0f} MB"
    )


def main() -> None:
    """Print the table."""
    print("Matching, on kits that nothing was tuned on; pairs are precision/recall")
    rushes = Tally()
    for split, condition, count in _ROWS:
        calibrated = (split, condition) == ("report", "room 30 dB")
        tally = tallied((split, condition, number, False) for number in range(count))
        print(_row(f"{condition} ({split})", tally), flush=True)
        if calibrated:
            again = tallied((split, condition, number, True) for number in range(count))
            print("   no calibration: " + _surfaces(tally).strip())
            print("   four strokes a drum: " + _surfaces(again).strip(), flush=True)
        rushes.rushes += tally.rushes if condition in ("dry", "room 30 dB") and split == "report" else []
    midi = tallied(("report", "MIDI", number, False) for number in range(_MIDI_TAKES))
    print(_row("MIDI", midi))
    print(_surfaces(midi))
    print(_rushes(rushes))
    print(_timed())


if __name__ == "__main__":
    main()
