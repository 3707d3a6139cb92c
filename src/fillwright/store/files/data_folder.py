"""The folder of a studio's data, and its store. Commands that open no pages need nothing more of the studio."""

from __future__ import annotations

from pathlib import Path

import platformdirs

from fillwright.errors import StoreError
from fillwright.store.database import Store, open_store

STORE_FILE = "studio.db"
"""Name of the file of SQLite in the folder."""


def find_data_folder() -> Path:
    """Return the default folder of a studio."""
    return Path(platformdirs.user_data_path("fillwright"))


def open_studio_store(folder: Path | None, store: str, *, new: bool = False) -> Store:
    """Open the store of a studio's folder, or of a URL.

    Args:
        folder: of the studio; None for the default folder.
        store: a URL; "" for the file in the folder.
        new: True to make a store if there is none.

    Raises:
        StoreError: if it can't be opened, or is not there.
    """
    path = (folder or find_data_folder()) / STORE_FILE
    if not (store or new or path.is_file()):
        raise StoreError(f'There is no studio in "{path.parent}"; set its folder with --folder.')
    return open_store(store or path)
