"""Sounds of a teacher's choice: only those in the folder, only that teacher's, and reported if they fail."""

from __future__ import annotations

import io
import os
import shutil
from pathlib import Path

import numpy as np
import pytest
import soundfile

from fillwright.store.settings import read_settings
from fillwright.store.transaction import begin_reading
from fillwright.studio.sounds.open_sounds import get_modelled_kit, list_sounds, open_by_name
from fillwright.studio.work.builds import Builds, find_newest_pack
from fillwright.studio.work.lessons import plan_text
from tests.needs import need, need_fluidsynth
from tests.soundfonts import Drum, soundfont, stroke
from tests.studio import LESSON, SETTINGS

OTHERS = Path("/usr/share/sounds/sf2/TimGM6mb.sf2")
MAP = '[[sound]]\nsurface = "snare"\nfiles = ["snare.wav"]\n'
SHORT = LESSON.replace('tempo = "60..80 step 10"', 'tempo = "60"\naudio = "wav"\nsteps = ["last beat"]')


def recordings(folder: Path, *, hz: float = 200.0, map_text: str = MAP) -> Path:
    """A folder with a snare."""
    folder.mkdir(parents=True)
    soundfile.write(folder / "snare.wav", stroke(hz), 44_100)
    (folder / "sounds.toml").write_text(map_text, "utf-8")
    return folder


@pytest.fixture
def folder(school):
    """The school's folder of sounds, with one folder of recordings in it."""
    recordings(school.setup.sounds / "my drums")
    return school.setup.sounds


def _chosen(school, teacher):
    with begin_reading(school.setup.store, teacher.teacher) as transaction:
        return read_settings(transaction).get("sounds")


def _kit(school, who):
    with school.browser(who) as browser:
        return browser.get("/sound/kit.json").text


class TestListed:
    def test_soundfonts_and_folders_by_name(self, tmp_path):
        recordings(tmp_path / "b drums")
        for name in ("a.sf2", "C.SF3", ".hidden.sf2", "notes.txt", "a\nb.sf2", "x" * 130 + ".sf2"):
            (tmp_path / name).touch()
        assert list(list_sounds(tmp_path)) == ["C.SF3", "a.sf2", "b drums"]

    def test_no_folder_lists_nothing(self, tmp_path):
        assert list_sounds(tmp_path / "none") == {}

    def test_links_that_lead_out_are_passed_over(self, tmp_path):
        inside, outside = tmp_path / "sounds", tmp_path / "outside"
        recordings(outside / "theirs")
        (outside / "theirs.sf2").touch()
        recordings(inside / "mine")
        (inside / "linked").symlink_to(outside / "theirs")
        (inside / "linked.sf2").symlink_to(outside / "theirs.sf2")
        (inside / "up").symlink_to(inside)
        (inside / "round.sf2").symlink_to(inside / "round.sf2")
        (inside / "half").mkdir()
        (inside / "half" / "sounds.toml").symlink_to(outside / "theirs" / "sounds.toml")
        (inside / "again").symlink_to(inside / "mine")
        assert list(list_sounds(inside)) == ["again", "mine"]

    def test_the_folder_itself_may_be_a_link(self, tmp_path):
        recordings(tmp_path / "disk" / "mine")
        (tmp_path / "sounds").symlink_to(tmp_path / "disk")
        assert list(list_sounds(tmp_path / "sounds")) == ["mine"]


