"""Which findings are new, gone, moved or the same in B."""

from __future__ import annotations

from dataclasses import dataclass
from operator import attrgetter
from typing import TYPE_CHECKING, Final, Literal

from frontcheck.comparison.leg_zone import UNDERCUT
from frontcheck.lines.statuses import NOT_KNOWN
from frontcheck.serializer import one_line

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    from frontcheck.comparison.changes import Change
    from frontcheck.findings.finding import Finding

Kind = Literal["new", "gone", "moved", "same"]

_NEAR_MM: Final = 100.0
"""Findings of one code and region are one finding in both fronts when the stations they
concern overlap or lie no farther apart than this [mm]. Frontcheck reading."""

_QUANTITY: Final = {
    "LEG-UNDERCUT": UNDERCUT,
    "LEG-LIP-AHEAD": UNDERCUT,
    "LEG-OVERHANG": "overhang_mm",
    "LEG-SHORT-LEAD": "bumper_lead_mm",
    "LEG-HIGH-BUMPER": "LBRL_z_mm",
    "LEG-LEGFORM-NEAR": "LBRL_z_mm",
    "BODY-EDGE-ABOVE-WAIST": "BLERL_z_mm",
    "BODY-EDGE-HIP-TO-WAIST": "BLERL_z_mm",
    "BODY-EDGE-ABOVE-MASS": "BLERL_z_mm",
    "BODY-EDGE-IN-MASS-BAND": "BLERL_z_mm",
    "LEG-LONG-LEAD": "bumper_lead_mm",
}
"""Quantity of a station that the value of a finding follows, one to one but for the sign."""

_ROUNDING: Final = 1e-9
"""Values closer than this are the same value."""

_NO_DRAWS: Final = "no draws were made"
_NOT_DRAWN: Final = "the uncertainty of this value is not drawn"
_NO_STATION: Final = "there is no common station at which to judge it"


@one_line
@dataclass(frozen=True)
class FindingChange:
    """One finding in A and in B."""

    kind: Kind  # ``new``: in B only
    a: Finding | None  # The finding in A
    b: Finding | None  # The finding in B
    crossed: bool
    change: float | None
    people_new: tuple[str, ...]  # People concerned in B only
    people_gone: tuple[str, ...]  # People concerned in A only
    beyond: bool | None
    why_not: str  # Why it is not known

    @property
    def finding(self) -> Finding:
        """The finding in B, or in A where B has none."""
        found = self.b or self.a
        assert found is not None
        return found

    @property
    def place(self) -> str:
        """Region and station, in words."""
        found = self.finding
        at = "" if found.station is None else f", y = {found.station:g} mm"
        return f"{found.region.name}{at}"

    @property
    def details(self) -> str:
        """What happened beside its kind, in words; may be empty."""
        parts = []
        if self.crossed:
            parts.append("crossed its threshold")
        if self.why_not.startswith(NOT_KNOWN):
            parts.append(self.why_not)
        if self.kind == "moved":
            if self.change is not None:
                shown = f"clearest value changed by {self.change:+.4g} {self.finding.rule.unit}"
                parts.append(shown.rstrip() if self.change else "same clearest value")
            people = (("now also", self.people_new), ("no longer", self.people_gone))
            parts += [f"{word} {', '.join(names)}" for word, names in people if names]
        if self.beyond is not None:
            parts.append(f"{'beyond' if self.beyond else 'within'} the uncertainty")
        return ", ".join(parts)

    @property
    def words(self) -> str:
        """Code, place and what happened, in one line."""
        head = f"{self.finding.code} ({self.place}): {self.kind}"
        return f"{head}, {self.details}" if self.details else head


def finding_changes(
    a: Sequence[Finding],
    b: Sequence[Finding],
    change_at: Callable[[float, str], Change | None],
    halves: tuple[bool, bool],
) -> tuple[FindingChange, ...]:
    """Match the findings of two fronts."""
    pairs = _pairs(a, b, halves)
    taken = {i for i, _ in pairs}, {j for _, j in pairs}
    out = [_told("new", None, f, change_at) for j, f in enumerate(b) if j not in taken[1]]
    out += [_told("gone", f, None, change_at) for i, f in enumerate(a) if i not in taken[0]]
    both = [(a[i], b[j]) for i, j in sorted(pairs)]
    out += [_told("moved", f, g, change_at) for f, g in both if not _alike(f, g)]
    out += [_told("same", f, g, change_at) for f, g in both if _alike(f, g)]
    return tuple(out)


def _pairs(
    a: Sequence[Finding], b: Sequence[Finding], halves: tuple[bool, bool]
) -> set[tuple[int, int]]:
    """Indices of findings that are the same finding in both fronts."""
    # Each is used once, but one of a half serves for both sides of a whole front.
    wishes = []
    for i, one in enumerate(a):
        for j, two in enumerate(b):
            if (one.code, one.region.name) != (two.code, two.region.name):
                continue
            overlap = _overlap(one, two)
            if overlap >= -_NEAR_MM:
                # Ends with a key that is the same for (i, j) and (j, i): A-B and B-A agree.
                wishes.append((-overlap, i + j, abs(i - j), i, j))
    left, right = set(range(len(a))), set(range(len(b)))
    pairs = set()
    for *_, i, j in sorted(wishes):
        if i in left and j in right:
            pairs.add((i, j))
            if not (halves[0] and not halves[1]):
                left.remove(i)
            if not (halves[1] and not halves[0]):
                right.remove(j)
    return pairs


def _overlap(one: Finding, two: Finding) -> float:
    """Length of the stations that both concern; minus the gap between them where none [mm]."""
    spans = [_stations(one), _stations(two)]
    return min(map(max, spans)) - max(map(min, spans)) if all(spans) else 0.0


def _stations(finding: Finding) -> list[float]:
    ys = [abs(y) for _, y, _ in finding.region.outline_mm]
    return ys if finding.station is None else [*ys, abs(finding.station)]


def _alike(a: Finding, b: Finding) -> bool:
    told = attrgetter("value", "limit", "person", "station", "region", "message")
    return bool(told(a) == told(b))


def _told(
    kind: Kind,
    a: Finding | None,
    b: Finding | None,
    change_at: Callable[[float, str], Change | None],
) -> FindingChange:
    found = b or a
    assert found is not None
    quantity = _QUANTITY.get(found.code)
    here = None
    if quantity is not None and found.station is not None:
        here = change_at(found.station, quantity)
    compares = found.rule.comparison != "is" and found.value is not None
    beyond, why_not = None if here is None else here.beyond, ""
    if quantity is None or (here is not None and quantity == "overhang_mm"):
        why_not = _NOT_DRAWN
    elif here is None:
        why_not = _NO_STATION
    elif beyond is None:
        why_not = here.reason or (_NO_DRAWS if here.chance_less is None else _NOT_DRAWN)
    change = None
    ended = here is not None and bool(here.open_end)
    if a is not None and b is not None and a.limit == b.limit and not ended:
        change = None if a.value is None or b.value is None else b.value - a.value
        change = 0.0 if change is not None and abs(change) < _ROUNDING else change
    people_a, people_b = _people(a), _people(b)
    return FindingChange(
        kind,
        a,
        b,
        crossed=kind in ("new", "gone") and compares and (here is None or here.change is not None),
        change=change,
        people_new=tuple(name for name in people_b if name not in people_a),
        people_gone=tuple(name for name in people_a if name not in people_b),
        beyond=beyond,
        why_not="" if beyond is not None else why_not,
    )


def _people(finding: Finding | None) -> list[str]:
    return finding.person.split(", ") if finding is not None and finding.person else []
