"""Everything that reads what others wrote: valid inputs for each, and a call that reads one."""

from __future__ import annotations

import gzip
import hashlib
import io
import json
import struct
import zipfile
from collections.abc import Callable, Iterable
from contextlib import suppress
from dataclasses import dataclass
from pathlib import Path
from random import Random

from hypothesis import HealthCheck, Phase, given, seed, settings
from hypothesis import strategies as st

from fillwright.errors import FillwrightError
from fillwright.lesson.file import read_demo_text, read_lesson
from fillwright.listen.onsets.decode import decode_take
from fillwright.listen.report.stored.storage import decode_report
from fillwright.music.counting import parse_places
from fillwright.music.ladder import parse_ladder
from fillwright.music.meter import find_meter, list_meters
from fillwright.music.notevalue import parse_values
from fillwright.music.sticking import parse_sticking
from fillwright.pack.phrase_file import read_fills
from fillwright.score.export.midi import encode_midi
from fillwright.score.parts.drum_file import read_drum_part
from fillwright.score.parts.midi_notes import get_default_notes
from fillwright.sound.files.ogg import set_constant_serial
from fillwright.sound.samples.folder import FolderSource
from fillwright.sound.samples.sf2 import read_presets
from fillwright.store.archive import MANIFEST, check_backup, restore_backup_file, write_backup_file
from fillwright.store.database import Store, open_store
from fillwright.tables.kits_and_grooves import parse_own_tables
from fillwright.tables.midi_notes import read_midi_notes
from fillwright.tables.sounds import read_folder_map, read_soundfont_notes
from fillwright.take.calibrate import STROKES, VERSION, read_calibration
from fillwright.take.midi import read_midi_take, read_written_midi
from tests.fuzz.audio_seeds import CONTAINERS, make_recordings, make_soundfont
from tests.fuzz.mutate import mutate

TESTS = Path(__file__).parents[1]
SEEDS = Path(__file__).parent / "seeds"
GOLDEN = TESTS / "golden"
_BATCH = 50  # inputs that Hypothesis draws at a time

Draw = Callable[[Random], bytes]


@dataclass(frozen=True, kw_only=True)
class Reader:
    """One way in.

    Attributes:
        read: reads one input, with a folder for its files. Anything but a FillwrightError is a crash.
        seeds: make valid inputs.
        text: True for inputs that people write.
        strategy: of Hypothesis, for texts that are drawn instead of mutated now and then.
        change: another way to change a seed, such as inside a zip.
    """

    read: Callable[[bytes, Path], object]
    seeds: Callable[[], Iterable[bytes]]
    text: bool = False
    strategy: st.SearchStrategy[str] | None = None
    change: Callable[[bytes, Random], bytes] | None = None

    def make_inputs(self, name: str, random: Random) -> Iterable[bytes]:
        """Yield inputs without end: every seed first, then changed ones."""
        seeds = [*self.seeds(), *read_crashes(name)]
        yield from seeds
        while True:
            if self.strategy is not None:
                yield from (text.encode("utf-8", "replace") for text in _draw(self.strategy, random))
            for _ in range(_BATCH):
                if self.change is not None and random.random() < 0.7:
                    yield self.change(random.choice(seeds), random)
                else:
                    yield mutate(seeds, random, text=self.text)


def read_crashes(name: str) -> list[bytes]:
    """Return the inputs that once crashed a reader; large ones are packed."""
    paths = sorted((SEEDS / name).glob("*"))
    return [gzip.decompress(path.read_bytes()) if path.suffix == ".gz" else path.read_bytes() for path in paths]


def _draw(strategy: st.SearchStrategy[str], random: Random) -> list[str]:
    drawn: list[str] = []

    @seed(random.randrange(2**32))
    @settings(
        max_examples=_BATCH,
        database=None,
        deadline=None,
        phases=[Phase.generate],
        suppress_health_check=list(HealthCheck),
    )
    @given(strategy)
    def collect(value: str) -> None:
        drawn.append(value)

    collect()
    return drawn


def _mix(*words: str) -> st.SearchStrategy[str]:
    """Texts of words of a language, with some noise."""
    return st.lists(st.sampled_from(words) | st.text(max_size=3), max_size=60).map("".join)


def _decode(content: bytes) -> str:
    return content.decode("utf-8", "replace")


def _read_places(content: bytes) -> None:
    for name in list_meters():
        with suppress(FillwrightError):
            parse_places(_decode(content), find_meter(name))
    parse_ladder(_decode(content))


