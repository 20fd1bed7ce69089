"""Both side views of one station over each other, to scale, and what both show a leg."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

import numpy as np

from frontcheck.lines.statuses import OPEN_END, STATUS_NAMES, UNSURE
from frontcheck.outputs.figures import canvas as look
from frontcheck.outputs.figures.side_drawing import LINE_NAMES, draw_ground, hollow_key, millimetres

if TYPE_CHECKING:
    from collections.abc import Sequence

    from matplotlib.axes import Axes
    from matplotlib.lines import Line2D

    from frontcheck.comparison.changes import Change
    from frontcheck.comparison.comparison_result import StationComparison
    from frontcheck.geometry.arrays import Array
    from frontcheck.legs.contact import FrontContact
    from frontcheck.people.people import Person

STROKES: Final = {
    "A": look.Stroke("#1d2b3a", 2.6),
    "B": look.Stroke("#c07a2c", 2.6, (3.2, 1.3)),
}
"""A unbroken and dark, B dashed and lighter: told apart in grey too."""
OUTSIDE: Final = "#2f4b6e"
INSIDE: Final = "#d9cdb8"
"""Fills of where B stands outside A, and inside A."""

_MARKERS: Final = {"A": "o", "B": "s"}
_LINK: Final = look.Stroke(look.MUTED, 0.9)
_GAP: Final = look.Stroke(look.FACE, 1.7, (1.2, 1.0))
_KNEE: Final = look.Stroke(look.MUTED, 0.8)
_NAMES: Final = 1.2
"""Room for the longest name of a person with the height of the knee [in]."""
_LEG: Final = look.Stroke(look.MUTED, 1.2, (5.0, 2.0))

_AXES: Final = ("setback x [mm]", "height above ground z [mm]")
_Place = tuple[float, float]


def front_keys() -> list[Line2D]:
    """Return legend keys of both fronts."""
    return [
        look.key(f"front {name}", marker=_MARKERS[name], **stroke.options())
        for name, stroke in STROKES.items()
    ]


def draw_overlay(ax: Axes, station: StationComparison) -> list[Line2D]:
    """Draw both side views over each other."""
    contours = station.origins.points(station.matched)
    every = np.concatenate(contours)
    low, high = every.min(axis=0), every.max(axis=0)
    look.fit_limits(ax, (low[0], 0.0, high[0], high[1]), (1.5, 0.3, 0.25, 0.45))
    drawing = look.Drawing(ax)
    draw_ground(drawing, *ax.get_xlim())
    _contours(drawing, contours)
    for name in ("LBRL", "UBRL"):
        places = _places(station, name)
        _mark(drawing, places, station.change(f"{name}_z_mm"))
        if places:
            drawing.label(name, _middle(places), prefer=(-1.0, 0.0), color=look.MUTED, rank=3)
    known = [change.quantity.removesuffix("_x_mm") for change in station.lines]
    wads = [name for name in known if name.startswith("WAD_") and not name.endswith("_mm")]
    sides = {"BLERL": (-1.0, 0.8), "BRRL": (-0.3, 1.0)} | dict.fromkeys(wads, (0.5, -1.0))
    for name, prefer in sides.items():
        _line(drawing, station, name, prefer)
    keys = front_keys()
    if any(_hollow(change) for change in station.lines):
        keys.append(hollow_key())
    if station.contour is not None:
        for extreme, words in (
            (station.contour.outward, "outside A"), (station.contour.inward, "inside A"),
        ):  # fmt: skip
            if extreme is not None and abs(extreme.value) >= 0.05:
                ends = np.array([extreme.on_a, extreme.on_b])
                drawing.line(ends, _GAP, zorder=4.0, gid=f"farthest {words}")
                drawing.label(
                    f"B {millimetres(abs(extreme.value), 1)} {words}", ends.mean(axis=0),
                    prefer=(1.0, -0.3), color=look.FACE, rank=2,
                )  # fmt: skip
        keys.append(look.key("farthest apart", **_GAP.options()))
    drawing.label(_note(station), None, prefer=(1.0, -1.0), size=look.SMALL, rank=4)
    drawing.finish()
    look.plain_axes(ax, *_AXES)
    return keys


def draw_face(ax: Axes, station: StationComparison) -> None:
    """Draw both faces enlarged, with the bumper lines and the leading edge."""
    contours = station.origins.points(station.matched)
    names = ("LBRL", "UBRL", "BLERL")
    wanted = [at for name in names for at in _places(station, name).values()]
    places = np.array(wanted or [contour[0] for contour in contours])
    look.fit_limits(ax, (*places.min(axis=0), *places.max(axis=0)), (0.95, 0.6, 0.45, 0.6))
    drawing = look.Drawing(ax)
    _contours(drawing, contours)
    for name in names:
        _line(drawing, station, name, (-1.0, 0.3))
    drawing.finish()
    look.plain_axes(ax, *_AXES, title="Face enlarged")


def draw_leg(
    ax: Axes,
    station: StationComparison,
    front: str,
    people: Sequence[Person],
    *,
    name_people: bool,
) -> None:
    """Draw what one front shows an upright leg."""
    # Both panels of a pair get the same limits, so the same scale: as high and as far as either
    # front asks for.
    sides = (
        (station.matched.a.section.points, station.leg.a),
        (station.matched.b.section.points, station.leg.b),
    )
    knees = [person.knee.known() for person in people]
    heights = [member.z for _, contact in sides for member in contact.members]
    top = max([*heights, *knees, 500.0]) + 60.0
    touch = [float(points[points[:, 1] <= max(top, points[0, 1]), 0].min()) for points, _ in sides]
    behind = [m.x - x for (_, side), x in zip(sides, touch, strict=True) for m in side.members]
    (points, contact), first = sides["AB".index(front)], touch["AB".index(front)]
    look.fit_limits(ax, (first, 0.0, first + max([300.0, *behind]), top), (1.5, 0.25, 1.3, 0.1))
    # Setbacks are counted from the leg, which the foremost point touches at 0.
    left, right = ax.get_xlim()
    ax.set_xlim(left - first, right - first)
    drawing = look.Drawing(ax)
    draw_ground(drawing, *ax.get_xlim())
    drawing.line([(0.0, 0.0), (0.0, top)], _LEG, zorder=2.0, gid="upright leg")
    if knees:
        ax.axhspan(min(knees), max(knees), facecolor="#eeece6", zorder=0.4, gid="knee band")
        _knees(drawing, people, named=name_people)
    drawing.line(points - np.array([first, 0.0]), STROKES[front], gid=f"front {front}")
    _members(drawing, contact, first, front)
    drawing.finish()
    look.plain_axes(ax, "distance behind first touch [mm]", _AXES[1] if front == "A" else "")


def _knees(drawing: look.Drawing, people: Sequence[Person], *, named: bool) -> None:
    """Draw a line at every knee; names in a column beside them, moved apart where too close."""
    ax = drawing.ax
    left, right = ax.get_xlim()
    # A letter of this height and some air, in the units of the axis.
    wide, high = look.axes_inches(ax)
    line = 1.5 * look.SMALL / 72.0 * np.ptp(ax.get_ylim()) / high
    column, before = left + 0.012 * (right - left), -np.inf
    names = max(0.2, _NAMES / wide)  # share of the width that names take
    for person in sorted(people, key=lambda p: (p.knee.known(), p.name)):
        height = person.knee.known()
        start = left + (names + 0.035) * (right - left) if named else left
        drawing.line([(start, height), (right, height)], _KNEE, zorder=1.0, gid="knee")
        if named:
            at = before = max(height, before + line)
            ax.text(column, at, f"{person.name}: {millimetres(height)}", fontsize=look.SMALL,
                    color=look.INK, va="center", zorder=5.0, gid=look.LABEL)  # fmt: skip
            way = [(left + names * (right - left), at), (start, height)]
            drawing.line(way, _KNEE, zorder=1.0, gid=look.LEADER)


def _members(drawing: look.Drawing, contact: FrontContact, first: float, front: str) -> None:
    for member in contact.members:
        at = (member.x - first, member.z)
        drawing.dot(at, marker=_MARKERS[front], color=STROKES[front].color)
        if at[0] >= 0.5:
            drawing.span((0.0, member.z), at, look.LEAD)
        later = "touches first" if at[0] < 0.05 else f"{millimetres(at[0], 1)} later"
        words = f"{member.name}\nheight {millimetres(member.z)}, {later}"
        drawing.label(words, at, prefer=(1.0, 0.2))
    undercut = contact.undercut_mm
    if undercut is not None:
        words = f"{millimetres(abs(undercut), 1)} {'behind' if undercut >= 0.0 else 'ahead of'}"
        drawing.label(f"Lower lip {words} the bumper", None, prefer=(1.0, -1.0), rank=3)


def _contours(drawing: look.Drawing, contours: tuple[Array, ...]) -> None:
    for name, points in zip("AB", contours, strict=True):
        drawing.line(points, STROKES[name], zorder=3.0 if name == "A" else 3.2, gid=f"front {name}")


def _places(station: StationComparison, stem: str) -> dict[str, _Place]:
    """Where a line lies in A and in B, as far as it is formed."""
    x, z = station.change(f"{stem}_x_mm"), station.change(f"{stem}_z_mm")
    found = {"A": (x.a, z.a), "B": (x.b, z.b)}
    return {name: (u, w) for name, (u, w) in found.items() if u is not None and w is not None}


def _middle(places: dict[str, _Place]) -> _Place:
    x, z = np.mean(list(places.values()), axis=0).tolist()
    return x, z


def _hollow(change: Change) -> set[str]:
    """In which fronts more may stand beyond the place of a line."""
    statuses = {"A": change.status_a, "B": change.status_b}
    return {name for name, each in statuses.items() if each.partition(",")[0] in UNSURE}


def _mark(drawing: look.Drawing, places: dict[str, _Place], change: Change) -> None:
    if len(places) == 2:
        drawing.line(list(places.values()), _LINK, zorder=4.0)
    for name, at in places.items():
        sure = name not in _hollow(change)
        drawing.dot(at, marker=_MARKERS[name], color=STROKES[name].color, filled=sure)


def _line(
    drawing: look.Drawing, station: StationComparison, stem: str, prefer: tuple[float, float]
) -> None:
    places = _places(station, stem)
    if not places:
        return
    _mark(drawing, places, station.change(f"{stem}_z_mm"))
    name = stem.replace("_", " ")
    x, z = station.change(f"{stem}_x_mm"), station.change(f"{stem}_z_mm")
    title = f"{LINE_NAMES[name]} ({name})" if name in LINE_NAMES else name
    if len(places) < 2:
        only = "A" if "A" in places else "B"
        said = f"in {only} only" + (f", {STATUS_NAMES[OPEN_END]}" if x.open_end else "")
    elif x.open_end:
        said = x.reason
    elif x.change is None:
        said = _moved(z.change, "higher", "lower")
    else:
        moved = [_moved(x.change, "rearward", "forward"), _moved(z.change, "higher", "lower")]
        kept = [words for words in moved if words]
        said = f"B {', '.join(kept)}" if kept else "the same in both"
    if x.status_changed and len(places) == 2 and not x.open_end:
        said += "\nA: {}; B: {}".format(*x.ways)
    drawing.label(f"{title}\n{said}", _middle(places), prefer=prefer, rank=1)


def _moved(change: float | None, more: str, less: str) -> str:
    if change is None or abs(change) < 0.05:
        return ""
    return f"{millimetres(abs(change), 1)} {more if change > 0.0 else less}"


def _note(station: StationComparison) -> str:
    lead = station.change("bumper_lead_mm")
    lines = [f"Bumper lead: {lead.reason}"] if lead.open_end else []
    if lead.a is not None and lead.b is not None and lead.change is not None:
        by = f"{lead.change:+.1f} mm".replace("-", "\N{MINUS SIGN}") if lead.change else "unchanged"
        lines.append(f"Bumper lead: A {millimetres(lead.a, 1)}, B {millimetres(lead.b, 1)} ({by})")
    one, two = station.legform_words
    lines.append(f"Legform: {one}" + (f" in A, {two} in B" if one != two else " in both"))
    bases = station.matched.a.basis, station.matched.b.basis
    for name, basis in zip("AB", bases, strict=True):
        if basis == "interpolated":
            lines.append(f"{name} was not measured here: section interpolated between its stations")
    if station.origins.barred:
        lines.append("Setbacks are not compared: no datum common to both fronts")
    return "\n".join(lines)
