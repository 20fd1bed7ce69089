"""What stands in the document of a measurement: draws, spacing, closure and corrections."""

from typing import Annotated, Any, Literal

from msgspec import UNSET, UnsetType

from frontcheck.documents import (
    VERSION,
    FindingEntry,
    InputEntry,
    PlausibilityEntry,
    RuleSetEntry,
    Status,
    Xz,
)
from frontcheck.front.plausible import doubts_told, plausibility
from frontcheck.serializer import Entry, From, by_name, plain

SCHEMA = "frontcheck.tolerance/1"
"""Name and version of the document."""


class DriverEntry(Entry):
    """One error that a quantity follows."""

    error: Annotated[str, From("name")]
    row: int | None
    source_row: int | None
    variance_share: Annotated[float, From(lambda driver: round(driver.share, 6))]
    part_mm: Annotated[float, From(lambda driver: round(driver.part_mm, 6))]


class SpreadEntry(Entry):
    """How far one number may be off."""

    nominal_mm: float | None
    median_mm: float
    low_mm: float
    high_mm: float
    sd_mm: float
    formed_share: float
    drivers: list[DriverEntry]


class ContactEntry(Entry):
    """How often a line lies at one row."""

    row: int
    source_row: int | None
    height_mm: float
    setback_mm: float
    contact_share: Annotated[float, From("share")]


class ThresholdEntry(Entry):
    """On which side of a threshold a quantity falls."""

    quantity: str
    threshold_mm: float
    below_share: float
    at_or_above_share: float
    missing_share: float


class LineToleranceEntry(Entry):
    """One line at one station."""

    nominal_status: Status
    status_shares: Annotated[dict[str, float], From(lambda line: dict(line.statuses))]
    nominal_mm: Annotated[Xz | None, From("nominal")]
    x: SpreadEntry | None
    z: SpreadEntry | None
    contacts: list[ContactEntry]
    no_interval: str = ""
    long_contact: str = ""


class StationToleranceEntry(Entry):
    """All lines of one station."""

    y_mm: float
    lines: Annotated[dict[str, LineToleranceEntry], From(lambda s: by_name(s.lines))]
    bumper_lead: SpreadEntry | None
    legform_shares: Annotated[dict[str, float], From(lambda s: dict(s.legform))]
    thresholds: list[ThresholdEntry]
    crossed_share: float
    no_lead_interval: str = ""


class MeasureAgainEntry(Entry):
    """A row, or a step of the measurement, that the results hang on."""

    y_mm: float
    error: Annotated[str, From("name")]
    row: int | None
    source_row: int | None
    quantity: str
    part_mm: Annotated[float, From(lambda item: round(item.part_mm, 6))]


def _stated(name: str) -> From:
    return From(lambda tolerance: getattr(tolerance.settings, name) or UNSET)


class ToleranceSettingsEntry(Entry, kw_only=True):
    """Uncertainties of what the rows do not state themselves, and what was chosen."""

    height_u_mm: Annotated[float, From("settings.height_u_mm")]
    setback_u_mm: Annotated[float, From("settings.setback_u_mm")]
    datum_u_mm: Annotated[float, From("settings.datum_u_mm")]
    square_tilt_u_deg: Annotated[float, From("settings.square_tilt_u_deg")]
    ground_slope_u_deg: Annotated[float, From("settings.ground_slope_u_deg")]
    ride_height_u_mm: Annotated[float, From("settings.ride_height_u_mm")]
    pitch_u_deg: Annotated[float, From("settings.pitch_u_deg")]
    pitch_pivot_mm: Annotated[float, From("settings.pitch_pivot_mm")]
    error_length_mm: Annotated[float | UnsetType, _stated("error_length_mm")] = UNSET
    scale_u_percent: Annotated[float | UnsetType, _stated("scale_u_percent")] = UNSET
    wad_mm: list[float]
    tape_start: str
    draws: int
    seed: int
    constants_set_by_user: Annotated[list[str], From("rules.changed")]


class GapEntry(Entry):
    """How far one line could move between the rows of one station."""

    y_mm: Annotated[float, From("station")]
    line: str
    x_mm: float
    z_mm: float
    x_low_mm: float
    x_high_mm: float
    z_low_mm: float
    z_high_mm: float
    move_mm: float
    limit_mm: float
    close_enough: bool
    add_heights_mm: Annotated[list[float], From(lambda gap: [height for height, _ in gap.add])]


def _lines_at(name: str) -> From:
    return From(lambda report: [{"y_mm": y, "line": line} for y, line in getattr(report, name)])


class SpacingEntry(Entry):
    """Whether the rows lie close enough together."""

    gaps: list[GapEntry]
    not_formed: Annotated[list[dict[str, float | str]], _lines_at("not_formed")]
    open_ends: Annotated[list[dict[str, float | str]], _lines_at("open_ends")]


class CheckEntry(Entry):
    """One check compared with the offsets."""

    check: Annotated[str, From("check.name")]
    y_mm: Annotated[float, From("check.station")]
    measured_mm: Annotated[float, From("check.measured_mm")]
    measured_u_mm: Annotated[float, From("check.u_mm")]
    computed_mm: float | None
    computed_u_mm: float | None
    combined_u_mm: float | None
    normalised_difference: Annotated[float | None, From("normalised")]
    verdict: Literal["agree", "disagree", "not_available"]
    reason: str = ""


class ClosureEntry(Entry):
    """What was measured a second way, against what the offsets give."""

    checks: Annotated[list[CheckEntry], From("closures")]
    agree: bool
    findings: list[FindingEntry] | UnsetType = UNSET


class CorrectionEntry(Entry):
    """One correction and what it did."""

    name: str
    message: str
    largest_x_mm: float
    largest_z_mm: float


class LineMoveEntry(Entry):
    """One number before and after a correction."""

    correction: str
    y_mm: float
    quantity: str
    before_mm: float | None
    after_mm: float | None
    move_mm: float | None


class CorrectionsEntry(Entry, kw_only=True):
    """Known errors, with the lines before and after; applied: whether they are taken out."""

    applied: bool | UnsetType = UNSET
    corrections: list[CorrectionEntry]
    lines: Annotated[
        list[LineMoveEntry],
        From(lambda report: [LineMoveEntry(**record) for record in report.records()]),
    ]


class ToleranceDocument(Entry, tag_field="schema", tag=SCHEMA, kw_only=True):
    """How far the lines may be off; in a screening document without what is said there above."""

    frontcheck: Annotated[str | UnsetType, VERSION] = UNSET
    input: Annotated[InputEntry | UnsetType, From("front")] = UNSET
    rule_set: Annotated[RuleSetEntry | UnsetType, From("rules")] = UNSET
    settings: Annotated[ToleranceSettingsEntry, From(lambda tolerance: tolerance)]
    stations: list[StationToleranceEntry]
    measure_again: Annotated[list[MeasureAgainEntry], From(lambda t: t.measure_again())]
    spacing: SpacingEntry | UnsetType = UNSET
    closure: ClosureEntry | UnsetType = UNSET
    corrections: CorrectionsEntry | UnsetType = UNSET
    cautions: list[str]
    plausibility: Annotated[
        list[PlausibilityEntry] | UnsetType,
        From(lambda tolerance: doubts_told(plausibility(tolerance.front))),
    ] = UNSET


def within_screening(tolerance: object) -> dict[str, Any]:
    """Return the document of draws as it stands in a screening document, which says the rest."""
    above = ("frontcheck", "input", "rule_set", "plausibility")
    return plain(ToleranceDocument, tolerance, **dict.fromkeys(above, UNSET))
