"""What a study says of limits, lines and rows of its table, at borders and in the rare cases."""

from __future__ import annotations

import csv
import math
from dataclasses import replace
from types import SimpleNamespace as Fake

import numpy as np
import pytest

from frontcheck.errors import InputError, StudyError
from frontcheck.lines.line_values import OK, OPEN_END, REASONS, STATUSES
from frontcheck.rules.ruleset import rule_set
from frontcheck.study import study_file
from frontcheck.study.head_landings import HeadLandings, no_target
from frontcheck.study.nose_dimensions import DIMENSIONS
from frontcheck.study.study import (
    Limit,
    Measured,
    Setup,
    _made,
    _of_station,
    prefixed,
    result_rows,
    status_columns,
)
from frontcheck.study.study_file import parse_study

INF = math.inf
RULES = rule_set("UN-R127-02")


@pytest.mark.parametrize(
    ("limit", "text", "columns"),
    [
        (Limit("LBRL_z_mm", None, -INF, 330.0), "LBRL_z_mm at most 330 mm at all stations",
         ("y-300_LBRL_z_mm", "y0_LBRL_z_mm")),
        (Limit("bumper_lead_mm", 0.0, 90.5, INF), "bumper_lead_mm at least 90.5 mm at y = 0 mm",
         ("y0_bumper_lead_mm",)),
        (Limit("UBRL_x_mm", -300.0, -1.0, 2.0, 0.95),
         "UBRL_x_mm at least -1 and at most 2 mm at y = -300 mm with probability 0.95",
         ("y-300_UBRL_x_mm",)),
    ],
)  # fmt: skip
def test_a_limit_in_words_and_the_columns_it_concerns(limit, text, columns) -> None:
    assert limit.text == text
    assert limit.columns((-300.0, -0.0)) == columns


def test_columns_and_the_statuses_that_they_rest_on() -> None:
    assert prefixed(-0.0, "legform") == "y0_legform"
    assert prefixed(-12.5, "LBRL_x_mm") == "y-12.5_LBRL_x_mm"
    assert status_columns("y0_LBRL_z_mm") == ("y0_LBRL_status",)
    assert status_columns("y-300_WAD_1500_x_mm") == ("y-300_WAD_1500_status",)
    assert status_columns("y0_bumper_lead_mm") == ("y0_UBRL_status", "y0_BLERL_status")


def line(z, formed=True, code=OK, x=10.0) -> Fake:
    """One line of as many variants as there are heights."""
    z = np.atleast_1d(np.array(z, dtype=float))
    n = len(z)
    given = {"formed": np.broadcast_to(np.array(formed), n), "code": np.broadcast_to(code, n)}
    return Fake(x=np.broadcast_to(np.array(x, dtype=float), n), z=z, **given)


def batch(lbrl: Fake, **more) -> Fake:
    n = len(lbrl.z)
    plain = line([500.0] * n)
    lead = np.ma.masked_array(np.full(n, 80.0), np.zeros(n, dtype=bool))
    told = {
        "LBRL": lbrl, "UBRL": plain, "BLERL": plain, "BRRL": plain, "bumper_lead": lead,
        "distances": (1000.0,), "anchor": Fake(found=np.ones(n, dtype=bool)),
        "WAD": Fake(x=np.full((n, 1), 7.0), z=np.full((n, 1), 8.0),
                    reached=np.ones((n, 1), dtype=bool)),
    }  # fmt: skip
    return Fake(**(told | more))


def columns(one: Fake) -> dict[str, tuple]:
    return {name: (values, ended) for name, values, ended in _of_station(one, RULES)}


def test_legforms_of_many_variants_at_their_limits() -> None:
    """UN R127, 02 series: lower legform below 425 mm, either from there, upper from 500 mm."""
    codes = np.full(7, OK)
    codes[6] = OPEN_END
    formed = np.array([True] * 5 + [False, True])
    found = columns(batch(line([424.9, 425.0, 499.9, 500.0, 600.0, 300.0, 300.0], formed, codes)))
    assert found["legform"][0].tolist() == ["lower", "either", "either", "upper", "upper", "", ""]
    assert np.isnan(found["LBRL_z_mm"][0]).tolist() == [False] * 5 + [True, False]
    assert found["LBRL_z_mm"][1].tolist() == [False] * 6 + [True]
    assert found["LBRL_status"][0].tolist() == ["ok"] * 6 + ["open_end"]


