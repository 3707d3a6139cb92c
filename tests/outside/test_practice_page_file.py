"""The practice page as a file: light enough for a mail, and its sounds the bank's own whatever decodes them.

Decoders differ in the silence that they leave before an MP3; the pulse at its start must make up for that.

Source: PyAV (its MP3 decoder beside libsndfile's)
Source: ISO/IEC 11172-3, MPEG-1 audio (decoders' delay, from memory)
"""

import base64
import io
import json

import av
import numpy as np
import pytest
import soundfile
from lxml import html

from fillwright.lesson.file import parse_lesson, read_demo_text
from fillwright.lesson.fills import build_fills
from fillwright.pack.practice.page import build_practice_page
from fillwright.sound.model.bank import default_bank

FILLS = 24
MOST_BYTES = 3_000_000
RATE = 44100


@pytest.fixture(scope="module")
def page():
    lesson = parse_lesson(read_demo_text())
    return build_practice_page(lesson, build_fills(lesson).fills[:FILLS])


@pytest.fixture(scope="module")
def parts(page):
    tree = html.fromstring(page)
    data = json.loads(tree.get_element_by_id("data").text)
    return data["packed"], base64.b64decode(tree.get_element_by_id("recording").text)


def test_a_lesson_of_24_fills_is_lighter_than_three_megabytes(page):
    assert len(page.encode("utf-8")) < MOST_BYTES


def by_libsndfile(recording):
    return soundfile.read(io.BytesIO(recording), dtype="float32")[0].T


def by_pyav(recording):
    with av.open(io.BytesIO(recording)) as container:
        frames = [frame.to_ndarray() for frame in container.decode(audio=0)]
    return np.concatenate(frames, axis=1).astype(np.float32)


def with_its_delay(recording):
    """What a decoder that knows nothing of the encoder's note on its delay gives: silence before everything."""
    return np.concatenate([np.zeros((2, 1105), np.float32), by_libsndfile(recording)], axis=1)


@pytest.mark.parametrize("decoded", [by_libsndfile, by_pyav, with_its_delay])
def test_every_sound_starts_at_its_place_behind_the_pulse(parts, decoded):
    packed, recording = parts
    assert packed["rate"] == RATE
    samples = decoded(recording)
    top = int(np.argmax(samples[0, : round(2.2 * packed["pulse"])]))
    for name, sound in packed["sounds"].items():
        for velocity, shots in sound["layers"]:
            start, length = shots[0]
            true = default_bank().get_shot(name, velocity, 0)[: min(length, 2000)].T
            found = samples[:, top + start - 8 : top + start + true.shape[1] + 8]
            likeness = [
                float(np.sum(found[:, lag : lag + true.shape[1]] * true))
                for lag in range(found.shape[1] - true.shape[1])
            ]
            assert abs(int(np.argmax(likeness)) - 8) <= 1, (name, velocity)


def test_every_sound_keeps_its_loudness(parts):
    packed, recording = parts
    samples = by_libsndfile(recording)
    top = int(np.argmax(samples[0, : round(2.2 * packed["pulse"])]))
    for name, sound in packed["sounds"].items():
        for velocity, shots in sound["layers"]:
            start, length = shots[0]
            true = default_bank().get_shot(name, velocity, 0)[: min(length, 4410)]
            found = samples[:, top + start : top + start + len(true)].T
            off_db = 10 * np.log10(np.sum(found**2) / np.sum(true**2))
            assert abs(off_db) <= 0.5, (name, velocity)
