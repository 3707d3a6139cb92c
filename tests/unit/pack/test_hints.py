from dataclasses import replace

import pytest

from fillwright.lesson.file import parse_lesson
from fillwright.lesson.fills import build_fills
from fillwright.pack.hints import describe_grade, describe_hint, describe_top_tempo

TEXT = """number = 1
title = "x"
tempo = [60]
{head}
[[figure]]
name = "{figure}"
steps = ["{step}"]
"""


def first(figure="five stroke roll", step="whole bar", head=""):
    return build_fills(parse_lesson(TEXT.format(figure=figure, step=step, head=head))).fills[0]


def test_the_hint_names_the_limb_and_the_beat_of_the_reason():
    for step in ("last beat", "whole bar", "round the kit", "accents to the toms"):
        fill = first(step=step)
        limb, _, beat = describe_hint(fill).partition(" on beat ")
        assert fill.reason.startswith(limb)
        assert fill.reason.endswith(f"beat {beat}")


def test_a_left_handed_player_watches_the_other_hand():
    right, left = first(), first(head='hand = "left"')
    assert {describe_hint(right)[:5], describe_hint(left)[:5]} == {"right", "left "}
    assert describe_hint(right).split(" hand ")[1] == describe_hint(left).split(" hand ")[1]


@pytest.mark.parametrize(
    ("bpm", "words"), [(128.9, "128 bpm"), (400.0, "400 bpm"), (float("inf"), "over 400 bpm")]
)
def test_the_top_tempo_is_a_whole_number_or_beyond_what_can_be_played(bpm, words):
    fill = first()
    route = replace(fill.step.route, ceiling_bpm=bpm)
    assert describe_top_tempo(replace(fill, step=replace(fill.step, route=route))) == words


def test_a_single_stroke_has_nothing_to_watch():
    fill = first()
    route = replace(fill.step.route, demands=(), grade=1, ceiling_bpm=float("inf"))
    alone = replace(fill, step=replace(fill.step, route=route))
    assert describe_hint(alone) == ""
    assert describe_grade(alone) == "Grade 1, top tempo over 400 bpm."
