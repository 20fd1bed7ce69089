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
from frontcheck.outputs.figures.findings_figures import findings_view
from frontcheck.outputs.figures.side_drawing import draw_side
from frontcheck.outputs.figures.side_view import draw_face, figure_bytes, overview

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

    from frontcheck.people.people import Person
    from frontcheck.screening import Screening

DRAWN_PEOPLE: Final = ("six-year-old", "man p50")
"""People drawn beside the front: the shortest and a middling one."""

BELOW_HEADING: Final = (10.0, 5.65)
"""Fits either paper below a heading, so that letters are as high in print as in the drawing."""
WHOLE_PAGE: Final = (10.0, 6.2)
"""The same on a page of its own."""
_ON_FIRST_PAGE: Final = (4.45, 3.2)
_SIDE: Final = (0.05, 0.19, 0.66, 0.75)
_FACE: Final = (0.755, 0.19, 0.235, 0.75)
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
        figure = look.new_figure(*BELOW_HEADING)
        side, face = figure.add_axes(_SIDE), figure.add_axes(_FACE)
        handles = draw_side(side, screening, station)
        draw_face(face, screening, station, np.ptp(side.get_xlim()) / look.axes_inches(side)[0])
        face.set_title(face.get_title().partition(",")[0], fontsize=look.TEXT)  # the room is narrow
        figure.legend(
            handles=handles, loc="upper left", bbox_to_anchor=(_SIDE[0] - 0.01, 0.105), ncols=6,
            frameon=False, fontsize=look.SMALL, handlelength=2.8, columnspacing=1.4,
            borderaxespad=0.0,
        )  # fmt: skip
        _words(figure, f"{_name(screening)}: station {y:g} mm, {screening.rules.id}")
    return figure


def screening_figures(screening: Screening, *, full: bool = True) -> dict[str, tuple[Drawn, ...]]:
    """Return the figures of one screening by the part of the annex they belong to."""
    centre = min(screening.front.stations, key=abs)
    stations = chosen_stations(screening)
    if not full:
        stations = tuple(sorted({centre, stations[-1]}))
    across = plan_of(screening)
    if not full:
        across = tuple(drawn for drawn in across if drawn.stem == "plan")
    return {
        "answer": (_answer(screening, centre),),
        "side": tuple(_side(screening, y) for y in stations),
        "plan": across,
        "body": (*_legs(screening, centre, DRAWN_PEOPLE[not full :]), *_head(screening)),
    }


def _answer(screening: Screening, y: float) -> Drawn:
    """The side view on the first page, at the size that it has there."""
    marked = {band.number for band in screening.answer_bands[y]}
    here = _numbers(sorted(marked)) or "none"
    words = f"Side view at station {y:g} mm, to scale. Lines marked here: {here}."
    rest = _numbers([n for n in range(1, len(screening.answer.lines) + 1) if n not in marked])
    if rest:
        words += " At another station (hollow point, dashed section) or without a place of its own:"
        words += f" {rest}."
    return Drawn(
        f"findings-{station_stem(y).removeprefix('side-')}",
        words,
        f"{words} The words of the lines stand beside it.",
        lambda: findings_view(screening, y, look.new_figure(*_ON_FIRST_PAGE)),
    )


def plan_of(screening: Screening) -> tuple[Drawn, ...]:
    """Return the figures that show the lines and areas across the front."""
    from frontcheck.outputs.figures.plan_figures import bonnet_map, front_view, plan_view

    if not screening.zones.surface:
        return ()  # plan shape not known: these would be empty

    def figure_of(view: Callable[..., Axes]) -> Callable[[], Figure]:
        def make() -> Figure:
            ax = view(screening, screening.zones, size=WHOLE_PAGE)
            figure = ax.get_figure(root=True)
            assert figure is not None
            return figure

        return make

    areas = "the tables of test areas, corners and thirds have the numbers."
    return (
        Drawn(
            "overview",
            "Reference lines across the front: heights, bumper lead, and plan view to scale.",
            "Heights of the reference lines and the bumper lead over the stations, and a plan "
            "view of the lines; the numbers are in the tables of reference lines.",
            lambda: overview(screening, look.new_figure(*WHOLE_PAGE)),
        ),
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


def _legs(screening: Screening, y: float, names: Sequence[str]) -> tuple[Drawn, ...]:
    from frontcheck.errors import NotAvailableError
    from frontcheck.legs.contact import seen_by
    from frontcheck.people.people import PEOPLE

    section = screening.front.section(y)
    drawn = []
    for person in PEOPLE:
        if person.name not in names:
            continue
        try:
            seen_by(section, person)
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
        lambda: leg_figure(screening, y, person, figure=look.new_figure(*BELOW_HEADING)),
    )


def _head(screening: Screening) -> tuple[Drawn, ...]:
    from frontcheck.outputs.figures.head_figure import head_map

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
        "Headform areas from above: lines of equal angle between headform travel and the inward "
        "normal of the skin, between candidate points.",
        f"Lines of equal angle on the headform areas seen from above: "
        f"{'; '.join(areas) or 'no area could be formed'}.",
        lambda: head_map(screening, screening.head, look.new_figure(*WHOLE_PAGE)),
    )
    return (drawn,)


def _numbers(numbers: Sequence[int]) -> str:
    return ", ".join(str(number) for number in numbers)


def _name(screening: Screening) -> str:
    return look.printable(screening.front.name, 60)


def _words(figure: Figure, title: str) -> None:
    look.head(figure, look.printable(title, 110), left=_SIDE[0], top=0.1)
    look.foot(figure)
