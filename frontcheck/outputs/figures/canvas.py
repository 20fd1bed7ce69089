"""How our figures look, and what they are drawn with: strokes, letters, head and foot, labels.

Every kind of line differs from the others in width or dashes as well as in colour, and the
colours differ in lightness, so that a figure can be read in grey and without telling red
from green.
"""

from __future__ import annotations

import functools
import math
import textwrap
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any, Final, ParamSpec, TypeAlias, TypeVar

import numpy as np
from msgspec import convert

from frontcheck.caution import CAUTION_SHORT
from frontcheck.files import own_toml
from frontcheck.outputs.figures.labels import Request, arrange

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence
    from contextlib import AbstractContextManager

    from matplotlib.artist import Artist
    from matplotlib.axes import Axes
    from matplotlib.backends.backend_agg import RendererAgg
    from matplotlib.figure import Figure
    from matplotlib.lines import Line2D

    from frontcheck.geometry.arrays import Array
    from frontcheck.rules.ruleset import RuleSet

P = ParamSpec("P")
T = TypeVar("T")

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


LOOK: Final = own_toml(__package__, "look.toml")
PART_STYLES: Final = convert(LOOK["parts"], dict[str, Stroke])
LINE_STYLES: Final = convert(LOOK["lines"], dict[str, Stroke])
LEGFORM_STYLES: Final = convert(LOOK["legforms"], dict[str, Stroke])

_WAD_DASHES: Final = ((5.0, 1.5), (1.2, 1.2), (6.0, 1.4, 1.2, 1.4), (2.5, 1.0))


def wad_stroke(i: int) -> Stroke:
    """Return how the i-th wrap-around trace is drawn."""
    return Stroke(TAPE_RIM, 1.2, _WAD_DASHES[i % len(_WAD_DASHES)], "|")


def told(name: str, /, **values: object) -> str:
    """Return a text of `look.toml`."""
    return str(LOOK["words"][name]).format(**values)


def house_style(*, words: bool = False) -> AbstractContextManager[None]:
    """Build or write figures under our settings; the caller's settings come back after."""
    # With `words`, an SVG holds letters as text, for a page that has the letters.
    from matplotlib import style

    # From matplotlib's own defaults, so that a style set by the caller does not leak in.
    changed = {"svg.fonttype": "none"} if words else {}
    return style.context(LOOK["matplotlib"] | changed, after_reset=True)


def printable(text: str, width: int) -> str:
    """Return a user's text fit for a headline: one line, not too long, in letters there are."""
    from matplotlib.font_manager import findfont, get_font

    font = get_font(findfont(FONT))
    one_line = " ".join(text.split())
    if len(one_line) > width:
        one_line = one_line[: width - 3].rstrip() + "..."
    return "".join(c if font.get_char_index(ord(c)) else "?" for c in one_line)


def rules_words(rules: RuleSet, width: int) -> str:
    """Return by which rule set lines are formed, and how much of it is the user's own."""
    own = f", with {len(rules.changed)} constants set by the user" if rules.changed else ""
    return printable(f"Rule set {rules.id}: {rules.title}", width) + own


MANY: Final = 1000
"""Points beyond which what merely goes with a line follows it to a pixel or two: own choice."""
_LABEL_PX: Final = 2.0

# A sheet that collects lines and label wishes, and sets the labels once all lines are known.

LABEL: Final = "frontcheck-label"
LEADER: Final = "frontcheck-leader"
NOTE: Final = "frontcheck-note"
"""Group ids of what `Drawing` writes, to find it again."""

_EDGE_PT: Final = 3.0
_ABOVE: Final = 8.0


Point: TypeAlias = "Sequence[float] | Array"
"""A place in the units of the axes."""


@dataclass
class _Wish:
    text: str
    at: tuple[float, float] | None
    prefer: tuple[float, float]
    rank: int
    style: dict[str, Any]