@pytest.mark.parametrize(
    ("name", "ended"), [("UBRL", True), ("BLERL", True), ("LBRL", False), ("BRRL", False)]
)
def test_the_lead_is_not_known_where_either_of_its_lines_is_not(name, ended) -> None:
    found = columns(batch(line([300.0]), **{name: line([500.0], code=OPEN_END)}))
    assert found["bumper_lead_mm"][1].tolist() == [ended]
    assert found[f"{name}_x_mm"][1].tolist() == [True]
    gone = np.ma.masked_array([80.0], [True])
    found = columns(batch(line([300.0]), bumper_lead=gone, UBRL=line([500.0], code=OPEN_END)))
    assert np.isnan(found["bumper_lead_mm"][0]).all()
    assert found["bumper_lead_mm"][1].tolist() == [False]


def test_a_mark_needs_a_tape_that_hangs_and_reaches() -> None:
    for reached, hung, status in ((1, 1, "ok"), (0, 1, "not_reached"), (1, 0, "not_reached")):
        marks = Fake(x=np.array([[7.0]]), z=np.array([[8.0]]), reached=np.array([[bool(reached)]]))
        one = batch(line([300.0]), WAD=marks, anchor=Fake(found=np.array([bool(hung)])))
        found = columns(one)
        assert found["WAD_1000_status"][0].tolist() == [status]
        assert np.isnan(found["WAD_1000_x_mm"][0]).tolist() == [status != "ok"]
        expected = 8.0 if status == "ok" else math.nan
        np.testing.assert_array_equal(found["WAD_1000_z_mm"][0], [expected])


def test_what_an_open_end_could_change_is_not_known() -> None:
    measured = Measured(
        np.ones(3, dtype=bool), ("",) * 3, {"n": np.array([1.0, 2.0, np.nan])},
        {"n": np.array([False, True, False])},
    )  # fmt: skip
    np.testing.assert_array_equal(measured.known("n"), [1.0, np.nan, np.nan])


BEHIND = """
[nose]
stations_mm = [0, 300]
[vary]
lower_lip_height_mm = { values = [330, 340, 480] }
lead_mm = { values = [100] }
[sampling]
method = "grid"
"""


def test_rows_of_the_table_say_what_is_incomplete_and_what_cannot_be_made(monkeypatch) -> None:
    study = parse_study(BEHIND)
    setup = study.setup

    def rows(first: int, sample: int) -> list[list[str]]:
        text = result_rows(setup, first, sample, study.values).decode()
        return list(csv.reader(text.splitlines()))

    told = rows(5, 7)
    assert [row[:2] for row in told] == [["5", "sample"], ["6", "sample"], ["7", "sensitivity"]]
    assert [row[2:5] for row in told] == [
        ["330.0", "100.0", "ok"], ["340.0", "100.0", "ok"], ["480.0", "100.0", "infeasible"]
    ]  # fmt: skip
    assert told[2][5].startswith("a wall of a recess would run downward")
    assert set(told[2][6:]) == {""}
    from frontcheck.study import study as module

    real = module.measure

    def lost(name: str, how: str):
        """Lose one number of the second variant, or leave it not known."""

        def measured(setup, values):
            found = real(setup, values)
            if how == "gone":
                found.columns[name] = found.columns[name].copy()
                found.columns[name][1] = np.nan
            else:
                found.open_end[name] = found.open_end[name].copy()
                found.open_end[name][1] = True
            return found

        return measured

    for name in ("y0_LBRL_x_mm", "y300_BLERL_x_mm", "y0_bumper_lead_mm", "y300_BRRL_x_mm"):
        for how in ("gone", "open"):
            monkeypatch.setattr(module, "measure", lost(name, how))
            assert [row[4] for row in rows(0, 9)] == ["ok", "incomplete", "infeasible"], name
    monkeypatch.setattr(module, "measure", lost("y0_BRRL_x_mm", "gone"))
    monkeypatch.setattr(Setup, "without", {"y0_BRRL": "why"})
    assert [row[4] for row in rows(0, 9)] == ["ok", "ok", "infeasible"]


