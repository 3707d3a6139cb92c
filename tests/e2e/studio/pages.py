"""The pages of the furnished studio that tests open, and at which sizes."""

from __future__ import annotations

import re
from urllib.parse import quote

from tests.e2e.studio_server import (
    FILL,
)

PHONE, SCREEN = (360, 740), (1280, 860)
TAKE = re.compile(r"/takes/\d+$")
RIGHT_ALONE = "sticking=R+R+R+R&rhythm=32&beats=0.5&tempo=160&on=" + quote("snare, floor tom, snare, crash")
PAGES = {
    "start": "/",
    "series": "/series/1",
    "edit series": "/series/1/edit",
    "a new lesson": "/series/1/new",
    "lesson": f"/lessons/1?fill={FILL}",
    "text": "/lessons/1/text",
    "form": "/lessons/1/form",
    "pack": "/lessons/1/pack",
    "workshop": "/workshop",
    "own fill": "/workshop?sticking=R+lR+%28L%29+L&rhythm=8&beats=2&on=snare,high+tom,snare,snare",
    "a fill out of reach": f"/workshop?{RIGHT_ALONE}",
    "figures": "/figures",
    "figure": "/figures/flam%20tap",
    "grooves": "/grooves",
    "kits": "/kits",
    "students": "/students",
    "student": "/students/1",
    "student without anything": "/students/2",
    "a new take": f"/students/1/takes/new?lesson=1&fill={FILL}&tempo=60",
    "poor take": "/takes/1",
    "good take": "/takes/2",
    "refused take": "/takes/3",
    "settings": "/settings",
    "shortcuts": "/help/shortcuts",
    "glossary": "/help/glossary",
    "no such page": "/lessons/999",
}
