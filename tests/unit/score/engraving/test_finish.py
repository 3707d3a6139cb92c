"""The last hand on an engraving: what stands clear of what."""

from __future__ import annotations

import re
from collections.abc import Callable
from fractions import Fraction
from typing import Any

import pytest

from fillwright.craft.brief import Brief, StepKind
from fillwright.craft.rudiment_sheet import build_sheet_phrase
from fillwright.craft.steps import plan_steps
from fillwright.music.grooves import Groove, find_groove, load_grooves
from fillwright.music.phrase import build_landing, build_phrase
from fillwright.music.rudiments import find_figure
from fillwright.score.sheet import Sheet

Drawn = Callable[[Sheet], Any]
SPACE = 180  # drawing units between staff lines
HEAD = 226  # drawing units, width of a note head


def sheet(name: str, groove: str, *, beats: str = "1", kind: StepKind | None = None) -> Sheet:
    matches = find_groove(groove)
    brief = Brief(
        figure=find_figure(name),
        meter=matches.meter,
        bars=2,
        kinds=(kind,) if kind else (),
        beats=() if kind else (Fraction(beats),),
    )
    step = plan_steps(brief).steps[-1]
    played = build_phrase(matches, step.fill, bars=2, land=build_landing(matches.meter, step.lands))
    return Sheet(phrase=played, tempo="60–100", label="Fill")


def numbers(text: str) -> list[float]:
    return [float(number) for number in re.findall(r"-?\d+(?:\.\d+)?", text)]


def pairs(outline: str) -> list[tuple[float, float]]:
    """Return the points of an outline with relative and absolute commands, control points left out."""
    x, y = 0.0, 0.0
    points = []
    for command, arguments in re.findall(r"([A-Za-z])([^A-Za-z]*)", outline):
        values = numbers(arguments)
        step = {"h": 1, "v": 1, "c": 6, "s": 4}.get(command.lower(), 2)
        for start in range(0, len(values), step):
            group = values[start : start + step]
            if command.lower() == "h":
                x = group[0] + (x if command == "h" else 0)
            elif command.lower() == "v":
                y = group[0] + (y if command == "v" else 0)
            else:
                x, y = (x + group[-2], y + group[-1]) if command.islower() else (group[-2], group[-1])
            points.append((x, y))
    return points


def glyphs(drawing: Any, code: str) -> list[tuple[float, ...]]:
    """Place and scale of a music sign wherever it stands."""
    uses = (use for use in drawing.root.iter() if use.get("href", "").startswith(f"#{code}"))
    return [tuple(numbers(use.get("transform"))[:3]) for use in uses]


def stems(drawing: Any, voice: str) -> list[tuple[float, float, float]]:
    """Return each stem of a voice: its place across, its top and its bottom."""
    matches = []
    for note in [*drawing.groups("note"), *drawing.groups("chord")]:
        if re.match(rf"b\d+{voice}\d+-\d+$", note.get("id", "")):
            for stem in (g for g in note.iter() if "stem" in g.get("class", "")):
                x, upper, _, other = numbers(next(p.get("d") for p in stem if p.get("d")))
                matches.append((x, min(upper, other), max(upper, other)))
    return matches


@pytest.mark.parametrize("groove", ["shuffle", "swing ride", "half-time shuffle"])
def test_the_tempo_is_above_the_brackets(groove: str, drawn: Drawn) -> None:
    drawing = drawn(sheet("flam tap", groove))
    brackets = [
        y
        for line in drawing.root.iter()
        if line.tag.endswith("polyline")
        for y in numbers(line.get("points"))[1::2]
    ]
    (tempo,) = [word for word in drawing.words if word.kind == "tempo"]
    assert tempo.text == "= 60–100"
    assert tempo.y < min(brackets, default=1e9)
    if groove != "half-time shuffle":
        assert brackets


def test_the_brackets_of_a_bar_are_level(drawn: Drawn) -> None:
    drawing = drawn(sheet("flam tap", "swing ride"))
    for measure in drawing.groups("measure"):
        lines = [line for line in measure.iter() if line.tag.endswith("polyline")]
        assert len({min(numbers(line.get("points"))[1::2]) for line in lines}) <= 1


@pytest.mark.parametrize(("groove", "glyph_count"), [("straight eighths", 1), ("six-eight", 2)])
def test_the_beat_of_the_tempo_is_drawn_with_its_dot(groove: str, glyph_count: int, drawn: Drawn) -> None:
    (tempo,) = drawn(sheet("single paradiddle", groove, beats="2")).groups("tempo")
    outlines = [child for child in tempo if child.tag.endswith("path")]
    assert len(outlines) == glyph_count
    assert all(ord(letter) < 0xE000 for text in tempo.itertext() for letter in text)


@pytest.mark.parametrize("groove", ["straight eighths", "six-eight", "shuffle", "half-time shuffle"])
def test_the_beat_note_is_as_large_as_its_words_and_on_the_page(groove: str, drawn: Drawn) -> None:
    drawing = drawn(sheet("single paradiddle", groove, beats="2"))
    (tempo,) = drawing.groups("tempo")
    lift = numbers(tempo.get("transform", "translate(0, 0)"))[1]
    (margin,) = (numbers(group.get("transform"))[1] for group in drawing.groups("page-margin"))
    note, *_, words = tempo
    x, y, scale, _ = numbers(note.get("transform"))
    across, up = zip(*pairs(note.get("d")), strict=True)
    top, foot = y - max(up) * scale, y - min(up) * scale
    size = float(words.get("font-size"))
    assert 1.1 * size < foot - top < 1.5 * size
    assert top + lift + margin >= 0
    assert float(words.get("x")) - (x + max(across) * scale) > 50


