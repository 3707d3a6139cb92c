import errno
import hashlib
import json
import os
import shutil
import subprocess
import sys
from dataclasses import replace
from pathlib import Path

import mido
import pytest
import soundfile
from lxml import etree

from fillwright.cli.main import main
from fillwright.errors import FitError, OutputError
from fillwright.lesson.file import parse_lesson
from fillwright.lesson.fills import build_fills
from fillwright.music.rudiments import find_figure
from fillwright.pack import build as pack_module
from fillwright.pack.build import CONTENTS_FILE, build_pack, is_current
from fillwright.sound.playalong.options import Click, Options
from fillwright.sound.playalong.render import render

HEAD = """number = {number}
title = "Small"
tempo = {tempo}
bars = 1
audio = "wav"
"""
PARADIDDLE = """
[[figure]]
name = "single paradiddle"
steps = ["last beat"]
"""
SINGLES = """
[[figure]]
name = "single stroke four"
steps = ["last beat"]
"""
SMALL = HEAD.format(number=1, tempo=[120]) + PARADIDDLE
TWO = HEAD.format(number=1, tempo=[120]) + PARADIDDLE + SINGLES
SLUG = "01-single-paradiddle-last-beat"
FILL = f"fills/{SLUG}/{SLUG}"
WHOLE = {"handout.pdf", "practice.html", "run-sheet.pdf", "chapters.txt", "lesson.toml", "fills.json"}
SHEETS = {f"{FILL}.{kind}" for kind in ("svg", "pdf", "png", "musicxml", "mid")}


def build(text, folder, **options):
    return build_pack(parse_lesson(text), text, folder, **options)


def tree(folder):
    """Every path below a folder, with the content of files and the place of links."""
    found = {}
    for path in sorted(folder.rglob("*")):
        name = path.relative_to(folder).as_posix()
        found[name] = os.readlink(path) if path.is_symlink() else path.read_bytes() if path.is_file() else None
    return found


def files(folder):
    return {name: content for name, content in tree(folder).items() if isinstance(content, bytes)}


@pytest.fixture(scope="module")
def shelf(tmp_path_factory):
    """A pack that no test changes."""
    folder = tmp_path_factory.mktemp("shelf") / "pack"
    build(SMALL, folder)
    return folder


@pytest.fixture
def pack(shelf, tmp_path):
    """A pack of one's own."""
    shutil.copytree(shelf, tmp_path / "pack")
    return tmp_path / "pack"


class TestCurrent:
    def current(self, pack, text, earlier=()):
        lesson = replace(parse_lesson(text), earlier=earlier)
        return is_current(pack, lesson, build_fills(lesson).fills, text)

    def test_a_pack_is_current_until_its_lesson_changes(self, shelf):
        assert self.current(shelf, SMALL)
        assert not self.current(shelf, SMALL + "# a remark\n")
        assert not self.current(shelf, SMALL.replace("120", "110"))

    def test_what_was_taught_before_it_counts(self, shelf):
        assert not self.current(shelf, SMALL, earlier=(find_figure("flam tap"),))

    def test_another_program_would_make_another_pack(self, shelf, monkeypatch):
        monkeypatch.setattr("fillwright.pack.recipes.hash_program", lambda: "another")
        assert not self.current(shelf, SMALL)