def _save(content: bytes, folder: Path, name: str) -> Path:
    path = folder / name
    path.write_bytes(content)
    return path


def _ignore(_sentence: str) -> None:
    """Take a warning and drop it."""


def _read_sounds(content: bytes, folder: Path) -> None:
    """Read a folder of sounds: the map up to a zero byte, then the bytes of its only file."""
    table, _, sound = content.partition(b"\0SOUND\0")
    place = folder / "sounds"
    place.mkdir(exist_ok=True)
    _save(table, place, "sounds.toml")
    _save(sound, place, "a.wav")
    source = FolderSource(place, read_folder_map(place, warn=_ignore), _ignore)
    for velocity in (1, 64, 127):
        source.get_stroke("snare", velocity, 0)


def _make_sound_folders() -> list[bytes]:
    tables = [
        b'[[sound]]\nsurface = "snare"\nfiles = ["a.wav"]\n',
        b'[[sound]]\nsurface = "snare"\nfiles = ["a.wav", "missing.wav"]\nup_to = 80\ngain_db = -3.5\n\n'
        b'[[sound]]\nsurface = "snare"\nfiles = ["a.wav"]\n',
        (GOLDEN / "lessons" / "sounds" / "sounds.toml").read_bytes(),
    ]
    return [table + b"\0SOUND\0" + make_recordings(ending)[0] for table in tables for ending in ("wav", "flac")]


def _read_soundfont(content: bytes, folder: Path) -> None:
    path = _save(content, folder, "a.sf2")
    for preset in read_presets(path):
        for key in (0, 36, 38, 127):
            preset.list_layers(key)
            preset.find_exclusive_class(key)


def _read_midi(content: bytes, folder: Path) -> None:
    notes = get_default_notes()
    refused = []
    for read in (
        lambda: read_drum_part(_save(content, folder, "a.mid")),
        lambda: read_midi_take(content, '"a.mid"', notes),
        lambda: read_written_midi(content, '"a.mid"', notes),
    ):
        try:
            read()
        except FillwrightError as error:
            refused.append(error)
    if len(refused) == 3:
        raise refused[0]


def _make_midi() -> list[bytes]:
    phrase = _make_phrase()
    old = sorted((GOLDEN / "packs").rglob("*.mid"))
    return [encode_midi(phrase, 90.0), *(path.read_bytes() for path in old)]


def _make_phrase() -> object:
    fill = read_fills((GOLDEN / "packs" / "version-1" / "fills.json").read_bytes(), "fills.json")[0]
    return fill.phrase


_XML = """<?xml version="1.0" encoding="UTF-8"?>
<score-partwise version="4.0"><part-list><score-part id="P1"><part-name>Drums</part-name>
<score-instrument id="P1-I39"><instrument-name>Snare</instrument-name></score-instrument>
<midi-instrument id="P1-I39"><midi-channel>10</midi-channel>
<midi-unpitched>39</midi-unpitched></midi-instrument>
</score-part></part-list><part id="P1"><measure number="1"><attributes><divisions>4</divisions>
<time><beats>4</beats><beat-type>4</beat-type></time><clef><sign>percussion</sign></clef></attributes>
<direction><sound tempo="90" dynamics="80"/></direction>
<note><grace/><unpitched><display-step>C</display-step><display-octave>5</display-octave></unpitched>
<instrument id="P1-I39"/><voice>1</voice><type>eighth</type></note>
<note dynamics="90"><unpitched><display-step>C</display-step><display-octave>5</display-octave></unpitched>
<duration>4</duration>
<instrument id="P1-I39"/><voice>1</voice><type>quarter</type>
<notations><articulations><accent/></articulations></notations></note>
<note><chord/><unpitched><display-step>F</display-step><display-octave>4</display-octave></unpitched>
<duration>4</duration>
<instrument id="P1-I39"/><voice>1</voice><type>quarter</type></note>
<note><unpitched><display-step>C</display-step><display-octave>5</display-octave></unpitched><duration>8</duration>
<instrument id="P1-I39"/><voice>1</voice><type>half</type><time-modification><actual-notes>3</actual-notes>
<normal-notes>2</normal-notes></time-modification></note>
<backup><duration>4</duration></backup><forward><duration>4</duration></forward>
<note><rest/><duration>4</duration><voice>1</voice><type>quarter</type></note></measure>
<measure number="2"><barline location="left"><repeat direction="forward"/></barline>
<note><rest measure="yes"/><duration>16</duration></note>
<barline location="right"><repeat direction="backward"/></barline></measure></part></score-partwise>
"""