@pytest.mark.parametrize("tempo", ["80", "60–100"])
@pytest.mark.parametrize("groove", load_grooves(), ids=lambda groove: groove.name)
def test_the_tempo_keeps_clear_of_beams_and_stems(groove: Groove, tempo: str, drawn: Drawn) -> None:
    bars = build_phrase(groove, None, bars=1)
    drawing = drawn(Sheet(phrase=bars, tempo=tempo))
    (words,) = [word for word in drawing.words if word.kind == "tempo"]
    (note, *_) = drawing.groups("tempo")[0]
    left = numbers(note.get("transform"))[0]
    beams = [numbers(polygon.get("points", "")) for beam in drawing.groups("beam") for polygon in beam]
    tops = [(min(points[::2]), min(points[1::2])) for points in beams if points]
    tops += [(x, top) for x, top, _ in stems(drawing, "h")]
    assert tops
    for x, top in tops:
        assert not left - 40 < x < words.right + 40 or top > words.y + 40


def test_a_ghost_note_s_brackets_keep_off_its_stem_and_its_head(drawn: Drawn) -> None:
    drawing = drawn(sheet("flam tap", "funk with ghost notes"))
    left, right = glyphs(drawing, "E26A"), glyphs(drawing, "E26B")
    assert len(left) == len(right) >= 4
    across = [x for x, _, _ in stems(drawing, "h")]
    heads = [x for x, _ in drawing.heads.values()]
    for x, *_ in right:
        stem = max(place for place in across if place < x)
        assert x - stem > 40
    for x, *_ in left:
        assert min(head for head in heads if head > x) - x > 70


def test_the_z_of_a_buzz_is_smaller_than_other_signs_and_between_head_and_beam(drawn: Drawn) -> None:
    drawing = drawn(Sheet(phrase=build_sheet_phrase(find_figure("multiple bounce roll"))))
    signs = glyphs(drawing, "E22A")
    assert len(signs) == 4
    heads = {y for _, y in drawing.heads.values()}
    for (_, y, scale), (_, top, _) in zip(signs, stems(drawing, "h"), strict=True):
        assert scale < 0.72
        assert top < y < min(heads)


@pytest.mark.parametrize("name", ["flam tap", "drag", "flamacue", "triple ratamacue"])
def test_slurs_join_grace_and_main_and_keep_clear_of_a_kick_below(name: str, drawn: Drawn) -> None:
    drawing = drawn(sheet(name, "four on the floor", beats="4"))
    slurs = drawing.groups("slur")
    graced = [note for note in drawing.heads if note.endswith("g0")]
    assert len(slurs) == len(graced) > 0
    for slur, grace in zip(slurs, graced, strict=True):
        path = numbers(slur[0].get("d"))
        (x, y), main = drawing.heads[grace], drawing.heads[grace.removesuffix("g0")]
        assert x < path[0] < main[0] < path[6] < main[0] + HEAD
        assert y + SPACE / 2 <= max(path[1::2]) < y + 1.5 * SPACE, "a kick's head starts 1½ spaces below"


@pytest.mark.parametrize(
    ("groove", "kind"),
    [
        ("straight eighths", StepKind.CYMBALS),
        ("funk with ghost notes", StepKind.CYMBALS),
        ("swing ride", StepKind.LAST_BEAT),
        ("bossa nova", StepKind.TWO_BEATS),
    ],
)
def test_letters_keep_clear_of_the_feet(groove: str, kind: StepKind, drawn: Drawn) -> None:
    drawing = drawn(sheet("single paradiddle", groove, kind=kind))
    feet = stems(drawing, "f")
    for row in drawing.rows("stick"):
        for word in row:
            near = [bottom for x, _, bottom in feet if word.left - 60 < x < word.right + 60]
            assert word.y - 0.7 * word.size > max(near, default=0)


def test_words_are_under_the_middle_of_their_heads(drawn: Drawn) -> None:
    drawing = drawn(sheet("flam drag", "straight eighths", beats="2"))
    middles = {round(x + HEAD / 2) for x, _ in drawing.heads.values()}
    (row,) = drawing.rows("verse")
    assert all(min(abs(word.x - middle) for middle in middles) < 2 for word in row)


def test_the_numbers_of_tuplets_are_above_their_beams(drawn: Drawn) -> None:
    drawing = drawn(Sheet(phrase=build_sheet_phrase(find_figure("flam accent"))))
    beams = [min(numbers(p.get("points"))[1::2]) for g in drawing.groups("beam") for p in g if p.get("points")]
    signs = [y for code in ("E883",) for _, y, _ in glyphs(drawing, code)]
    assert len(signs) == 2
    assert all(y < min(beams) - 40 for y in signs)


def test_the_drawing_takes_its_colour_from_its_surroundings_and_carries_no_credit(drawn: Drawn) -> None:
    drawing = drawn(sheet("flam tap", "straight eighths"))
    assert not [
        e for e in drawing.root.iter() if e.tag.rpartition("}")[2] in ("style", "desc", "script", "image")
    ]
    colours = {e.get(name) for e in drawing.root.iter() for name in ("fill", "stroke", "color") if e.get(name)}
    assert colours <= {"currentColor", "none"}
    assert "http" not in drawing.svg.replace("http://www.w3.org/2000/svg", "")


def test_only_notes_and_repeated_bars_keep_their_ids(drawn: Drawn) -> None:
    drawing = drawn(sheet("single paradiddle", "straight eighths", beats="2"))
    ids = [e.get("id") for e in drawing.root.iter() if e.get("id") and not e.get("id").startswith("E")]
    assert ids
    assert all(re.fullmatch(r"b\d+([hf]\d+-\d+([gk]\d)?)?", matches) for matches in ids)