class TestContents:
    def test_every_promised_file_is_there_and_nothing_else(self, shelf):
        assert set(files(shelf)) == WHOLE | SHEETS | {f"{FILL}-120.wav", CONTENTS_FILE}
        assert all(files(shelf).values())

    @pytest.mark.parametrize("kind", ["wav", "flac", "ogg", "mp3"])
    def test_audio_is_what_its_name_says(self, tmp_path, kind):
        build(SMALL.replace('"wav"', f'"{kind}"'), tmp_path / "pack")
        (path,) = (tmp_path / "pack" / "fills").glob(f"*/*.{kind}")
        assert path.stem.endswith("-120")
        info = soundfile.info(path)
        assert info.format.lower() == kind
        # count-in, fill and landing: at least two bars of four beats at 120, the landing rings on
        assert 4 < info.duration < 8.5

    def test_the_audio_is_the_phrase_with_count_in(self, shelf):
        samples, rate = soundfile.read(shelf / f"{FILL}-120.wav", dtype="float32")
        made = build_pack(parse_lesson(SMALL), SMALL, shelf)
        wanted = render(made.fills[0].phrase, 120, Options(click=Click.BEATS))
        assert rate == wanted.rate
        assert samples == pytest.approx(wanted.samples, abs=1 / 32_000)

    def test_the_click_can_be_left_out(self, shelf, tmp_path):
        build(SMALL.replace("bars = 1", "bars = 1\nclick = false"), tmp_path / "pack")
        assert files(tmp_path / "pack")[f"{FILL}-120.wav"] != files(shelf)[f"{FILL}-120.wav"]

    def test_sheets_are_what_their_names_say(self, shelf):
        found = files(shelf)
        assert found[f"{FILL}.pdf"].startswith(b"%PDF-")
        assert found["handout.pdf"].startswith(b"%PDF-")
        assert found["run-sheet.pdf"].startswith(b"%PDF-")
        assert found[f"{FILL}.png"].startswith(b"\x89PNG\r\n\x1a\n")
        assert etree.fromstring(found[f"{FILL}.svg"]).tag == "{http://www.w3.org/2000/svg}svg"
        score = etree.fromstring(found[f"{FILL}.musicxml"])
        assert (score.tag, score.findtext("work/work-title")) == (
            "score-partwise",
            "Single paradiddle: Last beat, all on the snare",
        )
        first, _ = mido.MidiFile(shelf / f"{FILL}.mid").tracks
        assert first.name == "Single paradiddle: Last beat, all on the snare"

    def test_the_lesson_file_goes_along_as_written(self, shelf):
        assert files(shelf)["lesson.toml"] == SMALL.encode()

    def test_the_list_names_every_file_with_its_sha_256(self, shelf):
        listed = json.loads((shelf / CONTENTS_FILE).read_text("utf-8"))
        own = {name: hashlib.sha256(content).hexdigest() for name, content in files(shelf).items()}
        del own[CONTENTS_FILE]
        assert {name: row["sha256"] for name, row in listed["files"].items()} == own

    def test_the_list_says_what_a_fill_is_and_where(self, shelf):
        (fill,) = json.loads((shelf / CONTENTS_FILE).read_text("utf-8"))["fills"]
        assert (fill["number"], fill["figure"], fill["step"]) == (1, "single paradiddle", "last beat")
        assert set(fill["files"].values()) == SHEETS | {f"{FILL}-120.wav"}
        assert fill["files"]["120"] == f"{FILL}-120.wav"

    def test_what_is_left_out_is_told(self, tmp_path):
        text = SMALL.replace('"last beat"', '"last beat", "mixed"')
        built = build(text, tmp_path / "pack")
        assert [line.split(":")[0] for line in built.left_out] == ["single paradiddle, mixed"]

    def test_progress_ends_at_the_number_of_files(self, tmp_path):
        told = []
        build(SMALL, tmp_path / "pack", progress=lambda *row: told.append(row))
        counts = [done for _, done, _ in told]
        total = len(files(tmp_path / "pack")) - 1
        assert counts == sorted(counts)
        assert told[-1][1:] == (total, total)


