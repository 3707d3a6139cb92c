"""How far a report can be trusted, and what it can't say."""

from __future__ import annotations

from dataclasses import dataclass
from enum import IntEnum

from fillwright.listen.alignment.model import Outcome
from fillwright.listen.limits import limit
from fillwright.listen.onset_list import Heard
from fillwright.listen.report.model import Report


class Confidence(IntEnum):
    """How sure the numbers are; the lowest reason decides."""

    NONE = 0
    LOW = 1
    FAIR = 2
    HIGH = 3


@dataclass(frozen=True, slots=True, kw_only=True)
class ConfidenceNote:
    """How far a report can be trusted.

    Attributes:
        level: "high", "fair", "low", or "none" where nothing is scored.
        limits: a sentence for everything that lowers it, then for what the report can't say.
    """

    level: str
    limits: tuple[str, ...]


def rate_confidence(report: Report, heard: Heard, *, calibrated: bool = False) -> ConfidenceNote:
    """How far a report can be trusted.

    Args:
        report: what is said.
        heard: what it is said of.
        calibrated: whether strokes of each drum alone were known.
    """
    reasons = [] if heard.from_midi else _recording(heard)
    if report.refused:
        return ConfidenceNote(level="none", limits=tuple(sentence for _, sentence in reasons))
    reasons += _phrase(report) + _match(report)
    level = min((level for level, _ in reasons), default=Confidence.HIGH)
    sentences = [sentence for _, sentence in reasons]
    return ConfidenceNote(level=level.name.lower(), limits=(*sentences, *_unsaid(report, heard, calibrated)))


def _recording(heard: Heard) -> list[tuple[Confidence, str]]:
    made = []
    if heard.clipped_share > limit("recording.clipped_share"):
        made.append(
            (
                Confidence.FAIR,
                f"The recording is overdriven ({heard.clipped_share * 100:.0f} % of its loud moments are cut "
                "off), so loudness is not judged; turn the input down or put the microphone further away.",
            )
        )
    above = heard.loudest_db - heard.noise_db
    if heard.onsets and above < limit("recording.quiet_room_db"):
        noisy = above < limit("recording.noisy_db")
        made.append(
            (
                Confidence.LOW if noisy else Confidence.FAIR,
                f"The loudest strokes stand only {above:.0f} dB above the background, so "
                f"{'soft strokes and ghost notes hide in it' if noisy else 'ghost notes may hide in it'}.",
            )
        )
    if heard.top_hz < limit("recording.phone_hz"):
        made.append(
            (
                Confidence.FAIR,
                f"Nothing above {heard.top_hz / 1000:.0f} kHz came through the recording, "
                "so cymbals and soft strokes are harder to hear.",
            )
        )
    return made


def _phrase(report: Report) -> list[tuple[Confidence, str]]:
    return [(Confidence.LOW, "This may not be the phrase that is written.")] if report.doubtful else []


def _match(report: Report) -> list[tuple[Confidence, str]]:
    made = []
    if report.share_matched < limit("recording.good_match"):
        poor = report.share_matched < limit("recording.poor_match")
        made.append(
            (
                Confidence.LOW if poor else Confidence.FAIR,
                f"{report.share_matched * 100:.0f} % of the written strokes were found; "
                f"{'the rest makes every number doubtful' if poor else 'the numbers rest on those'}.",
            )
        )
    unsure = [s for s in report.strokes if s.outcome in (Outcome.UNSURE, Outcome.UNHEARD)]
    if len(unsure) > limit("recording.unsure_share") * len(report.strokes):
        made.append(
            (
                Confidence.FAIR,
                f"{len(unsure)} of {len(report.strokes)} strokes can't be heard clearly beside the others "
                "and are left out of the timing.",
            )
        )
    return made


def _unsaid(report: Report, heard: Heard, calibrated: bool) -> list[str]:
    """What the report can't say, whatever the recording."""
    made = []
    if heard.from_midi:
        made.append(
            "Times and drums are those the electronic kit sent; a pad may add some milliseconds of its own."
        )
    elif not calibrated:
        made.append(
            "A wrong drum is only told with a calibration: four strokes on each drum, recorded once beforehand."
        )
    if any(stroke.grace for stroke in report.strokes) and not heard.from_midi:
        made.append(
            f"A grace note less than {limit('flam.fused_ms'):.0f} ms before its main note can't be told "
            "from it, and a very soft one is often not heard."
        )
    if report.hands is not None and not report.hands.pooled:
        made.append(
            f"A hand's own habit shows only over {limit('hands.passes'):.0f} times through and "
            f"{limit('hands.strokes'):.0f} strokes of each hand in the fill; "
            "so far a difference between the hands may be chance."
        )
    return made
