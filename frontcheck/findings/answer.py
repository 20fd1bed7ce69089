"""The answer: the few lines that stand out, who meets what, what a shape cannot say, what next.

A line says what one would do differently because of it. What holds for nearly every front stands
in one paragraph; the rest of the findings is for those who ask for all of them.
"""

from __future__ import annotations

import textwrap
from dataclasses import dataclass, replace
from itertools import filterfalse
from typing import TYPE_CHECKING, Any, Final, get_args

from frontcheck.documents import Evidence, Theme
from frontcheck.findings.abbreviations import in_words
from frontcheck.findings.finding import side_of
from frontcheck.findings.finding_rules import STRUCK_RULES, WORDS
from frontcheck.findings.finding_settings import FindingSettings
from frontcheck.findings.people_rows import PersonRow, names_of, percent, person_rows
from frontcheck.findings.standing import standing
from frontcheck.people.people import CHILD
from frontcheck.serializer import one_line
from frontcheck.sure.stated_uncertainty import COVERAGE, stated_u

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Mapping, Sequence

    from frontcheck.body.motion import MotionStudy
    from frontcheck.findings.assumed_cases import AssumedCases
    from frontcheck.findings.finding import Finding
    from frontcheck.lines.lined_front import LinedFront
    from frontcheck.zones.front_zones import FrontZones

MOST_LINES: Final = 5
_KINDS: Final = ("pushed", "folded", "carried")
"""Shares of a person who is struck, each of one kind."""
MOST_STEPS: Final = 3
WIDEST: Final = 98
"""Characters in a line: with its number it has to fit a terminal of 100 and a page."""

_SOFTNESS: Final = (
    "How soft it is behind the skin: a push-in reading on the car, or a drawing cut open at the "
    "centre, would add that."
)
_STRONGEST: Final[tuple[Evidence, ...]] = get_args(Evidence)


_MOTION: Final[Theme] = "pushed_or_carried"
_FIRST: Final = (
    ("LEG-KNEE-FIRST", "knee"),
    ("LEG-THIGH-FIRST", "thigh"),
    ("LEG-TRUNK-FIRST", "hip or trunk"),
)
_LIPS: Final = frozenset({"LEG-UNDERCUT", "LEG-LIP-AHEAD"})
"""Findings of a lip on the front."""


@one_line
@dataclass(frozen=True)
class AnswerLine:
    """One thing that stands out."""

    theme: Theme  # Of what it speaks; one line a theme at most
    text: str  # Place, number, comparison and what it changes, in plain words
    evidence: Evidence  # How strong it is
    stations: tuple[float, ...]  # Where it holds [mm]
    findings: tuple[str, ...]  # Codes of the findings behind it
    holds_in_100: int | None = None  # Of 100 assumed cases; None where none were looked at


@one_line
@dataclass(frozen=True)
class NextStep:
    """Something to measure, ask for or change."""

    do: str  # What, with its place
    settles: tuple[str, ...]  # Codes of the findings that it settles


@one_line
@dataclass(frozen=True)
class Answer:
    """What a screening comes to."""

    lines: tuple[AnswerLine, ...]  # What stands out, most important first; at most five
    people: tuple[PersonRow, ...]  # Who meets what, at the station nearest the centre
    cannot_say: tuple[str, ...]  # What no shape can say, softness first
    next: tuple[NextStep, ...]  # What to do next; at most three
    standing: str  # What holds for nearly every front, with the numbers of this one


@dataclass(frozen=True)
class _Candidate:
    """All findings of one code, as they would be told in one line."""

    code: str
    findings: tuple[Finding, ...]
    stations: tuple[float, ...]
    margin: float | None  # Of the clearest, in units of the stated uncertainty
    width: float  # Share of the stations at which it holds
    in_100: int | None = None  # In how many of 100 assumed cases it holds; None: not known
    robust: bool = False  # Whether those are nearly all

    @property
    def evidence(self) -> Evidence:
        """How strong it is: what hardly hangs on the measurement is no weaker than robust."""
        own = self.findings[0].rule.evidence
        return min(own, "robust", key=_STRONGEST.index) if self.robust else own

    @property
    def rank(self) -> tuple[int, int]:
        """Within a theme: evidence, then what its rules say comes first, whatever the cases say."""
        return _STRONGEST.index(self.findings[0].rule.evidence), WORDS[self.code].get("rank", 1)

    @property
    def own_choice(self) -> bool:
        """Whether its threshold is ours."""
        return self.findings[0].rule.provenance == "own choice"

    @property
    def order(self) -> tuple[int, float, float, str]:
        """Sorts the most important first."""
        unsure = float("inf") if self.margin is None else -self.margin
        return _STRONGEST.index(self.evidence), unsure, -self.width, self.code


