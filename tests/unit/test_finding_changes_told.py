"""Which findings of two fronts are one, and what is said of each: tables worked out by hand."""

from __future__ import annotations

from dataclasses import replace

import pytest

from frontcheck.comparison.changes import Change
from frontcheck.comparison.finding_changes import finding_changes
from frontcheck.findings.finding import Finding, Region
from frontcheck.findings.finding_rules import FindingRule

NOT_DRAWN = "the uncertainty of this value is not drawn"


def finding(
    code: str = "LEG-UNDERCUT",
    *ys: float,
    station: float | None = 0.0,
    value: float | None = 30.0,
    threshold: float | None = 20.0,
    comparison: str = ">",
    unit: str = "mm",
    region: str = "lower lip",
    **more: object,
) -> Finding:
    """An invented finding whose region spans the stations given."""
    rule = FindingRule(
        code, "leg", "leg", "own choice", "t", "m", "l", threshold, unit, comparison, "s", "p"
    )  # type: ignore[arg-type]
    place = Region(region, None, tuple((1.0, y, 400.0) for y in ys))
    told = {"message": "one", "settled_by": "a test"} | more
    return Finding(rule, place, station, value, **told)  # type: ignore[arg-type]


def over(*ys: float, **more: object) -> Finding:
    """A finding over a span alone."""
    return finding("LEG-UNDERCUT", *ys, station=None, **more)  # type: ignore[arg-type]


def told(a, b, here=None, halves=(False, False), asked=None):
    """What becomes of the findings, where one change stands at every station."""

    def change_at(y: float, quantity: str) -> Change | None:
        if asked is not None:
            asked.append((y, quantity))
        return here

    return finding_changes(a, b, change_at, halves)


def kinds(a, b, halves=(False, False)) -> list[str]:
    return sorted(each.kind for each in told(a, b, halves=halves))


# Own choice, stated in the file: of one code and region, overlapping or no farther apart than
# 100 mm. Sides count alike, so that the span of -300 is that of 300.
@pytest.mark.parametrize(
    ("one", "two", "paired"),
    [
        (over(0.0, 100.0), over(50.0, 300.0), True),
        (over(0.0, 100.0), over(200.0, 300.0), True),
        (over(200.0, 300.0), over(0.0, 100.0), True),
        (over(0.0, 100.0), over(200.5, 300.0), False),
        (over(200.5, 300.0), over(0.0, 100.0), False),
        (over(-300.0), over(300.0), True),
        (over(-300.0), over(0.0), False),
        (finding(station=-300.0), finding(station=250.0), True),
        (finding(station=-300.0), finding(station=150.0), False),
        (finding("LEG-UNDERCUT", 0.0, station=500.0), over(600.0), True),
        (finding("LEG-UNDERCUT", 500.0, station=0.0), over(600.0), True),
        (over(), over(700.0), True),  # one that concerns the whole front
        (over(700.0), over(), True),
        (over(0.0), over(0.0, region="bumper"), False),
        (over(0.0), finding("LEG-OVERHANG", 0.0, station=None), False),
    ],
)
def test_findings_are_one_within_100_mm_of_each_other(one, two, paired) -> None:
    assert kinds([one], [two]) == kinds([two], [one])
    assert (len(told([one], [two])) == 1) == paired


def test_the_longest_overlap_is_paired_first_and_each_finding_once() -> None:
    a = over(0.0, 400.0, message="a")
    short, long = over(300.0, 500.0, message="short"), over(100.0, 500.0, message="long")
    for b in ([short, long], [long, short]):
        found = told([a], b)
        assert {each.kind: each.b.message for each in found} == {"new": "short", "moved": "long"}
        found = told(b, [a])
        assert {each.kind: each.a.message for each in found} == {"gone": "short", "moved": "long"}
    # Alike in all, they are paired in order; and what stays comes in the order of A.
    twins = [over(0.0, person="p"), over(0.0, person="q")]
    found = told(twins, list(map(replace, twins)))
    assert [(each.kind, each.a.person, each.b.person) for each in found] == [
        ("same", "p", "p"), ("same", "q", "q")
    ]  # fmt: skip


