"""The public door for one side section: offsets in; lead, heights, lines, WAD and face out.

Three lines of Python::

    from frontcheck import profile
    nose = profile.read("geometries/plover.csv", y=0)
    nose.bumper_lead, nose.UBRL.z, nose.wad(1000).x, nose.face.undercut_mm

A screening of geometry: not a test, not an approval and not a prediction of injury.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING

import numpy as np

from frontcheck.caution import CAUTION
from frontcheck.errors import refuse
from frontcheck.front.front import Front
from frontcheck.lines.lined_front import line_up
from frontcheck.reading.readers import read_front
from frontcheck.reading.table import MM_PER_UNIT
from frontcheck.rules.ruleset import DEFAULT_RULES, RuleSet, rule_set
from frontcheck.serializer import one_line
from frontcheck.surface.section import Section

if TYPE_CHECKING:
    import os
    from collections.abc import Sequence

    from numpy.typing import ArrayLike

    from frontcheck.lines.station import Legform, LinePoint, Station, WadPoint
    from frontcheck.surface.face import FaceDescriptors


@one_line
@dataclass(frozen=True, eq=False)
class Profile:
    """One side section with its lines.

    Parameters
    ----------
    section : Section
        The contour: ``section.points`` is (n, 2) float, x rearward and z up [mm].
    station : Station
        The lines formed on it.
    rules : RuleSet
        The rule set used.
    caution : str, optional
        What a screening is not.

    Examples
    --------
    >>> from frontcheck import profile
    >>> nose = profile.read("geometries/plover.csv", y=0)
    >>> nose
    Profile(section y=0, station y=0, rules=UN-R127-02)
    """

    section: Section
    station: Station
    rules: RuleSet
    caution: str = field(default=CAUTION, repr=False)

    @property
    def bumper_lead(self) -> float | None:
        """Horizontal distance from UBRL to BLERL [mm], (EC) 631/2009 2.4; None without one."""
        return self.station.bumper_lead

    @property
    def ble_height(self) -> float | None:
        """Height of the bonnet leading edge, z of BLERL [mm], (EC) 631/2009 2.1."""
        return self.station.ble_height

    @property
    def upper_bumper_height(self) -> float | None:
        """Height of UBRL [mm], 2004/90/EC 2.5.3-4."""
        return self.station.upper_bumper_height

    @property
    def lower_bumper_height(self) -> float | None:
        """Height of LBRL [mm], 2004/90/EC 2.5.3-4."""
        return self.station.lower_bumper_height

    @property
    def UBRL(self) -> LinePoint:  # noqa: N802, the name of the text
        """Upper bumper reference line, UN R127.02 2.38: x, z [mm], status and reason."""
        return self.station.UBRL

    @property
    def LBRL(self) -> LinePoint:  # noqa: N802
        """Lower bumper reference line, UN R127.02 2.26."""
        return self.station.LBRL

    @property
    def BLERL(self) -> LinePoint:  # noqa: N802
        """Bonnet leading edge reference line, UN R127.02 2.7."""
        return self.station.BLERL

    @property
    def BRRL(self) -> LinePoint:  # noqa: N802
        """Bonnet rear reference line, UN R127.02 2.8."""
        return self.station.BRRL

    @property
    def legform(self) -> Legform | None:
        """Legform by lower bumper height, UN R127.02 5.1; None without LBRL."""
        return self.station.legform

    @property
    def face(self) -> FaceDescriptors:
        """Lean, overhang, lips and recess of the face; lengths in mm, angles in degrees."""
        return self.section.face

    def wad(self, distance: float) -> WadPoint:
        """Return the first point at a wrap-around distance, UN R127.02 2.43.

        Parameters
        ----------
        distance : float
            Any distance [mm].

        Returns
        -------
        WadPoint
            x and z [mm], status, and whether the tape arrives there through air.

        Raises
        ------
        ValueError
            If the distance is not a positive number.
        """
        for point in self.station.wads:
            if point.distance == distance:
                return point
        lined = line_up(Front((self.section,)), self.rules, (distance,))
        return lined.stations[0].wads[0]


def of(
    height: ArrayLike,
    setback: ArrayLike,
    parts: Sequence[str] | None = None,
    *,
    unit: str = "mm",
    rules: str | RuleSet = DEFAULT_RULES,
) -> Profile:
    """Form the lines of one side section from its offsets.

    Parameters
    ----------
    height, setback : array_like
        (n,) float, height above ground and setback, positive rearward [unit], from the lowest
        underside point up the face and over the bonnet to the windscreen; n >= 3. Columns of
        a table do as well.
    parts : sequence of str, optional
        (n,) part of every point, such as ``bumper`` or ``windscreen``.
    unit : {"mm", "cm", "m", "in"}, optional
        Unit of the offsets.
    rules : str or RuleSet, optional
        Rule set or its id.

    Returns
    -------
    Profile
        Lines, lead, heights, wrap-around points and face.

    Raises
    ------
    ContourError
        If the offsets are no contour.
    InputError
        If there is no such unit.
    RuleSetError
        If there is no such rule set.

    Examples
    --------
    >>> from frontcheck import profile
    >>> height = [200, 300, 450, 550, 600, 800, 850, 950]
    >>> setback = [80, 25, 0, 0, 40, 150, 400, 900]
    >>> nose = profile.of(height, setback)
    >>> nose.UBRL.z, nose.bumper_lead, round(nose.wad(1000).x, 1)
    (550.0, 150.0, 305.4)
    """
    if unit not in MM_PER_UNIT:
        raise refuse("profile.unit", unit=unit, units=MM_PER_UNIT)
    points = np.column_stack([setback, height]).astype(np.float64) * MM_PER_UNIT[unit]
    return _profile(Section(points, parts=parts), rule_set(rules))


def read(
    path: str | os.PathLike[str], y: float = 0.0, *, rules: str | RuleSet = DEFAULT_RULES
) -> Profile:
    """Form the lines of one station of a file.

    Parameters
    ----------
    path : str or os.PathLike
        Offset table, drawing or model, as `frontcheck.read_front` takes it.
    y : float, optional
        Station [mm].
    rules : str or RuleSet, optional
        Rule set or its id.

    Returns
    -------
    Profile
        Lines, lead, heights, wrap-around points and face.

    Raises
    ------
    InputError
        If the file is unusable.
    KeyError
        If nothing was measured at that station.
    RuleSetError
        If there is no such rule set.

    Examples
    --------
    >>> from frontcheck import profile
    >>> nose = profile.read("geometries/plover.csv", y=0)
    >>> nose.bumper_lead, nose.upper_bumper_height, nose.legform
    (79.5, 556.0, 'lower')
    """
    return _profile(read_front(path).section(y), rule_set(rules))


def _profile(section: Section, rules: RuleSet) -> Profile:
    return Profile(section, line_up(Front((section,)), rules).stations[0], rules)
