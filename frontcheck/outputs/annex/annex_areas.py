"""The section of the annex on test areas, and what bounds them."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

from frontcheck.outputs.annex.annex_model import Bullets, Paragraph, Section, Table
from frontcheck.outputs.annex.annex_text import MISSING, STATUS_WORDS, extent_text, number

if TYPE_CHECKING:
    from collections.abc import Sequence

    from frontcheck.lines.front_line import Pair
    from frontcheck.outputs.annex.annex_model import Picture
    from frontcheck.screening import Screening
    from frontcheck.zones.bonnet_results import HeadformArea
    from frontcheck.zones.bumper_results import BumperArea, Thirds

__all__ = ["test_areas"]

_THIRDS_NOTE: Final = (
    "SRL side reference line. Thirds: the outer contour cut in three equal lengths of tape."
)
_SQUARE_METRES: Final = "m\N{SUPERSCRIPT TWO}"


def test_areas(screening: Screening, pictures: Sequence[Picture]) -> Section:
    """Return the section on bumper and headform test areas."""
    zones, corners = screening.zones, screening.zones.bumper_corners
    applies = {"gauge": "corner gauge", "plane_60deg": "vertical plane"}[corners.applies]
    rows = [
        *_pair_rows("bumper corner, by vertical plane", corners.plane),
        *_pair_rows("bumper corner, by corner gauge", corners.gauge),
        *_pair_rows("corner reference point (BLERL and SRL meet)", zones.corner_reference_points),
        *_pair_rows("rear corner (BRRL and SRL meet)", zones.rear_corners),
        *_thirds_rows("bumper", zones.bumper_thirds),
        *_thirds_rows("bonnet leading edge", zones.leading_edge_thirds),
    ]
    places = Table(
        "Corners and thirds [mm]",
        ("place", "side", "setback x", "station y", "height z", "status", "reason or note"),
        tuple(rows), (3.0, 0.7, 0.9, 0.9, 0.9, 1.2, 4.0),
        (f"{_THIRDS_NOTE} The rule set finds bumper corners with the {applies}.",),
    )  # fmt: skip
    areas = Table(
        "Test areas",
        ("area", "extent", "status", "basis, reason or note"),
        (
            _bumper_row(zones.bumper_test_area),
            *(_legform_row(*run) for run in _runs(screening)),
            _area_row(zones.child_area),
            _area_row(zones.adult_area),
        ),
        (2.0, 2.4, 0.9, 5.0),
        tuple(zones.notes),
    )
    alike: dict[str, list[str]] = {}
    for line in zones.lines:
        if line.status != "ok" or line.reason:
            why = f"{line.status}: {line.reason or STATUS_WORDS[line.status]}"
            alike.setdefault(why, []).append(line.name)
    lines = [f"{', '.join(names)}, {why}" for why, names in alike.items()]
    said: list[Paragraph | Bullets] = []
    if lines:
        said = [Paragraph("Lines across the front, what to mind:"), Bullets(tuple(lines))]
    return Section("areas", "Test areas", (areas, places, *said, *pictures))


def _runs(screening: Screening) -> list[tuple[float, float, str]]:
    return [
        (run.y_from, run.y_to, run.legform or "not known") for run in screening.zones.legform_runs
    ]


def _bumper_row(area: BumperArea) -> tuple[str, ...]:
    extent = MISSING
    if area.y_min is not None and area.y_max is not None:
        extent = f"{extent_text((area.y_min, area.y_max))}, width {number(area.width)} mm"
    return ("bumper test area", extent, area.status, f"{area.basis}; {area.reason}".strip("; "))


def _legform_row(low: float, high: float, legform: str) -> tuple[str, ...]:
    words = {"either": "lower or upper, by the manufacturer's choice"}.get(legform, legform)
    return ("legform by lower bumper height", extent_text((low, high)), "", words)


def _area_row(area: HeadformArea) -> tuple[str, ...]:
    extent = MISSING if area.area_m2 is None else f"{number(area.area_m2, 3)} {_SQUARE_METRES}"
    return (f"{area.name} headform area", extent, area.status, area.reason)


def _pair_rows(name: str, pair: Pair) -> list[tuple[str, ...]]:
    rows: list[tuple[str, ...]] = []
    for side, spot in (("left", pair.left), ("right", pair.right)):
        x, y, z = spot.point or (None, None, None)
        why = "; ".join(text for text in (spot.reason, pair.note) if text)
        rows.append((name, side, number(x), number(y), number(z), spot.status, why))
    return rows


def _thirds_rows(name: str, thirds: Thirds) -> list[tuple[str, ...]]:
    if not thirds.cuts:
        dashes = (MISSING,) * 3
        return [(f"thirds of the {name}", "both", *dashes, thirds.status, thirds.reason)]
    rows: list[tuple[str, ...]] = []
    for side, spot in zip(("left", "right"), thirds.cuts, strict=True):
        x, y, z = spot.point or (None, None, None)
        why = spot.reason or f"whole tape {number(thirds.length)} mm"
        rows.append(
            (f"between thirds of the {name}", side, number(x), number(y), number(z), spot.status,
             why)
        )  # fmt: skip
    return rows
