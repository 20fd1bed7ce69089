"""Compare a folder of reports with another: report_check.py COMMITTED MADE.

Tables and documents must be the same byte for byte, and texts of PDF pages word for word. Pictures
and PDF pages must look the same: a newer drawing library may set the rim of a letter a hair apart.
Small squares are compared by their mean, so that such a rim is averaged out, while a digit that
is another one, a line that moved or a colour that changed is not.
"""

from __future__ import annotations

import sys
from io import BytesIO
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from collections.abc import Iterator

    from PIL.Image import Image

DRAWN_ANEW = "motion"
"""Pictures of people who are struck, by a word of their names: between kinds of processors the
last digit of a sine differs, contacts magnify that to 2 mm in single draws (measured), and another
draw may then be the middle one that is drawn. That they are there and as large is all that is
compared; tests compare the numbers."""
LIST = "frontcheck-files.txt"
"""Size and digest of every file of a folder, which `frontcheck` keeps there."""
SQUARE = 8
"""Side of a square [pixels]."""
AT_MOST = 12.0
"""Difference of the mean of a square, of 255. Measured on our letters: set a tenth of a pixel aside
3, three tenths 8; a digit that becomes another one 15 (6 to 8) to 48 (6 to 7)."""
ON_THE_WHOLE = 0.5
"""Mean difference over a picture, of 255: much that is small is more than a hair."""
PDF_SCALE = 150.0 / 72.0
"""Pages are looked at with 150 pixels an inch, as the pictures are."""


def differences(committed: Path, made: Path) -> list[str]:
    """Say what differs, file by file; nothing when the folders show the same."""
    before, now = (
        {path.relative_to(folder).as_posix(): path for path in folder.rglob("*") if path.is_file()}
        for folder in (committed, made)
    )
    found = [f"{name}: is not made any more" for name in sorted(before.keys() - now.keys())]
    found += [f"{name}: is not committed" for name in sorted(now.keys() - before.keys())]
    for name in sorted(before.keys() & now.keys()):
        found += [f"{name}: {words}" for words in _compared(before[name], now[name])]
    return found


def _compared(committed: Path, made: Path) -> Iterator[str]:
    if committed.read_bytes() == made.read_bytes():
        return
    kind = committed.suffix.lower()
    if kind == ".png" and DRAWN_ANEW in committed.stem.split("-"):
        if _picture(committed).size != _picture(made).size:
            yield "is of another size"
    elif kind == ".png":
        yield from looks(_picture(committed), _picture(made))
    elif kind == ".pdf":
        yield from _pages(committed, made)
    elif committed.name == LIST:
        before, now = (_texts_listed(path) for path in (committed, made))
        if before != now:
            yield "lists other files"
    else:
        yield "is not the same, byte for byte"


def _texts_listed(path: Path) -> list[str]:
    """Rows of a list of files, of pictures and pages the name alone."""
    rows = path.read_text("utf-8").splitlines()
    return [row.split(" ", 2)[-1] if row.endswith((".png", ".pdf")) else row for row in rows]


def _picture(path: Path) -> Image:
    from PIL import Image

    return Image.open(BytesIO(path.read_bytes()))


def _pages(committed: Path, made: Path) -> Iterator[str]:
    import pypdfium2

    before, now = (pypdfium2.PdfDocument(path) for path in (committed, made))
    if len(before) != len(now):
        yield f"{len(now)} pages in place of {len(before)}"
        return
    for number, (old, new) in enumerate(zip(before, now, strict=True), start=1):
        words = [page.get_textpage().get_text_range().split() for page in (old, new)]
        if words[0] != words[1]:
            yield f"page {number}: says something else"
        pictures = [page.render(scale=PDF_SCALE).to_pil() for page in (old, new)]
        for said in looks(*pictures):
            yield f"page {number}: {said}"


def looks(committed: Image, made: Image) -> Iterator[str]:
    """Say where two pictures look different."""
    if committed.size != made.size:
        yield f"{made.size} pixels in place of {committed.size}"
        return
    a, b = (np.asarray(each.convert("RGB"), dtype=np.float64) for each in (committed, made))
    height, width = (side // SQUARE * SQUARE for side in a.shape[:2])
    off = (b - a)[:height, :width].reshape(height // SQUARE, SQUARE, width // SQUARE, SQUARE, 3)
    squares = np.abs(off.mean(axis=(1, 3))).max(axis=-1)
    whole = float(np.abs(b - a).mean())
    if squares.max() > AT_MOST:
        row, column = np.unravel_index(squares.argmax(), squares.shape)
        count = int((squares > AT_MOST).sum())
        yield (
            f"{count} squares look different, most of all at {column * SQUARE}, {row * SQUARE} "
            f"({squares.max():.0f} of 255, at most {AT_MOST:g})"
        )
    elif whole > ON_THE_WHOLE:
        yield f"differs by {whole:.2f} of 255 on the whole, at most {ON_THE_WHOLE:g}"


if __name__ == "__main__":
    said = differences(Path(sys.argv[1]), Path(sys.argv[2]))
    sys.stdout.write("".join(f"{line}\n" for line in said))
    sys.exit(1 if said else 0)
