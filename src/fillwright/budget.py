"""One budget for everything that comes from outside: how much of it is accepted.

Every number is a limit that is checked before the work starts. The checks raise one sentence that says what was
found and what is accepted. All numbers are ours: far above honest music, and low enough that nothing under
100 kB takes 5 s or 500 MB.
"""

from __future__ import annotations

from collections.abc import Iterable
from math import isfinite
from pathlib import Path

from fillwright.errors import FillwrightError

# Time, in seconds.
TAKE_SECONDS = 900.0  # of a recording or a MIDI take: 15 minutes; a practice session is cut into takes
MOMENT_SECONDS = 0.1  # within which strokes are counted
WORK_SECONDS = 180.0  # of the work on one take in a process of its own, on a busy machine
PACK_SECONDS = 7_200.0  # of building one pack: the largest, on a busy machine with two cores
SOUNDS_SECONDS = 300.0  # of opening recorded sounds and playing each once, on a busy machine

# Memory, in megabytes.
PACK_MEGABYTES = 4_000  # that building one pack may use beyond the program: a large SoundFont, decoded
WORK_MEGABYTES = 1_500  # that the work on one take may use beyond the program itself

# Files, in bytes.
RECORDING_BYTES = 2_000_000_000  # of a recording: 15 minutes of 16 channels at 16 bits need 1.4 GB
MIDI_BYTES = 1_000_000  # a long song has a tenth
XML_BYTES = 8_000_000  # of a MusicXML document
CALIBRATION_BYTES = 1_000_000  # of a calibration; a large one has 50,000
FILLS_BYTES = 16_000_000  # of a pack's list of fills; a fill has 5,000
TABLE_BYTES = 256_000  # of a lesson file or another table; a long lesson has 10,000
PACK_BYTES = 4_000_000_000  # of a pack, estimated before it is built: what a stick with 8 GB holds twice
SOUND_BYTES = 100_000_000  # of one file in a folder of sounds
SOUNDFONT_BYTES = 2_000_000_000  # of a SoundFont; the largest of a whole orchestra
ZONES = 200_000  # of all presets of a SoundFont together; the largest orchestras have 50,000
SOUNDFONT_TABLE_BYTES = 64_000_000  # of one table of a SoundFont; its format allows 65,536 zones

# Backups, in bytes where nothing else is said.
BACKUP_FILES = 64  # files in a backup; it has 16
BACKUP_MANIFEST_BYTES = 100_000  # of the list of its files; it has 2,000
BACKUP_ROW_BYTES = 8_000_000  # of a row as text; a report on a take of 8,000 strokes has 3,500,000
BACKUP_RECORDING_ROW_BYTES = 64_000_000  # of a row with a recording, of which 40 MB are 54 MB as text
BACKUP_BYTES = 256_000_000  # of a small backup when it is unpacked
BACKUP_RATIO = 200  # further bytes for each byte of the packed file; honest ones need about 10
BACKUP_NESTING = 32  # lists and tables inside each other in a report; ours need 4

# Quotas of a studio.
STUDENT_BYTES = 4_000_000_000  # of a student's recordings: three 10 MB takes a day for four months
TEACHER_BYTES = 100_000_000_000  # of the recordings of all students of a teacher: 25 students' most
PENDING_TAKES_STUDENT = 3  # takes of a student that wait or are measured
PENDING_TAKES_TEACHER = 60  # the same of all students of a teacher: two full classes at the same moment
PENDING_PACKS_TEACHER = 6  # packs of a teacher that wait or are built

# Music.
STROKES = 8_000  # drum notes of a take or a part: 15 minutes at 9 a second
BARS = 64  # of a written part
CHANGES = 1_000  # of tempo or meter in a part
MIDI_EVENTS = 100_000  # of a MIDI file, on all tracks together; 8,000 strokes have 16,000
MIDI_TRACKS = 256  # of a MIDI file; a drum part has 2
QUARTERS = 200_000  # quarter notes from the start of a file to its end: a day at 120 bpm
MOMENT_STROKES = 64  # within a tenth of a second; four limbs, doubled by pads and their neighbours, give 20
GRACE_NOTES = 16  # before one note; the longest ruff of the rudiments has 3
REMARKS = 50  # sentences on what was merged, skipped or unknown; the rest is counted
METER_UPPER = 64  # highest upper number of a meter in a file
METER_LOWER = 64  # highest lower number
FILLS = 2_000  # of a pack
PACK_AUDIO_FILES = 3_000  # of a pack, fills times tempos: all 40 rudiments in every step at three tempos
BAR_HITS = 256  # of one bar: every 64th note on four drums
BAR_PARTS = 100_000  # of a whole note that hold all strokes of a bar; 64ths with triplets, 5 and 7 need 6,720
TEMPOS = 100  # of one fill's ladder