@pytest.mark.parametrize(
    ("halves", "expected"),
    [
        ((True, False), ["moved", "moved"]),
        ((False, True), ["moved", "new"]),
        ((True, True), ["moved", "new"]),
        ((False, False), ["moved", "new"]),
    ],
)
def test_one_of_a_half_serves_both_sides_of_a_whole_front_and_no_other(halves, expected) -> None:
    half, sides = [over(300.0)], [over(-300.0, message="l"), over(300.0, message="r")]
    assert kinds(half, sides, halves) == expected
    back = [each.replace("new", "gone") for each in expected]
    assert kinds(sides, half, halves[::-1]) == sorted(back)


def test_any_thing_told_otherwise_is_a_move() -> None:
    one = over(0.0)
    assert kinds([one], [replace(one)]) == ["same"]
    for other in (
        replace(one, value=31.0),
        replace(one, threshold=21.0),
        replace(one, person="p"),
        replace(one, station=5.0),
        over(1.0),
        replace(one, message="two"),
    ):
        assert kinds([one], [other]) == ["moved"], other
    other = replace(one, settled_by="another", aside=True)
    (same,) = told([one], [other])
    assert (same.kind, same.a, same.b) == ("same", one, other)


def test_new_comes_first_then_gone_moved_and_same() -> None:
    a = [over(0.0), over(0.0, region="r2"), over(0.0, region="r3")]
    b = [a[0], replace(a[1], value=1.0), over(0.0, region="r4")]
    found = told(a, b)
    assert [each.kind for each in found] == ["new", "gone", "moved", "same"]
    assert [(each.a, each.b) for each in found] == [
        (None, b[2]), (a[2], None), (a[1], b[1]), (a[0], b[0])
    ]  # fmt: skip
    assert [each.finding for each in found] == [b[2], a[2], b[1], b[0]]


@pytest.mark.parametrize(
    ("code", "quantity"),
    [
        ("LEG-UNDERCUT", "lip_behind_bumper_mm"),
        ("LEG-LIP-AHEAD", "lip_behind_bumper_mm"),
        ("LEG-OVERHANG", "overhang_mm"),
        ("LEG-SHORT-LEAD", "bumper_lead_mm"),
        ("LEG-LONG-LEAD", "bumper_lead_mm"),
        ("LEG-HIGH-BUMPER", "LBRL_z_mm"),
        ("LEG-LEGFORM-NEAR", "LBRL_z_mm"),
        ("BODY-EDGE-ABOVE-WAIST", "BLERL_z_mm"),
        ("BODY-EDGE-HIP-TO-WAIST", "BLERL_z_mm"),
        ("BODY-EDGE-ABOVE-MASS", "BLERL_z_mm"),
        ("BODY-EDGE-IN-MASS-BAND", "BLERL_z_mm"),
        ("HEAD-OTHER", None),
    ],
)
def test_a_finding_asks_for_the_quantity_that_its_value_follows(code, quantity) -> None:
    asked: list[tuple[float, str]] = []
    told([], [finding(code, station=250.0)], asked=asked)
    assert asked == ([] if quantity is None else [(250.0, quantity)])
    asked.clear()
    told([finding(code, station=None)], [], asked=asked)
    assert asked == []  # without a station there is nothing to ask for
    # What stands in B is asked for, where both have it.
    told([finding(code, station=10.0)], [finding(code, station=20.0)], asked=asked)
    assert asked == ([] if quantity is None else [(20.0, quantity)])


def change(**told: object) -> Change:
    """A change of 4 mm."""
    return Change("LBRL_z_mm", "w", "mm", 1.0, 5.0, **({"change": 4.0} | told))  # type: ignore[arg-type]


LIKELY = {"chance_less": 0.1, "chance_more": 0.9}
ENDED = {"change": None, "reason": "not known: open end in B", "open_end": "B"}


@pytest.mark.parametrize(
    ("code", "here", "beyond", "why_not"),
    [
        ("LEG-UNDERCUT", change(u=1.0, **LIKELY), True, ""),
        ("LEG-UNDERCUT", change(u=3.0, **LIKELY), False, ""),
        ("LEG-UNDERCUT", change(u=2.0, **LIKELY), False, ""),  # exactly twice its uncertainty
        ("LEG-UNDERCUT", change(), None, "no draws were made"),
        ("LEG-UNDERCUT", change(**LIKELY), None, NOT_DRAWN),
        ("LEG-UNDERCUT", change(**ENDED), None, "not known: open end in B"),
        ("LEG-UNDERCUT", None, None, "there is no common station at which to judge it"),
        ("LEG-OVERHANG", change(), None, NOT_DRAWN),
        ("LEG-OVERHANG", None, None, "there is no common station at which to judge it"),
        ("HEAD-OTHER", change(), None, NOT_DRAWN),
        ("HEAD-OTHER", None, None, NOT_DRAWN),
    ],
)
def test_whether_a_change_is_beyond_its_uncertainty_or_why_not(code, here, beyond, why_not) -> None:
    (found,) = told([], [finding(code)], here)
    assert (found.beyond, found.why_not) == (beyond, why_not)


