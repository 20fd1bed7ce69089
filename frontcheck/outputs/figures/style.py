"""How our figures look: colours, line styles, widths, letters. The one place for them.

Every kind of line differs from the others in width or dashes as well as in colour, and the
colours differ in lightness, so that a figure can be read in grey and without telling red
from green.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Final

if TYPE_CHECKING:
    from contextlib import AbstractContextManager

INK: Final = "#22272e"
MUTED: Final = "#5d6670"
PAPER: Final = "#ffffff"
SKIN: Final = "#ece9e3"
"""Tint of a narrow strip on the body side of the contour."""
GROUND: Final = "#8b8680"
TAPE: Final = "#f0cf8c"
TAPE_RIM: Final = "#a8741a"
FACE: Final = "#7a2f3b"
"""Measures taken on the face."""
LEAD: Final = "#3a3f63"
"""The bumper lead."""
SPREAD: Final = "#0b62a8"
"""How far a point may be off."""

FONT: Final = "DejaVu Sans"
"""Shipped with matplotlib, so that text has the same size on every machine."""
TEXT: Final = 8.0
SMALL: Final = 7.0
TITLE: Final = 12.0
"""Letter heights [pt]."""


@dataclass(frozen=True)
class Stroke:
    """How a line is drawn."""

    color: str  # Colour
    width: float  # Width [pt]
    dashes: tuple[float, ...] = ()  # Lengths of dashes and gaps in line widths
    marker: str = ""  # Marker at every value, for lines across the vehicle

    def options(self) -> dict[str, Any]:
        """Return the keyword arguments of a matplotlib line."""
        return {
            "color": self.color,
            "linewidth": self.width,
            "linestyle": (0, self.dashes) if self.dashes else "-",
            "dash_capstyle": "butt",
            "solid_capstyle": "round",
            "solid_joinstyle": "round",
        }


PART_STYLES: Final[dict[str, Stroke]] = {
    "underside": Stroke("#6f675c", 2.0, (1.0, 0.8)),
    "bumper": Stroke("#1d2b3a", 4.2),
    "grille": Stroke("#8c5a33", 3.2, (2.6, 0.7)),
    "lamp": Stroke("#b99a45", 4.2, (1.2, 0.5)),
    "bonnet": Stroke("#3d7068", 3.0),
    "cowl": Stroke("#84577f", 3.6, (0.8, 0.5)),
    "windscreen": Stroke("#7f9fbd", 4.2),
    "trim": Stroke("#55603c", 2.6, (3.2, 0.8, 0.8, 0.8)),
    "": Stroke("#434b54", 2.4),
}
"""Contour by part; the empty string is a contour without labels."""

LINE_STYLES: Final[dict[str, Stroke]] = {
    "LBRL": Stroke("#8c5a33", 1.4, (4.0, 1.6), "v"),
    "UBRL": Stroke("#1d2b3a", 1.8, (), "o"),
    "BLERL": Stroke("#3d7068", 2.6, (), "s"),
    "BRRL": Stroke("#84577f", 1.8, (1.4, 1.0), "D"),
}
"""Reference lines across the vehicle; also straight edges in the side view."""

_WAD_DASHES: Final = ((5.0, 1.5), (1.2, 1.2), (6.0, 1.4, 1.2, 1.4), (2.5, 1.0))


def wad_stroke(i: int) -> Stroke:
    """Return how the i-th wrap-around trace is drawn."""
    return Stroke(TAPE_RIM, 1.2, _WAD_DASHES[i % len(_WAD_DASHES)], "|")


def settings() -> dict[str, Any]:
    """Return the matplotlib settings under which figures are built and written."""
    return {
        "font.family": [FONT],
        "font.size": TEXT,
        "text.color": INK,
        "text.usetex": False,
        "text.parse_math": False,  # a name may hold a dollar sign
        "text.hinting": "none",
        "axes.edgecolor": MUTED,
        "axes.labelcolor": INK,
        "axes.linewidth": 0.6,
        "axes.labelsize": TEXT,
        "axes.unicode_minus": True,
        "axes.facecolor": PAPER,
        "figure.facecolor": PAPER,
        "figure.dpi": 100.0,
        "savefig.facecolor": PAPER,
        "savefig.bbox": None,
        "savefig.pad_inches": 0.0,
        "xtick.color": MUTED,
        "ytick.color": MUTED,
        "xtick.labelsize": SMALL,
        "ytick.labelsize": SMALL,
        "xtick.major.width": 0.6,
        "ytick.major.width": 0.6,
        "lines.scale_dashes": True,
        "path.simplify": False,
        "path.sketch": None,
        "path.effects": [],
        # Letters as outlines: the same picture everywhere. The words are still in the file,
        # as comments beside the outlines.
        "svg.fonttype": "path",
        "svg.hashsalt": "frontcheck",
    }


def house_style(*, words: bool = False) -> AbstractContextManager[None]:
    """Build or write figures under `settings`; the caller's settings come back after."""
    # With `words`, an SVG holds letters as text, for a page that has the letters.
    from matplotlib import style

    # From matplotlib's own defaults, so that a style set by the caller does not leak in.
    changed = {"svg.fonttype": "none"} if words else {}
    return style.context(settings() | changed, after_reset=True)


def printable(text: str, width: int) -> str:
    """Return a user's text fit for a headline: one line, not too long, in letters there are."""
    from matplotlib.font_manager import findfont, get_font

    font = get_font(findfont(FONT))
    one_line = " ".join(text.split())
    if len(one_line) > width:
        one_line = one_line[: width - 3].rstrip() + "..."
    return "".join(c if font.get_char_index(ord(c)) else "?" for c in one_line)
