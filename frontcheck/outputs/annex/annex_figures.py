"""The figures of the annex, at the size at which its pages show them.

The same drawings as in the figure files of a screening, laid out for a landscape page, so that
letters keep their height in print.
"""

from __future__ import annotations

from contextlib import suppress
from functools import partial
from typing import TYPE_CHECKING, Final

import numpy as np

from frontcheck.errors import NotAvailableError
from frontcheck.findings.people_rows import plain_person
from frontcheck.legs.contact import seen_by
from frontcheck.outputs.annex.annex_text import SQUARE_METRES, pictured, told
from frontcheck.outputs.documents.result_files import station_stem
from frontcheck.outputs.figures import canvas as look
from frontcheck.outputs.figures.findings_figures import findings_view
from frontcheck.outputs.figures.side_drawing import draw_side
from frontcheck.outputs.figures.side_view import draw_face, overview
from frontcheck.people.people import PEOPLE

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator, Sequence

    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

    from frontcheck.body.motion import MotionStudy
    from frontcheck.outputs.annex.annex_text import Picture
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


def chosen_stations(screening: Screening) -> tuple[float, ...]:
    """Return the stations whose side views the document shows."""
    stations = screening.front.stations
    if len(stations) <= _SHOWN_STATIONS:
        return stations
    right = [y for y in stations if y >= 0.0]
    side = sorted(right if len(right) >= _SHOWN_STATIONS else stations, key=abs)
    steps = np.linspace(0, len(side) - 1, _SHOWN_STATIONS)
    return tuple(sorted({side[round(step)] for step in steps.tolist()}))


@look.styled
def side_figure(screening: Screening, y: float) -> Figure:
    """Return the side view of one station with its face beside it."""
    station, figure = screening.station(y), look.new_figure(*BELOW_HEADING)
    side, face = figure.add_axes(_SIDE), figure.add_axes(_FACE)
    handles = draw_side(side, screening, station)
    draw_face(face, screening, station, np.ptp(side.get_xlim()) / look.axes_inches(side)[0])
    face.set_title(face.get_title().partition(",")[0], fontsize=look.TEXT)  # the room is narrow
    look.legend(
        figure, handles, _SIDE[0] - 0.01, 0.105, ncols=6, fontsize=look.SMALL, handlelength=2.8,
        columnspacing=1.4,
    )  # fmt: skip
    name = look.printable(screening.front.name, 60)
    title = look.printable(f"{name}: station {y:g} mm, {screening.rules.id}", 110)
    look.head(figure, title, left=_SIDE[0], top=0.1)
    look.foot(figure)
    return figure


def screening_figures(screening: Screening, *, full: bool = True) -> dict[str, list[Picture]]:
    """Return the figures of one screening by the part of the annex they belong to."""
    centre = min(screening.front.stations, key=abs)
    stations, across = chosen_stations(screening), _plan(screening)
    if not full:
        stations = tuple(sorted({centre, stations[-1]}))
        across = [picture for picture in across if picture.stem == "plan"]
    return {
        "answer": [_answer(screening, centre)],
        "side": [_side(screening, y) for y in stations],
        "plan": across,
        "body": [*_legs(screening, centre, DRAWN_PEOPLE[not full :]), *_head(screening)],
    }


def _answer(screening: Screening, y: float) -> Picture:
    """The side view on the first page, at the size that it has there."""
    marked = {str(band.number) for band in screening.answer_bands[y]}
    lines = [str(n) for n in range(1, len(screening.answer.lines) + 1)]
    here, away = (", ".join(n for n in lines if (n in marked) is i) for i in (True, False))
    rest = f" {told('elsewhere', lines=away).text}" if away else ""
    return pictured(
        "findings",
        lambda: findings_view(screening, y, look.new_figure(*_ON_FIRST_PAGE)),
        f"findings-{station_stem(y).removeprefix('side-')}",
        y=y, here=here or "none", rest=rest,
    )  # fmt: skip


def _plan(screening: Screening) -> list[Picture]:
    """Figures that show the lines and areas across the front."""
    from frontcheck.outputs.figures.plan_figures import bonnet_map, front_view, plan_view

    if not screening.zones.surface:
        return []  # plan shape not known: these would be empty

    def drawn(view: Callable[..., Axes]) -> Figure:
        return look.figure_of(view(screening, screening.zones, size=WHOLE_PAGE))

    views = {"plan": plan_view, "front": front_view, "bonnet-map": bonnet_map}
    return [
        pictured("overview", lambda: overview(screening, look.new_figure(*WHOLE_PAGE))),
        *(pictured(name, partial(drawn, view)) for name, view in views.items()),
    ]


def _side(screening: Screening, y: float) -> Picture:
    said = "; ".join(
        f"{line.name} at height {line.z:.0f} mm, setback {line.x:.0f} mm"
        for line in screening.station(y).lines
        if line.x is not None and line.z is not None
    )
    make = partial(side_figure, screening, y)
    return pictured("side", make, station_stem(y), y=y, said=said or "no line could be formed")


def _legs(screening: Screening, y: float, names: Sequence[str]) -> Iterator[Picture]:
    from frontcheck.outputs.figures.leg_figure import leg_figure

    def drawn(person: Person) -> Figure:
        return leg_figure(screening, y, person, figure=look.new_figure(*BELOW_HEADING))

    for person in PEOPLE:
        name = person.name
        if name not in names:
            continue
        with suppress(NotAvailableError):  # nothing of the front is at the height of this leg
            seen_by(screening.front.section(y), person)
            said = {"person": name, "Person": f"{name[0].upper()}{name[1:]}", "y": y}
            yield pictured("leg", partial(drawn, person), f"leg-{name.replace(' ', '-')}", **said)


def _head(screening: Screening) -> Iterator[Picture]:
    from frontcheck.outputs.figures.findings_figures import head_map

    settings, zones = screening.finding_settings, screening.zones
    if not zones.grid and not (settings and settings.hard_points):
        return  # there would be nothing on it
    areas = "; ".join(
        f"{area.name} headform area {area.area_m2:.3f} {SQUARE_METRES}"
        for area in (zones.child_area, zones.adult_area)
        if area.area_m2 is not None
    )
    yield pictured(
        "head-map",
        lambda: head_map(screening, screening.head, look.new_figure(*WHOLE_PAGE)),
        said=areas or "no area could be formed",
    )


def struck_figures(study: MotionStudy, *, full: bool) -> list[Picture]:
    """Return the figures of people who are struck."""
    from frontcheck.outputs.figures.motion_figure import motion_figure

    def drawn(name: str, size: tuple[float, float]) -> Figure:
        return motion_figure(study, name, look.new_figure(*size))

    known = [one.person for one in study.people]
    chosen = [name for name in DRAWN_PEOPLE[not full :] if name in known] or known[:1]
    said = {"fronts": " and ".join(study.names), "draws": study.draws}
    return [
        pictured(
            "motion", partial(drawn, name, WHOLE_PAGE if i else BELOW_HEADING),
            f"motion-{name.replace(' ', '-')}", name=name, **said,
            Person=f"{plain_person(name)[0].upper()}{plain_person(name)[1:]}",
        )
        for i, name in enumerate(chosen)
    ]  # fmt: skip
