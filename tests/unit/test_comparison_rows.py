"""Rows and documents of a comparison where something is missing, not drawn, or on one side only."""

from __future__ import annotations

from types import SimpleNamespace as Fake

import numpy as np
import pytest

from frontcheck.comparison.changes import Change
from frontcheck.comparison.comparison_document import (
    ChangeEntry,
    ContourDistanceEntry,
    FindingChangeEntry,
    SurfaceEntry,
    _contour,
    _kinds,
)
from frontcheck.comparison.comparison_result import Comparison
from frontcheck.comparison.contour_distance import SurfaceOverlay, SurfaceRow, contour_distance
from frontcheck.comparison.finding_changes import FindingChange
from frontcheck.findings.finding import Finding, Region
from frontcheck.findings.finding_rules import FindingRule
from frontcheck.serializer import plain

ALWAYS = {"unit", "a", "b", "change", "not_comparable"}
STATUSES = {"status_a", "status_b", "status_changed"}
DRAWN = {"u", "beyond_uncertainty", "chance_b_less", "chance_b_more"}


@pytest.mark.parametrize(
    ("more", "keys"),
    [
        ({}, set()),
        ({"status_a": "ok", "status_b": "ok"}, STATUSES),
        ({"status_a": "ok"}, STATUSES),
        ({"status_b": "ok"}, STATUSES),
        ({"u": 2.0}, set()),  # without chances nothing was drawn
        ({"chance_less": 0.0, "chance_more": 0.0}, DRAWN),
        ({"u": 2.0, "chance_less": 0.25, "chance_more": 0.5}, DRAWN),
    ],
)
def test_a_change_in_the_document_holds_what_is_known_of_it(more, keys) -> None:
    change = Change("q_mm", "w", "mm", 1.0, 6.0, 5.0, reason="why", **more)
    entry = plain(ChangeEntry, change)
    assert set(entry) == ALWAYS | keys
    assert (entry["a"], entry["b"], entry["change"]) == (1.0, 6.0, 5.0)
    assert entry["not_comparable"] == "why"
    if keys == STATUSES:
        told = more.get("status_a", ""), more.get("status_b", "")
        assert (entry["status_a"], entry["status_b"]) == told
        assert entry["status_changed"] == (told[0] != told[1])
    if keys == DRAWN:
        assert entry["u"] == more.get("u")
        assert entry["beyond_uncertainty"] == (True if "u" in more else None)
        chances = entry["chance_b_less"], entry["chance_b_more"]
        assert chances == (more["chance_less"], more["chance_more"])


LEVEL = np.array([[0.0, 200.0], [0.0, 300.0]])


def test_contours_in_the_document_stand_on_their_own_front() -> None:
    none = _contour(Fake(contour=None, contour_reason="why"))
    assert (none.status, none.reason, none.sign) == ("not_available", "why", "")
    same = Fake(contour=contour_distance(LEVEL, LEVEL), contour_reason="")
    assert _contour(same).status == "ok"
    face = np.array([[0.0, 200.0], [0.0, 500.0], [0.0, 800.0]])
    shorter = np.array([[-3.0, 300.0], [-3.0, 500.0], [-3.0, 800.0]])
    found = plain(ContourDistanceEntry, contour_distance(face, shorter, 40.0))
    assert (found["status"], found["sign"]) == ("ok", "positive where B stands outside A")
    assert found["outward"]["distance_mm"] == 3.0
    assert (found["outward"]["on_a_mm"][0], found["outward"]["on_b_mm"][0]) == (0.0, -3.0)
    assert found["inward"] is None
    # Its own rows only, and no number below where B was measured.
    assert [(p["z_mm"], p["arc_mm"], p["distance_mm"]) for p in found["at_points_of_a"]] == [
        (200.0, 0.0, None), (500.0, 300.0, 3.0), (800.0, 600.0, 3.0)
    ]  # fmt: skip


def test_surfaces_in_the_document() -> None:
    rows = (SurfaceRow(50.0, (1.0, None), (2.0, 3.0), 4.0, 5.0),)
    assert plain(SurfaceEntry, SurfaceOverlay((300.0, 400.0), rows, "")) == {
        "status": "ok", "reason": "", "heights_mm": [300.0, 400.0],
        "rows": [{"y_mm": 50.0, "foremost_x_a_mm": [1.0, None], "foremost_x_b_mm": [2.0, 3.0],
                  "b_outside_a_mm": 4.0, "b_inside_a_mm": 5.0}],
    }  # fmt: skip
    none = plain(SurfaceEntry, SurfaceOverlay((300.0,), (), "why"))
    assert (none["status"], none["reason"]) == ("not_available", "why")


