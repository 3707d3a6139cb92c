"""The kit as pages play it: everything that a fill can strike has its sound, each fetched by itself."""

from __future__ import annotations

import io
import json
import os
import struct

import pytest
import soundfile

from fillwright.craft.player.kits import find_kit, load_kits
from fillwright.errors import NotThereError
from fillwright.music.surfaces import load_surfaces
from fillwright.music.timing import STRAIGHT
from fillwright.studio.sounds import kit_sounds as soundkit
from fillwright.studio.sounds.kit_sounds import _build_phrase, build_player_data, list_layers, load_layer
from fillwright.studio.sounds.open_sounds import Sounds, get_modelled_kit
from fillwright.studio.work.lessons import plan_text
from tests.studio import LESSON

CLICK = list_layers(get_modelled_kit())["layers"]["click"][0][1]


@pytest.fixture
def cache(tmp_path, monkeypatch):
    """An empty cache."""
    monkeypatch.setattr(soundkit.platformdirs, "user_cache_path", lambda _: tmp_path)
    return tmp_path


def _parted(content):
    (length,) = struct.unpack_from(">I", content)
    return json.loads(content[4 : 4 + length]), content[4 + length :]


def test_every_surface_of_every_kit_sounds():
    struck = {hit.surface.name for bar in _build_phrase().bars for hit in bar.hits}
    assert struck == set(load_surfaces())
    assert all(
        find_kit(name).has(each) for name in load_kits() for each in find_kit(name).spots if each in struck
    )


def test_every_sound_of_the_table_has_layers_of_rising_loudness():
    table = list_layers(get_modelled_kit())
    assert list(table["layers"]) == list(table["rules"]["names"])
    numbers = [number for layers in table["layers"].values() for _, number in layers]
    assert numbers == list(range(1, len(numbers) + 1))
    for layers in table["layers"].values():
        velocities = [velocity for velocity, _ in layers]
        assert velocities == sorted(set(velocities)) != []


def test_a_layer_is_a_recording_that_says_where_its_sounds_lie():
    ((velocity, number), *_) = list_layers(get_modelled_kit())["layers"]["kick"]
    head, recording = _parted(load_layer(get_modelled_kit(), number))
    assert head["bytes"] == len(recording)
    ((found, shots),) = head["sounds"]["kick"]["layers"]
    assert (found, list(head["sounds"])) == (velocity, ["kick"])
    audio, rate = soundfile.read(io.BytesIO(recording))
    assert rate == head["rate"]
    assert all(start > 0 and head["pulse"] + start + length <= len(audio) for start, length in shots)
    assert len(shots) > 1
    assert head["sounds"]["kick"]["power"] > 0.5


@pytest.mark.parametrize("number", [0, -1, 10_000])
def test_there_are_no_others(number):
    with pytest.raises(NotThereError, match="no such sound"):
        load_layer(get_modelled_kit(), number)


def test_a_fill_is_played_with_sounds_of_the_kit():
    fill = plan_text(LESSON).fills[0]
    played = build_player_data(fill.phrase, STRAIGHT)
    names = list_layers(get_modelled_kit())["rules"]["names"]
    assert {row[3] for row in played["strokes"]} <= set(range(len(names)))
    assert 0 < played["span"][0] < played["span"][1] <= played["body"]


def test_what_is_kept_on_disk_is_read_back(cache, monkeypatch):
    first = load_layer.__wrapped__(get_modelled_kit(), CLICK)
    assert (cache / f"studio-kit-{get_modelled_kit().digest}" / f"{CLICK}").read_bytes() == first
    monkeypatch.setattr(soundkit, "_render_layer", lambda *_: pytest.fail("made again"))
    assert load_layer.__wrapped__(get_modelled_kit(), CLICK) == first


@pytest.mark.parametrize("broken", [b"", b"\0\0\0\2{}", b"\xff" * 9, b"\0\0\0\2[]", None])
def test_what_is_broken_on_disk_is_made_anew(cache, broken):
    first = load_layer.__wrapped__(get_modelled_kit(), CLICK)
    kept = cache / f"studio-kit-{get_modelled_kit().digest}" / f"{CLICK}"
    kept.write_bytes(first[:-100] if broken is None else broken)
    assert load_layer.__wrapped__(get_modelled_kit(), CLICK) == first
    assert kept.read_bytes() == first


def test_kits_long_unused_are_deleted(cache):
    for number in range(12):
        folder = cache / f"studio-kit-{number}"
        folder.mkdir()
        (folder / "1").write_bytes(b"")
        os.utime(folder, (number, number))
    (cache / "other").mkdir()
    load_layer.__wrapped__(get_modelled_kit(), CLICK)
    kept = {f"studio-kit-{number}" for number in range(5, 12)}
    assert {path.name for path in cache.iterdir()} == {
        *kept,
        f"studio-kit-{get_modelled_kit().digest}",
        "other",
    }


def test_other_sounds_are_kept_apart(cache):
    other = Sounds(digest="another")
    load_layer(other, CLICK)
    assert (cache / "studio-kit-another" / f"{CLICK}").is_file()
    assert other != get_modelled_kit()


def test_browsers_keep_a_layer_and_never_that_of_other_sounds(school, cache):
    with school.browser("ada") as ada:
        found = ada.get(f"/sound/kit/{get_modelled_kit().digest}/{CLICK}")
        assert (found.status, found.headers["cache-control"]) == (200, "private, max-age=31536000, immutable")
        assert found.content == load_layer(get_modelled_kit(), CLICK)
        assert ada.get(f"/sound/kit/{'0' * 32}/{CLICK}").status == 404
        assert ada.get(f"/sound/kit/{get_modelled_kit().digest}/10000").status == 404
        assert "max-age" not in ada.get("/sound/kit.json").headers["cache-control"]
