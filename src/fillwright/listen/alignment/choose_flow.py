"""The repetitions of a take, with breaks of the flow where they explain it better."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from fillwright.listen.alignment.acceptance import accept_covered, accept_fit, accept_flow
from fillwright.listen.alignment.flow import FlowFit, follow_flow
from fillwright.listen.alignment.repetitions import (
    AlignmentProblem,
    RepetitionFit,
    refine_fit,
    select_spans,
)

# All ours, not measured.
_MOST_CANDIDATES = 5  # positions that are followed, for each repetition
_SAME_SECONDS = 0.05  # positions nearer than this are the same
_OVERLAP_SHARE = 0.0625  # of a bar by which two repetitions may overlap
_AS_FULL_SHARE = 0.8  # of the fullest repetition's moments: one with fewer is a false start


def choose_flow(
    problem: AlignmentProblem, accepted: Sequence[RepetitionFit], candidates: Sequence[RepetitionFit]
) -> list[FlowFit]:
    """Return the accepted repetitions, or others with breaks if they explain the take better.

    Args:
        problem: the phrase and the take.
        accepted: repetitions without breaks.
        candidates: rough fits at every position that is tried.
    """
    plain = [FlowFit(problem=problem, fit=fit) for fit in accepted]
    pool = list(plain)
    for fit in _list_positions(accepted, candidates):
        flow = follow_flow(problem, fit)
        pool.append(flow if flow.breaks else FlowFit(problem=problem, fit=refine_fit(problem, fit)))
    return _select_full(_select([flow for flow in pool if _is_usable(flow)]))


def _list_positions(
    accepted: Sequence[RepetitionFit], candidates: Sequence[RepetitionFit]
) -> list[RepetitionFit]:
    """Return the accepted repetitions and the best other positions, each once."""
    positions: list[RepetitionFit] = []
    starts: list[float] = []
    most = _MOST_CANDIDATES * max(1, len(accepted))
    for fit in (*accepted, *sorted(candidates, key=lambda fit: -fit.net_gain)):
        start = float(fit.tempo_map.map_to_take(np.zeros(1))[0])
        if len(positions) < most and all(abs(start - other) > _SAME_SECONDS for other in starts):
            positions.append(fit)
            starts.append(start)
    return positions


def _is_usable(flow: FlowFit) -> bool:
    if flow.breaks:
        return accept_flow(flow)
    return accept_fit(flow.problem, flow.fit) or accept_covered(flow.problem, flow.fit)


def _select(flows: Sequence[FlowFit]) -> list[FlowFit]:
    """Select the repetitions that explain most together without an overlap, in order."""
    spans = []
    for flow in flows:
        ends = flow.fit.tempo_map.map_to_take(np.array([0.0, flow.problem.moments.next_start]))
        spans.append((float(ends[0]), float(ends[1]), max(flow.value, 1e-3)))
    if not flows:
        return []
    slack = _OVERLAP_SHARE * flows[0].problem.moments.written.bar_starts[1]
    return [flows[number] for number in select_spans(spans, slack)]


def _select_full(flows: Sequence[FlowFit]) -> list[FlowFit]:
    """Return the repetitions that are nearly as full as the fullest; a false start is not one."""
    fullest = max((flow.fit.matched_count for flow in flows), default=0)
    return [flow for flow in flows if flow.fit.matched_count >= _AS_FULL_SHARE * fullest]
