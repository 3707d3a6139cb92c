"""The plan of the kit: circles for what is struck, numbers in time, a line of its own kind for each hand."""

from __future__ import annotations

import re
import xml.etree.ElementTree as ET
from fractions import Fraction

import pytest

from fillwright.craft.brief import Brief, StepKind
from fillwright.craft.player.kits import PART_OF, Kit, find_kit, load_kits
from fillwright.craft.player.players import find_player
from fillwright.craft.steps import Step, plan_steps
from fillwright.errors import UnknownNameError
from fillwright.music.hit import Hit
from fillwright.music.meter import find_meter
from fillwright.music.rudiments import find_figure
from fillwright.music.stroke import Limb, Stroke
from fillwright.music.surfaces import find_surface
from fillwright.score.engraving.kit_plan import HAND_COLOURS, draw_kit, draw_kit_plan, format_numbers

SVG = "{http://www.w3.org/2000/svg}"


def step(figure: str, kind: StepKind, kit: str = "five-piece") -> Step:
    brief = Brief(
        figure=find_figure(figure),
        meter=find_meter("4/4"),
        kinds=(kind,),
        kit=find_kit(kit),
        player=find_player("professional"),
    )
    return plan_steps(brief).steps[-1]


def strike(at: int, name: str, hand: Limb) -> Hit:
    return Hit(
        at=Fraction(at, 16), length=Fraction(1, 16), stroke=Stroke(hand=hand), surface=find_surface(name)
    )


def labels(svg: str) -> dict[str, str]:
    """Return the numbers on each surface, by its name."""
    found = {}
    for text in ET.fromstring(svg).iter(f"{SVG}text"):
        name = text.find(f"{SVG}title")
        assert name is not None
        found[str(name.text)] = str(name.tail)
    return found


def lines(svg: str, colour: str) -> list[ET.Element]:
    return [path for path in ET.fromstring(svg).iter(f"{SVG}path") if path.get("stroke") == colour]


def test_strokes_are_numbered_in_time_on_the_surface_they_strike() -> None:
    hits = step("single paradiddle", StepKind.ROUND).fill.hits
    assert labels(draw_kit_plan(hits, find_kit("five-piece")).svg) == {
        "snare": "1–4",
        "high tom": "5–8",
        "mid tom": "9–12",
        "floor tom": "13–16",
    }


def test_strokes_at_one_time_have_one_number_and_the_foot_is_on_its_pedal() -> None:
    hits = [strike(0, "snare", Limb.RIGHT), strike(1, "crash", Limb.LEFT), strike(1, "kick", Limb.RIGHT_FOOT)]
    assert labels(draw_kit_plan(hits, find_kit("five-piece")).svg) == {"snare": "1", "crash": "2", "kick": "2"}


def test_rim_and_open_hi_hat_belong_to_their_drum_and_cymbal() -> None:
    hits = [
        strike(0, "rim", Limb.LEFT),
        strike(1, "open hi-hat", Limb.RIGHT),
        strike(2, "ride bell", Limb.RIGHT),
    ]
    assert labels(draw_kit_plan(hits, find_kit("five-piece")).svg) == {
        "snare": "1",
        "hi-hat": "2",
        "ride bow": "3",
    }


def test_the_right_hand_is_a_solid_line_and_the_left_a_dashed_one() -> None:
    svg = draw_kit_plan(step("single paradiddle", StepKind.ROUND).fill.hits, find_kit("five-piece")).svg
    right, left = (lines(svg, HAND_COLOURS[hand]) for hand in (Limb.RIGHT, Limb.LEFT))
    assert len(right) == len(left) == 3
    assert all(line.get("stroke-dasharray") is None for line in right)
    assert all(line.get("stroke-dasharray") for line in left)


def test_a_way_played_again_and_again_is_drawn_once() -> None:
    hits = [strike(n, ("snare", "floor tom")[n % 2], Limb.RIGHT) for n in range(8)]
    assert len(lines(draw_kit_plan(hits, find_kit("five-piece")).svg, HAND_COLOURS[Limb.RIGHT])) == 2


