"""The attacks that count as one onset, and the spans in which none is counted."""

from __future__ import annotations

from bench.listening.simulated_player import TakeTruth

# All ours, not measured.
_TOGETHER_SECONDS = 0.010  # attacks nearer than this are one onset
_BUZZ_FROM, _BUZZ_AFTER = 0.015, 0.020  # seconds before and after a buzz's bounces that aren't counted
_NEXT_BOUNCE_SECONDS = 0.05  # bounces nearer than this belong to one buzz


def group_attacks(truth: TakeTruth) -> tuple[tuple[float, ...], ...]:
    """Return the seconds of every attack that should be detected; those within 10 ms are one group."""
    groups: list[list[float]] = []
    for sound in truth.played:
        if sound.role == "bounce":
            continue
        if groups and sound.seconds - groups[-1][0] < _TOGETHER_SECONDS:
            groups[-1].append(sound.seconds)
        else:
            groups.append([sound.seconds])
    return tuple(tuple(group) for group in groups)


def list_buzz_spans(truth: TakeTruth) -> tuple[tuple[float, float], ...]:
    """Return the spans of buzz strokes, in which bounces may be detected or not."""
    spans: list[list[float]] = []
    for sound in truth.played:
        if sound.role != "bounce":
            continue
        if spans and sound.seconds - spans[-1][1] < _NEXT_BOUNCE_SECONDS:
            spans[-1][1] = sound.seconds
        else:
            spans.append([sound.seconds - _BUZZ_FROM, sound.seconds])
    return tuple((first, last + _BUZZ_AFTER) for first, last in spans)
