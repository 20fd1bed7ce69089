"""The annex as one HTML page that needs no network: text, styles, script and figures inside.

Templates escape whatever is put into them; a content security policy forbids the page to load or
run anything but its own style and script.
"""

from __future__ import annotations

import base64
import hashlib
import re
from dataclasses import dataclass
from functools import cache
from importlib.resources import files
from io import BytesIO
from typing import TYPE_CHECKING, Any, Final, TypeAlias
from xml.etree import ElementTree as ET

import numpy as np

from frontcheck.caution import CAUTION
from frontcheck.lines.statuses import STATUS_NAMES, STATUS_WORDS, UNSURE
from frontcheck.outputs.annex import annex_text as words
from frontcheck.outputs.annex.annex_text import all_points
from frontcheck.outputs.figures import canvas as look
from frontcheck.outputs.figures import side_drawing as side

if TYPE_CHECKING:
    from collections.abc import Sequence
    from xml.etree.ElementTree import Element

    from jinja2 import Environment

    from frontcheck.findings.bands import Band
    from frontcheck.front.front import Front
    from frontcheck.geometry.arrays import Array
    from frontcheck.lines.lined_front import LinedFront
    from frontcheck.lines.station import LinePoint, WadPoint
    from frontcheck.outputs.annex.annex_text import Annex, Paper, Table
    from frontcheck.screening import Screening

MOST_STATIONS: Final = 61
"""Of more stations than this, evenly chosen ones are shown: a page has its limits."""

_IN_WORDS: Final = (
    "lead_status", "line_source", "marked", "meaning", "number", "place_text", "point_name",
    "status_text",
)  # fmt: skip
"""What templates take from the words of the annex."""
_SHEETS: Final = {"a4": "A4", "letter": "letter"}
_WIDE_FROM: Final = 40
"""Cells with more characters than this get a column of some width."""


def page_bytes(
    annex: Annex, screening: Screening, others: Sequence[LinedFront] = (), paper: Paper = "a4"
) -> bytes:
    """Return an annex as a page; the same annex always gives the same bytes."""
    from markupsafe import Markup

    style = _own("annex.css") + f"@page {{ size: {_SHEETS[paper]} landscape; margin: 12mm; }}\n"
    script = _own("annex.js")
    policy = (
        f"default-src 'none'; img-src data:; style-src {_hash(style)}; script-src {_hash(script)}; "
        "base-uri 'none'; form-action 'none'"
    )
    page = _templates().get_template("annex.html")
    return page.render(
        annex=annex,
        caution=CAUTION,
        policy=policy,
        style=Markup(style),
        script=Markup(script),
        viewer=Markup(viewer_html(screening, others)),
    ).encode()


