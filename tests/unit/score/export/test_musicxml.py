"""MusicXML: what stands in the file for each thing on the page."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from fractions import Fraction
from xml.etree import ElementTree
from xml.etree.ElementTree import Element

import pytest

from fillwright.errors import NotationError, TempoError
from fillwright.music.grooves import find_groove
from fillwright.music.hit import Hit
from fillwright.music.meter import find_meter
from fillwright.music.phrase import Bar, Fill, Part, Phrase, build_landing, build_phrase, locate_last_beats
from fillwright.music.sticking import parse_sticking
from fillwright.music.stroke import Limb
from fillwright.music.surfaces import find_surface, load_surfaces
from fillwright.score.export.musicxml import format_musicxml
from fillwright.score.sheet import Sheet

GROOVE = find_groove("straight eighths")


def fill_of(sticking: str, length: str, beats: str = "1", drum: str = "snare") -> Phrase:
    """Return a bar of groove with a fill on its last beats, and a landing."""
    span, step = locate_last_beats(GROOVE.meter, 1, Fraction(beats)), Fraction(length)
    hits = tuple(
        Hit(at=number * step, length=step, stroke=stroke, surface=find_surface(drum))
        for number, stroke in enumerate(parse_sticking(sticking))
        if stroke
    )
    return build_phrase(
        GROOVE, Fill(span=span, hits=hits), bars=1, land=build_landing(GROOVE.meter, Limb.RIGHT)
    )


def root(sheet: Sheet, **words: object) -> Element:
    return ElementTree.fromstring(format_musicxml(sheet, **words))  # type: ignore[arg-type]


def notes(music: Phrase, **asked: object) -> list[Element]:
    """Return the notes of the hands that carry a sticking: those of the fill and the landing, graces too."""
    matches = root(Sheet(phrase=music, **asked)).iter("note")  # type: ignore[arg-type]
    return [note for note in matches if note.find("lyric") is not None]


def texts(elements: list[Element], path: str) -> list[str]:
    return [element.findtext(path, "") for element in elements]


def test_it_starts_as_a_partwise_score_of_4_0() -> None:
    text = format_musicxml(Sheet(phrase=fill_of("R L", "1/8")))
    assert text.startswith('<?xml version="1.0" encoding="UTF-8"?>\n<!DOCTYPE score-partwise PUBLIC')
    assert "MusicXML 4.0 Partwise" in text.splitlines()[1]
    score = ElementTree.fromstring(text)
    assert (score.tag, score.get("version")) == ("score-partwise", "4.0")
    assert score.findtext("identification/encoding/software") == "Fillwright"
    assert not list(score.iter("encoding-date"))


def test_every_used_surface_has_a_sound_and_no_other() -> None:
    score = root(Sheet(phrase=fill_of("R L", "1/8")))
    names = [name.text for name in score.iter("instrument-name")]
    assert names == ["Kick", "Snare", "Hi-hat", "Crash"]
    keys = {sound.get("id"): sound.findtext("midi-unpitched") for sound in score.iter("midi-instrument")}
    assert keys == {"P1-K36": "37", "P1-K38": "39", "P1-K42": "43", "P1-K49": "50"}
    assert {instrument.get("id") for instrument in score.iter("instrument")} == set(keys)


@pytest.mark.parametrize(
    ("name", "position", "head"),
    [
        ("kick", "F4", ""),
        ("snare", "C5", ""),
        ("rim", "C5", "x"),
        ("foot hi-hat", "D4", "x"),
        ("hi-hat", "G5", "x"),
        ("crash", "A5", "x"),
        ("ride bell", "F5", "diamond"),
        ("china", "B5", "circle-x"),
    ],
)
def test_places_and_heads(name: str, position: str, head: str) -> None:
    struck = find_surface(name)
    stroke = replace(parse_sticking("R")[0], hand=struck.foot or Limb.RIGHT)  # type: ignore[type-var]
    hit = Hit(at=Fraction(0), length=Fraction(1, 4), stroke=stroke, surface=struck)
    music = Phrase(meter=find_meter("4/4"), bars=(Bar(part=Part.FILL, hits=(hit,)),))
    note = next(n for n in root(Sheet(phrase=music)).iter("note") if n.find("unpitched") is not None)
    step, octave = note.findtext("unpitched/display-step"), note.findtext("unpitched/display-octave")
    assert (f"{step}{octave}", note.findtext("notehead", "")) == (position, head)


def test_every_surface_has_an_instrument_id_of_its_own() -> None:
    assert len({where.key for where in load_surfaces().values()}) == len(load_surfaces())


def test_a_ghost_note_is_in_brackets_and_is_soft() -> None:
    soft, plain, loud = notes(fill_of("(R) L R>", "1/16"))[:3]
    assert soft.find("notehead").get("parentheses") == "yes"  # type: ignore[union-attr]
    assert plain.find("notehead") is None
    assert [float(note.get("dynamics", "")) for note in (soft, plain, loud)] == [42.22, 88.89, 124.44]
    accents = [note.find("notations/articulations/accent") is not None for note in (soft, plain, loud)]
    assert accents == [False, False, True]


def test_a_flam_has_one_slashed_eighth_and_a_slur() -> None:
    grace, main = notes(fill_of("lR", "1/4"))[:2]
    assert grace.find("grace").get("slash") == "yes"  # type: ignore[union-attr]
    assert (grace.findtext("type"), grace.find("duration"), grace.find("beam")) == ("eighth", None, None)
    slurs = [note.find("notations/slur").get("type") for note in (grace, main)]  # type: ignore[union-attr]
    assert slurs == ["start", "stop"]
    assert [note.findtext("lyric/text") for note in (grace, main)] == ["l", "R"]


def test_a_drag_has_two_beamed_sixteenths_without_a_slash() -> None:
    first, second, main = notes(fill_of("rrL", "1/4"))[:3]
    for grace, beam in ((first, "begin"), (second, "end")):
        assert grace.find("grace").get("slash") == "no"  # type: ignore[union-attr]
        assert grace.findtext("type") == "16th"
        assert [element.text for element in grace.findall("beam")] == [beam, beam]
    assert first.find("notations/slur").get("type") == "start"  # type: ignore[union-attr]
    assert second.find("notations") is None
    assert main.find("notations/slur").get("type") == "stop"  # type: ignore[union-attr]


def test_the_open_hi_hat_has_its_mark() -> None:
    struck = root(Sheet(phrase=build_phrase(find_groove("off-beat open hi-hat"), None, bars=1)))
    marked = [note for note in struck.iter("note") if note.find("notations/technical/open") is not None]
    assert len(marked) == 4
    assert {note.find("instrument").get("id") for note in marked} == {"P1-K46"}  # type: ignore[union-attr]


@pytest.mark.parametrize(
    ("music", "asked", "marks", "kind"),
    [
        (fill_of("R R L L R R L L", "1/32"), {"short_rolls": True}, "3", "single"),
        (fill_of("Rz", "1/4"), {}, "0", "unmeasured"),
    ],
)
def test_rolls(music: Phrase, asked: dict[str, bool], marks: str, kind: str) -> None:
    note = notes(music, **asked)[0]
    sign = note.find("notations/ornaments/tremolo")
    assert sign is not None
    assert (sign.text, sign.get("type"), note.findtext("type")) == (marks, kind, "quarter")


@pytest.mark.parametrize(
    ("sticking", "beats", "wanted"),
    [
        ("R R L L R R L L " * 2, "2", [["start"], ["stop"], []]),
        ("R R L L R R L L R", "2", [["start"], ["stop"], []]),
        ("R R L L R R L L - R", "2", [[], [], []]),
    ],
)
def test_an_abbreviated_roll_is_tied_to_the_note_it_runs_into(
    sticking: str, beats: str, wanted: list[list[str]]
) -> None:
    matches = notes(fill_of(sticking, "1/32", beats), short_rolls=True)
    assert [[tied.get("type") for tied in note.iter("tied")] for note in matches] == wanted
    assert not [note for note in matches if note.find("tie") is not None], "the release is struck"


def test_a_tuplet_starts_stops_and_has_its_ratio() -> None:
    inside = notes(fill_of("R L R", "1/12"))[:3]
    assert texts(inside, "time-modification/actual-notes") == ["3"] * 3
    assert texts(inside, "time-modification/normal-notes") == ["2"] * 3
    marks = [note.find("notations/tuplet") for note in inside]
    assert [mark.get("type") if mark is not None else None for mark in marks] == ["start", None, "stop"]
    assert (marks[0].get("bracket"), marks[0].get("show-number")) == ("no", "actual")  # type: ignore[union-attr]
    assert texts(inside, "beam") == ["begin", "continue", "end"]


def test_a_tuplet_of_mixed_values_names_the_value_it_counts() -> None:
    music = build_phrase(find_groove("shuffle"), None, bars=1)
    quarter, eighth = list(root(Sheet(phrase=music)).iter("note"))[:2]
    assert (quarter.findtext("type"), quarter.findtext("time-modification/normal-type")) == (
        "quarter",
        "eighth",
    )
    assert (eighth.findtext("type"), eighth.find("time-modification/normal-type")) == ("eighth", None)
    assert quarter.find("notations/tuplet").get("bracket") == "yes"  # type: ignore[union-attr]


def test_the_feet_go_back_and_hide_their_rests() -> None:
    measure = next(root(Sheet(phrase=fill_of("R L", "1/8"))).iter("measure"))
    divisions = int(measure.findtext("attributes/divisions", ""))
    assert measure.findtext("backup/duration") == str(4 * divisions)
    feet = [note for note in measure.iter("note") if note.findtext("voice") == "2"]
    assert {note.get("print-object") for note in feet if note.find("rest") is not None} == {"no"}
    assert {note.findtext("stem") for note in feet if note.find("unpitched") is not None} == {"down"}
    assert sum(int(note.findtext("duration", "")) for note in feet) == 4 * divisions


def test_a_bar_without_feet_has_one_voice() -> None:
    hits = fill_of("R L", "1/8").bars[0].hits
    hands = tuple(hit for hit in hits if not hit.stroke.hand.is_foot)
    music = Phrase(meter=find_meter("4/4"), bars=(Bar(part=Part.FILL, hits=hands),))
    assert root(Sheet(phrase=music)).find(".//backup") is None


def test_an_empty_bar_of_hands_is_a_whole_bar_rest() -> None:
    music = Phrase(meter=find_meter("6/8"), bars=(Bar(part=Part.GROOVE, hits=()),))
    (note,) = root(Sheet(phrase=music)).iter("note")
    assert note.find("rest").get("measure") == "yes"  # type: ignore[union-attr]
    assert (note.findtext("duration"), note.find("type")) == ("3", None)


def test_stickings_and_counts_are_two_lines_of_lyrics() -> None:
    matches = notes(fill_of("R L R R", "1/16"))[:4]
    lines = [{lyric.get("name"): lyric.findtext("text") for lyric in note.iter("lyric")} for note in matches]
    assert [line["sticking"] for line in lines] == ["R", "L", "R", "R"]
    assert [line["count"] for line in lines] == ["4", "e", "&", "a"]
    assert {lyric.get("number") for note in matches for lyric in note.iter("lyric")} == {"1", "2"}


@pytest.mark.parametrize(
    ("asked", "lines"),
    [
        ({"sticking": False}, {"count"}),
        ({"counting": False}, {"sticking"}),
        ({"sticking": False, "counting": False}, set()),
    ],
)
def test_lines_that_are_not_asked_for_are_left_out(asked: dict[str, bool], lines: set[str]) -> None:
    score = root(Sheet(phrase=fill_of("lR L", "1/8"), **asked))
    assert {lyric.get("name") for lyric in score.iter("lyric")} == lines


def test_the_words_come_before_the_first_note_of_the_fill() -> None:
    measure = next(root(Sheet(phrase=fill_of("lR L", "1/8"), label="Fill")).iter("measure"))
    children = list(measure)
    index = next(i for i, child in enumerate(children) if child.find("direction-type/words") is not None)
    assert children[index].findtext("direction-type/words") == "Fill"
    assert children[index].find("offset") is None
    assert children[index + 1].find("grace") is not None
    assert children[index + 1].findtext("lyric/text") == "l"


def test_words_over_a_rest_are_moved_to_where_the_fill_starts() -> None:
    groove = replace(GROOVE, hits=tuple(hit for hit in GROOVE.hits if hit.at < Fraction(1, 2)))
    span = locate_last_beats(groove.meter, 1, Fraction(1))
    music = build_phrase(groove, Fill(span=span, hits=()), bars=1)
    measure = next(root(Sheet(phrase=music, label="Fill")).iter("measure"))
    divisions = int(measure.findtext("attributes/divisions", ""))
    direction = next(d for d in measure.iter("direction") if d.find("direction-type/words") is not None)
    assert direction.findtext("offset") == str(divisions)


def test_no_words_without_a_label() -> None:
    assert not list(root(Sheet(phrase=fill_of("R L", "1/8"))).iter("words"))


@pytest.mark.parametrize(
    ("words", "tempo", "mark", "played"),
    [
        ("", 92.5, "92.5", "92.5"),
        ("60–100", None, "60–100", None),
        ("60–100", 80, "80", "80"),
        ("", None, None, None),
    ],
)
def test_the_tempo(words: str, tempo: float | None, mark: str | None, played: str | None) -> None:
    score = root(Sheet(phrase=fill_of("R L", "1/8"), tempo=words), tempo=tempo)
    assert score.findtext(".//per-minute") == mark
    sound = score.find(".//sound")
    assert (sound.get("tempo") if sound is not None else None) == played


def test_the_tempo_of_six_eight_is_a_dotted_quarter() -> None:
    score = root(Sheet(phrase=build_phrase(find_groove("six-eight"), None, bars=1)), tempo=60)
    mark = score.find(".//metronome")
    assert mark is not None
    assert [child.tag for child in mark] == ["beat-unit", "beat-unit-dot", "per-minute"]
    assert score.find(".//sound").get("tempo") == "90"  # type: ignore[union-attr]


def test_lines_bars_and_the_end() -> None:
    music = build_phrase(GROOVE, None, bars=4, land=build_landing(GROOVE.meter, Limb.RIGHT))
    score = root(Sheet(phrase=music, from_bar=2, break_before=(4,)))
    measures = list(score.iter("measure"))
    assert [measure.get("number") for measure in measures] == ["2", "3", "4", "5"]
    assert [measure.find("print") is not None for measure in measures] == [False, False, True, False]
    assert [measure.find("attributes") is not None for measure in measures] == [True, False, False, False]
    assert [measure.findtext("barline/bar-style") for measure in measures] == [None, None, None, "light-heavy"]
    assert root(Sheet(phrase=music, closing="single")).find(".//barline") is None


def test_repeated_bars_are_written_out() -> None:
    measures = list(root(Sheet(phrase=build_phrase(GROOVE, None, bars=3))).iter("measure"))
    first, second, third = (
        [ElementTree.tostring(note).strip() for note in measure.iter("note")] for measure in measures
    )
    assert len(first) > 8
    assert first == second == third


def test_text_is_escaped_and_characters_that_xml_can_not_hold_are_replaced() -> None:
    sheet = Sheet(phrase=fill_of("R L", "1/8"), label="<Fill> & \x00", cue=("a\x1b<", "b"))
    score = root(sheet, title='"R" & <L>\x07')
    assert score.findtext("work/work-title") == '"R" & <L>\N{REPLACEMENT CHARACTER}'
    assert score.findtext(".//words") == "<Fill> & \N{REPLACEMENT CHARACTER}"
    assert "a\N{REPLACEMENT CHARACTER}<" in [text.text for text in score.iter("text")]


@pytest.mark.parametrize("make", [lambda: fill_of("lR L R L", "1/16"), lambda: fill_of("R L R", "1/12")])
def test_the_same_text_every_time(make: Callable[[], Phrase]) -> None:
    assert format_musicxml(Sheet(phrase=make()), title="x") == format_musicxml(Sheet(phrase=make()), title="x")


def test_wrong_input_is_refused() -> None:
    with pytest.raises(TempoError, match="A tempo of 500 bpm can't be played"):
        format_musicxml(Sheet(phrase=fill_of("R L", "1/8")), tempo=500)
    with pytest.raises(NotationError, match="can't be written together"):
        format_musicxml(Sheet(phrase=fill_of("R L R L R", "1/20")))
