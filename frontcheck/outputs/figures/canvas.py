"""How our figures look, and what they are drawn with: strokes, letters, head and foot, labels.

Every kind of line differs from the others in width or dashes as well as in colour, and the
colours differ in lightness, so that a figure can be read in grey and without telling red
from green.
"""

from __future__ import annotations

import math
import textwrap
from dataclasses import dataclass, field
from io import BytesIO
from typing import TYPE_CHECKING, Any, Final

import numpy as np

from frontcheck.caution import CAUTION_SHORT
from frontcheck.outputs.figures.labels import Request, arrange

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence
    from contextlib import AbstractContextManager

    from matplotlib.axes import Axes
    from matplotlib.backends.backend_agg import RendererAgg
    from matplotlib.figure import Figure
    from matplotlib.lines import Line2D

    from frontcheck.geometry.arrays import Array

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
    "wing": Stroke("#5f7f3c", 3.0, (2.0, 0.6)),
    "cowl": Stroke("#84577f", 3.6, (0.8, 0.5)),
    "windscreen": Stroke("#7f9fbd", 4.2),
    "pillar": Stroke("#4a5f7d", 4.2, (2.0, 0.5)),
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


# A sheet that collects lines and label wishes, and sets the labels once all lines are known.

LABEL: Final = "frontcheck-label"
LEADER: Final = "frontcheck-leader"
NOTE: Final = "frontcheck-note"
"""Group ids of what `Drawing` writes, to find it again."""

_EDGE_PT: Final = 3.0
_BEHIND: Final = 2.0
_ABOVE: Final = 8.0


@dataclass
class _Wish:
    text: str
    at: tuple[float, float] | None
    prefer: tuple[float, float]
    color: str
    size: float
    rank: int
    rotation: float