def viewer_html(screening: Screening, others: Sequence[LinedFront]) -> str:
    """Return the viewer of side views; without scripts it is all stations one below the other."""
    from markupsafe import Markup

    front = screening.front
    every = -(-len(front.stations) // MOST_STATIONS)
    centre = min(range(len(front.stations)), key=lambda i: abs(front.stations[i]))
    chosen = [y for i, y in enumerate(front.stations) if (i - centre) % every == 0]
    stations: list[dict[str, Any]] = []
    where: dict[int, list[float]] = {}
    with look.house_style(words=True):
        sheet = SideLayers(front)
        for y in chosen:
            bands = screening.bands[y]
            for band in bands:
                where.setdefault(band.number, []).append(y)
            layers = sheet.layers((screening, *others), y)
            stations.append({
                "y": words.station_number(y),
                "height": f"{sheet.height:.1f}",
                "drawing": Markup(sheet.drawing(y, layers)),
                "bands": [(band.number, *sheet.band(band)) for band in bands],
                "layers": [
                    (" ".join(ids), lined.station(y), sheet.marks(lined, y))
                    for ids, lined in layers
                ],
            })  # fmt: skip
    shown_at: dict[int, int | None] = {}
    for n, finding in enumerate(screening.findings, start=1):
        at = where.get(n, [])
        here = [y for y in at if y == finding.station] or at
        shown_at[n] = chosen.index(here[0]) if here else None
    return _templates().get_template("viewer.html").render(
        screening=screening,
        every=every,
        start=chosen.index(front.stations[centre]),
        stations=stations,
        shown_at=shown_at,
        rule_sets=sorted((each.rules for each in (screening, *others)), key=lambda each: each.id),
        lines={name: words.point_name(name) for name in side.LINE_NAMES}
        | {"WAD": "Wrap-around distance (WAD)"},
        unsure={status: STATUS_WORDS[status] for status in sorted(UNSURE)},
    )  # fmt: skip


@cache
def _templates() -> Environment:
    from jinja2 import Environment, FunctionLoader, StrictUndefined
    from markupsafe import Markup

    made = Environment(
        autoescape=True,
        finalize=lambda value: words.clean(value) if type(value) is str else value,
        loader=FunctionLoader(_own),
        lstrip_blocks=True,
        trim_blocks=True,
        undefined=StrictUndefined,
    )
    made.filters |= {
        "base64": lambda data: Markup(base64.b64encode(data).decode()),
        "columns": _columns,
        "kind": lambda block: type(block).__name__,
        "named": STATUS_NAMES.__getitem__,
        "points": words.all_points,
        "short": lambda value: f"{value:.1f}".removesuffix(".0"),
        **{name: getattr(words, name) for name in _IN_WORDS},
    }
    return made


def _own(name: str) -> str:
    return files("frontcheck.outputs.annex").joinpath(f"templates/{name}").read_text("utf-8")


def _hash(text: str) -> str:
    return f"'sha256-{base64.b64encode(hashlib.sha256(text.encode()).digest()).decode()}'"


def _columns(table: Table) -> list[tuple[str, str]]:
    """Width in percent and class of every column."""
    made = []
    for i, numeric in enumerate(table.numeric):
        wide = any(len(row[i]) > _WIDE_FROM for row in table.rows)
        share = 100.0 * table.widths[i] / sum(table.widths)
        made.append((f"{share:.1f}", "number" if numeric else "wide" if wide else ""))
    return made


# The side views of a front as SVG in layers, for the page that moves between them.
#
# The same drawing as on paper, but all stations share one frame and scale, so that moving from one
# to the next shows how the shape changes. Names of lines stand in a column at the left and a row
# at the top, in order of height and of setback: they hardly move between stations and cannot
# overlap.

_WIDTH: Final = 1000.0
"""Width of the drawing in its own units, which are points and pixels at once."""
_LEFT, _RIGHT, _TOP, _BOTTOM = 172.0, 24.0, 62.0, 52.0
_ROW, _COLUMN = 28.5, 92.0
_AHEAD_MM, _ABOVE_MM, _LOWEST_MM = 260.0, 40.0, 1320.0
_NUMBER_OFF: Final = 26.0
_BESIDE: Final = ("LBRL", "UBRL", "BLERL")
"""Lines named at the left; the others are named above."""
_SVG: Final = "{http://www.w3.org/2000/svg}"
_LINK: Final = "{http://www.w3.org/1999/xlink}href"
_DECIMALS: Final = re.compile(r"-?\d+\.\d+")


@dataclass(frozen=True)
class Mark:
    """A line or wrap-around point in the drawing, and where its name stands."""

    point: LinePoint | WadPoint  # What it marks
    x: float  # Where it lies, in units of the drawing from its upper left
    y: float  # Where it lies, in units of the drawing from its upper left
    name_x: float  # Where its name ends (at the left) or has its middle (above)
    name_y: float  # Base line of its name
    above: bool  # Whether it is named above the drawing, not at the left
    color: str  # Its rim


Layer: TypeAlias = "tuple[list[str], LinedFront]"
"""Ids of rule sets with the same lines and tools at one station, and the front by one of them."""


class SideLayers:
    """One figure on which the stations of a front are drawn in turn."""

    def __init__(self, front: Front) -> None:
        from matplotlib.ticker import MultipleLocator

        points = np.concatenate([section.points for section in front.sections])
        low, high = float(points[:, 0].min()) - _AHEAD_MM, float(points[:, 0].max())
        top = max(_LOWEST_MM, float(points[:, 1].max()) + _ABOVE_MM)
        across = _WIDTH - _LEFT - _RIGHT
        up = top * across / (high - low)
        self.front, self.height = front, _TOP + up + _BOTTOM
        self.figure = look.new_figure(_WIDTH / 72.0, self.height / 72.0)
        self.figure.set_dpi(72.0)
        self.figure.patch.set_visible(False)
        self.ax = self.figure.add_axes(
            (_LEFT / _WIDTH, _BOTTOM / self.height, across / _WIDTH, up / self.height)
        )
        self.ax.set(xlim=(low, high), ylim=(0.0, top), yticks=())
        self.ax.patch.set_visible(False)
        self.ax.spines[:].set_visible(False)
        self.ax.xaxis.set_major_locator(MultipleLocator(250.0))
        self.ax.tick_params(length=13.0, width=1.0, pad=2.0, labelsize=14.0)
        words = "setback x [mm]; heights above the ground line"
        self.ax.set_xlabel(words, loc="right", fontsize=14.0, labelpad=1.0)
        self._fixed = set(self.ax.get_children())

    def at(self, points: Array | Sequence[Sequence[float]]) -> Array:
        """Return points in units of the drawing, from its upper left corner."""
        up = self.ax.transData.transform(np.asarray(points, dtype=np.float64).reshape(-1, 2))
        return np.column_stack([up[:, 0], self.height - up[:, 1]])

    def layers(self, screenings: Sequence[LinedFront], y: float) -> list[Layer]:
        """Return rule sets with the same lines and tools at one station together."""
        found: dict[tuple[object, ...], Layer] = {}
        for each in screenings:
            station = each.station(y)
            key = (station.lines, station.wads)
            found.setdefault(key, ([], each))[0].append(each.rules.id)
        return list(found.values())

    def drawing(self, y: float, layers: Sequence[Layer]) -> str:
        """Return ground, contour and tools of one station as SVG."""
        for artist in set(self.ax.get_children()) - self._fixed:
            artist.remove()
        section, titles = self.front.section(y), dict[str, str]()
        for part in side.draw_body(look.Drawing(self.ax), section):
            titles[f"part {part}"] = part
        for i, (_, lined) in enumerate(layers):
            before, station = set(self.ax.get_children()), lined.station(y)
            # The labels asked for are never set: names stand in their column and row.
            side.draw_tools(look.Drawing(self.ax), lined, station)
            for artist in set(self.ax.get_children()) - before:
                artist.set_gid(f"{i}/{artist.get_gid() or ''}")
            for line, pose in side.edges_of(station):
                titles[f"{i}/edge {line.name}"] = side.edge_words(pose)
        for artist in set(self.ax.get_children()) - self._fixed:
            artist.set_clip_on(False)
        content = BytesIO()
        self.figure.savefig(content, format="svg", metadata={"Date": None})
        return _for_page(ET.fromstring(content.getvalue()), layers, titles, f"y{y:g}-")

    def marks(self, lined: LinedFront, station: float) -> list[Mark]:
        """Return the lines and wrap-around points formed at one station."""
        points = [p for p in all_points(lined.station(station)) if p.x is not None]
        at = self.at([(p.x or 0.0, p.z or 0.0) for p in points]).tolist()
        left = [i for i, point in enumerate(points) if point.name in _BESIDE]
        above = [i for i, point in enumerate(points) if point.name not in _BESIDE]
        rows = _spread([at[i][1] for i in left], _ROW, _TOP, self.height)
        high = _WIDTH - _COLUMN / 2.0
        columns = _spread([at[i][0] for i in above], _COLUMN, _LEFT + 40.0, high)
        places = [(_LEFT - 34.0, row) for row in rows]
        places += [(column, _TOP - 14.0) for column in columns]
        marks = []
        for i, (name_x, name_y) in zip([*left, *above], places, strict=True):
            name, (x, y) = points[i].name, at[i]
            color = look.LINE_STYLES[name].color if name in look.LINE_STYLES else look.TAPE_RIM
            marks.append(Mark(points[i], x, y, name_x, name_y, i in above, color))
        return marks

    def band(self, band: Band) -> tuple[str, float, float]:
        """Return the path of a band along the skin, and a place in the air for its number."""
        path = "L".join(f"{x:.1f} {y:.1f}" for x, y in self.at(band.skin).tolist())
        (x, y), (along_x, along_z) = self.at([band.middle])[0].tolist(), band.direction
        # The air is on the left of the way along the contour.
        return f"M{path}", x - _NUMBER_OFF * along_z, y - _NUMBER_OFF * along_x


def _spread(wanted: Sequence[float], gap: float, low: float, high: float) -> list[float]:
    """Places as near as can be to those wanted, a gap apart, in the same order, within bounds."""
    order, steps = np.argsort(wanted, kind="stable"), gap * np.arange(len(wanted))
    found = np.maximum(np.asarray(wanted, dtype=np.float64)[order], low)
    found = np.minimum(np.maximum.accumulate(found - steps) + steps, high)
    found = (np.minimum.accumulate(found[::-1] + steps) - steps)[::-1]
    placed: list[float] = found[np.argsort(order)].tolist()
    return placed


# From a figure file to a piece of a page: no style attributes, as its policy forbids them, ids
# that no other drawing of the page has, and a tenth of a unit instead of a millionth.


def _for_page(drawing: Element, layers: Sequence[Layer], titles: dict[str, str], mark: str) -> str:
    (axes,) = (each for each in drawing.iter(f"{_SVG}g") if each.get("id") == "axes_1")
    page = ET.Element("g")
    shown, last = page, ""
    for each in axes:
        gid = each.get("id", "")
        layer = gid.partition("/")[0] if "/" in gid else ""
        if layer != last:
            shown, last = page, layer
        if layer and shown is page:
            shown = ET.SubElement(page, "g", {"data-rules-any": " ".join(layers[int(layer)][0])})
            shown.attrib |= {} if layer == "0" else {"hidden": ""}
        for piece in _plain(each, mark):
            if titles.get(gid):
                ET.SubElement(piece, "title").text = titles[gid]
            if gid.startswith("matplotlib.axis"):
                piece.set("class", "tick")
            shown.append(piece)
    return ET.tostring(page, "unicode")


def _plain(each: Element, mark: str) -> list[Element]:
    """Take the groups of a figure file away, and give what they hold attributes fit for a page."""
    tag = each.tag.removeprefix(_SVG)
    if tag == "g":
        return [piece for inner in each for piece in _plain(inner, mark)]
    plain = ET.Element(tag)
    plain.text = each.text if tag == "text" else None
    for name, value in each.attrib.items():
        if name == "style":
            styles = (part.split(": ", 1) for part in value.split("; "))
            plain.attrib |= {k: _short(v) for k, v in styles if tag != "text" or k == "text-anchor"}
        elif name == "id":
            plain.set("id", mark + value)
        elif name == _LINK:
            plain.set("href", f"#{mark}{value[1:]}")
        elif not value.startswith("rotate(-0"):
            plain.set(name, _short(value))
    plain.extend(piece for inner in each for piece in _plain(inner, mark))
    return [plain]


def _short(value: str) -> str:
    """A tenth of a unit is enough, and a line of a path needs no line of its own."""
    return _DECIMALS.sub(lambda found: f"{round(float(found[0]), 1):g}", " ".join(value.split()))