def finding(kind: str) -> FindingChange:
    rule = FindingRule("X", "leg", "leg", "own choice", "t", "m", "l", 2.0, "mm", ">", "s", "p")  # type: ignore[arg-type]
    one = Finding(rule, Region("lip"), 0.0, 3.0, "m", "s", "p50")
    pair = (None, one) if kind == "new" else (one, None) if kind == "gone" else (one, one)
    return FindingChange(kind, *pair, kind == "new", 1.0, ("p50",), ("p5",), None, "why")  # type: ignore[arg-type]


def test_findings_in_the_document_stand_on_the_side_that_has_them() -> None:
    entries = {kind: plain(FindingChangeEntry, finding(kind)) for kind in ("new", "gone", "moved")}
    assert [each["a"] is None for each in entries.values()] == [True, False, False]
    assert [each["b"] is None for each in entries.values()] == [False, True, False]
    assert [each["crossed_threshold"] for each in entries.values()] == [True, False, False]
    new = entries["new"]
    assert (new["code"], new["region"], new["people_new"], new["people_gone"]) == (
        "X", "lip", ["p50"], ["p5"]
    )  # fmt: skip
    assert (new["beyond_uncertainty"], new["beyond_not_known"]) == (None, "why")
    kinds = [finding(kind) for kind in ("new", "same", "same", "gone", "same")]
    assert _kinds(Fake(findings=kinds)) == {"new": 1, "gone": 1, "moved": 0, "same": 3}


def change(quantity: str, by: float | None) -> Change:
    return Change(quantity, "w", "mm", 1.0, 2.0, by, status_a="ok")


def station(y: float, contour, legforms=("lower", "lower"), missing=("", "")) -> Fake:
    """One station of which every quantity of the summary changed by its place in it."""
    names = ("LBRL_z_mm", "UBRL_z_mm", "BLERL_z_mm", "bumper_lead_mm", "lip_behind_bumper_mm",
             "WAD_1000_x_mm")  # fmt: skip
    changes = {name: change(name, float(k)) for k, name in enumerate(names)}
    sides = [Fake(station=Fake(missing=each)) for each in missing]
    return Fake(
        y=y, change=changes.__getitem__, contour=contour, legform_words=legforms, differs=False,
        matched=Fake(a=sides[0], b=sides[1]), lines=(changes["LBRL_z_mm"],), face=(),
        leg=Fake(changes=(changes["lip_behind_bumper_mm"],)),
    )  # fmt: skip


def comparison(*stations: Fake, zones=(), findings=()) -> Comparison:
    return Comparison(
        Fake(wad=(1000.0,)), Fake(), "none", "", stations, None, zones, findings, (), 0, 1, (), ()
    )  # type: ignore[arg-type]


def test_the_summary_of_stations_with_and_without_contours() -> None:
    one, two = comparison(
        station(0.0, Fake(reach=(4.0, -2.0))), station(300.0, None, ("lower", "not known"))
    ).summary()
    assert one == {
        "y": 0.0, "LBRL z": 0.0, "UBRL z": 1.0, "BLERL z": 2.0, "lead": 3.0,
        "lip behind bumper": 4.0, "WAD 1000 x": 5.0, "B outside": 4.0, "B inside": -2.0,
        "legform": "lower",
    }  # fmt: skip
    assert (two["B outside"], two["B inside"]) == (None, None)
    assert two["legform"] == "lower > not known"


def test_records_name_their_group_and_leave_out_what_is_empty() -> None:
    rows = comparison(station(0.0, None), zones=(change("area_m2", None),)).records()
    assert [(row["y_mm"], row["group"], row["quantity"]) for row in rows] == [
        (0.0, "lines", "LBRL_z_mm"), (0.0, "leg zone", "lip_behind_bumper_mm"),
        (None, "zones", "area_m2"),
    ]  # fmt: skip
    assert (rows[0]["status_a"], rows[0]["status_b"], rows[0]["not_comparable"]) == (
        "ok", None, None
    )  # fmt: skip
    assert (rows[0]["chance_b_less"], rows[0]["chance_b_more"]) == (None, None)


def test_one_line_missing_in_either_front_makes_a_comparison_incomplete() -> None:
    for missing, complete in ((("", ""), True), (("BRRL", ""), False), (("", "BRRL"), False)):
        both = comparison(station(0.0, None), station(300.0, None, missing=missing))
        assert both.complete is complete


def test_a_finding_that_is_not_the_same_is_a_change() -> None:
    assert not comparison(findings=(finding("same"),)).changed
    assert comparison(findings=(finding("same"), finding("moved"))).changed
