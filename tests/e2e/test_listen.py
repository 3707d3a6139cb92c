"""Takes with known faults, of the modelled kit and of an electronic one, through `fillwright listen`."""

import io
import json
import re
from collections import Counter

import mido
import numpy as np
import pytest
import soundfile
from lxml import etree
from pypdf import PdfReader

from fillwright.cli.main import main
from fillwright.lesson.file import parse_lesson
from fillwright.lesson.fills import build_fills
from fillwright.listen.written import write_phrase
from fillwright.music.surfaces import find_surface
from fillwright.sound.playalong.mix import mix
from fillwright.sound.playalong.strikes import Strike

TEMPO = 80
TEXT = """number = 4
title = "Two fills to be listened to"
tempo = [70, 80]
audio = "wav"
click = false
hand = "right"

[[figure]]
name = "single paradiddle"
steps = ["whole bar"]

[[figure]]
name = "flam tap"
rhythm = "16"
steps = ["last two beats"]
"""
RATE = 44_100
START_SECONDS = 0.8
NOISE_DB = -66


@pytest.fixture(scope="module")
def fills():
    return build_fills(parse_lesson(TEXT)).fills


@pytest.fixture(scope="module")
def pack(tmp_path_factory):
    folder = tmp_path_factory.mktemp("listen")
    (folder / "lesson.toml").write_text(TEXT, "utf-8")
    assert main(["lesson", str(folder / "lesson.toml"), "-o", str(folder / "pack"), "--quiet"]) == 0
    return folder / "pack"


def performance(
    fill, *, rush=0.0, missing=(), extra=(), instead=(), later=(), tempo=TEMPO, turns=1, jitter_ms=4.0
):
    """Return seconds, surface and velocity of every stroke played.

    Args:
        fill: what is written.
        rush: percent by which the fill is faster; the landing comes as early as it ends.
        missing: indices of strokes left out.
        extra: seconds and surface of extra strokes.
        instead: index of a stroke and the surface it goes to.
        later: index of a stroke and the seconds by which it is late.
        tempo: in bpm.
        turns: repetitions.
        jitter_ms: standard deviation of every stroke.
    """
    source = np.random.default_rng(7)
    written = write_phrase(fill.phrase, float(tempo))
    start = min(stroke.seconds for stroke in written.strokes if stroke.in_fill and stroke.grace_of is None)
    other = dict(instead)
    played = []
    for turn in range(turns):
        for number, stroke in enumerate(written.strokes):
            if number in missing or (stroke.landing and turn < turns - 1):
                continue
            at = stroke.seconds + dict(later).get(number, 0.0)
            if (stroke.in_fill or stroke.landing) and at > start:
                at = start + (at - start) / (1 + rush / 100)
            at += START_SECONDS + turn * written.bar_starts[-2] + source.normal(0, jitter_ms / 1000)
            played.append((at, other.get(number, stroke.surface), stroke.velocity))
    played += [(START_SECONDS + at, where, 90) for at, where in extra]
    return sorted(played)


def as_wav(played, path):
    """Write a recording of the modelled kit in a quiet room."""
    samples = mix([Strike(name=name, onset_seconds=at, velocity=loud) for at, name, loud in played])
    mono = samples.mean(axis=1)
    noise = np.random.default_rng(3).normal(0, 10 ** (NOISE_DB / 20), len(mono))
    soundfile.write(path, 0.9 * (mono + noise) / np.abs(mono).max(), RATE, subtype="PCM_16")


def as_mid(played, path):
    """Write the MIDI file of an electronic kit, at 120 bpm."""
    file = mido.MidiFile(type=0, ticks_per_beat=960)
    track = mido.MidiTrack()
    file.tracks.append(track)
    now = 0
    for at, name, loud in played:
        tick = round(at * 2 * 960)
        key = find_surface(name).key
        track.append(mido.Message("note_on", channel=9, note=key, velocity=loud, time=tick - now))
        now = tick
    file.save(path)