class TestAgain:
    def test_with_nothing_changed_nothing_is_made(self, pack):
        before = tree(pack)
        stamps = {name: (pack / name).stat().st_mtime_ns for name in files(pack) if name != CONTENTS_FILE}
        built = build(SMALL, pack)
        assert built.written == built.dropped == ()
        assert set(built.kept) == set(before.keys() & stamps.keys())
        assert tree(pack) == before
        assert stamps == {name: (pack / name).stat().st_mtime_ns for name in stamps}

    def test_the_command_says_so(self, pack, tmp_path, capsys):
        (tmp_path / "small.toml").write_text(SMALL)
        assert main(["lesson", str(tmp_path / "small.toml"), "-o", str(pack)]) == 0
        out, err = capsys.readouterr()
        assert "Nothing has changed. All 12 files are kept." in out
        assert err.strip() == ""

    def test_a_longer_ladder_makes_audio_for_new_tempos_alone(self, pack):
        built = build(SMALL.replace("[120]", "[120, 130]"), pack)
        engraved = SHEETS - {f"{FILL}.mid"}  # the tempo mark above the music names both ends of the ladder
        assert set(built.written) == WHOLE | engraved | {f"{FILL}-130.wav"}
        assert set(built.kept) == {f"{FILL}-120.wav", f"{FILL}.mid"}

    def test_a_tempo_taken_out_drops_its_audio(self, pack):
        build(SMALL.replace("[120]", "[120, 130]"), pack)
        built = build(SMALL, pack)
        assert built.dropped == (f"{FILL}-130.wav",)
        assert f"{FILL}-130.wav" not in files(pack)

    def test_a_changed_figure_rebuilds_its_own_files_alone(self, tmp_path):
        folder = tmp_path / "pack"
        build(TWO, folder)
        before = files(folder)
        built = build(TWO.replace(SINGLES, SINGLES + 'groove = "shuffle"\n'), folder)
        second = {name for name in before if "02-" in name}
        assert set(built.written) == WHOLE | second
        assert {name for name in before if "01-" in name} == set(built.kept)
        assert all(files(folder)[name] == before[name] for name in built.kept)

    def test_a_figure_taken_out_takes_its_folder_along(self, tmp_path):
        folder = tmp_path / "pack"
        build(TWO, folder)
        built = build(SMALL, folder)
        assert len(built.dropped) == 6
        assert [path.name for path in (folder / "fills").iterdir()] == [SLUG]

    def test_new_words_on_the_handout_leave_the_fills_alone(self, pack):
        built = build(SMALL.replace("bars = 1", 'bars = 1\nnotes = ["Slowly."]'), pack)
        assert set(built.written) == WHOLE - {"fills.json"}
        assert set(built.kept) == SHEETS | {f"{FILL}-120.wav", "fills.json"}

    @pytest.mark.parametrize("name", ["handout.pdf", "chapters.txt", f"{FILL}.mid", f"{FILL}-120.wav"])
    @pytest.mark.parametrize("harm", ["damaged", "emptied", "deleted", "a folder"])
    def test_what_is_harmed_is_made_again(self, pack, shelf, name, harm):
        target = pack / name
        if harm == "damaged":
            target.write_bytes(target.read_bytes()[:-1] + b"?")
        elif harm == "emptied":
            target.write_bytes(b"")
        else:
            target.unlink()
        if harm == "a folder":
            target.mkdir()
        built = build(SMALL, pack)
        assert built.written == (name,)
        assert tree(pack) == tree(shelf)

    def test_a_picture_lost_brings_its_companions(self, pack, shelf):
        (pack / f"{FILL}.png").unlink()
        assert set(build(SMALL, pack).written) == {f"{FILL}.{kind}" for kind in ("svg", "pdf", "png")}
        assert tree(pack) == tree(shelf)

    def test_another_program_makes_everything_anew(self, pack, monkeypatch):
        monkeypatch.setattr("fillwright.pack.recipes.hash_program", lambda: "another")
        assert build(SMALL, pack).kept == ()


LATER = "import time; clock = time.time; time.time = lambda: clock() + 400 * 86_400"
COMMAND = f"import sys; {LATER}; from fillwright.cli.main import main; sys.exit(main())"


class TestTheSameBytes:
    @pytest.mark.parametrize("kind", ["flac", "ogg", "mp3"])
    def test_in_two_folders_and_in_another_process_later(self, tmp_path, kind):
        text = SMALL.replace('"wav"', f'"{kind}"').replace("bars = 1", 'bars = 1\nteacher = "T. Quill"')
        build(text, tmp_path / "one")
        build(text, tmp_path / "two")
        assert tree(tmp_path / "one") == tree(tmp_path / "two")
        lesson = tmp_path / "small.toml"
        lesson.write_text(text)
        subprocess.run(
            [sys.executable, "-c", COMMAND, "lesson", str(lesson), "-o", str(tmp_path / "three"), "--quiet"],
            check=True,
            env={**os.environ, "PYTHONHASHSEED": "7", "TZ": "Asia/Kathmandu", "LC_ALL": "C"},
        )
        assert tree(tmp_path / "one") == tree(tmp_path / "three")


