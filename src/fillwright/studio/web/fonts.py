"""The faces that pages are set in, from the packages that carry them."""

from __future__ import annotations

from importlib.resources import files

from starlette.responses import Response

from fillwright.errors import NotThereError
from fillwright.studio.web.request import Ask

_FACES = {
    "serif-regular": ("font_source_serif_pro", "SourceSerifPro-Regular.otf"),
    "serif-semibold": ("font_source_serif_pro", "SourceSerifPro-Semibold.otf"),
    "sans-regular": ("font_source_sans_pro", "SourceSansPro-Regular.otf"),
    "sans-semibold": ("font_source_sans_pro", "SourceSansPro-Semibold.otf"),
}


def face(ask: Ask) -> Response:
    """A face, kept by the browser for a month.

    Raises:
        NotThereError: for a face that pages are not set in.
    """
    found = _FACES.get(str(ask.request.path_params["name"]))
    if found is None:
        raise NotThereError("There is no such face.")
    package, name = found
    content = files(package) / "files" / name
    headers = {"cache-control": "public, max-age=2592000"}
    return Response(content.read_bytes(), media_type="font/otf", headers=headers)
