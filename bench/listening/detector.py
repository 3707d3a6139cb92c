"""The onset detector: how many strokes it finds, how exactly, how fast; on kits that nothing was tuned on."""

from __future__ import annotations

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

from bench.listening.kits import kits
from bench.listening.scoring import blurred, grouped
from bench.listening.takes import Take, flam_takes, takes
from fillwright.listen.onsets.detect import detect_onsets

Floats = npt.NDArray[np.float64]
Detector = Callable[[npt.NDArray[np.float32], int], Sequence[float]]

_CONDITIONS = ("dry", "room 30 dB", "phone")
_MORE_CONDITIONS = ("room 40 dB", "room 20 dB", "clipped", "click")
_WINDOW_SECONDS = 0.010
_FLAM_WINDOW_SECONDS = 0.008
_FLAM_SECONDS = 0.070
_TAKES = 24
_TIMED_SECONDS = 60


@dataclass(slots=True, kw_only=True)
class Tally:
    """What is counted over many takes."""

    takes: int = 0
    strokes: int = 0
    heard: int = 0
    right: int = 0
    errors_ms: list[float] = field(default_factory=list)
    by_kit: dict[str, list[int]] = field(default_factory=dict)

    @property
    def f_measure(self) -> float:
        """Harmonic mean of precision and recall."""
        return 2 * self.right / max(1, self.strokes + self.heard)

    def add(self, take: Take, onsets: Floats) -> None:
        """Count one take: each onset pairs with one stroke within 10 ms at most, as `mir_eval.onset` has it."""
        from mir_eval.util import match_events  # noqa: PLC0415 - only the bench and the tests have it

        groups = grouped(take.truth)
        first = np.array([group[0] for group in groups])
        pairs = match_events(first, onsets, _WINDOW_SECONDS)
        paired = {heard for _, heard in pairs}
        spans = blurred(take.truth)
        lost = sum(any(a <= onsets[n] <= b for a, b in spans) for n in range(len(onsets)) if n not in paired)
        counts = (len(groups), len(onsets) - lost, len(pairs))
        kit = self.by_kit.setdefault(take.kit, [0, 0, 0])
        for index, count in enumerate(counts):
            kit[index] += count
        self.takes += 1
        self.strokes, self.heard, self.right = (
            sum(counted[index] for counted in self.by_kit.values()) for index in range(3)
        )
        for group, onset in pairs:
            away = onsets[onset] - np.array(groups[group])
            self.errors_ms.append(float(away[np.argmin(np.abs(away))] * 1000))


@dataclass(slots=True, kw_only=True)
class Flams:
    """What is counted of flams and of strokes that stand alone."""

    played: int = 0
    found: int = 0
    gap_errors_ms: list[float] = field(default_factory=list)
    alone: int = 0
    doubled: int = 0

    def add(self, take: Take, onsets: Floats) -> None:
        """Count one take's flams, both notes heard within 8 ms, and its single strokes heard as two."""
        for grace, main in take.truth.flams():
            self.played += 1
            places = [int(np.argmin(np.abs(onsets - at))) for at in (grace, main)] if len(onsets) else [0, 0]
            near = [
                abs(onsets[n] - at) < _FLAM_WINDOW_SECONDS for n, at in zip(places, (grace, main), strict=True)
            ]
            if places[0] != places[1] and all(near):
                self.found += 1
                self.gap_errors_ms.append(abs(onsets[places[1]] - onsets[places[0]] - (main - grace)) * 1000)
        every = np.array([one.seconds for one in take.truth.played])
        spans = blurred(take.truth)
        for one in take.truth.played:
            if one.role != "stroke" or any(a - 0.1 <= one.seconds <= b for a, b in spans):
                continue
            away = np.abs(every - one.seconds)
            if not ((away > _WINDOW_SECONDS) & (away < _FLAM_SECONDS + 0.005)).any():
                self.alone += 1
                self.doubled += int((np.abs(onsets - one.seconds) < _FLAM_SECONDS).sum() > 1)


def ours(samples: npt.NDArray[np.float32], rate: int) -> list[float]:
    """Onsets by this project."""
    return [one.seconds for one in detect_onsets(samples, rate).onsets]


def librosas(samples: npt.NDArray[np.float32], rate: int) -> list[float]:
    """Onsets by librosa, set as fine as its own documentation allows for drums."""
    import librosa  # noqa: PLC0415 - only the bench has it

    envelope = librosa.onset.onset_strength(y=samples, sr=rate, hop_length=128, n_fft=1024)
    found = librosa.onset.onset_detect(onset_envelope=envelope, sr=rate, hop_length=128, units="time")
    return [float(one) for one in found]


