"""What the command ``leg`` says in every case, the rare ones too: own words, worked out by hand.

The parts of a study are stand-ins that hold nothing but the numbers told; lengths in mm.
"""

from __future__ import annotations

from types import SimpleNamespace as Part

import numpy as np
import pytest

from frontcheck.outputs.text import leg_text as told
from frontcheck.outputs.text.terminal import Plain

NOTHING = Part(
    met=None, load=None, response=None, run=None, upper=None, band=None,
    contact=Part(members=()), station=Part(legform=None),
)  # fmt: skip


def at(**known: object) -> Part:
    """One front at one station, of which only some is known."""
    return Part(**(vars(NOTHING) | known))


def touch(above: float) -> Part:
    return Part(place="shin", z=311.6, above_knee_mm=above)


def band(place: str, knee: float) -> Part:
    return at(band=Part(place=place, low=400.0, high=520.0, knee=knee))


def run(status: str = "ok", **more: object) -> Part:
    held = {
        "status": status, "time": np.array([0.0, 10.0, 20.0, 30.0]), "usable": True,
        "knee_angle": np.array([0.0, 0.01, -0.05, 0.02]), "opens": False,
        "tibia_bending_height": 231.4, "energy_error": 2.4e-4,
    }  # fmt: skip
    return at(run=Part(**(held | more)))


def upper(**more: object) -> Part:
    held = {
        "low": 512.0, "high": 668.0, "bumper_overlap": 31.4, "edge_overlap": 80.0,
        "edge_below_top": 12.0, "load_height": np.array([1.0, 2.0, 601.7]),
    }  # fmt: skip
    return at(upper=Part(**(held | more)))


RESPONSE = at(response=Part(rate=np.array([1.234, -2.0]), sense=lambda i: ("opens", "closes")[i]))
LOAD = at(load=Part(
    height=np.array([433.3, 455.5]), below=np.array([0.5, 0.1]), across=np.array([0.3, 0.2]),
    above=np.array([0.2, 0.7]),
))  # fmt: skip
MEMBERS = at(contact=Part(members=(
    Part(name="lower lip", z=330.2, closing_mm=0.0),
    Part(name="bumper", z=512.6, closing_mm=14.26),
)))  # fmt: skip
ONE_TOUCH = at(met=Part(first=touch(-120.4), second=None, later_mm=None, free_mm=(), reach_mm=60.0))
TWO_TOUCHES = at(met=Part(
    first=touch(-120.4), second=touch(3.6), later_mm=17.8,
    free_mm=((0.0, 210.4), (480.0, 700.0)), reach_mm=60.0,
))  # fmt: skip
CELLS = (
    told._second, told._free, told._band, told._status, told._knee, told._bends, told._face,
    told._on_bumper, told._on_edge, told._upper_load,
)  # fmt: skip
CELLS_OF = (told._member, told._height, told._shares, told._rate)


def test_what_is_not_known_is_a_dash_in_every_row() -> None:
    assert {cell(NOTHING) for cell in CELLS} | {cell(NOTHING, 0) for cell in CELLS_OF} == {"-"}
    assert told._touch(None) == "-"


@pytest.mark.parametrize(
    ("said", "words"),
    [
        # A touch at the height of the knee is 0 mm above it: the border belongs to above.
        (told._touch(touch(0.0)), "shin, 312 mm high, 0 mm above the knee"),
        (told._touch(touch(-120.4)), "shin, 312 mm high, 120 mm below the knee"),
        (told._touch(touch(7.6)), "shin, 312 mm high, 8 mm above the knee"),
        (told._second(ONE_TOUCH), "-"),
        (told._second(TWO_TOUCHES), "shin, 312 mm high, 4 mm above the knee, 18 mm later"),
        (told._free(ONE_TOUCH), "nothing, 60 mm in"),
        (told._free(TWO_TOUCHES), "0 to 210, 480 to 700, 60 mm in"),
        # Only what comes later has a distance; there is no third member of two.
        (told._member(MEMBERS, 0), "lower lip, 330 mm high"),
        (told._member(MEMBERS, 1), "bumper, 513 mm high, 14.3 mm later"),
        (told._member(MEMBERS, 2), "-"),
        # The knee in the bumper: from the nearer line; from UBRL where both are as near.
        (told._band(band("inside", 500.0)), "inside 400 to 520 mm, 20 mm below UBRL"),
        (told._band(band("inside", 460.0)), "inside 400 to 520 mm, 60 mm below UBRL"),
        (told._band(band("inside", 430.0)), "inside 400 to 520 mm, 30 mm above LBRL"),
        (told._band(band("above", 545.0)), "above 400 to 520 mm, 25 mm above UBRL"),
        (told._band(band("below", 365.0)), "below 400 to 520 mm, 35 mm below LBRL"),
        (told._height(LOAD, 1), "456 mm"),
        (told._shares(LOAD, 0), "50 % / 30 % / 20 %"),
        (told._shares(LOAD, 1), "10 % / 20 % / 70 %"),
        (told._rate(RESPONSE, 0), "1.23, opens"),
        (told._rate(RESPONSE, 1), "-2.00, closes"),
        (told._status(run()), "ran 30 ms; energy to 2e-04"),
        (told._status(run("rotation_limit")), "ended early, 30.0 ms; energy to 2e-04"),
        (told._status(run("out_of_balance")), "out of balance, not to be used; energy to 2e-04"),
        # The knee is farthest where its angle is greatest whatever its sign: -0.05 at 20 ms.
        (told._knee(run()), "closes, farthest after 20 ms"),
        (told._knee(run(opens=True)), "opens, farthest after 20 ms"),
        (told._knee(run(usable=False)), "-"),
        (told._bends(run()), "231 mm high"),
        (told._bends(run(tibia_bending_height=None)), "-"),
        (told._face(upper()), "512 to 668 mm high"),
        (told._on_bumper(upper()), "31 mm of it"),
        (told._on_edge(upper()), "80 mm; BLERL 12 mm below its top"),
        (told._on_edge(upper(edge_below_top=0.0)), "80 mm; BLERL 0 mm below its top"),
        (told._on_edge(upper(edge_below_top=-12.0)), "80 mm; BLERL 12 mm above its top"),
        (told._on_edge(upper(edge_overlap=None)), "-"),
        (told._on_edge(upper(edge_below_top=None)), "-"),
        (told._upper_load(upper()), "602 mm"),
        (told._test(at(station=Part(legform="lower"))), "lower legform"),
        (told._test(at(station=Part(legform="either"))), "either legform"),
        (told._test(at(station=Part(legform="upper"))), "upper legform"),
        (told._test(NOTHING), "not known"),
    ],
)
def test_each_cell_says_what_is_known_with_its_side(said, words) -> None:
    assert said == words


