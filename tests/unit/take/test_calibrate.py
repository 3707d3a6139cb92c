import json

import numpy as np
import pytest

from fillwright.errors import FillwrightError, UnknownNameError
from fillwright.listen.detected_take import DetectedTake, Onset
from fillwright.take.calibrate import calibrate, encode_calibration, parse_surface_names, read_calibration

NAMES = ("snare", "high tom")


def detect(count, **how):
    onsets = tuple(
        Onset(seconds=float(n), strength_db=20.0, loudness_db=-10.0 - n, timbre=np.arange(5.0) + n)
        for n in range(count)
    )
    return DetectedTake(onsets=onsets, seconds=count + 1.0, **how)


@pytest.fixture
def written(tmp_path):
    path = tmp_path / "kit.json"
    path.write_bytes(encode_calibration(calibrate(detect(8), NAMES)))
    return path


def test_four_strokes_on_each_in_the_order_said(written):
    found = read_calibration(written).strokes
    assert tuple(found) == NAMES
    assert [onset.loudness_db for onset in found["high tom"]] == [-14.0, -15.0, -16.0, -17.0]
    assert found["snare"][1].timbre == pytest.approx([1, 2, 3, 4, 5])


def test_doubtful_onsets_are_skipped():
    takes = detect(8)
    ghost = Onset(seconds=3.5, strength_db=2.0, loudness_db=-50.0, confidence=0.2)
    onsets = (*takes.onsets[:4], ghost, *takes.onsets[4:])
    assert len(calibrate(DetectedTake(onsets=onsets, seconds=9.0), NAMES).strokes["high tom"]) == 4


@pytest.mark.parametrize("count", [0, 7, 9, 12])
def test_another_number_of_strokes_is_an_error(count):
    with pytest.raises(FillwrightError, match=f"^The take has {count} strokes, not 8: 4 on each of 2 surfaces"):
        calibrate(detect(count), NAMES)


def test_an_electronic_kit_needs_no_calibration():
    with pytest.raises(FillwrightError, match="needs no calibration"):
        calibrate(detect(8, from_midi=True), NAMES)


@pytest.mark.parametrize(
    ("text", "error", "message"),
    [
        ("", FillwrightError, "needs two surfaces or more"),
        ("snare", FillwrightError, "needs two surfaces or more"),
        ("snare, hightom", UnknownNameError, 'did you mean "high tom"'),
        ("snare, high tom, snare", FillwrightError, '"snare" is there twice'),
    ],
)
def test_names_that_are_refused(text, error, message):
    with pytest.raises(error, match=message):
        parse_surface_names(text)


@pytest.mark.parametrize(
    ("change", "message"),
    [
        (lambda _table: [], "is not a calibration"),
        (lambda table: table | {"more": 1}, "is not a calibration"),
        (lambda table: table | {"version": 2}, "of version 2"),
        (lambda table: table | {"surfaces": {"snare": table["surfaces"]["snare"]}}, "is a damaged calibration"),
        (lambda table: table | {"surfaces": {**table["surfaces"], "rim": []}}, "is a damaged calibration"),
        (lambda table: table | {"surfaces": {**table["surfaces"], "bin": table["surfaces"]["snare"]}}, '"bin"'),
    ],
)
def test_a_file_of_another_shape_is_an_error(written, change, message):
    table = json.loads(written.read_text("utf-8"))
    written.write_text(json.dumps(change(table)), "utf-8")
    with pytest.raises(FillwrightError, match=message):
        read_calibration(written)


def test_a_missing_file(tmp_path):
    with pytest.raises(FillwrightError, match="can't be read"):
        read_calibration(tmp_path / "none.json")
