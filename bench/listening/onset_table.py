"""The table of the onset detector: share of strokes found, errors, cost; on kits that nothing was tuned on."""

from __future__ import annotations

import importlib.util
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass, field
from pathlib import Path

import numpy as np
import numpy.typing as npt
import soundfile

from bench.listening.kits import list_kits, report_missing_kits
from bench.listening.onset_groups import group_attacks, list_buzz_spans
from bench.listening.takes import KnownTake, generate_flam_takes, generate_takes
from fillwright.listen.onsets.detect import detect_onsets

Floats = npt.NDArray[np.float64]
Detector = Callable[[npt.NDArray[np.float32], int], Sequence[float]]

# All ours, not measured.
_CONDITIONS = ("dry", "room 30 dB", "phone")  # with another library's detector next to ours
_MORE_CONDITIONS = ("room 40 dB", "room 20 dB", "clipped", "click")
_WINDOW_SECONDS = 0.010  # an onset nearer than this to a stroke is that stroke's
_WIDER_SECONDS = (0.050, 0.025)  # wider windows that are reported too, as others do
_FLAM_WINDOW_SECONDS = 0.008  # the same for both notes of a flam
_FLAM_SECONDS = 0.070  # two onsets nearer than this to one stroke make it doubled
_ALONE_SECONDS = 0.005  # more than a flam from every other sound, a stroke is alone
_BEFORE_BUZZ_SECONDS = 0.1  # strokes so near before a buzz are not counted as single
_TAKES, _FLAM_TAKES, _ODD_TAKES = 24, 12, 8  # of each condition
_TIMED_SECONDS = 60  # length of the take that is timed


@dataclass(slots=True, kw_only=True)
class OnsetTally:
    """Counts over many takes.

    Attributes:
        takes: number of takes.
        strokes: groups of attacks that should be detected.
        detected: onsets reported.
        right: pairs of both.
        errors_ms: of the pairs.
        by_kit: strokes, detected and right of each kit.
        wider: strokes, detected and right by wider window.
    """

    takes: int = 0
    strokes: int = 0
    detected: int = 0
    right: int = 0
    errors_ms: list[float] = field(default_factory=list)
    by_kit: dict[str, list[int]] = field(default_factory=dict)
    wider: dict[float, list[int]] = field(default_factory=dict)

    def describe_windows(self) -> str:
        """Return the F measures of the wider windows and of 10 ms."""
        wider = [2 * right / max(1, strokes + detected) for strokes, detected, right in self.wider.values()]
        return "/".join(f"{value:.3f}" for value in (*wider, self.f_measure))

    @property
    def f_measure(self) -> float:
        """Harmonic mean of precision and recall."""
        return 2 * self.right / max(1, self.strokes + self.detected)

    def add(self, take: KnownTake, onsets: Floats) -> None:
        """Count one take: each onset pairs with at most one stroke within 10 ms, as in `mir_eval.onset`."""
        from mir_eval.util import match_events  # noqa: PLC0415 - only the bench and the tests have it

        groups = group_attacks(take.truth)
        first = np.array([group[0] for group in groups])
        spans = list_buzz_spans(take.truth)
        pairs = match_events(first, onsets, _WINDOW_SECONDS)
        counts = (len(groups), _count_detected(onsets, pairs, spans), len(pairs))
        for window in _WIDER_SECONDS:
            wide = match_events(first, onsets, window)
            total = self.wider.setdefault(window, [0, 0, 0])
            for index, count in enumerate((len(groups), _count_detected(onsets, wide, spans), len(wide))):
                total[index] += count
        kit = self.by_kit.setdefault(take.kit, [0, 0, 0])
        for index, count in enumerate(counts):
            kit[index] += count
        self.takes += 1
        self.strokes, self.detected, self.right = (
            sum(kit_counts[index] for kit_counts in self.by_kit.values()) for index in range(3)
        )
        for group, onset in pairs:
            away = onsets[onset] - np.array(groups[group])
            self.errors_ms.append(float(away[np.argmin(np.abs(away))] * 1000))


