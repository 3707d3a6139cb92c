"""Types of the values in a stored report: measures, counts, and words from short lists."""

from __future__ import annotations

from typing import Annotated, Literal

import msgspec

# No measured value comes near these bounds (ours); they keep out "not a number" and infinity.
Measure = Annotated[float, msgspec.Meta(ge=-1e9, le=1e9)]


Count = Annotated[int, msgspec.Meta(ge=0)]  # how many


Ordinal = Annotated[int, msgspec.Meta(ge=1)]  # which one


Share = Annotated[float, msgspec.Meta(ge=0.0, le=1.0)]  # of all, or a probability


Refusal = Literal[
    "",
    "silence",
    "wrong phrase",
    "tempo",
    "too noisy",
    "too short",
    "no fill",
    "too few",
    "clipped",
]


CriterionKey = Literal[
    "strokes",
    "drums",
    "groove",
    "flams",
    "drags",
    "accents",
    "extra",
    "flow",
    "landing",
    "time",
    "tempo",
    "swing",
]
"""What a fill can be judged by."""


StrokeOutcome = Literal["played", "timing uncertain", "missing", "not audible"]


Row = tuple[str, str]
"""A line of the table of numbers: what is measured, and its value in words."""
