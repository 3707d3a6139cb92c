"""The kit as pages play it: everything that a fill can strike has its sound."""

from __future__ import annotations

import pytest
from tests.studio import LESSON

from fillwright.craft.kits import find_kit, kits
from fillwright.music.surfaces import surfaces
from fillwright.music.timing import STRAIGHT
from fillwright.studio import soundkit
from fillwright.studio.soundkit import _everything, _read, _written, playable, sound_kit
from fillwright.studio.work import worked


def test_every_surface_of_every_kit_sounds():
    struck = {hit.surface.name for bar in _everything().bars for hit in bar.hits}
    assert struck == set(surfaces())
    assert all(find_kit(name).has(each) for name in kits() for each in find_kit(name).spots if each in struck)


def test_names_of_the_table_lie_in_the_recording():
    kit = sound_kit()
    assert set(kit.names) <= set(kit.table["packed"]["sounds"]) | set(kit.table["rules"]["names"])
    assert len(kit.recording) > 100_000


def test_a_fill_is_played_with_sounds_of_the_kit():
    fill = worked(LESSON).fills[0]
    played = playable(fill.phrase, STRAIGHT)
    assert {row[3] for row in played["strokes"]} <= set(range(len(sound_kit().names)))
    assert 0 < played["span"][0] < played["span"][1] <= played["body"]


def test_what_is_kept_on_disk_is_read_back():
    kit = sound_kit()
    assert _read(_written(kit)) == kit


@pytest.mark.parametrize("broken", [b"", b"{}", b'{"table": {}, "names": [], "recording": "?"}'])
def test_a_broken_file_is_packed_anew(tmp_path, monkeypatch, broken):
    kit = sound_kit()
    monkeypatch.setattr(soundkit.platformdirs, "user_cache_path", lambda _: tmp_path)
    monkeypatch.setattr(soundkit, "_packed", lambda: kit)
    kept = tmp_path / f"studio-kit-{soundkit.program_digest()[:16]}.json"
    kept.write_bytes(broken)
    assert sound_kit.__wrapped__() == kit
    assert _read(kept.read_bytes()) == kit
