"""The notes of a take's picture: the phrase with every bar written out, and which note each stroke is."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence
from dataclasses import replace
from fractions import Fraction

from fillwright.errors import NotationError
from fillwright.listen.written import WrittenPhrase, WrittenStroke
from fillwright.music.hit import Hit
from fillwright.music.meter import Meter
from fillwright.music.phrase import Bar, Part, Phrase, Span
from fillwright.music.stroke import Kind, Limb, Stroke
from fillwright.music.surfaces import find_surface
from fillwright.music.timing import whole_note_seconds
from fillwright.score.sheet import Sheet
from fillwright.score.written import Note
from fillwright.take.reference import Reference

_MOST_ONSETS = 26  # on one line; ours
_GRIDS = (16, 24, 32, 48)  # parts of a whole note; the first that fits is taken
_NEAR_SECONDS = 0.012  # distance from the grid; ours: half the finest grid at 200 bpm


def build_sheet(reference: Reference) -> Sheet | None:
    """Return the sheet under a take's ruler, every bar written out; None if it can't be written.

    A MIDI file has no hands, so none are printed.
    """
    fill = reference.fill
    try:
        phrase = fill.phrase if fill else build_phrase(reference.expected, reference.meter)
        sheet = Sheet(
            phrase=phrase,
            tempo=f"{reference.expected.tempo:g}",
            label="Fill" if phrase.span else "",
            sticking=fill is not None,
            counting=fill.counting if fill else False,
            cue=fill.cue if fill else (),
            repeats=False,
        )
        return replace(sheet, break_before=_breaks(sheet))
    except NotationError:
        return None


def _breaks(sheet: Sheet) -> tuple[int, ...]:
    """Return the bars that start a line: where a line is full, and where the fill starts; landings stay."""
    breaks = []
    on_line = 0
    before: Part | None = None
    for bar in sheet.bars():
        places = {note.at for note in (*bar.hands.notes(), *bar.feet.notes())}
        size = len(places) + sum(hit.stroke.kind.graces for note in bar.hands.notes() for hit in note.hits)
        part = bar.bar.part
        fill_starts = part is Part.FILL and before is Part.GROOVE
        if before is not None and part is not Part.LANDING and (fill_starts or on_line + size > _MOST_ONSETS):
            breaks.append(bar.number)
            on_line = 0
        on_line += size
        before = part
    return tuple(breaks)


def build_phrase(expected: WrittenPhrase, meter: Meter | None) -> Phrase:
    """Return strokes in seconds as a phrase on a grid; unknown hands become the right one.

    Raises:
        NotationError: if they fit no grid, or Fillwright does not write the meter.
    """
    if meter is None:
        raise NotationError("This meter can't be written.")
    whole_seconds = whole_note_seconds(meter, expected.tempo)
    graces: dict[int, int] = defaultdict(int)
    for stroke in expected.strokes:
        if stroke.grace_of is not None:
            graces[stroke.grace_of] += 1
    bars: list[dict[tuple[Fraction, str], Hit]] = [{} for _ in expected.bar_starts[1:]]
    for index, stroke in enumerate(expected.strokes):
        if stroke.grace_of is None:
            at = _snap_to_grid(stroke.seconds - expected.bar_starts[stroke.bar], whole_seconds)
            if not 0 <= at < meter.bar:
                raise NotationError("A stroke is outside its bar.")
            bars[stroke.bar][at, stroke.surface] = _hit(stroke, at, graces[index])
    fills = [stroke for stroke in expected.strokes if stroke.in_fill and stroke.grace_of is None]
    return Phrase(
        meter=meter,
        bars=tuple(_bar(expected, number, list(hits.values()), meter) for number, hits in enumerate(bars)),
        span=_span(fills, expected, meter, whole_seconds) if fills else None,
    )


def _snap_to_grid(seconds: float, whole_seconds: float) -> Fraction:
    for grid in _GRIDS:
        at = Fraction(round(seconds / whole_seconds * grid), grid)
        if abs(float(at) * whole_seconds - seconds) <= _NEAR_SECONDS:
            return at
    raise NotationError("A stroke is not on the grid.")


def _hit(stroke: WrittenStroke, at: Fraction, graces: int) -> Hit:
    where = find_surface(stroke.surface)
    kind = (Kind.BUZZ if stroke.buzz else Kind.SINGLE, Kind.FLAM, Kind.DRAG)[min(graces, 2)]
    hand = Limb(stroke.hand) if stroke.hand else where.foot or Limb.RIGHT
    return Hit(
        at=at,
        length=Fraction(1, 4),
        stroke=Stroke(hand=hand, kind=kind if where.foot is None else Kind.SINGLE, level=stroke.level),
        surface=where,
    )


def _bar(expected: WrittenPhrase, number: int, hits: list[Hit], meter: Meter) -> Bar:
    strokes = [stroke for stroke in expected.strokes if stroke.bar == number and stroke.grace_of is None]
    part = Part.GROOVE
    if strokes and all(stroke.landing for stroke in strokes):
        part = Part.LANDING
    elif any(stroke.in_fill for stroke in strokes):
        part = Part.FILL
    timed = []
    for voice in (False, True):
        voiced = sorted((hit for hit in hits if hit.stroke.hand.is_foot is voice), key=Hit.order)
        ends = sorted({hit.at for hit in voiced} | {*meter.beat_starts, meter.bar})
        for hit in voiced:
            end = next(at for at in ends if at > hit.at)
            timed.append(Hit(at=hit.at, length=end - hit.at, stroke=hit.stroke, surface=hit.surface))
    return Bar(part=part, hits=tuple(sorted(timed, key=Hit.order)))


def _span(fills: Sequence[WrittenStroke], expected: WrittenPhrase, meter: Meter, whole_seconds: float) -> Span:
    first, last = fills[0], fills[-1]
    start = first.bar * meter.bar + _snap_to_grid(first.seconds - expected.bar_starts[first.bar], whole_seconds)
    return Span(start=start, length=(last.bar + 1) * meter.bar - start)


def find_note_ids(sheet: Sheet, expected: WrittenPhrase) -> tuple[str, ...]:
    """Return the id on the page of each expected stroke, in their order; "" for one without a note.

    In each bar the strokes on a surface are its notes in order; grace notes go with their main note.
    """
    notes: dict[tuple[int, str], list[str]] = defaultdict(list)
    for bar in sheet.bars():
        in_order: list[Note] = sorted([*bar.hands.notes(), *bar.feet.notes()], key=lambda note: note.at)
        for note in in_order:
            for hit in note.hits:
                notes[bar.number, hit.surface.name].append(note.id)
    ids = [""] * len(expected.strokes)
    graces: dict[int, list[int]] = defaultdict(list)
    for index, stroke in enumerate(expected.strokes):
        if stroke.grace_of is not None:
            graces[stroke.grace_of].append(index)
            continue
        waiting = notes[stroke.bar + 1, stroke.surface]
        ids[index] = waiting.pop(0) if waiting else ""
    for main, own_graces in graces.items():
        for number, index in enumerate(sorted(own_graces, key=lambda i: expected.strokes[i].seconds)):
            ids[index] = f"{ids[main]}g{number}" if ids[main] else ""
    return tuple(ids)
