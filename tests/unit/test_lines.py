"""Lines of batches: anchors, parts, joining, what a missing line says."""

from __future__ import annotations

import numpy as np
import pytest

from frontcheck import Front, Section, read_front, rule_set, screen
from frontcheck.lines import section_lines as module
from frontcheck.lines.bumper_lines import tape_anchor
from frontcheck.lines.line_values import STATUSES
from frontcheck.lines.section_lines import section_lines
from frontcheck.lines.station import at_stations
from frontcheck.surface.contours import Contours

NOSE = [(300.0, 200.0), (20.0, 220.0), (0.0, 500.0), (60.0, 760.0), (900.0, 880.0)]


def lines(*sections, rules="UN-R127-02", wad=(1000.0,), **options):
    return section_lines(Contours.of(sections), rule_set(rules), wad, **options)


def test_statuses_are_those_of_the_document():
    """The words that a reader of documents meets: own choice."""
    assert set(STATUSES) == {
        "ok", "edge_end", "open_end", "underside_first", "lower_end", "wad_1000", "retaken_40deg",
        "wad_only", "not_reached", "not_available",
    }  # fmt: skip


def test_upper_bumper_line_ignores_what_stands_above_the_bumper():
    """With labels the bumper, its grille and trim, and unlabelled points count: no lamp above.

    UN R127 02 series, 2.38 (text read): the edge is shortened where structure above the bumper
    would touch; 2.11 (text read): the bumper is the front, lower, outer structure with its
    attachments, read as its grille and trim too.
    """
    points = [(300, 200), (40, 250), (40, 500), (0, 560), (0, 640), (80, 760), (900, 880)]
    parts = ["underside", "bumper", "bumper", "lamp", "lamp", "bonnet", "bonnet"]
    assert lines(Section(points)).UBRL.z[0] == 640.0
    assert lines(Section(points, parts=parts)).UBRL.z[0] == 500.0
    for attached in ("grille", "trim"):
        with_it = [*parts[:3], attached, attached, *parts[5:]]
        assert lines(Section(points, parts=with_it)).UBRL.z[0] == 640.0
    # Trim behind the leading edge of the bonnet is none of the bumper's.
    behind = [*parts[:3], "bonnet", "trim", "trim", "bonnet"]
    assert lines(Section(points, parts=behind)).UBRL.z[0] == 500.0
    some = [*parts[:3], "", "", *parts[5:]]
    assert lines(Section(points, parts=some)).UBRL.z[0] == 640.0
    everything = rule_set().with_values({"bumper.parts": []})
    assert lines(Section(points, parts=parts), rules=everything).UBRL.z[0] == 640.0


def test_bumper_higher_than_the_edge_reaches():
    """UN: the foot stays on the ground, so the edge ends at 657.8; EU: it need not."""
    points = [(300, 200), (30, 250), (0, 700), (100, 900), (900, 1000)]
    section = Section(points, parts=["underside", "bumper", "bumper", "bonnet", "bonnet"])
    un, eu = lines(section), lines(section, rules="EU-631-2009")
    assert (un.UBRL.status(0), eu.UBRL.status(0)) == ("edge_end", "ok")
    assert un.UBRL.z[0] == pytest.approx(657.785, abs=5e-4)
    assert eu.UBRL.z[0] == 700.0
    assert "beyond its reach" in un.UBRL.reason(0)


def test_nothing_low_enough():
    """A contour above all reaches: no line, no tape, each with its reason and no number."""
    high = Section([(300, 1400), (0, 1500), (0, 1900), (300, 2100)])
    got = lines(high)
    for line in (got.UBRL, got.LBRL, got.BLERL):
        assert line.status(0) == "not_reached"
        assert line.reason(0)
        assert not line.formed[0]
    assert not got.anchor.found[0]
    assert not got.WAD.reached.any()
    assert got.bumper_lead.mask.all()


def test_foremost_point_without_labels_is_sought_up_to_one_metre():
    """Own choice: up to 1000 mm. The face leans forward above: the limit cuts it at (40, 1000)."""
    leaning = Section([(300, 200), (100, 300), (60, 900), (0, 1200), (300, 1400)])
    anchor = tape_anchor(Contours.of([leaning]), rule_set())
    assert (anchor.x[0], anchor.z[0]) == (40.0, 1000.0)
    assert anchor.start[0] == 2
    labelled = Section(leaning.points, parts=["bumper"] * 5)
    anchor = tape_anchor(Contours.of([labelled]), rule_set())
    assert (anchor.x[0], anchor.z[0], anchor.start[0]) == (0.0, 1200.0, 3)


def test_lowest_of_several_foremost_points():
    flat = Section([(300, 200), (0, 300), (0, 500), (0, 700), (500, 900)])
    anchor = tape_anchor(Contours.of([flat]), rule_set())
    assert (anchor.z[0], anchor.start[0]) == (300.0, 1)


def test_tape_from_the_foremost_point_of_the_vehicle():
    """From 80 mm ahead of the second section the tape runs straight to its nose."""
    near, far = Section(NOSE, y=0.0), Section(np.add(NOSE, [80.0, 0.0]), y=500.0)
    own, whole = lines(near, far), lines(near, far, tape_start="vehicle")
    assert whole.anchor_x.tolist() == [0.0, 0.0]
    assert own.anchor_x.tolist() == [0.0, 80.0]
    assert whole.WAD.x[0] == own.WAD.x[0]
    # A longer way to the nose, sqrt(80^2 + 500^2) and not 500, leaves less for the rest.
    assert whole.WAD.x[1, 0] < own.WAD.x[1, 0]
    given = lines(far, tape_x=np.array([0.0]))
    assert given.WAD.x[0, 0] == whole.WAD.x[1, 0]


