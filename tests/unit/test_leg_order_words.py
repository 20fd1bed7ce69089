"""The order of two fronts counted and told, and what a leg study says is missing and why.

Own choice: ranked where the lower 95 % limit of the share is 0.85 or more, of 200 draws or more;
openings within 1 % or 0.1 deg are alike. Openings are made up.
"""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest

import frontcheck as fc
from frontcheck.legs import leg_order as orders
from frontcheck.legs import leg_study as studies
from frontcheck.legs.dynamics import RunSettings, fly
from frontcheck.legs.faced import face_of
from frontcheck.legs.leg_order import (
    Order,
    Peaks,
    compared,
    drawn_parts,
    drawn_peaks,
    factors,
    first_order,
    order_of,
)
from frontcheck.lines.lined_front import line_up
from frontcheck.people.impactors import FLEXIBLE_LEGFORM, RIGID_LEGFORM, Knee
from frontcheck.people.people import PEOPLE

MAN = next(person for person in PEOPLE if person.name == "man p50")
NOSE = [
    (300, 200), (60, 260), (40, 320), (70, 400), (20, 520), (30, 580), (60, 700), (120, 800),
    (900, 950),
]  # fmt: skip
PARTS = ["underside", *["bumper"] * 5, "grille", "bonnet", "bonnet"]


def order(draws, a_less, b_less, decides=()) -> Order:
    return Order(("Plover", "Avocet"), draws, a_less, b_less, None, None, None, decides)


MEASURE = "Knee opening not ranked: depends on the stiffness behind the skin: measure it. In "


@pytest.mark.parametrize(
    ("found", "status", "less", "sentence"),
    [
        # Lower 95 % limits: 0.05 ** (1 / 200) = 0.985; of 179 of 200 it is 0.8527.
        (
            order(200, 200, 0), "ranks", "a",
            ("Ranks: Plover opens the knee of the legform less, in 200 of 200 draws of stiffness "
             "(share at least 0.99 with 95 % confidence)."),
        ),
        (
            order(200, 21, 179), "ranks", "b",
            ("Ranks: Avocet opens the knee of the legform less, in 179 of 200 draws of stiffness "
             "(share at least 0.85 with 95 % confidence)."),
        ),
        (
            order(199, 199, 0), "few_draws", None,
            ("Knee opening not ranked: 199 draws are too few; in 199 of 199 draws Plover opens it "
             "less, in 0 Avocet."),
        ),
        (
            order(20, 5, 9), "few_draws", None,
            ("Knee opening not ranked: 20 draws are too few; in 5 of 20 draws Plover opens it "
             "less, in 9 Avocet, in 6 alike or not known."),
        ),
        (
            order(200, 0, 0), "alike", None,
            "Knee opening not ranked: Plover and Avocet are alike in all draws or not known.",
        ),
        (
            order(200, 1, 0), "depends", None,
            (MEASURE + "1 of 200 draws Plover opens it less, in 0 Avocet, in 199 alike or not "
             "known."),
        ),
        (
            order(200, 0, 1), "depends", None,
            (MEASURE + "0 of 200 draws Plover opens it less, in 1 Avocet, in 199 alike or not "
             "known."),
        ),
        (
            order(200, 120, 80, (("lower lip", 0.518), ("bumper", 0.2))), "depends", None,
            (MEASURE + "120 of 200 draws Plover opens it less, in 80 Avocet. What decides most is "
             "the lower lip (first-order share 0.52)."),
        ),
        (
            order(200, 120, 80, (("lower lip", 0.0),)), "depends", None,
            MEASURE + "120 of 200 draws Plover opens it less, in 80 Avocet.",
        ),
    ],
)  # fmt: skip
def test_an_order_in_words(found, status, less, sentence) -> None:
    assert (found.status, found.less) == (status, less)
    assert " ".join(found.sentence.split()) == sentence
    assert found.same == max(found.a_less, found.b_less)
    assert found.share == found.same / found.draws