def test_lines_that_no_variant_has_are_told_with_their_stations(monkeypatch) -> None:
    setup = parse_study(BEHIND).setup
    reason = next(k for k, text in enumerate(REASONS) if text)
    none, some = STATUSES.index("not_available"), STATUSES.index("ok")

    def said(*codes: int) -> tuple[str, ...]:
        rear = tuple(Fake(code=code, reason=reason) for code in codes)
        monkeypatch.setattr(Setup, "rear", rear)
        return setup.cautions[:-1]  # the last is that of the rule set

    ruled = said(some, some)
    assert len(ruled) == 1
    assert ruled[0].startswith("BRRL of a changed section")
    assert said(none, some)[1] == f"BRRL is formed for no variant at y0: {REASONS[reason]}."
    assert said(some, none)[1] == f"BRRL is formed for no variant at y300: {REASONS[reason]}."
    assert said(none, none) == (f"BRRL is formed for no variant: {REASONS[reason]}.",)


def test_heads_are_struck_on_the_first_of_a_block_that_are_of_the_sample() -> None:
    heads = Fake(cells=lambda front, _, *, struck: [front, struck])
    setup = Fake(shapes=Fake(front=lambda row: row[0]), across=False, heads=heads, rules=None)
    feasible = np.array([True, False, True, True])
    found = _made(setup, np.array([[1.0], [2.0], [3.0], [4.0]]), feasible, 2)
    assert found == [[1.0, None, 3.0, 4.0], [True, True, False, False]]


def test_variants_worked_on_at_once() -> None:
    setup = parse_study(BEHIND).setup
    heads = HeadLandings(("man p50",), 0.0, 40.0, 100, 1)
    assert setup.block == 256
    assert replace(setup, across=True).block == 8
    assert replace(setup, heads=heads).block == 1
    assert replace(setup, heads=heads, across=True).block == 1


# Heads.


def test_columns_and_cost_of_heads() -> None:
    heads = HeadLandings(("man p50", "six-year-old"), -0.0, 40.0, 100, 1)
    assert heads.columns[:5] == tuple(
        f"y0_head_wad_man_p50_{what}"
        for what in ("median_mm", "p5_mm", "p95_mm", "status", "reason")
    )
    assert heads.columns[5] == "y0_head_wad_six_year_old_median_mm"
    assert heads.cells(None, RULES, struck=True) == [None] * 10
    why = "made for the sensitivities of lines only; heads are asked for in the sample"
    assert heads.cells(Fake(), RULES, struck=False) == [None, None, None, "not_available", why] * 2
    assert heads.cost(300, 4) == (
        "Heads: 300 variants x 2 people x 100 draws = 60000 runs; 750 s at 20 runs a second on "
        "each of 4 at work. Variants that were made before are not made again."
    )
    assert no_target("LBRL_z_mm") is None
    assert "found 'head_wad'; expected a line of the front: where a head" in str(
        no_target("head_wad")
    )


# Study files: what is taken at its border, and defaults.

GOOD = "[nose]\n[vary]\nlower_lip_height_mm = { low = 320, high = 350 }\n"


def sampled(more: str, top: str = "") -> str:
    return f"{top}{GOOD}[sampling]\n{more}\n"


