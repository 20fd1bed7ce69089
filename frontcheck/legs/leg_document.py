"""What stands in the leg document, key by key.

JSON has no infinity: a lock is null and named beside it, and so is a balance that blew up.
"""

import math
from operator import attrgetter
from typing import Annotated, Any, Literal

from frontcheck.caution import Provenance
from frontcheck.documents import VERSION, InputEntry, RuleSetEntry, Xz
from frontcheck.serializer import Entry, From, filled

SCHEMA = "frontcheck.leg/1"
"""Name and version of the leg document."""


def _finite(path: str) -> From:
    of = attrgetter(path)
    return From(lambda result: of(result) if math.isfinite(of(result)) else None)


class PersonEntry(Entry):
    """Whose leg."""

    name: str
    knee_mm: Annotated[float | None, From("knee.value_mm")]
    hip_mm: Annotated[float | None, From("hip.value_mm")]
    source: Annotated[str, From("knee.source")]
    provenance: Annotated[Provenance, From("knee.provenance")]


class SkinEntry(Entry):
    """How the skin of a front presses back."""

    stiffness_N_per_mm2: Annotated[float, From("stiffness")]
    damping_s_per_m: Annotated[float, From("damping")]


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


class AssumptionsEntry(Entry):
    """Assumptions of the runs."""

    speed_km_h: float
    skin: SkinEntry
    parts: Annotated[dict[str, SkinEntry], From(lambda settings: dict(settings.parts))]
    knee: KneeEntry
    duration_ms: float
    step_ms: float
    rotation_limit_deg: float


class LegTouchEntry(Entry):
    """Where a front first touches an upright leg."""

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
    """Opening rate of the knee of the legform at one depth."""

    depth_mm: float
    load_height_mm: float
    rate_rad_per_s_per_N_s: float
    share_of_blow_at_knee: float
    sense: str


class HistoryEntry(Entry):
    """The run over time."""

    time_ms: list[float]
    knee_angle_deg: list[float]
    knee_shear_mm: list[float]
    tibia_acceleration_g: list[float]
    force_kN: list[float]


def _history(run: Any) -> HistoryEntry | None:
    # A run out of balance is not to be used, so nothing of it is handed on.
    return filled(HistoryEntry, run) if run.usable else None


class RunEntry(Entry):
    """The legform over time."""

    status: str
    reason: str
    usable: bool
    ended_ms: Annotated[float, From(lambda run: float(run.time[-1]))]
    peak_knee_angle_deg: float | None
    peak_knee_shear_mm: float | None
    peak_tibia_acceleration_g: float | None
    energy_error: Annotated[float | None, _finite("energy_error")]
    momentum_error: Annotated[float | None, _finite("momentum_error")]
    history: Annotated[HistoryEntry | None, From(_history)]


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


class LegAtEntry(Entry):
    """One front at one station."""

    name: str
    basis: Literal["measured", "cut", "interpolated"]
    missing: list[str]
    first_touch: Annotated[LegTouchEntry | None, From("touch")]
    contact_order: Annotated[list[MemberEntry], From("contact.members")]
    lip_behind_bumper_mm: Annotated[float | None, From("contact.undercut_mm")]
    knee_and_bumper: Annotated[KneeBandEntry | None, From("band")]
    load: Annotated[list[LoadEntry] | None, From(_load)]
    opening_rate: Annotated[list[OpeningEntry] | None, From(_response)]
    legform: Annotated[RunEntry | None, From("run")]
    parts_not_faced: Annotated[list[str], From("idle_parts")]


class ElsewhereEntry(Entry):
    """The order with all skins at a multiple of their stiffness."""

    factor: float
    less: Literal["a", "b", "alike"] | None
    reason: str


class RankingEntry(Entry):
    """The order of two runs in one quantity."""

    quantity: str
    unit: str
    peak_a: Annotated[float | None, From("a")]
    peak_b: Annotated[float | None, From("b")]
    less: Literal["a", "b", "alike"] | None
    status: Annotated[
        Literal["ranked", "not_ranked"], From(lambda r: "ranked" if r.told else "not_ranked")
    ]
    reason: str
    sentence: str
    at_other_stiffness: Annotated[
        list[ElsewhereEntry],
        From(lambda ranking: [ElsewhereEntry(*each) for each in ranking.at_other_stiffness]),
    ]
    holds: bool | None


def _by_letter(things: Any) -> dict[str, Any]:
    return dict(zip("ab", things, strict=False))


class LegStationEntry(Entry):
    """One station: one front, or two and the order of their peaks."""

    y_mm: float
    fronts: Annotated[dict[str, LegAtEntry], From(lambda station: _by_letter(station.fronts))]
    rankings: list[RankingEntry]


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
    assumptions: Annotated[AssumptionsEntry, From("settings")]
    depths_mm: list[float]
    complete: bool
    stations: list[LegStationEntry]
    notes: list[str]
    cautions: list[str]