class TestOpened:
    def test_what_is_missing_is_said_without_the_folder(self, tmp_path):
        recordings(tmp_path / "mine")
        found = open_by_name(tmp_path, "mine")
        assert found.recordings is not None
        assert '"mine" has no sound for kick; the modelled kit plays it.' in found.warnings
        assert str(tmp_path) not in "".join(found.warnings)

    def test_the_same_sounds_have_the_same_digest_and_changed_ones_another(self, tmp_path):
        recordings(tmp_path / "mine")
        first = open_by_name(tmp_path, "mine")
        assert open_by_name(tmp_path, "mine") is first
        shutil.rmtree(tmp_path / "mine")
        recordings(tmp_path / "mine", hz=300)
        os.utime(tmp_path / "mine" / "snare.wav", (1, 1))
        assert open_by_name(tmp_path, "mine") != first
        assert get_modelled_kit() not in (first, open_by_name(tmp_path, "mine"))

    @pytest.mark.parametrize(
        ("map_text", "said"),
        [
            ("[[", "A key is letters"),
            (MAP.replace("snare.wav", "../snare.wav"), "outside"),
            (MAP.replace("snare.wav", "none.wav"), "no sound that can be played"),
            (None, '"mine" has no sounds.toml'),
        ],
    )
    def test_a_folder_that_can_not_be_played(self, tmp_path, map_text, said):
        recordings(tmp_path / "mine", map_text=map_text or "")
        if map_text is None:
            (tmp_path / "mine" / "sounds.toml").unlink()
        found = open_by_name(tmp_path, "mine")
        assert found == get_modelled_kit()
        assert said in found.problem
        assert str(tmp_path) not in found.problem

    def test_a_soundfont(self, tmp_path):
        need_fluidsynth()
        drums = [Drum(keys=(key, key), samples=stroke(100 + 5 * key)) for key in (36, 38, 42)]
        (tmp_path / "three.sf2").write_bytes(soundfont(drums))
        found = open_by_name(tmp_path, "three.sf2")
        assert (found.name, found.problem) == ("three.sf2", "")
        assert '"three.sf2" has no sound for china; the modelled kit plays it.' in found.warnings


class TestSettings:
    @pytest.mark.parametrize(
        "name",
        [
            "none.sf2",
            "..",
            ".",
            "../sounds/my drums",
            "my drums/",
            "/etc/passwd",
            "{folder}/my drums",
            "MY DRUMS",
        ],
    )
    def test_only_a_name_of_the_list_is_accepted(self, school, folder, name):
        before = school.rows()
        with school.browser("ada") as ada:
            answer = ada.post("/settings", {**SETTINGS, "minutes": "45", "sounds": name.format(folder=folder)})
        assert answer.status == 422
        assert "in the folder of sounds; choose a name of the list." in answer.text
        assert 'name="minutes" value="45"' in answer.text  # what was typed stays
        assert school.rows() == before

    @pytest.mark.parametrize("content", [b"", b"RIFF\x04\0\0\0sfbk", bytes(range(256)), soundfont([])[:300]])
    def test_a_broken_soundfont_is_refused_in_a_sentence(self, school, folder, content):
        (folder / "broken.sf2").write_bytes(content)
        before = school.rows()
        with school.browser("ada") as ada:
            answer = ada.post("/settings", {**SETTINGS, "sounds": "broken.sf2"})
        assert answer.status == 422
        assert answer.text.count("broken.sf2&#34;") == 1
        assert str(folder) not in answer.text
        assert school.rows() == before

    @pytest.mark.usefixtures("folder")
    def test_the_choice_is_the_teachers_and_their_students(self, school):
        bo_before = _kit(school, "bo")
        with school.browser("ada") as ada:
            assert ada.post("/settings", {**SETTINGS, "sounds": "my drums"}).status == 303
            page = ada.get("/settings").text
        assert '<option value="my drums" selected>' in page
        assert "has no sound for kick" in page
        assert _chosen(school, school.ada) == "my drums"
        assert _chosen(school, school.bo) is None
        assert _kit(school, "ada") == _kit(school, "pim") != bo_before
        assert _kit(school, "bo") == _kit(school, "rosa") == bo_before

    def test_sounds_that_went_or_broke_are_said_and_the_modelled_kit_plays(self, school, folder):
        modelled_kit = _kit(school, "ada")
        with school.browser("ada") as ada:
            ada.post("/settings", {**SETTINGS, "sounds": "my drums"})
            assert _kit(school, "ada") != modelled_kit
            (folder / "my drums" / "snare.wav").write_bytes(b"no sound")
            assert _kit(school, "pim") == modelled_kit
            assert "The modelled kit plays until you choose again." in ada.get("/settings").text
            shutil.rmtree(folder / "my drums")
            assert _kit(school, "pim") == modelled_kit
            page = ada.get("/settings").text
            assert "my drums&#34; is no longer in the folder of sounds. The modelled kit plays" in page
            assert ada.post("/settings", {**SETTINGS, "sounds": "my drums"}).status == 422
            assert ada.post("/settings", {**SETTINGS, "sounds": ""}).status == 303
            assert "The modelled kit plays until" not in ada.get("/settings").text

    def test_the_servers_folder_is_named_on_ones_own_machine_only(self, schools, school):
        with school.browser("ada") as ada:
            page = ada.get("/settings").text
        assert "the studio's folder of sounds" in page
        assert str(school.setup.sounds) not in page
        with schools.one(school=False) as alone, alone.browser() as browser:
            assert str(alone.setup.sounds) in browser.get("/settings").text


