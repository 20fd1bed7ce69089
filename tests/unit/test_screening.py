"""One call from a front to its screening: options, refusals, table and document."""

from __future__ import annotations

import json

import numpy as np
import pytest

import frontcheck
from frontcheck import CAUTION, Front, Section, rule_set, screen
from frontcheck.documents import WadEntry
from frontcheck.errors import RuleSetError
from frontcheck.lines.line_values import STATUSES
from frontcheck.serializer import plain

NOSE = np.array(
    [(300, 200), (20, 220), (0, 500), (60, 760), (900, 880), (1000, 850), (1700, 1250)], float
)
PARTS = ("underside", "bumper", "bumper", "bonnet", "bonnet", "windscreen", "windscreen")


def front(**changes) -> Front:
    sections = [
        Section(np.add(NOSE, [y * y / 4000.0, 0.0]), y=y, parts=PARTS) for y in (0.0, 300.0, 600.0)
    ]
    return Front(tuple(sections), **({"symmetric": True} | changes))


def test_one_station_a_section_and_the_distances_asked_for():
    result = screen(front(), wad=(775, 930.0, 775.0))
    assert [s.y for s in result.stations] == [0.0, 300.0, 600.0]
    assert result.wad == (775.0, 930.0)
    assert [w.name for w in result.station(300.0).wads] == ["WAD 775", "WAD 930"]
    assert result.rules.id == "UN-R127-02"
    assert screen(front()).wad == (1000.0, 1500.0, 1700.0, 2100.0)


@pytest.mark.parametrize("wad", [(0.0,), (-5.0,), (float("nan"),), (1000.0, float("inf"))])
def test_distances_must_be_positive_lengths(wad):
    with pytest.raises(ValueError, match="positive length"):
        screen(front(), wad=wad)


def test_unknown_options_are_refused():
    with pytest.raises(ValueError, match="tape_start"):
        screen(front(), tape_start="nose")
    with pytest.raises(RuleSetError, match="found rule set"):
        screen(front(), "EU-1")


def test_unknown_stations_and_distances_name_what_there_is():
    result = screen(front())
    with pytest.raises(KeyError, match="no station at 50 mm"):
        result.station(50.0)
    with pytest.raises(KeyError, match="WAD 900 was not asked for"):
        result.station(0.0).wad(900.0)
    with pytest.raises(KeyError, match="no station at 50 mm"):
        result.tape(50.0)


def test_tape_is_that_of_the_marks():
    for start in ("section", "vehicle"):
        result = screen(front(), tape_start=start)
        for station in result.stations:
            tape = result.tape(station.y)
            for point in station.wads:
                found = tape.solve(point.distance)
                if point.formed:
                    assert (found[0].x, found[0].z) == pytest.approx(
                        (point.x, point.z), rel=0, abs=1e-9
                    )
                    assert found[0].bridged == point.bridged
                else:
                    assert found == ()


def test_local_datum_has_no_whole_vehicle():
    result = screen(front(datum="local"), tape_start="vehicle")
    station = result.stations[0]
    assert {w.status for w in station.wads} == {"not_available"}
    assert all(w.x is None and w.bridged is None and w.reason for w in station.wads)
    assert station.UBRL.formed
    assert not result.complete
    with pytest.raises(KeyError, match="no tape"):
        result.tape(0.0)


def test_every_further_solution_is_listed():
    """A recess in the face: 303 mm is met three times (test_contact_tape.py), the first used."""
    slot = Section(
        [(300, 100), (0, 100), (0, 200), (40, 200), (40, 300), (0, 300), (0, 500), (600, 520)]
    )
    (station,) = screen(Front((slot,)), wad=(303.0, 400.0)).stations
    point = station.wad(303.0)
    assert point.bridged
    assert (point.x, point.z) == pytest.approx((40.0, 200.0 + (103.0**2 - 40.0**2) ** 0.5))
    assert np.array(point.also_at) == pytest.approx(
        np.array([[(103.0**2 - 100.0**2) ** 0.5, 300.0], [0.0, 303.0]])
    )
    assert station.wad(400.0).also_at == ()
    document = plain(WadEntry, point)
    assert document["also_at_mm"] == [list(p) for p in point.also_at]


