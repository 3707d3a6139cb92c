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
    made = mix([Strike(name="snare", onset_seconds=at, velocity=90) for at in PLACES])
    soundfile.write(tmp_path / "take.wav", made, 44_100)
    return str(tmp_path / "take.wav")


def test_onsets_are_listed_as_json(recording, capsys):
    assert main(["onsets", recording, "--json"]) == 0
    told = json.loads(capsys.readouterr().out)
    assert told["onsets"] == pytest.approx(PLACES, abs=0.001)
    assert {len(told[key]) for key in ("onsets", "strength_db", "level_db", "trust")} == {3}


def test_onsets_are_listed_as_a_table(recording, capsys):
    assert main(["onsets", recording]) == 0
    lines = capsys.readouterr().out.splitlines()
    assert lines[2].split()[:2] == ["0.7500", "0.2500"]
    assert lines[-1].startswith("3 strokes in ")


def test_silence_and_quiet(tmp_path, recording, capsys):
    soundfile.write(tmp_path / "silence.wav", np.zeros(44_100), 44_100)
    assert main(["onsets", str(tmp_path / "silence.wav")]) == 0
    assert capsys.readouterr().out == "No stroke is heard in 1.00 s.\n"
    assert main(["onsets", recording, "--quiet"]) == 0
    assert capsys.readouterr().out == ""


def test_what_is_no_recording_is_one_sentence(tmp_path, capsys):
    (tmp_path / "take.wav").write_text("words")
    assert main(["onsets", str(tmp_path / "take.wav")]) == 2
    assert capsys.readouterr().err.count("\n") == 1
