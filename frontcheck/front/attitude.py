"""Attitude of a front: primary reference marks bring it to its design position."""

from __future__ import annotations

import math
from dataclasses import replace
from typing import TYPE_CHECKING, Final

import numpy as np

from frontcheck.errors import ContourError, refuse
from frontcheck.front.survey import Attitude

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    from frontcheck.front.front import Front
    from frontcheck.front.survey import ReferenceMark
    from frontcheck.geometry.arrays import Array

WITHIN_MM: Final = 25.0
"""Marks this near their design height [mm] make the design position count: UN R127 02 series,
2.31 (text read). A survey is adjusted before any rule set is chosen, so it stands here."""
_APART_MM: Final = 200.0
"""Marks nearer together than this along the vehicle [mm] give no pitch: own choice, for a reading
2 mm wrong at one of them would turn the front by more than half a degree."""
_ROUNDING_MM: Final = 1e-9


def design_attitude(marks: Sequence[ReferenceMark]) -> Attitude:
    """Return the pitch and lift that bring marks nearest to their design heights."""
    # The sum of squares of z cos a - x sin a + lift - design, least over the lift at once; what
    # is left is a quadratic form in (cos a, sin a), and Newton's steps start from a = 0.
    x, z, design = (
        np.array([getattr(mark, name) for mark in marks])
        for name in ("x_mm", "measured_mm", "design_mm")
    )
    angle = 0.0
    if np.ptp(x) >= _APART_MM:
        dx, dz, dd = (values - values.mean() for values in (x, z, design))
        zz, xz, xx, zd, xd = dz @ dz, dx @ dz, dx @ dx, dz @ dd, dx @ dd
        for _ in range(50):
            c, s = math.cos(angle), math.sin(angle)
            slope = (xx - zz) * c * s - xz * (c * c - s * s) + zd * s + xd * c
            bend = (xx - zz) * (c * c - s * s) + 4.0 * xz * c * s + zd * c - xd * s
            step = float(slope / bend)
            angle -= step
            if abs(step) < 1e-16:
                break
    lift = float(np.mean(design - z * math.cos(angle) + x * math.sin(angle)))
    return Attitude("primary reference marks", math.degrees(angle), lift)


def adjusted(front: Front) -> Front:
    """Bring a front to its design position, as its marks give it; refuse marks too far off."""
    marks, file = front.survey.marks, front.source.file or None
    if not marks:
        return front
    off = [mark for mark in marks if abs(mark.deviation_mm) > WITHIN_MM + _ROUNDING_MM]
    if off:
        said = [
            f"{mark.name} at {mark.measured_mm:g} mm, {abs(mark.deviation_mm):g} mm "
            f"{'above' if mark.deviation_mm > 0.0 else 'below'} its design height of "
            f"{mark.design_mm:g} mm"
            for mark in off
        ]
        raise refuse(
            "survey.mark_off", file, off[0].source_row, column=off[0].key, marks="; ".join(said),
            most=WITHIN_MM,
        )  # fmt: skip
    attitude = design_attitude(marks)
    if attitude.pitch_deg and front.datum == "local":
        raise refuse("survey.marks_local", file, marks[0].source_row, column=marks[0].key)
    found = moved(front, "attitude by its reference marks", attitude.of)
    notes = (*front.reader_notes, marks_note(marks, attitude))
    return replace(found, attitude=attitude, reader_notes=notes)


def as_stood(front: Front) -> Front:
    """Return a front where it stood when it was measured, before its marks moved it."""
    attitude = front.attitude
    if attitude.basis != "primary reference marks":
        return front
    said = marks_note(front.survey.marks, attitude)
    notes = tuple(note for note in front.reader_notes if note != said)
    before = moved(front, "attitude by its reference marks", attitude.undone)
    return replace(before, attitude=Attitude(), reader_notes=notes)


def marks_note(marks: Sequence[ReferenceMark], attitude: Attitude) -> str:
    """Return what is said of an adjustment by marks."""
    heights = ", ".join(
        f"{mark.name} {mark.measured_mm:g} (design {mark.design_mm:g})" for mark in marks
    )
    places = np.array([(mark.x_mm, mark.measured_mm) for mark in marks])
    left = np.abs(attitude.of(places)[:, 1] - [mark.design_mm for mark in marks]).max()
    pitch = "" if np.ptp(places[:, 0]) >= _APART_MM else " They give no pitch."
    return (
        f"Primary reference marks stood within {WITHIN_MM:g} mm of their design heights [mm]: "
        f"{heights}. The design position counts (UN R127 02 series, 2.31): the front was "
        f"{attitude.words}; the marks are then at most {left:.2f} mm off.{pitch}"
    )


def moved(front: Front, name: str, motion: Callable[[Array], Array]) -> Front:
    """Return a front with every section moved alike; refuse what comes to lie below the ground."""
    sections = []
    for section in front.sections:
        try:
            sections.append(replace(section, points=motion(section.points)))
        except ContourError as problem:
            rows, index = section.rows, problem.index
            row = None if rows is None or index is None else rows[index]
            raise refuse("sure.corrected", front.source.file or None, row, y=section.y, name=name,
                         found=problem.found, expected=problem.expected) from problem  # fmt: skip
    mesh = front.mesh and front.mesh.moved(motion)
    return replace(front, sections=tuple(sections), mesh=mesh)


def not_corrected(front: Front) -> str:
    """Return the caution on known errors that are still in the offsets."""
    survey, slope, said = front.survey, front.ground_slope_deg, []
    if survey.square_tilt_deg:
        said.append(
            f"The square was inclined by {survey.square_tilt_deg:g} deg; the offsets are used as "
            "read along it."
        )
    if slope:
        said.append(
            f"The ground sloped by {slope:g} deg where the front was measured; the "
            "offsets are used as given, not levelled."
        )
    if survey.arches is not None:
        said.append(
            "The wheel arches were not at their heights in normal ride attitude; the offsets are "
            "used as measured."
        )
    if survey.marks and front.attitude.basis != "primary reference marks":
        said.append("Primary reference marks are stated; the offsets are used as measured.")
    if said:
        said.append("To take this out: --correct (in Python: frontcheck.corrected).")
    return " ".join(said)
