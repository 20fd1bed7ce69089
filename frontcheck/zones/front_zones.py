"""Everything that is known of one front in three dimensions, and what may be chosen about it."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Literal

from frontcheck.front.beside import given_once
from frontcheck.rules.used_by import CORNERS_BY_GAUGE, CORNERS_BY_PLANE
from frontcheck.serializer import one_line

if TYPE_CHECKING:
    from frontcheck.front.front import Front
    from frontcheck.lines.front_line import FrontLine, Pair, Spot, Xyz

# What the zones of the bonnet are, as plain frozen values.


@one_line
@dataclass(frozen=True)
class Outline:
    """Closed outline of one part of an area; the first point is not repeated."""

    points: tuple[Xyz, ...]  # x, y and z [mm]
    wad: tuple[float | None, ...]  # Wrap-around distance of every point, for the unrolled map [mm]


@one_line
@dataclass(frozen=True)
class ImpactPoints:
    """Where the impact points of a headform area lie, in editions that bound them apart from it."""

    inset_mm: float  # From the bounding lines, along a taut tape
    apart_mm: float  # Least distance from one to another
    area_m2: float | None  # Area of the surface [m2]; None when it could not be formed
    outlines: tuple[Outline, ...]  # Its parts, the largest first
    status: str  # One of `frontcheck.lines.line_values.STATUSES`
    reason: str = ""  # Why, or what to mind


@one_line
@dataclass(frozen=True)
class HeadformArea:
    """One headform test area."""

    name: AreaName  # Which
    area_m2: float | None  # Area of the surface [m2]; None when it could not be formed
    outlines: tuple[Outline, ...]  # Its parts, the largest first; usually one
    status: str  # One of `frontcheck.lines.line_values.STATUSES`
    reason: str = ""  # Why, or what to mind
    impact_points: ImpactPoints | None = None  # None where the whole area may be struck

    @property
    def formed(self) -> bool:
        """Whether the area could be formed."""
        return self.area_m2 is not None


@one_line
@dataclass(frozen=True)
class GridPoint:
    """A candidate test point."""

    area: AreaName  # The headform area it lies in
    point: Xyz  # x, y and z [mm]
    wad: float  # Wrap-around distance [mm]
    normal: Xyz  # Outward unit normal of the surface


# What the zones of the bumper are, as plain frozen values.


@one_line
@dataclass(frozen=True)
class BumperCorners:
    """Corners of the bumper by either procedure."""

    plane: Pair  # By the vertical plane, and by the corner gauge
    gauge: Pair  # By the vertical plane, and by the corner gauge
    applies: Literal["plane_60deg", "gauge"]  # Which of them the rule set uses

    @property
    def chosen(self) -> Pair:
        """The corners that the rule set uses."""
        return self.gauge if self.applies == "gauge" else self.plane


@one_line
@dataclass(frozen=True)
class BumperArea:
    """Lateral extent of the bumper test area."""

    y_min: float | None  # Its ends [mm]; None when it could not be formed
    y_max: float | None  # Its ends [mm]; None when it could not be formed
    basis: str  # ``corners`` or ``beam``: what bounds it
    status: str  # One of `frontcheck.lines.line_values.STATUSES`
    reason: str = ""  # Why, or what to mind
    outline: Outline | None = None  # From LBRL to UBRL; None where either is missing

    @property
    def width(self) -> float | None:
        """Width [mm]; None when it could not be formed."""
        return None if self.y_min is None or self.y_max is None else self.y_max - self.y_min


@one_line
@dataclass(frozen=True)
class Thirds:
    """An outer contour cut in three equal lengths of tape."""

    ends: tuple[Spot, ...]  # The two ends, left then right; empty when they could not be formed
    cuts: tuple[Spot, ...]  # The two places between the thirds, left then right
    length: float | None  # Length of the whole tape [mm]
    status: str  # One of `frontcheck.lines.line_values.STATUSES`
    reason: str = ""  # Why


@one_line
@dataclass(frozen=True)
class LegformRun:
    """A stretch of the bumper tested with one legform."""

    y_from: float  # Its ends [mm]
    y_to: float  # Its ends [mm]
    legform: Literal["lower", "either", "upper"] | None  # Which


AreaName = Literal["child", "adult"]
BetweenChoice = Literal["auto", "smooth", "straight"]


@one_line
@dataclass(frozen=True)
class ZoneOptions:
    """What may be chosen about the zones.

    Parameters
    ----------
    beam_ends_mm : tuple of float, optional
        y of the left and of the right end of the bumper beam [mm].
    grid_mm : float, optional
        Spacing of the candidate points, across and along the tape [mm].
    cut_mm : float, optional
        Widest spacing of the sections that the zones are worked out on [mm].
    between : {"auto", "smooth", "straight"}, optional
        How a surface without a mesh runs from station to station; auto is smooth up to 60
        stations.

    Raises
    ------
    ValueError
        If a spacing is not positive, the beam ends are not left then right, or there is no such
        way between stations.

    Examples
    --------
    >>> import frontcheck as fc
    >>> options = fc.ZoneOptions(beam_ends_mm=(-600, 600), grid_mm=50)
    >>> result = fc.screen(fc.read_front("geometries/plover.csv"), zone_options=options)
    >>> len(result.zones.grid)
    401
    """

    beam_ends_mm: tuple[float, float] | None = None
    grid_mm: float = 100.0
    cut_mm: float = 10.0
    between: BetweenChoice = "auto"

    def __post_init__(self) -> None:
        """Check the values."""
        for name in ("grid_mm", "cut_mm"):
            value = getattr(self, name)
            if not 1.0 <= value < float("inf"):
                raise ValueError(f"{name} must be a length of 1 mm or more, not {value:g}")
        if self.between not in ("auto", "smooth", "straight"):
            ways = "'auto', 'smooth' or 'straight'"
            raise ValueError(f"between must be {ways}, not {self.between!r}")
        left, right = self.beam_ends_mm or (0.0, 1.0)
        if not left < right:
            raise ValueError(
                f"beam_ends_mm must be the left end, then the right end (y positive to the "
                f"vehicle's right), not {left:g} and {right:g}"
            )


def zone_options_of(front: Front, options: ZoneOptions | None) -> ZoneOptions | None:
    """Return the options with the beam ends that a front file gives."""
    told = front.beside.beam_ends_mm
    given_once(options.beam_ends_mm if options else None, told, "beam_ends", front.source.file)
    return replace(options or ZoneOptions(), beam_ends_mm=told) if told else options


@one_line
@dataclass(frozen=True, eq=False)
class FrontZones:
    """All lines across one front, and the zones between them.

    Parameters
    ----------
    lines : tuple of FrontLine
        Lines across the front; `line` finds one by name.
    bumper_corners : BumperCorners
        Corners of the bumper by either procedure, UN R127.02 2.17.
    bumper_test_area : BumperArea
        Lateral extent of the bumper test area, UN R127.02 2.14.
    bumper_thirds, leading_edge_thirds : Thirds
        Thirds, UN R127.02 2.35 and 2.33.
    bonnet_thirds : FrontLine
        The lines between the thirds of the bonnet top, left and right.
    corner_reference_points, rear_corners : Pair
        Where SRL meets BLERL, and where it meets BRRL.
    child_area, adult_area : HeadformArea
        Headform test areas, UN R127.02 2.16 and 2.1.
    legform_runs : tuple of LegformRun
        Legform choice from left to right.
    grid : tuple of GridPoint
        Candidate test points on the headform areas.
    options : ZoneOptions
        What was chosen.
    surface : str
        ``mesh``, ``smooth`` or ``straight``; empty where there is no surface.
    notes : tuple of str, optional
        How wordings were read and what to mind.
    drawn : str, optional
        What is to be said of proposed points of the front.

    Examples
    --------
    >>> import frontcheck as fc
    >>> result = fc.screen(fc.read_front("geometries/plover.csv"))
    >>> result.zones.bumper_test_area.basis, len(result.zones.grid)
    ('corners', 102)
    """

    lines: tuple[FrontLine, ...]
    bumper_corners: BumperCorners  # Corners of the bumper
    bumper_test_area: BumperArea  # Lateral extent of the bumper test area
    bumper_thirds: Thirds  # Thirds of bumper and of bonnet leading edge
    leading_edge_thirds: Thirds  # Thirds of bumper and of bonnet leading edge
    bonnet_thirds: FrontLine  # The lines between the thirds of the bonnet top, left and right
    corner_reference_points: Pair  # Where SRL meets BLERL, and where it meets BRRL
    rear_corners: Pair  # Where SRL meets BLERL, and where it meets BRRL
    child_area: HeadformArea  # Headform test areas
    adult_area: HeadformArea  # Headform test areas
    legform_runs: tuple[LegformRun, ...]  # Legform choice from left to right
    grid: tuple[GridPoint, ...]  # Candidate test points on the headform areas
    options: ZoneOptions  # What was chosen
    surface: str  # ``mesh``, ``smooth`` or ``straight``; empty where there is no surface
    notes: tuple[str, ...] = ()  # How wordings were read and what to mind
    drawn: str = ""  # What is to be said of proposed points of the front

    @property
    def formed(self) -> set[str]:
        """Names of what is formed, as `frontcheck.rules.used_by` has them."""
        corners = self.bumper_corners
        areas = (self.child_area, self.adult_area)
        formed = {
            CORNERS_BY_PLANE: corners.plane.formed,
            CORNERS_BY_GAUGE: corners.gauge.formed,
            "bumper test area": self.bumper_test_area.width is not None,
            "thirds of the bumper": self.bumper_thirds.length is not None,
            "thirds of the leading edge": self.leading_edge_thirds.length is not None,
            "thirds of the bonnet top": self.bonnet_thirds.formed,
            "corner reference points": self.corner_reference_points.formed,
            "rear corners": self.rear_corners.formed,
            "findings": True,
            "limits of the text": True,
            "impact points": any(area.formed and area.impact_points for area in areas),
            **{f"{area.name} headform area": area.formed for area in areas},
        }
        return {line.name for line in self.lines if line.formed} | {
            k for k, v in formed.items() if v
        }

    def line(self, name: str) -> FrontLine:
        """Return one line across the front.

        Parameters
        ----------
        name : str
            ``UBRL``, ``LBRL``, ``BLERL``, ``BRRL``, ``SRL`` or a mark such as ``WAD 1000``.

        Returns
        -------
        FrontLine
            The line.

        Raises
        ------
        KeyError
            If there is no such line.
        """
        for line in self.lines:
            if line.name == name:
                return line
        raise KeyError(f"no line {name!r}; there are {', '.join(line.name for line in self.lines)}")