def peaks(opening, reached=True, shear=1.0, bending=1.0) -> Peaks:
    opening = np.asarray(opening, dtype=float)
    n = len(opening)
    return Peaks(
        opening, np.broadcast_to(reached, n).copy(), np.broadcast_to(shear, n) * np.ones(n),
        None if bending is None else np.broadcast_to(bending, n) * np.ones(n), None,
    )  # fmt: skip


def test_draws_are_in_order_where_they_differ_by_more_than_a_hundredth_of_the_larger() -> None:
    # Differences against 1 % of the larger, 0.1 deg at least: 1.0 of 1.0, twice; 2.0 of 1.02;
    # 0.09 of 0.1; 0.11 of 0.1; 0.2 of 0.102.
    one = [99.0, 100.0, 102.0, 0.3, 0.35, 10.0]
    two = [100.0, 99.0, 100.0, 0.39, 0.24, 10.2]
    found = order_of(("A", "B"), peaks(one), peaks(two), {})
    assert (found.draws, found.a_less, found.b_less) == (6, 1, 2)
    # Unless the smaller one was reached nothing is known; the larger need not be.
    cut = np.array([True, True, False, True, True, False])
    found = order_of(("A", "B"), peaks(one, cut), peaks(two), {})
    assert (found.a_less, found.b_less) == (0, 2)
    found = order_of(("A", "B"), peaks(one), peaks(two, cut), {})
    assert (found.a_less, found.b_less) == (1, 1)


def test_ratios_are_of_draws_in_which_both_open_and_are_reached() -> None:
    """Of B over A: 5, 50 and 95 in 100, by hand; shear and bending where A has any."""
    a = np.array([10.0, 10.0, 10.0, 0.1, 10.0, 10.0])
    b = np.array([10.0, 20.0, 30.0, 40.0, 0.1, 99.0])
    reached = np.array([True] * 5 + [False])
    shear = np.array([0.0, 2.0, 2.0, 2.0, 2.0, 2.0])
    found = order_of(("A", "B"), peaks(a, reached, shear), peaks(b, True, 3.0, 4.0), {})
    assert found.ratio == pytest.approx((1.1, 2.0, 2.9))  # of 1, 2 and 3
    assert found.shear == pytest.approx((1.5, 1.5, 1.5))
    assert found.bending == pytest.approx((4.0, 4.0, 4.0))
    stiff = order_of(("A", "B"), peaks(a, bending=None), peaks(b), {})
    assert stiff.bending is None
    assert order_of(("A", "B"), peaks(a), peaks(b, bending=None), {}).bending is None
    none = order_of(("A", "B"), peaks(0.0 * a, shear=0.0), peaks(b), {})
    assert (none.ratio, none.shear) == (None, None)


def test_parts_that_decide_are_told_the_largest_share_first() -> None:
    rng = np.random.default_rng(1)
    drawn = {name: rng.uniform(0.25, 4.0, 60) for name in ("x", "y", "z")}
    b = 10.0 * drawn["y"] ** 2 * drawn["x"] ** 0.3
    found = order_of(("A", "B"), peaks(np.full(60, 10.0)), peaks(b), drawn)
    assert [name for name, _ in found.decides[:2]] == ["y", "x"]
    assert found.decides[0][1] > 0.8 > found.decides[1][1]
    # As large a share: by name. Of fewer than two draws a slice nothing is told.
    same = {"q": drawn["y"], "p": drawn["y"]}
    tied = order_of(("A", "B"), peaks(np.full(60, 10.0)), peaks(b), same)
    assert [name for name, _ in tied.decides] == ["p", "q"]
    for count, told in ((20, True), (19, False)):
        few = {"y": drawn["y"][:count]}
        short = order_of(("A", "B"), peaks(np.full(count, 10.0)), peaks(b[:count]), few)
        assert bool(short.decides) == told


