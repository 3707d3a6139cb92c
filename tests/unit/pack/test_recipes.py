import hashlib
from importlib.metadata import version

import pytest

from fillwright.pack import recipes
from fillwright.pack.recipes import Recipe, hash_bytes, hash_program


def recipe(**changes):
    return Recipe(**{"paths": ("a",), "ingredients": (1, "x"), "make": lambda: (b"",), **changes})


@pytest.fixture
def program(tmp_path, monkeypatch):
    """A program of two files in place of ours."""
    (tmp_path / "part").mkdir()
    (tmp_path / "one.py").write_text("x = 1")
    (tmp_path / "part" / "kit.toml").write_text("y = 2")
    monkeypatch.setattr(recipes, "files", lambda _: tmp_path)
    yield tmp_path
    hash_program.cache_clear()


def anew():
    hash_program.cache_clear()
    return hash_program()


def test_a_digest_is_sha_256():
    # FIPS 180-2, appendix B.1: the digest of "abc"; from memory.
    assert hash_bytes(b"abc") == "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad"
    assert hash_bytes(b"") == hashlib.sha256().hexdigest()


def test_the_same_recipe_has_the_same_key():
    assert recipe().key == recipe(make=lambda: (b"other",), heavy=True).key


@pytest.mark.parametrize("changes", [{"paths": ("b",)}, {"paths": ("a", "b")}, {"ingredients": (1, "y")}])
def test_another_recipe_has_another_key(changes):
    assert recipe(**changes).key != recipe().key


def test_another_program_gives_another_key(program):
    before = recipe().key
    (program / "one.py").write_text("x = 2")
    hash_program.cache_clear()
    assert recipe().key != before


@pytest.mark.parametrize(
    "name", ["one.py", "part/kit.toml", "new.typ", "part/new.py", "a.html", "a.css", "a.mjs"]
)
def test_every_source_counts(program, name):
    before = anew()
    (program / name).write_text("changed")
    assert anew() != before


def test_a_file_moved_counts(program):
    before = anew()
    (program / "one.py").rename(program / "two.py")
    assert anew() != before


@pytest.mark.parametrize("name", ["__pycache__/one.pyc", "__pycache__/one.py", "notes.txt"])
def test_what_is_no_source_does_not_count(program, name):
    before = anew()
    (program / name).parent.mkdir(exist_ok=True)
    (program / name).write_text("changed")
    assert anew() == before


@pytest.mark.parametrize("name", ["mido", "numpy", "scipy", "soundfile", "typst", "verovio"])
def test_the_libraries_that_make_files_count(program, monkeypatch, name):
    before = anew()
    monkeypatch.setattr(recipes, "version", lambda each: "0" if each == name else version(each))
    assert anew() != before
