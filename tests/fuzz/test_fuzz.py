"""The short form of `make fuzz`, and every input that once crashed a reader.

FUZZ_SECONDS is the time of each reader (1).
"""

from __future__ import annotations

import os
from random import Random

import pytest

from tests.fuzz.mutate import LONGEST, mutate
from tests.fuzz.readers import READERS, SEEDS, read_crashes
from tests.fuzz.run import list_readers, run_reader
from tests.fuzz.worker import MOST_SECONDS, Figures, read_all

SECONDS = float(os.environ.get("FUZZ_SECONDS", "1"))


@pytest.mark.parametrize("name", list_readers())
def test_a_reader_takes_or_refuses_everything(name, tmp_path):
    figures = run_reader(name, SECONDS, seed=2, kept=tmp_path)
    assert figures.failures == {}
    assert figures.inputs > 5
    assert figures.slowest_s <= MOST_SECONDS


def test_every_folder_of_seeds_belongs_to_a_reader():
    assert {folder.name for folder in SEEDS.iterdir() if folder.is_dir()} <= set(list_readers())


@pytest.mark.parametrize("name", [name for name in READERS if read_crashes(name)])
def test_inputs_that_once_crashed_are_refused_or_read(name, tmp_path, monkeypatch):
    monkeypatch.setattr("tests.fuzz.readers.Reader.make_inputs", lambda *_: read_crashes(name))
    monkeypatch.setattr("tests.fuzz.worker._limit_addresses", lambda: None)
    figures = read_all(name, 60, 1, tmp_path)
    assert figures.failures == {}
    assert figures.inputs >= len(read_crashes(name))


def test_a_crash_a_slow_input_and_a_large_one_are_noticed(tmp_path, monkeypatch):
    def read(content, folder):
        if b"crash" in content:
            raise KeyError("crash")
        if b"slow" in content:
            while True:
                pass

    inputs = [b"fine", b"a long crash", b"crash", b"slow"]
    monkeypatch.setattr("tests.fuzz.worker.MOST_SECONDS", 0.2)
    monkeypatch.setattr("tests.fuzz.worker._find_reader", lambda *_: (read, inputs, []))
    monkeypatch.setattr("tests.fuzz.worker._limit_addresses", lambda: None)
    figures = read_all("mine", 60, 1, tmp_path)
    assert isinstance(figures, Figures)
    assert (figures.inputs, figures.refused, sorted(figures.failures)) == (
        4,
        0,
        ["KeyError at the tests", "more than 0 s"],
    )
    kept = {(tmp_path / path).read_bytes() for path in figures.failures.values()}
    assert kept == {b"crash", b"slow"}


def test_mutations_depend_on_the_seed_alone_and_stay_short():
    made = [mutate([b"abc = 1\n" * 50, b"x"], random, text=True) for random in map(Random, range(500))]
    assert made == [mutate([b"abc = 1\n" * 50, b"x"], random, text=True) for random in map(Random, range(500))]
    assert len(set(made)) > 300
    assert max(map(len, made)) <= LONGEST