def test_a_first_order_share_by_plain_slices() -> None:
    """Kelley's unbiased correlation ratio over ten slices, written out."""
    rng = np.random.default_rng(5)
    given, values = rng.random(53), rng.random(53)
    values += 0.5 * given
    ranked = [v for _, v in sorted(zip(given, values, strict=True))]
    sizes = [6] * 3 + [5] * 7
    within, start = 0.0, 0
    for size in sizes:
        own = ranked[start : start + size]
        within += sum((v - sum(own) / size) ** 2 for v in own)
        start += size
    mean = sum(ranked) / 53
    total = sum((v - mean) ** 2 for v in ranked)
    expected = 1.0 - within / total * 52.0 / 43.0
    assert expected > 0.0
    assert first_order(given, values) == pytest.approx(expected)
    assert first_order(given, np.full(53, 2.0)) == 0.0
    for seed in range(10):
        chance = np.random.default_rng(seed).random((2, 53))
        assert 0.0 <= first_order(*chance) < 0.5


@pytest.mark.parametrize(
    ("legform", "limit"), [(RIGID_LEGFORM, 60.0), (RIGID_LEGFORM, 2.0), (FLEXIBLE_LEGFORM, 5.0)]
)
def test_peaks_of_drawn_cases_one_by_one(legform, limit) -> None:
    """Each case flown alone, cut where it turns too far, its worst looked for by a plain loop."""
    section = fc.Section(NOSE, parts=PARTS)
    settings = RunSettings(
        duration_ms=8.0, step_ms=0.5, rotation_limit_deg=limit, parts=(("grille", 0.6),),
        knee=Knee(900.0, 5.0, 300.0, 0.3),
    )  # fmt: skip
    face = face_of(section, legform, (420.0, 560.0))
    parts = drawn_parts(face, settings)
    assert set(parts) == {
        "underside", "lower lip", "bumper", "leading edge", "bonnet", "parts given",
    }  # fmt: skip
    drawn = {name: np.array([0.3, 1.0, 3.0]) * (1 + i) for i, name in enumerate(sorted(set(parts)))}
    found = drawn_peaks(face, legform, settings, drawn)
    ended = set()
    for k in range(3):
        stiffness = np.array([
            1e6 * (0.6 if label == "grille" else 0.3) * drawn[part][k]
            for label, part in zip(face.label, parts, strict=True)
        ])  # fmt: skip
        flights = fly(face, legform, settings, stiffness[None])
        opening, shear = flights.opening()[:, 0], flights.shear()[:, 0]
        count = next((i for i, t in enumerate(flights.turned()[:, 0]) if t > limit), len(opening))
        ended.add(count < len(opening))
        kept = opening[:count]
        assert found.opening[k] == pytest.approx(max(*kept, 0.0))
        assert found.reached[k] == (int(np.argmax(kept)) < count - 1)
        assert found.shear[k] == pytest.approx(max(abs(v) for v in shear[:count]))
        if legform is RIGID_LEGFORM:
            assert found.bending is found.height is None
            continue
        moments = np.abs(flights.tibia()[:count, 0])
        assert found.bending[k] == pytest.approx(moments.max())
        joint = int(np.unravel_index(moments.argmax(), moments.shape)[1])
        # Joints from the knee downward, 404 mm / 14 apart, below a block of 92.5 mm.
        assert found.height[k] == pytest.approx(571.5 - 92.5 - (joint + 0.5) * 404.0 / 14.0)
    assert (True in ended) == (limit < 60.0)


def test_both_fronts_are_drawn_the_same_stiffness_part_by_part(monkeypatch) -> None:
    one, two = (
        face_of(fc.Section(NOSE, parts=parts), RIGID_LEGFORM, (420.0, 560.0))
        for parts in (PARTS, None)
    )
    asked = []

    def peaks_of(face, legform, settings, drawn):
        asked.append((face, legform, settings, drawn))
        return peaks(np.full(len(drawn["bumper"]), 10.0 if face is one else 5.0))

    monkeypatch.setattr(orders, "drawn_peaks", peaks_of)
    settings = RunSettings()
    names = ("one", "two")
    found, (a, b) = compared(names, (one, two), RIGID_LEGFORM, settings)
    assert (found.names, found.draws, found.less) == (names, 200, "b")
    assert (a.opening[0], b.opening[0]) == (10.0, 5.0)
    assert [each[0] for each in asked] == [one, two]
    assert asked[0][3] is asked[1][3]
    # Drawn under the names of both, evenly in the logarithm, seed 0 where none is given.
    parts = ["bonnet", "bumper", "grille", "leading edge", "lower lip", "underside"]
    expected = np.random.default_rng(0).uniform(-1.0, 1.0, (6, 200))
    for name, row in zip(parts, expected, strict=True):
        assert asked[0][3][name] == pytest.approx(4.0**row)
    assert list(asked[0][3]) == parts
    compared(names, (one, two), RIGID_LEGFORM, settings, 7, 3)
    assert asked[2][3]["bonnet"] == pytest.approx(factors(parts, 7, 3)["bonnet"])
    assert len(factors(["a"], 5, 1, 2.0)["a"]) == 5
    assert np.abs(np.log2(factors(["a"], 500, 1, 2.0)["a"])).max() <= 1.0