@dataclass
class Drawing:
    """Lines on Axes, and labels still to be placed."""

    ax: Axes  # Where to draw
    segments: list[Array] = field(default_factory=list)
    wishes: list[_Wish] = field(default_factory=list)  # Labels asked for

    def line(
        self,
        points: Array | Sequence[tuple[float, float]],
        stroke: Stroke,
        *,
        zorder: float = 3.0,
        avoid: bool = True,
        gid: str | None = None,
    ) -> None:
        """Draw a polyline."""
        from matplotlib.lines import Line2D

        path = np.asarray(points, dtype=np.float64)
        # Snapped, rounding noise puts places of a level line on one pixel and the next by turns.
        self.ax.add_line(Line2D(*path.T, zorder=zorder, gid=gid, snap=False, **stroke.options()))
        if avoid:
            self.avoid(path)

    def avoid(self, points: Array) -> None:
        """Keep labels off a polyline that is drawn otherwise."""
        self.segments.append(np.stack([points[:-1], points[1:]], axis=1))

    def dot(
        self,
        at: tuple[float, float],
        *,
        marker: str = "o",
        size: float = 6.0,
        color: str = "",
        filled: bool = False,
    ) -> None:
        """Draw a marker with a pale inside, or filled and with a pale rim."""
        from matplotlib.lines import Line2D

        inside, rim = (color or INK, PAPER) if filled else (PAPER, color or INK)
        self.ax.add_line(
            Line2D(
                [at[0]], [at[1]], marker=marker, markersize=size + filled, linestyle="none",
                markerfacecolor=inside, markeredgecolor=rim, markeredgewidth=1.0 if filled else 1.6,
                zorder=_ABOVE,
            )
        )  # fmt: skip

    def span(self, a: tuple[float, float], b: tuple[float, float], color: str) -> None:
        """Draw a dimension line with an arrow head at both ends."""
        p, q = self._pixels(np.array([a, b])) * 72.0 / self._dpi
        length = float(np.hypot(*(q - p)))
        if length < 0.5:
            return
        head = {"shrinkA": 0.0, "shrinkB": 0.0, "color": color, "linewidth": 0.9}
        if length > 14.0:
            ends = [((a, b), "<|-|>")]
        else:
            reach = 12.0 / length * np.subtract(b, a)
            ends = [
                ((tuple(np.subtract(a, reach)), a), "-|>"),
                ((tuple(np.add(b, reach)), b), "-|>"),
            ]
        for (start, stop), style in ends:
            self.ax.annotate(
                "", xy=stop, xytext=start, zorder=_ABOVE,
                arrowprops={"arrowstyle": style, "mutation_scale": 6.0, **head},
            )  # fmt: skip
            self.avoid(np.array([start, stop], dtype=np.float64))

    def label(
        self,
        text: str,
        at: tuple[float, float] | None,
        *,
        prefer: tuple[float, float] = (0.0, 0.0),
        color: str = INK,
        size: float = TEXT,
        rank: int = 1,
        rotation: float = 0.0,
    ) -> None:
        """Ask for a label."""
        if text:
            self.wishes.append(_Wish(text, at, prefer, color, size, rank, rotation))

    def finish(self) -> None:
        """Place and write all labels asked for."""
        wishes = sorted(self.wishes, key=lambda wish: wish.rank)
        if not wishes:
            return
        texts = [
            self.ax.text(
                0.0, 0.0, wish.text, fontsize=wish.size, color=wish.color, zorder=_ABOVE + 1.0,
                linespacing=1.25, va="bottom", ha="left", gid=LABEL if wish.at else NOTE,
                rotation=wish.rotation,
                bbox={"facecolor": PAPER, "alpha": 0.85, "edgecolor": "none",
                      "boxstyle": "square,pad=0.1"},
            )
            for wish in wishes
        ]  # fmt: skip
        renderer = _renderer(self.ax)
        requests = []
        for wish, text in zip(wishes, texts, strict=True):
            box = text.get_window_extent(renderer)
            anchor = None if wish.at is None else self._pixels(np.array([wish.at]))[0]
            at = None if anchor is None else (float(anchor[0]), float(anchor[1]))
            requests.append(Request(box.width, box.height, at, wish.prefer))
        room = self.ax.get_window_extent(renderer)
        edge = _EDGE_PT * self._dpi / 72.0
        frame = (room.x0 + edge, room.y0 + edge, room.x1 - edge, room.y1 - edge)
        lines = np.concatenate(self.segments) if self.segments else np.zeros((0, 2, 2))
        lines = np.unique(lines, axis=0)  # several tapes share most of their way
        segments = self._pixels(lines.reshape(-1, 2)).reshape(-1, 2, 2)
        scale = self._dpi / 100.0
        places = arrange(requests, frame, segments, gap=5.0 * scale, scale=scale)
        back = self.ax.transData.inverted()
        for wish, text, place in zip(wishes, texts, places, strict=True):
            text.set_position(tuple(back.transform((place.x, place.y))))
            if wish.at is not None and place.leader is not None:
                end = back.transform(place.leader)
                self.line(
                    [wish.at, (float(end[0]), float(end[1]))],
                    Stroke(wish.color, 0.6), zorder=_ABOVE - 1.0, avoid=False, gid=LEADER,
                )  # fmt: skip
        self.wishes.clear()

    @property
    def _dpi(self) -> float:
        figure = self.ax.get_figure(root=True)
        assert figure is not None
        return float(figure.dpi)

    def _pixels(self, points: Array) -> Array:
        return np.asarray(self.ax.transData.transform(points), dtype=np.float64)


def new_figure(width: float, height: float) -> Figure:
    """Return an empty figure that any matplotlib backend can draw, without pyplot."""
    from matplotlib.backends.backend_agg import FigureCanvasAgg
    from matplotlib.figure import Figure

    figure = Figure(figsize=(width, height))
    FigureCanvasAgg(figure)
    return figure


def head(figure: Figure, title: str, words: str = "", *, left: float, top: float = 0.23) -> None:
    """Write title and explanation, `top` inches from the upper edge."""
    height = figure.get_figheight()
    figure.text(
        left, 1.0 - top / height, title, fontsize=TITLE, fontweight="bold", va="top",
        gid="title",
    )  # fmt: skip
    figure.text(
        left, 1.0 - (top + 0.28) / height, words, fontsize=TEXT + 0.5, va="top",
        color=MUTED,
    )  # fmt: skip


def foot(figure: Figure) -> None:
    """Write the caution at the lower edge, in as many lines as it needs."""
    width, height = figure.get_size_inches()
    figure.text(
        0.5, 0.1 / height, textwrap.fill(CAUTION_SHORT, int(width * 16)),
        fontsize=TEXT + (width > 9.0), va="bottom", ha="center", fontstyle="italic", gid="caution",
    )  # fmt: skip


