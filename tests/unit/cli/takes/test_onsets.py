import json

import numpy as np
import pytest
import soundfile

from fillwright.cli.main import main
from fillwright.sound.playalong.mix import mix
from fillwright.sound.playalong.strikes import Strike

PLACES = [0.5, 0.75, 1.25]


@pytest.fixture
def recording(tmp_path):
    samples = mix([Strike(name="snare", onset_seconds=at, velocity=90) for at in PLACES])
    soundfile.write(tmp_path / "take.wav", samples, 44_100)
    return str(tmp_path / "take.wav")


def test_onsets_are_listed_as_json(recording, capsys):
    assert main(["onsets", recording, "--json"]) == 0
    listed = json.loads(capsys.readouterr().out)
    assert listed["onsets"] == pytest.approx(PLACES, abs=0.001)
    assert {len(listed[key]) for key in ("onsets", "strength_db", "loudness_db", "confidence")} == {3}


def test_onsets_are_listed_as_a_table(recording, capsys):
    assert main(["onsets", recording]) == 0
    lines = capsys.readouterr().out.splitlines()
    assert lines[2].split()[:4] == ["0.7500", "s", "0.2500", "s"]
    assert lines[-1].startswith("3 strokes in ")


def test_silence_and_quiet(tmp_path, recording, capsys):
    soundfile.write(tmp_path / "silence.wav", np.zeros(44_100), 44_100)
    assert main(["onsets", str(tmp_path / "silence.wav")]) == 0
    assert capsys.readouterr().out == "No strokes were detected in 1.00 s.\n"
    assert main(["onsets", recording, "--quiet"]) == 0
    assert capsys.readouterr().out == ""


def test_a_file_that_is_not_a_recording_is_one_line(tmp_path, capsys):
    (tmp_path / "take.wav").write_text("words")
    assert main(["onsets", str(tmp_path / "take.wav")]) == 2
    assert capsys.readouterr().err.count("\n") == 1