def test_a_hand_that_stays_has_a_dot_and_no_line() -> None:
    svg = draw_kit_plan([strike(n, "snare", Limb.LEFT) for n in range(3)], find_kit("five-piece")).svg
    assert not lines(svg, HAND_COLOURS[Limb.LEFT])
    assert svg.count(f'fill="{HAND_COLOURS[Limb.LEFT]}"') == 1
    assert HAND_COLOURS[Limb.RIGHT] not in svg


@pytest.mark.parametrize("kit", list(load_kits().values()), ids=list(load_kits()))
def test_everything_drawn_lies_inside(kit: Kit) -> None:
    hits = [strike(n, name, Limb.RIGHT) for n, name in enumerate(kit.spots)]
    drawn = draw_kit_plan(hits, kit)
    root = ET.fromstring(drawn.svg)
    left, top, width, height = map(float, root.get("viewBox", "").split())
    assert (width, height) == (pytest.approx(drawn.width_cm), pytest.approx(drawn.height_cm))
    for circle in root.iter(f"{SVG}circle"):
        x, y, r = (float(circle.get(key, "")) for key in ("cx", "cy", "r"))
        assert left <= x - r <= x + r <= left + width
        assert top <= y - r <= y + r <= top + height


def test_a_mirrored_kit_is_drawn_the_other_way_round() -> None:
    kit = find_kit("four-piece")
    hits = [strike(0, "floor tom", Limb.RIGHT)]
    places = [
        float(re.findall(r'<text x="(\S+)"', draw_kit_plan(hits, each).svg)[0]) for each in (kit, kit.mirror())
    ]
    assert places[0] == -places[1] > 0


def test_the_same_drawing_twice() -> None:
    hits = step("flam accent", StepKind.ACCENTS).fill.hits
    assert draw_kit_plan(hits, find_kit("five-piece")) == draw_kit_plan(hits, find_kit("five-piece"))


def test_a_surface_that_the_kit_lacks_is_refused() -> None:
    with pytest.raises(UnknownNameError, match="no surface on the practice pad kit called"):
        draw_kit_plan([strike(0, "floor tom", Limb.RIGHT)], find_kit("practice pad"))


@pytest.mark.parametrize(
    ("numbers", "room", "words"),
    [
        ([1], 7, "1"),
        ([1, 2], 7, "1 2"),
        ([1, 2, 3], 7, "1–3"),
        ([4, 8, 12, 16], 11, "4 8 12 16"),
        ([4, 8, 12, 16], 8, "4 8 … 16"),
        ([4, 8, 12, 16], 6, "4 … 16"),
    ],
)
def test_numbers_in_few_words(numbers: list[int], room: int, words: str) -> None:
    assert format_numbers(numbers, room) == words


@pytest.mark.parametrize("kit", load_kits().values(), ids=lambda kit: kit.name)
def test_a_whole_kit_shows_everything_with_a_place_of_its_own(kit: Kit) -> None:
    drawn = ET.fromstring(draw_kit(kit).svg)
    places = {name for name in kit.spots if name not in PART_OF}
    assert len([*drawn.iter(f"{SVG}circle"), *drawn.iter(f"{SVG}rect")]) == len(places)
    named = {text.text for text in drawn.iter(f"{SVG}text")}
    assert named <= {find_surface(name).label for name in places}
    assert {find_surface(name).label for name in places - {"kick"}} <= named  # the toms may lie over the kick


def test_whole_kits_have_one_scale() -> None:
    def centimetre(name: str) -> float:
        drawn = ET.fromstring(draw_kit(find_kit(name)).svg)
        return float(drawn.attrib["width"]) / float(drawn.attrib["viewBox"].split()[2])

    assert centimetre("practice pad") == pytest.approx(centimetre("six-piece"))