@pytest.mark.parametrize(
    ("text", "taken"),
    [
        (sampled("variants = 1"), True),
        (sampled("variants = 10_000_001"), False),
        (sampled("seed = 0"), True),
        (sampled("seed = 4294967295"), True),
        (sampled("seed = 4294967296"), False),
        (GOOD.replace("high = 350", "high = 350, steps = 2"), True),
        (GOOD.replace("high = 350", "high = 350, steps = 1"), False),
        (GOOD.replace("high = 350", "high = 350, steps = 10_000"), True),
        (GOOD.replace("high = 350", "high = 350, steps = 10_001"), False),
        (GOOD.replace("[nose]", "[nose]\nchord_tolerance_mm = 5"), True),
        (GOOD.replace("[nose]", "[nose]\nchord_tolerance_mm = 5.01"), False),
        (GOOD.replace("[nose]", "[nose]\nchord_tolerance_mm = 0.0001"), True),
        (GOOD.replace("[nose]", "[nose]\nchord_tolerance_mm = 0.00009"), False),
        (GOOD.replace("[nose]", "[nose]\nstations_mm = [0, 2199.9]"), True),
        (GOOD.replace("[nose]", "[nose]\nstations_mm = [0, 2200]"), False),
        (GOOD.replace("[nose]", "[nose]\nstations_mm = [-2200, 0]"), False),
        (GOOD.replace("[nose]", "[nose]\nstations_mm = [0, 0]"), False),
        (f"{GOOD}[sensitivity]\nsamples = 1", True),
        (f"{GOOD}[sensitivity]\nsamples = 3", False),
        (f"{GOOD}[sensitivity]\nsamples = -1", False),
        (f"{GOOD}[sensitivity]\nsamples = 2097152", False),
        (f"{GOOD}[[limits]]\nline = 'LBRL_z_mm'\nat_least_mm = 3\nat_most_mm = 3", True),
        (f"{GOOD}[motion]\npeople = []", False),
    ],
)
def test_what_a_study_takes_at_its_borders(text, taken) -> None:
    if taken:
        assert parse_study(text).count
    else:
        with pytest.raises(StudyError):
            parse_study(text)


def test_every_dimension_of_a_nose_is_taken_at_the_ends_of_its_range_and_not_beyond() -> None:
    for d in DIMENSIONS:
        words = f"expected a number from {d.low:g} to {d.high:g} {d.unit}"
        step = 1e-4 * (d.high - d.low)
        for at, beyond in ((d.low, d.low - step), (d.high, d.high + step)):
            head = f"[nose]\n{d.name} = "
            with pytest.raises(StudyError) as caught:
                parse_study(f"{head}{beyond!r}")
            assert f"key nose.{d.name}: found {beyond!r}; {words}" in str(caught.value)
            with pytest.raises(StudyError) as caught:
                parse_study(f"{head}{at!r}")
            assert words not in str(caught.value)  # nothing varies, or it cannot be made


def test_chances_and_blends_of_a_measured_front_at_their_borders(geometries) -> None:
    head = '[front]\nfile = "plover.csv"\nstations_mm = [0]\n'
    vary = "[vary]\nnose_up_mm = { low = 0, high = 1 }\n[sampling]\nvariants = 2\n"

    def chance(p: float) -> str:
        limit = f"[[limits]]\nline = 'LBRL_z_mm'\nat_most_mm = 3\nprobability = {p}"
        return f"{head}{vary}{limit}"

    for p, taken in ((0.5, True), (0.9999, True), (0.499, False), (0.99995, False)):
        if taken:
            assert parse_study(chance(p), folder=geometries).limits[0].probability == p
        else:
            with pytest.raises(StudyError, match="probability"):
                parse_study(chance(p), folder=geometries)
    for blend, taken in ((1.0, True), (5000.0, True), (0.99, False), (5000.1, False)):
        text = f"{head}blend_mm = {blend}\n{vary}"
        if taken:
            assert parse_study(text, folder=geometries).setup.shapes.blend == blend
        else:
            with pytest.raises(StudyError, match="blend_mm"):
                parse_study(text, folder=geometries)


def test_what_is_not_said_has_its_default() -> None:
    study = parse_study(GOOD)
    assert (study.method, study.seed, len(study.sample)) == ("sobol", 1, 1024)
    assert (study.sensitivity_samples, study.limits, study.name) == (0, (), "study")
    assert study.sensitivity_of == ("LBRL_z_mm", "UBRL_z_mm", "BLERL_z_mm", "bumper_lead_mm")
    assert (study.setup.across, study.setup.heads) == (False, None)
    assert (study.setup.shapes.stations, study.setup.shapes.chord_tolerance) == ((0.0,), 0.02)
    levels = parse_study(sampled('method = "grid"')).sample
    assert levels[:, 0] == pytest.approx([320.0, 327.5, 335.0, 342.5, 350.0])
    drawn = parse_study(sampled('method = "latin-hypercube"\nvariants = 7'))
    assert (len(drawn.sample), drawn.method) == (7, "latin-hypercube")
    assert parse_study(GOOD, "some/lips.toml").name == "lips"
    moved = parse_study(f"{GOOD}[motion]\npeople = ['man p50', 'man p50']").setup.heads
    assert (moved.people, moved.station) == (("man p50",), 0.0)
    near = GOOD.replace("[nose]", "[nose]\nstations_mm = [-200, -50, 90]")
    assert parse_study(f"{near}[motion]\npeople = ['man p50']").setup.heads.station == -50.0