WRITERS = {"wav": as_wav, "mid": as_mid}


@pytest.fixture(params=["wav", "mid"])
def listen(request, tmp_path, pack, fills, capsys):
    """Listen to a take of a fill with some faults; gives the JSON report."""

    def of(fill=1, **how):
        path = tmp_path / f"take.{request.param}"
        WRITERS[request.param](performance(fills[fill - 1], **how), path)
        assert main(["listen", str(path), "--against", *against(pack, fills, fill), "--json"]) == 0
        return json.loads(capsys.readouterr().out)

    of.kind = request.param
    return of


def against(pack, fills, fill):
    slug = fills[fill - 1].slug
    return [str(pack / "fills" / slug / f"{slug}-{TEMPO:03d}.wav")]


def lost(found):
    """Return the missing strokes that are alone at their moment; a microphone may miss one under another."""
    together = Counter(
        (row["repetition"], row["bar"], row["beat"]) for row in found["strokes"] if not row["grace"]
    )
    return [row for row in found["missing"] if together[row["repetition"], row["bar"], row["beat"]] == 1]


def alone(fill):
    """Return the indices of the fill's main strokes that have no other stroke next to them."""
    strokes = write_phrase(fill.phrase, float(TEMPO)).strokes
    return [
        number
        for number, one in enumerate(strokes)
        if one.in_fill
        and one.grace_of is None
        and not any(other is not one and abs(other.seconds - one.seconds) < 0.05 for other in strokes)
    ]


class TestTakes:
    def test_a_clean_take(self, listen):
        found = listen()
        assert found["refused"] == ""
        assert (lost(found), found["extra"], found["wrong_surface"]) == ([], [], [])
        hidden = 2 if listen.kind == "wav" else 0
        assert len(found["missing"]) <= hidden
        assert found["onsets_matched"] >= found["strokes_written"] - hidden
        assert "missing" not in " ".join(found["words"])
        assert abs(found["fill_rush_percent"]) < 1
        assert [bar["bpm"] for bar in found["bars"]] == pytest.approx([TEMPO] * 4, rel=0.015)
        assert abs(found["landing_lag_ms"]) < 12
        assert np.std([row["lag_ms"] for row in found["strokes"] if row["lag_ms"] is not None]) < 8
        assert len(found["words"]) == 3

    def test_a_fill_that_rushes_by_4_percent(self, listen):
        found = listen(rush=4.0)
        assert found["fill_rush_percent"] == pytest.approx(4.0, abs=1.0)
        assert found["landing_lag_ms"] == pytest.approx(-3000 * (1 - 1 / 1.04), abs=15)
        assert re.search(r"rushes|too fast|faster", found["words"][1])
        assert "Slow down to 70 bpm" in found["words"][2]
        assert (lost(found), found["extra"]) == ([], [])

    def test_a_fill_that_drags_by_4_percent(self, listen):
        found = listen(rush=-4.0)
        assert found["fill_rush_percent"] == pytest.approx(-4.0, abs=1.0)
        assert re.search(r"drags|too slow|slower", found["words"][1])

    def test_missing_strokes(self, listen, fills):
        places = alone(fills[0])[3:9:4]
        strokes = write_phrase(fills[0].phrase, float(TEMPO)).strokes
        found = listen(missing=places)
        wanted = [(strokes[place].bar + 1, strokes[place].surface) for place in places]
        assert [(row["bar"], row["surface"]) for row in lost(found)] == wanted
        for row, place in zip(lost(found), places, strict=True):
            assert row["time_s"] == pytest.approx(START_SECONDS + strokes[place].seconds, abs=0.03)
        assert re.search(r"missing|left out", found["words"][1])

    def test_a_shuffle_under_straight_eighths(self, listen, fills):
        strokes = write_phrase(fills[0].phrase, float(TEMPO)).strokes
        off = [
            n for n, one in enumerate(strokes) if not one.in_fill and round(one.seconds * TEMPO / 30) % 2 == 1
        ]
        found = listen(later=tuple((number, 60 / TEMPO / 6) for number in off))
        assert found["refused"] == ""
        assert found["words"][1] == "The music has straight eighths, but you swung them. Play them straight."
        assert found["landing_lag_ms"] is None
        assert found["groove_unevenness_ms"] is None

    def test_an_extra_stroke(self, listen):
        found = listen(extra=((1.31, "high tom"),))
        assert len(found["extra"]) == 1
        assert found["extra"][0]["time_s"] == pytest.approx(START_SECONDS + 1.31, abs=0.01)
        assert found["extra"][0]["bar"] == 1
        assert lost(found) == []

    def test_flams_and_their_width(self, listen):
        found = listen(fill=2)
        gaps = [row["gap_ms"] for row in found["flams"] if row["kind"] == "flam"]
        assert len(gaps) >= 2
        assert np.mean(gaps) == pytest.approx(25, abs=8)

    def test_several_repetitions(self, listen):
        found = listen(turns=3, rush=3.0)
        assert len(found["repetitions"]) == 3
        assert [row["repetition"] for row in found["repetitions"]] == [1, 2, 3]
        assert found["hands"]["pooled"]

    def test_another_tempo_than_the_target(self, listen):
        found = listen(tempo=86)
        assert found["tempo_played"] == pytest.approx(86, rel=0.01)
        assert found["tempo_target"] == TEMPO
        assert "86" in " ".join(found["words"])


