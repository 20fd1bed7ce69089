"""What stands in the comparison document, key by key."""

from collections.abc import Callable, Iterable
from typing import Annotated, Any, Literal

from msgspec import UNSET, UnsetType, field

from frontcheck.documents import (
    VERSION,
    FindingEntry,
    InputEntry,
    Legform,
    PlausibilityEntry,
    RuleSetEntry,
    Xz,
)
from frontcheck.front.plausible import doubts_told
from frontcheck.serializer import Entry, From, filled
from frontcheck.sure.tolerance_document import CorrectionsEntry

SCHEMA = "frontcheck.comparison/2"
"""Name and version of the comparison document."""


def _where(known: Callable[[Any], bool], name: str) -> From:
    """Take an attribute where something is known of it, and leave the key out elsewhere."""
    return From(lambda change: getattr(change, name) if known(change) else UNSET)


def _of_line(change: Any) -> bool:
    return bool(change.status_a or change.status_b)


def _drawn(change: Any) -> bool:
    return change.chance_less is not None


class ChangeEntry(Entry):
    """One quantity in A and in B."""

    unit: str
    a: float | None
    b: float | None
    change: float | None
    status_a: Annotated[str | UnsetType, _where(_of_line, "status_a")] = UNSET
    status_b: Annotated[str | UnsetType, _where(_of_line, "status_b")] = UNSET
    status_changed: Annotated[bool | UnsetType, _where(_of_line, "status_changed")] = UNSET
    not_comparable: Annotated[str, From("reason")] = ""
    u: Annotated[float | UnsetType | None, _where(_drawn, "u")] = UNSET
    beyond_uncertainty: Annotated[bool | UnsetType | None, _where(_drawn, "beyond")] = UNSET
    chance_b_less: Annotated[float | UnsetType, _where(_drawn, "chance_less")] = UNSET
    chance_b_more: Annotated[float | UnsetType, _where(_drawn, "chance_more")] = UNSET


def _changes(name: str) -> From:
    def of(result: Any) -> dict[str, Any]:
        return {change.quantity: change for change in getattr(result, name)}

    return From(of)


Changes = dict[str, ChangeEntry]


class TouchEntry(Entry):
    """Where a front first touches an upright leg."""

    x_mm: float
    z_mm: float
    place: str
    above_knee_mm: float


class PersonTouchEntry(Entry):
    """Where either front first touches one person's leg."""

    person: str
    knee_mm: float
    first_touch_a: Annotated[TouchEntry | None, From("a")]
    first_touch_b: Annotated[TouchEntry | None, From("b")]
    moved_on_leg: bool


def _members(side: str, *, basis: bool = False) -> From:
    def of(zone: Any) -> Any:
        members = getattr(zone, side).members
        return {m.name: m.basis for m in members} if basis else [m.name for m in members]

    return From(of)


class LegZoneEntry(Entry):
    """What both fronts show an upright leg at one station."""

    contact_order_a: Annotated[list[str], _members("a")]
    contact_order_b: Annotated[list[str], _members("b")]
    basis_a: Annotated[dict[str, str], _members("a", basis=True)]
    basis_b: Annotated[dict[str, str], _members("b", basis=True)]
    changes: Annotated[Changes, _changes("changes")]
    people: list[PersonTouchEntry]


class ExtremeEntry(Entry):
    """Where two contours are farthest apart in one direction."""

    distance_mm: Annotated[float, From("value")]
    on_a_mm: Xz
    on_b_mm: Xz


class DistanceEntry(Entry):
    """Signed distance from one point of A to B; null where it is not comparable."""

    x_mm: float
    z_mm: float
    arc_mm: float
    distance_mm: float | None


def _distances(found: Any) -> list[DistanceEntry]:
    here = found.along_a
    rows: Iterable[Any] = zip(
        here.points.tolist(), here.arc.tolist(), here.values.tolist(), here.comparable,
        here.measured, strict=True,
    )  # fmt: skip
    return [
        DistanceEntry(x, z, arc, value if known else None)
        for (x, z), arc, value, known, measured in rows
        if measured
    ]


class ContourDistanceEntry(Entry):
    """Signed distance between the contours, or why there is none."""

    status: Annotated[Literal["ok", "not_available"], From(lambda _: "ok")]
    reason: str = ""
    sign: Annotated[str, From(lambda _: "positive where B stands outside A")] = ""
    outward: ExtremeEntry | UnsetType | None = UNSET
    inward: ExtremeEntry | UnsetType | None = UNSET
    at_points_of_a: Annotated[list[DistanceEntry] | UnsetType, From(_distances)] = UNSET


