"""Damaged and crafted backups: one sentence that quotes nobody's data, and nothing restored."""

import hashlib
import io
import json
import struct
import time
import zipfile
from pathlib import Path
from random import Random

import pytest

from fillwright.errors import StoreError
from fillwright.store.archive import MANIFEST, check_backup, restore_backup
from fillwright.store.database import open_store

OLD = (Path(__file__).parents[3] / "golden" / "backups" / "version-1.zip").read_bytes()
PRIVATE = ("Pim", "Quinn", "ghost notes", "earplugs", "argon2")
DEEP = "[" * 5_000 + "]" * 5_000


def rebuild(changes, *, manifest=None, pack=zipfile.ZIP_DEFLATED):
    """Return the old backup with some files changed, its hashes and numbers of rows made to fit."""
    with zipfile.ZipFile(io.BytesIO(OLD)) as old:
        files = {name: old.read(name) for name in old.namelist()}
    about = json.loads(files.pop(MANIFEST))
    files |= changes
    for name, content in changes.items():
        about["sha256"][name] = hashlib.sha256(content).hexdigest()
        about["rows"][name.removesuffix(".jsonl")] = content.count(b"\n")
    about |= manifest or {}
    made = io.BytesIO()
    with zipfile.ZipFile(made, "w", pack) as new:
        for name, content in files.items():
            new.writestr(name, content)
        new.writestr(MANIFEST, json.dumps(about))
    return made.getvalue()


def rows_of(name):
    with zipfile.ZipFile(io.BytesIO(OLD)) as old:
        return [json.loads(line) for line in old.read(name).splitlines()]


def change_row(file, values):
    rows = rows_of(file)
    rows[0] |= values
    return rebuild({file: "".join(json.dumps(row) + "\n" for row in rows).encode()})


@pytest.fixture(scope="module")
def empty(tmp_path_factory):
    store = open_store(tmp_path_factory.mktemp("store") / "studio.db")
    yield store
    store.close()


def refuse(store, content):
    """Restore, expect one sentence, and return it."""
    start = time.monotonic()
    with pytest.raises(StoreError) as refused:
        restore_backup(store, io.BytesIO(content))
    sentence = str(refused.value)
    assert time.monotonic() - start < 5
    assert "\n" not in sentence
    assert not [word for word in PRIVATE if word in sentence]
    with store.begin_reading() as connection:
        assert connection.exec_driver_sql("SELECT count(*) FROM teacher").scalar() == 0
    return sentence


def test_one_bit_is_noticed_or_means_nothing(empty):
    random = Random(12)
    refused = 0
    for _ in range(400):
        damaged = bytearray(OLD)
        damaged[random.randrange(len(damaged))] ^= 1 << random.randrange(8)
        sentence = ""
        try:
            restore_backup(empty, io.BytesIO(bytes(damaged)))
        except StoreError as error:
            sentence = str(error)
        refused += bool(sentence)
        assert "\n" not in sentence
        assert not [word for word in PRIVATE if word in sentence]
        if not sentence:  # a bit in a field that nobody reads, such as a file's date
            with empty.begin_writing() as connection:
                connection.exec_driver_sql("DELETE FROM audit")
                connection.exec_driver_sql("DELETE FROM teacher")
    assert refused > 200


@pytest.mark.parametrize("kept", [0, 1, 21, 22, 100, 5_000, len(OLD) - 400, len(OLD) - 1])
def test_a_backup_that_broke_off_is_refused(empty, kept):
    refuse(empty, OLD[:kept])


@pytest.mark.parametrize(
    ("name", "values"),
    [
        ("student.jsonl", {"name": 5}),
        ("student.jsonl", {"name": None}),
        ("student.jsonl", {"name": "x" * 81}),
        ("student.jsonl", {"id": "1"}),
        ("student.jsonl", {"id": 2**31}),
        ("student.jsonl", {"id": 10**400}),
        ("student.jsonl", {"id": 1.5}),
        ("student.jsonl", {"created": "2026-03-02T16:00:00"}),
        ("student.jsonl", {"created": "yesterday"}),
        ("student.jsonl", {"more": 1}),
        ("assignment.jsonl", {"due": "2026-02-30"}),
        ("take.jsonl", {"passed": 1}),
        ("take_media.jsonl", {"content": "not base64"}),
        ("take_media.jsonl", {"content": [1, 2]}),
    ],
)
def test_a_row_that_does_not_fit_its_table_is_refused(empty, name, values):
    assert refuse(empty, change_row(name, values)) == (
        f"{name} in the backup is damaged: row 1 can't be read. Nothing was restored."
    )


