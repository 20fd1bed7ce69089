"""What the terminal says of a measurement in rare cases: words worked out by hand, own choice.

Stand-ins hold nothing but what is told; lengths in mm.
"""

from __future__ import annotations

from types import SimpleNamespace as Part

import numpy as np
import pytest

from frontcheck.outputs.text import tolerance_text as told
from frontcheck.outputs.text.terminal import Plain
from frontcheck.sure.corrections import Correction, CorrectionReport, LineMove
from frontcheck.sure.spacing import LineGap
from frontcheck.sure.tolerance_result import (
    LineTolerance,
    MeasureAgain,
    Spread,
    StationTolerance,
    ThresholdShare,
)
from frontcheck.sure.uncertainty import Uncertainty

STYLE = Plain()


def flat(parts: list[str]) -> str:
    return " ".join(" ".join(parts).split())


def spread(nominal: float | None, low: float, high: float) -> Spread:
    return Spread("z", nominal, (low + high) / 2.0, low, high, 1.0, 1.0)


def line(name: str, status: str = "ok", **more: object) -> LineTolerance:
    held = {
        "statuses": ((status, 1.0),), "nominal_status": status, "x": spread(11.0, 10.0, 12.0),
        "z": spread(501.0, 500.0, 502.0), "contacts": (), "nominal": (11.0, 501.0),
    }  # fmt: skip
    return LineTolerance(name, **(held | more))


def station(y: float, *lines: LineTolerance, **more: object) -> StationTolerance:
    names = {one.name for one in lines}
    rest = [line(name) for name in ("LBRL", "UBRL", "BLERL", "BRRL") if name not in names]
    held = {
        "bumper_lead": spread(80.0, 78.0, 82.0), "legform": (("lower", 1.0),), "thresholds": (),
        "crossed": 0.0,
    }  # fmt: skip
    return StationTolerance(y, (*rest, *lines), **(held | more))


OPEN = {"status": "open_end", "x": None, "z": None}
GONE = {"status": "not_reached", "x": None, "z": None, "nominal": None}


@pytest.mark.parametrize(
    ("here", "column", "cell"),
    [
        (station(0.0), "UBRL z", "501.0 [500.0, 502.0]"),
        (station(0.0), "BRRL x", "11.0 [10.0, 12.0]"),
        (station(0.0), "lead", "80.0 [78.0, 82.0]"),
        (station(0.0, line("UBRL", z=spread(None, 500.0, 502.0))), "UBRL z", "- [500.0, 502.0]"),
        (station(0.0, line("UBRL", **OPEN)), "UBRL z", "(501.0, open end)"),
        (station(0.0, line("BRRL", **OPEN)), "BRRL x", "(11.0, open end)"),
        (station(0.0, line("UBRL", **OPEN | {"nominal": None})), "UBRL z", "-"),
        (station(0.0, line("UBRL", **GONE)), "UBRL z", "-"),
        (station(0.0, line("UBRL", **OPEN), bumper_lead=None), "lead", "(open end)"),
        (station(0.0, line("BLERL", **OPEN), bumper_lead=None), "lead", "(open end)"),
        (station(0.0, line("LBRL", **OPEN), bumper_lead=None), "lead", "-"),
        (station(0.0, line("UBRL", **GONE), bumper_lead=None), "lead", "-"),
        (station(0.0, line("WAD 1000", z=spread(1.0, 0.0, 2.0))), "WAD 1000 z", "1.0 [0.0, 2.0]"),
    ],
)
def test_an_interval_or_why_there_is_none(here, column, cell) -> None:
    assert told._interval(here, column) == cell


@pytest.mark.parametrize(
    ("share", "words"),
    [
        (0.0, "0.0 %"), (1e-9, "< 0.1 %"), (0.0009, "< 0.1 %"), (0.001, "0.1 %"), (0.5, "50.0 %"),
        (0.999, "99.9 %"), (0.9991, "> 99.9 %"), (1.0, "100.0 %"),
    ],
)  # fmt: skip
def test_what_is_rare_is_not_said_to_be_nothing(share, words) -> None:
    assert told._share(share) == words


def section(height=None, setback=None) -> Part:
    return Part(
        height_u=None if height is None else np.array(height, dtype=float),
        setback_u=None if setback is None else np.array(setback, dtype=float),
    )


