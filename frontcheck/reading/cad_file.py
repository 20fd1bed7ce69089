"""What the readers of drawings and meshes share: file checks, axes, sections of many stations."""

from __future__ import annotations

import os
from collections import Counter
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any, Final

import numpy as np

from frontcheck.errors import InputError, refuse
from frontcheck.geometry.outline import REACH_MM
from frontcheck.geometry.reach import met_first, travels
from frontcheck.geometry.slicing import Axes
from frontcheck.reading.table import MM_PER_UNIT, UNITS, file_size, mm_per, several
from frontcheck.surface.section import section_of

if TYPE_CHECKING:
    from collections.abc import Callable

    from frontcheck.geometry.arrays import Array
    from frontcheck.geometry.chains import LinkCounts
    from frontcheck.geometry.outline import Dropped, Outline
    from frontcheck.geometry.walk import Bridge
    from frontcheck.surface.section import Section

MAX_COORDINATE_MM: Final = 1e5
"""Farthest coordinate taken [mm], 100 m: beyond it the unit is wrong, or the number is."""

_AXES: Final = {"x": 0, "y": 1, "z": 2}


def cad_size(path: str | os.PathLike[str], largest: int, kind: str) -> int:
    """Check that a drawing or mesh is there, holds something and is of fair size."""
    size = file_size(path, kind)
    if size == 0:
        raise refuse("cad.empty", os.fspath(path), wanted=kind)
    if size > largest:
        raise refuse("cad.too_large", os.fspath(path), wanted=kind, size=size / 1e6,
                     most=largest / 1e6)  # fmt: skip
    return size


def _of_bad_data() -> tuple[type[Exception], ...]:
    """Errors by which parsers say that data are bad; any other is a fault of a program."""
    import struct
    import sys

    # OSError is what ezdxf documents for what is no drawing.
    plain = (ValueError, LookupError, ArithmeticError, EOFError, RecursionError, OSError)
    ezdxf = sys.modules.get("ezdxf.lldxf.const")
    return (*plain, struct.error, *([] if ezdxf is None else [ezdxf.DXFError]))


def told_apart(load: Callable[[], Any], file: str, kind: str) -> Any:
    """Run a parser of another package and turn whatever it raises into our error."""
    try:
        return load()
    except InputError:
        raise
    except ImportError as problem:
        package = (problem.name or "a parser").partition(".")[0]
        raise refuse("cad.no_package", file, package=package) from None
    except _of_bad_data() as problem:
        reason = " ".join(str(problem).split())[:120] or "no reason given"
        raise refuse(
            "cad.damaged", file, error=type(problem).__name__, reason=reason, wanted=kind
        ) from problem


def checked_unit(unit: str | None, file: str) -> str | None:
    """Return a unit given as an option, checked."""
    if unit is not None and unit not in MM_PER_UNIT:
        raise refuse("cad.unit", file, unit=unit, units=UNITS)
    return unit


def checked_length(
    value: float | None, name: str, default: float, low: float, high: float, file: str
) -> float:
    """Return a number given as an option, checked."""
    if value is None:
        return default
    try:
        number = float(value)
    except (TypeError, ValueError):
        number = float("nan")
    if not low <= number <= high:
        raise refuse("cad.option", file, name=name, value=value, low=low, high=high)
    return number


def parse_axes(
    forward: str, up: str, unit: str, ground: float, file: str, centre_y: float = 0.0
) -> Axes:
    """Return how file coordinates become ours."""
    front, front_sign = axis_of(forward, "forward", file)
    top, top_sign = axis_of(up, "up", file)
    if front == top:
        raise refuse("cad.axes_alike", file, forward=forward, up=up)
    side = 3 - front - top
    # forward x up points to the vehicle's right; +1 where (front, top, side) is cyclic.
    cyclic = 1.0 if (top - front) % 3 == 1 else -1.0
    k = mm_per(unit)
    scale = (-front_sign * k, cyclic * front_sign * top_sign * k, top_sign * k)
    return Axes((front, side, top), scale, (0.0, -centre_y * scale[1], -ground * k))


def axis_of(text: str, name: str, file: str) -> tuple[int, float]:
    """Return which file axis a text such as ``-x`` names, and its sign."""
    plain = str(text).strip().lower()
    sign, letter = (plain[0], plain[1:]) if plain[:1] in {"+", "-"} else ("+", plain)
    if letter not in _AXES:
        raise refuse("cad.axis", file, name=name, text=text)
    return _AXES[letter], -1.0 if sign == "-" else 1.0


# What happened in many slices of a mesh or drawing, told in a few sentences.

_COUNTS: Final = {
    "duplicates": "{} that occur twice were counted once",
    "flipped": "neighbouring {} are wound against each other; they were linked all the same",
    "cracks": "{} that do not quite meet were linked because their ends lie together",
    "junctions": "more than two {} meet at one place; the outer ones were followed",
}
_KINDS: Final = {
    "hidden": "parts behind the outer surface",
    "layer": "second layers on the outer surface",
    "free": "small parts high up that stand free (mirrors, wires, aerials)",
    "flange": "flanges turned inward at a gap",
    "behind": "surface behind a part that stands before it",
    "rear": f"surface more than {REACH_MM:g} mm behind the foremost point, beyond every tool",
}