# The study: what is missing, and why.

QUICK = RunSettings(duration_ms=2.0, step_ms=0.5)
HIGH = [(x, z + 260.0) for x, z in NOSE]
SILL = [(30, 5), (0, 12), (30, 20)]


def lined(points=NOSE, parts=None, name="low", **options):
    return line_up(fc.Front([fc.Section(points, 0.0, parts)], name=name, **options), "UN-R127-02")


def study(*fronts, **options):
    return fc.leg(fronts, MAN, **({"settings": QUICK, "draws": 3} | options))


def test_one_front_has_no_order_and_no_reason_for_it() -> None:
    made = study(lined())
    (station,) = made.stations
    assert (station.y, station.order, station.no_order) == (0.0, None, "")
    (at,) = station.fronts
    assert (at.name, at.basis, at.lower_refusal, at.choice) == ("low", "measured", "", "")
    assert at.run.settings is QUICK
    assert at.response.legform is at.run.legform is made.legform is FLEXIBLE_LEGFORM
    assert at.response.depth.tolist() == at.load.depth.tolist() == [20.0, 60.0, 100.0]
    assert at.upper is None
    assert at.section is at.lined.front.sections[0]
    assert at.station is at.lined.stations[0]
    assert (at.lined.front.symmetric, len(at.lined.front.sections)) == (False, 1)
    # A run that ends before its knee was farthest open says so, and nothing else is missing.
    assert at.missing == ("opening of the knee is not known: the run ends after 2 ms",)
    assert not made.complete
    assert (made.draws, made.seed, made.depths) == (3, 0, (20.0, 60.0, 100.0))


def test_two_fronts_have_an_order_of_as_many_draws_as_asked_for(monkeypatch) -> None:
    asked = []
    own = studies.compared

    def noted(*given):
        asked.append(given)
        return own(*given)

    monkeypatch.setattr(studies, "compared", noted)
    made = study(lined(), lined([(x + z / 9.0, z) for x, z in NOSE], name="leaning"), seed=4)
    (station,) = made.stations
    assert station.no_order == ""
    assert (station.order.draws, station.order.names) == (3, ("low", "leaning"))
    ((names, faces, legform, settings, draws, seed),) = asked
    assert (names, legform) == (("low", "leaning"), FLEXIBLE_LEGFORM)
    assert (settings, draws, seed) == (QUICK, 3, 4)
    assert [round(face.foremost_x, 9) for face in faces] == pytest.approx(
        [20.0, min(x + z / 9.0 for x, z in NOSE)]
    )
    # Lips of the first: half-way between 320 and 520 mm; a front without parts has them by name.
    heights = 1e3 * faces[0].height + FLEXIBLE_LEGFORM.knee_height_mm
    assert heights[np.array(faces[0].part) == "lower lip"].max() < 420.0
    assert heights[np.array(faces[0].part) == "bumper"].min() > 420.0


