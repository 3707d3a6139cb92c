"""Backup and restore need little memory, however large the store is; so do crafted backups."""

import io
import json
import random
import subprocess
import sys
import zipfile
from contextlib import ExitStack
from pathlib import Path

import pytest
from sqlalchemy import insert

from fillwright.store.archive import MANIFEST
from fillwright.store.database import open_store
from fillwright.store.lessons import add_lesson, add_series
from fillwright.store.schema import take, take_media
from fillwright.store.students import Profile, add_student
from fillwright.store.transaction import begin_writing, ensure_teacher
from tests.postgres import database

OLD = Path(__file__).parents[3] / "golden" / "backups" / "version-1.zip"
LESSON = 'number = 1\ntitle = "A"\n\n[[figure]]\nname = "single paradiddle"\nsteps = ["last beat"]\n'
SIZES = (*[39_999_999] * 2, *[1_000_000] * 20, *[1_000] * 300)
"""Bytes of made recordings: the longest that a store takes, usual ones and short ones; 100 MB in all."""

MOST_MEGABYTES = 200
REPORT = {"strokes": [{"number": number, "lag_ms": number / 7} for number in range(2_000)]}

COMMAND = """
import resource, sys
from fillwright.cli.main import main
status = main(sys.argv[1:])
used = resource.getrusage(resource.RUSAGE_SELF)
peak = next(line for line in open("/proc/self/status") if line.startswith("VmHWM"))
print(int(peak.split()[1]) // 1024, used.ru_utime + used.ru_stime, file=sys.stderr)
sys.exit(status)
"""


def run(*words):
    """Run a command; return its status, output, sentence, megabytes and processor seconds."""
    done = subprocess.run(
        [sys.executable, "-c", COMMAND, *map(str, words)], capture_output=True, text=True, check=False
    )
    *sentences, figures = done.stderr.splitlines()
    megabytes, seconds = figures.split()
    return done.returncode, done.stdout, sentences, int(megabytes), float(seconds)


@pytest.fixture(scope="module", params=["sqlite", "postgresql"])
def places(request, tmp_path_factory):
    """Return the options of two stores: one with recordings, one that is not there yet or empty."""
    folder = tmp_path_factory.mktemp("large")
    with ExitStack() as stack:
        if request.param == "postgresql":
            url = request.getfixturevalue("postgres_url")
            urls = [stack.enter_context(database(url, name)) for name in ("large_from", "large_to")]
            where, options = urls[0], [("--store", url) for url in urls]
        else:
            where, options = (
                folder / "from" / "studio.db",
                [("--folder", folder / name) for name in ("from", "to")],
            )
        store = open_store(where)
        _fill(store)
        store.close()
        yield options


def _fill(store):
    teacher = ensure_teacher(store)
    with begin_writing(store, teacher) as transaction:
        lesson = add_lesson(transaction, add_series(transaction, "S"), LESSON)
        values = {"student_id": add_student(transaction, Profile(name="Pim")), "lesson_id": lesson}
        values |= {"fill": "a", "tempo": 60, "recorded": transaction.now, "media_type": "audio/wav"}
        rows = [
            {**values, "id": number, "report": REPORT, "passed": False} for number in range(1, len(SIZES) + 1)
        ]
        transaction.connection.execute(insert(take), rows)
        for number, size in enumerate(SIZES, start=1):
            content = random.Random(number).randbytes(size)
            row = {"take_id": number, "content": content, "picture": "<svg/>"}
            transaction.connection.execute(insert(take_media).values(**row))


def test_memory_does_not_grow_with_the_store(places, tmp_path):
    file = tmp_path / "all.zip"
    status, output, sentences, megabytes, _ = run("backup", "-o", file, *places[0])
    assert (status, sentences) == (0, [])
    assert megabytes < MOST_MEGABYTES
    status, output, sentences, megabytes, _ = run("restore", file, *places[1])
    assert (status, sentences) == (0, [])
    assert output.endswith(f"{len(SIZES)} of them takes.\n")
    assert megabytes < MOST_MEGABYTES


def pack(name, blocks):
    """Return the old backup with one file replaced by blocks that pack to almost nothing."""
    memory = io.BytesIO()
    with (
        zipfile.ZipFile(OLD) as old,
        zipfile.ZipFile(memory, "w", zipfile.ZIP_DEFLATED, compresslevel=9) as new,
    ):
        for other in set(old.namelist()) - {name, "take_media.jsonl", "take.jsonl"}:
            new.writestr(other, old.read(other))
        with new.open(name, "w", force_zip64=True) as part:
            for block in blocks:
                part.write(block)
    return memory.getvalue()


BOMBS = {
    "zeros": ("audit.jsonl", [b"\0" * 10_000_000] * 100),
    "empty lines": ("audit.jsonl", [b"\n" * 10_000_000] * 30),
    "a recording": ("take_media.jsonl", [b'{"take_id": 1, "content": "', *[b"A" * 10_000_000] * 100]),
    "one row again and again": (
        "teacher.jsonl",
        [b'{"id": 1, "name": "", "created": "2026-03-02T16:00:00Z"}\n' * 10_000] * 100,
    ),
    "lists in a report": (
        "setting.jsonl",
        [b'{"teacher_id": 1, "name": "a", "value": [', b"[]," * 2_600_000, b"[]]}\n"],
    ),
    "a list of files": (MANIFEST, [b'{"format": 1, "x": "', *[b"x" * 10_000_000] * 100]),
    "a list of many tables": (
        MANIFEST,
        [json.dumps({"rows": {str(number): 1 for number in range(100_000)}}).encode()],
    ),
}


@pytest.mark.parametrize("kind", BOMBS)
def test_a_crafted_backup_is_refused_quickly_with_little_memory(kind, tmp_path):
    path = tmp_path / "bomb.zip"
    path.write_bytes(pack(*BOMBS[kind]))
    status, output, sentences, megabytes, seconds = run("restore", path, "--folder", tmp_path / "studio")
    assert (status, output, len(sentences)) == (2, "", 1)
    assert sentences[0].endswith("Nothing was restored.")
    assert megabytes < 500
    assert seconds < 5
    assert [file.name for file in tmp_path.iterdir()] == ["bomb.zip"]


def test_a_backup_whose_rows_do_not_fit_leaves_no_new_studio(tmp_path):
    path = tmp_path / "bad.zip"
    path.write_bytes(pack("audit.jsonl", [b""]))  # its takes are gone, but not from the list
    assert run("restore", path, "--folder", tmp_path / "studio")[0] == 2
    assert [file.name for file in tmp_path.iterdir()] == ["bad.zip"]
