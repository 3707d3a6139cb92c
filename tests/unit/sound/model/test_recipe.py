import pytest

from fillwright.craft.player.kits import find_kit
from fillwright.errors import UnknownNameError
from fillwright.music.surfaces import load_surfaces
from fillwright.sound.model.bank import resolve_surface
from fillwright.sound.model.part_types import Membrane, Noise, Partials, Plate
from fillwright.sound.model.recipe import load_kit_recipes, parse_kit_recipes

CLICKS = {"click", "accented click"}


def test_every_surface_has_a_recipe():
    assert set(load_surfaces()) <= set(load_kit_recipes().recipes)


def test_the_rest_are_clicks_and_articulations():
    clicks = {"click", "accented click", "low click"}
    assert set(load_kit_recipes().recipes) - set(load_surfaces()) == clicks | set(
        load_kit_recipes().articulations
    )


def test_drums_are_heads_and_cymbals_are_plates():
    for name, recipe in load_kit_recipes().recipes.items():
        kinds = {type(part) for part in recipe.parts}
        of = resolve_surface(name)
        if "snare" in name or "tom" in name or name == "kick":
            assert Membrane in kinds, name
        elif of in load_surfaces() and load_surfaces()[of].is_cymbal:
            assert Plate in kinds, name
        else:
            assert Partials in kinds, name


def test_an_unknown_sound_is_refused_with_the_nearest():
    with pytest.raises(UnknownNameError, match='no sound in the kit called "snair"; did you mean "snare"'):
        load_kit_recipes().find_recipe("snair")


def test_every_field_of_a_table_is_read():
    made = parse_kit_recipes(
        {
            "kit": {"gain_db": 0.0, "velocity_power": 2.0},
            "room": {
                "size": [4.0, 5.0, 3.0],
                "seat": [2.0, 1.5],
                "wall": [[100, -3], [9000, -9]],
                "tail_db": -3.0,
                "wait_ms": 10.0,
                "spectrum": [[100, 0], [1000, -3]],
                "t60": [[100, 0.3], [9000, 0.2]],
            },
            "sound": [
                {
                    "name": "box",
                    "position": [0.5, 1.0],
                    "loud_db": -20.0,
                    "variations": 3,
                    "parts": [{"kind": "noise", "t60": 0.1, "spectrum": [[100, 0], [200, -6]]}],
                }
            ],
        }
    )
    assert made.find_recipe("box").parts == (Noise(t60=0.1, spectrum=((100, 0), (200, -6))),)
    assert made.find_recipe("box").position == (0.5, 1.0)
    assert made.room.spectrum == ((100, 0), (1000, -3))
    hash(made.find_recipe("box"))


@pytest.mark.parametrize("name", sorted(load_kit_recipes().recipes))
def test_curves_ascend(name):
    for part in load_kit_recipes().find_recipe(name).parts:
        for curve in (getattr(part, "spectrum", ()), getattr(part, "t60", ())):
            if isinstance(curve, tuple):
                hz = [point[0] for point in curve]
                assert hz == sorted(set(hz))


def test_variations_do_not_fit_a_bar():
    """A prime that divides no usual number of strokes, so that bars do not repeat each other's sounds."""
    for name in load_surfaces():
        assert load_kit_recipes().find_recipe(name).variations in (3, 5, 7, 11, 13), name


def test_drums_stand_where_the_plan_has_them():
    spot = find_kit("six-piece").spot("floor tom")
    assert load_kit_recipes().find_recipe("floor tom").position == (spot.x / 100, spot.y / 100)
    assert (
        load_kit_recipes().find_recipe("snare ghost").position
        == load_kit_recipes().find_recipe("snare").position
    )
    assert (
        load_kit_recipes().find_recipe("second floor tom").position
        != load_kit_recipes().find_recipe("floor tom").position
    )
    assert load_kit_recipes().find_recipe("click").position[0] == 0


def test_a_left_handed_kit_is_the_mirror_image():
    for name, recipe in load_kit_recipes(mirrored=True).recipes.items():
        x, y = load_kit_recipes().find_recipe(name).position
        assert recipe.position == (-x, y)
