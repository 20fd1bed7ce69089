"""The motion figure: what is drawn is what was found; legible; same bytes every time.

What is drawn is read back from the figure and held against the document; the outline of a person
against stature, symmetry and circles; bands of the front against strings round hulls (shapely).
"""

from __future__ import annotations

import itertools
from functools import cache
from pathlib import Path

import numpy as np
import pytest
from figure_words import said, words
from matplotlib.patches import Polygon, Rectangle
from shapely import LineString, MultiPoint
from shapely import Polygon as Area

import frontcheck as fc
from frontcheck.body.anatomy import figure_of
from frontcheck.body.assumed import nominal
from frontcheck.body.person_motion import person_motion
from frontcheck.body.struck_front import StruckFront
from frontcheck.caution import CAUTION_SHORT, MOTION_CAUTIONS
from frontcheck.outputs.figures import canvas as look
from frontcheck.outputs.figures.canvas import new_figure
from frontcheck.outputs.figures.motion_figure import motion_figure, silhouette
from frontcheck.outputs.figures.side_view import figure_bytes
from frontcheck.people.people import struck_people

GEOMETRIES = Path(__file__).resolve().parents[2] / "geometries"
CHILD, *ADULTS = struck_people()
NOSE = [(120, 200), (40, 260), (0, 450), (8, 540), (60, 700), (300, 850), (900, 1000), (1950, 1200)]
PARTS = ["bumper"] * 4 + ["bonnet"] * 2 + ["windscreen"] * 2
HIGH = [
    (420, 180), (60, 190), (20, 230), (0, 410), (0, 900), (40, 980), (120, 1000), (390, 1060),
    (1150, 1150), (1950, 1600),
]  # fmt: skip
SMALL = (10.0, 6.2)
"""As in the annex."""


def nose(points=NOSE, parts=None, **changes) -> fc.Front:
    return fc.Front([fc.Section(points, 0.0, parts or [""] * len(points))], **changes)


@cache
def study(name: str) -> fc.MotionStudy:
    plover, avocet = (fc.read_front(GEOMETRIES / f"{each}.csv") for each in ("plover", "avocet"))
    fronts, people, station = {
        "one": ((plover,), struck_people(), None),
        "two": ((plover, avocet), struck_people(), None),
        "beside": ((plover, avocet), (CHILD, ADULTS[2]), 650.0),
        "short": ((nose(NOSE[:7]), plover), (CHILD, ADULTS[2]), None),
        "open": ((plover, nose(NOSE[3:])), (CHILD,), None),
        "never": ((nose(HIGH),), (ADULTS[0],), None),
        "nose": ((nose(NOSE, PARTS),), (ADULTS[2],), None),
        "long": (
            (nose(name="A $very$ long \\name_ \u6771\u4eac " * 9), nose(name="W" * 90)),
            (CHILD, ADULTS[2]),
            None,
        ),
    }[name]
    return fc.motion(*fronts, people=people, station=station, draws=20)


NAMES = ["one", "two", "beside", "short", "open", "never", "long"]


def of_id(figure, kind, gid):
    return [each for each in figure.findobj(kind) if each.get_gid() == gid]


@pytest.mark.parametrize("size", [None, SMALL])
@pytest.mark.parametrize("name", NAMES)
def test_texts_are_legible_and_inside(name, size) -> None:
    for person in study(name).people:
        figure = motion_figure(study(name), person.person, size and new_figure(*size))
        renderer = figure.canvas.get_renderer()
        figure.draw(renderer)
        boxes = [(t.get_text(), t.get_window_extent(renderer)) for t in words(figure)]
        for (a, first), (b, second) in itertools.combinations(boxes, 2):
            assert not first.padded(-1.0).overlaps(second.padded(-1.0)), (a, b)
        for text, box in boxes:
            assert box.x0 >= 0.0, text
            assert box.y0 >= 0.0, text
            assert box.x1 <= figure.bbox.x1, text
            assert box.y1 <= figure.bbox.y1, text
        assert all(t.get_fontsize() >= look.SMALL for t in words(figure))


@pytest.mark.parametrize("name", NAMES)
def test_bars_are_the_intervals_of_the_document(name) -> None:
    figure = motion_figure(study(name))
    document = study(name).to_dict()
    drawn = 0
    for front, key in (("A", "people"), ("B", "people_b")):
        for person in document[key]:
            bars = of_id(figure, Rectangle, f"heads {front} {person['person']}")
            ticks = [
                line
                for ax in figure.axes
                for line in ax.lines
                if line.get_gid() == f"median {front} {person['person']}"
            ]
            if person["wad_mm"] is None:
                assert not bars
                assert not ticks
                continue
            ((bar,), (tick,)) = bars, ticks
            drawn += 1
            assert bar.get_x() == pytest.approx(person["wad_mm"]["p5"], abs=0.06)
            assert bar.get_x() + bar.get_width() == pytest.approx(person["wad_mm"]["p95"], abs=0.06)
            assert tick.get_xdata()[0] == pytest.approx(person["wad_mm"]["median"], abs=0.06)
    assert drawn == {"one": 5, "two": 10, "beside": 0, "short": 3, "open": 1, "never": 0,
                     "long": 4}[name]  # fmt: skip


