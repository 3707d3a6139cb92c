"""Nobody but their owner reads the studio's files, whatever the umask."""

import os
import stat

import pytest

from fillwright.cli.main import main
from fillwright.store.database import open_store
from fillwright.store.files.private_files import list_sqlite_files
from fillwright.store.transaction import ensure_teacher
from fillwright.studio.serve import set_up

pytestmark = pytest.mark.skipif(os.name == "nt", reason="Windows has no such modes")


@pytest.fixture(params=[0o000, 0o022, 0o077])
def umask(request):
    before = os.umask(request.param)
    yield request.param
    os.umask(before)


def mode_of(path):
    return stat.S_IMODE(path.stat().st_mode)


def test_store_secret_and_backup_are_closed_to_others(tmp_path, umask):
    folder = tmp_path / "studio"
    setup = set_up(folder)
    ensure_teacher(setup.store)
    there = [path for path in list_sqlite_files(folder / "studio.db") if path.exists()]
    assert {path.name for path in there} == {"studio.db", "studio.db-wal", "studio.db-shm"}
    assert {mode_of(path) for path in (*there, folder / "secret")} == {0o600}
    assert mode_of(folder) == 0o700
    setup.store.close()
    assert main(["backup", "-o", str(tmp_path / "all.zip"), "--folder", str(folder), "--quiet"]) == 0
    assert mode_of(tmp_path / "all.zip") == 0o600


def test_a_store_of_an_earlier_version_is_closed_when_it_is_opened(tmp_path):
    folder = tmp_path / "studio"
    open_store(folder / "studio.db").close()
    folder.chmod(0o755)
    (folder / "studio.db").chmod(0o644)
    open_store(folder / "studio.db").close()
    assert (mode_of(folder), mode_of(folder / "studio.db")) == (0o700, 0o600)


def test_a_folder_with_files_of_its_own_keeps_its_mode(tmp_path):
    tmp_path.chmod(0o755)
    (tmp_path / "letter.txt").write_text("mine")
    for _ in range(2):
        open_store(tmp_path / "studio.db").close()
    assert (mode_of(tmp_path), mode_of(tmp_path / "studio.db")) == (0o755, 0o600)


@pytest.mark.parametrize(
    "name", ["lesson?1", "pct%20", "a#b", "a&b=c", "sp ace", "file:x?mode=memory", "ü", "a'b\"c"]
)
def test_a_folder_may_have_any_name(tmp_path, name):
    folder = tmp_path / name
    store = open_store(folder / "studio.db")
    ensure_teacher(store)
    store.close()
    assert [path.name for path in folder.iterdir()] == ["studio.db"]
    assert [path.name for path in tmp_path.iterdir()] == [name]
    assert main(["backup", "-o", str(tmp_path / "all.zip"), "--folder", str(folder), "--quiet"]) == 0
