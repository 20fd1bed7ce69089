"""What the terminal says of a measurement: intervals, shares, gaps, checks, corrections."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

from frontcheck.errors import escaped
from frontcheck.findings.catalogue import closure_findings
from frontcheck.lines.station import at_stations
from frontcheck.lines.statuses import OPEN_END, STATUS_NAMES

if TYPE_CHECKING:
    from collections.abc import Sequence
    from pathlib import Path

    from frontcheck.outputs.documents.result_files import Measurement
    from frontcheck.outputs.text.terminal import Style
    from frontcheck.sure.closure import ClosureReport
    from frontcheck.sure.corrections import Correction, CorrectionReport
    from frontcheck.sure.spacing import SpacingReport
    from frontcheck.sure.tolerance_result import MeasureAgain, Spread, StationTolerance, Tolerance

_UNCERTAINTIES: Final = (
    ("height_u_mm", "height of a row", "mm"),
    ("setback_u_mm", "setback of a row", "mm"),
    ("datum_u_mm", "datum", "mm"),
    ("square_tilt_u_deg", "square", "deg"),
    ("ground_slope_u_deg", "ground", "deg"),
    ("ride_height_u_mm", "ride height", "mm"),
    ("pitch_u_deg", "pitch", "deg"),
    ("scale_u_percent", "scale", "%"),
)
_FEWEST_ROWS: Final = 3
_LEGFORMS: Final = {"missing": "not known"}
_NOTHING_STATED: Final = (
    "Nothing to correct: the file states no tilt of the square, no ground slope and no wheel arch "
    "heights."
)
_ASSUMPTION: Final = (
    "Between two rows the surface is taken to swell no farther than the stretches before and after "
    "point; a lip narrower than the gap would not be seen."
)


def measurement_text(style: Style, measurement: Measurement, out: Path | None = None) -> str:
    """Return all that is said of a measurement."""
    tolerance = measurement.tolerance
    front = tolerance.front
    parts = [
        style.paragraph(
            f"{front.name}: {tolerance.rules.title}. {tolerance.draws:,} draws of the measurement, "
            f"seed {tolerance.seed}. {_settings(tolerance)}"
        )
    ]
    if measurement.applied:
        parts += corrections_text(style, measurement.corrections, applied=True)
    parts += intervals_text(style, tolerance)
    parts += _missing(style, tolerance)
    parts += _statuses(style, tolerance)
    parts += _legform(style, tolerance)
    parts += _thresholds(style, tolerance)
    parts.append(_again(style, tolerance.measure_again()))
    parts += _gaps(style, measurement.spacing, tolerance.tape_start)
    parts += _checks(style, measurement.closure)
    if not measurement.applied and measurement.corrections.corrections:
        parts += corrections_text(style, measurement.corrections, applied=False)
    parts += [style.paragraph(f"Input: {note}") for note in front.reader_notes]
    parts += [style.paragraph(text, loud=i == 0) for i, text in enumerate(tolerance.cautions)]
    if out is not None:
        parts.append(style.paragraph(f"Written: {escaped(out)}"))
    return style.spelt_out(parts)


def intervals_text(style: Style, tolerance: Tolerance) -> list[str]:
    """Return the tables of 95 % intervals."""
    heights = ["LBRL z", "UBRL z", "BLERL z", "lead"]
    setbacks = ["BRRL x", *(f"WAD {distance:g} x" for distance in tolerance.wad)]
    tables = [
        style.table(
            f"95 % intervals: value [low, high], {what}, mm",
            ["y", *columns],
            [
                [f"{here.y:g}", *(_interval(here, name) for name in columns)]
                for here in tolerance.stations
            ],
        )
        for what, columns in (("heights z and bumper lead", heights), ("setbacks x", setbacks))
    ]
    long: dict[str, list[float]] = {}
    for here in tolerance.stations:
        for line in here.lines:
            if line.long_contact:
                long.setdefault(f"{line.name}: {line.long_contact},", []).append(here.y)
    return [*tables, *_where(style, long, tolerance)]


def corrections_text(
    style: Style, corrections: CorrectionReport, *, applied: bool, of: str = ""
) -> list[str]:
    """Return the lines before and after each correction."""
    lead = f"{of}: " if of else ""
    if not corrections.corrections:
        return [style.paragraph(lead + _NOTHING_STATED)]
    parts = []
    for each in corrections.corrections:
        if of:  # else the input notes of the front say it
            parts.append(style.paragraph(f"{lead}{each.message}"))
        verb = "Corrected" if applied else "Not corrected; --correct would give"
        title = (
            f"{lead}{verb}: {each.name}, from before to after, mm. No point moves farther than "
            f"{each.largest_x_mm:.1f} in x and {each.largest_z_mm:.1f} in z."
        )
        parts.append(_moves(style, title, each))
    return parts


def _settings(tolerance: Tolerance) -> str:
    said = []
    sections = tolerance.front.sections
    for name, words, unit in _UNCERTAINTIES:
        value = getattr(tolerance.settings, name)
        own: set[float] = set()
        if name in ("height_u_mm", "setback_u_mm"):
            rows = [getattr(section, name.removesuffix("_mm")) for section in sections]
            own = {float(u) for row in rows if row is not None for u in row}
            if all(row is not None for row in rows):
                value = 0.0
        values = sorted({*own, value} - {0.0})
        if values:
            text = f"{values[0]:g}" + (f" to {values[-1]:g}" if len(values) > 1 else "")
            said.append(f"{words} {text} {unit}")
    return f"Standard uncertainties: {', '.join(said)}."


def _spread(here: StationTolerance, column: str) -> Spread | None:
    if column == "lead":
        return here.bumper_lead
    name, _, axis = column.rpartition(" ")
    line = here.line(name)
    return line.x if axis == "x" else line.z


def _interval(here: StationTolerance, column: str) -> str:
    spread = _spread(here, column)
    if spread is None:
        return _no_interval(here, column)
    shown = "-" if spread.nominal is None else f"{spread.nominal:.1f}"
    return f"{shown} [{spread.low:.1f}, {spread.high:.1f}]"


def _no_interval(here: StationTolerance, column: str) -> str:
    if column == "lead":
        return f"({STATUS_NAMES[OPEN_END]})" if here.no_lead_interval else "-"
    name, _, axis = column.rpartition(" ")
    line = here.line(name)
    if not line.no_interval or line.nominal is None:
        return "-"
    return f"({line.nominal['xz'.index(axis)]:.1f}, {STATUS_NAMES[OPEN_END]})"


def _share(value: float) -> str:
    """A share of the draws in percent; what is rare is not said to be nothing."""
    if 0.0 < value < 0.001:
        return "< 0.1 %"
    if 0.999 < value < 1.0:
        return "> 99.9 %"
    return f"{100.0 * value:.1f} %"


def _missing(style: Style, tolerance: Tolerance) -> list[str]:
    where: dict[str, list[float]] = {}
    for station in tolerance.stations:
        for line in station.lines:
            if line.nominal is None:
                formed = 0.0 if line.x is None else line.x.formed
                status = STATUS_NAMES[line.nominal_status]
                words = f"Missing: {line.name} ({status}; formed in {_share(formed)} of draws)"
                where.setdefault(words, []).append(station.y)
    for station in tolerance.stations:
        for line in station.lines:
            if line.no_interval:
                words = f"{line.name}: {line.no_interval},"
                where.setdefault(words, []).append(station.y)
        if station.no_lead_interval:
            where.setdefault(f"Lead, {station.no_lead_interval},", []).append(station.y)
    return _where(style, where, tolerance)


def _where(style: Style, where: dict[str, list[float]], tolerance: Tolerance) -> list[str]:
    """Say each once, with the stations of which it holds."""
    every = [station.y for station in tolerance.stations]
    return [style.paragraph(f"{words} {at_stations(ys, every)}.") for words, ys in where.items()]


def _statuses(style: Style, tolerance: Tolerance) -> list[str]:
    rows = [
        [
            line.name,
            f"{station.y:g}",
            STATUS_NAMES[line.nominal_status],
            ", ".join(f"{STATUS_NAMES[status]} {_share(share)}" for status, share in line.statuses),
        ]
        for station in tolerance.stations
        for line in station.lines
        if len(line.statuses) > 1
    ]
    if not rows:
        return [style.paragraph("Every line has the same status in every draw.")]
    rows.sort(key=lambda row: row[0])
    title = "Lines that are formed in different ways from draw to draw"
    return [style.table(title, ["line", "y", "as measured", "share of the draws"], rows)]


def _legform(style: Style, tolerance: Tolerance) -> list[str]:
    unsure = [s for s in tolerance.stations if max(share for _, share in s.legform) < 1.0]
    sure: dict[str, list[float]] = {}
    for station in tolerance.stations:
        for name, share in station.legform:
            if share == 1.0:
                sure.setdefault(name, []).append(station.y)
    said = "Legform by lower bumper height: {} in every draw"
    where = {said.format(_LEGFORMS.get(name, name)): ys for name, ys in sure.items()}
    parts = _where(style, where, tolerance)
    if unsure:
        names = [_LEGFORMS.get(name, name) for name, _ in unsure[0].legform]
        rows = [[f"{s.y:g}", *(_share(share) for _, share in s.legform)] for s in unsure]
        title = "Legform by lower bumper height, share of the draws"
        parts.append(style.table(title, ["y", *names], rows))
    return parts


def _thresholds(style: Style, tolerance: Tolerance) -> list[str]:
    rows = [
        [
            each.quantity,
            f"{each.threshold:g}",
            f"{station.y:g}",
            _share(each.below),
            _share(each.at_or_above),
            _share(each.missing),
        ]
        for station in tolerance.stations
        for each in station.thresholds
    ]
    if not rows:
        return []
    header = ["quantity", "threshold", "y", "below", "at or above", "not formed"]
    return [style.table("Thresholds, share of the draws", header, rows)]


def _again(style: Style, items: Sequence[MeasureAgain]) -> str:
    rows = [
        [_reading(item), _place(item), _quantity(item.quantity), f"{item.part_mm:.1f}"]
        for item in items
    ]
    title = "Measure again first: what moves a line most (standard deviation that goes with it, mm)"
    return style.table(title, ["reading", "where", "moves", "by"], rows)


def _reading(item: MeasureAgain) -> str:
    if item.row is None:
        return item.name
    if item.source_row is not None:
        return f"{item.name}, row {item.source_row} of the file"
    return f"{item.name}, point {item.row + 1}"


def _place(item: MeasureAgain) -> str:
    return "vehicle" if item.of_vehicle else f"y = {item.y:g}"


def _quantity(name: str) -> str:
    return name.removesuffix("_mm").replace("_", " ")


def _gaps(style: Style, spacing: SpacingReport, tape_start: str) -> list[str]:
    wide = spacing.too_wide
    open_ends = [
        style.paragraph(f"Rows in between do not settle {name} at y = {y:g}: its end is open.")
        for y, name in spacing.open_ends
    ]
    if not wide:
        limit = spacing.gaps[0].limit_mm if spacing.gaps else None
        words = "" if limit is None else f": no line could move by more than {limit:g} mm"
        said = f"The rows are close enough together{words}. {_ASSUMPTION}"
        return [style.paragraph(said), *open_ends]
    rows = [
        [
            f"{gap.station:g}",
            gap.line,
            f"{gap.z:.0f} [{gap.z_low:.0f}, {gap.z_high:.0f}]",
            f"{gap.x:.0f} [{gap.x_low:.0f}, {gap.x_high:.0f}]",
            f"{gap.move_mm:.0f}",
            _heights(gap.add),
        ]
        for gap in wide
    ]
    title = (
        f"Rows too far apart: lines that could move by more than {wide[0].limit_mm:g} mm between "
        "rows, mm"
    )
    header = ["y", "line", "height z", "setback x", "move", "add rows at heights"]
    parts = [style.table(title, header, rows), style.paragraph(_ASSUMPTION), *open_ends]
    if tape_start == "vehicle":
        parts.append(
            style.paragraph("For this, tapes are hung below the foremost point of each section.")
        )
    return parts


def _heights(add: Sequence[tuple[float, float]]) -> str:
    """Heights to add; the setback tells which of two places at one height is meant."""
    if not add:
        return "-"
    shown = [f"{height:g} (x about {setback:g})" for height, setback in add[:_FEWEST_ROWS]]
    more = len(add) - len(shown)
    return ", ".join(shown) + (f" and {more} more" if more else "")


def _checks(style: Style, closure: ClosureReport) -> list[str]:
    if not closure.closures:
        return []
    rows = [
        [
            each.check.name,
            f"{each.check.station:g}",
            f"{each.check.measured_mm:.1f} (u {each.check.u_mm:.1f})",
            "-"
            if each.computed_mm is None
            else f"{each.computed_mm:.1f} (u {each.computed_u_mm or 0.0:.1f})",
            "-" if each.normalised is None else f"{each.normalised:.1f}",
            each.verdict.replace("_", " "),
        ]
        for each in closure.closures
    ]
    header = ["check", "y", "on the car", "from the offsets", "difference / u", ""]
    title = "Checks on the car as it stood, mm; u is the standard uncertainty"
    parts = [style.table(title, header, rows)]
    parts += [
        style.paragraph(f"{each.check.name} at y = {each.check.station:g}: {each.reason}.")
        for each in closure.closures
        if each.reason
    ]
    parts += [
        style.paragraph(
            f"{finding.code}: {finding.message} Settled by {finding.settled_by}.", loud=True
        )
        for finding in closure_findings(closure)
    ]
    return parts


def _moves(style: Style, title: str, correction: Correction) -> str:
    quantities = list(dict.fromkeys(move.quantity for move in correction.moves))
    by_place = {(move.station, move.quantity): move for move in correction.moves}
    stations = list(dict.fromkeys(move.station for move in correction.moves))
    rows = []
    for y in stations:
        cells = []
        for quantity in quantities:
            move = by_place[y, quantity]
            ends = ["-" if v is None else f"{v:.1f}" for v in (move.before, move.after)]
            both = "-" if ends == ["-", "-"] else " to ".join(ends)
            cells.append(f"({both}, {STATUS_NAMES[OPEN_END]})" if move.open_end else both)
        rows.append([f"{y:g}", *cells])
    return style.table(title, ["y", *map(_quantity, quantities)], rows)