@pytest.mark.parametrize(
    ("settings", "sections", "words"),
    [
        ({"height_u_mm": 2.0}, [section()], "height of a row 2 mm"),
        # Own values of every row count alone; of some rows, beside what is given for the rest.
        ({"height_u_mm": 2.0}, [section([1.0, 1.5, 3.0])], "height of a row 1 to 3 mm"),
        ({"height_u_mm": 2.0}, [section([5.0]), section()], "height of a row 2 to 5 mm"),
        ({"height_u_mm": 2.0}, [section([0.0])], ""),
        ({"setback_u_mm": 1.5}, [section([4.0])], "height of a row 4 mm, setback of a row 1.5 mm"),
        (
            {"datum_u_mm": 1.0, "square_tilt_u_deg": 0.2, "ground_slope_u_deg": 0.1},
            [section()],
            "datum 1 mm, square 0.2 deg, ground 0.1 deg",
        ),
        (
            {"ride_height_u_mm": 3.0, "pitch_u_deg": 0.3, "scale_u_percent": 0.5},
            [section()],
            "ride height 3 mm, pitch 0.3 deg, scale 0.5 %",
        ),
    ],
)
def test_uncertainties_are_named_with_unit_and_range(settings, sections, words) -> None:
    of = Part(settings=Uncertainty(**settings), front=Part(sections=sections))
    assert told._settings(of) == f"Standard uncertainties: {words}."


def of(*stations: StationTolerance) -> Part:
    return Part(stations=stations, wad=())


def test_lines_of_one_status_in_every_draw_are_said_in_a_sentence() -> None:
    assert told._statuses(STYLE, of(station(0.0))) == [
        "Every line has the same status in every draw.\n"
    ]


def test_lines_of_several_statuses_stand_in_a_table_by_name() -> None:
    both = (("ok", 0.7), ("edge_end", 0.3))
    (text,) = told._statuses(
        STYLE,
        of(station(-9.0, line("UBRL", statuses=both)), station(0.0, line("BLERL", statuses=both))),
    )
    rows = [line.split("  ") for line in text.splitlines()[2:]]
    assert [row[0] for row in rows if row[0]] == ["BLERL", "UBRL"]
    assert "70.0 %" in text
    assert "edge end" in text


def test_legforms_sure_in_every_draw_and_those_that_are_not() -> None:
    two = of(
        station(0.0, legform=(("lower", 1.0), ("either", 0.0), ("missing", 0.0))),
        station(9.0, legform=(("lower", 0.25), ("either", 0.5), ("missing", 0.25))),
    )
    said = flat(told._legform(STYLE, two))
    assert "Legform by lower bumper height: lower in every draw" in said
    assert "y lower either not known 9 25.0 % 50.0 % 25.0 %" in said
    none = flat(told._legform(STYLE, of(station(0.0, legform=(("missing", 1.0),)))))
    assert "Legform by lower bumper height: not known in every draw" in none
    assert "share of the draws" not in none


def test_thresholds_say_on_which_side() -> None:
    each = ThresholdShare("ble_height_mm", 800.0, 0.2, 0.7, 0.1)
    assert told._thresholds(STYLE, of(station(0.0))) == []
    (text,) = told._thresholds(STYLE, of(station(-9.0, thresholds=(each,))))
    heads, row = (" ".join(each.split()) for each in text.splitlines()[1:3])
    assert heads == "quantity threshold y below at or above not formed"
    assert row == "ble_height_mm 800 -9 20.0 % 70.0 % 10.0 %"


@pytest.mark.parametrize(
    ("item", "row"),
    [
        (MeasureAgain(5.0, "height", 3, 12, "UBRL_z_mm", 2.26),
         "height, row 12 of the file y = 5 UBRL z 2.3"),
        (MeasureAgain(-5.0, "setback", 3, None, "WAD_1000_x_mm", 1.0),
         "setback, point 4 y = -5 WAD 1000 x 1.0"),
        (MeasureAgain(5.0, "datum", None, None, "bumper_lead_mm", 1.0),
         "datum y = 5 bumper lead 1.0"),
        *((MeasureAgain(5.0, name, None, None, "UBRL_z_mm", 1.0), f"{name} vehicle UBRL z 1.0")
          for name in ("ground slope", "ride height", "pitch", "scale")),
    ],
)  # fmt: skip
def test_what_to_measure_again_and_where(item, row) -> None:
    """An error that all stations share is one of the vehicle."""
    text = told._again(STYLE, [item])
    assert " ".join(text.splitlines()[1].split()) == "reading where moves by"
    assert " ".join(text.splitlines()[2].split()) == row