@pytest.mark.parametrize(
    ("ratio", "shear", "bending", "words"),
    [
        (None, None, None, ""),
        ((0.5, 0.75, 1.25), None, None, "knee opening 0.75 (0.50 to 1.25)"),
        (None, (1.0, 2.0, 3.0), None, "knee shear (not ranked) 2.00 (1.00 to 3.00)"),
        (None, None, (0.1, 0.2, 0.3), "tibia bending (not ranked) 0.20 (0.10 to 0.30)"),
        (
            (0.5, 0.75, 1.25), (1.0, 2.0, 3.0), None,
            "knee opening 0.75 (0.50 to 1.25); knee shear (not ranked) 2.00 (1.00 to 3.00)",
        ),
    ],
)  # fmt: skip
def test_ratios_are_of_the_second_over_the_first(ratio, shear, bending, words) -> None:
    """The lower end, the middle and the upper end are told as middle (lower to upper)."""
    order = Part(names=("One", "Two"), ratio=ratio, shear=shear, bending=bending)
    lead = "Two over One, middle of the draws (and 90 % of them): "
    assert told._ratios(order) == (f"{lead}{words}." if words else "")


def station(*fronts: Part, order: Part | None = None, no_order: str = "") -> Part:
    return Part(y=-200.0, fronts=fronts, order=order, no_order=no_order)


STUDY = Part(person=Part(name="man p50"), depths=(20.0, 60.0))


def front(name: str, **known: object) -> Part:
    plain = {"name": name, "lower_refusal": "", "choice": "", "missing": (), "idle_parts": ()}
    return at(**(plain | known))


def rows_of(*fronts: Part) -> list[str]:
    return [title for title, _ in told._legform_rows(STUDY, station(*fronts))]


RUN_ROWS = [
    "opening rate at 20 mm, rad/s per N s", "opening rate at 60 mm, rad/s per N s", "knee",
    "tibia bends most", "run",
]  # fmt: skip
UPPER_ROWS = [
    "upper legform: face", "as high as the bumper", "as high as UBRL to BLERL",
    "load height at 60 mm",
]  # fmt: skip


def test_rows_of_a_legform_stand_where_any_front_has_it() -> None:
    """One of two is enough; with none there is only what a test would use."""
    nothing, one, two = front("A"), front("B", run=run().run), front("C", upper=upper().upper)
    assert rows_of(nothing) == ["a test would use"]
    assert rows_of(nothing, one) == ["a test would use", *RUN_ROWS]
    assert rows_of(two, nothing) == ["a test would use", *UPPER_ROWS]
    assert rows_of(one, two) == ["a test would use", *RUN_ROWS, *UPPER_ROWS]


def test_what_is_said_below_the_tables() -> None:
    """Why a legform does not fly is told once: by the order that is not, or by the front."""
    a = front("A", lower_refusal="LBRL is too high", choice="either may be used")
    b = front("B", missing=("bumper: nothing there",), idle_parts=("grille", "lamp"))

    def below(**how: object) -> str:
        return " ".join(" ".join(told._station(Plain(), STUDY, station(a, b, **how))[2:]).split())

    said = below()
    assert "A: LBRL is too high. A: either may be used. B: bumper: nothing there." in said
    assert "B: the legform does not face grille, lamp here; the value given for it changes" in said
    assert "Not ranked" not in said
    ranked = below(no_order="A: LBRL is too high")
    assert "Not ranked: A: LBRL is too high. A: either may be used." in ranked
    assert ranked.count("LBRL is too high") == 1
    order = Part(
        sentence="Neither is ahead.", names=("A", "B"), ratio=None, shear=None, bending=None
    )
    assert below(order=order).startswith("Neither is ahead. A: LBRL")


def test_the_tables_say_whose_leg_and_where() -> None:
    first, second = told._station(Plain(), STUDY, station(front("One"), front("Two")))[:2]
    assert first.startswith("Leg of man p50 at station y = -200 mm\n")
    assert second.startswith("Legform at station y = -200 mm\n")
    assert first.splitlines()[1].split() == ["One", "Two"]
    titles = [line.split("  ")[0] for line in first.splitlines()[2:]]
    assert titles[:9] == [
        "first touch", "second touch", "leg free of touch, mm up", "touches 1st", "touches 2nd",
        "touches 3rd", "knee and bumper", "at 20 mm: load height", "below / across / above knee",
    ]  # fmt: skip
