"""A vehicle front: side sections at stations across the vehicle, and how they were obtained."""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from functools import cached_property
from typing import TYPE_CHECKING, Final, Generic, Literal, Protocol, TypeVar

import numpy as np

from frontcheck.caution import CAUTION, DRAWING
from frontcheck.errors import NotAvailableError, escaped, refuse
from frontcheck.front.beside import Beside
from frontcheck.front.survey import Attitude, Survey
from frontcheck.serializer import one_line
from frontcheck.surface.windscreen import Windscreen

if TYPE_CHECKING:
    from collections.abc import Iterable

    from frontcheck.surface.interpolate import Between
    from frontcheck.surface.mesh_surface import MeshSurface
    from frontcheck.surface.section import Section
    from frontcheck.surface.surface import Surface

Datum = Literal["common", "local"]


class _AtStation(Protocol):
    @property
    def y(self) -> float: ...


_At = TypeVar("_At", bound=_AtStation)


class ByStation(Generic[_At]):
    """A result with one entry a station."""

    stations: tuple[_At, ...]

    def station(self, y: float) -> _At:
        """Return what is known of one station.

        Parameters
        ----------
        y : float
            Station [mm].

        Returns
        -------
        object
            The entry of `stations` with that y.

        Raises
        ------
        KeyError
            If there is nothing at that station.
        """
        for station in self.stations:
            if station.y == y:
                return station
        raise KeyError(f"no station at {y:g} mm; there are {[s.y for s in self.stations]}")


LOCAL_DATUM: Final = (
    "setbacks are from a datum set anew at each station (datum: local), so the plan shape of the "
    "front is not known; measure all stations from one lateral line (datum: common)"
)
"""Why there is no surface of a front measured from local datums."""

_PROPOSED: Final = " (proposed)"
"""End of the name of a front that has proposed points."""
ONE_STATION: Final = "there is one station only, and one section makes no surface"
"""Why there is no surface of a front of one section."""
OF_OUTLINE: Final = "an outline seen from the side is one station only: the plan shape is not seen"
"""Why there is no surface of a front read off a side photo."""
_NOT_SEEN: Final = (
    "Seen from the side only: recesses and the lower lip between the sides, the plan shape, "
    "corners and stations off the centre are not seen. Where no recess shows, there may be one."
)
"""What a side photo does not show."""


@one_line
@dataclass(frozen=True)
class Source:
    """Where a front came from.

    Parameters
    ----------
    file : str, optional
        File name as the user gave it, without folders; empty for a front made in memory.
    sha256 : str, optional
        Digest of the file's bytes, in hex; empty for a front made in memory.
    kind : str, optional
        ``offsets``, ``dxf``, ``mesh`` or ``memory``.
    gap_mm : float, optional
        Widest gap that its reader bridged [mm]; None where none is bridged.
    files : tuple of Source, optional
        What else was read: the files that a front file names.

    Examples
    --------
    >>> import frontcheck as fc
    >>> fc.read_front("geometries/plover.csv").source.kind
    'offsets'
    """

    file: str = ""
    sha256: str = ""
    kind: str = "memory"
    gap_mm: float | None = None
    files: tuple[Source, ...] = ()

    def __post_init__(self) -> None:
        """Let the name of a file stand as it may stand anywhere."""
        object.__setattr__(self, "file", escaped(self.file))


MOST_STATIONS: Final = 4001
"""Most sections taken of a front: one each millimetre over its greatest width. Own choice."""
MOST_POINTS: Final = 20_000
"""Most points taken of a section: no hand measurement has more. Own choice."""
MOST_WIDE_MM, MOST_LONG_MM = 4000.0, 15_000.0


def drawn_or_unseen(fronts: Iterable[Front]) -> list[str]:
    """Return what is to be said of fronts with proposed points, and of outlines; each once."""
    every = list(fronts)
    said = [*(front.drawn for front in every), *(front.not_seen for front in every)]
    return list(dict.fromkeys(filter(None, said)))


def check_size(length: float, width: float, file: str | None = None) -> None:
    """Refuse what is larger than any vehicle, for every kind of input: a slip of units."""
    if width > MOST_WIDE_MM or length > MOST_LONG_MM:
        raise refuse("front.size", file, length=length, width=width)