@pytest.mark.parametrize(
    ("name", "values", "table"),
    [
        ("student.jsonl", {"teacher_id": 99}, "student"),
        ("student.jsonl", {"created": "0001-01-01T00:00:00+14:00"}, "student"),
        ("own.jsonl", {"kind": "drum"}, "own"),
        ("account.jsonl", {"role": "student", "student_id": None}, "account"),
    ],
)
def test_rows_that_do_not_fit_together_are_refused(empty, name, values, table):
    assert refuse(empty, change_row(name, values)) == (
        f"The backup is damaged: rows of {table} don't fit the others. Nothing was restored."
    )


@pytest.mark.parametrize("line", [b"", b"null", b"[]", b"{", b"\xff\xfe", b"{}", b'{"id": 1}', DEEP.encode()])
def test_a_line_that_is_not_a_row_is_refused(empty, line):
    assert "row 1 can't be read" in refuse(empty, rebuild({"student.jsonl": line + b"\n"}))


def test_a_report_that_is_nested_too_deeply_is_refused(empty):
    line = json.dumps(rows_of("take.jsonl")[0] | {"report": 0}).replace('"report": 0', f'"report": {DEEP}')
    assert "row 1 can't be read" in refuse(empty, rebuild({"take.jsonl": line.encode() + b"\n"}))


def test_rows_are_in_order_and_each_once(empty):
    teacher = json.dumps(rows_of("teacher.jsonl")[0]).encode() + b"\n"
    assert "row 2 is out of order" in refuse(empty, rebuild({"teacher.jsonl": teacher * 2}))
    setting = json.dumps(rows_of("setting.jsonl")[0]).encode() + b"\n"
    assert "row 2 is out of order" in refuse(empty, rebuild({"setting.jsonl": setting * 2}))


def test_the_list_of_files_must_be_complete(empty):
    about = {"rows": {}, "sha256": {}}
    assert "audit.jsonl in the backup is missing" in refuse(empty, rebuild({}, manifest=about))
    assert "no readable backup.json" in refuse(empty, rebuild({}, manifest={"rows": {"take": "many"}}))
    assert "no readable backup.json" in refuse(empty, rebuild({}, manifest={"format": "1"}))
    assert "no readable backup.json" in refuse(empty, rebuild({}, manifest={"x": "y" * 200_000}))
    assert "newer version" in refuse(empty, rebuild({}, manifest={"format": 2}))


def test_other_ways_of_packing_are_refused(empty):
    assert "packed in another way" in refuse(empty, rebuild({}, pack=zipfile.ZIP_LZMA))
    twice = io.BytesIO()
    with zipfile.ZipFile(twice, "w") as archive:
        archive.writestr(MANIFEST, "{}")
        with pytest.warns(UserWarning, match="Duplicate"):
            archive.writestr(MANIFEST, "{}")
    assert "packed in another way" in refuse(empty, twice.getvalue())


def test_too_many_files_are_refused(empty):
    many = io.BytesIO()
    with zipfile.ZipFile(many, "w") as archive:
        for number in range(2_000):
            archive.writestr(str(number), "")
    assert "use at most 64" in refuse(empty, many.getvalue())


def test_a_list_of_files_that_claims_to_be_long_is_not_read(empty):
    end = struct.pack("<4s4H2LH", b"PK\5\6", 0, 0, 65_000, 65_000, 3_000_000_000, 0, 0)
    assert "not a backup" in refuse(empty, b"\0" * 100 + end)
    assert "not a backup" in refuse(
        empty, b"\0" * 4_000_000 + end.replace(struct.pack("<L", 3_000_000_000), struct.pack("<L", 3_900_000))
    )


@pytest.mark.parametrize("name", ["audit.jsonl", "take_media.jsonl", MANIFEST])
def test_a_small_file_that_unpacks_to_gigabytes_is_refused(empty, tmp_path, name):
    """Zeros, a long text and many small rows: 4 GB in a few kilobytes; memory is measured in tests/fuzz."""
    path = tmp_path / "bomb.zip"
    filler = b'{"take_id": 1, "content": "' + b"A" * 60_000_000 + b'", "picture": ""}\n'
    block = filler if name == "take_media.jsonl" else b"\0" * 50_000_000
    with zipfile.ZipFile(path, "w", zipfile.ZIP_DEFLATED) as archive:
        with zipfile.ZipFile(io.BytesIO(OLD)) as old:
            for other in set(old.namelist()) - {name}:
                archive.writestr(other, old.read(other))
        with archive.open(name, "w") as part:
            for _ in range(6):
                part.write(block)
    start = time.monotonic()
    with pytest.raises(StoreError):
        check_backup(path)
    assert time.monotonic() - start < 5