class TestStrangers:
    def test_they_stay(self, pack):
        (pack / "my notes.txt").write_text("slower")
        (pack / "fills" / SLUG / "take 1.m4a").write_bytes(b"take")
        (pack / "takes" / "empty").mkdir(parents=True)
        (pack / "link").symlink_to("handout.pdf")
        (pack / "nowhere").symlink_to("missing")
        (pack / "ходить").write_text("x")
        before = tree(pack)
        assert build(SMALL, pack).written == ()
        assert tree(pack) == before
        build(SMALL.replace("[120]", "[130]"), pack)
        after = tree(pack)
        for name in before.keys() - set(json.loads(before[CONTENTS_FILE])["files"]) - {CONTENTS_FILE}:
            assert after[name] == before[name]

    def test_they_stay_where_their_fill_has_gone(self, tmp_path):
        folder = tmp_path / "pack"
        build(TWO, folder)
        second = next((folder / "fills").glob("02-*"))
        (second / "take.wav").write_bytes(b"take")
        build(SMALL, folder)
        assert [path.name for path in second.iterdir()] == ["take.wav"]

    def test_a_folder_of_other_files_is_refused(self, tmp_path):
        (tmp_path / "pack").mkdir()
        (tmp_path / "pack" / "thesis.txt").write_text("mine")
        before = tree(tmp_path)
        with pytest.raises(OutputError, match=r"holds other files but no pack; give a new folder"):
            build(SMALL, tmp_path / "pack")
        assert tree(tmp_path) == before

    def test_an_empty_folder_will_do(self, tmp_path, shelf):
        (tmp_path / "pack").mkdir()
        build(SMALL, tmp_path / "pack")
        assert tree(tmp_path / "pack") == tree(shelf)


def in_the_middle(monkeypatch, error):
    """Let the fourth thing written fail."""
    write, done = Path.write_bytes, []

    def failing(path, content):
        done.append(path)
        if len(done) == 4:
            raise error
        return write(path, content)

    monkeypatch.setattr(Path, "write_bytes", failing)
    return done


def run_cli(text, folder, tmp_path):
    lesson = tmp_path / "changed.toml"
    lesson.write_text(text)
    status = main(["lesson", str(lesson), "-o", str(folder)])
    lesson.unlink()
    return status


def told(capsys):
    """What stands on the two streams, without the empty line that a hidden progress bar leaves."""
    out, err = capsys.readouterr()
    return out, err.removeprefix("\n")


CHANGED = SMALL.replace("[120]", "[150]")