def gap(move: float, *add: tuple[float, float]) -> LineGap:
    return LineGap(-300.0, "UBRL", 10.0, 500.0, 9.0, 12.0, 498.0, 500.0 + move, 20.0, add)


def spaced(*gaps: LineGap, open_ends=()) -> Part:
    wide = [each for each in gaps if not each.close_enough]
    return Part(gaps=gaps, too_wide=wide, open_ends=open_ends)


def test_rows_close_enough_are_said_with_the_limit_where_there_is_one() -> None:
    near = flat(told._gaps(STYLE, spaced(gap(20.0)), "section"))
    assert near.startswith(
        "The rows are close enough together: no line could move by more than 20 mm."
    )
    none = flat(told._gaps(STYLE, spaced(open_ends=((300.0, "UBRL"),)), "vehicle"))
    assert none.startswith("The rows are close enough together. Between two rows")
    assert none.endswith("Rows in between do not settle UBRL at y = 300: its end is open.")
    assert "tapes are hung" not in none


def test_rows_too_far_apart_are_told_with_where_to_add_some() -> None:
    places = ((510.0, 20.0), (520.0, 30.0), (530.0, 40.0), (540.0, 50.0))
    text = told._gaps(
        STYLE, spaced(gap(20.1, *places), gap(5.0), open_ends=((0.0, "LBRL"),)), "vehicle"
    )
    rows = text[0].splitlines()
    assert rows[0] == (
        "Rows too far apart: lines that could move by more than 20 mm between rows, mm"
    )
    assert len(rows) == 3
    assert " ".join(rows[2].split()) == (
        "-300 UBRL 500 [498, 520] 10 [9, 12] 20 510 (x about 20), 520 (x about 30), "
        "530 (x about 40) and 1 more"
    )
    assert text[2] == "Rows in between do not settle LBRL at y = 0: its end is open.\n"
    assert text[3] == ("For this, tapes are hung below the foremost point of each section.\n")
    assert len(told._gaps(STYLE, spaced(gap(21.0)), "section")) == 2
    assert told._heights(()) == "-"
    assert told._heights(places[:3]).endswith("530 (x about 40)")


def check(computed: float | None, u: float | None, normalised: float | None, verdict: str,
          reason: str = "") -> Part:  # fmt: skip
    what = Part(name="height of the UBRL", station=-100.0, measured_mm=520.26, u_mm=2.0)
    return Part(
        check=what, computed_mm=computed, computed_u_mm=u, normalised=normalised, verdict=verdict,
        reason=reason,
    )  # fmt: skip


def test_checks_say_both_numbers_or_why_one_is_not_there() -> None:
    assert told._checks(STYLE, Part(closures=())) == []
    agree = check(521.0, 1.5, -0.3, "agree")
    bare = check(521.0, None, None, "not_available")
    gone = check(None, None, None, "not_available", "UBRL is missing")
    table, why = told._checks(STYLE, Part(closures=(agree, bare, gone)))
    heads, *rows = (" ".join(row.split()) for row in table.splitlines()[1:])
    assert heads == "check y on the car from the offsets difference / u"
    name = "height of the UBRL -100 520.3 (u 2.0)"
    assert rows == [
        f"{name} 521.0 (u 1.5) -0.3 agree",
        f"{name} 521.0 (u 0.0) - not available",
        f"{name} - - not available",
    ]
    assert why == "height of the UBRL at y = -100: UBRL is missing.\n"


MOVES = (
    LineMove(-9.0, "UBRL_z_mm", 500.0, 503.4),
    LineMove(-9.0, "bumper_lead_mm", None, 12.0),
    LineMove(0.0, "UBRL_z_mm", 500.0, 501.0, open_end=True),
    LineMove(0.0, "bumper_lead_mm", None, None),
)
LEANT = Correction("square tilt", "The square leant 1 deg.", 3.21, 0.04, MOVES)


def test_a_correction_tells_each_line_before_and_after() -> None:
    rows = told._moves(STYLE, "title", LEANT).splitlines()[1:]
    assert [" ".join(row.split()) for row in rows if row] == [
        "y UBRL z bumper lead", "-9 500.0 to 503.4 - to 12.0", "0 (500.0 to 501.0, open end) -",
    ]  # fmt: skip