def _count_detected(
    onsets: Floats, pairs: Sequence[tuple[int, int]], spans: Sequence[tuple[float, float]]
) -> int:
    """Return the number of onsets that count: those in a buzz only if they are paired."""
    paired = {onset for _, onset in pairs}
    return sum(
        number in paired or not any(start <= onset <= end for start, end in spans)
        for number, onset in enumerate(onsets)
    )


@dataclass(slots=True, kw_only=True)
class FlamTally:
    """Counts of flams and of single strokes.

    Attributes:
        played: flams played.
        detected: flams of which both notes were detected.
        gap_errors_ms: errors of the time between their notes.
        alone: single strokes.
        doubled: single strokes detected as two.
    """

    played: int = 0
    detected: int = 0
    gap_errors_ms: list[float] = field(default_factory=list)
    alone: int = 0
    doubled: int = 0

    def add(self, take: KnownTake, onsets: Floats) -> None:
        """Count one take's flams, both notes within 8 ms, and its single strokes detected as two."""
        for grace, main in take.truth.list_flams():
            self.played += 1
            times = (grace, main)
            nearest = [int(np.argmin(np.abs(onsets - at))) for at in times] if len(onsets) else [0, 0]
            near = [abs(onsets[n] - at) < _FLAM_WINDOW_SECONDS for n, at in zip(nearest, times, strict=True)]
            if nearest[0] != nearest[1] and all(near):
                self.detected += 1
                gap = onsets[nearest[1]] - onsets[nearest[0]]
                self.gap_errors_ms.append(abs(gap - (main - grace)) * 1000)
        seconds = np.array([sound.seconds for sound in take.truth.played])
        spans = list_buzz_spans(take.truth)
        for sound in take.truth.played:
            in_buzz = any(start - _BEFORE_BUZZ_SECONDS <= sound.seconds <= end for start, end in spans)
            if sound.role != "stroke" or in_buzz:
                continue
            away = np.abs(seconds - sound.seconds)
            if not ((away > _WINDOW_SECONDS) & (away < _FLAM_SECONDS + _ALONE_SECONDS)).any():
                self.alone += 1
                self.doubled += int((np.abs(onsets - sound.seconds) < _FLAM_SECONDS).sum() > 1)


def detect_with_ours(samples: npt.NDArray[np.float32], rate: int) -> list[float]:
    """Return the onsets by this project, in seconds."""
    return [onset.seconds for onset in detect_onsets(samples, rate).onsets]


def detect_with_librosa(samples: npt.NDArray[np.float32], rate: int) -> list[float]:
    """Return the onsets by librosa in seconds, set as fine as its own documentation allows for drums."""
    import librosa  # noqa: PLC0415 - only the bench has it

    envelope = librosa.onset.onset_strength(y=samples, sr=rate, hop_length=128, n_fft=1024)
    onsets = librosa.onset.onset_detect(onset_envelope=envelope, sr=rate, hop_length=128, units="time")
    return [float(seconds) for seconds in onsets]


def main() -> dict[str, float]:
    """Print and return the figures; kits and libraries that aren't installed are left out."""
    report_missing_kits("report", "odd")
    with_librosa = importlib.util.find_spec("librosa") is not None
    if not with_librosa:
        print("Not installed, left out: librosa.", file=sys.stderr)
    names = ", ".join(kit.name for kit in list_kits("report"))
    print(f"onsets, on kits that nothing was tuned on: {names}")
    figures: dict[str, float] = {}
    for condition in (*_CONDITIONS, *_MORE_CONDITIONS):
        figures |= _report_condition(condition, with_librosa=with_librosa and condition in _CONDITIONS)
    for condition in _CONDITIONS:
        figures |= _report_flams(condition)
    if list_kits("odd"):
        odd = _tally_takes(generate_takes("odd", "room 30 dB", _ODD_TAKES), detect_with_ours)[0]
        print(f"  odd kits, room 30 dB ({_describe_counts(odd)}): F {odd.f_measure:.3f}")
    return figures | _measure_cost()


