"""Make the pictures of the handbook anew: python tests/handbook_pictures.py [FOLDER].

Runs the Python of each page (tests/fences.py) and writes the pictures that it makes, by default
into the package. `.ci/reports` calls it.
"""

from __future__ import annotations

import sys
import tempfile
from io import BytesIO
from pathlib import Path
from typing import TYPE_CHECKING

from fences import run_page

from frontcheck.outputs.pages.book_pages import PAGES, home, page

if TYPE_CHECKING:
    from matplotlib.figure import Figure

DPI = 110.0
"""Pixels an inch: letters of 8 pt are then 12 pixels high, which a screen shows clearly."""
WIDEST = 960
"""Pixels across at most: a large drawing is drawn smaller."""
COLOURS = 64
LARGEST, ALL = 60_000, 1_200_000
"""Bytes of one picture, and of all of them: they go along with every installation."""


def png(figure: Figure) -> bytes:
    """Return the picture of a figure; the same figure always gives the same bytes."""
    from PIL import Image

    inches = figure.get_size_inches()
    dpi = min(DPI, WIDEST / inches[0])
    drawn, content = BytesIO(), BytesIO()
    figure.savefig(drawn, format="rgba", dpi=dpi)
    size = tuple(round(side * dpi) for side in inches)
    picture = Image.frombuffer("RGBA", size, drawn.getvalue()).convert("RGB")
    few = picture.quantize(COLOURS, Image.Quantize.MEDIANCUT, dither=Image.Dither.NONE)
    few.save(content, "png", optimize=True)
    return content.getvalue()


def pictures(name: str) -> dict[str, bytes]:
    """Return the pictures that a page makes, by name."""
    with tempfile.TemporaryDirectory() as folder:
        ran = run_page(page(name).text, Path(folder), only="python")
    return {key: png(figure) for key, figure in ran.pictures.items()}


def main(folder: Path) -> None:
    """Write all pictures, and leave none that no page makes."""
    made = {key: data for name in PAGES for key, data in pictures(name).items()}
    folder.mkdir(exist_ok=True)
    for path in folder.glob("*.png"):
        if path.stem not in made:
            path.unlink()
    for key, data in made.items():
        (folder / f"{key}.png").write_bytes(data)


if __name__ == "__main__":
    main(Path(*sys.argv[1:2]) if sys.argv[1:] else Path(str(home())) / "pictures")
