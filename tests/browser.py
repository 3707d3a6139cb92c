"""How the tests start Chromium."""

from __future__ import annotations

import shutil
from pathlib import Path

CHROMIUM = Path(shutil.which("chromium") or "/usr/bin/chromium")

OPTIONS = [
    "--no-sandbox",
    "--disable-gpu",
    "--disable-quic",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
    "--autoplay-policy=no-user-gesture-required",
    "--use-fake-ui-for-media-stream",
    "--use-fake-device-for-media-stream",
]
