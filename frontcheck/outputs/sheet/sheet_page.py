"""A sheet of paper to write on by hand: lines, boxes and text at places in mm.

The origin is the upper left corner of the paper and y runs down, as one reads.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

from frontcheck.outputs.figures import style as look

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

    from matplotlib.figure import Figure

PAPERS: Final = {"a4": (210.0, 297.0), "letter": (215.9, 279.4)}
"""Width and height of the paper, upright [mm]: ISO 216; ANSI/ASME Y14.1, 8.5 by 11 in."""
MARGIN: Final = 15.0
"""Kept free at every edge, since printers cannot reach it [mm]."""
BODY: Final = 7.4
"""Letters of running text [pt]."""
RULE: Final = 0.7
FINE: Final = 0.35
"""Widths of the lines of a table [pt]."""

_MM_PER_PT: Final = 25.4 / 72.0
_MM_PER_INCH: Final = 25.4

Point = tuple[float, float]


class Page:
    """One page."""

    def __init__(self, paper: str) -> None:
        from matplotlib.figure import Figure

        self.width, self.height = PAPERS[paper]
        self.left = MARGIN
        self.right = self.width - MARGIN
        self.figure: Figure = Figure(
            figsize=(self.width / _MM_PER_INCH, self.height / _MM_PER_INCH)
        )
        self._ax = self.figure.add_axes((0.0, 0.0, 1.0, 1.0))
        self._ax.set_axis_off()
        self._ax.set_xlim(0.0, self.width)
        self._ax.set_ylim(self.height, 0.0)
        self._ax.set_autoscale_on(False)

    def line(
        self,
        points: Sequence[Point],
        color: str = look.INK,
        width: float = FINE,
        dashes: tuple[float, ...] = (),
    ) -> None:
        """Draw a polyline."""
        from matplotlib.lines import Line2D

        stroke = look.Stroke(color, width, dashes)
        xs, ys = zip(*points, strict=True)
        self._ax.add_line(Line2D(xs, ys, **stroke.options()))

    def lines(
        self, segments: Iterable[tuple[Point, Point]], color: str = look.INK, width: float = FINE
    ) -> None:
        """Draw many straight lines alike, as those of a table."""
        from matplotlib.collections import LineCollection

        ends = [[a, b] for a, b in segments]
        self._ax.add_collection(
            LineCollection(ends, colors=color, linewidths=width, capstyle="projecting"),
            autolim=False,
        )

    def area(
        self, points: Sequence[Point], fill: str, rim: str = "none", width: float = FINE
    ) -> None:
        """Draw a filled polygon."""
        from matplotlib.patches import Polygon

        self._ax.add_patch(
            Polygon(points, closed=True, facecolor=fill, edgecolor=rim, linewidth=width, zorder=1.9)
        )

    def box(
        self, x: float, y: float, width: float, height: float, rim: str = look.INK, fill: str = ""
    ) -> None:
        """Draw a box."""
        corners = [(x, y), (x + width, y), (x + width, y + height), (x, y + height)]
        if fill:
            self.area(corners, fill)
        self.line([*corners, corners[0]], rim, RULE)

    def circle(self, at: Point, radius: float, rim: str, fill: str, width: float = RULE) -> None:
        """Draw a circle above all lines."""
        from matplotlib.patches import Circle

        self._ax.add_patch(
            Circle(at, radius, facecolor=fill, edgecolor=rim, linewidth=width, zorder=2.5)
        )

    def arrow(
        self, a: Point, b: Point, color: str = look.INK, style: str = "-|>", width: float = 0.8
    ) -> None:
        """Draw an arrow."""
        self._ax.annotate(
            "", xy=b, xytext=a, zorder=2.4,
            arrowprops={"arrowstyle": style, "mutation_scale": 7.0, "shrinkA": 0.0,
                        "shrinkB": 0.0, "color": color, "linewidth": width},
        )  # fmt: skip

    def text(
        self,
        at: Point,
        words: str,
        size: float = look.TEXT,
        *,
        color: str = look.INK,
        bold: bool = False,
        ha: str = "left",
        va: str = "baseline",
        turned: bool = False,
        backed: bool = False,
    ) -> None:
        """Write one line."""
        self._ax.text(
            *at, words, fontsize=size, color=color, ha=ha, va=va, zorder=3.0,
            fontweight="bold" if bold else "normal", rotation=90.0 if turned else 0.0,
            rotation_mode="anchor",
            bbox={"facecolor": look.PAPER, "edgecolor": "none", "boxstyle": "square,pad=0.15"}
            if backed
            else None,
        )  # fmt: skip

    def paragraph(
        self,
        at: Point,
        words: str,
        width: float,
        size: float = look.TEXT,
        *,
        color: str = look.INK,
        hang: str = "",
    ) -> float:
        """Write text that is broken into lines."""
        x, y = at
        lead = size * 1.28 * _MM_PER_PT
        if hang:
            self.text((x, y + size * _MM_PER_PT), hang, size, bold=True, color=color)
            x, width = x + 5.0, width - 5.0
        for line in _broken(words, width, size):
            self.text((x, y + size * _MM_PER_PT), line, size, color=color)
            y += lead
        return y

    def label(self, at: Point, words: str, target: Point, ha: str = "left") -> None:
        """Write a short text with a leader to what it names."""
        lines = words.split("\n")
        lead = look.SMALL * 1.25 * _MM_PER_PT
        wide = max(text_width(line, look.SMALL) for line in lines)
        x, y = at
        for i, line in enumerate(lines):
            self.text((x, y + i * lead), line, look.SMALL, ha=ha)
        left = x - {"left": 0.0, "center": wide / 2.0, "right": wide}[ha]
        top, bottom = y - 0.8 * lead, y + (len(lines) - 1) * lead + 0.8
        if target[1] < top - 2.0 or target[1] > bottom + 2.0:
            start = (min(max(target[0], left), left + wide), top if target[1] < top else bottom)
        else:
            middle = (top + bottom) / 2.0
            start = (left - 0.6 if target[0] < left else left + wide + 0.6, middle)
        self.line([start, target], look.MUTED, 0.5)
        self.circle(target, 0.45, look.MUTED, look.MUTED)

    def heading(self, words: str, name: str) -> None:
        """Write the title of the page, and the name of the vehicle in the corner."""
        self.text((self.left, 20.0), words, 14.0, bold=True)
        shown = _fitted(name, self.right - self.left)
        self.text((self.right, 12.0), shown, color=look.MUTED, ha="right")

    def field(self, x: float, y: float, end: float, label: str, value: str = "") -> None:
        """Draw a label and a line to write on."""
        self.text((x, y + 5.0), label)
        start = x + text_width(label, look.TEXT) + 2.0
        self.line([(start, y + 6.2), (end, y + 6.2)], look.INK, RULE)
        self.text((start + 1.0, y + 5.0), _fitted(value, end - start - 1.0))


def text_width(words: str, size: float, *, bold: bool = False) -> float:
    """Return how wide a line of text is on paper."""
    from matplotlib.font_manager import FontProperties
    from matplotlib.textpath import text_to_path

    font = FontProperties(family=look.FONT, size=size, weight="bold" if bold else "normal")
    wide, _, _ = text_to_path.get_text_width_height_descent(words, font, False)
    return float(wide) * _MM_PER_PT


def _fitted(text: str, width: float) -> str:
    """A user's text on one line that is no wider than `width` [mm]."""
    shown = look.printable(text, 120)
    while shown and text_width(shown, look.TEXT) > width:
        shown = f"{shown[:-4].rstrip()}..." if len(shown) > 4 else ""
    return shown


def _broken(words: str, width: float, size: float) -> list[str]:
    """Break at blanks; our own text has no word wider than a line."""
    lines: list[str] = []
    for word in words.split():
        longer = f"{lines[-1]} {word}" if lines else word
        if lines and text_width(longer, size) <= width:
            lines[-1] = longer
        else:
            lines.append(word)
    return lines