def test_the_largest_grid_and_no_larger(monkeypatch) -> None:
    monkeypatch.setattr(study_file, "_MOST", 6)
    text = sampled('method = "grid"').replace("high = 350", "high = 350, steps = 3")
    two = text.replace("[sampling]", "lead_mm = { values = [90, 95] }\n[sampling]")
    assert parse_study(two).count == 6
    with pytest.raises(StudyError) as caught:
        parse_study(two.replace("[90, 95]", "[90, 95, 99]"))
    assert "key sampling.method: found a grid of 9 variants; expected at most 6" in str(
        caught.value
    )


REFUSED = {
    "key vary.lead_mm.low: found key 'low'; expected no low beside values": (
        "[nose]\n[vary]\nlead_mm = { values = [90], low = 3 }"),
    "key vary.lead_mm.high: found key 'high'; expected no high beside values": (
        "[nose]\n[vary]\nlead_mm = { values = [90], high = 3 }"),
    "key vary.lead_mm.steps: found key 'steps'; expected no steps beside values": (
        "[nose]\n[vary]\nlead_mm = { values = [90], steps = 3 }"),
    "key vary.lead_mm.low: found no low; expected a number": (
        "[nose]\n[vary]\nlead_mm = { high = 90 }"),
    "key vary.lead_mm.high: found no high; expected a number": (
        "[nose]\n[vary]\nlead_mm = { low = 90 }"),
    "key vary.lead_mm.high: found 90; expected a number above low, 90": (
        "[nose]\n[vary]\nlead_mm = { low = 90, high = 90 }"),
    "key sampling.file: found key 'file'; expected no file beside method = 'sobol'": (
        sampled("file = 'x.csv'")),
    "key sampling.variants: found key 'variants'; expected no variants beside method = 'list'": (
        sampled("file = 'x.csv'\nmethod = 'list'\nvariants = 3")),
    "key limits[2].station_mm: found 7; expected one of 0": (
        f"{GOOD}[[limits]]\nline = 'LBRL_z_mm'\nat_most_mm = 2\n"
        "[[limits]]\nline = 'LBRL_z_mm'\nat_most_mm = 2\nstation_mm = 7"),
    "key limits[1].at_most_mm: found 2; expected at_least_mm, 3, or more": (
        f"{GOOD}[[limits]]\nline = 'LBRL_z_mm'\nat_least_mm = 3\nat_most_mm = 2"),
    "key motion.people[2]: found 'nobody'; expected one of": (
        f"{GOOD}[motion]\npeople = ['man p50', 'nobody']"),
    "key motion.station_mm: found 7; expected one of 0": (
        f"{GOOD}[motion]\npeople = ['man p50']\nstation_mm = 7"),
    "key nose.stations_mm: found [3.0, 1.0]; expected stations in increasing order": (
        GOOD.replace("[nose]", "[nose]\nstations_mm = [3, 1]")),
    "key sensitivity.samples: found 6; expected a power of two, or 0": (
        f"{GOOD}[sensitivity]\nsamples = 6"),
    "found neither [nose] nor [front]; expected one of them": "name = 'x'",
    "found both [nose] and [front]; expected one of them": "[nose]\n[front]\nfile = 'x'",
}  # fmt: skip


@pytest.mark.parametrize("words", REFUSED)
def test_what_is_refused_names_key_and_numbers(words) -> None:
    with pytest.raises(InputError) as caught:
        parse_study(REFUSED[words])
    assert words in str(caught.value)
