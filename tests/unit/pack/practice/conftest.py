"""Small lessons and a bank whose sounds can be told apart."""

import numpy as np
import pytest

from fillwright.lesson.file import parse_lesson
from fillwright.lesson.fills import build_fills

TEXT = """number = 3
title = "Small"
series = "Kitchen Table Fills"
tempo = [60, 90]
bars = {bars}
level = "professional"
{more}

[[figure]]
name = "{figure}"
groove = "{groove}"
steps = ["{step}"]
"""


class Tones:
    """Every sound a decaying ramp of its own; at most two variations."""

    def __init__(self, most=2):
        self.most = most
        self.asked = []

    def get_shot(self, name, velocity, index):
        self.asked.append((name, velocity, index))
        length = 2000 + 10 * len(name) + 100 * (index % self.most)
        ramp = np.linspace(1, 0, length, dtype=np.float32) * (velocity / 127) ** 2
        return np.stack([ramp, ramp / 2], axis=1)


@pytest.fixture
def tones():
    return Tones


@pytest.fixture
def lesson():
    """A lesson of one figure, and its fills."""

    def made(figure="single paradiddle", groove="straight eighths", step="whole bar", *, bars=2, more=""):
        words = {"figure": figure, "groove": groove, "step": step, "bars": bars, "more": more}
        lesson = parse_lesson(TEXT.format(**words))
        return lesson, build_fills(lesson).fills

    return made
