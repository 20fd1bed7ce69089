"""What looks like a slip: exactly on each bound, on both sides of it, and in which words.

All bounds are own choice, as the program's table of them says.
"""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
from msgspec import UNSET

from frontcheck.errors import InputError
from frontcheck.front.beside import Beside, given_once
from frontcheck.front.front import Front
from frontcheck.front.glazing import with_windscreen
from frontcheck.front.plausible import Doubt, doubts_said, doubts_told, plausibility
from frontcheck.front.survey import Attitude, turned, untilted
from frontcheck.surface.section import Section
from frontcheck.surface.windscreen import Rise, Windscreen

FACE = [(300.0, 200.0), (0.0, 300.0), (0.0, 700.0), (900.0, 800.0), (1400.0, 1100.0)]
NONE = "Nothing looks like a slip of measuring or typing."
NOT_FOUND = (
    "Small slips are not found: of those of 20 mm in one row nearly none, of 50 mm one in four, of "
    "100 mm four in five, of stations written 50 mm off one in three."
)


def front(*ys: float, points=FACE, **given) -> Front:
    return Front(tuple(Section(points, y) for y in ys or (0.0,)), **given)


def moved(i: int, x: float | None = None, z: float | None = None) -> list[tuple[float, float]]:
    points = [list(p) for p in FACE]
    points[i] = [FACE[i][0] if x is None else x, FACE[i][1] if z is None else z]
    return [tuple(p) for p in points]


def said(found: Front) -> list[str]:
    return [doubt.what for doubt in plausibility(found)]


BEGINS = (
    "the lowest row, point 1 at y = 0 mm, is {} mm above the ground; a front begins 60 to 450 mm up"
)
ENDS = (
    "the highest row, point {} at y = 0 mm, is {} mm above the ground; what is measured ends 600 "
    "to 3200 mm up"
)
SPAN = (
    "setbacks span {} mm, between point {} at y = 0 mm, point {} at y = 0 mm; they span 250 to "
    "3000 mm"
)
COURSE = (
    "the contour does not run from below the nose forward, then up and rearward over the bonnet: "
)
SPIKE = "the contour turns back sharply: "
TALL = [(300, 450), (0, 460), (0, 700), (900, 800)]
CASES = {
    "as it should be": (FACE, []),
    "on the lower bound": (moved(0, z=60.0), []),
    "below it": (moved(0, z=59.5), [BEGINS.format("59.5")]),
    "on the upper bound": (TALL, []),
    "above it": ([(300, 450.5), *TALL[1:]], [BEGINS.format("450.5")]),
    "high enough": ([(300, 200), (0, 300), (0, 500), (900, 600)], []),
    "not high enough": ([(300, 200), (0, 300), (0, 500), (900, 599)], [ENDS.format(4, 599)]),
    "as high as may be": (moved(4, z=3200.0), []),
    "too high": (moved(4, z=3201.0), [ENDS.format(5, 3201)]),
    "deep enough": ([(150, 200), (0, 300), (0, 500), (250, 700)], []),
    "not deep enough": ([(150, 200), (0, 300), (0, 500), (249, 700)], [SPAN.format(249, 2, 4)]),
    "as deep as may be": (moved(4, x=3000.0), []),
    "too deep": (moved(4, x=3001.0), [SPAN.format(3001, 2, 5)]),
    # The foremost point is the first or the last, or lies below the first.
    "starts ahead": (moved(0, x=-10.0), [f"{COURSE}point 1 at y = 0 mm"]),
    "goes down first": (moved(1, z=190.0), [f"{COURSE}point 2 at y = 0 mm"]),
    "level at first": (moved(1, z=200.0), []),
    # It ends 100 mm behind the nose and 250 mm above its first point.
    "far enough behind": ([(260, 200), (0, 300), (0, 500), (90, 600), (100, 700)], []),
    "not far enough behind": (
        [(260, 200), (0, 300), (0, 500), (90, 600), (99, 700)], [f"{COURSE}point 5 at y = 0 mm"],
    ),
    "far enough above": ([(300, 400), (0, 420), (0, 600), (900, 650)], []),
    "not far enough above": (
        [(300, 400), (0, 420), (0, 600), (900, 649)], [f"{COURSE}point 4 at y = 0 mm"],
    ),
    # A turn of over 130 deg between legs of over 20 mm: here from level by 129 and by 131.
    "nearly a spike": (
        [*FACE[:3], (500.0, 700.0), (500 - 60 * math.cos(math.radians(51)),
                                    700 + 60 * math.sin(math.radians(51))), (1400, 1100)], [],
    ),
    "a spike": (
        [*FACE[:3], (500.0, 700.0), (500 - 60 * math.cos(math.radians(49)),
                                    700 + 60 * math.sin(math.radians(49))), (1400, 1100)],
        [f"{SPIKE}point 4 at y = 0 mm"],
    ),
    "a short spike": (
        [*FACE[:3], (500.0, 700.0), (500 - 19.9 * math.cos(math.radians(40)),
                                    700 + 19.9 * math.sin(math.radians(40))), (1400, 1100)], [],
    ),
}  # fmt: skip


