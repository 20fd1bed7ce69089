"""Sketches on a measuring sheet: square and string line, stations from above, tape and edges.

The car is an invented one, drawn once as a contour; tape and straight edges are laid against it
by the same rules that the lines are formed with.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

from frontcheck.outputs.figures import style as look

if TYPE_CHECKING:
    from collections.abc import Sequence

    from frontcheck.outputs.sheet.sheet_page import Page, Point
    from frontcheck.rules.ruleset import RuleSet

_UNDER: Final = ((447, 222), (400, 212), (320, 206), (200, 208), (125, 226), (78, 258))
_FACE: Final = (
    (52, 300), (38, 335), (46, 372), (66, 410), (68, 455), (44, 500), (22, 535), (24, 565),
    (46, 596), (62, 650), (76, 720),
)  # fmt: skip
_BONNET: Final = ((100, 780), (150, 828), (300, 882), (500, 934), (760, 984), (1000, 1014))
_GLASS: Final = (
    (1075, 1022), (1092, 1004), (1130, 1000), (1165, 1024), (1230, 1100), (1330, 1205),
    (1440, 1310), (1570, 1400),
)  # fmt: skip
_ROOF: Final = ((1720, 1455), (1900, 1480), (4000, 1530))
_WHEEL: Final = (790.0, 300.0, 300.0)
_ARCH: Final = 352.0
_STRING: Final = -230.0
_STRING_HEIGHT: Final = 300.0

_TOOL: Final = "#f0cf8c"
_CAR: Final = "#e9ecee"
_STAND: Final = "#c9c4bb"


@dataclass(frozen=True)
class _View:
    """Places of a vehicle on the page."""

    page: Page
    left: float
    foot: float
    scale: float
    x0: float

    def at(self, x: float, z: float) -> Point:
        return self.left + (x - self.x0) * self.scale, self.foot - z * self.scale

    def path(self, points: Sequence[Point]) -> list[Point]:
        return [self.at(*point) for point in points]


def draw_side(page: Page, top: float, width: float, height: float) -> None:
    """Draw how square, string line and level are set and read."""
    left = page.left
    page.box(left, top, width, height, look.MUTED)
    view = _View(page, left + 2.0, top + height - 6.0, (height - 8.0) / 1580.0, -1000.0)
    room = -1000.0 + (width - 4.0) / view.scale
    _ground(view, -985.0, room - 15.0)
    # String line, seen along it: its stand behind, the string as a point.
    page.area(view.path(_rectangle(_STRING + 22.0, 0.0, _STRING + 40.0, 420.0)), _STAND)
    page.area(view.path(_rectangle(_STRING - 70.0, 0.0, _STRING + 132.0, 16.0)), _STAND)
    _car(view, room)
    # The square, its upright touching the string.
    page.area(view.path(_rectangle(-700.0, 0.0, _STRING, 34.0)), _TOOL, look.TAPE_RIM)
    page.area(view.path(_rectangle(_STRING - 34.0, 0.0, _STRING, 1215.0)), _TOOL, look.TAPE_RIM)
    page.line(view.path([(-490.0, 34.0), (_STRING - 34.0, 255.0)]), look.TAPE_RIM, 1.6)
    page.circle(view.at(_STRING + 13.0, _STRING_HEIGHT), 0.75, look.FACE, look.FACE)
    # One reading on the face, one on the bonnet.
    page.area(view.path(_rectangle(_STRING - 60.0, 551.0, 22.0, 569.0)), _TOOL, look.TAPE_RIM)
    page.area(view.path(_rectangle(_STRING - 60.0, 1150.0, 820.0, 1185.0)), _TOOL, look.TAPE_RIM)
    page.area(view.path(_rectangle(492.0, 934.0, 508.0, 1150.0)), _TOOL, look.TAPE_RIM)
    _measure(view, (-430.0, 0.0), (-430.0, 551.0), "height", (-452.0, 280.0), turned=True)
    _measure(view, (_STRING, 655.0), (24.0, 655.0), "setback", (-110.0, 695.0))
    page.lines([(view.at(24.0, 575.0), view.at(24.0, 680.0))], look.FACE, 0.5)
    page.lines([(view.at(-450.0, 551.0), view.at(_STRING - 60.0, 551.0))], look.FACE, 0.5)
    _measure(view, (_STRING, 1285.0), (500.0, 1285.0), "setback", (135.0, 1310.0))
    page.lines(
        [
            (view.at(500.0, 1185.0), view.at(500.0, 1310.0)),
            (view.at(_STRING, 1215.0), view.at(_STRING, 1310.0)),
        ],
        look.FACE, 0.5,
    )  # fmt: skip
    _measure(view, (575.0, 958.0), (575.0, 1150.0), "drop", (600.0, 1035.0), ha="left")
    _order(view)
    _side_labels(view, top)


def draw_plan(page: Page, at: Point, width: float, height: float) -> None:
    """Draw the stations and the string line from above."""
    left, top = at
    page.box(left, top, width, height, look.MUTED)
    scale = (width - 4.0) / 2500.0
    view = _View(page, left + 2.0, top + 12.0, scale, -1250.0)

    def nose(y: float) -> float:
        return 60.0 + 260.0 * math.pow(abs(y) / 800.0, 2.6)

    # The vehicle faces up the page: its x runs down, so heights of the view are -x.
    outline = [(float(y), -nose(y)) for y in range(-800, 801, 50)]
    depth = (height - 12.0 - 6.5) / scale
    skin = [(-825.0, -depth), (-825.0, -480.0), *outline, (825.0, -480.0), (825.0, -depth)]
    page.area(view.path(skin), _CAR)
    page.line(view.path(skin), look.INK, 1.4)
    string = 150.0
    page.line(view.path([(-1130.0, string), (1130.0, string)]), look.FACE, 1.1)
    for y in (-1130.0, 1130.0):
        foot = _rectangle(y - 40.0, string - 40.0, y + 40.0, string + 40.0)
        page.area(view.path(foot), _STAND, look.MUTED)
    page.line(view.path([(0.0, string + 60.0), (0.0, -depth)]), look.MUTED, 0.7, (6, 2, 1.5, 2))
    for y in (0.0, 180.0, 360.0, 540.0, 700.0):
        page.line(view.path([(y, string), (y, -depth + 260.0)]), look.TAPE_RIM, 0.7, (3.0, 2.0))
        page.area(view.path(_rectangle(y - 16.0, string, y + 16.0, string + 62.0)), _TOOL,
                  look.TAPE_RIM)  # fmt: skip
    for y in (-600.0, 600.0):
        _measure(view, (y, string), (y, -nose(y)), "a", (y - 50.0, -15.0), ha="right")
    for y, side, sign in ((-430.0, "left", "negative"), (430.0, "right", "positive")):
        page.text(view.at(y, -depth + 150.0), f"vehicle's {side}", look.SMALL, ha="center")
        page.text(view.at(y, -depth + 50.0), f"y {sign}", look.SMALL, ha="center")
    page.text(view.at(-1130.0, string + 95.0), "stand", look.SMALL, ha="center")
    page.text(view.at(1130.0, string + 95.0), "stand", look.SMALL, ha="center")
    page.text(view.at(-420.0, string + 95.0), "string line", look.SMALL, ha="center")
    page.text((left + 1.5, top + height - 1.8),
              "Distances a equal: string square to the vehicle.",
              look.SMALL)  # fmt: skip


def draw_checks(page: Page, at: Point, width: float, height: float, rules: RuleSet) -> None:
    """Draw how the tape is held and the straight edges are leant."""
    left, top = at
    page.box(left, top, width, height, look.MUTED)
    view = _View(page, left + 1.5, top + height - 6.0, (height - 8.5) / 1520.0, -930.0)
    room = (width - 3.0) / view.scale + view.x0
    _ground(view, view.x0 + 10.0, room - 10.0)
    _car(view, room)
    contour = _contour()
    for name, foot, lean in (
        ("LBRL", 0.0, -rules.value("lbrl.lean_deg")),
        ("UBRL", 0.0, rules.value("ubrl.lean_deg")),
        ("BLERL", rules.value("blerl.foot_height_mm"), rules.value("blerl.lean_deg")),
    ):
        a, b, touch = _edge(contour, rules.value(f"{name.lower()}.edge_length_mm"), foot, lean)
        stroke = look.LINE_STYLES[name]
        page.line(view.path([a, b]), stroke.color, stroke.width, stroke.dashes)
        page.circle(view.at(*touch), 0.7, stroke.color, look.PAPER)
        at, end = {
            "LBRL": ((-900.0, 700.0), _between(b, _between(b, touch))),
            "UBRL": ((-900.0, 330.0), _between(a, _between(a, b))),
            "BLERL": ((-900.0, 1210.0), b),
        }[name]
        page.label(view.at(*at), f"edge for\n{name}", view.at(*end))
    tape = _taut(contour, 960.0)
    page.line(view.path(tape), look.TAPE_RIM, 1.6)
    page.circle(view.at(*tape[0]), 0.6, look.TAPE_RIM, look.TAPE_RIM)
    page.circle(view.at(*tape[-1]), 0.6, look.TAPE_RIM, look.TAPE_RIM)
    x = 1170.0
    page.label(view.at(x, 880.0), "tape taut, in the plane of\nthe station; spans hollows",
               view.at(700.0, 973.0))  # fmt: skip
    page.label(view.at(x, 640.0), "read at a row of the sheet", view.at(*tape[-1]))
    page.label(view.at(x, 120.0), "end on the ground, below\nthe foremost bumper point",
               view.at(*tape[0]))  # fmt: skip


# ---- parts of the sketches ---------------------------------------------------------------


def _contour() -> list[Point]:
    """The traced contour, rounded by cutting corners twice (Chaikin)."""
    points = [(float(x), float(z)) for x, z in (*_UNDER, *_FACE, *_BONNET, *_GLASS)]
    for _ in range(2):
        cut = [points[0]]
        for (x0, z0), (x1, z1) in zip(points, points[1:], strict=False):
            cut += [(0.75 * x0 + 0.25 * x1, 0.75 * z0 + 0.25 * z1)]
            cut += [(0.25 * x0 + 0.75 * x1, 0.25 * z0 + 0.75 * z1)]
        points = [*cut, points[-1]]
    return points


def _rectangle(x0: float, z0: float, x1: float, z1: float) -> list[Point]:
    return [(x0, z0), (x1, z0), (x1, z1), (x0, z1)]


def _between(a: Point, b: Point) -> Point:
    return (a[0] + b[0]) / 2.0, (a[1] + b[1]) / 2.0


def _ground(view: _View, x0: float, x1: float) -> None:
    view.page.line(view.path([(x0, 0.0), (x1, 0.0)]), look.GROUND, 1.6)
    step = 40.0
    ticks = [
        (view.at(x0 + i * step + 30.0, -4.0), view.at(x0 + i * step, -42.0))
        for i in range(int((x1 - x0) / step))
    ]
    view.page.lines(ticks, look.GROUND, 0.5)


def _car(view: _View, room: float) -> None:
    contour = _contour()
    arch = [
        (_WHEEL[0] + _ARCH * math.cos(a), _WHEEL[1] + _ARCH * math.sin(a))
        for a in (math.radians(d) for d in range(-13, 194, 3))
    ]
    roof = [(min(float(x), room), float(z)) for x, z in _ROOF]
    back = (room, _ROOF[-1][1])
    sill = 225.0
    body = [*contour, *roof, (back[0], sill), *arch, contour[0]]
    view.page.area(view.path(body), _CAR)
    view.page.line(view.path([contour[-1], *roof]), look.MUTED, 1.0)
    view.page.line(view.path([(back[0], sill), *arch, contour[0]]), look.MUTED, 1.0)
    x, z, radius = _WHEEL
    view.page.circle(view.at(x, z), radius * view.scale, look.MUTED, "#d5d9dc", 1.0)
    view.page.circle(view.at(x, z), 0.6 * radius * view.scale, look.MUTED, look.PAPER, 0.7)
    # Side window and door, so that it reads as a car.
    view.page.line(
        view.path([(1330.0, 1050.0), (1600.0, 1330.0), (back[0], 1400.0)]), look.MUTED, 0.6
    )
    view.page.line(view.path([(1330.0, 1050.0), (back[0], 1050.0)]), look.MUTED, 0.6)
    view.page.line(view.path(contour), look.INK, 1.9)


def _measure(
    view: _View, a: Point, b: Point, words: str, at: Point, *, ha: str = "center",
    turned: bool = False,
) -> None:  # fmt: skip
    view.page.arrow(view.at(*a), view.at(*b), look.FACE, "<|-|>")
    view.page.text(view.at(*at), words, look.TEXT, color=look.FACE, ha=ha, bold=True, turned=turned)


def _order(view: _View) -> None:
    """Number some points in the order in which they are written down."""
    numbered = (
        (_UNDER[0], (-22.0, 62.0)), (_UNDER[3], (0.0, -70.0)), (_FACE[1], (90.0, 0.0)),
        (_FACE[4], (90.0, 0.0)), (_FACE[7], (90.0, 10.0)), (_FACE[10], (90.0, -12.0)),
        (_BONNET[2], (35.0, -75.0)), (_BONNET[4], (20.0, -80.0)), (_GLASS[2], (10.0, -80.0)),
        (_GLASS[5], (-75.0, 45.0)),
    )  # fmt: skip
    for number, ((x, z), (dx, dz)) in enumerate(numbered, start=1):
        nearest = min(_contour(), key=lambda p: math.hypot(p[0] - x, p[1] - z))
        view.page.circle(view.at(*nearest), 0.55, look.INK, look.PAPER)
        place = view.at(x + dx, z + dz)
        view.page.text(place, f"{number}", look.SMALL, bold=True, ha="center", va="center")


def _side_labels(view: _View, top: float) -> None:
    page = view.page
    column = view.at(-975.0, 0.0)[0]
    page.label((column, top + 5.0), "square: upright plumb, its edge\njust touching the string",
               view.at(_STRING - 17.0, 1090.0))  # fmt: skip
    page.label((column, top + 17.0), "arm: level, at the height of\nthe row, pushed back until\n"
               "it touches the skin", view.at(_STRING - 50.0, 560.0))  # fmt: skip
    page.label(
        (column, view.at(0.0, 390.0)[1]),
        "string line\n(datum), end on",
        view.at(_STRING + 13.0, 300.0),
    )
    page.label(
        (column, view.at(0.0, 130.0)[1]),
        "foot of the square,\non level ground",
        view.at(-640.0, 17.0),
    )
    x = view.at(640.0, 0.0)[0]
    page.text((x, top + 5.0), "height = level's height - drop", look.SMALL, bold=True)
    page.label((x, top + 8.1), "on the bonnet: a level across from\nthe upright, a rule down to "
               "the skin", view.at(790.0, 1170.0))  # fmt: skip
    x = view.at(1240.0, 0.0)[0]
    for i, words in enumerate((
        "1, 2, 3 ...: write the points in this", "order, from the underside up the face",
        "and over the bonnet to the windscreen",
    )):  # fmt: skip
        page.text((x, view.at(0.0, 800.0)[1] + 3.1 * i), words, look.SMALL)
    page.label((view.at(1240.0, 0.0)[0], view.at(0.0, 470.0)[1]), "height of the wheel arch,\n"
               "above the wheel centre", view.at(_WHEEL[0], _WHEEL[1] + _ARCH))  # fmt: skip
    page.label(
        (view.at(1240.0, 0.0)[0], view.at(0.0, 60.0)[1]),
        "chocks, parking brake",
        view.at(1120.0, 40.0),
    )
    for side in (-1.0, 1.0):
        x = _WHEEL[0] + side * 330.0
        page.area(view.path([(x - side * 140.0, 0.0), (x, 0.0), (x, 110.0)]), look.INK)


def _edge(
    contour: Sequence[Point], length: float, foot: float, lean_deg: float
) -> tuple[Point, Point, Point]:
    """Lower end, upper end and touch of a straight edge pushed against the contour."""
    slope, reach = math.tan(math.radians(lean_deg)), length * math.cos(math.radians(lean_deg))
    within = [(x - (z - foot) * slope, (x, z)) for x, z in contour if foot <= z <= foot + reach]
    # A contact at the end of the reach cannot happen with this contour; the nearest one counts.
    start, touch = min(within)
    return (start, foot), (start + reach * slope, foot + reach), touch


def _taut(contour: Sequence[Point], x_end: float) -> list[Point]:
    """The taut tape from the ground below the foremost point to the bonnet at `x_end`."""
    foremost = min(range(len(contour)), key=lambda i: contour[i][0])
    tape: list[Point] = [(contour[foremost][0], 0.0)]
    for point in contour[foremost:]:
        if point[0] > x_end:
            break
        while len(tape) > 1 and _turn(tape[-2], tape[-1], point) >= 0.0:
            tape.pop()
        tape.append(point)
    return tape


def _turn(a: Point, b: Point, c: Point) -> float:
    return (b[0] - a[0]) * (c[1] - a[1]) - (b[1] - a[1]) * (c[0] - a[0])
