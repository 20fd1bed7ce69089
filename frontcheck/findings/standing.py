"""What holds for nearly every front, as one paragraph with the numbers of this one."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

from frontcheck.findings.people_rows import person_rows
from frontcheck.people.people import CHILD

if TYPE_CHECKING:
    from collections.abc import Collection, Iterator, Sequence

    from frontcheck.findings.finding import Finding
    from frontcheck.lines.lined_front import LinedFront
    from frontcheck.people.people import Person
    from frontcheck.zones.front_zones import FrontZones

MUST_BE_SAID: Final = ("LEG-LINES-CROSSED", "LEG-LONG-LEAD", "BODY-EDGE-LOWER-END")
"""What two statuses of ``ok`` would hide: said here where it is no line of the answer."""


def standing(
    lined: LinedFront,
    findings: Sequence[Finding],
    people: Sequence[Person],
    zones: FrontZones | None,
    told: Collection[str],
) -> str:
    """Return what is true of nearly every front."""
    return " ".join(_sentences(lined, findings, people, zones, told))


def _sentences(
    lined: LinedFront,
    findings: Sequence[Finding],
    people: Sequence[Person],
    zones: FrontZones | None,
    told: Collection[str],
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
    heads = (zones.child_area, zones.adult_area) if zones is not None else ()
    wads = [w for area in heads for outline in area.outlines for w in outline.wad if w is not None]
    last = lined.rules.value("adult_area.wad_rear_mm")
    if wads:
        yield (
            "No test is aimed between the upper bumper line (UBRL) and the headform areas, which "
            f"reach from {min(wads):.0f} to {max(wads):.0f} mm along the skin (WAD); heads can "
            f"land behind them, beyond WAD {last:g} too."
        )
    else:
        yield f"Heads can land beyond {last:g} mm along the skin (WAD), where no headform is aimed."
    for finding in findings:
        if finding.code in MUST_BE_SAID and finding.code not in told:
            yield finding.message