def test_document_is_plain_json_with_nulls_for_what_is_missing():
    """A missing line is a status and a reason; no sentinel number."""
    bare = Front((Section(NOSE[:4]),))
    document = json.loads(json.dumps(screen(bare).to_dict(), allow_nan=False))
    assert document["schema"] == "frontcheck.screening/2"
    assert document["frontcheck"] == frontcheck.__version__
    (station,) = document["stations"]
    for name in ("UBRL", "LBRL", "BLERL", "BRRL"):
        assert station[name]["status"] in STATUSES
    assert station["BRRL"] | {"reason": ""} == {
        "x_mm": None, "z_mm": None, "status": "not_available", "reason": "",
    }  # fmt: skip
    assert station["BRRL"]["reason"]
    far = station["WAD"]["2100"]
    assert (far["x_mm"], far["status"]) == (None, "not_reached")
    assert far["reason"]
    assert document["cautions"][0] == CAUTION
    assert station["legform"] in ("lower", "either", "upper")


def test_lead_and_heights_are_differences_of_points():
    """(EC) 631/2009 2.1 and 2.4: horizontal lead, height of the leading edge."""
    for station in screen(front()).stations:
        assert station.bumper_lead == station.BLERL.x - station.UBRL.x
        assert station.ble_height == station.BLERL.z
        assert station.upper_bumper_height == station.UBRL.z
        assert station.lower_bumper_height == station.LBRL.z


@pytest.mark.parametrize(
    ("height", "legform"),
    [(424.9, "lower"), (425.0, "either"), (499.9, "either"), (500.0, "upper")],
)
def test_legform_by_lower_bumper_height(height, legform):
    """UN R127.02, 5.1 (text read): below 425 lower, from 500 upper, between them either."""
    section = Section([(300, height - 20), (0, height), (0, height + 60), (300, height + 400)])
    (station,) = screen(Front((section,))).stations
    assert station.lower_bumper_height == height
    assert station.legform == legform


def test_table_has_the_numbers_of_the_stations():
    result = screen(front())
    frame = result.to_frame()
    assert frame.index.tolist() == [0.0, 300.0, 600.0]
    for station in result.stations:
        row = frame.loc[station.y]
        assert row["UBRL_x_mm"] == station.UBRL.x
        assert row["BLERL_status"] == station.BLERL.status
        assert row["WAD_1000_z_mm"] == station.wad(1000.0).z
        assert row["bumper_lead_mm"] == station.bumper_lead


def test_html_shows_the_name_as_text_and_the_caution():
    html = screen(front(name="<b>nose</b>"))._repr_html_()
    assert "<b>nose</b>" not in html
    assert "&lt;b&gt;nose" in html
    assert "screening" in html


def test_same_input_gives_the_same_document():
    one, two = (json.dumps(screen(front()).to_dict()) for _ in range(2))
    assert one == two


def test_a_changed_constant_is_named():
    rules = rule_set().with_values({"wad.distances_mm": [1200.0]})
    result = screen(front(), rules)
    assert result.wad == (1200.0,)
    assert result.to_dict()["settings"]["constants_set_by_user"] == ["wad.distances_mm"]


def test_cautions_name_slope_datum_and_open_ends():
    sloped = front(ground_slope_deg=1.5, datum="local")
    text = " ".join(screen(sloped).cautions)
    assert "1.5 deg" in text
    assert "local" in text
    open_below = Front((Section([(0.0, 300.0), (0.0, 500.0), (60.0, 760.0), (900.0, 880.0)]),))
    assert any("LBRL at y = 0 mm" in c for c in screen(open_below).cautions)