def test_every_interval_kind_and_change_stands_in_words() -> None:
    spoken = said(motion_figure(study("two")))
    document = study("two").to_dict()
    for key, front in (("people", "Plover"), ("people_b", "Avocet")):
        for person in document[key]:
            share = {"carried up": "carried", "pushed ahead": "pushed"}.get(person["kind"])
            kind = f"{front}: {person['kind']}"
            if share is not None:
                kind += f" in {100 * person['shares'][share]:.0f} %"
            assert kind in spoken
            assert f"{person['wad_mm']['p5']:.0f} to {person['wad_mm']['p95']:.0f}" in spoken
    for change in document["changes"]:
        spread = change["wad_mm"]
        assert (
            f"moves {spread['median']:+.0f} ({spread['p5']:+.0f} to {spread['p95']:+.0f})" in spoken
        )
    assert "20 assumed cases" in spoken
    assert "40 km/h" in spoken
    assert "Average man (p50)" in spoken


@pytest.mark.parametrize("name", NAMES)
def test_the_caution_stands_and_no_share_is_called_a_chance(name) -> None:
    for size in (None, SMALL):
        spoken = said(motion_figure(study(name), None, size and new_figure(*size)))
        assert CAUTION_SHORT in spoken
        assert "never a chance" in spoken
        assert MOTION_CAUTIONS[1] in spoken


@pytest.mark.parametrize("person", ["six-year-old", "man p50"])
def test_a_figure_every_30_ms_and_at_the_end(person) -> None:
    figure = motion_figure(study("two"), person)
    strips = figure.axes[1:]
    assert len(strips) == 2
    # One scale, and ground at one height.
    assert len({tuple(ax.get_xlim() + ax.get_ylim()) for ax in strips}) == 1
    assert strips[0].get_position().height == strips[1].get_position().height
    for i, ax in enumerate(strips):
        j = [one.person for one in study("two").people].index(person)
        frames = study("two").frames[i][j]
        last = frames.times_ms[-1]
        times = [t.get_text() for t in ax.texts if t.get_text().endswith(" ms")]
        wanted = [f"{t} ms" for t in range(0, 1000, 30) if t < last - 4.0] + [f"{last:.0f} ms"]
        assert sorted(times) == sorted(wanted)
        pictures = [patch for patch in ax.patches if patch.get_gid() == "person"]
        assert len(pictures) == len(times)  # each in one piece
        # The last is where the head touches: its circle meets the point on the skin, within what
        # 11 m/s make in a step of 0.5 ms.
        away = np.hypot(*(frames.head_mm[-1] - frames.contact_mm))
        assert frames.head_radius_mm - 6.0 <= away <= frames.head_radius_mm
        skin = LineString(study("two").sides[i].section.points)
        assert skin.distance(Area([*pictures[-1].get_xy()])) == pytest.approx(0.0, abs=0.5)
        assert len(of_id(ax, Polygon, "person")) == len(times)
        # Times pass from pale to dark, also in grey.
        grey = [patch.get_facecolor()[:3] @ np.array([0.3, 0.6, 0.1]) for patch in pictures]
        assert grey == sorted(grey, reverse=True)


@pytest.mark.parametrize("person", [CHILD, *ADULTS], ids=lambda person: person.name)
def test_a_standing_person_is_as_high_as_said_and_alike_on_both_sides(person) -> None:
    front = StruckFront.of(study("nose").sides[0])
    frames = person_motion(front, person.name, figure_of(person), nominal(), 40.0).frames
    (outline,) = silhouette(frames, 0)
    x, z = outline.T
    assert z.max() == pytest.approx(person.stature.known(), abs=1.0)
    assert z.min() == pytest.approx(0.0, abs=0.1)
    mirrored = Area(np.column_stack([x.max() + x.min() - x, z]))
    assert Area(outline).symmetric_difference(mirrored).area < 1e-3 * Area(outline).area


def test_bands_end_where_a_string_round_the_hull_gets_to() -> None:
    bands = {band.place: band for band in study("nose").bands[0]}
    assert list(bands) == ["bumper", "leading edge", "bonnet", "windscreen"]

    def string(k: int) -> float:
        (x, z), under = NOSE[k], NOSE[:k]
        hull = MultiPoint([(0.0, 0.0), *under, (x, z), (x, 0.0)]).convex_hull
        return hull.exterior.length - LineString([(0.0, 0.0), (x, 0.0), (x, z)]).length

    assert bands["bonnet"].high_mm == pytest.approx(string(6), abs=1e-6)
    assert bands["windscreen"].low_mm == pytest.approx(string(6), abs=1e-6)
    assert bands["windscreen"].high_mm == pytest.approx(string(7), abs=1e-6)
    ends = [(band.low_mm, band.high_mm) for band in study("nose").bands[0]]
    assert all(a[1] == b[0] for a, b in itertools.pairwise(ends))
    figure = motion_figure(study("nose"))
    for place, band in bands.items():
        (drawn,) = of_id(figure, Rectangle, f"band {place}")
        assert (drawn.get_x(), drawn.get_width()) == (band.low_mm, band.high_mm - band.low_mm)


def test_what_is_not_given_is_not_drawn_but_said() -> None:
    spoken = said(motion_figure(study("beside")))
    assert "deg to the side" in spoken
    assert "path of the head" not in spoken
    assert not motion_figure(study("beside")).findobj(
        lambda each: each.get_gid() in ("person", "path of the head")
    )
    never = motion_figure(study("never"))
    assert "touches nothing" in said(never)
    assert "head touches the front" not in said(never)
    short = said(motion_figure(study("short")))
    assert "beyond what was measured" in short
    assert "open end" in said(motion_figure(study("open")))


def test_somebody_else_is_refused() -> None:
    with pytest.raises(KeyError, match="not in the study; it holds woman p5"):
        motion_figure(study("never"), "man p50")


@pytest.mark.parametrize("kind", ["svg", "png"])
def test_same_bytes(kind) -> None:
    first, second = (figure_bytes(motion_figure(study("two")), kind) for _ in range(2))
    assert first == second
