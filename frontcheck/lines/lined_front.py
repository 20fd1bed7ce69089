"""A front with the lines of its sections: what zones and findings are made from."""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING, Any, Final, Literal

import numpy as np

from frontcheck.errors import ContourError, NotAvailableError, refuse
from frontcheck.front.front import ByStation
from frontcheck.front.glazing import with_windscreen
from frontcheck.geometry.tape import TautTape, rises_then_runs
from frontcheck.lines.rear import with_rear
from frontcheck.lines.section_lines import section_lines
from frontcheck.lines.station import station_of, stretches
from frontcheck.lines.tool_poses import Tools
from frontcheck.rules.ruleset import RuleSet, rule_set
from frontcheck.serializer import one_line
from frontcheck.surface.contours import Contours
from frontcheck.surface.windscreen import Rise

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

    from frontcheck.front.front import Front
    from frontcheck.lines.section_lines import LineBatch
    from frontcheck.lines.station import Station
    from frontcheck.surface.section import Section

TapeStart = Literal["section", "vehicle"]

_NO_PLAN: Final = (
    "the stations have no common datum, so the foremost point of the whole front is not known"
)


@one_line
@dataclass(frozen=True, eq=False)
class LinedFront(ByStation["Station"]):
    """A front with its reference lines, by one rule set."""

    front: Front  # The front
    rules: RuleSet  # The rule set used
    stations: tuple[Station, ...]  # Lines of every measured section
    wad: tuple[float, ...]  # Wrap-around distances asked for [mm]
    tape_start: TapeStart  # Where the tape stands
    batch: LineBatch = field(kw_only=True, repr=False)  # The same as arrays, a row a section
    tapes: dict[float, TautTape] = field(default_factory=dict, kw_only=True, repr=False)
    """Taut tapes hung so far, by station."""

    @property
    def complete(self) -> bool:
        """Whether every line asked for could be formed at every station."""
        return not any(station.missing for station in self.stations)

    @property
    def formed(self) -> set[str]:
        """Names of what is formed at any station, as `frontcheck.rules.used_by` has them."""
        stations = self.stations
        lines = {line.name for station in stations for line in station.lines if line.formed}
        if any(mark.formed for station in stations for mark in station.wads):
            lines.add("WAD")
        return lines | {"legform" for station in stations if station.legform}

    def tape(self, y: float) -> TautTape:
        """Return the taut tape at one station, to read paths and other distances from.

        Parameters
        ----------
        y : float
            Station [mm].

        Returns
        -------
        TautTape
            The tape.

        Raises
        ------
        KeyError
            If there is no such station, or no tape can be hung there.
        """
        station = self.station(y)
        if station.tape_x is None:
            raise KeyError(f"no tape can be hung at station {y:g} mm")
        if y not in self.tapes:
            points = self.front.section(y).points
            self.tapes[y] = TautTape(points, station.tape_x, station.tape_start)
        return self.tapes[y]

    def _row(self, station: Station) -> dict[str, Any]:
        """Every number and status of one station, missing numbers as None."""
        row: dict[str, Any] = {"y_mm": station.y}
        for line in station.lines:
            row |= {
                f"{line.name}_x_mm": line.x,
                f"{line.name}_z_mm": line.z,
                f"{line.name}_status": line.status,
            }
        row |= {"BLERL_edge_angle_deg": station.BLERL.edge_angle_deg}
        row |= {"bumper_lead_mm": station.bumper_lead, "legform": station.legform}
        for point in station.wads:
            name = f"WAD_{point.distance:g}"
            row |= {
                f"{name}_x_mm": point.x,
                f"{name}_z_mm": point.z,
                f"{name}_status": point.status,
                f"{name}_bridged": point.bridged,
            }
        face = self.front.section(station.y).face
        return row | {
            "overhang_mm": face.overhang_mm,
            "undercut_mm": face.undercut_mm,
            "recess_depth_mm": face.recess_depth_mm,
            "face_angle_deg": face.mean_face_angle_deg,
            "bonnet_angle_deg": face.bonnet_angle_deg,
        }