def test_why_two_fronts_have_no_order() -> None:
    high, low = lined(HIGH, name="high"), lined()
    why = high.stations[0].LBRL.z
    said = (
        f"the lower legform does not apply: the lower bumper height, {why:.0f} mm, is not below "
        "500 mm (UN Regulation No. 127, 02 series of amendments, 5.1); a test would use the upper "
        "legform"
    )
    for pair, refused in (
        ((high, low), f"high: {said}"),
        ((low, high), f"high: {said}"),
        ((high, lined(HIGH, name="other")), f"high: {said}; other: {said}"),
    ):
        (station,) = study(*pair).stations
        assert (station.order, station.no_order) == (None, refused)
    (alone,) = study(high).stations
    assert alone.no_order == ""
    (at,) = alone.fronts
    assert (at.lower_refusal, at.run, at.response) == (said, None, None)
    assert at.upper.aim == 0.5 * (high.stations[0].LBRL.z + high.stations[0].UBRL.z)
    assert len(at.upper.load_height) == 3
    assert not any("opening" in text for text in at.missing)


def test_nothing_flies_where_nothing_is(monkeypatch) -> None:
    sill = lined(SILL, name="sill")
    monkeypatch.setattr(studies, "lower_refusal", lambda *_: "")
    (station,) = study(sill, lined()).stations
    assert station.no_order == "sill: it did not fly"
    at = station.fronts[0]
    assert (at.run, at.response) == (None, None)
    assert at.met is not None  # a shoe is met there
    nothing = "flexible legform: the section at y = 0 mm has nothing between 75 and 1003 mm"
    assert nothing in at.missing
    above = lined([(30, 2000), (0, 2100), (100, 2300), (900, 2400)], name="above")
    (station,) = study(above).stations
    (at,) = station.fronts
    assert (at.met, at.load) == (None, None)
    assert "leg of man p50: the section at y = 0 mm has nothing between 0 and 1780 mm" in at.missing


@pytest.mark.parametrize("ends", [("LBRL",), ("UBRL",), ("LBRL", "UBRL"), ("BLERL",), ("BRRL",)])
def test_lines_with_an_open_end_are_told_to_be_missing(ends) -> None:
    front = lined()
    station = front.stations[0]
    opened = {name: replace(getattr(station, name), status="open_end") for name in ends}
    front = replace(front, stations=(replace(station, **opened),))
    (at,) = study(front).stations[0].fronts
    lines = [name for name in ends if name in ("LBRL", "UBRL")]
    said = [text for text in at.missing if text.startswith("knee and bumper")]
    assert said == (
        [f"knee and bumper: not known: open end of {' and '.join(lines)}"] * bool(lines)
    )
    assert (at.band is None) == bool(lines)


def test_lines_that_a_leg_needs_not_are_not_missed() -> None:
    front = lined()
    station = front.stations[0]
    gone = {
        name: replace(
            getattr(station, name), status="not_reached", x=None, z=None, reason=f"no {name}"
        )
        for name in ("BLERL", "BRRL")
    }
    front = replace(front, stations=(replace(station, **gone),))
    (at,) = study(front).stations[0].fronts
    assert at.missing[0] == "BLERL: no BLERL"
    assert not any("BRRL" in text for text in at.missing)


def test_parts_that_the_legform_does_not_face_are_named() -> None:
    given = (("bumper", 0.5), ("windscreen", 0.2), ("grille", 0.4))
    own = replace(QUICK, parts=given)
    (at,) = study(lined(parts=PARTS), settings=own).stations[0].fronts
    assert at.idle_parts == ("windscreen",)
    (at,) = study(lined(HIGH, PARTS), settings=own).stations[0].fronts
    assert at.idle_parts == ("bumper", "windscreen", "grille")  # none is flown into
    (at,) = study(lined(parts=PARTS)).stations[0].fronts
    assert at.idle_parts == ()


def test_what_is_assumed_in_words() -> None:
    said = "Lower legform: flexible legform, data from memory, unconfirmed, foot 75 mm and knee "
    said += (
        "571.5 mm high. Assumed: legform at 40 km/h; stiffness [N/mm2] of the skin: everywhere 0.3"
    )
    assert study(lined()).legform_words == said
    two = study(lined(), lined(name="two")).legform_words
    assert two == (
        f"{said}; 3 draws, the stiffness of every part by itself from 0.25 to 4 times that"
    )
    for count in (0, 3):
        with pytest.raises(ValueError, match=f"one front or two, not {count}"):
            study(*[lined()] * count)
    assert math.isclose(orders.FACTOR, 4.0)