def main() -> dict[str, float]:
    """Print and return the figures."""
    names = ", ".join(kit.name for kit in kits("report"))
    print(f"onsets, on kits that nothing was tuned on: {names}")
    figures: dict[str, float] = {}
    for condition in (*_CONDITIONS, *_MORE_CONDITIONS):
        figures |= _condition(condition, beside_librosa=condition in _CONDITIONS)
    for condition in ("dry", "room 30 dB", "phone"):
        figures |= _flams(condition)
    odd = _tally(takes("odd", "room 30 dB", 8), ours)[0]
    print(f"  kits that hardly sound like drums, room 30 dB ({_counted(odd)}): F {odd.f_measure:.3f}")
    return figures | _cost()


def _condition(condition: str, *, beside_librosa: bool) -> dict[str, float]:
    heard = list(takes("report", condition, _TAKES))
    tally, seconds = _tally(heard, ours)
    median, most = np.percentile(np.abs(tally.errors_ms), (50, 95))
    shares = f"precision {tally.right / tally.heard:.3f}, recall {tally.right / tally.strokes:.3f}"
    print(
        f"  {condition} ({_counted(tally)}): F at 10 ms {tally.f_measure:.3f}, {shares};"
        f" time error {median:.2f} ms median, {most:.1f} ms for 95 %,"
        f" {np.median(tally.errors_ms):+.2f} ms in all"
    )
    figures = {f"{condition}: F": tally.f_measure, f"{condition}: p95 ms": float(most)}
    if beside_librosa:
        kit_figures = (f"{kit} {2 * c[2] / (c[0] + c[1]):.3f}" for kit, c in tally.by_kit.items())
        print(f"    by kit: {', '.join(kit_figures)}")
        librosas(heard[0].samples[:44_100], heard[0].rate)  # its first call compiles
        other, other_seconds = _tally(heard, librosas)
        print(
            f"    librosa on the same takes: F {other.f_measure:.3f}, time error "
            f"{np.median(np.abs(other.errors_ms)):.2f} ms; ours takes {seconds / other_seconds:.2f} of its time"
        )
        figures[f"{condition}: librosa F"] = other.f_measure
    return figures


def _tally(heard: Iterable[Take], detector: Detector) -> tuple[Tally, float]:
    """Counts over some takes, and how long the detector worked."""
    tally, spent = Tally(), 0.0
    for take in heard:
        start = time.perf_counter()
        onsets = np.array(detector(take.samples, take.rate))
        spent += time.perf_counter() - start
        tally.add(take, onsets)
    return tally, spent


def _counted(tally: Tally) -> str:
    return f"{tally.takes} takes, {tally.strokes:,} strokes"


def _flams(condition: str) -> dict[str, float]:
    flams = Flams()
    count = 0
    for take in _both(condition):
        flams.add(take, np.array(ours(take.samples, take.rate)))
        count += 1
    median, most = np.percentile(flams.gap_errors_ms or [0.0], (50, 95))
    share, doubled = flams.found / max(1, flams.played), flams.doubled / max(1, flams.alone)
    print(
        f"  flams of 10 to 60 ms, {condition} ({count} takes, {flams.played} flams): found {share:.2f},"
        f" gap error {median:.2f} ms median, {most:.1f} ms for 95 %;"
        f" of {flams.alone:,} single strokes {doubled:.3f} heard as two"
    )
    return {f"{condition}: flams found": share, f"{condition}: singles doubled": doubled}


def _both(condition: str) -> Iterator[Take]:
    yield from flam_takes("report", condition, 12)
    yield from takes("report", condition, 12)


def _cost() -> dict[str, float]:
    """Seconds and megabytes of the whole command for a minute, start of the process included; best of three."""
    take = next(iter(takes("report", "room 30 dB", 1)))
    minute = np.resize(take.samples, _TIMED_SECONDS * take.rate)
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "take.wav"
        soundfile.write(path, minute, take.rate)
        seconds, megabytes = min(_run(path) for _ in range(3))
    print(f"  {_TIMED_SECONDS} s of WAV, start of the process included: {seconds:.2f} s, {megabytes:.0f} MB")
    return {"seconds": seconds, "megabytes": megabytes}


def _run(path: Path) -> tuple[float, float]:
    code = (
        "import resource, sys; from fillwright.cli.main import main; "
        "status = main(['onsets', '--quiet', sys.argv[1]]); "
        "print(resource.getrusage(resource.RUSAGE_SELF).ru_maxrss); sys.exit(status)"
    )
    start = time.perf_counter()
    done = subprocess.run([sys.executable, "-c", code, str(path)], check=True, capture_output=True, text=True)
    return time.perf_counter() - start, int(done.stdout) / 1024


if __name__ == "__main__":
    main()
