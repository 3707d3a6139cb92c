"""The last resort: the traceback of a mistake of ours, in a file in the user's cache folder."""

from __future__ import annotations

import os
import sys
import traceback
from datetime import UTC, datetime
from pathlib import Path

from fillwright import __version__

_KEPT = 10  # newest files that are kept; ours


def write_crash_log(error: BaseException, command: str) -> Path | None:
    """Write a traceback to a new file that only the user can read.

    Args:
        error: exception that was raised.
        command: name of the command; its arguments are left out, as they may name students.

    Returns:
        The file; None if it can't be written.
    """
    import platformdirs

    now = datetime.now(UTC)
    text = (
        f"Fillwright {__version__}, Python {sys.version.split()[0]}, {sys.platform}, {command}, {now:%F %T}\n\n"
    )
    text += "".join(traceback.format_exception(error))
    try:
        folder = Path(platformdirs.user_cache_dir("fillwright")) / "errors"
        folder.mkdir(parents=True, exist_ok=True, mode=0o700)
        path = folder / f"{now:%Y%m%d-%H%M%S-%f}.txt"
        with os.fdopen(os.open(path, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600), "wb") as file:
            file.write(text.encode("utf-8", "backslashreplace"))
        for old in sorted(folder.glob("*.txt"))[:-_KEPT]:
            old.unlink(missing_ok=True)
    except OSError:
        return None
    return path