def _alike(sections: tuple[Section, ...]) -> bool:
    """Whether a whole front is its own mirror image, so that its surface is one to the last bit."""
    return all(
        one.y == -two.y and one.parts == two.parts and np.array_equal(one.points, two.points)
        for one, two in zip(sections, reversed(sections), strict=True)
    )


@one_line
@dataclass(frozen=True)
class Front:
    """Side sections of one vehicle front.

    Parameters
    ----------
    sections : tuple of Section
        The sections as measured, y strictly increasing [mm].
    name : str, optional
        Name of the front.
    datum : {"common", "local"}, optional
        ``common``: all setbacks are from one lateral line, so sections fit together
        in plan view. ``local``: the square was set anew at each station; plan shape
        is not known and lines that need it are refused with that reason.
    symmetric : bool, optional
        Whether the other side is the mirror image of what was measured.
    method, notes : str, optional
        How it was measured, and free text.
    ground_slope_deg : float, optional
        Slope of the ground it was measured on, positive when it rises rearward [deg].
    reader_notes : tuple of str, optional
        What the reader detected or repaired.
    reader_cautions : tuple of str, optional
        What the reader left out or bridged that a line may depend on.
    assumed : tuple of str, optional
        What the reader took without being told.
    attitude : Attitude, optional
        How it was brought to its design position.
    windscreen : Windscreen, optional
        How its windscreen was told from the bonnet.
    source : Source, optional
        File, digest and kind.
    survey : Survey, optional
        What the measurer noted beside the offsets.
    beside : Beside, optional
        Hard points, beam ends and foot of the windscreen, where a front file gives them.
    changes : tuple of str, optional
        What was done to what was measured: from which file, and how each feature was moved.
    mesh : MeshSurface, optional
        The mesh that the sections are cut from. Where sections are changed it no longer fits:
        leave it out, or move it alike.

    Raises
    ------
    InputError
        If there is no section, or stations are not strictly increasing.

    Examples
    --------
    >>> import frontcheck as fc
    >>> low = fc.Section([(60, 200), (0, 500), (80, 800), (900, 900)])
    >>> fc.Front((low,), name="a first sketch").stations
    (0.0,)
    """

    sections: tuple[Section, ...]
    name: str = "front"
    datum: Datum = "common"
    symmetric: bool = False
    method: str = ""
    notes: str = ""
    ground_slope_deg: float = 0.0
    reader_notes: tuple[str, ...] = ()
    reader_cautions: tuple[str, ...] = ()
    assumed: tuple[str, ...] = ()
    attitude: Attitude = field(default_factory=Attitude)
    windscreen: Windscreen = field(default_factory=Windscreen)
    source: Source = Source()
    survey: Survey = field(default_factory=Survey)
    beside: Beside = field(default_factory=Beside)
    changes: tuple[str, ...] = ()
    mesh: MeshSurface | None = field(default=None, repr=False)

    def __post_init__(self) -> None:
        """Check stations and size; let names and notes stand as they may stand anywhere."""
        # Whatever shows a name then says so too: tables, figures, documents.
        if self.not_measured and not self.name.endswith(_PROPOSED):
            object.__setattr__(self, "name", f"{self.name}{_PROPOSED}".lstrip())
        for name, keep in (("name", ""), ("method", ""), ("notes", "\n")):
            object.__setattr__(self, name, escaped(getattr(self, name), keep))
        for name in ("reader_notes", "reader_cautions", "assumed", "changes"):
            object.__setattr__(self, name, tuple(map(escaped, getattr(self, name))))
        if not self.sections:
            raise refuse("front.no_section")
        stations, file = self.stations, self.source.file or None
        if len(stations) > MOST_STATIONS:
            raise refuse("front.stations", file, count=len(stations), most=MOST_STATIONS)
        for before, after in zip(stations, stations[1:], strict=False):
            if not after > before:
                raise refuse("front.order", after=after, before=before)
        if self.symmetric and stations[0] < 0.0 < stations[-1]:
            raise refuse("front.both_sides", first=stations[0], last=stations[-1])
        far = max(abs(stations[0]), abs(stations[-1]))
        width = 2.0 * far if self.symmetric else stations[-1] - stations[0]
        ends = [(float(s.x.min()), float(s.x.max())) for s in self.sections]
        check_size(max(end for _, end in ends) - min(end for end, _ in ends), width, file)

    @property
    def stations(self) -> tuple[float, ...]:
        """Station of every section [mm]."""
        return tuple(section.y for section in self.sections)

    @property
    def silhouette(self) -> bool:
        """Whether it is but an outline seen from the side, as in a photo."""
        return any(section.silhouette for section in self.sections)

    @property
    def not_seen(self) -> str:
        """What an outline seen from the side does not show; empty for any other front."""
        return _NOT_SEEN if self.silhouette else ""

    @property
    def row_u_mm(self) -> float | None:
        """Largest standard uncertainty stated of a row [mm]; None where none is stated."""
        stated = [
            float(rows.max())
            for section in self.sections
            for rows in (section.height_u, section.setback_u)
            if rows is not None
        ]
        return max(stated, default=None)

    @property
    def proposed(self) -> tuple[int, int]:
        """How many points are proposed and were never measured, and how many there are."""
        marks = (section.proposed for section in self.sections)
        count = sum(int(mark.sum()) for mark in marks if mark is not None)
        return count, sum(map(len, self.sections))

    @property
    def not_measured(self) -> str:
        """What is to be said of proposed points; empty where all were measured."""
        count, all_ = self.proposed
        return f"{count} of {all_} points proposed, not measured" if count else ""

    @property
    def drawn(self) -> str:
        """The same as a caution."""
        return f"{self.name}: {self.not_measured}. {DRAWING}" if self.not_measured else ""

    def section(self, y: float) -> Section:
        """Return the measured section at one station.

        Parameters
        ----------
        y : float
            Station [mm].

        Returns
        -------
        Section
            The section measured there.

        Raises
        ------
        KeyError
            If nothing was measured at that station.
        """
        for section in self.sections:
            if section.y == y:
                return section
        raise KeyError(f"no section at station {y:g} mm; there are {self.stations}")

    def full(self) -> Front:
        """Return the whole front: a symmetric half with its mirror image added.

        Returns
        -------
        Front
            A front with `symmetric` False; itself when nothing is to be mirrored.
        """
        return self._full if self.symmetric else self

    @cached_property
    def _full(self) -> Front:
        mirrored = [s.mirrored() for s in self.sections if s.y != 0.0]
        both = sorted([*mirrored, *self.sections], key=lambda s: s.y)
        return replace(self, sections=tuple(both), symmetric=False)

    def surface(self, between: Between | None = None) -> Surface:
        """Return the front in space: the mesh itself, or the surface through the sections.

        Parameters
        ----------
        between : {"smooth", "straight"}, optional
            How a front without a mesh runs from station to station; smooth up to 60 stations
            when not given.

        Returns
        -------
        Surface
            The surface.

        Raises
        ------
        NotAvailableError
            If the plan shape is not known (datum: local), or there is but one station.
        """
        if self.mesh is not None:
            return self.mesh
        if between not in self._surfaces:
            from frontcheck.surface.interpolate import StationSurface

            if self.datum == "local":
                raise NotAvailableError(LOCAL_DATUM)
            sections = self.full().sections
            if len(sections) < 2:
                raise NotAvailableError(OF_OUTLINE if self.silhouette else ONE_STATION)
            symmetric = self.symmetric or _alike(sections)
            self._surfaces[between] = StationSurface(sections, symmetric=symmetric, method=between)
        return self._surfaces[between]

    @cached_property
    def _surfaces(self) -> dict[Between | None, Surface]:
        return {}

    def _repr_html_(self) -> str:
        from html import escape

        rows = "".join(
            f"<tr><td>{section.y:g}</td><td>{len(section)}</td>"
            f"<td>{section.z.min():.0f} to {section.z.max():.0f}</td>"
            f"<td>{section.x.min():.0f} to {section.x.max():.0f}</td></tr>"
            for section in self.sections
        )
        facts = f"datum {self.datum}, " + ("half, mirrored" if self.symmetric else "as measured")
        notes = "".join(f"<li>{escape(note)}</li>" for note in self.reader_notes)
        return (
            f"<p><b>{escape(self.name)}</b> ({escape(self.source.file or 'made in memory')}; "
            f"{facts})</p><table><thead><tr><th>station [mm]</th><th>points</th>"
            f"<th>height [mm]</th><th>setback [mm]</th></tr></thead><tbody>{rows}</tbody></table>"
            f"<ul>{notes}</ul><p><i>{escape(CAUTION)}</i></p>"
        )