class TestFailure:
    def test_a_full_disk_in_the_middle(self, pack, tmp_path, monkeypatch, capsys):
        before = tree(tmp_path)
        done = in_the_middle(monkeypatch, OSError(errno.ENOSPC, os.strerror(errno.ENOSPC)))
        assert run_cli(CHANGED, pack, tmp_path) == 2
        out, err = told(capsys)
        assert (out, err) == ("", f'"{pack}" can\'t be written: the disk is full.\n')
        assert len(done) == 4
        assert tree(tmp_path) == before

    def test_an_interrupt_in_the_middle(self, pack, tmp_path, monkeypatch, capsys):
        before = tree(tmp_path)
        in_the_middle(monkeypatch, KeyboardInterrupt())
        assert run_cli(CHANGED, pack, tmp_path) == 130
        assert told(capsys) == ("", "Stopped. Nothing was changed.\n")
        assert tree(tmp_path) == before

    @pytest.mark.parametrize("error", [ZeroDivisionError(), MemoryError()])
    def test_a_maker_that_breaks(self, pack, tmp_path, monkeypatch, error):
        before = tree(tmp_path)

        def broken(*_args, **_named):
            raise error

        monkeypatch.setattr("fillwright.pack.contents.render", broken)
        with pytest.raises(type(error)):
            build(CHANGED, pack)
        assert tree(tmp_path) == before

    def test_a_new_pack_that_fails_leaves_nothing(self, tmp_path, monkeypatch):
        in_the_middle(monkeypatch, OSError(errno.ENOSPC, "No space left on device"))
        with pytest.raises(OutputError):
            build(SMALL, tmp_path / "deep" / "pack")
        assert tree(tmp_path) == {}

    def test_the_list_that_can_not_be_written(self, pack, tmp_path, monkeypatch):
        before = tree(tmp_path)

        def full(*_args, **_named):
            raise OSError(errno.ENOSPC, "No space left on device")

        monkeypatch.setattr(Path, "write_text", full)
        with pytest.raises(OutputError, match="the disk is full"):
            build(SMALL, pack)
        assert tree(tmp_path) == before

    def test_a_disk_that_refuses_links_gets_copies(self, pack, monkeypatch, shelf):
        def no_links(*_args, **_named):
            raise OSError(errno.EPERM, "Operation not permitted")

        monkeypatch.setattr(os, "link", no_links)
        assert build(SMALL, pack).written == ()
        assert tree(pack) == tree(shelf)

    def test_a_file_in_its_place_is_refused(self, tmp_path, capsys):
        (tmp_path / "pack").write_text("mine")
        assert run_cli(SMALL, tmp_path / "pack", tmp_path) == 2
        out, err = told(capsys)
        assert (out, err.count("\n")) == ("", 1)
        assert "is a file; give the name of a folder" in err
        assert tree(tmp_path) == {"pack": b"mine"}

    @pytest.mark.parametrize(
        "junk",
        [
            b"",
            b"\0\xff\xfe",
            b"{",
            b"[]",
            b"null",
            b"7",
            b'"files"',
            b"{}",
            b'{"files": []}',
            b'{"files": {"handout.pdf": "x"}}',
            b'{"files": {"handout.pdf": {"from": "x"}}}',
            b'{"files": {"handout.pdf": null}}',
            b"[" * 100_000,
            b'{"files": ' * 50_000,
            b'{"files": {}, "x": ' + b"9" * 10_000 + b"}",
            b" " * 16_000_001,
        ],
        ids=lambda junk: f"{junk[:24]!r} of {len(junk)}",
    )
    def test_a_spoilt_list_is_one_sentence(self, pack, tmp_path, capsys, junk):
        (pack / CONTENTS_FILE).write_bytes(junk)
        before = tree(tmp_path)
        assert run_cli(SMALL, pack, tmp_path) == 2
        out, err = told(capsys)
        assert out == ""
        assert err == (
            f'The list of contents "{pack / CONTENTS_FILE}" can\'t be read; '
            "give another folder, or delete this one.\n"
        )
        assert tree(tmp_path) == before

    def test_a_list_that_is_a_folder(self, pack):
        (pack / CONTENTS_FILE).unlink()
        (pack / CONTENTS_FILE).mkdir()
        with pytest.raises(OutputError, match=r"^The list of contents .* can't be read"):
            build(SMALL, pack)

    @pytest.mark.parametrize("row", ['{"from": 1, "sha256": 2}', '{"from": {}, "sha256": []}'])
    def test_a_list_of_wrong_values_makes_the_file_again(self, pack, shelf, row):
        listed = json.loads((pack / CONTENTS_FILE).read_text("utf-8"))
        listed["files"]["chapters.txt"] = json.loads(row)
        (pack / CONTENTS_FILE).write_text(json.dumps(listed))
        assert build(SMALL, pack).written == ("chapters.txt",)
        assert tree(pack) == tree(shelf)

    def test_a_list_that_points_outside_touches_nothing_there(self, pack, tmp_path):
        (tmp_path / "diary.txt").write_text("mine")
        listed = json.loads((pack / CONTENTS_FILE).read_text("utf-8"))
        listed["files"]["../diary.txt"] = {"from": "", "sha256": ""}
        (pack / CONTENTS_FILE).write_text(json.dumps(listed))
        build(SMALL, pack)
        assert (tmp_path / "diary.txt").read_text() == "mine"


