"""One fill from a few options, without a lesson file."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from fractions import Fraction
from pathlib import Path

from fillwright.craft.brief import Brief, StepKind
from fillwright.craft.player.players import find_player
from fillwright.craft.steps import Step, plan_steps
from fillwright.errors import FitError, OutputError, UnknownNameError
from fillwright.music.figure import Figure
from fillwright.music.grooves import find_groove
from fillwright.music.phrase import Phrase, build_landing, build_phrase
from fillwright.music.rudiments import find_figure, parse_rhythm
from fillwright.music.stroke import Limb
from fillwright.music.timing import SLOWEST
from fillwright.score.engraving.engrave import engrave
from fillwright.score.engraving.paper import make_pdf, make_png
from fillwright.score.export.midi import encode_midi
from fillwright.score.export.musicxml import format_musicxml
from fillwright.score.sheet import Sheet


@dataclass(frozen=True, slots=True, kw_only=True)
class FillChoice:
    """A choice of figure, span, groove and hands.

    Attributes:
        figure: name of a rudiment.
        beats: last beats that the fill takes, on the snare; None to take a step of the teaching order.
        step: name of that step.
        groove: name of the groove before it.
        rhythm: note values; "" for the first of the figure's that fits.
        bars: of the phrase.
        lead: the hand of the first stroke.
        mirrored: True if hands and feet are exchanged for a left-handed player.
    """

    figure: str
    beats: Fraction | None = None
    step: str = StepKind.WHOLE_BAR.value
    groove: str = "straight eighths"
    rhythm: str = ""
    bars: int = 4
    lead: Limb = Limb.RIGHT
    mirrored: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class SingleFill:
    """One fill in its phrase."""

    title: str
    step: Step
    phrase: Phrase


def make_single_fill(choice: FillChoice) -> SingleFill:
    """Make the fill of a choice, in its phrase.

    Raises:
        UnknownNameError: for an unknown figure, groove or step.
        FitError: where the figure does not fill the span.
        SpanError: where the phrase is shorter.
    """
    figure = find_figure(choice.figure)
    groove = find_groove(choice.groove)
    brief = Brief(
        figure=figure,
        meter=groove.meter,
        bars=choice.bars,
        kinds=(_kind(choice.step),) if choice.beats is None else (),
        rhythm=parse_rhythm(choice.rhythm, len(figure.strokes)) if choice.rhythm else None,
        lead=choice.lead,
        beats=() if choice.beats is None else (choice.beats,),
        earlier=_earlier(figure),
        player=find_player("professional"),
        tempo=SLOWEST,
    )
    planned = plan_steps(brief)
    if not planned.steps:
        raise FitError(planned.left_out[0])
    step = planned.steps[-1]
    phrase = build_phrase(groove, step.fill, bars=choice.bars, land=build_landing(groove.meter, step.lands))
    return SingleFill(
        title=f"{figure.name[:1].upper()}{figure.name[1:]}: {step.caption}",
        step=step,
        phrase=phrase.mirror() if choice.mirrored else phrase,
    )


def _kind(name: str) -> StepKind:
    kinds = [kind.value for kind in StepKind if kind is not StepKind.OWN_SPAN]
    if name not in kinds:
        raise UnknownNameError.of("step", name, kinds)
    return StepKind(name)


def _earlier(figure: Figure) -> tuple[Figure, ...]:
    """Return the figure that a mixed fill is joined with where there is no lesson: the single stroke roll."""
    singles = find_figure("single stroke roll")
    return () if figure.name == singles.name else (singles,)


def render_sheet(fill: SingleFill, suffix: str, *, tempo: int) -> bytes:
    """Render a fill as the content of a file: .svg, .pdf, .png, .musicxml or .mid.

    Raises:
        OutputError: for another ending.
    """
    sheet = Sheet(phrase=fill.phrase, tempo=str(tempo), label="Fill", cue=fill.step.figure.cue)
    makers: dict[str, Callable[[], bytes]] = {
        ".svg": lambda: engrave(sheet).svg.encode("utf-8"),
        ".pdf": lambda: draw_picture(sheet, make_pdf),
        ".png": lambda: draw_picture(sheet, make_png),
        ".musicxml": lambda: format_musicxml(sheet, title=fill.title, tempo=tempo).encode("utf-8"),
        ".mid": lambda: encode_midi(fill.phrase, tempo, title=fill.title),
    }
    if suffix not in makers:
        raise OutputError(f'"{suffix}" is not an ending for a sheet; use {", ".join(makers)}.')
    return makers[suffix]()


def draw_picture(sheet: Sheet, draw: Callable[..., bytes]) -> bytes:
    """Draw a sheet on a page of its own size."""
    music = engrave(sheet)
    return draw(music.svg, width_mm=music.width_mm, height_mm=music.height_mm)


def get_suffix(path: Path) -> str:
    """Return the ending of a file name, in small letters."""
    return path.suffix.lower()
