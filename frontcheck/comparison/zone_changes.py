"""Changes of what belongs to a whole front: corners, test areas, thirds, headform areas."""

from __future__ import annotations

from typing import TYPE_CHECKING

from frontcheck.comparison.change import Change, change_of

if TYPE_CHECKING:
    from frontcheck.comparison.common_datum import Origins
    from frontcheck.lines.front_line import Pair, Spot
    from frontcheck.zones.front_zones import FrontZones

__all__ = ["zone_changes"]


def zone_changes(a: FrontZones, b: FrontZones, origins: Origins) -> tuple[Change, ...]:
    """Return the changes of all zones."""
    out: list[Change] = []
    out += _pair("bumper corner", a.bumper_corners.chosen, b.bumper_corners.chosen, origins)
    one, two = a.bumper_test_area, b.bumper_test_area
    for name, words in (("y_min", "left end"), ("y_max", "right end"), ("width", "width")):
        out.append(
            change_of(
                f"bumper_test_area_{name}_mm", f"{words} of the bumper test area",
                getattr(one, name), getattr(two, name), status=(one.status, two.status),
                missing=(one.reason, two.reason),
            )
        )  # fmt: skip
    for name, thirds, others in (
        ("bumper", a.bumper_thirds, b.bumper_thirds),
        ("leading_edge", a.leading_edge_thirds, b.leading_edge_thirds),
    ):
        out.append(
            change_of(
                f"{name}_thirds_length_mm",
                f"length of tape over the three thirds of the {name.replace('_', ' ')}",
                thirds.length, others.length, status=(thirds.status, others.status),
                missing=(thirds.reason, others.reason),
            )
        )  # fmt: skip
    out += _pair(
        "corner reference point", a.corner_reference_points, b.corner_reference_points, origins
    )
    out += _pair("rear corner", a.rear_corners, b.rear_corners, origins)
    for area, other in ((a.child_area, b.child_area), (a.adult_area, b.adult_area)):
        out.append(
            change_of(
                f"{area.name}_headform_area_m2", f"area of the {area.name} headform area",
                area.area_m2, other.area_m2, status=(area.status, other.status),
                missing=(area.reason, other.reason),
            )
        )  # fmt: skip
    return tuple(out)


def _pair(name: str, a: Pair, b: Pair, origins: Origins) -> list[Change]:
    out: list[Change] = []
    for side, one, two in (("left", a.left, b.left), ("right", a.right, b.right)):
        for k, axis in enumerate("xyz"):
            value_a, value_b = _coordinate(one, k), _coordinate(two, k)
            if axis == "x":
                value_a = None if value_a is None else value_a - origins.a
                value_b = None if value_b is None else value_b - origins.b
            out.append(
                change_of(
                    f"{name.replace(' ', '_')}_{side}_{axis}_mm",
                    f"{axis} of the {side} {name}", value_a, value_b,
                    status=(one.status, two.status), missing=(one.reason, two.reason),
                    barred=origins.barred if axis == "x" else "",
                )
            )  # fmt: skip
    return out


def _coordinate(spot: Spot, k: int) -> float | None:
    return None if spot.point is None else spot.point[k]
