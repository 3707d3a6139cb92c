"""Checks of the fills that the figures of a lesson file ask for."""

from __future__ import annotations

from collections.abc import Sequence
from fractions import Fraction

from fillwright.craft.brief import Brief, StepKind, find_fewest_beats, find_most_beats, fit_figure
from fillwright.craft.routes.families import find_family_routes
from fillwright.craft.routes.route import Family
from fillwright.craft.steps import StepPlan, plan_steps
from fillwright.errors import FitError, MistakeKind, SpanError
from fillwright.lesson.figures import FillConditions, LessonFigure, Row
from fillwright.music.figure import Figure, Rhythm
from fillwright.music.notevalue import format_value


def check_fills(
    figure: LessonFigure, row: Row, conditions: FillConditions, earlier: tuple[Figure, ...] | None
) -> tuple[Brief, StepPlan] | None:
    """Add a mistake for every span that the figure does not fill, and for a figure that makes no fill at all.

    Args:
        figure: of the row.
        row: its mistakes are added to.
        conditions: of the lesson.
        earlier: figures taught earlier; None where one of them is unknown, so that it can't be decided whether
            there is a fill.

    Returns:
        The figure's plan and its brief, where a plan was needed to find out; None where it was not.
    """
    brief = figure.make_brief(conditions, earlier or ())
    for number, beats in enumerate(brief.beats):
        if row.mistakes.full:
            return None
        try:
            fit_figure(brief, beats)
        except (FitError, SpanError) as error:
            row.mistakes.add_error((*row.path, "beats", number), error)
    if brief.beats or earlier is None:
        return None
    if not brief.kinds:
        row.add_mistake("steps", "There is no step here and no beats; name a step, or a span with beats.")
        return None
    try:
        if _has_snare_fill(brief):
            return None
        plan = plan_steps(brief)
    except FitError as error:
        row.mistakes.add_error(row.path, error)
        return None
    if not plan.steps:
        reason = plan.left_out[0].rstrip(".")
        advice = "try another rhythm, other steps or a span with beats"
        message = f"There is no fill for this figure ({reason}); {advice}."
        row.mistakes.add(row.path, message, MistakeKind.FIT)
    return brief, plan


def _has_snare_fill(brief: Brief) -> bool:
    """Return True if one of the steps on the snare makes a fill, which is quicker to find out than a plan."""
    spans = {
        StepKind.LAST_BEAT: find_fewest_beats(brief),
        StepKind.TWO_BEATS: Fraction(2),
        StepKind.WHOLE_BAR: find_most_beats(brief),
    }
    for kind in brief.kinds:
        beats = spans.get(kind)
        if beats is None:
            continue
        try:
            fitted = fit_figure(brief, beats)
        except FitError:
            continue
        if find_family_routes(fitted.chain, brief.setting(fitted.span), (Family.ONE_SURFACE,)):
            return True
    return False


def check_rhythms_in_threes(pairs: Sequence[tuple[LessonFigure, Row]]) -> bool:
    """Add a mistake for rhythms that a beat of a dotted quarter can't hold: dotted notes next to triplets.

    A triplet is stretched to an eighth there, and a dotted note stretched as much is not a single note. Figures
    are also mixed into the fills of others, so every meter of the lesson counts.

    Returns:
        True if there are none.
    """
    meters = [figure.groove.meter for figure, _ in pairs if figure.groove.meter.counts_in_three]
    rows = [
        row for figure, row in pairs if meters and figure.rhythm and _mixes_dots_and_triplets(figure.rhythm)
    ]
    for row in rows:
        row.add_mistake(
            "rhythm",
            f"Triplets and dotted notes together can't be written in {meters[0].name}, which this lesson "
            "uses; write the triplets as eighths.",
            MistakeKind.FIT,
        )
    return not rows


def _mixes_dots_and_triplets(rhythm: Rhythm) -> bool:
    values = [format_value(length) for length in rhythm.lengths]
    return any(value.endswith("t") for value in values) and any(value.endswith(".") for value in values)
