import numpy as np

from fillwright.sound.files.audio import Audio


def test_audio_knows_its_length():
    assert Audio(samples=np.zeros((22050, 2), np.float32)).seconds == 0.5
