"""What holds for nearly every front, as one paragraph with the numbers of this one."""

from __future__ import annotations

from typing import TYPE_CHECKING

from frontcheck.findings.people_rows import person_rows
from frontcheck.people.people import CHILD

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from frontcheck.findings.finding import Finding
    from frontcheck.lines.lined_front import LinedFront
    from frontcheck.people.people import Person
    from frontcheck.zones.front_zones import FrontZones


def standing(
    lined: LinedFront,
    findings: Sequence[Finding],
    people: Sequence[Person],
    zones: FrontZones | None,
) -> str:
    """Return what is true of nearly every front."""
    return " ".join(_sentences(lined, findings, people, zones))


def _sentences(
    lined: LinedFront,
    findings: Sequence[Finding],
    people: Sequence[Person],
    zones: FrontZones | None,
) -> Iterator[str]:
    for row in person_rows(lined, [p for p in people if p.name == CHILD.name]):
        if row.edge_against_centre_of_mass == "above" and row.edge_mm and row.band_mm:
            low, high = row.band_mm
            yield (
                f"The bonnet edge, {row.edge_mm:.0f} mm up, stands above the balance point of a "
                f"six-year-old ({low:.0f} to {high:.0f} mm): it tends to push the child ahead."
            )
    area = zones.bumper_test_area if zones is not None else None
    if area is not None and area.y_max is not None and area.y_min is not None:
        yield (
            f"No legform is aimed outboard of {-area.y_min:.0f} mm left and {area.y_max:.0f} mm "
            "right of the centre."
        )
    codes = {finding.code for finding in findings}
    if "GAP-BUMPER-TO-HEAD" in codes:
        gaps = [f for f in findings if f.code == "GAP-BUMPER-TO-HEAD" and f.value is not None]
        most = max(f.value or 0.0 for f in gaps)
        yield (
            f"No test is aimed between the upper bumper line (UBRL) and the headform areas, "
            f"up to {most:.0f} mm along the skin."
        )
    last = lined.rules.value("adult_area.wad_rear_mm")
    yield (
        f"Heads can land beyond {last:g} mm along the skin (WAD {last:g}), where no headform is "
        "aimed."
    )
