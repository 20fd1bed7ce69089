"""What stands in the leg document, key by key.

JSON has no infinity: a lock is null and named beside it, and so is a balance that blew up. Of two
fronts stand ratios only: no absolute value of the model means anything alone.
"""

import math
from operator import attrgetter
from typing import Annotated, Any, Literal

from msgspec import UNSET, UnsetType

from frontcheck.caution import Provenance
from frontcheck.documents import VERSION, InputEntry, PlausibilityEntry, RuleSetEntry, Xz
from frontcheck.front.plausible import doubts_told, plausibility
from frontcheck.legs.leg_order import FACTOR
from frontcheck.serializer import Entry, From, filled

SCHEMA = "frontcheck.leg/2"
"""Name and version of the leg document."""


def _finite(path: str) -> From:
    of = attrgetter(path)
    return From(lambda result: of(result) if math.isfinite(of(result)) else None)


class PersonEntry(Entry):
    """Whose leg."""

    name: str
    heights: Annotated[str, From("words")]
    knee_mm: Annotated[float | None, From("knee.value_mm")]
    hip_mm: Annotated[float | None, From("hip.value_mm")]
    shoe_mm: float
    source: Annotated[str, From("knee.source")]
    provenance: Annotated[Provenance, From("knee.provenance")]


def _locked(knee: Any) -> list[str]:
    stiffness = {"bending": knee.bending_stiffness, "shear": knee.shear_stiffness}
    return [name for name, value in stiffness.items() if math.isinf(value)]


class KneeEntry(Entry):
    """How the knee of the legform resists."""

    bending_stiffness_N_m_per_rad: Annotated[float | None, _finite("bending_stiffness")]
    bending_damping_N_m_s_per_rad: Annotated[float, From("bending_damping")]
    shear_stiffness_N_per_mm: Annotated[float | None, _finite("shear_stiffness")]
    shear_damping_N_s_per_mm: Annotated[float, From("shear_damping")]
    locked: Annotated[list[str], From(_locked)]


class LegformEntry(Entry):
    """Which lower legform flies, by the rule set."""

    name: str
    knee_height_mm: float
    foot_height_mm: Annotated[float, From("ground_clearance_mm")]
    source: str
    provenance: Provenance


class AssumptionsEntry(Entry):
    """Assumptions of the runs, and of the draws when two fronts are compared."""

    speed_km_h: Annotated[float, From("settings.speed_km_h")]
    stiffness_N_per_mm2: Annotated[float, From("settings.stiffness")]
    parts_N_per_mm2: Annotated[dict[str, float], From(lambda study: dict(study.settings.parts))]
    rebound: Annotated[float, From("settings.rebound")]
    knee: Annotated[KneeEntry, From(lambda study: study.settings.knee or study.legform.knee)]
    duration_ms: Annotated[float, From("settings.duration_ms")]
    step_ms: Annotated[float, From("settings.step_ms")]
    rotation_limit_deg: Annotated[float, From("settings.rotation_limit_deg")]
    draws: int
    seed: int
    factor: Annotated[float, From(lambda _: FACTOR)]


class LegTouchEntry(Entry):
    """Where a front touches a person who stands upright."""

    x_mm: float
    z_mm: float
    place: str
    above_knee_mm: float


class MemberEntry(Entry):
    """Lower lip, bumper or leading edge, as an upright leg meets it."""

    name: str
    x_mm: float
    z_mm: float
    closing_mm: float
    basis: str


class KneeBandEntry(Entry):
    """One knee against the band from LBRL to UBRL."""

    knee_mm: float
    LBRL_z_mm: Annotated[float, From("low")]
    UBRL_z_mm: Annotated[float, From("high")]
    place: Literal["below", "inside", "above"]


class LoadEntry(Entry):
    """Load of a person's leg at one depth."""

    depth_mm: float
    height_mm: float
    share_below_knee: float
    share_across_knee: float
    share_above_knee: float
    bands_mm: list[Xz]


class OpeningEntry(Entry):
    """Opening rate of the knee of the lower legform at one depth, as if no bone bent."""

    depth_mm: float
    load_height_mm: float
    rate_rad_per_s_per_N_s: float
    share_of_blow_at_knee: float
    sense: str


class RunEntry(Entry):
    """The lower legform over time, with all parts as stiff as assumed."""

    status: str
    reason: str
    ended_ms: Annotated[float, From(lambda run: float(run.time[-1]))]
    knee: Annotated[Literal["opens", "closes"], From(lambda r: "opens" if r.opens else "closes")]
    opening_reached: bool
    tibia_bending_height_mm: float | None
    energy_error: Annotated[float | None, _finite("energy_error")]


class UpperEntry(Entry):
    """The upper legform: geometry only."""

    aim_mm: float
    low_mm: float
    high_mm: float
    bumper_overlap_mm: float
    edge_overlap_mm: float | None
    edge_below_top_mm: float | None
    load_height_mm: list[float]