def line_up(
    front: Front,
    rules: str | RuleSet,
    wad: Iterable[float] | None = None,
    *,
    tape_start: TapeStart = "section",
    windscreen_from: tuple[float, float] | None = None,
) -> LinedFront:
    """Form every line of every section of a front."""
    rules = rule_set(rules)
    front = glazed(front, rules, windscreen_from)
    distances = tuple(
        dict.fromkeys(float(d) for d in (rules.values("wad.distances_mm") if wad is None else wad))
    )
    for distance in distances:
        if not (np.isfinite(distance) and distance > 0.0):
            raise ValueError(f"a wrap-around distance must be a positive length, not {distance:g}")
    if tape_start not in ("section", "vehicle"):
        raise ValueError(f"tape_start must be 'section' or 'vehicle', not {tape_start!r}")
    refused = _NO_PLAN if tape_start == "vehicle" and front.datum == "local" else ""
    contours = Contours.of(front.sections)
    batch = section_lines(
        contours, rules, distances, tape_start="section" if refused else tape_start
    )
    batch = with_rear(batch, contours, front, np.array(front.stations), rules)
    # Over a plain contour the tape is a taut string; any other is followed bend by bend.
    plain = rises_then_runs(contours.points, batch.anchor_x, batch.anchor.start)
    stations = []
    tapes: dict[float, TautTape] = {}
    hung = batch.anchor.found & (not refused)
    over = plain[:, None] & (batch.WAD.stretch >= batch.anchor.start[:, None]) & ~batch.WAD.again
    bent = hung & (batch.WAD.reached & ~over).any(axis=1)
    for i, section in enumerate(front.sections):
        if bent[i]:
            stand, start = float(batch.anchor_x[i]), int(batch.anchor.start[i])
            tapes[section.y] = TautTape(section.points, stand, start)
        tools = Tools(section, batch, i, rules, tapes.get(section.y))
        stations.append(
            station_of(
                batch, i, section.y, rules, wad_refused=refused, tools=tools, face=section.face
            )
        )
    return LinedFront(
        front, rules, tuple(stations), distances, tape_start, batch=batch, tapes=tapes
    )


def glazed(front: Front, rules: RuleSet, given: tuple[float, float] | None = None) -> Front:
    """Return the front with its windscreen told, as the lines take it."""
    rise = Rise(*(rules.value(f"windscreen.{name}") for name in _RISE))
    return with_windscreen(front, rise, given)


_RISE: Final = ("above_z_mm", "rise_low_deg", "rise_high_deg", "length_mm")
_RESTS_ON: Final = (
    "bumper", "lbrl", "ubrl", "blerl", "brrl", "wad", "open_end", "windscreen", "legform",
)  # fmt: skip
"""Constants of these themes are all that the lines of a section rest on."""


def by_other_rules(lined: LinedFront, ids: Iterable[str]) -> tuple[LinedFront, ...]:
    """Return the lines of the same front by other rule sets, formed anew only where they differ."""
    made = {_rests_on(lined.rules): lined}
    found = []
    for id_ in ids:
        rules = rule_set(id_)
        key = _rests_on(rules)
        if key not in made:
            made[key] = line_up(lined.front, rules, lined.wad, tape_start=lined.tape_start)
        same = made[key]
        found.append(
            LinedFront(
                same.front, rules, same.stations, same.wad, same.tape_start, batch=same.batch
            )
        )
    return tuple(found)


def _rests_on(rules: RuleSet) -> tuple[object, ...]:
    # The distances are those asked for; which legform it is made of moves no line.
    names = (c for c in rules if c.name not in ("wad.distances_mm", "legform.flexible"))
    return tuple((c.name, c.value) for c in names if c.name.partition(".")[0] in _RESTS_ON)


# Which section of A goes with which section of B.
#
# Stations measured in both fronts go together. Where one front has a station that the other
# lacks, the other is cut or interpolated there when its surface is known; otherwise that
# station is left out. Both are said.

Basis = Literal["measured", "cut", "interpolated"]

_NAME: Final = 24
_SAME_MM: Final = 1e-6
"""Stations closer than this are one station [mm]: rounding of a unit conversion."""


@one_line
@dataclass(frozen=True, eq=False)
class Side:
    """One front at one station."""

    section: Section  # Its section
    station: Station  # The lines of that section
    basis: Basis  # Whether the section was measured there, cut from a mesh, or interpolated


@one_line
@dataclass(frozen=True, eq=False)
class Matched:
    """Both fronts at one station."""

    y: float  # Station [mm]
    a: Side  # The fronts
    b: Side  # The fronts


def match_stations(a: LinedFront, b: LinedFront) -> tuple[tuple[Matched, ...], tuple[str, ...]]:
    """Match the stations of two fronts."""
    half = a.front.symmetric and b.front.symmetric
    one, two = _Half(a, "A", half), _Half(b, "B", half)
    notes: list[str] = []
    every = _merged([*one.sides, *two.sides])
    low, high = max(one.low, two.low), min(one.high, two.high)
    inside = [y for y in every if low - _SAME_MM <= y <= high + _SAME_MM]
    for side, other in ((one, two), (two, one)):
        outside = [y for y in side.sides if not low - _SAME_MM <= y <= high + _SAME_MM]
        if outside:
            where = stretches(outside, side.sides)
            beyond = f"outside the stations of {other.name}"
            notes.append(f"Not compared: {side.name} at y = {where} mm, {beyond}.")
    for side in (one, two):
        notes += side.fill(inside)
    matched = []
    for y in inside:
        here, there = one.at(y), two.at(y)
        if here is not None and there is not None:
            matched.append(Matched(y, here, there))
    if not matched:
        raise refuse(
            "front.no_common_station",
            one=stretches(one.sides, one.sides),
            two=stretches(two.sides, two.sides),
        )
    return tuple(matched), tuple(notes)


