"""Changes of lines, wrap-around points and face of one station."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

from frontcheck.comparison.change import Change, change_of

if TYPE_CHECKING:
    from frontcheck.comparison.common_datum import Origins
    from frontcheck.lines.station import LinePoint, WadPoint
    from frontcheck.lines.station_pairs import Matched

__all__ = ["face_changes", "line_changes"]

_LINE_WORDS: Final = {
    "LBRL": "lower bumper reference line",
    "UBRL": "upper bumper reference line",
    "BLERL": "bonnet leading edge reference line",
    "BRRL": "bonnet rear reference line",
}
_HEIGHTS: Final = {
    "LBRL": "lower bumper height",
    "UBRL": "upper bumper height",
    "BLERL": "bonnet leading edge height",
}
_FACE: Final = (
    ("overhang_mm", "overhang of the face"),
    ("undercut_mm", "setback of the lower lip behind the upper lip"),
    ("recess_depth_mm", "depth of the recess between the lips"),
    ("recess_behind_upper_lip_mm", "recess behind the upper lip"),
    ("recess_behind_lower_lip_mm", "recess behind the lower lip"),
    ("mean_face_angle_deg", "mean lean of the face from vertical"),
    ("bonnet_angle_deg", "mean rise of the bonnet"),
)


def line_changes(matched: Matched, origins: Origins) -> tuple[Change, ...]:
    """Return the changes of all lines and wrap-around points of a station, and of its lead."""
    a, b = matched.a.station, matched.b.station
    out: list[Change] = []
    for one, two in zip(a.lines, b.lines, strict=True):
        out += _place(one, two, one.name, _LINE_WORDS[one.name], origins)
    out.append(
        change_of(
            "BLERL_edge_angle_deg",
            "lean of the straight edge that forms BLERL",
            a.BLERL.edge_angle_deg,
            b.BLERL.edge_angle_deg,
            status=(a.BLERL.status, b.BLERL.status),
            missing=(a.BLERL.reason, b.BLERL.reason),
        )
    )
    out.append(
        change_of(
            "bumper_lead_mm",
            "bumper lead, x of BLERL less x of UBRL",
            a.bumper_lead,
            b.bumper_lead,
            missing=("UBRL or BLERL is missing", "UBRL or BLERL is missing"),
        )
    )
    for mark in a.wads:
        other = b.wad(mark.distance)
        out += _place(mark, other, mark.name, f"point at {mark.name}", origins)
    return tuple(out)


def _place(
    one: LinePoint | WadPoint,
    two: LinePoint | WadPoint,
    name: str,
    words: str,
    origins: Origins,
) -> tuple[Change, Change]:
    status, missing = (_status(one), _status(two)), (one.reason, two.reason)
    stem = name.replace(" ", "_")
    x_a = None if one.x is None else one.x - origins.a
    x_b = None if two.x is None else two.x - origins.b
    height = f"{_HEIGHTS[name]}, z of {name}" if name in _HEIGHTS else f"z of the {words}"
    return (
        change_of(
            f"{stem}_x_mm", f"x of the {words}", x_a, x_b,
            status=status, missing=missing, barred=origins.barred,
        ),
        change_of(f"{stem}_z_mm", height, one.z, two.z, status=status, missing=missing),
    )  # fmt: skip


def _status(point: LinePoint | WadPoint) -> str:
    bridged = getattr(point, "bridged", None)
    return f"{point.status}, bridged" if bridged else point.status


def face_changes(matched: Matched, origins: Origins) -> tuple[Change, ...]:
    """Return the changes of the descriptors of the face of a station."""
    a, b = matched.a.section.face, matched.b.section.face
    out = [
        change_of(
            "face_foremost_x_mm", "x of the foremost point of the face",
            a.foremost[0] - origins.a, b.foremost[0] - origins.b, barred=origins.barred,
        ),
        change_of(
            "face_foremost_z_mm", "z of the foremost point of the face",
            a.foremost[1], b.foremost[1],
        ),
    ]  # fmt: skip
    for name, words in _FACE:
        why = "no bonnet in the section" if name.startswith("bonnet") else "the face has no recess"
        out.append(change_of(name, words, getattr(a, name), getattr(b, name), missing=(why, why)))
    return tuple(out)