def _pack_xml(content: bytes) -> bytes:
    memory = io.BytesIO()
    with zipfile.ZipFile(memory, "w", zipfile.ZIP_DEFLATED) as archive:
        container = '<container><rootfiles><rootfile full-path="a.musicxml"/></rootfiles></container>'
        archive.writestr("META-INF/container.xml", container)
        archive.writestr("a.musicxml", content)
    return memory.getvalue()


def _change_packed_xml(content: bytes, random: Random) -> bytes:
    return (
        _pack_xml(mutate([_XML.encode()], random, text=True))
        if random.random() < 0.5
        else mutate([content], random, text=False)
    )


def _change_ogg(content: bytes, random: Random) -> bytes:
    """Return an Ogg file with changed pages and right checksums, so that the damage is not noticed at once."""
    changed = mutate([content], random, text=False)
    try:
        return set_constant_serial(changed)
    except (ValueError, IndexError, struct.error):  # no pages any more
        return changed


def _make_calibration() -> bytes:
    rows = [{"level_db": -20.5, "timbre": [0.5] * 24} for _ in range(STROKES)]
    return json.dumps({"version": VERSION, "surfaces": {"snare": rows, "kick": rows}}).encode()


def _make_backup() -> bytes:
    """Return the backup of an earlier version."""
    return (GOLDEN / "backups" / "version-1.zip").read_bytes()


_BACKUP = {"parts": {}}
_STORES: dict[str, Store] = {}


def _change_backup(content: bytes, random: Random) -> bytes:
    """Return a backup with one of its files changed, and the list of its files made to fit."""
    parts = _BACKUP["parts"]
    if not parts:
        with zipfile.ZipFile(io.BytesIO(_make_backup())) as archive:
            parts |= {name: archive.read(name) for name in archive.namelist()}
    name = random.choice(sorted(parts))
    changed = mutate([parts[name]], random, text=True)
    about = json.loads(parts[MANIFEST])
    if name != MANIFEST:
        about["sha256"][name] = hashlib.sha256(changed).hexdigest()
        about["rows"][name.removesuffix(".jsonl")] = changed.count(b"\n")
    memory = io.BytesIO()
    with zipfile.ZipFile(memory, "w", zipfile.ZIP_STORED) as archive:
        for other, part in (parts | {MANIFEST: json.dumps(about).encode()} | {name: changed}).items():
            archive.writestr(other, part)
    return memory.getvalue()


def _read_backup(content: bytes, folder: Path) -> None:
    path = _save(content, folder, "a.zip")
    check_backup(path)
    if "restore" not in _STORES:
        _STORES["restore"] = open_store(folder / "restored.db")
    restore_backup_file(_STORES["restore"], path, replace=True)


def _read_store(content: bytes, folder: Path) -> None:
    for path in folder.glob("studio.db*"):
        path.unlink()
    store = open_store(_save(content, folder, "studio.db"))
    try:
        write_backup_file(store, folder / "of-damaged.zip")
    finally:
        store.close()


_TABLE_NAMES = (
    "figure",
    "name",
    "sticking",
    "rhythm",
    "steps",
    "number",
    "title",
    "tempo",
    "groove",
    "kit",
    "bars",
    "level",
)
_VALUES = (
    '"last beat"',
    '"R L R R"',
    "1",
    "4",
    "-1",
    "0.5",
    "[1, 2]",
    '"60..80 step 10"',
    "true",
    "1979-05-27",
    "{a = 1}",
    "nan",
)
_tables = st.lists(
    st.builds("{} = {}\n".format, st.sampled_from(_TABLE_NAMES), st.sampled_from(_VALUES))
    | st.builds("[[{}]]\n".format, st.sampled_from(_TABLE_NAMES))
    | st.builds("[{}]\n".format, st.sampled_from(_TABLE_NAMES)),
    max_size=30,
).map("".join)


def _list_lessons() -> list[bytes]:
    texts = [path.read_bytes() for path in sorted((GOLDEN / "lessons").glob("*.toml"))]
    return [read_demo_text().encode(), *texts]


_OWN = (
    b'[grooves."mine"]\nmeter = "4/4"\nlines = [\n{ on = "snare", at = "2 4", hand = "left" },\n'
    b'{ on = "hi-hat", at = "1 & 2 & 3 & 4 &", hand = "right" },\n{ on = "kick", at = "1 3" },\n]\n\n'
    b'[kits."nook"]\nfrom = "four-piece"\nwithout = ["ride"]\n'
)
_STICKINGS = [b"R L R R L R L L", b"rR L (l) lR >R", b"- R - L", b"R>L(R)z", b"RLRRLRLL"]
_RHYTHMS = [b"16", b"8t 8t 8t", b"16 16 8", b"4. 8 2", b"32 32 16"]

