import pytest

from fillwright.errors import UnknownNameError
from fillwright.music.surfaces import surfaces
from fillwright.sound.recipe import Membrane, Noise, Partials, Plate, kit, read_kit


def test_every_surface_has_a_recipe():
    assert set(surfaces()) <= set(kit().recipes)


def test_the_rest_are_the_clicks():
    assert set(kit().recipes) - set(surfaces()) == {"click", "accented click", "low click"}


def test_drums_are_heads_and_cymbals_are_plates():
    for name, recipe in kit().recipes.items():
        kinds = {type(part) for part in recipe.parts}
        if name in ("kick", "snare") or "tom" in name:
            assert Membrane in kinds, name
        elif name in surfaces() and surfaces()[name].is_cymbal:
            assert Plate in kinds, name
        else:
            assert Partials in kinds, name


def test_an_unknown_sound_is_refused_with_the_nearest():
    with pytest.raises(UnknownNameError, match='no sound in the kit called "snair"; did you mean "snare"'):
        kit().recipe("snair")


def test_a_table_is_read_whole():
    made = read_kit(
        {
            "kit": {"gain_db": 0.0, "velocity_power": 2.0},
            "room": {"t60": 0.1, "wait_ms": 1.0, "spectrum": [[100, 0], [1000, -3]]},
            "sound": [
                {
                    "name": "box",
                    "pan": 0.0,
                    "loud_db": -20.0,
                    "variations": 3,
                    "parts": [{"kind": "noise", "t60": 0.1, "spectrum": [[100, 0], [200, -6]]}],
                }
            ],
        }
    )
    assert made.recipe("box").parts == (Noise(t60=0.1, spectrum=((100, 0), (200, -6))),)
    assert made.room.spectrum == ((100, 0), (1000, -3))
    hash(made.recipe("box"))


@pytest.mark.parametrize("name", sorted(kit().recipes))
def test_curves_ascend(name):
    for part in kit().recipe(name).parts:
        for curve in (getattr(part, "spectrum", ()), getattr(part, "t60", ())):
            if isinstance(curve, tuple):
                hz = [point[0] for point in curve]
                assert hz == sorted(set(hz))


def test_variations_do_not_fit_a_bar():
    """A prime that divides no usual number of strokes, so that bars do not repeat each other's sounds."""
    for name in surfaces():
        assert kit().recipe(name).variations in (5, 7), name