@pytest.mark.parametrize("name", CASES)
def test_one_section(name: str) -> None:
    points, expected = CASES[name]
    assert said(front(points=points)) == expected


def test_the_outermost_station() -> None:
    out = "the outermost station is {:g} mm from the centre plane, point 1 at y = {:g} mm; it lies 250 to 1300 mm out"  # noqa: E501
    for ys, expected in (
        ((0.0, 250.0), []), ((0.0, 249.0), [out.format(249, 249)]), ((-1300.0, 0.0), []),
        ((-1301.0, 0.0), [out.format(1301, -1301)]), ((10.0,), []),
    ):  # fmt: skip
        assert said(front(*ys)) == expected


def stations(steps: dict[float, float], **given) -> Front:
    """Sections moved back in plan."""
    return Front(tuple(Section(np.add(FACE, (x, 0)), y) for y, x in steps.items()), **given)


PLAN = (
    "hint: the foremost point does not lie between those of the stations beside it as on a front "
    "that curves evenly: "
)


def test_steps_in_plan() -> None:
    """Between the inner one less 15 mm and the straight line plus 15 mm; of four and more."""
    even = {0.0: 0.0, 100.0: 10.0, 200.0: 30.0, 400.0: 90.0}
    for x, odd in ((60.0, False), (65.1, True), (-5.0, False), (-5.2, True)):
        # From 10 at 100 mm to 90 at 400 mm: 36.7 at 200, and 15 more is 51.7.
        at = min(x, 51.6) if not odd else x
        found = stations({**even, 200.0: at})
        told = [each for each in said(found) if each.startswith("hint: the foremost")]
        assert told == ([f"{PLAN}point 2 at y = 200 mm"] if odd else [])
        assert [d.hint for d in plausibility(found)] == [True] * odd
        mirror = stations({-y: v for y, v in reversed({**even, 200.0: at}.items())})
        assert bool([each for each in said(mirror) if "foremost" in each]) is odd
    few = stations({0.0: 0.0, 200.0: 80.0, 400.0: 90.0})
    assert not [each for each in said(few) if "foremost" in each]
    local = stations({**even, 200.0: 65.1}, datum="local")
    assert not [each for each in said(local) if "foremost" in each]


SPACED = "hint: the station does not lie in the even spacing of all the others: "


@pytest.mark.parametrize(
    ("ys", "odd"),
    [
        ((0, 100, 200, 300, 400), []),
        ((0, 100, 220, 300, 400), [220]),
        ((0, 100, 219, 300, 400), []),
        ((0, 100, 180, 300, 400), [180]),
        # The others may be uneven by 10 mm.
        ((0, 100, 230, 300, 410), [230]),
        ((0, 100, 230, 300, 411), []),
        ((0, 130, 200, 300), []),
        ((0, 100, 230, 305, 405), [230]),
    ],
)
def test_uneven_stations(ys, odd) -> None:
    told = [each for each in said(front(*ys)) if each.startswith("hint: the station")]
    expected = [f"{SPACED}" + ", ".join(f"point 1 at y = {y} mm" for y in odd)] if odd else []
    assert told == expected


def test_a_row_far_off_the_stations_beside() -> None:
    """By 40 mm and more than the rows next to it; a whole stretch is another shape."""
    rows = [(300, 200), *((0, z) for z in range(300, 701, 50)), (300, 750), (900, 800)]
    for off, odd in ((39.0, False), (60.0, True), (-60.0, True)):
        own = [list(p) for p in rows]
        own[5][0] += off
        found = Front((Section(rows, 0), Section(own, 300), Section(rows, 600)))
        told = [d for d in plausibility(found) if d.what.startswith("far off the contours")]
        assert bool(told) is odd
        if odd:
            assert told[0].what.endswith("unlike the rows next to it: point 6 at y = 300 mm")
            assert (told[0].rows, told[0].hint) == ((6,), False)
        two = Front(found.sections[:2])
        assert not [each for each in said(two) if each.startswith("far off")]
    # Drawn fronts and those of many rows are not looked at row by row.
    many = [(300, 200), *((0.0, float(z)) for z in np.linspace(250, 700, 398)), (900, 800)]
    for count, odd in ((1, True), (2, False)):
        more = [*many[:-1], *([(450.0, 750.0)] * (count - 1)), many[-1]]
        own = [*more[:200], (60.0, more[200][1]), *more[201:]]
        found = Front((Section(more, 0), Section(own, 300), Section(more, 600)))
        assert len(own) == 399 + count
        assert bool([each for each in said(found) if each.startswith("far off")]) is odd


