"""What documents say of inputs, lines, zones and findings, key by key."""

from operator import attrgetter
from typing import Annotated, Any, Literal

from msgspec import UNSET, Meta, UnsetType, field

from frontcheck import __version__
from frontcheck.serializer import Entry, From

# What all documents have in common.

Xz = Annotated[list[float], Meta(min_length=2, max_length=2)]
Xyz = Annotated[list[float], Meta(min_length=3, max_length=3)]
Status = Literal[
    "ok",
    "retaken_40deg",
    "lower_end",
    "wad_1000",
    "underside_first",
    "wad_only",
    "edge_end",
    "open_end",
    "not_reached",
    "not_available",
]
Legform = Literal["lower", "either", "upper"]
VERSION = From(lambda _: __version__)
"""The version of frontcheck that wrote the document."""


class InputEntry(Entry):
    """The file a front was read from."""

    name: str
    file: Annotated[str | None, From("source.file")]
    sha256: Annotated[str | None, From("source.sha256")]
    kind: Annotated[str, From("source.kind")]


class RuleSetEntry(Entry):
    """The rule set used."""

    id: str
    title: str


# The screening document: stations.


class LineEntry(Entry):
    """A reference line in one section."""

    x_mm: float | None
    z_mm: float | None
    status: Status
    edge_angle_deg: float | None = None
    reason: str = ""


class WadEntry(Entry):
    """The first point at one wrap-around distance in one section."""

    x_mm: float | None
    z_mm: float | None
    status: Status
    bridged: bool | None
    also_at_mm: list[Xz] = field(default_factory=list)
    reason: str = ""


class FaceEntry(Entry):
    """What the face of one section looks like."""

    foremost_mm: Xz
    mean_face_angle_deg: float
    overhang_mm: float
    lower_lip_mm: Xz | None
    recess_mm: Xz | None
    upper_lip_mm: Xz | None
    recess_depth_mm: float | None
    undercut_mm: float | None
    bonnet_angle_deg: float | None
    bonnet_basis: str


class StationEntry(Entry):
    """All lines of one side section, and its face."""

    y_mm: float
    UBRL: LineEntry
    LBRL: LineEntry
    BLERL: LineEntry
    BRRL: LineEntry
    bumper_lead_mm: float | None
    ble_height_mm: float | None
    upper_bumper_height_mm: float | None
    lower_bumper_height_mm: float | None
    WAD: Annotated[
        dict[str, WadEntry], From(lambda station: {f"{w.distance:g}": w for w in station.wads})
    ]
    legform: Legform | None
    face: FaceEntry


# The screening document: lines across the front, and zones.


class PieceEntry(Entry):
    """An unbroken piece of a line: the points from, up to but without to."""

    start: int = field(name="from")
    stop: int = field(name="to")
    side: Literal["left", "right", "both"]


class FrontLineEntry(Entry):
    """One line across the front."""

    points_mm: Annotated[list[Xyz], From(lambda line: line.points.tolist())]
    point_status: list[Status]
    wad_mm: list[float | None]
    pieces: list[PieceEntry]
    status: Status
    reason: str


class PairEntry(Entry, kw_only=True):
    """The same place on the left and on the right."""

    left_mm: Annotated[Xyz | None, From("left.point")]
    left_wad_mm: Annotated[float | None, From("left.wad")] = None
    right_mm: Annotated[Xyz | None, From("right.point")]
    right_wad_mm: Annotated[float | None, From("right.wad")] = None
    status: Status
    reason: str = ""
    note: str = ""


class BumperCornersEntry(Entry):
    """Corners of the bumper by either procedure."""

    plane_60deg: Annotated[PairEntry, From("plane")]
    gauge: PairEntry
    applies: Literal["plane_60deg", "gauge"]


class BumperAreaEntry(Entry):
    """Lateral extent of the bumper test area."""

    y_min_mm: float | None
    y_max_mm: float | None
    width_mm: float | None
    basis: str
    status: Status
    reason: str


def _points(name: str) -> From:
    spots = attrgetter(name)
    return From(lambda result: [spot.point for spot in spots(result) if spot.point is not None])


class ThirdsEntry(Entry):
    """An outer contour cut in three equal lengths of tape."""

    ends_mm: Annotated[list[Xyz], _points("ends")]
    cuts_mm: Annotated[list[Xyz], _points("cuts")]
    length_mm: float | None
    status: Status
    reason: str


class BothThirdsEntry(Entry):
    """Thirds of bumper and of bonnet leading edge."""

    bumper: Annotated[ThirdsEntry, From("bumper_thirds")]
    leading_edge: Annotated[ThirdsEntry, From("leading_edge_thirds")]


def _unrolled(area: Any) -> list[list[float | None]] | None:
    if not area.outlines:
        return None
    first = area.outlines[0]
    return [[point[1], wad] for point, wad in zip(first.points, first.wad, strict=True)]


class HeadformAreaEntry(Entry, kw_only=True):
    """One headform test area; unrolled: y and wrap-around distance of every point."""

    area_m2: float | None
    outline_mm: Annotated[
        list[Xyz] | None, From(lambda area: area.outlines[0].points if area.outlines else None)
    ]
    outline_unrolled_mm: Annotated[list[list[float | None]] | None, From(_unrolled)]
    more_outlines_mm: Annotated[
        list[list[Xyz]], From(lambda area: [outline.points for outline in area.outlines[1:]])
    ] = field(default_factory=list)
    status: Status
    reason: str


class GridPointEntry(Entry):
    """A candidate test point."""

    area: Literal["child", "adult"]
    point_mm: Xyz
    wad_mm: float
    normal: Xyz


class LegformRunEntry(Entry):
    """A stretch of the bumper tested with one legform."""

    y_from_mm: float
    y_to_mm: float
    legform: Legform | None


class ZonesEntry(Entry):
    """Zones between the lines; empty when only the lines of each station were asked for."""

    bumper_corners: BumperCornersEntry | UnsetType = UNSET
    bumper_test_area: BumperAreaEntry | UnsetType = UNSET
    thirds: Annotated[BothThirdsEntry | UnsetType, From(lambda zones: zones)] = UNSET
    corner_reference_points: PairEntry | UnsetType = UNSET
    rear_corners: PairEntry | UnsetType = UNSET
    child_headform_area: Annotated[HeadformAreaEntry | UnsetType, From("child_area")] = UNSET
    adult_headform_area: Annotated[HeadformAreaEntry | UnsetType, From("adult_area")] = UNSET
    legform_along_y: Annotated[list[LegformRunEntry] | UnsetType, From("legform_runs")] = UNSET
    candidate_points: Annotated[list[GridPointEntry] | UnsetType, From("grid")] = UNSET
    loft: Annotated[str | UnsetType | None, From(lambda zones: zones.loft or None)] = UNSET
    notes: list[str] | UnsetType = UNSET


# The screening document: findings, and the whole.


class RegionEntry(Entry):
    """Where on the front a finding lies."""

    name: str
    arc_mm: Xz | None = None
    outline_mm: list[Xyz] = field(default_factory=list)


class FindingEntry(Entry):
    """One thing to look at, with everything needed to check it."""

    code: str
    region: RegionEntry
    station_mm: float | None
    value: float | None
    unit: Annotated[str, From("rule.unit")]
    threshold: Annotated[float | Xz | None, From("limit")]
    comparison: Annotated[
        Literal["<", "<=", ">", ">=", "within", "outside", "is"], From("rule.comparison")
    ]
    message: str
    source: Annotated[str, From("rule.source")]
    provenance: Annotated[str, From("rule.provenance")]
    person: str
    settled_by: str
