"""The annex as one HTML page that needs no network: text, styles, script and figures inside.

Templates escape whatever is put into them; a content security policy forbids the page to load or
run anything but its own style and script.
"""

from __future__ import annotations

import base64
import hashlib
from functools import cache
from importlib.resources import files
from typing import TYPE_CHECKING, Any, Final

from frontcheck.caution import CAUTION
from frontcheck.outputs.annex import annex_text as words
from frontcheck.outputs.annex.side_layers import SideLayers
from frontcheck.outputs.figures.contour_drawing import LINE_NAMES
from frontcheck.outputs.figures.style import house_style

if TYPE_CHECKING:
    from collections.abc import Sequence

    from jinja2 import Environment

    from frontcheck.lines.lined_front import LinedFront
    from frontcheck.outputs.annex.annex_pdf import Paper
    from frontcheck.outputs.annex.annex_text import Annex, Table
    from frontcheck.screening import Screening

MOST_STATIONS: Final = 61
"""Of more stations than this, evenly chosen ones are shown: a page has its limits."""

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
    with house_style(words=True):
        sheet = SideLayers(front)
        for y in chosen:
            bands = screening.bands[y]
            for band in bands:
                where.setdefault(band.number, []).append(y)
            layers = sheet.layers((screening, *others), y)
            stations.append({
                "y": _y(y),
                "height": f"{sheet.height:.1f}",
                "drawing": Markup(sheet.drawing(y, layers)),
                "bands": [(band.number, *sheet.band(band)) for band in bands],
                "layers": [
                    (" ".join(layer.rules), layer.lined.station(y),
                     sheet.marks(layer.lined, y))
                    for layer in layers
                ],
            })  # fmt: skip
    shown_at: dict[int, int | None] = {}
    for n, finding in enumerate(screening.findings, start=1):
        at = where.get(n)
        if at is None:
            shown_at[n] = None
        else:
            shown_at[n] = chosen.index(finding.station if finding.station in at else at[0])
    return _templates().get_template("viewer.html").render(
        screening=screening,
        every=every,
        start=chosen.index(front.stations[centre]),
        stations=stations,
        shown_at=shown_at,
        rule_sets=sorted((each.rules for each in (screening, *others)), key=lambda each: each.id),
        lines={name: words.point_name(name) for name in LINE_NAMES}
        | {"WAD": "Wrap-around distance (WAD)"},
        statuses=words.STATUS_WORDS,
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
        "line_source": words.line_source,
        "number": words.number,
        "place_text": words.place_text,
        "point_name": words.point_name,
        "points": words.all_points,
        "short": lambda value: f"{value:.1f}".removesuffix(".0"),
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


def _y(y: float) -> str:
    return words.number(y, 0 if y == round(y) else 1)
