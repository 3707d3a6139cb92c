import os

import numpy as np
import pytest

from fillwright.sound.model.cache import CACHE_VARIABLE, SoundCache, find_cache_folder

DIGEST = "0123456789abcdef" * 4


def make_entry(seed=1):
    """Two variations of different lengths."""
    chance = np.random.default_rng(seed)
    return tuple(chance.normal(size=(length, 2)).astype(np.float32) for length in (300, 177))


def same(one, other):
    return len(one) == len(other) and all(map(np.array_equal, one, other))


def files(folder):
    return sorted(folder.iterdir())


def test_get_returns_the_shots_that_put_wrote(tmp_path):
    cache = SoundCache(tmp_path / "new" / "folder", DIGEST)
    assert cache.get("snare 112") is None
    cache.put("snare 112", make_entry())
    assert same(cache.get("snare 112"), make_entry())
    assert same(SoundCache(tmp_path / "new" / "folder", DIGEST).get("snare 112"), make_entry())


def test_another_name_or_another_bank_is_another_entry(tmp_path):
    SoundCache(tmp_path, DIGEST).put("snare 112", make_entry())
    assert SoundCache(tmp_path, DIGEST).get("snare 080") is None
    assert SoundCache(tmp_path, "f" * 64).get("snare 112") is None


def test_entries_are_read_only(tmp_path):
    cache = SoundCache(tmp_path, DIGEST)
    cache.put("kick 080", make_entry())
    with pytest.raises(ValueError, match="read-only"):
        cache.get("kick 080")[0][0] = 1.0


DAMAGES = {
    "cut short": lambda data: data[: len(data) // 2],
    "cut inside a word": lambda data: data[:-3],
    "empty": lambda _: b"",
    "longer": lambda data: data + b"12345678",
    "another file": lambda _: b"no sounds here, just words" * 100,
    "a bit of the samples": lambda data: data[:1000] + bytes([data[1000] ^ 1]) + data[1001:],
    "a bit of the lengths": lambda data: data[:25] + bytes([data[25] ^ 1]) + data[26:],
    "all zero": lambda data: bytes(len(data)),
}


@pytest.mark.parametrize("damage", DAMAGES.values(), ids=DAMAGES)
def test_a_damaged_entry_counts_as_missing_and_is_replaced(tmp_path, damage):
    cache = SoundCache(tmp_path, DIGEST)
    cache.put("kick 080", make_entry())
    (path,) = files(tmp_path)
    path.write_bytes(damage(path.read_bytes()))
    assert cache.get("kick 080") is None
    cache.put("kick 080", make_entry())
    assert same(cache.get("kick 080"), make_entry())


def test_a_folder_that_can_not_be_created_caches_nothing(tmp_path):
    (tmp_path / "file").write_text("in the way")
    cache = SoundCache(tmp_path / "file" / "folder", DIGEST)
    cache.put("kick 080", make_entry())
    assert cache.get("kick 080") is None


def test_a_read_only_folder_keeps_nothing(tmp_path, monkeypatch):
    def refuse(**_):
        raise PermissionError(13, "Permission denied")

    monkeypatch.setattr("tempfile.mkstemp", refuse)
    cache = SoundCache(tmp_path, DIGEST)
    cache.put("kick 080", make_entry())
    assert cache.get("kick 080") is None


def test_an_entry_is_written_atomically(tmp_path, monkeypatch):
    def full(*_):
        raise OSError(28, "No space left on device")

    cache = SoundCache(tmp_path, DIGEST)
    monkeypatch.setattr("pathlib.Path.replace", full)
    cache.put("kick 080", make_entry())
    assert files(tmp_path) == []


def test_the_least_recently_used_entry_is_deleted_first(tmp_path):
    one = sum(len(shot) * 8 for shot in make_entry()) + 100
    cache = SoundCache(tmp_path, DIGEST, most_bytes=3 * one)
    for number, name in enumerate(("a", "b", "c")):
        cache.put(name, make_entry())
        newest = max(files(tmp_path), key=lambda path: path.stat().st_mtime_ns)
        os.utime(newest, (number, number))
    assert cache.get("a") is not None  # used just now
    cache.put("d", make_entry())
    assert [name for name in "abcd" if cache.get(name)] == ["a", "c", "d"]
    assert sum(path.stat().st_size for path in files(tmp_path)) <= 3 * one


def test_an_entry_larger_than_the_limit_is_not_written(tmp_path):
    cache = SoundCache(tmp_path, DIGEST, most_bytes=1000)
    cache.put("a", make_entry())
    assert cache.get("a") is None


def test_the_environment_names_the_folder(monkeypatch, tmp_path):
    monkeypatch.setenv(CACHE_VARIABLE, str(tmp_path))
    assert find_cache_folder() == tmp_path
    monkeypatch.delenv(CACHE_VARIABLE)
    assert "fillwright" in str(find_cache_folder())