class TestAnElectronicKit:
    def test_a_wrong_drum_is_exact(self, tmp_path, pack, fills, capsys):
        place = alone(fills[0])[5]
        as_mid(performance(fills[0], instead=[(place, "floor tom")]), tmp_path / "take.mid")
        assert (
            main(["listen", str(tmp_path / "take.mid"), "--against", *against(pack, fills, 1), "--json"]) == 0
        )
        found = json.loads(capsys.readouterr().out)
        assert [row["surface_played"] for row in found["wrong_surface"]] == ["floor tom"]
        assert "floor tom" in found["words"][1]

    def test_notes_of_another_kit_by_a_table(self, tmp_path, pack, fills, capsys):
        played = performance(fills[0])
        as_mid(played, tmp_path / "take.mid")
        file = mido.MidiFile(tmp_path / "take.mid")
        for message in file.tracks[0]:
            if message.type == "note_on" and message.note == find_surface("snare").key:
                message.note = 3
        file.save(tmp_path / "odd.mid")
        (tmp_path / "pads.toml").write_text('[keys]\n3 = "snare"\n', "utf-8")
        words = ["listen", str(tmp_path / "odd.mid"), "--against", *against(pack, fills, 1), "--json"]
        assert main([*words, "--pads", str(tmp_path / "pads.toml")]) == 0
        assert json.loads(capsys.readouterr().out)["wrong_surface"] == []

    def test_a_written_midi_file_instead_of_a_pack(self, tmp_path, pack, fills, capsys):
        slug = fills[0].slug
        mine = tmp_path / "mine.mid"
        mine.write_bytes((pack / "fills" / slug / f"{slug}.mid").read_bytes())
        as_mid(performance(fills[0], rush=4.0), tmp_path / "take.mid")
        words = ["listen", str(tmp_path / "take.mid"), "--against", str(mine), "--tempo", "80", "--json"]
        assert main(words) == 0
        found = json.loads(capsys.readouterr().out)
        assert found["fill"] is None
        assert found["missing"] == []
        assert found["fill_rush_percent"] == pytest.approx(4.0, abs=1.0)