@pytest.mark.parametrize(
    ("one", "here", "crossed"),
    [
        (finding(), None, True),
        (finding(), change(), True),
        (finding(), change(**ENDED), False),
        (finding(comparison="is"), None, False),
        (finding(value=None), None, False),
        (finding(comparison="is", value=None), None, False),
    ],
)
def test_new_and_gone_have_crossed_where_a_known_value_is_compared(one, here, crossed) -> None:
    for pair in (([], [one]), ([one], [])):
        (found,) = told(*pair, here)
        assert found.crossed is crossed
    for other in (replace(one), replace(one, message="two")):
        (found,) = told([one], [other], here)
        assert found.crossed is False


@pytest.mark.parametrize(
    ("a", "b", "here", "expected"),
    [
        (finding(), finding(value=25.0), None, -5.0),
        (finding(), finding(value=30.0 + 5e-10), None, 0.0),
        (finding(), finding(value=30.0 + 2e-9), None, pytest.approx(2e-9, rel=1e-4)),
        (finding(), finding(value=25.0, threshold=21.0), None, None),
        (finding(value=None), finding(), None, None),
        (finding(), finding(value=None), None, None),
        (finding(), finding(value=25.0), change(), -5.0),
        (finding(), finding(value=25.0), change(**ENDED), None),
    ],
)
def test_the_clearest_value_changes_by_b_less_a_under_one_threshold(a, b, here, expected) -> None:
    (found,) = told([a], [b], here)
    assert found.change == expected
    assert [each.change for each in told([a], [])] == [None]


def test_people_concerned_in_one_front_only() -> None:
    a, b = finding(person="man p50, child 6"), finding(person="child 6, woman p5")
    (found,) = told([a], [b])
    assert (found.people_new, found.people_gone) == (("woman p5",), ("man p50",))
    (new,) = told([], [b])
    assert (new.people_new, new.people_gone) == (("child 6", "woman p5"), ())
    (gone,) = told([a], [])
    assert (gone.people_new, gone.people_gone) == ((), ("man p50", "child 6"))
    (none,) = told([], [finding()])
    assert (none.people_new, none.people_gone) == ((), ())


SURE, UNSURE = change(u=1.0, **LIKELY), change(u=3.0, **LIKELY)


@pytest.mark.parametrize(
    ("a", "b", "here", "words"),
    [
        (None, finding(), None, "LEG-UNDERCUT (lower lip, y = 0 mm): new, crossed its threshold"),
        (finding(station=-250.0), None, SURE,
         ("LEG-UNDERCUT (lower lip, y = -250 mm): gone, crossed its threshold, "
         "beyond the uncertainty")),
        (None, over(5.0, comparison="is"), None, "LEG-UNDERCUT (lower lip): new"),
        (None, finding(), change(**ENDED),
         "LEG-UNDERCUT (lower lip, y = 0 mm): new, not known: open end in B"),
        (finding(), finding(value=42.25), UNSURE,
         ("LEG-UNDERCUT (lower lip, y = 0 mm): moved, clearest value changed by +12.25 mm, "
         "within the uncertainty")),
        (finding(unit=""), finding(value=29.5, unit=""), None,
         "LEG-UNDERCUT (lower lip, y = 0 mm): moved, clearest value changed by -0.5"),
        (finding(person="p"), finding(person="q"), None,
         ("LEG-UNDERCUT (lower lip, y = 0 mm): moved, same clearest value, now also q, "
         "no longer p")),
        (finding(value=None), finding(value=None, message="two"), None,
         "LEG-UNDERCUT (lower lip, y = 0 mm): moved"),
        (finding(), finding(), None, "LEG-UNDERCUT (lower lip, y = 0 mm): same"),
        (finding(), finding(), UNSURE,
         "LEG-UNDERCUT (lower lip, y = 0 mm): same, within the uncertainty"),
    ],
)  # fmt: skip
def test_what_happened_in_one_line(a, b, here, words) -> None:
    (found,) = told([a] if a else [], [b] if b else [], here)
    assert found.words == words
