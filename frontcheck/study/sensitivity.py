"""Which feature moves which line: mm of line for 10 mm or 1 deg of a feature, at one station."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

import numpy as np

from frontcheck.errors import InputError, refuse
from frontcheck.lines.bumper_lines import tape_anchor
from frontcheck.lines.line_values import OK, OPEN_END
from frontcheck.lines.lined_front import glazed
from frontcheck.lines.section_lines import section_lines
from frontcheck.rules.ruleset import DEFAULT_RULES, RuleSet, rule_set
from frontcheck.serializer import one_line
from frontcheck.study.moves import BLEND_MM, HANDLES, Handle, morph_field
from frontcheck.surface.contours import Contours

if TYPE_CHECKING:
    from collections.abc import Iterable

    from frontcheck.front.front import Front
    from frontcheck.geometry.arrays import Array
    from frontcheck.lines.lined_front import TapeStart
    from frontcheck.lines.section_lines import LineBatch
    from frontcheck.surface.section import Section

_STEP: Final = 0.1
"""A feature is moved this share of its unit either way: own choice, 1 mm of 10 and 0.1 deg of 1."""
_JUMP, _KINK = 10.0, 0.1
"""Own choice: a line that goes more than ten times as far as the skin jumps, as a contact does that
goes over to another bend; a tenth of its travel apart, two ways are told apart."""
UNITS: Final = {"mm": 10.0, "deg": 1.0}
"""For how much of a feature a rate is given, by unit."""


@one_line
@dataclass(frozen=True)
class Rate:
    """How far one line goes for 10 mm or 1 deg of one feature."""

    handle: Handle  # The feature, and the way in which it goes
    line: str  # Which coordinate of which line, such as ``UBRL_z_mm``
    mm: float | None  # How far that goes for 10 mm or 1 deg; None where there is no such number
    reason: str = ""  # Why there is none


@one_line
@dataclass(frozen=True)
class Sensitivity:
    """Which feature moves which line at one station, near the shape as it is.

    Parameters
    ----------
    station : float
        Station [mm].
    rates : tuple of Rate
        One for every handle and line, handle by handle.

    Examples
    --------
    >>> import frontcheck as fc
    >>> table = fc.sensitivity(fc.read_front("geometries/plover.csv"))
    >>> round(table.rate("ride_height_up_mm", "UBRL_z_mm").mm, 6)
    10.0
    """

    station: float
    rates: tuple[Rate, ...]

    @property
    def lines(self) -> tuple[str, ...]:
        """Which lines there are."""
        return tuple(dict.fromkeys(rate.line for rate in self.rates))

    @property
    def absent(self) -> dict[Handle, str]:
        """Which handles cannot be moved at all, and why: for one reason no line has a rate."""
        reasons: dict[Handle, set[str]] = {}
        for rate in self.rates:
            reasons.setdefault(rate.handle, set()).add(rate.reason)
        return {handle: why.pop() for handle, why in reasons.items() if len(why) == 1 and any(why)}

    @property
    def there(self) -> tuple[Handle, ...]:
        """The handles of all others."""
        absent = self.absent
        handles = dict.fromkeys(rate.handle for rate in self.rates)
        return tuple(handle for handle in handles if handle not in absent)

    def rate(self, handle: str, line: str) -> Rate:
        """Return one rate.

        Parameters
        ----------
        handle : str
            Name of a handle, such as ``lower_lip_back_mm``.
        line : str
            Name of a line, such as ``UBRL_z_mm``.

        Returns
        -------
        Rate
            The rate.

        Raises
        ------
        KeyError
            If there is no such handle or line.
        """
        for rate in self.rates:
            if (rate.handle.name, rate.line) == (handle, line):
                return rate
        raise KeyError(f"no {line!r} by {handle!r}")


def sensitivity(
    front: Front,
    rules: str | RuleSet = DEFAULT_RULES,
    station: float = 0.0,
    wad: Iterable[float] | None = None,
    blend: float = BLEND_MM,
    *,
    tape_start: TapeStart = "section",
) -> Sensitivity:
    """Say how far each line goes for 10 mm or 1 deg of each feature, at the present shape.

    Every feature is moved a little both ways and the lines of that section are formed anew,
    exactly; the rate is that from one to the other. Where both ways differ, or the line jumps,
    there is no one rate and that is said. The bonnet rear line is left out: one section has none.

    Parameters
    ----------
    front : Front
        The front.
    rules : str or RuleSet, optional
        Rule set or its id.
    station : float, optional
        One of its stations [mm].
    wad : iterable of float, optional
        Wrap-around distances [mm]; else those of the rule set.
    blend : float, optional
        Length along the contour over which a lip or edge fades to nothing [mm].
    tape_start : str, optional
        ``section`` or ``vehicle``, as for `screen`; every feature is moved at all stations alike.

    Returns
    -------
    Sensitivity
        The table.

    Raises
    ------
    InputError
        If there is no such station.

    Examples
    --------
    >>> import frontcheck as fc
    >>> table = fc.sensitivity(fc.read_front("geometries/avocet.csv"))
    >>> table.rate("lower_lip_back_mm", "LBRL_z_mm").reason
    'no recess to be seen, so no lower lip'
    """
    rules = rule_set(rules)
    front = glazed(front, rules)
    if station not in front.stations:
        raise refuse("moves.station", y=station, known=[f"{y:g}" for y in front.stations])
    whole = tape_start == "vehicle"
    distances = None if wad is None else tuple(wad)
    if whole and front.datum == "local":
        distances = ()  # no tape for all of them without a plan
    rates: list[Rate] = []
    for handle in HANDLES:
        copies, travel, missing = _moved(front.section(station), handle, blend)
        contours = Contours.copies(front.section(station), copies)
        tape_x = _foremost(front, handle, rules, blend) if whole else None
        batch = section_lines(contours, rules, distances, tape_x=tape_x)
        rates += _rates(batch, handle, travel, missing)
    return Sensitivity(station, tuple(rates))


def _moved(section: Section, handle: Handle, blend: float) -> tuple[Array, float, str]:
    """A section as it is and moved either way, how far for the unit, and why it cannot be."""
    try:
        field = morph_field(section, [handle.name], blend)
    except InputError as error:
        return np.repeat(section.points[None], 3, axis=0), 0.0, error.found.partition(", at y")[0]
    step = _STEP * UNITS[handle.unit]
    copies = field.points(np.array([[0.0], [step], [-step]]))
    return copies, float(np.hypot(*(copies[1] - copies[0]).T).max()) / _STEP, ""


def _foremost(front: Front, handle: Handle, rules: RuleSet, blend: float) -> Array | None:
    """Where the tape of the whole vehicle stands, as it is and moved either way."""
    at = np.full(3, np.inf)
    for section in front.sections:
        anchor = tape_anchor(Contours.copies(section, _moved(section, handle, blend)[0]), rules)
        at = np.minimum(at, np.where(anchor.found, anchor.x, np.inf))
    return at if np.isfinite(at).all() else None


def _rates(batch: LineBatch, handle: Handle, travel: float, missing: str) -> list[Rate]:
    """What comes of the lines of a section as it is and moved either way."""
    out = []
    for line, (values, why) in _numbers(batch).items():
        here, ahead, behind = values.tolist()
        up, down = (ahead - here) / _STEP, (here - behind) / _STEP
        reason = missing or why
        if not reason and np.isnan([up, down]).any():
            reason = "the line is lost a little way off"
        elif not reason and max(abs(up), abs(down)) > _JUMP * travel:
            reason = "the line jumps"
        elif not reason and abs(up - down) > _KINK * travel:
            other = handle.opposite or "the other way"
            reason = f"{up:+.1f} {handle.way}, {0.0 - down:+.1f} {other}"
        out.append(Rate(handle, line, None if reason else 0.5 * (up + down) + 0.0, reason))
    return out


def _numbers(batch: LineBatch) -> dict[str, tuple[Array, str]]:
    """Coordinates of every line, NaN where it is not formed or not known, and why the first is."""
    out = {}
    known = {}
    for name in ("LBRL", "UBRL", "BLERL"):
        line = getattr(batch, name)
        known[name] = line.formed & (line.code != OPEN_END)
        for axis in "xz":
            why = "" if known[name][0] else line.reason(0)
            out[f"{name}_{axis}_mm"] = np.where(known[name], getattr(line, axis), np.nan), why
    both = known["UBRL"] & known["BLERL"]
    lead = np.where(both, batch.BLERL.x - batch.UBRL.x, np.nan)
    out["bumper_lead_mm"] = lead, "" if both[0] else "UBRL or BLERL is missing or not known"
    for j, distance in enumerate(batch.distances):
        there = batch.wad_code[:, j] == OK
        far = "the tape does not reach so far, or what lies beyond could change it"
        why = "" if there[0] else far
        out[f"WAD_{distance:g}_x_mm"] = np.where(there, batch.WAD.x[:, j], np.nan), why
    return out