def test_how_rows_are_named() -> None:
    """Rows of a file where there is one; six of them, and how many more."""
    points = [(300, 200), (0, 300), (0, 700)]
    sections = tuple(
        Section(points, y, rows=[3 * k, 3 * k + 1, 3 * k + 2])
        for k, y in enumerate(range(-700, 800, 200), start=1)
    )
    doubt = plausibility(Front(sections))[0]
    assert (
        doubt.what
        == COURSE
        + ", ".join(f"row {3 * k + 2} at y = {-900 + 200 * k} mm" for k in range(1, 7))
        + " and 2 more"
    )
    assert doubt.rows == tuple(3 * k + 2 for k in range(1, 9))
    exact = plausibility(Front(sections[:6]))[0]
    assert "more" not in exact.what
    assert doubts_said([]) == [NONE, NOT_FOUND]
    assert doubts_said([Doubt("odd", (1,), "look")]) == ["odd; look.", NOT_FOUND]
    assert doubts_told([], []) is UNSET
    told = doubts_told([Doubt("odd", (1,), "look")], [Doubt("even", (2,), "do", hint=True)])
    assert [(d.what, d.rows, d.hint) for d in told] == [
        ("A: odd", (1,), False),
        ("B: even", (2,), True),
    ]
    assert [d.what for d in doubts_told([Doubt("odd", (1,), "look")])] == ["odd"]


# --- attitude, and where the windscreen begins ---------------------------------------------


@pytest.mark.parametrize(
    ("pitch", "lift", "words"),
    [
        (0.0, 0.0, "lifted by 0.00 mm"),
        (0.0, -3.456, "lowered by 3.46 mm"),
        (0.5, 2.0, "turned by 0.5000 deg, front up, and lifted by 2.00 mm at the datum"),
        (-0.25, -2.0, "turned by 0.2500 deg, front down, and lowered by 2.00 mm at the datum"),
    ],
)
def test_attitude_in_words(pitch, lift, words) -> None:
    attitude = Attitude("front file", pitch, lift, (100.0, 50.0))
    assert attitude.words == words
    points = np.array(FACE)
    assert attitude.undone(attitude.of(points)) == pytest.approx(points, abs=1e-9)


def test_turning_and_leaning() -> None:
    """Front up: what lies behind the pivot goes down; a square that leans rearward reads short."""
    found = turned(np.array([(1100.0, 50.0), (100.0, 1050.0)]), 90.0, (100.0, 50.0))
    assert found == pytest.approx(np.array([(100.0, -950.0), (1100.0, 50.0)]), abs=1e-9)
    read = untilted(np.array([(10.0, 1000.0)]), 30.0)
    assert read == pytest.approx(np.array([(510.0, 1000.0 * math.sqrt(0.75))]), abs=1e-9)


RISE = Rise(700.0, 20.0, 65.0, 250.0)


def test_how_a_windscreen_is_told() -> None:
    bare = front(0.0, 300.0)
    told = with_windscreen(bare, RISE)
    assert told.windscreen == Windscreen("shape", (900.0, 800.0))
    assert told.assumed[-1] == (
        "windscreen by shape: it begins at setback 900, height 800 mm at y = 0 mm; overrule it by "
        "labels, --windscreen-from X,Z or a front file"
    )
    assert with_windscreen(told, RISE) is told
    given = with_windscreen(bare, RISE, (900.0, 800.0))
    assert (given.windscreen.basis, given.assumed) == ("given", bare.assumed)
    labelled = front(0.0).sections[0].relabelled(["", "", "", "windscreen", "windscreen"])
    assert with_windscreen(Front((labelled,)), RISE).windscreen == Windscreen("labels")
    flat = front(points=[(300, 200), (0, 300), (0, 700), (1400, 800)])
    assert with_windscreen(flat, RISE) is flat
    # A place 100 mm off the contour is still one: own choice.
    off = np.array([-300.0, 500.0]) / math.hypot(300.0, 500.0)
    middle = np.array([1150.0, 950.0])
    assert with_windscreen(bare, RISE, tuple(middle + 99.9 * off)).windscreen.at == pytest.approx(
        tuple(middle)
    )
    with pytest.raises(
        InputError, match="where the contour nearest the centre passes at 1150, 950"
    ):
        with_windscreen(bare, RISE, tuple(middle + 100.1 * off))
    beside = replace(bare, beside=Beside(windscreen_from=(900.0, 800.0)))
    assert with_windscreen(beside, RISE).windscreen.basis == "given"
    with pytest.raises(InputError):
        with_windscreen(beside, RISE, (900.0, 800.0))
    assert given_once(None, (1.0, 2.0), "n", "f") == given_once((1.0, 2.0), None, "n", "f")
    assert given_once(None, None, "n", "f") is None
