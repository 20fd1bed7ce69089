"""What documents say of inputs, lines, zones and findings, key by key."""

from operator import attrgetter
from typing import Annotated, Any, Literal

from msgspec import UNSET, Meta, UnsetType, field

from frontcheck import __version__
from frontcheck.caution import Provenance
from frontcheck.serializer import Entry, From, filled

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
Comparison = Literal["<", "<=", ">", ">=", "within", "outside", "is"]
Theme = Literal[
    "low_support", "bumper_height", "pushed_or_carried", "head_room", "head_area", "uncovered",
    "measurement",
]  # fmt: skip
Kind = Literal["pushed ahead", "folded over the edge", "carried up", "undecided"]
"""What becomes of a person who is struck."""
Evidence = Literal["bound", "test", "robust", "study", "practice"]
"""How strong a finding is, strongest first."""
VERSION = From(lambda _: __version__)
"""The version of frontcheck that wrote the document."""


class FileEntry(Entry):
    """One file that was read."""

    file: str
    sha256: str


class InputEntry(Entry):
    """The files a front was read from, and what their reader detected, repaired or left out."""

    name: str
    file: Annotated[str | None, From("source.file")]
    sha256: Annotated[str | None, From("source.sha256")]
    kind: Annotated[str, From("source.kind")]
    files: Annotated[
        list[FileEntry],
        From(lambda front: [front.source, *front.source.files] if front.source.file else []),
    ]
    notes: Annotated[list[str], From("reader_notes")]
    proposed_points: Annotated[int, From(lambda front: front.proposed[0])] = 0
    of_points: Annotated[int, From(lambda f: f.proposed[1] if f.not_measured else 0)] = 0
    changes: Annotated[list[str], From("changes")] = field(default_factory=list)


def everything_read(screening: Any) -> InputEntry:
    """Return the input of a screening, with the files of its settings beside that of the front."""
    entry = filled(InputEntry, screening.front)
    beside = screening.finding_settings.read_from if screening.finding_settings else ()
    entry.files += [filled(FileEntry, file) for file in beside]
    return entry


class RuleSetEntry(Entry):
    """The rule set used."""

    id: str
    title: str


class WindscreenEntry(Entry):
    """How the windscreen was told from the bonnet, and where it begins when that was given."""

    basis: Literal["labels", "shape", "given", "none"]
    from_mm: Xz | None


def _windscreen(screening: Any) -> WindscreenEntry:
    told = screening.front.windscreen
    return WindscreenEntry(told.basis, told.at)


class GapEntry(Entry):
    """How wide a gap of the surface the reader bridged."""

    widest_mm: Annotated[float, From("gap_mm")]


class AttitudeEntry(Entry):
    """How the front was brought to its attitude: turned about a pivot, nose up, then lifted."""

    basis: Literal["as measured", "wheel arches", "primary reference marks", "front file"]
    pitch_deg: float
    lift_mm: float
    pivot_mm: Xz


def _gap(screening: Any) -> Any:
    source = screening.front.source
    return None if source.gap_mm is None else source


class SettingsEntry(Entry):
    """What was chosen."""

    wad_mm: list[float]
    tape_start: Literal["section", "vehicle"]
    datum: Annotated[str, From("front.datum")]
    symmetric: Annotated[bool, From("front.symmetric")]
    constants_set_by_user: Annotated[list[str], From("rules.changed")]
    windscreen: Annotated[WindscreenEntry, From(_windscreen)]
    gap: Annotated[GapEntry | None, From(_gap)]
    attitude: Annotated[AttitudeEntry, From("front.attitude")]


Assumed = Annotated[list[str], From(lambda result: getattr(result, "assumed", ()))]
"""What a result rests on that nobody told."""


# The screening document: stations.


class LineEntry(Entry):
    """A reference line in one section."""

    x_mm: float | None
    z_mm: float | None
    status: Status
    edge_angle_deg: float | None = None
    other_mm: Xz | None = None
    reason: str = ""
    assumed: Assumed = field(default_factory=list)


def _solutions(mark: Any) -> list[tuple[float, float]]:
    return [] if mark.x is None else [(mark.x, mark.z), *mark.also_at]


class WadEntry(Entry):
    """The points at one wrap-around distance in one section: the first, and all."""

    x_mm: float | None
    z_mm: float | None
    status: Status
    bridged: bool | None
    all: Annotated[list[Xz], From(_solutions)]
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
    not_seen: list[str] = field(default_factory=list)


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
    assumed: Assumed = field(default_factory=list)


class PairEntry(Entry, kw_only=True):
    """The same place on the left and on the right."""

    left_mm: Annotated[Xyz | None, From("left.point")]
    left_wad_mm: Annotated[float | None, From("left.wad")] = None
    right_mm: Annotated[Xyz | None, From("right.point")]
    right_wad_mm: Annotated[float | None, From("right.wad")] = None
    status: Status
    reason: str = ""
    note: str = ""
    assumed: Assumed = field(default_factory=list)


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
    assumed: Assumed = field(default_factory=list)


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
    assumed: Assumed = field(default_factory=list)


class AllThirdsEntry(Entry):
    """Thirds of bumper, bonnet leading edge and bonnet top, of that the lines between them."""

    bumper: Annotated[ThirdsEntry, From("bumper_thirds")]
    leading_edge: Annotated[ThirdsEntry, From("leading_edge_thirds")]
    bonnet_top: Annotated[FrontLineEntry, From("bonnet_thirds")]


