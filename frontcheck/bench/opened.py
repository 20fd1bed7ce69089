"""Files that a browser hands over, read as a front; nothing of them stays on disk."""

from __future__ import annotations

import base64
from collections import Counter
from io import BytesIO
from pathlib import Path, PureWindowsPath
from tempfile import TemporaryDirectory
from typing import TYPE_CHECKING, Any, Final, NamedTuple

from frontcheck.errors import FrontcheckError, NotAvailableError, escaped, refuse
from frontcheck.reading.readers import read_front

if TYPE_CHECKING:
    from collections.abc import Sequence

    from frontcheck.front.front import Front


_PICTURES: Final = ("JPEG", "PNG", "WEBP", "MPO")
_MOST_PIXELS: Final = 120_000_000
"""Own choice: a phone's largest today; decoded it has three times as many bytes."""
_WIDEST: Final = 4000
"""Wider or higher pictures are shown smaller [px]: own choice, 1 px of a car is then about 1 mm."""


def opened(names: Sequence[str], contents: Sequence[str], **options: Any) -> Front:
    """Read the front in files given as base64; of several, the front file says what the rest is."""
    tables = [name for name in names if name.lower().endswith(".toml")]
    if len(names) > 1 and len(tables) != 1:
        raise refuse("bench.files", count=len(names), tables=len(tables))
    twice = [name for name, count in Counter(map(str.casefold, names)).items() if count > 1]
    if twice:
        raise refuse("bench.same", name=twice[0][:80])
    with TemporaryDirectory(prefix="frontcheck-") as folder:
        paths = [_kept(Path(folder), *each) for each in zip(names, contents, strict=True)]
        chosen = paths[names.index(tables[0])] if tables else paths[0]
        given = {name: value for name, value in options.items() if value is not None}
        try:
            return read_front(chosen, **({} if tables else given))
        except FrontcheckError as error:
            said = str(error).replace(f"{escaped(folder)}/", "")
            if tables and len(names) == 1:
                said += "; choose the front file and the files that it names together"
            raise NotAvailableError(said) from None


def _kept(folder: Path, name: str, content: str) -> Path:
    bare = PureWindowsPath(name).name
    try:
        data = base64.b64decode(content, validate=True)
        path = folder / bare
        path.write_bytes(data)
    except (OSError, ValueError):
        raise refuse("bench.file", name=name[:80]) from None
    return path


class Picture(NamedTuple):
    """A picture as a browser is to show it, and its size [px]."""

    url: str
    width: int
    height: int


def picture_in(name: str, content: str) -> Picture:
    """Return the picture in a file given as base64, upright and of a size that can be shown."""
    from PIL import Image, ImageOps

    try:
        with Image.open(BytesIO(base64.b64decode(content, validate=True))) as found:
            if found.format not in _PICTURES or found.width * found.height > _MOST_PIXELS:
                raise refuse("bench.picture", name=name[:80], most=_MOST_PIXELS / 1e6)
            upright = ImageOps.exif_transpose(found).convert("RGB")
    except (OSError, ValueError, SyntaxError, Image.DecompressionBombError):
        raise refuse("bench.picture", name=name[:80], most=_MOST_PIXELS / 1e6) from None
    upright.thumbnail((_WIDEST, _WIDEST))
    made = BytesIO()
    upright.save(made, "jpeg", quality=90)
    url = f"data:image/jpeg;base64,{base64.b64encode(made.getvalue()).decode()}"
    return Picture(url, *upright.size)