def test_distance_asked_for_twice_counts_once():
    """And does not push out the marks that the rules need for themselves."""
    got = lines(Section(NOSE), wad=(700.0, 1000.0, 700.0))
    assert got.distances == (700.0, 1000.0)
    assert got.WAD.x.shape == (1, 2)
    assert got.WAD.x[0, 1] == lines(Section(NOSE)).WAD.x[0, 0]


def test_large_batches_are_joined_as_if_worked_on_at_once(monkeypatch):
    section = Section(NOSE)
    noise = np.random.default_rng(1).normal(0.0, 3.0, (23, len(NOSE), 2))
    contours = Contours.copies(section, section.points + noise)
    at_once = section_lines(contours, rule_set(), (600.0, 1000.0), tape_start="vehicle")
    monkeypatch.setattr(module, "_AT_ONCE", 5)
    joined = section_lines(contours, rule_set(), (600.0, 1000.0), tape_start="vehicle")
    for name in ("UBRL", "LBRL", "BLERL", "BRRL"):
        one, two = getattr(at_once, name), getattr(joined, name)
        assert one.code.tolist() == two.code.tolist()
        assert one.x[one.formed].tolist() == two.x[two.formed].tolist()
    assert at_once.WAD.x.tolist() == joined.WAD.x.tolist()
    assert at_once.anchor_x.tolist() == joined.anchor_x.tolist()
    assert joined.distances == (600.0, 1000.0)


def test_no_contours_at_all():
    section = Section(NOSE)
    none = Contours.copies(section, np.empty((0, len(NOSE), 2)))
    got = section_lines(none, rule_set(), (1000.0,))
    assert got.UBRL.x.shape == (0,)
    assert got.WAD.x.shape == (0, 1)


def test_copies_must_have_the_points_of_the_section():
    with pytest.raises(ValueError, match="copies have shape"):
        Contours.copies(Section(NOSE), np.zeros((3, 4, 2)))


def test_contact_at_a_measured_end_says_so():
    """A table that stops at the bumper's lower edge: the surface below is not known."""
    open_below = Section([(0.0, 300.0), (0.0, 500.0), (60.0, 760.0), (900.0, 880.0)])
    got = lines(open_below)
    assert got.LBRL.status(0) == "open_end"
    assert got.LBRL.formed[0]
    assert "not known" in got.LBRL.reason(0)
    assert "not known" not in lines(Section(NOSE)).LBRL.reason(0)


@pytest.mark.parametrize("tape_start", ["section", "vehicle"])
def test_one_screening_forms_the_lines_of_each_contour_once(geometries, monkeypatch, tape_start):
    formed = []

    def counted(contours, *rest):
        formed.extend(
            points[:n].tobytes() for points, n in zip(contours.points, contours.counts, strict=True)
        )
        return form(contours, *rest)

    form = module._form
    monkeypatch.setattr(module, "_form", counted)
    front = read_front(geometries / "plover.csv")
    screening = screen(front, tape_start=tape_start)
    assert set(formed) == {section.points.tobytes() for section in front.sections}
    assert screening.zones.lines
    assert screening.findings
    assert len(formed) > len(front.sections)
    assert len(formed) == len(set(formed))


@pytest.mark.parametrize(
    ("ys", "said"),
    [
        ([0.0], "at y = 0 mm"),
        ([-20.0, 10.0], "at y = -20, 10 mm"),
        ([-20.0, -10.0, 0.0], "at y = -20 to 0 mm"),
        ([-20.0, 0.0, 10.0, 20.0, 40.0], "at y = -20, 0 to 20, 40 mm"),
        ([-20.0, -10.0, 0.0, 20.0, 30.0, 40.0], "at y = -20 to 0, 20 to 40 mm"),
        ([-20.0, -10.0, 0.0, 10.0, 20.0, 30.0, 40.0], "at all stations"),
    ],
)
def test_neighbouring_stations_are_said_as_one_stretch(ys, said):
    """Own choice: a scan has hundreds of stations, and nobody reads a list of them."""
    every = [-20.0, -10.0, 0.0, 10.0, 20.0, 30.0, 40.0]
    assert at_stations(ys, every) == said


def test_one_station_is_named():
    assert at_stations([50.0], [50.0]) == "at y = 50 mm"


def test_open_ends_are_told_once_a_line():
    """A contour that begins at its lowest bumper point: what lies below may move the line."""
    points = [(0.0, 300.0), (0.0, 600.0), (300.0, 800.0), (2600.0, 900.0)]
    sections = [Section(points, y=y) for y in (-20.0, -10.0, 0.0, 10.0)]
    result = screen(Front(sections, datum="common"))
    open_at = {name: [s.y for s in result.stations if getattr(s, name).status == "open_end"]
               for name in ("UBRL", "LBRL", "BLERL")}  # fmt: skip
    told = next(text for text in result.cautions if "(open end)" in text)
    assert open_at["LBRL"] == [-20.0, -10.0, 0.0, 10.0]
    for name, ys in open_at.items():
        assert told.count(name) == bool(ys)
        if ys:
            assert f"{name} at all stations" in told