def legend_below(ax: Axes, handles: list[Line2D]) -> None:
    """Put a legend below the words of the x axis."""
    from matplotlib.transforms import ScaledTranslation

    figure = ax.get_figure(root=True)
    assert figure is not None
    below = ScaledTranslation(0.0, -58.0 / 72.0, figure.dpi_scale_trans)
    ax.legend(
        handles=handles, loc="upper center", bbox_to_anchor=(0.5, 0.0), frameon=False, ncols=5,
        bbox_transform=ax.transAxes + below, fontsize=SMALL, borderaxespad=0.0,
    )  # fmt: skip


def png_bytes(figure: Figure, dpi: float, words: Mapping[str, str]) -> bytes:
    """Write with a palette: our figures have few colours, and a file is a third as large."""
    from PIL import Image, PngImagePlugin

    drawn, content = BytesIO(), BytesIO()
    figure.savefig(drawn, format="rgba", dpi=dpi)
    size = tuple(round(inches * dpi) for inches in figure.get_size_inches())
    picture = Image.frombuffer("RGBA", size, drawn.getvalue()).convert("RGB")
    few = picture.quantize(256, Image.Quantize.MEDIANCUT, dither=Image.Dither.NONE)
    info = PngImagePlugin.PngInfo()
    for name, text in words.items():
        info.add_text(name, text)
    few.save(content, "png", pnginfo=info, dpi=(dpi, dpi))
    return content.getvalue()


def caution_below(ax: Axes) -> None:
    """Write the caution below Axes that stand in a figure of somebody else."""
    ax.annotate(
        textwrap.fill(CAUTION_SHORT, 100), (0.5, 0.0), (0.0, -34.0), "axes fraction",
        "offset points", ha="center", va="top", fontsize=SMALL, fontstyle="italic",
        annotation_clip=False, gid="caution",
    )  # fmt: skip


def plain_axes(
    ax: Axes, below: str | None = None, left: str | None = None, *, off: str = "top right"
) -> None:
    """Short ticks and no frame where nothing is read; what the axes show."""
    ax.tick_params(length=3.0)
    ax.spines[off.split()].set_visible(False)
    if below is not None:
        ax.set_xlabel(below)
    if left is not None:
        ax.set_ylabel(left)


def fit_limits(
    ax: Axes,
    box: tuple[float, float, float, float],
    margins: tuple[float, float, float, float],
) -> float:
    """Set limits so that a box of data fits with margins round it, at equal scale."""
    width, height = axes_inches(ax)
    left, below, right, above = margins
    shrink = min(
        1.0, 0.6 * width / max(left + right, 1e-9), 0.6 * height / max(below + above, 1e-9)
    )
    left, below, right, above = (m * shrink for m in margins)
    x0, y0, x1, y1 = box
    scale = max((x1 - x0) / (width - left - right), (y1 - y0) / (height - below - above), 1e-6)
    # Room to spare is shared in proportion to the margins, above only in height.
    spare = width * scale - (x1 - x0)
    share = left / (left + right) if left + right > 0.0 else 0.5
    x_low = x0 - spare * share
    y_low = y0 - below * scale
    ax.set_xlim(x_low, x_low + width * scale)
    ax.set_ylim(y_low, y_low + height * scale)
    ax.set_aspect("equal", adjustable="box")
    ax.set_autoscale_on(False)
    return scale if math.isfinite(scale) else 1.0


def axes_inches(ax: Axes) -> tuple[float, float]:
    """Return the size of Axes on paper."""
    figure = ax.get_figure(root=True)
    assert figure is not None
    room = ax.get_window_extent(_renderer(ax))
    return room.width / figure.dpi, room.height / figure.dpi


def _renderer(ax: Axes) -> RendererAgg:
    """Measure with the same renderer whatever the canvas is, so that places do not differ."""
    from matplotlib.backends.backend_agg import RendererAgg

    figure = ax.get_figure(root=True)
    assert figure is not None
    return RendererAgg(1.0, 1.0, figure.dpi)  # type: ignore[no-untyped-call]