def _load(at: Any) -> list[LoadEntry] | None:
    load = at.load
    if load is None:
        return None
    columns = [
        each.tolist() for each in (load.depth, load.height, load.below, load.across, load.above)
    ]
    return [
        LoadEntry(depth, height, below, across, above, [list(band) for band in bands])
        for depth, height, below, across, above, bands in zip(*columns, load.bands, strict=True)
    ]


def _response(at: Any) -> list[OpeningEntry] | None:
    found = at.response
    if found is None:
        return None
    rows = zip(found.depth.tolist(), found.height.tolist(), found.rate.tolist(), strict=True)
    return [
        OpeningEntry(depth, height, rate, rate / found.blow_at_knee, found.sense(i))
        for i, (depth, height, rate) in enumerate(rows)
    ]


def _met(path: str) -> From:
    return From(lambda at: None if at.met is None else attrgetter(path)(at.met))


def _free(at: Any) -> list[Xz] | None:
    return None if at.met is None else [list(free) for free in at.met.free_mm]


class PersonAtEntry(Entry):
    """How the front meets the person, from the contour: nothing of a legform."""

    first_touch: Annotated[LegTouchEntry | None, _met("first")]
    second_touch: Annotated[LegTouchEntry | None, _met("second")]
    second_later_mm: Annotated[float | None, _met("later_mm")]
    free_mm: Annotated[list[Xz] | None, From(_free)]
    free_within_mm: Annotated[float | None, _met("reach_mm")]
    knee_and_bumper: Annotated[KneeBandEntry | None, From("band")]
    load: Annotated[list[LoadEntry] | None, From(_load)]


class LegformAtEntry(Entry):
    """What the front does to the legform of the rule set: nothing of a person."""

    test: Annotated[Literal["lower", "either", "upper"] | None, From("station.legform")]
    choice: str
    opening_rate: Annotated[list[OpeningEntry] | None, From(_response)]
    lower: Annotated[RunEntry | None, From("run")]
    lower_refused: Annotated[str, From("lower_refusal")]
    upper: Annotated[UpperEntry | None, From("upper")]
    parts_not_faced: Annotated[list[str], From("idle_parts")]


class LegAtEntry(Entry):
    """One front at one station; person and legform apart."""

    name: str
    basis: Literal["measured", "cut", "interpolated"]
    missing: list[str]
    contact_order: Annotated[list[MemberEntry], From("contact.members")]
    lip_behind_bumper_mm: Annotated[float | None, From("contact.undercut_mm")]
    person: Annotated[PersonAtEntry, From(lambda at: at)]
    legform: Annotated[LegformAtEntry, From(lambda at: at)]


class RatioEntry(Entry):
    """How much B has for each of A, over the draws."""

    low: float
    middle: float
    high: float


def _ratio(path: str) -> From:
    of = attrgetter(path)
    return From(lambda order: None if of(order) is None else RatioEntry(*of(order)))


class DecidesEntry(Entry):
    """How much of the comparison goes with the stiffness of one part."""

    part: str
    first_order_share: float


class OrderEntry(Entry):
    """Which of two fronts opens the knee of the lower legform less."""

    status: Literal["ranks", "depends", "alike", "few_draws"]
    less: Literal["a", "b"] | None
    draws: int
    a_less: int
    b_less: int
    same_share: Annotated[float, From("share")]
    least_share: Annotated[float, From("least")]
    decides: Annotated[
        list[DecidesEntry], From(lambda order: [DecidesEntry(*each) for each in order.decides])
    ]
    knee_opening_b_over_a: Annotated[RatioEntry | None, _ratio("ratio")]
    knee_shear_b_over_a: Annotated[RatioEntry | None, _ratio("shear")]
    tibia_bending_b_over_a: Annotated[RatioEntry | None, _ratio("bending")]
    sentence: str


def _by_letter(things: Any) -> dict[str, Any]:
    return dict(zip("ab", things, strict=False))


class LegStationEntry(Entry):
    """One station: one front, or two and the order of their legforms."""

    y_mm: float
    fronts: Annotated[dict[str, LegAtEntry], From(lambda station: _by_letter(station.fronts))]
    order: OrderEntry | None
    no_order: str


def _inputs(study: Any) -> dict[str, InputEntry]:
    fronts = zip(study.fronts, study.names, strict=True)
    return _by_letter([filled(InputEntry, lined.front, name=name) for lined, name in fronts])


class LegDocument(Entry, tag_field="schema", tag=SCHEMA):
    """What one front, or two under the same assumptions, do to an upright leg."""

    frontcheck: Annotated[str, VERSION]
    caution: Annotated[str, From(lambda study: study.cautions[0])]
    inputs: Annotated[dict[str, InputEntry], From(_inputs)]
    rule_set: Annotated[RuleSetEntry, From(lambda study: study.fronts[0].rules)]
    person: PersonEntry
    legform: LegformEntry
    assumptions: Annotated[AssumptionsEntry, From(lambda study: study)]
    depths_mm: list[float]
    complete: bool
    stations: list[LegStationEntry]
    notes: list[str]
    cautions: list[str]
    plausibility: Annotated[
        list[PlausibilityEntry] | UnsetType,
        From(lambda study: doubts_told(*(plausibility(lined.front) for lined in study.fronts))),
    ] = UNSET