@pytest.mark.parametrize(("applied", "verb"), [
    (True, "Corrected: square tilt, from before to after, mm."),
    (False, "Not corrected; --correct would give: square tilt, from before to after, mm."),
])  # fmt: skip
def test_a_correction_says_whether_it_was_made_and_how_far_points_went(applied, verb) -> None:
    report = CorrectionReport((LEANT,))
    (alone,) = told.corrections_text(STYLE, report, applied=applied)
    assert alone.splitlines()[0] == f"{verb} No point moves farther than 3.2 in x and 0.0 in z."
    said, table = told.corrections_text(STYLE, report, applied=applied, of="B")
    assert said == "B: The square leant 1 deg.\n"
    assert table.startswith(f"B: {verb}")


def test_nothing_to_correct_is_said() -> None:
    for name, lead in (("", ""), ("A", "A: ")):
        (text,) = told.corrections_text(STYLE, CorrectionReport(()), applied=True, of=name)
        assert text.startswith(
            f"{lead}Nothing to correct: the file states no tilt of the square, no ground slope and "
            "no wheel arch heights."
        )


def test_a_long_contact_is_told_below_the_intervals() -> None:
    long = line("UBRL", may_touch_mm=44.4)
    some = of(station(0.0, long), station(9.0))
    said = flat(told.intervals_text(STYLE, some)[2:])
    assert said.startswith("UBRL: long contact: the measurement is not sure enough to say where")
    assert "touches along 44 mm," in said
    assert said.endswith("at y = 0 mm.")
    everywhere = of(station(0.0, long), station(9.0, long))
    assert flat(told.intervals_text(STYLE, everywhere)[2:]).endswith("at all stations.")
    assert len(told.intervals_text(STYLE, of(station(0.0)))) == 2


def test_what_is_missing_or_not_known_is_told_with_its_stations() -> None:
    gone = line("UBRL", **GONE)
    rare = line("UBRL", **GONE | {"x": Spread("x", None, 1.0, 0.0, 2.0, 1.0, 0.25)})
    never = "Missing: UBRL (not reached; formed in 0.0 % of draws)"
    assert flat(told._missing(STYLE, of(station(0.0, gone), station(9.0, gone)))) == (
        f"{never} at all stations."
    )
    said = told._missing(STYLE, of(station(0.0, rare), station(9.0), station(18.0, gone)))
    assert [each.strip() for each in said] == [
        "Missing: UBRL (not reached; formed in 25.0 % of draws) at y = 0 mm.",
        f"{never} at y = 18 mm.",
    ]
    (edge, lead) = told._missing(STYLE, of(station(0.0, line("BLERL", **OPEN)), station(9.0)))
    assert edge.startswith("BLERL: no interval: open end, what lies beyond the measured surface")
    assert edge.rstrip().endswith("is unsure, at y = 0 mm.")
    assert "BLERL: no interval: open end" in lead
    assert told._missing(STYLE, of(station(0.0))) == []


@pytest.mark.parametrize(
    ("applied", "corrections", "verb"),
    [(True, (LEANT,), "Corrected"), (False, (LEANT,), "Not corrected"), (False, (), None),
     (True, (), "Nothing to correct")],
)  # fmt: skip
def test_corrections_stand_first_where_they_were_made_and_below_where_not(
    applied, corrections, verb
) -> None:
    front = Part(name="Plover", sections=[section()], reader_notes=("A note.",))
    drawn = Part(
        front=front, rules=Part(title="Rules"), draws=1200, seed=7, wad=(), tape_start="section",
        settings=Uncertainty(height_u_mm=2.0), stations=(station(0.0),),
        measure_again=tuple, cautions=("First.", "Second."),
    )  # fmt: skip
    whole = Part(
        tolerance=drawn, applied=applied, corrections=CorrectionReport(corrections),
        spacing=spaced(), closure=Part(closures=()),
    )  # fmt: skip
    said = told.measurement_text(STYLE, whole, "a/place")
    assert said.startswith(
        "Plover: Rules. 1,200 draws of the measurement, seed 7. Standard uncertainties: height of "
        "a row 2 mm."
    )
    order = [
        "95 % intervals",
        "Every line has",
        "Input: A note.",
        "First.",
        "Second.",
        "Written: a",
    ]
    places = [said.index(words) for words in order]
    assert places == sorted(places)
    found = [
        words for words in ("Corrected", "Not corrected", "Nothing to correct") if words in said
    ]
    assert found == ([verb] if verb else [])
    if verb:
        assert (said.index(verb) < places[0]) == applied
    assert "Written" not in told.measurement_text(STYLE, whole)
