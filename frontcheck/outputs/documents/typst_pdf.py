"""PDF documents set by typst: vectors, embedded fonts, bookmarks, searchable text.

typst is a wheel without system packages. Content goes to it as data, never as source.
"""

from __future__ import annotations

import json
from importlib.resources import files
from pathlib import Path
from typing import TYPE_CHECKING, Any

from frontcheck.errors import OutputError

if TYPE_CHECKING:
    from collections.abc import Mapping


def require_typst() -> Any:
    """Return the library that sets documents; called before long work, not after it."""
    try:
        import typst
    except ImportError:
        raise OutputError(
            "documents need the package typst, which is not installed; "
            "run: pip install 'frontcheck[annex]'"
        ) from None
    return typst


def typst_pdf(
    room: str,
    name: str,
    content: Mapping[str, Any],
    pictures: Mapping[str, bytes] | None = None,
    *,
    tagged: bool = True,
) -> bytes:
    """Fill the template `name` of a room with content; the same always gives the same bytes."""
    typst = require_typst()
    sources = {
        "main.typ": files(room).joinpath(f"templates/{name}.typ").read_bytes(),
        f"{name}.json": json.dumps(content, ensure_ascii=True).encode(),
    }
    pdf: bytes = typst.compile(
        sources | dict(pictures or {}),
        font_paths=[str(_fonts())],
        ignore_system_fonts=True,  # the same letters, and the same bytes, on every machine
        format="pdf",
        pdf_tags=tagged,  # for a reading voice; a form to print has no use for them
    )
    return pdf


def _fonts() -> Path:
    """Folder with the letters that matplotlib comes with, and our figures use."""
    import matplotlib as mpl

    return Path(mpl.get_data_path()) / "fonts" / "ttf"