@dataclass
class Drawing:
    """Lines on Axes, and labels still to be placed."""

    ax: Axes  # Where to draw
    segments: list[Array] = field(default_factory=list)
    wishes: list[_Wish] = field(default_factory=list)  # Labels asked for

    def line(
        self,
        points: Array | Sequence[Point],
        stroke: Stroke,
        *,
        avoid: bool = True,
        **more: Any,
    ) -> None:
        """Draw a polyline."""
        path = np.asarray(points, dtype=np.float64)
        # Snapped, rounding noise puts places of a level line on one pixel and the next by turns.
        self.ax.plot(*path.T, **{"zorder": 3.0, "snap": False} | stroke.options() | more)
        if avoid:
            self.avoid(path)

    def avoid(self, points: Array | Sequence[Point]) -> None:
        """Keep labels off a polyline that is drawn otherwise."""
        path = np.asarray(points, dtype=np.float64)
        self.segments.append(np.stack([path[:-1], path[1:]], axis=1))

    def fill(self, points: Array, face: Any, rim: Any = "none", **more: Any) -> None:
        """Fill a polygon."""
        self.ax.fill(*points.T, facecolor=face, edgecolor=rim, **more)

    def dot(
        self, at: Point, *, marker: str = "o", size: float = 6.0, color: str = "",
        filled: bool = False,
    ) -> None:  # fmt: skip
        """Draw a marker with a pale inside, or filled and with a pale rim."""
        inside, rim = (color or INK, PAPER) if filled else (PAPER, color or INK)
        how = dots(marker, size + filled, inside, rim, 1.0 if filled else 1.6)
        self.ax.plot([at[0]], [at[1]], zorder=_ABOVE, **how)

    def span(self, a: Point, b: Point, color: str) -> None:
        """Draw a dimension line with an arrow head at both ends."""
        p, q = self._pixels(np.array([a, b])) * 72.0 / figure_of(self.ax).dpi
        length = float(np.hypot(*(q - p)))
        if length < 0.5:
            return
        ends: list[tuple[Any, Any, str]] = [(a, b, "<|-|>")]
        if length <= 14.0:
            reach = 12.0 / length * np.subtract(b, a)
            ends = [(np.subtract(a, reach), a, "-|>"), (np.add(b, reach), b, "-|>")]
        head = {"mutation_scale": 6.0, "shrinkA": 0.0, "shrinkB": 0.0, "linewidth": 0.9}
        for start, stop, style in ends:
            arrow = {"arrowstyle": style, "color": color, **head}
            self.ax.annotate("", xy=stop, xytext=start, zorder=_ABOVE, arrowprops=arrow)
            self.avoid([start, stop])

    def label(
        self,
        text: str,
        at: Point | None,
        *,
        prefer: tuple[float, float] = (0.0, 0.0),
        rank: int = 1,
        **style: Any,
    ) -> None:
        """Ask for a label in a style of matplotlib's text."""
        if text:
            place = None if at is None else (float(at[0]), float(at[1]))
            style = {"color": INK, "size": TEXT} | style
            self.wishes.append(_Wish(text, place, prefer, rank, style))

    def finish(self) -> None:
        """Place and write all labels asked for."""
        wishes = sorted(self.wishes, key=lambda wish: wish.rank)
        if not wishes:
            return
        texts = [
            self.ax.text(
                0.0, 0.0, wish.text, zorder=_ABOVE + 1.0, linespacing=1.25, va="bottom", ha="left",
                gid=LABEL if wish.at else NOTE, bbox=paper(0.85, 0.1), **wish.style,
            )
            for wish in wishes
        ]  # fmt: skip
        renderer = _renderer(self.ax)
        requests = []
        for wish, text in zip(wishes, texts, strict=True):
            box = text.get_window_extent(renderer)
            x, y = self._pixels(np.array([wish.at or (0.0, 0.0)]))[0].tolist()
            requests.append(Request(box.width, box.height, wish.at and (x, y), wish.prefer))
        room, dpi = self.ax.get_window_extent(renderer), figure_of(self.ax).dpi
        edge, scale = _EDGE_PT * dpi / 72.0, dpi / 100.0
        frame = (room.x0 + edge, room.y0 + edge, room.x1 - edge, room.y1 - edge)
        paths = [self._coarse(path) for path in self.segments]
        lines = np.concatenate(paths) if paths else np.zeros((0, 2, 2))
        lines = np.unique(lines, axis=0)  # several tapes share most of their way
        segments = self._pixels(lines.reshape(-1, 2)).reshape(-1, 2, 2)
        places = arrange(requests, frame, segments, gap=5.0 * scale, scale=scale)
        back = self.ax.transData.inverted()
        for wish, text, place in zip(wishes, texts, places, strict=True):
            text.set_position(tuple(back.transform((place.x, place.y))))
            if wish.at is not None and place.leader is not None:
                leader = Stroke(wish.style["color"], 0.6)
                way = np.array([wish.at, back.transform(place.leader)])
                self.line(way, leader, zorder=_ABOVE - 1.0, avoid=False, gid=LEADER)
        self.wishes.clear()

    def _coarse(self, segments: Array) -> Array:
        """A path as finely as labels need it: they stand some pixels off."""
        if len(segments) <= MANY:
            return segments
        from shapely import LineString

        path = LineString(self._pixels(np.concatenate([segments[:1, 0], segments[:, 1]])))
        points = self.ax.transData.inverted().transform(path.simplify(_LABEL_PX).coords)
        return np.stack([points[:-1], points[1:]], axis=1)

    def _pixels(self, points: Array) -> Array:
        return np.asarray(self.ax.transData.transform(points), dtype=np.float64)


def paper(alpha: float, pad: float) -> dict[str, Any]:
    """Return the options of the paper below a text that stands in a drawing."""
    box = f"square,pad={pad:g}"
    return {"facecolor": PAPER, "alpha": alpha, "edgecolor": "none", "boxstyle": box}