def answer(
    lined: LinedFront,
    findings: Sequence[Finding],
    settings: FindingSettings | None = None,
    zones: FrontZones | None = None,
    cases: AssumedCases | None = None,
    motion: MotionStudy | None = None,
) -> Answer:
    """Choose from the findings of a front what stands out, and say what to do next."""
    settings = FindingSettings() if settings is None else settings
    people = settings.people
    every = _candidates(lined, findings)
    if cases is not None:
        every = _counted(lined, every, cases, settings, zones)
    chosen, left = _chosen(every)
    lip = not _LIPS.isdisjoint(finding.code for finding in findings if not lined.front.silhouette)
    told = {"first_touch": _first_touch(findings)}
    struck = _undecided(motion)
    lines = tuple(
        AnswerLine(
            one.findings[0].rule.theme,
            _text(lined, one, told, struck),
            one.evidence,
            one.stations,
            (one.code,),
            one.in_100,
        )
        for one in chosen
    )
    return Answer(
        lines,
        person_rows(lined, people, motion),
        _cannot_say(lined, lip=lip),
        tuple(_next(lined, chosen, left)),
        standing(lined, findings, people, zones, {one.code for one in chosen}),
    )


def _candidates(lined: LinedFront, findings: Iterable[Finding]) -> list[_Candidate]:
    """Everything that may be told in a line."""
    by_code: dict[str, list[Finding]] = {}
    findings = tuple(findings)
    # What the motion model says stands in place of what heights alone let one think.
    struck = any(f.code in STRUCK_RULES and f.rule.theme == _MOTION for f in findings)
    for finding in findings:
        if struck and finding.rule.theme == _MOTION and finding.code not in STRUCK_RULES:
            continue
        # Of the child alone it holds on nearly every front: see the standing paragraph.
        if "line" in WORDS[finding.code] and not finding.aside and finding.person != CHILD.name:
            by_code.setdefault(finding.code, []).append(finding)
    return [_candidate(lined, *item) for item in by_code.items()]


def _counted(
    lined: LinedFront,
    every: Sequence[_Candidate],
    cases: AssumedCases,
    settings: FindingSettings,
    zones: FrontZones | None,
) -> list[_Candidate]:
    """The same, and in how many assumed cases what may be told holds, where that is known."""
    from frontcheck.findings.assumed_cases import CASES, held_again, in_100
    from frontcheck.sure.shares import is_robust

    likely = [*_best(filterfalse(_stands_in, every)), *filter(_stands_in, every)]
    area = None if zones is None else zones.bumper_test_area
    wanted = {one.code: one.stations for one in likely}
    again = held_again(lined, wanted, cases, settings, area)
    counts = {code: int(held.sum()) for code, held in again.items()}
    return [
        replace(one, in_100=in_100(counts[one.code]), robust=is_robust(counts[one.code], CASES))
        if one.code in counts
        else one
        for one in every
    ]


def _stands_in(one: _Candidate) -> bool:
    """Whether it is told only where nothing with a source of its own stands out."""
    return bool(WORDS[one.code].get("stands_in"))


def _chosen(every: Sequence[_Candidate]) -> tuple[list[_Candidate], list[_Candidate]]:
    """The most important line of every theme, in order; and what is left."""
    lines = _best(filterfalse(_stands_in, every))
    if not lines or lines[0].own_choice:  # a threshold of our own never leads
        lines = _best([*filter(_stands_in, every), *lines])
    if lines and lines[0].own_choice:  # not even one that hardly hangs on the measurement
        lines = _best(replace(one, robust=one.robust and not one.own_choice) for one in lines)
    lines = lines[:MOST_LINES]
    told = {one.code for one in lines}
    return lines, [one for one in sorted(every, key=_importance) if one.code not in told]


def _importance(one: _Candidate) -> tuple[Any, ...]:
    return one.rank, one.order