def _unrolled(area: Any) -> list[list[float | None]] | None:
    if not area.outlines:
        return None
    first = area.outlines[0]
    return [[point[1], wad] for point, wad in zip(first.points, first.wad, strict=True)]


_FIRST = From(lambda area: area.outlines[0].points if area.outlines else None)
_MORE = From(lambda area: [outline.points for outline in area.outlines[1:]])


class ImpactPointsEntry(Entry):
    """Bounds of the impact points within a headform area, by editions that tell the two apart."""

    inset_mm: float
    apart_mm: float
    area_m2: float | None
    outline_mm: Annotated[list[Xyz] | None, _FIRST]
    more_outlines_mm: Annotated[list[list[Xyz]], _MORE]
    status: Status
    reason: str


class HeadformAreaEntry(Entry, kw_only=True):
    """One headform test area; unrolled: y and wrap-around distance of every point."""

    area_m2: float | None
    outline_mm: Annotated[list[Xyz] | None, _FIRST]
    outline_unrolled_mm: Annotated[list[list[float | None]] | None, From(_unrolled)]
    more_outlines_mm: Annotated[list[list[Xyz]], _MORE] = field(default_factory=list)
    impact_points: ImpactPointsEntry | None = None
    status: Status
    reason: str
    assumed: Assumed = field(default_factory=list)


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
    thirds: Annotated[AllThirdsEntry | UnsetType, From(lambda zones: zones)] = UNSET
    corner_reference_points: PairEntry | UnsetType = UNSET
    rear_corners: PairEntry | UnsetType = UNSET
    child_headform_area: Annotated[HeadformAreaEntry | UnsetType, From("child_area")] = UNSET
    adult_headform_area: Annotated[HeadformAreaEntry | UnsetType, From("adult_area")] = UNSET
    legform_along_y: Annotated[list[LegformRunEntry] | UnsetType, From("legform_runs")] = UNSET
    candidate_points: Annotated[list[GridPointEntry] | UnsetType, From("grid")] = UNSET
    notes: list[str] | UnsetType = UNSET


# The screening document: findings, what they rest on, and the answer.


class RegionEntry(Entry):
    """Where on the front a finding lies."""

    name: str
    arc_mm: Xz | None
    outline_mm: Annotated[list[Xyz] | None, From(lambda region: region.outline_mm or None)]


class FindingEntry(Entry):
    """One thing to look at, with everything needed to check it."""

    code: str
    theme: Annotated[Theme, From("rule.theme")]
    evidence: Annotated[Evidence, From("rule.evidence")]
    region: RegionEntry
    station_mm: float | None
    person: str
    value: float | None
    unit: Annotated[str, From("rule.unit")]
    comparison: Annotated[Comparison, From("rule.comparison")]
    threshold: Annotated[float | Xz | None, From("limit")]
    margin: float | None
    message: str
    source: Annotated[str, From("rule.source")]
    provenance: Annotated[Provenance, From("rule.provenance")]
    settled_by: str


class UnconfirmedEntry(Entry):
    """A constant from memory, not confirmed, that a shown result depends on."""

    constant: str
    document: str
    used_by: list[str]


class PlausibilityEntry(Entry):
    """Something odd in what was read, and what to do about it."""

    what: str
    rows: list[int]
    do: str


class AnswerLineEntry(Entry):
    """One sentence of the answer, with the findings behind it."""

    theme: Theme
    text: Annotated[str, Meta(max_length=100)]
    evidence: Evidence
    stations_mm: Annotated[list[float], From("stations")]
    findings: list[str]
    holds_in_100: Annotated[int, Meta(ge=0, le=100)] | None


class SpreadEntry(Entry):
    """A quantity over all assumed cases."""

    median: float
    p5: float
    p95: float


class MotionEntry(Entry):
    """Where the front sends a person, as far as the draws agree; shares are of assumed cases."""

    kind: Kind
    shares: dict[str, float]
    wad_mm: SpreadEntry | None
    time_ms: SpreadEntry | None


class AnswerPersonEntry(Entry):
    """What the front meets first on one person, and what follows."""

    person: str
    first_touch: Literal["shin", "knee", "thigh", "hip or trunk", "none"]
    first_touch_mm: float | None
    second_touch: Literal["shin", "knee", "thigh", "hip or trunk", "none"]
    second_touch_mm: float | None
    second_later_mm: float | None
    free_mm: Annotated[list[Xz], From(lambda row: [list(free) for free in row.free_mm])]
    knee: Literal["below", "in", "above the face"] | None
    heights: str
    edge_against_centre_of_mass: Literal["below", "in the band", "above"] | None
    motion: MotionEntry | None


class NextEntry(Entry):
    """What to do next, and which findings that settles."""

    do: str
    settles: list[str]


class AnswerEntry(Entry):
    """The screening in a few sentences, most important first; standing holds for most fronts."""

    lines: Annotated[list[AnswerLineEntry], Meta(max_length=5)]
    people: list[AnswerPersonEntry]
    cannot_say: list[str]
    next: Annotated[list[NextEntry], Meta(max_length=3)]
    standing: str