def dots(marker: str, size: float, face: str, rim: str = "", width: float = 1.2) -> dict[str, Any]:
    """Return the options of markers without a line between them."""
    return {
        "linestyle": "none", "marker": marker, "markersize": size, "markerfacecolor": face,
        "markeredgecolor": rim or face, "markeredgewidth": width,
    }  # fmt: skip


def small(color: str = INK) -> dict[str, Any]:
    """Return the style of a small label."""
    return {"size": SMALL, "color": color}


def key(words: str, **how: Any) -> Line2D:
    """Return the legend key of a line or a marker."""
    from matplotlib.lines import Line2D

    return Line2D([], [], label=words, **how)


def styled(draw: Callable[P, T]) -> Callable[P, T]:
    """Draw in the house style; the caller's settings come back after."""

    @functools.wraps(draw)
    def in_style(*args: P.args, **kwargs: P.kwargs) -> T:
        with house_style():
            return draw(*args, **kwargs)

    return in_style


def new_figure(width: float, height: float) -> Figure:
    """Return an empty figure that any matplotlib backend can draw, without pyplot."""
    from matplotlib.backends.backend_agg import FigureCanvasAgg
    from matplotlib.figure import Figure

    figure = Figure(figsize=(width, height))
    FigureCanvasAgg(figure)
    return figure


def figure_of(ax: Axes) -> Figure:
    """Return the figure on which Axes stand."""
    figure = ax.get_figure(root=True)
    assert figure is not None
    return figure


def axes_at(figure: Figure, x: float, y: float, width: float, height: float) -> Axes:
    """Return new Axes at a place on a figure [in]."""
    w, h = figure.get_size_inches()
    return figure.add_axes((x / w, y / h, width / w, height / h))


def axes_within(figure: Figure, left: float, below: float, right: float, above: float) -> Axes:
    """Return new Axes that leave so much room on a figure [in]."""
    w, h = figure.get_size_inches()
    size = 1.0 - (left + right) / w, 1.0 - (below + above) / h
    return figure.add_axes((left / w, below / h, *size))


def write(figure: Figure, x: float, y: float, text: str, **more: Any) -> None:
    """Write a small text on a figure, its lower left corner at a place [in]."""
    w, h = figure.get_size_inches()
    style: dict[str, Any] = {"fontsize": TEXT, "va": "bottom", "color": MUTED}
    figure.text(x / w, y / h, text, **style | more)


def legend(figure: Figure, keys: Sequence[Artist], x: float, y: float, **more: Any) -> None:
    """Put a legend on a figure, its upper left corner at a place in parts of the figure."""
    figure.legend(
        handles=list(keys), loc="upper left", bbox_to_anchor=(x, y),
        **{"frameon": False, "fontsize": TEXT, "borderaxespad": 0.0} | more,
    )  # fmt: skip


def head(figure: Figure, title: str, words: str = "", *, left: float, top: float = 0.23) -> None:
    """Write title and explanation, `top` inches from the upper edge."""
    h = figure.get_figheight()
    figure.text(
        left, 1.0 - top / h, title, fontsize=TITLE, fontweight="bold", va="top", gid="title"
    )
    figure.text(left, 1.0 - (top + 0.28) / h, words, fontsize=TEXT + 0.5, va="top", color=MUTED)


def foot(figure: Figure) -> None:
    """Write the caution at the lower edge, in as many lines as it needs."""
    width, height = figure.get_size_inches()
    figure.text(
        0.5, 0.1 / height, textwrap.fill(CAUTION_SHORT, int(width * 16)),
        fontsize=TEXT + (width > 9.0), va="bottom", ha="center", fontstyle="italic", gid="caution",
    )  # fmt: skip


def caution_below(ax: Axes) -> None:
    """Write the caution below Axes that stand in a figure of somebody else."""
    ax.annotate(
        textwrap.fill(CAUTION_SHORT, 100), (0.5, 0.0), (0.0, -34.0), "axes fraction",
        "offset points", ha="center", va="top", fontsize=SMALL, fontstyle="italic",
        annotation_clip=False, gid="caution",
    )  # fmt: skip


def plain_axes(
    ax: Axes,
    below: str | None = None,
    left: str | None = None,
    *,
    title: str = "",
    off: str = "top right",
) -> None:
    """Short ticks and no frame where nothing is read; what the axes show."""
    ax.tick_params(length=3.0)
    ax.spines[off.split()].set_visible(False)
    if title:
        ax.set_title(title, loc="left", fontsize=TEXT + 1.0)
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
    room, dpi = ax.get_window_extent(_renderer(ax)), figure_of(ax).dpi
    return room.width / dpi, room.height / dpi


def _renderer(ax: Axes) -> RendererAgg:
    """Measure with the same renderer whatever the canvas is, so that places do not differ."""
    from matplotlib.backends.backend_agg import RendererAgg

    return RendererAgg(1.0, 1.0, figure_of(ax).dpi)  # type: ignore[no-untyped-call]