class TestNotScored:
    def say(self, samples, tmp_path, pack, fills, capsys):
        soundfile.write(tmp_path / "take.wav", samples, RATE, subtype="PCM_16")
        assert (
            main(["listen", str(tmp_path / "take.wav"), "--against", *against(pack, fills, 1), "--json"]) == 0
        )
        found = json.loads(capsys.readouterr().out)
        assert found["strokes"] == []
        assert found["fill_rush_percent"] is None
        assert found["confidence"]["level"] == "none"
        return found

    def test_silence(self, tmp_path, pack, fills, capsys):
        found = self.say(np.zeros(RATE * 15), tmp_path, pack, fills, capsys)
        assert found["refused"] == "silence"
        assert "no drum strokes" in found["words"][0]

    def test_noise(self, tmp_path, pack, fills, capsys):
        hiss = np.random.default_rng(1).normal(0, 0.1, RATE * 15)
        assert self.say(hiss, tmp_path, pack, fills, capsys)["refused"] in (
            "silence",
            "too noisy",
            "too few",
            "wrong phrase",
        )

    def test_another_phrase(self, tmp_path, pack, fills, capsys):
        source = np.random.default_rng(5)
        at = np.cumsum(source.uniform(0.11, 0.55, 60))
        played = [Strike(name="snare", onset_seconds=float(t), velocity=90) for t in at]
        samples = mix(played).mean(axis=1)
        found = self.say(samples / np.abs(samples).max(), tmp_path, pack, fills, capsys)
        assert found["refused"] in ("wrong phrase", "tempo")


class TestWritten:
    @pytest.fixture
    def folder(self, tmp_path, pack, fills):
        as_mid(performance(fills[0], rush=4.0, turns=2), tmp_path / "take.mid")
        out = tmp_path / "report"
        words = ["listen", str(tmp_path / "take.mid"), "--against", *against(pack, fills, 1)]
        assert main([*words, "-o", str(out), "--quiet", "--page", "letter"]) == 0
        return out

    def test_three_files(self, folder):
        assert {path.name for path in folder.iterdir()} == {"report.json", "report.svg", "report.pdf"}
        assert (folder / "report.pdf").read_bytes().startswith(b"%PDF-")
        table = json.loads((folder / "report.json").read_text("utf-8"))
        assert len(table["repetitions"]) == 2
        etree.parse(folder / "report.svg")

    def test_the_page_has_the_sentences_and_the_chosen_size(self, folder):
        page = PdfReader(io.BytesIO((folder / "report.pdf").read_bytes())).pages[0]
        text = " ".join(page.extract_text().split())
        for sentence in json.loads((folder / "report.json").read_text("utf-8"))["words"]:
            assert sentence.replace("'", "’") in text
        assert float(page.mediabox.width) == pytest.approx(612, abs=1)

    def test_other_files_stay(self, tmp_path, folder, pack, fills):
        (folder / "notes.txt").write_text("mine", "utf-8")
        words = ["listen", str(tmp_path / "take.mid"), "--against", *against(pack, fills, 1)]
        assert main([*words, "-o", str(folder), "--quiet"]) == 0
        assert (folder / "notes.txt").read_text("utf-8") == "mine"
        assert len(list(folder.iterdir())) == 4


class TestCalibration:
    NAMES = ("snare", "high tom", "floor tom", "crash", "kick", "hi-hat")

    @pytest.fixture
    def recorded(self, tmp_path):
        played = [
            (0.5 + 1.2 * (4 * place + number), name, 90)
            for place, name in enumerate(self.NAMES)
            for number in range(4)
        ]
        as_wav(played, tmp_path / "kit.wav")
        return tmp_path / "kit.wav"

    def make(self, recorded, path, names):
        return main(
            ["listen", "--calibrate", str(recorded), "--surfaces", ", ".join(names), "-o", str(path), "--quiet"]
        )

    def test_a_wrong_drum_is_reported_only_with_a_calibration(self, recorded, tmp_path, pack, fills, capsys):
        assert self.make(recorded, tmp_path / "kit.json", self.NAMES) == 0
        places = alone(fills[0])[2:12:3]
        as_wav(performance(fills[0], instead=[(place, "floor tom") for place in places]), tmp_path / "take.wav")
        words = ["listen", str(tmp_path / "take.wav"), "--against", *against(pack, fills, 1), "--json"]
        assert main(words) == 0
        assert json.loads(capsys.readouterr().out)["wrong_surface"] == []
        assert main([*words, "--calibration", str(tmp_path / "kit.json")]) == 0
        wrong = json.loads(capsys.readouterr().out)["wrong_surface"]
        assert [row["surface_played"] for row in wrong] == ["floor tom"] * len(places)

    def test_another_number_of_strokes(self, recorded, tmp_path, capsys):
        assert self.make(recorded, tmp_path / "kit.json", self.NAMES[:-1]) == 2
        assert "The take has 24 strokes, not 20: 4 on each of 5 surfaces" in capsys.readouterr().err
        assert not (tmp_path / "kit.json").exists()