def _contour(station: Any) -> ContourDistanceEntry:
    if station.contour is None:
        return ContourDistanceEntry("not_available", station.contour_reason)
    return filled(ContourDistanceEntry, station.contour)


class ChanceEntry(Entry):
    """How likely B is lower, shorter or its lip less far behind: a share of draws, no verdict."""

    b_is: str
    quantity: str
    probability: float


class StationComparisonEntry(Entry):
    """Both fronts at one station."""

    y_mm: float
    section_a: Annotated[str, From("matched.a.basis")]
    section_b: Annotated[str, From("matched.b.basis")]
    lines: Annotated[Changes, _changes("lines")]
    face: Annotated[Changes, _changes("face")]
    legform_a: Annotated[Legform | None, From("matched.a.station.legform")]
    legform_b: Annotated[Legform | None, From("matched.b.station.legform")]
    leg_zone: Annotated[LegZoneEntry, From("leg")]
    contour_distance: Annotated[ContourDistanceEntry, From(_contour)]
    chances: Annotated[
        list[ChanceEntry], From(lambda station: [ChanceEntry(*each) for each in station.chances])
    ] = field(default_factory=list)


class FindingChangeEntry(Entry):
    """One finding in A and in B."""

    code: Annotated[str, From("finding.code")]
    region: Annotated[str, From("finding.region.name")]
    kind: Literal["new", "gone", "moved", "same"]
    crossed_threshold: Annotated[bool, From("crossed")]
    change: float | None
    people_new: list[str]
    people_gone: list[str]
    beyond_uncertainty: Annotated[bool | None, From("beyond")]
    beyond_not_known: Annotated[str, From("why_not")]
    a: FindingEntry | None
    b: FindingEntry | None


class SurfaceRowEntry(Entry):
    """Both surfaces at one station."""

    y_mm: float
    foremost_x_a_mm: Annotated[list[float | None], From("a")]
    foremost_x_b_mm: Annotated[list[float | None], From("b")]
    b_outside_a_mm: Annotated[float, From("outward_mm")]
    b_inside_a_mm: Annotated[float, From("inward_mm")]


class SurfaceEntry(Entry):
    """Both surfaces laid over each other."""

    status: Annotated[
        Literal["ok", "not_available"],
        From(lambda overlay: "ok" if overlay.rows else "not_available"),
    ]
    reason: str
    heights_mm: list[float]
    rows: list[SurfaceRowEntry]


class ComparedEntry(InputEntry, kw_only=True):
    """One of the two fronts."""

    datum: str
    symmetric: bool
    stations_mm: list[float]


class ComparisonSettingsEntry(Entry):
    """What was chosen."""

    wad_mm: Annotated[list[float], From("a.wad")]
    tape_start: Annotated[str, From("a.tape_start")]
    align: Literal["none", "foremost"]
    people: list[str]
    draws: int
    seed: Annotated[int | None, From(lambda both: both.seed if both.draws else None)]
    constants_set_by_user: Annotated[list[str], From("a.rules.changed")]


def _kinds(both: Any) -> dict[str, int]:
    kinds = [finding.kind for finding in both.findings]
    return {kind: kinds.count(kind) for kind in ("new", "gone", "moved", "same")}


class ComparisonDocument(Entry, tag_field="schema", tag=SCHEMA):
    """What changes from front A to front B."""

    frontcheck: Annotated[str, VERSION]
    inputs: Annotated[
        dict[str, ComparedEntry], From(lambda both: {"a": both.a.front, "b": both.b.front})
    ]
    rule_set: Annotated[RuleSetEntry, From("a.rules")]
    settings: Annotated[ComparisonSettingsEntry, From(lambda both: both)]
    change: Annotated[str, From(lambda _: "B minus A")]
    alignment: str
    changed: bool
    stations: list[StationComparisonEntry]
    zones: Annotated[Changes, _changes("zones")]
    finding_counts: Annotated[dict[str, int], From(_kinds)]
    findings: list[FindingChangeEntry]
    surface: SurfaceEntry
    notes: list[str]
    cautions: list[str]
    corrections: dict[str, CorrectionsEntry] | UnsetType = UNSET
    plausibility: Annotated[
        list[PlausibilityEntry] | UnsetType,
        From(lambda both: doubts_told(both.a.doubts, both.b.doubts)),
    ] = UNSET