class TestPaths:
    @pytest.mark.parametrize("name", ["a pack", "Übung № 3 🥁", "練習", "-o", "pack.json", "x" * 255])
    def test_names_of_all_kinds(self, tmp_path, shelf, name):
        build(SMALL, tmp_path / name)
        assert tree(tmp_path / name) == tree(shelf)
        assert build(SMALL, tmp_path / name).written == ()

    @pytest.mark.parametrize("path", ["pack", "./pack", "deep/../pack", "pack/", "pack/.", "pack/../pack"])
    def test_relative_paths(self, tmp_path, shelf, monkeypatch, path):
        monkeypatch.chdir(tmp_path)
        (tmp_path / "deep").mkdir()
        assert run_cli(SMALL, path, tmp_path) == 0
        assert tree(tmp_path / "pack") == tree(shelf)
        assert sorted(os.listdir()) == ["deep", "pack"]

    def test_the_current_folder(self, tmp_path, shelf, monkeypatch):
        (tmp_path / "here").mkdir()
        monkeypatch.chdir(tmp_path / "here")
        for text in (CHANGED, SMALL):
            build(text, Path())
            assert Path("handout.pdf").exists()
        assert tree(Path()) == tree(shelf)
        assert os.listdir(tmp_path) == ["here"]

    def test_a_link_to_a_folder_stays_a_link(self, tmp_path, shelf):
        (tmp_path / "real").mkdir()
        (tmp_path / "link").symlink_to("real")
        build(SMALL, tmp_path / "link")
        assert (tmp_path / "link").is_symlink()
        assert tree(tmp_path / "real") == tree(shelf)

    def test_links_in_a_circle_are_refused(self, tmp_path):
        (tmp_path / "a").symlink_to("b")
        (tmp_path / "b").symlink_to("a")
        with pytest.raises(OutputError, match="can't be the folder of a pack"):
            build(SMALL, tmp_path / "a" / "pack")

    @pytest.mark.parametrize("name", ["x" * 256, "x\0y"])
    def test_a_name_that_can_not_be_is_refused(self, tmp_path, name):
        with pytest.raises(OutputError, match="can't be the folder of a pack"):
            build(SMALL, tmp_path / name)
        assert tree(tmp_path) == {}

    def test_a_folder_closed_to_us_is_refused(self, pack, monkeypatch):
        def closed(*_args, **_named):
            raise PermissionError(errno.EACCES, "Permission denied")

        monkeypatch.setattr(pack_module.Path, "iterdir", closed)
        with pytest.raises(OutputError, match="can't be read; give a folder that you may read"):
            build(SMALL, pack)


HEADLESS = "number = 1\ntitle = 'x'\n"


class TestBadLessons:
    @pytest.mark.parametrize(
        ("text", "words"),
        [
            (SMALL.replace("paradiddle", "paradidle"), 'did you mean "single paradiddle"'),
            (SMALL.replace('steps = ["last beat"]', "steps = []\nbeats = 9"), "A fill of 9 beats"),
            (SMALL.replace("bars = 1", "bras = 1"), 'did you mean "bars"'),
            (SMALL.replace("[120]", "0"), "line 3, tempo"),
            (HEADLESS + '[[figure]]\nname = "mine"\nsticking = "R Q"\nrhythm = "16"\n', "line 5, sticking"),
            (b"\x7fELF\x02\x01\x01\xff\xfe" * 9, "is not a text file"),
            (b"number = 1 # \n" * 800_000, "kB; a lesson file has at most"),
            ("", "is empty"),
        ],
        ids=["figure", "span", "key", "tempo", "sticking", "junk", "large", "empty"],
    )
    def test_one_mistake_is_one_sentence_and_changes_nothing(self, pack, tmp_path, capsys, text, words):
        lesson = tmp_path / "bad.toml"
        lesson.write_bytes(text if isinstance(text, bytes) else text.encode())
        before = tree(tmp_path)
        assert main(["lesson", str(lesson), "-o", str(pack)]) == 2
        out, err = capsys.readouterr()
        assert out == ""
        assert err.count("\n") == 1
        assert err.startswith("bad.toml")
        assert words in err
        assert tree(tmp_path) == before

    def test_a_folder_instead_of_a_file(self, pack, capsys):
        assert main(["lesson", str(pack), "-o", str(pack)]) == 2
        assert capsys.readouterr() == ("", "pack: This is a folder; give the name of a lesson file.\n")

    def test_a_file_that_is_not_there(self, pack, tmp_path, capsys):
        assert main(["lesson", str(tmp_path / "gone.toml"), "-o", str(pack)]) == 2
        out, err = capsys.readouterr()
        assert (out, err.count("\n")) == ("", 1)
        assert "gone.toml: There is no such file; check its name and folder." in err


