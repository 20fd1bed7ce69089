"""How often 95 % intervals cover what is true, and how wide they are: six shapes, 300 surveys each.

The shapes are lines and arcs that meet at tangents. A survey reads rows along one, evenly apart
from a place of its own, with normal errors of height and setback; nothing else is off, so that the
shift of an extreme is not lost in errors of the whole vehicle. What is true is formed by
tests/references/shapely_loop.py on the shape itself, cut into chords of `FINE_MM`: on an arc of
60 mm they are 0.0001 mm off, and the sphere is right to 0.1 mm.

Every front has three stations that err apart, and each is one survey (of BRRL the outermost is one
where the sphere rests inward of it: else its end is open). Rows are so close together
that the surface between them moves no line by more than they are sure: intervals say nothing of it.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, field

import numpy as np
import pytest
from references.shapely_loop import lines_of

from frontcheck.front.front import Front
from frontcheck.sure.intervals import tolerance
from frontcheck.surface.section import Section

RULES = "UN-R127-02"
WAD = (1000.0, 1500.0, 1700.0)
STATIONS = (0.0, 300.0, 600.0)
SURVEYS, DRAWS = 300, 500
APART_MM, U_MM, FINE_MM = 20.0, 2.0, 0.25
LEAST, LEAST_MEAN, WIDEST = 0.90, 0.94, 1.6


@dataclass
class Drawn:
    """A contour drawn on from a point, by lines and by arcs that turn to a heading [deg]."""

    x: float
    z: float
    heading: float = 180.0  # from rearward, towards up: the underside is drawn forward
    pieces: list[tuple[float, float, float, float, float, str]] = field(default_factory=list)
    corners: list[float] = field(default_factory=lambda: [0.0])  # where a row always stands
    length: float = 0.0

    def line(self, length: float, part: str) -> Drawn:
        return self._on(length, 0.0, part)

    def arc(self, radius: float, heading: float, part: str) -> Drawn:
        turn = math.radians(heading - self.heading)
        return self._on(abs(turn) * radius, math.copysign(1.0 / radius, turn), part)

    def corner(self, heading: float) -> Drawn:
        self.corners.append(self.length)
        self.heading = heading
        return self

    def _on(self, length: float, bend: float, part: str) -> Drawn:
        piece = (self.length, self.x, self.z, math.radians(self.heading), bend, part)
        self.pieces.append(piece)
        self.x, self.z = map(float, _along(piece, np.array(length)))
        self.heading += math.degrees(bend * length)
        self.length += length
        return self

    def at(self, places: np.ndarray) -> tuple[np.ndarray, tuple[str, ...]]:
        """Points and parts at places along the contour."""
        starts = np.array([piece[0] for piece in self.pieces])
        which = np.searchsorted(starts, places, side="right") - 1
        points = [
            _along(self.pieces[k], at - starts[k]) for k, at in zip(which, places, strict=True)
        ]
        return np.array(points), tuple(self.pieces[k][5] for k in which)

    def rows(self, apart: float, first: float) -> np.ndarray:
        """Places of rows: at each corner, and evenly between, the first at a share of the step."""
        places = []
        for a, b in zip(self.corners, [*self.corners[1:], self.length], strict=True):
            between = np.arange(a + first * apart, b, apart)
            near = 0.5 * apart
            places += [a, *between[(between > a + near) & (between < b - near)]]
        return np.array([*places, self.length])


def _along(piece: tuple[float, float, float, float, float, str], s: np.ndarray) -> tuple:
    _, x, z, heading, bend, _ = piece
    if bend == 0.0:
        return x + s * math.cos(heading), z + s * math.sin(heading)
    turned = heading + bend * s
    return (
        x + (np.sin(turned) - math.sin(heading)) / bend,
        z - (np.cos(turned) - math.cos(heading)) / bend,
    )


def nose(radius: float = 120.0, z: float = 210.0) -> Drawn:
    """Underside and the lower arc of a bumper, up to where its face stands upright."""
    return Drawn(450.0, z).line(250.0, "underside").arc(radius, 90.0, "bumper")


def rear(drawn: Drawn, radius: float = 150.0, bonnet: float = 700.0) -> Drawn:
    """Leading edge, bonnet, cowl and windscreen."""
    drawn.arc(radius, 9.0, "bonnet").line(bonnet, "bonnet").corner(-30.0).line(40.0, "cowl")
    return drawn.corner(30.0).line(600.0, "windscreen")


def two_arcs() -> Drawn:
    return rear(nose().line(60.0, "bumper").arc(160.0, 60.0, "bumper").line(240.0, "bumper"))


def leading_edge(radius: float) -> Drawn:
    face = nose().line(100.0, "bumper").arc(90.0, 60.0, "bumper").line(50.0, "bumper")
    return rear(face, radius, 600.0)


def recess() -> Drawn:
    face = nose(110.0).line(100.0, "bumper").arc(70.0, 15.0, "bumper").line(25.0, "bumper")
    face.arc(30.0, 80.0, "grille").line(110.0, "grille").arc(40.0, 140.0, "grille")
    return rear(face.line(10.0, "grille").arc(60.0, 60.0, "bonnet").line(15.0, "bonnet"))


def face_along_the_edge() -> Drawn:
    """180 mm of the face lie along the edge of UBRL, whose uppermost touch is their upper end."""
    face = nose(110.0).line(20.0, "bumper").arc(100.0, 70.0, "bumper").line(180.0, "bumper")
    return rear(face.arc(80.0, 55.0, "bumper").line(100.0, "grille"))


def overhung_lips() -> Drawn:
    face = Drawn(450.0, 200.0).line(300.0, "underside").arc(45.0, 60.0, "bumper")
    for *turned, straight in (
        (40.0, 0.0, 50.0), (30.0, 100.0, 60.0), (20.0, 180.0, 45.0), (30.0, 80.0, 80.0),
        (40.0, 5.0, 30.0),
    ):  # fmt: skip
        face.arc(*turned, "bumper").line(straight, "bumper")
    face.arc(30.0, 110.0, "grille").line(90.0, "grille").arc(25.0, 170.0, "bonnet")
    return rear(face.line(20.0, "bonnet").arc(40.0, 50.0, "bonnet"), 120.0, 750.0)


SHAPES = {
    "two arcs": two_arcs(),
    "leading edge of radius 500": leading_edge(500.0),
    "leading edge of radius 800": leading_edge(800.0),
    "recess": recess(),
    "face along the edge of UBRL": face_along_the_edge(),
    "overhung lips": overhung_lips(),
}


def true_values(shape: Drawn) -> dict[str, float]:
    points, parts = shape.at(shape.rows(FINE_MM, 1.0))
    # Reading of the specification: a grille is bumper.
    found = lines_of(points, tuple(p.replace("grille", "bumper") for p in parts), WAD)
    values = {
        f"{name.replace(' ', '_')}_{axis}_mm": float(at)
        for name, place in found.items()
        for axis, at in zip("xz", place, strict=True)
    }
    return values | {"bumper_lead_mm": values["BLERL_x_mm"] - values["UBRL_x_mm"]}


def surveyed(shape: Drawn, apart: float, u: float, rng: np.random.Generator) -> Front:
    """What a survey of a shape might read, at three stations that err apart."""
    points, parts = shape.at(shape.rows(apart, rng.random()))
    own = np.full(len(points), u)
    sections = [
        Section(points + u * rng.normal(size=points.shape), y, parts, height_u=own, setback_u=own)
        for y in STATIONS
    ]
    return Front(tuple(sections), symmetric=True)


def coverage(
    shape: Drawn, apart: float = APART_MM, u: float = U_MM, seed: int = 20, surveys: int = SURVEYS
) -> dict[str, tuple[float, float]]:
    """Of each quantity: share of surveys whose interval covers, and its mean width by the scatter.

    The scatter is the width of the central 95 % of what the surveys find.
    """
    rng, wanted = np.random.default_rng(seed), true_values(shape)
    nominal: dict[str, list[float]] = {}
    ends: dict[str, list[tuple[float, float]]] = {}
    for i in range(surveys // len(STATIONS)):
        drawn = tolerance(surveyed(shape, apart, u, rng), RULES, WAD, draws=DRAWS, seed=i)
        for station in drawn.stations:
            for spread in station.spreads:
                if spread.nominal is not None:
                    nominal.setdefault(spread.quantity, []).append(spread.nominal)
                    ends.setdefault(spread.quantity, []).append((spread.low, spread.high))
    found = {}
    for quantity, true in wanted.items():
        low, high = np.array(ends[quantity]).T
        assert len(low) >= (0.65 if "BRRL" in quantity else 0.98) * surveys, quantity
        scatter = float(np.ptp(np.quantile(nominal[quantity], (0.025, 0.975))))
        covers = float(np.mean((low <= true) & (true <= high)))
        found[quantity] = covers, float(np.mean(high - low)) / scatter
    return found


@pytest.mark.coverage
@pytest.mark.parametrize("name", SHAPES)
def test_intervals_cover_and_are_no_wider_than_need_be(name: str) -> None:
    found = coverage(SHAPES[name])
    for quantity, (covers, wide) in found.items():
        print(f"{name}: {quantity} covers {covers:.3f}, {wide:.2f} times the scatter")  # noqa: T201
    shares, widths = np.array(list(found.values())).T
    print(f"{name}: mean {shares.mean():.3f}, {widths.mean():.2f}")  # noqa: T201
    assert shares.min() >= LEAST
    assert shares.mean() >= LEAST_MEAN
    assert widths.max() <= WIDEST
