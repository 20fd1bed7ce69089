"""Gaps word by word: areas, stiff parts, missing lines, and what a side photo does not show."""

from __future__ import annotations

from types import SimpleNamespace

from frontcheck.findings.gaps import _areas, _hard_points, _missing, _unseen
from frontcheck.findings.hard_points import (
    DepthAbove,
)
from frontcheck.front.beside import HardPoint
from frontcheck.front.front import Front
from frontcheck.lines.lined_front import line_up
from frontcheck.rules.ruleset import rule_set
from frontcheck.surface.section import Section
from frontcheck.zones.front_zones import GridPoint, HeadformArea, Outline, ZoneOptions

R127 = rule_set("UN-R127-02")


NOSE = [(300.0, 250.0), (0.0, 300.0), (0.0, 800.0), (1500.0, 800.0)]
PLAIN = line_up(Front((Section(NOSE), Section(NOSE, 300.0))), R127)


LATCH = HardPoint(500.0, 120.0, 700.0, "latch", "lock")


def above(travel, *, headform="child", status="under", in_area=True, point=LATCH, reason="",
          normal=25.0):  # fmt: skip
    skin = None if travel is None else (480.0, 120.0, 730.0)
    wad = None if travel is None else 1234.4
    return DepthAbove(point, headform, status, travel, normal, skin, wad, in_area, reason)


# --- gaps --------------------------------------------------------------------------


def unassessed(child, adult) -> list[str]:
    return [f.message for f in _hard_points(PLAIN, (child, adult))]


def test_why_a_stiff_part_is_not_assessed() -> None:
    head = "Stiff part below the skin, latch (lock) at y = 120 mm is not assessed: "
    tail = "the skin above it lies in no headform area (room below the skin "
    open_ = above(None, status="not assessed", in_area=False, reason="no skin")
    away = above(31.6, in_area=False)
    adult = above(28.4, in_area=False, headform="adult")
    closed = above(None, headform="adult", status="not assessed", in_area=False, reason="other")
    assert unassessed(open_, closed) == [f"{head}no skin."]
    assert unassessed(away, adult) == [
        (
            f"{head}{tail}32 mm along the child headform's travel and 28 mm along the adult "
            "headform's travel)."
        )
    ]
    assert unassessed(away, closed) == [f"{head}{tail}32 mm along the child headform's travel)."]
    assert unassessed(open_, adult) == [f"{head}{tail}28 mm along the adult headform's travel)."]
    outside = above(None, status="outside", in_area=False)
    for pair in ((outside, adult), (away, outside), (above(30.0), adult), (away, above(30.0))):
        assert unassessed(*pair) == []
    every = [*_hard_points(PLAIN, (away, outside, open_, closed, outside, outside, away, adult))]
    assert [f.code for f in every] == ["GAP-HARD-POINT"] * 2
    (one,) = _hard_points(PLAIN, (open_, closed))
    assert one.region.name == "latch"
    assert (one.station, one.region.outline_mm) == (120.0, ((500.0, 120.0, 700.0),))
    assert one.settled_by == (
        "nothing in UN-R127-02; check the point, or ask for a headform test above it"
    )


def area(name, m2, wads=(), reason=""):
    points = tuple((float(i), 0.0, 9.0) for i in range(len(wads)))
    outlines = (Outline(points, tuple(wads)),) if wads else ()
    return HeadformArea(name, m2, outlines, "ok", reason)


def areas_of(child, adult, grid=()):
    zones = SimpleNamespace(child_area=child, adult_area=adult, grid=grid, options=ZoneOptions())
    return list(_areas(PLAIN, zones))


def test_an_area_is_none_unknown_or_narrower_than_the_grid() -> None:
    none, unknown = areas_of(area("child", 0.0), area("adult", None, reason="one section"))
    assert none.code == unknown.code == "GAP-NO-HEAD-AREA"
    assert (none.region.name, unknown.region.name) == ("child headform area", "adult headform area")
    assert (none.message, none.aside) == ("There is no child headform area.", False)
    assert none.settled_by == (
        "nothing in UN-R127-02 for this headform; ask for tests at the wrap-around distances where "
        "such heads land"
    )
    assert unknown.message == "The adult headform area could not be formed: one section."
    assert (unknown.aside, unknown.station) == (True, None)
    assert unknown.settled_by == "further measurement, so that the area can be formed"
    narrow = area("adult", 0.1, (1700.0, None, 1764.0, 1690.0))
    grid = (GridPoint("child", (1.0, 2.0, 3.0), 1200.0, (0.0, 0.0, 1.0)),)
    (one,) = areas_of(area("child", 0.5, (1000.0, 1700.0)), narrow, grid)
    assert one.message == (
        "The adult headform area reaches over 74 mm along the tape at most, and no point of the "
        "100 mm grid falls into it."
    )
    assert (one.code, one.region.name) == ("GAP-NO-GRID-POINT", "adult headform area")
    assert (one.spread, len(one.region.outline_mm)) == ((74.0, 74.0), 4)
    assert one.settled_by == "a finer grid, or adult headform tests in the area"
    bare, _ = areas_of(area("child", 0.5), area("adult", 0.0), ())
    assert (bare.spread, bare.region.outline_mm) == ((0.0, 0.0), ())


def test_a_missing_line_is_told_once_a_reason_with_how_many_stations() -> None:
    def line(name, formed, reason=""):
        return SimpleNamespace(name=name, formed=formed, reason=reason)

    rows = [(0.0, False, "no glass"), (100.0, True, ""), (200.0, False, "no glass"),
            (300.0, False, "too low")]  # fmt: skip
    stations = [
        SimpleNamespace(y=y, lines=(line("BRRL", formed, why), line("LBRL", y != 200.0, "gone")))
        for y, formed, why in rows
    ]
    for sections, aside in ((1, True), (2, False)):
        whole = SimpleNamespace(sections=[None] * sections)
        front = SimpleNamespace(full=lambda whole=whole: whole, symmetric=False)
        found = list(_missing(SimpleNamespace(front=front, stations=stations)))
        assert [(f.message, f.aside) for f in found] == [
            ("BRRL could not be formed at y = 0 to 200 mm, 2 stations: no glass.", aside),
            ("LBRL could not be formed at y = 200 mm: gone.", False),
            ("BRRL could not be formed at y = 300 mm: too low.", aside),
        ]
        assert {f.station for f in found} == {None}
        assert [f.region.name for f in found] == ["BRRL", "LBRL", "BRRL"]
        assert {f.code for f in found} == {"GAP-LINE-MISSING"}
        assert {f.settled_by for f in found} == {"better or further measurement at these stations"}


def test_what_a_side_photo_does_not_show_is_a_gap() -> None:
    outline = SimpleNamespace(silhouette=True)
    lined = SimpleNamespace(front=outline, stations=[SimpleNamespace(y=150.0)])
    (one,) = _unseen(lined)
    assert one.message.startswith("Recess and lower lip are not seen at y = 150 mm: a side photo")
    assert one.message.endswith(
        "LEG-NOTHING-LOW, LEG-UNDERCUT, LEG-LIP-AHEAD, LEG-OVERHANG, LEG-SPLIT-CONTACT, "
        "LEG-KNEE-OPENS, LEG-KNEE-CLOSES."
    )
    assert (one.code, one.station) == ("GAP-NOT-SEEN", 150.0)
    assert one.region.name == "recess and lower lip"
    assert one.settled_by == (
        "setbacks of recess and lower lip, measured with a square at y = 150 mm"
    )
    outline.silhouette = False
    assert list(_unseen(lined)) == []
