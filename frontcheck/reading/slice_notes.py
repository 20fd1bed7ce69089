"""What happened in many slices of a mesh or drawing, told in a few sentences."""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Final

from frontcheck.reading.cad_file import several

if TYPE_CHECKING:
    from frontcheck.geometry.chains import LinkCounts
    from frontcheck.geometry.outline import Dropped, Outline

__all__ = ["SliceNotes"]

_COUNTS: Final = {
    "duplicates": "{} that occur twice were counted once",
    "flipped": "neighbouring {} are wound against each other; they were linked all the same",
    "cracks": "{} that do not quite meet were linked because their ends lie together",
    "junctions": "more than two {} meet at one place; the outer ones were followed",
}
_KINDS: Final = {
    "hidden": "parts behind the outer surface",
    "layer": "second layers on the outer surface",
    "free": "parts standing free of the outer contour",
    "flange": "flanges turned inward at a gap",
    "behind a plate": "surface behind a part that stands before it",
}


@dataclass
class SliceNotes:
    """Collects what slices report."""

    noun: str  # What the contours are made of, such as ``triangles``
    happened: Counter[str] = field(default_factory=Counter)  # Stations by kind of event
    failed: dict[float, str] = field(default_factory=dict)  # Stations without a section, and why
    _bridges: list[tuple[float, float]] = field(default_factory=list)
    _dropped: dict[str, list[tuple[float, Dropped]]] = field(default_factory=dict)
    _slices: int = 0

    def add(self, y: float, outline: Outline | None, counts: LinkCounts) -> None:
        """Take in one station."""
        for name in _COUNTS:
            self.happened[name] += getattr(counts, name) > 0
        if outline is None:
            return
        self._slices += 1
        self.happened["opened"] += outline.opened
        self.happened["inside out"] += outline.winding < 0
        self._bridges.extend((length, y) for length in outline.bridges)
        for lost in outline.dropped:
            self._dropped.setdefault(lost.kind, []).append((y, lost))

    def whole(self, y: float, outline: Outline) -> bool:
        """Return whether a contour is in one piece; take it in as failed when it is not."""
        part = outline.torn
        if part is not None:
            self.fails(
                y,
                f"the contour is in pieces, {part.seen:.4g} mm of it {part.distance:.4g} mm apart "
                f"from the rest near x {part.x:.4g}, z {part.z:.4g}",
            )
        return part is None

    def fails(self, y: float, why: str) -> None:
        """Take in a station without a section."""
        self.failed[y] = why

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
        if self._bridges:
            longest, y = max(self._bridges)
            out.append(
                f"{several(len(self._bridges), 'gap')} bridged by straight lines (allowed to "
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

    def _lost(self, kind: str, text: str) -> str:
        found = self._dropped[kind]
        y, largest = max(found, key=lambda pair: pair[1].length)
        where = f"the longest, {largest.length:.4g} mm, near x {largest.x:.4g}, z {largest.z:.4g}"
        end = f" at y = {y:g} mm"
        if kind == "free":
            near = min(lost.distance for _, lost in found)
            end += f"; the nearest {near:.4g} mm away: a wider gap would join it"
        return (
            f"Left out at {several(len({y for y, _ in found}), 'station')}: {text} ({where}{end})."
        )
