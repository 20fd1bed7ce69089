"""The figures of the annex, at the size at which its pages show them.

The same drawings as in the figure files of a screening, laid out for a landscape page, so that
letters keep their height in print.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

import numpy as np

from frontcheck.outputs.documents.result_files import station_stem
from frontcheck.outputs.figures import canvas as look
from frontcheck.outputs.figures.canvas import axes_inches, foot, head, new_figure
from frontcheck.outputs.figures.findings_figures import draw_bands, topic_legend
from frontcheck.outputs.figures.side_drawing import draw_side
from frontcheck.outputs.figures.side_view import draw_face, figure_bytes, overview

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

    from frontcheck.people.people import Person
    from frontcheck.screening import Screening
    from frontcheck.zones.front_zones import FrontZones

DRAWN_PEOPLE: Final = ("six-year-old", "man p50")
"""People drawn beside the front: the shortest and a middling one."""

_WIDTH: Final = 10.7
_SIZE: Final = (_WIDTH, 6.6)
_OVERVIEW: Final = (12.8, 7.8)
_SIDE: Final = (0.05, 0.19, 0.66, 0.75)
_FACE: Final = (0.755, 0.19, 0.235, 0.75)
_WHOLE: Final = (0.05, 0.145, 0.94, 0.795)
_SHOWN_STATIONS: Final = 4
"""Side views in the document, where there are more stations than that."""


@dataclass(frozen=True)
class Drawn:
    """A figure of the annex."""

    stem: str  # File name without suffix
    caption: str  # What it shows
    alt: str  # The same for those who cannot see it, with the main numbers
    make: Callable[[], Figure]  # Draws it

    def svg(self) -> bytes:
        """Draw the figure."""
        return figure_bytes(self.make(), "svg")


def chosen_stations(screening: Screening) -> tuple[float, ...]:
    """Return the stations whose side views the document shows."""
    stations = screening.front.stations
    if len(stations) <= _SHOWN_STATIONS:
        return stations
    side = [y for y in stations if y >= 0.0]
    if len(side) < _SHOWN_STATIONS:
        side = list(stations)
    side.sort(key=abs)
    steps = np.linspace(0, len(side) - 1, _SHOWN_STATIONS)
    return tuple(sorted({side[round(step)] for step in steps.tolist()}))


def side_figure(screening: Screening, y: float) -> Figure:
    """Return the side view of one station with its face beside it."""
    station = screening.station(y)
    with look.house_style():
        figure = new_figure(*_SIZE)
        side, face = figure.add_axes(_SIDE), figure.add_axes(_FACE)
        handles = draw_side(side, screening, station)
        draw_face(face, screening, station, np.ptp(side.get_xlim()) / axes_inches(side)[0])
        face.set_title(face.get_title().partition(",")[0], fontsize=look.TEXT)  # the room is narrow
        figure.legend(
            handles=handles, loc="upper left", bbox_to_anchor=(_SIDE[0] - 0.01, 0.105), ncols=6,
            frameon=False, fontsize=look.SMALL, handlelength=2.8, columnspacing=1.4,
            borderaxespad=0.0,
        )  # fmt: skip
        _words(figure, f"{_name(screening)}: station {y:g} mm, {screening.rules.id}")
    return figure


def findings_figure(screening: Screening, y: float) -> Figure:
    """Return one station with the numbered bands of the findings that touch it."""
    section, bands = screening.front.section(y), screening.bands[y]
    with look.house_style():
        figure = new_figure(*_SIZE)
        ax = figure.add_axes(_WHOLE)
        draw_bands(ax, section, bands)
        if bands:
            figure.legend(
                handles=topic_legend(bands), loc="lower left", bbox_to_anchor=(_WHOLE[0], 0.04),
                ncols=4, frameon=False, fontsize=look.TEXT, borderaxespad=0.0,
            )  # fmt: skip
        _words(figure, f"{_name(screening)}: findings at station {y:g} mm, {screening.rules.id}")
    return figure


def screening_figures(screening: Screening) -> dict[str, tuple[Drawn, ...]]:
    """Return the figures of one screening by the part of the annex they belong to."""
    centre = min(screening.front.stations, key=abs)
    sides = tuple(_side(screening, y) for y in chosen_stations(screening))
    bands = screening.bands[centre]
    findings = Drawn(
        f"findings-{station_stem(centre).removeprefix('side-')}",
        f"Where findings lie at station {centre:g} mm; numbers as in the table of findings.",
        f"Side view at station {centre:g} mm with {len(bands)} numbered bands along the skin, "
        f"for findings {_numbers([band.number for band in bands])}.",
        lambda: findings_figure(screening, centre),
    )
    return {
        "side": sides,
        "plan": plan_of(screening),
        "findings": (findings,) if bands else (),
        "body": (*_legs(screening, centre), *_head(screening)),
    }


def plan_of(screening: Screening) -> tuple[Drawn, ...]:
    """Return the figures that show the lines and areas across the front."""
    from frontcheck.outputs.figures.plan_figures import bonnet_map, front_view, plan_view

    def figure_of(view: Callable[[Screening, FrontZones], Axes]) -> Callable[[], Figure]:
        def make() -> Figure:
            figure = view(screening, screening.zones).get_figure(root=True)
            assert figure is not None
            return figure

        return make

    across = Drawn(
        "overview",
        "Reference lines across the front: heights, bumper lead, and plan view to scale.",
        "Heights of the reference lines and the bumper lead over the stations, and a plan "
        "view of the lines; the numbers are in the tables of reference lines.",
        lambda: overview(screening, new_figure(*_OVERVIEW)),
    )
    if not screening.zones.surface:
        return (across,)  # plan shape not known: the other views would be empty
    areas = "the tables of test areas, corners and thirds have the numbers."
    return (
        across,
        Drawn(
            "plan",
            "Plan view to scale: lines, corners, bumper test area and headform areas from above.",
            f"All lines and areas seen from above; {areas}",
            figure_of(plan_view),
        ),
        Drawn(
            "front",
            "Front view to scale: lines, corners and bumper test area as seen from the front.",
            f"All lines and the bumper test area seen from the front; {areas}",
            figure_of(front_view),
        ),
        Drawn(
            "bonnet-map",
            "Bonnet unrolled along the taut tape: headform areas and candidate points.",
            f"Headform areas and candidate points by wrap-around distance and station; {areas}",
            figure_of(bonnet_map),
        ),
    )


def _side(screening: Screening, y: float) -> Drawn:
    station = screening.station(y)
    said = [
        f"{line.name} at height {line.z:.0f} mm, setback {line.x:.0f} mm"
        for line in station.lines
        if line.x is not None and line.z is not None
    ]
    return Drawn(
        station_stem(y),
        f"Station {y:g} mm: side view to scale, front of the vehicle on the left, and the face "
        "enlarged.",
        f"Side view of the section at station {y:g} mm with the measuring tools in place: "
        f"{'; '.join(said) or 'no line could be formed'}.",
        lambda: side_figure(screening, y),
    )


def _legs(screening: Screening, y: float) -> tuple[Drawn, ...]:
    from frontcheck.errors import NotAvailableError
    from frontcheck.legs.contact import silhouette_of
    from frontcheck.people.people import PEOPLE

    section = screening.front.section(y)
    drawn = []
    for person in PEOPLE:
        if person.name not in DRAWN_PEOPLE:
            continue
        try:
            silhouette_of(section, 0.0, person.hip.known())
        except NotAvailableError:
            continue  # nothing of the front is at the height of this leg
        drawn.append(_leg(screening, y, person))
    return tuple(drawn)


def _leg(screening: Screening, y: float, person: Person) -> Drawn:
    from frontcheck.outputs.figures.leg_figure import leg_figure

    return Drawn(
        f"leg-{person.name.replace(' ', '-')}",
        f"{person.name[0].upper()}{person.name[1:]} beside station {y:g} mm: what touches the "
        "leg, where the load goes, and how both change with depth.",
        f"A figure of a {person.name} beside the section at station {y:g} mm; the leg findings in "
        "the table of findings say the same in words.",
        lambda: leg_figure(screening, y, person),
    )


def _head(screening: Screening) -> tuple[Drawn, ...]:
    from frontcheck.outputs.figures.findings_figures import head_map

    settings = screening.finding_settings
    hard_points = settings.hard_points if settings else ()
    zones = screening.zones
    areas = [
        f"{area.name} headform area {area.area_m2:.3f} m\N{SUPERSCRIPT TWO}"
        for area in (zones.child_area, zones.adult_area)
        if area.area_m2 is not None
    ]
    if not zones.grid and not hard_points:
        return ()  # there would be nothing on it
    drawn = Drawn(
        "head-map",
        "Headform areas unrolled: station across, wrap-around distance upward; numbers are angles "
        "between headform travel and the inward normal [deg].",
        f"Map of the headform areas by station and wrap-around distance: "
        f"{'; '.join(areas) or 'no area could be formed'}.",
        lambda: head_map(screening, screening.head),
    )
    return (drawn,)


def _numbers(numbers: Sequence[int]) -> str:
    return ", ".join(str(number) for number in numbers)


def _name(screening: Screening) -> str:
    return look.printable(screening.front.name, 60)


def _words(figure: Figure, title: str) -> None:
    head(figure, look.printable(title, 110), left=_SIDE[0], top=0.1)
    foot(figure)