class TestBadInput:
    @pytest.mark.parametrize(
        ("words", "part"),
        [
            (["listen"], "No take was given"),
            (["listen", "TAKE"], "--against WHAT"),
            (["listen", "TAKE", "--against", "nowhere"], "does not exist"),
            (["listen", "TAKE", "--against", "PACK"], "Choose one with --fill 1 to 2"),
            (["listen", "TAKE", "--against", "PACK", "--fill", "9"], "has no fill 9"),
            (["listen", "TAKE", "--against", "PACK", "--fill", "1", "--tempo", "900"], "tempo of 900"),
            (["listen", "TAKE", "--against", "TEXT"], "neither in a pack nor a MIDI file"),
            (["listen", "none.wav", "--against", "PACK", "--fill", "1"], "can't be read"),
            (["listen", "TEXT", "--against", "PACK", "--fill", "1"], "notes.txt"),
            (["listen", "EMPTY", "--against", "PACK", "--fill", "1"], "has no drum notes"),
            (
                ["listen", "TAKE", "--against", "PACK", "--fill", "1", "--calibration", "TEXT"],
                "is not a calibration",
            ),
            (["listen", "TAKE", "--against", "PACK", "--fill", "1", "--surfaces", "snare"], "--calibrate TAKE"),
            (["listen", "--calibrate", "TAKE", "-o", "kit.json"], "--surfaces"),
            (["listen", "--calibrate", "TAKE", "--surfaces", "snare, rim"], "-o FILE"),
            (
                ["listen", "--calibrate", "TAKE", "--surfaces", "snare, rim", "-o", "kit.json"],
                "needs no calibration",
            ),
            (
                ["listen", "--calibrate", "TAKE", "--surfaces", "snare, rmi", "-o", "kit.json"],
                'did you mean "rim"',
            ),
        ],
        ids=lambda value: " ".join(value) if isinstance(value, list) else "",
    )
    def test_is_one_line_and_changes_nothing(self, words, part, tmp_path, pack, fills, capsys, monkeypatch):
        as_mid(performance(fills[0]), tmp_path / "take.mid")
        as_mid([], tmp_path / "empty.mid")
        (tmp_path / "notes.txt").write_text("R L R R", "utf-8")
        names = {
            "TAKE": tmp_path / "take.mid",
            "EMPTY": tmp_path / "empty.mid",
            "TEXT": tmp_path / "notes.txt",
            "PACK": pack,
        }
        monkeypatch.chdir(tmp_path)
        before = sorted(path.name for path in tmp_path.iterdir())
        assert main([str(names.get(word, word)) for word in words]) == 2
        said = capsys.readouterr()
        assert said.out == ""
        assert part in said.err
        assert said.err.count("\n") == 1
        assert "Traceback" not in said.err
        assert sorted(path.name for path in tmp_path.iterdir()) == before

    def test_a_folder_that_is_a_file(self, tmp_path, pack, fills, capsys):
        as_mid(performance(fills[0]), tmp_path / "take.mid")
        (tmp_path / "report").write_text("mine", "utf-8")
        words = ["listen", str(tmp_path / "take.mid"), "--against", *against(pack, fills, 1)]
        assert main([*words, "-o", str(tmp_path / "report")]) == 2
        assert "is a file. Name a folder" in capsys.readouterr().err
        assert (tmp_path / "report").read_text("utf-8") == "mine"
