"""The table of the alignment: takes of kits that nothing was tuned on, every condition, and MIDI.

Each number is printed with the takes and the strokes behind it. The kits to report on were looked at while the
detector was built but never tuned on; the odd ones, electronic and brushed, are reported separately.
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

from bench.listening.alignment_measures import AlignmentTally, measure_alignment
from bench.listening.calibration_takes import record_calibration
from bench.listening.kits import list_kits, report_missing_kits
from bench.listening.simulated_onsets import simulate_electronic_kit
from bench.listening.takes import generate_take
from fillwright.listen.alignment.align import align_take
from fillwright.listen.onsets.detect import detect_onsets

# Split, condition and number of takes of each row; ours.
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
_MIDI_TAKES = 60  # of an electronic kit; ours
_WORKERS = 2  # processes
_TIMED_SECONDS = 60  # length of the take that is timed
_CALLED_ERRORS, _CALLED_PERCENT = (
    2.5,
    1.5,
)  # standard errors and percent from which a rush is called: limits.toml
_LONG_FILL_SECONDS, _TRUE_RUSH_PERCENT = 1.4, 4  # of the rushes counted; ours

Job = tuple[str, str, int, bool]
"""Split, condition ("MIDI" for an electronic kit), number, and True for a calibration first."""


def align_job(job: Job) -> AlignmentTally:
    """Detect, align and measure one take."""
    split, condition, number, calibrated = job
    known = generate_take(split, "dry" if condition == "MIDI" else condition, number)
    if condition == "MIDI":
        detected = simulate_electronic_kit(known.truth, np.random.default_rng([7, number]))
    else:
        detected = detect_onsets(known.samples, known.rate)
    calibration = record_calibration(known, split, number) if calibrated else None
    alignment = align_take(known.written, detected, calibration=calibration)
    return measure_alignment(known.written, known.truth, detected, alignment)


def tally_jobs(jobs: Iterable[Job]) -> AlignmentTally:
    """Return the counts of many takes together."""
    total = AlignmentTally()
    with Pool(_WORKERS) as pool:
        for tally in pool.imap_unordered(align_job, jobs, chunksize=2):
            total.add(tally)
    return total


def _format_row(name: str, tally: AlignmentTally) -> str:
    def format_rates(kind: str) -> str:
        rates = "/".join(f"{rate:.2f}" for rate in tally.calculate_rates(kind))
        return f"{rates} of {tally.counts[f'{kind} true']}"

    counts = tally.counts
    return " | ".join(
        (
            f"{name:<20} {counts['takes']:>3} takes",
            f"{counts['repetitions found']}/{counts['repetitions']} repetitions",
            f"{counts['stroke']} strokes: {tally.calculate_share('stroke 12 ms', 'stroke'):.3f} within 12 ms, "
            f"{tally.calculate_share('stroke 20 ms', 'stroke'):.3f} within 20",
            f"{counts['grace']} grace notes: {tally.calculate_share('grace 12 ms', 'grace'):.2f}",
            f"missing {format_rates('missing')}",
            f"extra {format_rates('extra')}",
            f"accents {tally.calculate_auc():.3f}",
        )
    )


def _format_surfaces(tally: AlignmentTally) -> str:
    precision, recall = tally.calculate_rates("wrong")
    return (
        f"   wrong surface {precision:.2f}/{recall:.2f} of {tally.counts['wrong true']}; right surface named "
        f"{tally.calculate_share('named right', 'named'):.3f} of {tally.counts['named']}"
    )


def _format_rushes(tally: AlignmentTally) -> str:
    """Return a line on the rush of the fill, all repetitions of a take together."""
    rows = np.array(tally.rushes)
    errors = rows[:, 1] - rows[:, 0]
    steady = rows[:, 4] == 1
    called = np.abs(rows[:, 1]) > np.maximum(_CALLED_ERRORS * rows[:, 2], _CALLED_PERCENT)
    long = rows[:, 3] > _LONG_FILL_SECONDS
    rushed, even = rows[:, 0] == _TRUE_RUSH_PERCENT, rows[:, 0] == 0
    short = rushed & ~long
    return (
        f"rush of the fill: rms error {_calculate_rms(errors):.2f} % of {len(rows)} takes, "
        f"{_calculate_rms(errors[steady]):.2f} % of {steady.sum()} whose tempo does not drift; "
        f"a rush of {_TRUE_RUSH_PERCENT} % is called in {called[rushed & long].sum()} of "
        f"{(rushed & long).sum()} "
        f"(fills under {_LONG_FILL_SECONDS} s: {called[short].sum()} of {short.sum()}), "
        f"no rush is called one in {called[even].sum()} of {even.sum()}"
    )


def _calculate_rms(values: npt.NDArray[np.float64]) -> float:
    return float(np.sqrt(np.mean(values**2))) if len(values) else float("nan")


def _time_alignment() -> str:
    """Return a line on the time of a take of a minute, from a file to an alignment, in a process of its own."""
    import soundfile  # noqa: PLC0415 - only here

    known = generate_take("report", "room 30 dB", 0)
    times = -(-_TIMED_SECONDS * known.rate // len(known.samples))
    samples = np.tile(known.samples, times)[: _TIMED_SECONDS * known.rate]
    code = (
        "import resource, sys, pickle, time\n"
        "from pathlib import Path\n"
        "from fillwright.listen.alignment.align import align_take\n"
        "from fillwright.listen.onsets.decode import read_take\n"
        "from fillwright.listen.onsets.detect import detect_onsets\n"
        "written = pickle.load(open(sys.argv[2], 'rb'))\n"
        "take = detect_onsets(*read_take(Path(sys.argv[1])))\n"
        "start = time.process_time()\n"
        "align_take(written, take)\n"
        "print(time.process_time() - start, resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024)\n"
    )
    import pickle  # noqa: PLC0415 - only here

    with tempfile.TemporaryDirectory() as folder:
        sound, phrase = Path(folder) / "take.wav", Path(folder) / "phrase"
        soundfile.write(sound, samples, known.rate)
        phrase.write_bytes(pickle.dumps(known.written))
        start = time.perf_counter()
        process = subprocess.run(
            [sys.executable, "-c", code, str(sound), str(phrase)], capture_output=True, text=True, check=True
        )
        seconds = time.perf_counter() - start
    aligning, memory = map(float, process.stdout.split())
    return (
        f"a take of {_TIMED_SECONDS} s, process start included: {seconds:.1f} s, of which the alignment "
        f"{aligning:.2f} s of processor time; {memory:.0f} MB"
    )


def main() -> None:
    """Print the table; splits without an installed kit are left out."""
    report_missing_kits("report", "odd")
    print("Alignment, on kits that nothing was tuned on; pairs are precision/recall")
    rushes = AlignmentTally()
    for split, condition, count in _ROWS:
        if not list_kits(split):
            continue
        calibrated = (split, condition) == ("report", "room 30 dB")
        tally = tally_jobs((split, condition, number, False) for number in range(count))
        print(_format_row(f"{condition} ({split})", tally), flush=True)
        if calibrated:
            again = tally_jobs((split, condition, number, True) for number in range(count))
            print("   no calibration: " + _format_surfaces(tally).strip())
            print("   four strokes a drum: " + _format_surfaces(again).strip(), flush=True)
        rushes.rushes += tally.rushes if condition in ("dry", "room 30 dB") and split == "report" else []
    midi = tally_jobs(("report", "MIDI", number, False) for number in range(_MIDI_TAKES))
    print(_format_row("MIDI", midi))
    print(_format_surfaces(midi))
    print(_format_rushes(rushes))
    print(_time_alignment())


if __name__ == "__main__":
    main()