def _report_condition(condition: str, *, with_librosa: bool) -> dict[str, float]:
    takes = list(generate_takes("report", condition, _TAKES))
    tally, seconds = _tally_takes(takes, detect_with_ours)
    median, most = np.percentile(np.abs(tally.errors_ms), (50, 95))
    shares = f"precision {tally.right / tally.detected:.3f}, recall {tally.right / tally.strokes:.3f}"
    print(
        f"  {condition} ({_describe_counts(tally)}): F at 50/25/10 ms {tally.describe_windows()},"
        f" {shares};"
        f" time error {median:.2f} ms median, {most:.1f} ms for 95 %,"
        f" {np.median(tally.errors_ms):+.2f} ms in all"
    )
    figures = {f"{condition}: F": tally.f_measure, f"{condition}: p95 ms": float(most)}
    if with_librosa:
        kit_figures = (f"{kit} {2 * c[2] / (c[0] + c[1]):.3f}" for kit, c in tally.by_kit.items())
        print(f"    by kit: {', '.join(kit_figures)}")
        detect_with_librosa(takes[0].samples[:44_100], takes[0].rate)  # its first call compiles
        other, other_seconds = _tally_takes(takes, detect_with_librosa)
        print(
            f"    librosa on the same takes: F {other.describe_windows()}, time error "
            f"{np.median(np.abs(other.errors_ms)):.2f} ms; ours takes {seconds / other_seconds:.2f} of its time"
        )
        figures[f"{condition}: librosa F"] = other.f_measure
    return figures


def _tally_takes(takes: Iterable[KnownTake], detector: Detector) -> tuple[OnsetTally, float]:
    """Return the counts over some takes, and the seconds that the detector took."""
    tally, spent = OnsetTally(), 0.0
    for take in takes:
        start = time.perf_counter()
        onsets = np.array(detector(take.samples, take.rate))
        spent += time.perf_counter() - start
        tally.add(take, onsets)
    return tally, spent


def _describe_counts(tally: OnsetTally) -> str:
    return f"{tally.takes} takes, {tally.strokes:,} strokes"


def _report_flams(condition: str) -> dict[str, float]:
    flams = FlamTally()
    count = 0
    for take in _generate_both(condition):
        flams.add(take, np.array(detect_with_ours(take.samples, take.rate)))
        count += 1
    median, most = np.percentile(flams.gap_errors_ms or [0.0], (50, 95))
    share, doubled = flams.detected / max(1, flams.played), flams.doubled / max(1, flams.alone)
    print(
        f"  flams of 10 to 60 ms, {condition} ({count} takes, {flams.played} flams): detected {share:.2f},"
        f" gap error {median:.2f} ms median, {most:.1f} ms for 95 %;"
        f" of {flams.alone:,} single strokes {doubled:.3f} detected as two"
    )
    return {f"{condition}: flams found": share, f"{condition}: singles doubled": doubled}


def _generate_both(condition: str) -> Iterator[KnownTake]:
    yield from generate_flam_takes("report", condition, _FLAM_TAKES)
    yield from generate_takes("report", condition, _FLAM_TAKES)


def _measure_cost() -> dict[str, float]:
    """Return seconds and megabytes of the whole command for a minute, process start included; best of three."""
    take = next(iter(generate_takes("report", "room 30 dB", 1)))
    minute = np.resize(take.samples, _TIMED_SECONDS * take.rate)
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "take.wav"
        soundfile.write(path, minute, take.rate)
        seconds, megabytes = min(_run_command(path) for _ in range(3))
    print(f"  {_TIMED_SECONDS} s of WAV, process start included: {seconds:.2f} s, {megabytes:.0f} MB")
    return {"seconds": seconds, "megabytes": megabytes}


def _run_command(path: Path) -> tuple[float, float]:
    code = (
        "import resource, sys; from fillwright.cli.main import main; "
        "status = main(['onsets', '--quiet', sys.argv[1]]); "
        "print(resource.getrusage(resource.RUSAGE_SELF).ru_maxrss); sys.exit(status)"
    )
    start = time.perf_counter()
    process = subprocess.run(
        [sys.executable, "-c", code, str(path)], check=True, capture_output=True, text=True
    )
    return time.perf_counter() - start, int(process.stdout) / 1024


if __name__ == "__main__":
    main()
