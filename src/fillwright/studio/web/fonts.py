"""The fonts of the pages, from the packages that carry them."""

from __future__ import annotations

from importlib.resources import files

from starlette.responses import Response

from fillwright.errors import NotThereError
from fillwright.studio.web.request import PageRequest

_FONTS = {
    "serif-regular": ("font_source_serif_pro", "SourceSerifPro-Regular.otf"),
    "serif-semibold": ("font_source_serif_pro", "SourceSerifPro-Semibold.otf"),
    "sans-regular": ("font_source_sans_pro", "SourceSansPro-Regular.otf"),
    "sans-semibold": ("font_source_sans_pro", "SourceSansPro-Semibold.otf"),
}
"""Package and file of each font, by its name in the address."""


def send_font(request: PageRequest) -> Response:
    """Send a font, which browsers keep for a month.

    Raises:
        NotThereError: for an unknown font.
    """
    try:
        package, name = _FONTS[request.segment("name")]
    except KeyError as error:
        raise NotThereError("There is no such font.") from error
    content = files(package) / "files" / name
    headers = {"cache-control": "public, max-age=2592000"}
    return Response(content.read_bytes(), media_type="font/otf", headers=headers)