# Sound.
RATES = (8_000, 768_000)  # samples per second of a recording: a telephone's, and the fastest converter's
CHANNELS = 32  # of a recording
DECODED_SAMPLES = 400_000_000  # on all channels together: 15 minutes of 2 at 192,000 per second
SOUND_RATES = (8_000, 192_000)  # samples per second of a file in a folder of sounds

# Texts and tables.
NESTING = 8  # of lists, tables and dotted keys; a lesson needs three
XML_ELEMENTS = 400_000  # of a document; 8,000 notes have 100,000
XML_NESTING = 64  # elements inside elements; a part has about 10
TEXT_CHARACTERS = 2_000  # of one text in a pack's list of fills

Raised = type[FillwrightError]


def format_bytes(size: int) -> str:
    """Return a size with its unit, rounded to what a sentence needs.

    >>> format_bytes(1_000_000), format_bytes(256_000), format_bytes(17), format_bytes(2_000_000_000)
    ('1 MB', '256 kB', '17 bytes', '2 GB')
    """
    for unit, name in ((10**9, "GB"), (10**6, "MB"), (1000, "kB")):
        if size >= unit:
            return f"{size / unit:.3g} {name}"
    return f"{size} bytes"


def format_seconds(seconds: float) -> str:
    """Return a duration in words.

    >>> format_seconds(900), format_seconds(41), format_seconds(7200), format_seconds(1e9)
    ('15 minutes', '41 seconds', '2 hours', '277,778 hours')
    """
    if not isfinite(seconds):
        return "without end"
    if seconds < 120:
        return f"{seconds:.0f} seconds"
    return f"{seconds / 60:.0f} minutes" if seconds < 7_200 else f"{seconds / 3_600:,.0f} hours"


def check_bytes(where: str, size: int, most: int, *, error: Raised = FillwrightError) -> None:
    """Refuse a file that is too large.

    Raises:
        FillwrightError: or the class given, with the size that is accepted.
    """
    if size > most:
        raise error(f"{where} is larger than {format_bytes(most)}, the most that is accepted.")


def check_count(where: str, count: int, most: int, unit: str, *, error: Raised = FillwrightError) -> None:
    """Refuse too many of something, such as "drum notes".

    Raises:
        FillwrightError: or the class given, with the number found and the number accepted.
    """
    if count > most:
        raise error(f"{where} has {count:,} {unit}; use at most {most:,}.")


def check_seconds(where: str, seconds: float, most: float, *, error: Raised = FillwrightError) -> None:
    """Refuse something that lasts too long; a duration that is not a number is too long.

    Raises:
        FillwrightError: or the class given, with the duration found and the one accepted.
    """
    if not seconds <= most:
        raise error(
            f"{where} lasts {format_seconds(seconds)}; at most {format_seconds(most)} are accepted, "
            "so cut it down first."
        )


def check_nesting(where: str, depth: int, most: int, *, error: Raised = FillwrightError) -> None:
    """Refuse what is nested too deeply.

    Raises:
        FillwrightError: or the class given, with the depth that is accepted.
    """
    if depth > most:
        raise error(f"{where} is nested more than {most} deep, the most that is accepted.")


def limit_remarks(remarks: Iterable[str]) -> tuple[str, ...]:
    """Return the first remarks, and how many more there are.

    >>> limit_remarks(str(number) for number in range(60))[-2:]
    ('49', 'There are 10 more remarks like these.')
    """
    listed = tuple(remarks)
    more = len(listed) - REMARKS
    return listed if more <= 0 else (*listed[:REMARKS], f"There are {more:,} more remarks like these.")


def read_limited(path: Path, most: int, *, error: Raised = FillwrightError) -> bytes:
    """Read a file, and never more than its limit and one byte, so that an endless one ends.

    Raises:
        FillwrightError: or the class given, for a file that can't be read or is larger than `most`.
    """
    try:
        with path.open("rb") as file:
            content = file.read(most + 1)
    except (OSError, ValueError) as failure:
        reason = (getattr(failure, "strerror", None) or str(failure)).lower()
        raise error(f'"{path}" can\'t be read: {reason}.') from failure
    check_bytes(f'"{path}"', len(content), most, error=error)
    return content
