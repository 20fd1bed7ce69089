"""Tables of results: a column has one type, whatever is missing in it."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest

from frontcheck.comparison.two_fronts import compare
from frontcheck.front.front import Front
from frontcheck.reading.readers import read_front
from frontcheck.screening import screen
from frontcheck.sure.closure import ClosureReport, closure
from frontcheck.sure.corrections import CorrectionReport, corrected
from frontcheck.sure.intervals import tolerance
from frontcheck.sure.spacing import SpacingReport, spacing
from frontcheck.surface.section import Section

if TYPE_CHECKING:
    import pandas as pd

RULES = "UN-R127-02"
BARE = Front((Section([(43.0, 300.0), (20.0, 400.0), (20.0, 498.0), (22.0, 556.0)]),))
"""No windscreen, no bonnet, no recess: whole columns are missing."""


def kinds(frame: pd.DataFrame) -> dict[str, str]:
    """Name of the type of every column, those of the index too."""
    return {name: str(kind) for name, kind in frame.reset_index().dtypes.items()}


@pytest.fixture(scope="module")
def plover(geometries) -> Front:
    return read_front(geometries / "plover.csv")


def test_a_screening_has_the_same_types_with_whole_columns_missing(plover) -> None:
    whole, bare = screen(plover).to_frame(), screen(BARE).to_frame()
    missing = bare.columns[bare.isna().all()]
    assert {"BRRL_x_mm", "recess_depth_mm", "WAD_2100_bridged", "bonnet_angle_deg"} <= set(missing)
    assert not whole.isna().all().any()
    assert kinds(bare) == kinds(whole)
    found = kinds(whole)
    assert {found[n] for n in found if n.endswith(("_mm", "_deg"))} == {"Float64"}
    assert {found[n] for n in found if n.endswith("_status") or n == "legform"} == {"string"}
    assert {found[n] for n in found if n.endswith("_bridged")} == {"boolean"}


def test_whole_numbers_stay_numbers_with_a_point(plover) -> None:
    one = Front((plover.sections[0],))
    assert kinds(screen(one).to_frame())["UBRL_x_mm"] == "Float64"
    assert screen(one).to_frame()["UBRL_x_mm"].tolist() == [22.0]


def test_a_comparison_has_the_same_types_with_and_without_draws(plover) -> None:
    a, b = screen(plover), screen(Front(plover.sections[:2], symmetric=True))
    without, drawn = compare(a, b).to_frame(), compare(a, b, draws=100).to_frame()
    assert without["u"].isna().all()
    assert not drawn["u"].isna().all()
    assert kinds(without) == kinds(drawn)
    assert kinds(drawn)["beyond_uncertainty"] == "boolean"
    assert kinds(drawn)["change"] == kinds(drawn)["y_mm"] == "Float64"


def test_tables_of_a_measurement_have_the_same_types_empty_and_full(geometries, plover) -> None:
    survey = read_front(geometries / "plover-survey.csv")
    for full, empty in (
        (closure(survey, draws=100), ClosureReport(())),
        (corrected(survey)[1], CorrectionReport(())),
        (spacing(plover, RULES), SpacingReport((), ())),
    ):
        assert len(full.to_frame()) > 0
        assert len(empty.to_frame()) == 0
        assert kinds(empty.to_frame()) == kinds(full.to_frame())
    found = kinds(tolerance(plover, RULES, draws=100).to_frame())
    words = {name for name, kind in found.items() if kind == "string"}
    assert words == {"quantity", "reason"}
    assert {found[name] for name in found if name not in words} == {"Float64"}
