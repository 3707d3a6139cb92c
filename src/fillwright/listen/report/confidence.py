"""Confidence in a report: high, fair or low, and a sentence for everything that lowers it."""

from __future__ import annotations

from dataclasses import dataclass
from enum import Enum

from fillwright.listen.alignment.model import Outcome
from fillwright.listen.detected_take import DetectedTake
from fillwright.listen.limits import get_limit
from fillwright.listen.report.model import Report


class Confidence(Enum):
    """Confidence in the numbers, the lowest first; the lowest reason decides."""

    NONE = "none"  # nothing is scored
    LOW = "low"
    FAIR = "fair"
    HIGH = "high"


_ORDER = tuple(Confidence)


@dataclass(frozen=True, slots=True, kw_only=True)
class ConfidenceNote:
    """Confidence in a report, with reasons.

    Attributes:
        level: `Confidence.NONE` where nothing is scored.
        limits: a sentence or two for everything that lowers it, then for what the report can't show.
    """

    level: Confidence
    limits: tuple[str, ...]


Reason = tuple[Confidence, str]
"""The confidence that is left, and why."""


def rate_confidence(report: Report, detected: DetectedTake, *, calibrated: bool = False) -> ConfidenceNote:
    """Return how far to trust a report.

    Args:
        report: on the take.
        detected: the onsets that the report was made from.
        calibrated: True if the sound of each drum was known from a calibration.
    """
    reasons = [] if detected.from_midi else _check_recording(detected)
    if report.refused:
        return ConfidenceNote(level=Confidence.NONE, limits=tuple(sentence for _, sentence in reasons))
    reasons += _check_phrase(report) + _check_alignment(report)
    level = min((level for level, _ in reasons), key=_ORDER.index, default=Confidence.HIGH)
    sentences = [sentence for _, sentence in reasons]
    return ConfidenceNote(level=level, limits=(*sentences, *_list_gaps(report, detected, calibrated)))


def _check_recording(detected: DetectedTake) -> list[Reason]:
    reasons = []
    if detected.dropouts:
        pieces = "a piece" if detected.dropouts == 1 else f"{detected.dropouts} pieces"
        reasons.append(
            (
                Confidence.LOW,
                f"The recording lost {pieces} of the sound. Close other programs, then record again.",
            )
        )
    if detected.clipped_share > get_limit("recording.clipped_share"):
        reasons.append(
            (
                Confidence.FAIR,
                f"The recording is overdriven: {detected.clipped_share * 100:.0f} % of its loud moments "
                "are cut off. Loudness is not judged. Turn the input down or move the microphone away.",
            )
        )
    above = detected.loudest_db - detected.noise_db
    if detected.onsets and above < get_limit("recording.quiet_room_db"):
        noisy = above < get_limit("recording.noisy_db")
        reasons.append(
            (
                Confidence.LOW if noisy else Confidence.FAIR,
                f"The room is noisy: your loudest strokes are only {above:.0f} dB above it. "
                f"{'Soft strokes are lost in it.' if noisy else 'Some ghost notes may be lost in it.'}",
            )
        )
    if detected.cutoff_hz < get_limit("recording.phone_hz"):
        reasons.append(
            (
                Confidence.FAIR,
                f"The recording has no sound above {detected.cutoff_hz / 1000:.0f} kHz. "
                "That makes cymbals and soft strokes harder to detect.",
            )
        )
    return reasons


def _check_phrase(report: Report) -> list[Reason]:
    return (
        [(Confidence.LOW, "You may have played another phrase than the written one.")]
        if report.doubtful
        else []
    )


def _check_alignment(report: Report) -> list[Reason]:
    reasons = []
    if report.share_matched < get_limit("recording.good_match"):
        poor = report.share_matched < get_limit("recording.poor_match")
        reasons.append(
            (
                Confidence.LOW if poor else Confidence.FAIR,
                f"{report.share_matched * 100:.0f} % of the written strokes were found. "
                f"{'That is too few for exact numbers.' if poor else 'The numbers come from those.'}",
            )
        )
    uncertain = [
        stroke for stroke in report.strokes if stroke.outcome in (Outcome.TIMING_UNCERTAIN, Outcome.NOT_AUDIBLE)
    ]
    if len(uncertain) > get_limit("recording.unsure_share") * len(report.strokes):
        reasons.append(
            (
                Confidence.FAIR,
                f"{len(uncertain)} of {len(report.strokes)} strokes are covered by louder ones. "
                "They don't count for the timing.",
            )
        )
    return reasons


def _list_gaps(report: Report, detected: DetectedTake, calibrated: bool) -> list[str]:
    """Return a sentence or two for everything that the report can't show, however good the recording is."""
    gaps = []
    if detected.from_midi:
        gaps.append("Times and drums come from the electronic kit. A pad may add a few milliseconds.")
    elif not calibrated:
        gaps.append(
            "Wrong drums are reported only with a calibration: four strokes on each drum, recorded once."
        )
    if any(stroke.grace for stroke in report.strokes) and not detected.from_midi:
        gaps.append(
            f"A grace note less than {get_limit('flam.fused_ms'):.0f} ms ahead can't be separated from its "
            "main note. A very soft one is often not audible."
        )
    if report.hands is not None and not report.hands.pooled:
        gaps.append(
            f"To compare your hands, play at least {get_limit('hands.repetitions'):.0f} repetitions "
            f"and {get_limit('hands.strokes'):.0f} strokes of each hand in the fill."
        )
    return gaps