class TestPack:
    def test_the_build_is_given_the_teachers_sounds(self, school, folder, monkeypatch):
        given = []

        def start(_self, _planned, _folder, *, teacher, sounds):
            assert teacher == school.ada.teacher
            given.append(sounds)

        monkeypatch.setattr(type(school.setup.builds), "start", start)
        with school.browser("ada") as ada:
            ada.post(f"/lessons/{school.ada.lesson}/pack")
            ada.post("/settings", {**SETTINGS, "sounds": "my drums"})
            ada.post(f"/lessons/{school.ada.lesson}/pack")
        assert given == [None, folder / "my drums"]

    @pytest.mark.usefixtures("folder")
    def test_the_page_says_which_sounds_a_pack_has(self, school):
        path = f"/lessons/{school.ada.lesson}/pack"
        pack = school.setup.packs / f"{school.ada.teacher}" / f"lesson-{school.ada.lesson}" / "1"
        with school.browser("ada") as ada:
            assert "sounds" not in ada.get(path).text
            ada.post("/settings", {**SETTINGS, "sounds": "my drums"})
            assert "other sounds than your settings" in ada.get(path).text
            (pack / "pack.json").write_text('{"files": {}, "sounds": "my drums"}', "utf-8")
            page = ada.get(path).text
        assert "other sounds" not in page
        assert "Sounds: my drums." in page

    def test_a_soundfont_sounds_in_a_built_pack(self, tmp_path):
        need_fluidsynth()
        need(OTHERS.exists(), "a SoundFont (Debian's package timgm6mb-soundfont)")
        (tmp_path / "sounds").mkdir()
        shutil.copy(OTHERS, tmp_path / "sounds")
        found = open_by_name(tmp_path / "sounds", OTHERS.name)
        assert found.recordings
        builds, audio = Builds(), []
        for sounds in (None, tmp_path / "sounds" / OTHERS.name):
            builds.start(plan_text(SHORT), tmp_path / "packs", teacher=1, sounds=sounds)
            assert builds._jobs[tmp_path / "packs"][0].ended.wait(timeout=300)
            assert not builds.progress(tmp_path / "packs").failed
            pack = find_newest_pack(tmp_path / "packs")
            (path,) = pack.glob("fills/*/*.wav")
            audio.append(soundfile.read(io.BytesIO(path.read_bytes()))[0])
        builds.close()
        modelled_audio, theirs = audio
        assert '"sounds": "TimGM6mb.sf2"' in (pack / "pack.json").read_text("utf-8")
        size = min(len(modelled_audio), len(theirs))
        apart = np.sqrt(np.mean((modelled_audio[:size] - theirs[:size]) ** 2))
        assert apart > 0.3 * np.sqrt(np.mean(modelled_audio**2))
        assert np.sqrt(np.mean(theirs**2)) > 0.3 * np.sqrt(np.mean(modelled_audio**2))