def chosen_stations(
    fronts: Sequence[LinedFront], wanted: Sequence[float] = ()
) -> tuple[dict[float, tuple[Side, ...]], tuple[str, ...]]:
    """Return one front or two at stations, the one nearest the centre when none are named."""
    matched, notes = match_stations(fronts[0], fronts[-1])
    symmetric = all(lined.front.symmetric for lined in fronts)
    there = {pair.y: (pair.a, pair.b)[: len(fronts)] for pair in matched}
    chosen: dict[float, tuple[Side, ...]] = {}
    for y in wanted or (min(there, key=abs),):
        side = abs(y) if symmetric else y
        at = next((at for at in there if abs(at - side) <= _SAME_MM), None)
        if at is None:
            known = ", ".join(f"{at:g}" for at in there)
            sides = " (either side)" if symmetric else ""
            raise refuse("front.station", y=y, known=known, sides=sides)
        chosen[at] = there[at]
    return chosen, notes


def short_names(fronts: Sequence[LinedFront]) -> tuple[str, ...]:
    """Names of the fronts, not too long for a sentence; with a letter where both are the same."""
    names = tuple(
        name if len(name) <= _NAME else f"{name[: _NAME - 3].rstrip()}..."
        for name in (" ".join(lined.front.name.split()) for lined in fronts)
    )
    if len(set(names)) == len(names):
        return names
    return tuple(f"{name} ({letter})" for name, letter in zip(names, "AB", strict=True))


class _Half:
    """The stations of one front: its right half, when both fronts are symmetric."""

    def __init__(self, lined: LinedFront, name: str, half: bool) -> None:
        self.lined, self.name = lined, name
        self.sides: dict[float, Side] = {}
        for section, station in zip(lined.front.sections, lined.stations, strict=True):
            mirrored = _mirror(section, station)
            if half:
                both = [mirrored if section.y < 0.0 else (section, station)]
            elif lined.front.symmetric and section.y != 0.0:
                both = [(section, station), mirrored]
            else:
                both = [(section, station)]
            self.sides |= {s.y: Side(s, lines, "measured") for s, lines in both}
        self.sides = {y: self.sides[y] for y in sorted(self.sides)}
        self.low, self.high = min(self.sides), max(self.sides)

    def at(self, y: float) -> Side | None:
        near = [at for at in self.sides if abs(at - y) <= _SAME_MM]
        return self.sides[near[0]] if near else None

    def fill(self, wanted: Sequence[float]) -> list[str]:
        """Add what is missing from the surface; say what was added and what could not be."""
        lacking = [y for y in wanted if self.at(y) is None]
        if not lacking:
            return []
        try:
            surface = self.lined.front.surface()
        except NotAvailableError as error:
            lacks = stretches(lacking, wanted)
            return [f"Not compared: {self.name} lacks y = {lacks} mm, and {error}."]
        made: list[Section] = []
        notes = []
        for y in lacking:
            try:
                made.append(surface.section(y))
            except ContourError:
                notes.append(
                    f"Not compared: {self.name} lacks y = {y:g} mm, and its neighbouring sections "
                    "differ too much for a section between them."
                )
        if made:
            cut = surface.kind == "mesh"
            self._add(made, "cut" if cut else "interpolated")
            how = "cut from its mesh" if cut else f"interpolated ({surface.kind}) between others"
            at = stretches([s.y for s in made], wanted)
            notes.append(
                f"{self.name} was not measured at y = {at} mm: its sections there are {how}."
            )
        return notes

    def _add(self, made: Sequence[Section], basis: Basis) -> None:
        """Form the lines of added sections under the same settings as those of the front."""
        measured = [side.section for side in self.sides.values()]
        front = self.lined.front
        # All sections together: the tape may stand below the foremost point of them all.
        whole = replace(
            front,
            sections=tuple(sorted([*measured, *made], key=lambda s: s.y)),
            symmetric=front.symmetric and self.low >= 0.0,
        )
        lines = line_up(whole, self.lined.rules, self.lined.wad, tape_start=self.lined.tape_start)
        self.sides |= {s.y: Side(s, lines.station(s.y), basis) for s in made}


def _mirror(section: Section, station: Station) -> tuple[Section, Station]:
    return section.mirrored(), replace(station, y=0.0 - station.y)


def _merged(stations: Iterable[float]) -> list[float]:
    kept: list[float] = []
    for y in sorted(stations):
        if not kept or y - kept[-1] > _SAME_MM:
            kept.append(y)
    return kept
