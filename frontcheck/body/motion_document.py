"""What stands in the motion document, key by key."""

from operator import attrgetter
from typing import Annotated, Any, Literal

from msgspec import UNSET, UnsetType

from frontcheck.documents import (
    VERSION,
    InputEntry,
    Kind,
    PlausibilityEntry,
    RuleSetEntry,
    SpreadEntry,
)
from frontcheck.front.plausible import doubts_told, plausibility
from frontcheck.serializer import Entry, From, filled

SCHEMA = "frontcheck.motion/1"
"""Name and version of the motion document."""
Separable = Literal["yes", "only if equally soft", "no"]


class FirstContactEntry(Entry):
    """What of the front and of the person meets first, in most cases."""

    part: str
    body: str
    height_mm: SpreadEntry


class PersonMotionEntry(Entry):
    """What becomes of one person; shares are of assumed cases."""

    person: str
    stature_mm: float
    mass_kg: float
    station_mm: float
    kind: Kind
    shares: dict[str, float]
    share_at_least: Annotated[float | None, From("at_least")]
    wad_mm: SpreadEntry | None
    time_ms: SpreadEntry | None
    part: str | None
    parts: dict[str, float] | None
    torso_deg: SpreadEntry | None
    past_edge_mm: SpreadEntry | None
    first_contact: FirstContactEntry | None
    edge_against_centre_of_mass: Annotated[
        Literal["below", "in the band", "above"] | None,
        From(lambda motion: motion.edge and motion.edge.against),
    ]
    reason: str


def _of(path: str) -> From:
    get = attrgetter(path)

    def value(change: Any) -> Any:
        return None if getattr(change, path.partition(".")[0]) is None else get(change)

    return From(value)


class PersonChangeEntry(Entry):
    """What becomes otherwise of one person from A to B; null where that is not known."""

    person: str
    wad_mm: Annotated[SpreadEntry | None, _of("wad.spread")]
    time_ms: Annotated[SpreadEntry | None, _of("time.spread")]
    same_sign: Annotated[float | None, _of("wad.same_sign")]
    same_sign_drawn_apart: Annotated[float | None, _of("wad.same_sign_drawn_apart")]
    separable: Separable
    time_same_sign: Annotated[float | None, _of("time.same_sign")]
    time_same_sign_drawn_apart: Annotated[float | None, _of("time.same_sign_drawn_apart")]
    time_separable: Separable
    reason: str


def _inputs(study: Any) -> dict[str, InputEntry]:
    fronts = zip("ab", study.fronts, study.names, strict=False)
    return {key: filled(InputEntry, lined.front, name=name) for key, lined, name in fronts}


class MotionDocument(Entry, tag_field="schema", tag=SCHEMA, kw_only=True):
    """What becomes of people whom one front, or two under the same assumptions, strike."""

    frontcheck: Annotated[str, VERSION]
    front: Annotated[str, From(lambda study: study.names[0])]
    front_b: Annotated[str | None, From(lambda s: s.names[1] if len(s.names) > 1 else None)]
    inputs: Annotated[dict[str, InputEntry], From(_inputs)]
    rule_set: Annotated[RuleSetEntry, From(lambda study: study.fronts[0].rules)]
    station_mm: Annotated[float, From(lambda study: study.sides[0].station.y)]
    basis: Annotated[list[Literal["measured", "cut", "interpolated"]], From("bases")]
    speed_km_h: float
    draws: int
    seed: int
    assumed: list[str]
    people: list[PersonMotionEntry]
    people_b: list[PersonMotionEntry]
    changes: list[PersonChangeEntry]
    notes: list[str]
    cautions: list[str]
    plausibility: Annotated[
        list[PlausibilityEntry] | UnsetType,
        From(lambda study: doubts_told(*(plausibility(lined.front) for lined in study.fronts))),
    ] = UNSET