class TestReports:
    def test_json(self, pack, tmp_path, capsys):
        (tmp_path / "small.toml").write_text(SMALL)
        assert main(["lesson", str(tmp_path / "small.toml"), "-o", str(pack), "--json"]) == 0
        out, err = capsys.readouterr()
        report = json.loads(out)
        assert err == ""
        assert report["folder"] == str(pack)
        assert (report["fills"], report["made"], len(report["kept"])) == (1, [], 12)
        # one bar of count-in, the fill's bar and the landing's, at 120
        assert report["demonstration_seconds"] == 6.0

    def test_quiet(self, tmp_path, capsys):
        (tmp_path / "small.toml").write_text(SMALL)
        assert main(["lesson", str(tmp_path / "small.toml"), "-o", str(tmp_path / "p"), "--quiet"]) == 0
        assert capsys.readouterr() == ("", "")

    def test_nothing_but_the_sentence(self, tmp_path, capsys):
        (tmp_path / "pack").write_text("mine")
        assert run_cli(SMALL, tmp_path / "pack", tmp_path) == 2
        assert not capsys.readouterr().err.startswith("\n")

    def test_one_fill_is_one_fill(self, pack, tmp_path, capsys):
        assert run_cli(SMALL, pack, tmp_path) == 0
        assert "1 fills" not in capsys.readouterr().out

    def test_words(self, tmp_path, capsys):
        (tmp_path / "small.toml").write_text(SMALL)
        assert main(["lesson", str(tmp_path / "small.toml"), "-o", str(tmp_path / "p")]) == 0
        out = capsys.readouterr().out
        assert out.startswith("Lesson 1, Small: ")
        assert "12 files made." in out


OWN = """
[[fill]]
name = "knock"
beats = 1
sticking = "R L R L"
rhythm = "16"
on = "snare"
"""


def test_a_fill_of_ones_own_is_made_anew_when_it_changes_and_nothing_else_is(tmp_path):
    build(SMALL + OWN, tmp_path)
    again = build(SMALL + OWN.replace('"snare"', '"high tom"'), tmp_path)
    assert any(path.startswith("fills/02-knock/") for path in again.written)
    assert not [path for path in again.written if path.startswith(f"fills/{SLUG}/")]


def test_what_is_left_out_goes_from_the_pack(tmp_path):
    build(SMALL + OWN, tmp_path)
    build(SMALL.replace("bars", 'leave_out = ["single-paradiddle-last-beat"]\nbars') + OWN, tmp_path)
    assert [path.name for path in (tmp_path / "fills").iterdir()] == ["01-knock"]


def test_another_order_gives_fills_other_numbers(tmp_path):
    build(SMALL + OWN, tmp_path)
    build(SMALL.replace("bars", 'order = ["knock"]\nbars') + OWN, tmp_path)
    names = sorted(path.name for path in (tmp_path / "fills").iterdir())
    assert names == ["01-knock", "02-single-paradiddle-last-beat"]


def test_a_lesson_that_leaves_everything_out_has_no_pack(tmp_path):
    build(SMALL, tmp_path)
    before = tree(tmp_path)
    with pytest.raises(FitError, match="leaves out all its fills"):
        build(SMALL.replace("bars", 'leave_out = ["single-paradiddle-last-beat"]\nbars'), tmp_path)
    assert tree(tmp_path) == before