@dataclass
class SliceNotes:
    """Collects what slices report."""

    noun: str  # What the contours are made of, such as ``triangles``
    happened: Counter[str] = field(default_factory=Counter)  # Stations by kind of event
    sections: list[Section] = field(default_factory=list)
    failed: dict[float, str] = field(default_factory=dict)  # Stations without a section, and why
    _bridges: list[tuple[float, Bridge]] = field(default_factory=list)
    _dropped: dict[str, list[tuple[float, Dropped]]] = field(default_factory=dict)
    several: bool = False  # Whether some contour was walked among several chains
    _slices: int = 0

    def add(self, y: float, outline: Outline | None, counts: LinkCounts) -> None:
        """Take in one station."""
        for name in _COUNTS:
            self.happened[name] += getattr(counts, name) > 0
        if outline is None:
            return
        self._slices += 1
        self.several |= outline.whole is None
        self.happened["opened"] += outline.opened
        self.happened["inside out"] += outline.winding < 0
        self._bridges.extend((y, bridge) for bridge in outline.bridges)
        for lost in outline.dropped:
            self._dropped.setdefault(lost.kind, []).append((y, lost))

    def take(self, y: float, outline: Outline | None, labelled: bool = True) -> None:
        """Take in the contour of a station as its section, or say why it is none."""
        cut = section_of(outline, y, labelled=labelled)
        if isinstance(cut, str):
            self.failed[y] = cut
            return
        self.sections.append(cut)
        if outline is not None and len(cut) != len(outline.points):
            self.happened["crossing"] += 1

    def refuse_behind(self, boxes: Array) -> None:
        """Refuse stations where a straight edge might have met a part that was left out."""
        kept = []
        for section in self.sections:
            before = [
                np.array([low[::2], [low[0], high[2]]])
                for low, high in boxes
                if low[1] <= section.y <= high[1]
            ]
            hidden = before and met_first(travels(before), travels([section.points]))
            if hidden:
                self.failed[section.y] = (
                    "a part that was left out (mirror or wire) stands before the body, within "
                    "reach of a straight edge"
                )
            else:
                kept.append(section)
        self.sections = kept

    @property
    def first_failure(self) -> str:
        """Why the first station failed that did; empty when none did."""
        for y, why in self.failed.items():
            return f"y = {y:g} mm: {why}"
        return ""

    def sentences(self, gap: float) -> list[str]:
        """Return what there is to say."""
        total = self._slices
        out = [
            f"At {self.happened[name]} of {several(total, 'station')} {text.format(self.noun)}."
            for name, text in _COUNTS.items()
            if self.happened[name]
        ]
        if self.happened["inside out"]:
            out.append(
                f"At {self.happened['inside out']} of {several(total, 'station')} the {self.noun} "
                "face inward; air was taken on the side that is seen."
            )
        if self.happened["opened"]:
            out.append(
                f"At {several(self.happened['opened'], 'station')} the cut is a closed loop, "
                "opened at the rear."
            )
        if self.happened["crossing"]:
            out.append(
                f"At {several(self.happened['crossing'], 'station')} the cut crosses itself; it "
                "was clipped where it crosses, and what is seen was kept."
            )
        narrow = [(bridge.length, y) for y, bridge in self._bridges if bridge.length <= gap]
        if narrow:
            longest, y = max(narrow)
            out.append(
                f"{several(len(narrow), 'gap')} bridged by straight lines (allowed to "
                f"{gap:g} mm); the widest is {longest:.4g} mm at y = {y:g} mm."
            )
        for kind, text in _KINDS.items():
            if kind in self._dropped:
                out.append(self._lost(kind, text))
        if self.failed:
            shown = "; ".join(f"y = {y:g} mm: {why}" for y, why in list(self.failed.items())[:3])
            more = "; ..." if len(self.failed) > 3 else ""
            out.append(f"No section at {several(len(self.failed), 'station')} ({shown}{more}).")
        return out

    def cautions(self, gap: float) -> list[str]:
        """Return what may move a line, and so belongs beside the lines."""
        wide = [(bridge.length, y, bridge) for y, bridge in self._bridges if bridge.length > gap]
        out = []
        if "free" in self._dropped:
            out.append(self._lost("free", _KINDS["free"]) + " No tool was held against them.")
        if not wide:
            return out
        longest, y, bridge = max(wide, key=lambda one: one[0])
        stations = len({y for _, y, _ in wide})
        text = (
            f"At {several(stations, 'station')} the outer surface has openings wider than the gap "
            f"allowed ({gap:g} mm): straight lines were laid over {several(len(wide), 'opening')}, "
            f"the longest {longest:.4g} mm near x {bridge.x:.4g}, z {bridge.z:.4g} at y = {y:g} "
            "mm. Straight edges touch the same points without them; tape and sphere may not."
        )
        return [*out, text]

    def _lost(self, kind: str, text: str) -> str:
        found = self._dropped[kind]
        y, largest = max(found, key=lambda pair: pair[1].length)
        where = f"the longest, {largest.length:.4g} mm, near x {largest.x:.4g}, z {largest.z:.4g}"
        return (
            f"Left out at {several(len({y for y, _ in found}), 'station')}: {text} ({where} at "
            f"y = {y:g} mm)."
        )
