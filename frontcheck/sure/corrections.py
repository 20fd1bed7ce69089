"""Known errors taken out of a measurement: sloping ground, a leaning square, ride attitude.

In this order, each on the result of the one before:

1. square: the marks of a leaning upright are not heights, and its readings fall short;
2. ground: plumb readings on sloping ground are turned about the foot of the datum;
3. attitude: the body is turned and shifted as a whole until its wheel arches stand at
   their heights in normal ride attitude, the wheels staying where they are; or until its
   primary reference marks stand at their design heights, as on reading.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any

import numpy as np

from frontcheck.front.attitude import adjusted, as_stood, marks_note, moved
from frontcheck.front.survey import Attitude, slope_note, turned, untilted
from frontcheck.lines.lined_front import line_up
from frontcheck.rules.ruleset import DEFAULT_RULES, RuleSet
from frontcheck.serializer import one_line, plain, table
from frontcheck.sure.tolerance_document import CorrectionsEntry, LineMoveEntry

if TYPE_CHECKING:
    import pandas as pd

    from frontcheck.front.front import Front
    from frontcheck.front.survey import ArchHeights
    from frontcheck.lines.station import Station


@one_line
@dataclass(frozen=True)
class LineMove:
    """One number before and after a correction."""

    station: float  # Station [mm]
    quantity: str  # Name with unit
    before: float | None  # The number before it [mm]; None where the line is not formed
    after: float | None  # The number after it [mm]; likewise
    open_end: bool = False  # Whether what lies beyond the measured surface could change either

    @property
    def move(self) -> float | None:
        """How far it moved [mm]; None where one is missing or not known."""
        if self.before is None or self.after is None or self.open_end:
            return None
        return self.after - self.before


@one_line
@dataclass(frozen=True)
class Correction:
    """One correction and what it did."""

    name: str  # Such as ``square tilt``
    message: str  # What was done, in one sentence with its numbers
    largest_x_mm: float  # Largest move of any measured point in x, either way [mm]
    largest_z_mm: float  # The same in z [mm]
    moves: tuple[LineMove, ...]  # Lines before and after, at every station


@one_line
@dataclass(frozen=True)
class CorrectionReport:
    """All corrections made to a front, in order.

    Parameters
    ----------
    corrections : tuple of Correction
        Empty when there was nothing to correct.

    Examples
    --------
    >>> import frontcheck as fc
    >>> survey = fc.read_front("geometries/plover-survey.csv")
    >>> front, report = fc.corrected(survey)
    >>> [correction.name for correction in report.corrections]
    ['square tilt', 'ground slope', 'ride attitude']
    """

    corrections: tuple[Correction, ...]  # Empty when there was nothing to correct

    def records(self) -> list[dict[str, Any]]:
        """Return one mapping per correction, station and quantity.

        Returns
        -------
        list of dict
            The same keys everywhere; lengths in mm, None where a line is not formed.
        """
        return [
            {
                "correction": correction.name,
                "y_mm": move.station,
                "quantity": move.quantity,
                "before_mm": move.before,
                "after_mm": move.after,
                "move_mm": move.move,
            }
            for correction in self.corrections
            for move in correction.moves
        ]

    def to_frame(self) -> pd.DataFrame:
        """Return the table of lines before and after.

        Returns
        -------
        pandas.DataFrame
            Lengths in mm; missing numbers are NA.
        """
        return table(self.records(), LineMoveEntry.__struct_fields__)

    def to_dict(self) -> dict[str, Any]:
        """Return the entry of the document as plain values.

        Returns
        -------
        dict
            Ready for JSON.
        """
        return plain(CorrectionsEntry, self)


def arch_motion(arches: ArchHeights) -> tuple[float, tuple[float, float], float]:
    """Return the motion of the body that brings its arches to their normal heights."""
    # The line between the two arch edges, above the wheel centres, turns from one pair of heights
    # to the other; its length stays, and its front end rises straight up.
    drop_before = arches.front_measured_mm - arches.rear_measured_mm
    drop_after = arches.front_normal_mm - arches.rear_normal_mm
    length = math.hypot(arches.wheelbase_mm, drop_before)
    angle = math.asin(drop_after / length) - math.asin(drop_before / length)
    pivot = (arches.front_axle_mm, arches.front_measured_mm)
    return math.degrees(angle), pivot, arches.front_normal_mm - arches.front_measured_mm


def corrected(front: Front, rules: str | RuleSet = DEFAULT_RULES) -> tuple[Front, CorrectionReport]:
    """Take the known errors out of a front.

    Parameters
    ----------
    front : Front
        The front as measured; its ground slope and its survey say what is known.
    rules : str or RuleSet, optional
        Rule set for the lines that are shown before and after.

    Returns
    -------
    Front
        The corrected front, with slope, tilt and arch heights taken out of what remains to
        be corrected, and again in the design position where marks give it; the same front when
        there is nothing to correct.
    CorrectionReport
        Each correction, with the lines before and after it.

    Raises
    ------
    InputError
        If a corrected point lies below the ground: then a sign or a value is wrong.
    RuleSetError
        If there is no such rule set.

    Examples
    --------
    >>> import frontcheck as fc
    >>> survey = fc.read_front("geometries/plover-survey.csv")
    >>> front, report = fc.corrected(survey)
    >>> [correction.name for correction in report.corrections][:2]
    ['square tilt', 'ground slope']
    """
    read, front = front, as_stood(front)
    survey, marks = front.survey, front.survey.marks
    made: list[Correction] = []
    if survey.square_tilt_deg:
        tilt = survey.square_tilt_deg
        message = (
            f"The square was inclined {'rearward' if tilt > 0.0 else 'forward'} by {abs(tilt):g} "
            "deg: setbacks and heights were taken along it and are now from a plumb datum."
        )
        after = moved(front, "square tilt", lambda points: untilted(points, tilt))
        after = replace(after, survey=replace(survey, square_tilt_deg=0.0))
        made.append(_correction("square tilt", message, front, after, rules))
        front = after
    slope = front.ground_slope_deg
    if slope:
        message = (
            f"The ground {'rose' if slope > 0.0 else 'fell'} rearward by {abs(slope):g} deg: the "
            "offsets, read plumb and level, were turned about the foot of the datum."
        )
        after = replace(
            moved(front, "ground slope", lambda points: turned(points, slope)),
            ground_slope_deg=0.0,
        )
        made.append(_correction("ground slope", message, front, after, rules))
        front = after
    arches = front.survey.arches
    if arches is not None:
        angle, pivot, lift = arch_motion(arches)
        attitude = Attitude("wheel arches", angle, lift, pivot)
        message = (
            f"The front arch stood at {arches.front_measured_mm:g} mm, the rear at "
            f"{arches.rear_measured_mm:g} mm; in normal ride attitude they stand at "
            f"{arches.front_normal_mm:g} and {arches.rear_normal_mm:g} mm. The body was "
            f"{'lifted' if lift >= 0.0 else 'lowered'} by {abs(lift):g} mm at the front axle and "
            f"turned by {abs(angle):.4f} deg, front {'up' if angle >= 0.0 else 'down'}."
        )
        after = replace(
            moved(front, "ride attitude", attitude.of),
            survey=replace(front.survey, arches=None),
            attitude=attitude,
        )
        made.append(_correction("ride attitude", message, front, after, rules))
        front = after
    if not made and read is not front:
        # Its marks moved it on reading, and there is nothing else to take out.
        return read, CorrectionReport(())
    if marks:
        after = adjusted(front)
        message = marks_note(marks, after.attitude)
        made.append(_correction("design position", message, front, after, rules))
        front = after
    if made:
        said = tuple(each.message for each in made)
        kept = [note for note in front.reader_notes if note not in (slope_note(slope), *said)]
        front = replace(front, reader_notes=(*kept, *said))
    return front, CorrectionReport(tuple(made))


def _correction(
    name: str, message: str, before: Front, after: Front, rules: str | RuleSet
) -> Correction:
    largest = np.max(
        [
            np.abs(new.points - old.points).max(axis=0)
            for old, new in zip(before.sections, after.sections, strict=True)
        ],
        axis=0,
    )
    lines_before, lines_after = line_up(before, rules), line_up(after, rules)
    moves = [
        LineMove(old.y, quantity, old_value, new_value, was_open or is_open)
        for old, new in zip(lines_before.stations, lines_after.stations, strict=True)
        for (quantity, old_value, was_open), (_, new_value, is_open) in zip(
            _lines(old), _lines(new), strict=True
        )
    ]
    return Correction(name, message, float(largest[0]), float(largest[1]), tuple(moves))


def _lines(station: Station) -> list[tuple[str, float | None, bool]]:
    """Numbers of a station, and whether an open end could change each."""
    ended = station.open_ends
    heights = [(f"{line.name}_z_mm", line.z, line.name in ended) for line in station.lines]
    marks = [(f"WAD_{p.distance:g}_x_mm", p.x, p.name in ended) for p in station.wads]
    return [*heights, ("bumper_lead_mm", station.bumper_lead, station.lead_open_end), *marks]
