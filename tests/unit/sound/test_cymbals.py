import numpy as np

from fillwright.sound.cymbals import plate_modes
from fillwright.sound.modal import TOP_HZ


def test_plate_modes_are_many_and_below_the_top():
    hz = plate_modes("gong", 30.0, 1.6)
    assert len(hz) > 600
    assert hz[-1] < TOP_HZ
    assert np.all(np.diff(hz) >= 0)
