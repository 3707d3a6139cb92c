"""Commands that are given a device or a pipe as their output."""

import os
import stat
import subprocess
import sys

import pytest

from fillwright.cli.main import main

pytestmark = pytest.mark.skipif(os.name == "nt", reason="Windows has no such files")

CHAINS = ["chains", "--figure", "single paradiddle", "--beats", "1", "--top", "1", "--quiet"]
SHEET = ["sheet", "--figure", "single paradiddle", "--bars", "1", "--quiet"]


def read_null():
    about = os.stat(os.devnull)
    return about.st_ino, about.st_rdev, about.st_mode


def test_a_drawing_goes_to_the_null_device_and_the_device_stays():
    before = read_null()
    assert main([*CHAINS, "--svg", os.devnull]) == 0
    assert read_null() == before
    assert not [name for name in os.listdir("/dev") if name.startswith(".fillwright")]


def test_a_backup_goes_to_the_null_device_and_the_device_stays(tmp_path):
    before = read_null()
    code = "from pathlib import Path; from fillwright.studio.serve import *; set_up(Path('studio'))"
    subprocess.run([sys.executable, "-c", code], cwd=tmp_path, check=True)
    assert main(["backup", "--folder", str(tmp_path / "studio"), "-o", os.devnull, "--quiet"]) == 0
    assert read_null() == before


def test_a_pipe_without_a_reader_is_one_sentence(tmp_path, capsys):
    os.mkfifo(tmp_path / "pipe.svg")
    assert main([*SHEET, "-o", str(tmp_path / "pipe.svg")]) == 2
    assert capsys.readouterr().err.endswith("is a pipe without a reader; start its reader first.\n")
    assert stat.S_ISFIFO((tmp_path / "pipe.svg").stat().st_mode)


@pytest.mark.parametrize("command", [["lesson", "{}/lesson.toml"], ["demo"]])
def test_a_pack_is_not_built_into_a_device(tmp_path, capsys, command):
    (tmp_path / "lesson.toml").write_text('number = 1\ntitle = "x"\n[[figure]]\nname = "flam tap"\n')
    before = read_null()
    assert main([*(word.format(tmp_path) for word in command), "-o", os.devnull]) == 2
    assert f'"{os.devnull}" is a file; give the name of a folder.' in capsys.readouterr().err
    assert read_null() == before