def _best(candidates: Iterable[_Candidate]) -> list[_Candidate]:
    themes: dict[Theme, _Candidate] = {}
    for one in sorted(candidates, key=_importance):
        themes.setdefault(one.findings[0].rule.theme, one)
    return sorted(themes.values(), key=lambda one: one.order)


def _candidate(lined: LinedFront, code: str, findings: Sequence[Finding]) -> _Candidate:
    stations = _stations(lined, findings)
    margins = [m for f in findings if (m := _in_units_of_u(lined, f)) is not None]
    return _Candidate(
        code,
        tuple(findings),
        stations,
        max(margins, default=None),
        len(stations) / len(lined.stations),
    )


def _stations(lined: LinedFront, findings: Sequence[Finding]) -> tuple[float, ...]:
    """Those of the front's stations at which findings hold, or between which they lie."""
    every = [station.y for station in lined.stations]
    found = {y for finding in findings for y in finding.stations}
    if not found:
        return tuple(every)
    if found <= set(every):
        return tuple(sorted(found))
    side = side_of(lined)
    across = {side(y) for y in found}
    within = [y for y in every if min(across) <= side(y) <= max(across)]
    return tuple(within or [min(every, key=lambda y: abs(side(y) - min(across)))])


def _in_units_of_u(lined: LinedFront, finding: Finding) -> float | None:
    """The margin of a finding over the uncertainty that the survey states of its point."""
    way, margin = WORDS[finding.code].get("unsure"), finding.margin
    if way is None or margin is None or finding.station is None or not finding.region.outline_mm:
        return None
    station = finding.station
    at = min(finding.region.outline_mm, key=lambda point: abs(point[1] - station))
    y = min(lined.front.stations, key=lambda y: abs(y - station))
    u = stated_u(lined.front, y, (at[0], at[2]), way)
    return None if u is None else abs(margin) / u


def _fields(lined: LinedFront, one: _Candidate) -> dict[str, str]:
    """What the words of a line may name."""
    clearest = max(one.findings, key=lambda f: f.margin or 0.0)
    spreads = [f.spread for f in one.findings if f.spread]
    spreads += [(f.value, f.value) for f in one.findings if f.value is not None and not f.spread]
    ends = [end for spread in spreads for end in spread]
    limit = clearest.limit
    beyonds = [abs(end - limit) for end in ends] if isinstance(limit, float) else []
    return {
        "place": place(lined, one.stations),
        "values": _range(min(ends), max(ends)) if ends else "",
        "value": "" if clearest.value is None else f"{clearest.value:.0f}",
        "limit": "" if limit is None or isinstance(limit, tuple) else f"{limit:.0f}",
        "most": f"{max(map(abs, ends)):.0f}" if ends else "",
        "by": _range(min(beyonds), max(beyonds)) if beyonds else "",
        "legform": _legform(lined, one, min(ends), max(ends)) if ends else "",
        "margin": "" if clearest.margin is None else f"{clearest.margin:.0f}",
        "edge": _edge(lined, clearest),
        "who": names_of(name for f in one.findings for name in _adults(f)),
        "at": _at(lined, clearest.station),
        "what": clearest.region.name.partition(" under the ")[0],
    }


def _legform(lined: LinedFront, one: _Candidate, low: float, high: float) -> str:
    """Which legform is used for lower bumper heights from the first limit on, if that is sure."""
    if one.margin is not None and one.margin < COVERAGE:
        return "too close to call which legform"
    upper = lined.rules.value("legform.upper_from_mm")
    if low >= upper:
        return "the upper legform applies"
    return "either legform may be used" + (f", from {upper:.0f} the upper" if high >= upper else "")


def _edge(lined: LinedFront, finding: Finding) -> str:
    """The height at which the legform changes that is nearest to a lower bumper line."""
    height = min(finding.region.outline_mm, default=(0.0, 0.0, 0.0))[2]
    limits = [lined.rules.value(f"legform.{name}_mm") for name in ("lower_below", "upper_from")]
    return f"{min(limits, key=lambda limit: abs(limit - height)):.0f}"


def _undecided(motion: MotionStudy | None) -> str:
    """That people were struck, and that the assumed cases do not agree on anybody."""
    if motion is None or any(one.refused or one.kind != "undecided" for one in motion.people):
        return ""
    most = percent(max(one.shares[kind] for one in motion.people for kind in _KINDS))
    return f"; struck at {motion.speed_km_h:g} km/h: undecided, no kind above {most}"


