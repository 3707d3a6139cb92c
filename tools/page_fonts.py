"""Make `lesson/practice/fonts.css`: the page's four faces, cut down to Latin letters and packed as WOFF2.

Needs `fonttools` and `brotli`, which nothing else here needs, so what it makes is kept in the repository. The
licence reserves the faces' own name for the faces as they were published; cut down they go by another.

    python tools/page_fonts.py
"""

from __future__ import annotations

import base64
import io
from importlib.resources import files
from pathlib import Path

from fontTools.subset import Options, Subsetter
from fontTools.ttLib import TTFont

TARGET = Path(__file__).parent.parent / "src/fillwright/pack/practice/fonts.css"
FACES = (
    ("Serif", "Regular", 400),
    ("Serif", "Semibold", 600),
    ("Sans", "Regular", 400),
    ("Sans", "Semibold", 600),
)
LETTERS = (
    "U+0020-007E, U+00A0-017F, U+0218-021B, U+2010, U+2011, U+2013, U+2014, U+2018-201A, U+201C-201E, U+2026, "
    "U+2032, U+2033, U+2190-2193, U+2212, U+2713"
)
FEATURES = ["kern", "liga", "mark", "mkmk", "ccmp", "locl", "tnum", "lnum"]
HEAD = """/* Made by tools/page_fonts.py from Source Serif Pro and Source Sans Pro, cut down and renamed.
   Copyright Adobe, SIL Open Font License 1.1: https://openfontlicense.org */
"""


def main() -> None:
    """Write the style sheet."""
    TARGET.write_text(HEAD + "".join(_rule(*face) for face in FACES), "ascii")


def _rule(kind: str, weight: str, number: int) -> str:
    packed = base64.b64encode(_cut_down(kind, weight)).decode("ascii")
    return (
        f'@font-face{{font-family:"Fillwright {kind}";font-weight:{number};font-display:block;'
        f"src:url(data:font/woff2;base64,{packed}) format('woff2')}}\n"
    )


def _cut_down(kind: str, weight: str) -> bytes:
    package = files(f"font_source_{kind.lower()}_pro")
    data = package.joinpath("files", f"Source{kind}Pro-{weight}.ttf").read_bytes()
    font = TTFont(io.BytesIO(data), recalcTimestamp=False)
    options = Options(hinting=False, layout_features=FEATURES, name_IDs=[0, 1, 2, 4, 6, 13, 14], flavor="woff2")
    subsetter = Subsetter(options)
    subsetter.populate(unicodes=_codes())
    subsetter.subset(font)
    for record in font["name"].names:
        if record.nameID in (1, 4, 6):
            record.string = f"Fillwright{'' if record.nameID == 6 else ' '}{kind}"
    font.flavor = "woff2"
    out = io.BytesIO()
    font.save(out)
    return out.getvalue()


def _codes() -> list[int]:
    codes: list[int] = []
    for part in LETTERS.replace("U+", "").split(", "):
        first, _, last = part.partition("-")
        codes += range(int(first, 16), int(last or first, 16) + 1)
    return codes


if __name__ == "__main__":
    main()