READERS: dict[str, Reader] = {
    "sticking": Reader(
        read=lambda content, _: parse_sticking(_decode(content)),
        seeds=lambda: _STICKINGS,
        text=True,
        strategy=_mix("R", "L", "r", "l", ">", "(", ")", "z", "-", " ", "|", "llR", "rrL", "K", "F"),
    ),
    "rhythm": Reader(
        read=lambda content, _: parse_values(_decode(content)),
        seeds=lambda: _RHYTHMS,
        text=True,
        strategy=_mix("16", "8", "4", "t", ".", " ", "x", "*", "3", "32", "(", ")", "/", "q", "s"),
    ),
    "counts": Reader(
        read=lambda content, _: _read_places(content),
        seeds=lambda: [b"1 & 2 a", b"2e& >3 (4)", b"60..100 step 10", b"80", b"1 trip let"],
        text=True,
        strategy=_mix("1", "2", "4", "&", "e", "a", " ", "..", "step", "trip", "let", ">", "(", ")", "999"),
    ),
    "lesson": Reader(
        read=lambda content, folder: read_lesson(_save(content, folder, "a.toml")),
        seeds=_list_lessons,
        text=True,
        strategy=_tables,
    ),
    "kits and grooves": Reader(
        read=lambda content, _: parse_own_tables(_decode(content), "mine"),
        seeds=lambda: [_OWN],
        text=True,
        strategy=_tables,
    ),
    "MIDI-note table": Reader(
        read=lambda content, folder: read_midi_notes(_save(content, folder, "a.toml"), warn=_ignore),
        seeds=lambda: [(GOLDEN / "lessons" / "pads.toml").read_bytes()],
        text=True,
        strategy=_tables,
    ),
    "sound-note table": Reader(
        read=lambda content, folder: read_soundfont_notes(_save(content, folder, "a.toml"), warn=_ignore),
        seeds=lambda: [
            (GOLDEN / "lessons" / "sound-keys.toml").read_bytes(),
            b"bank = 128\nprogram = 0\n[midi_notes]\nsnare = 38\n",
        ],
        text=True,
        strategy=_tables,
    ),
    "folder of sounds": Reader(read=_read_sounds, seeds=_make_sound_folders, text=True),
    "SoundFont": Reader(
        read=_read_soundfont, seeds=lambda: [make_soundfont(), make_soundfont(compressed=True)]
    ),
    "phrase file": Reader(
        read=lambda content, _: read_fills(content, "fills.json"),
        seeds=lambda: [(GOLDEN / "packs" / "version-1" / "fills.json").read_bytes()],
        text=True,
    ),
    "report": Reader(
        read=lambda content, _: decode_report(content),
        seeds=lambda: [path.read_bytes() for path in sorted((GOLDEN / "reports").rglob("*.json"))],
        text=True,
    ),
    "calibration": Reader(
        read=lambda content, folder: read_calibration(_save(content, folder, "a.json")),
        seeds=lambda: [_make_calibration()],
        text=True,
    ),
    "MIDI": Reader(read=_read_midi, seeds=_make_midi),
    "MusicXML": Reader(
        read=lambda content, folder: read_drum_part(_save(content, folder, "a.musicxml")),
        seeds=lambda: [_XML.encode()],
        text=True,
    ),
    "packed MusicXML": Reader(
        read=lambda content, folder: read_drum_part(_save(content, folder, "a.mxl")),
        seeds=lambda: [_pack_xml(_XML.encode())],
        change=_change_packed_xml,
    ),
    **{
        f"audio {ending}": Reader(
            read=lambda content, folder: decode_take(_save(content, folder, "take")),
            seeds=lambda ending=ending: make_recordings(ending),
            change=_change_ogg if ending == "ogg" else None,
        )
        for ending in CONTAINERS
    },
    "backup": Reader(read=_read_backup, seeds=lambda: [_make_backup()], change=_change_backup),
    "studio.db": Reader(
        read=_read_store, seeds=lambda: [gzip.decompress((GOLDEN / "backups" / "studio-1.db.gz").read_bytes())]
    ),
}
"""Every reader by the name that the table of `make fuzz` shows."""