def _text(lined: LinedFront, one: _Candidate, told: Mapping[str, str], struck: str = "") -> str:
    """The line of a candidate; what is told of the front as such may stand in it too."""
    fields = {**_fields(lined, one), **told}
    text = _filled(WORDS[one.code]["line"], fields)
    if len(text) > WIDEST:  # the place is told by the stations too
        text = _filled(WORDS[one.code]["line"].replace(" {place}", ""), fields)
    if one.findings[0].rule.theme == _MOTION:
        text = textwrap.shorten(text, WIDEST - len(struck), placeholder=" ...") + struck
    return textwrap.shorten(text, WIDEST, placeholder=" ...")


def _filled(words: str, fields: dict[str, str]) -> str:
    text = in_words(" ".join(words.format_map(fields).split()))
    return text[:1].upper() + text[1:]


def _range(low: float, high: float) -> str:
    return f"{low:.0f}" if f"{low:.0f}" == f"{high:.0f}" else f"{low:.0f} to {high:.0f}"


def place(lined: LinedFront, ys: Sequence[float]) -> str:
    """Return in plain words where on the front something holds."""
    every = [station.y for station in lined.stations]
    if len(every) == 1:
        return "in this section"
    if not ys or set(every) <= set(ys):
        return "over the whole width"
    if len(ys) == 1:
        return _at(lined, ys[0])
    low, high = ys[0], ys[-1]
    half, alike = lined.front.symmetric, list(ys) == [0.0 - y for y in reversed(ys)]
    if low < 0.0 < high and not alike:
        return f"from {-low:g} mm left to {high:g} mm right"
    side = "" if half else " both sides" if alike else " left" if low < 0.0 else " right"
    out = [abs(y) for y in ys]
    near, far = min(out), max(out)
    if near == far:
        return f"at {far:g} mm out{side}"
    return f"at {near:g} to {far:g} mm out{side}" if near else f"out to {far:g} mm{side}"


def _at(lined: LinedFront, y: float | None) -> str:
    if y is None:
        return "on the whole front"
    if y == 0.0:
        return "at the centre"
    side = "" if lined.front.symmetric else " right" if y > 0.0 else " left"
    return f"at {abs(y):g} mm out{side}"


def _next(
    lined: LinedFront, chosen: Sequence[_Candidate], left: Sequence[_Candidate]
) -> Iterator[NextStep]:
    """What settles the open lines, in their order; the same step once."""
    steps: dict[str, list[str]] = {}
    open_themes = {one.findings[0].rule.theme for one in chosen}
    also = [one for one in left if one.findings[0].rule.theme in open_themes]
    for one in (*chosen, *also):
        words = WORDS[one.code].get("do")
        if words:
            steps.setdefault(_filled(words, _fields(lined, one)), []).append(one.code)
    first = list(steps.items())
    if all(s.height_u is None and s.setback_u is None for s in lined.front.sections):
        unsure = [one.code for one in chosen if "unsure" in WORDS[one.code]]
        state = "State how exact the rows are, so that margins can be judged"
        first.insert(min(len(first), MOST_STEPS - 1), (state, unsure))
    for do, settles in first[:MOST_STEPS]:
        yield NextStep(do, tuple(settles))


def _first_touch(findings: Iterable[Finding]) -> str:
    """Whose knee, thigh or trunk is met first, in words."""
    found: dict[str, list[str]] = {}
    for finding in findings:
        found.setdefault(finding.code, []).extend(_adults(finding))
    for code, what in _FIRST:
        if who := names_of(found.get(code, ())):
            return f"{what} of {who}"
    return "shins"


def _adults(finding: Finding) -> list[str]:
    return [name for name in finding.person.split(", ") if name and name != CHILD.name]


def _cannot_say(lined: LinedFront, *, lip: bool) -> tuple[str, ...]:
    soft = f"{_SOFTNESS} A lip is here; whether it holds a leg is not known." if lip else _SOFTNESS
    said = [soft, "This cannot say whether a car is safe."]
    if lined.front.silhouette:
        said.append("Recess, lower lip, corners: a side photo shows only the outline (not seen).")
    if len(lined.front.full().sections) < 2:
        said.append(
            "Where bumper test area and headform areas lie: one section has no shape in plan."
        )
    elif lined.front.datum == "local":
        said.append(
            "Where bumper test area and headform areas lie: the plan shape was not measured."
        )
    return tuple(said)
