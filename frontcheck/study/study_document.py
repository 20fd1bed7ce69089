"""What stands in the documents of a solution and of a sweep, key by key."""

import math
from typing import Annotated, Any, Final, Literal

from msgspec import UNSET, UnsetType

from frontcheck.body.assumptions import assumptions
from frontcheck.caution import CAUTION
from frontcheck.documents import (
    VERSION,
    AnswerPersonEntry,
    InputEntry,
    RuleSetEntry,
    SpreadEntry,
)
from frontcheck.serializer import Entry, From, filled
from frontcheck.study.moves import moves_said

SOLUTION = "frontcheck.solution/1"
"""Name and version of the document of a solution."""
SUMMARY = "frontcheck.sweep-summary/1"
"""Name and version of the summary of a sweep."""

_CAUTIONS = From(lambda result: [CAUTION, *result.study.setup.cautions])


def _finite(value: float) -> float | None:
    return value if math.isfinite(value) else None


class ProofEntry(Entry):
    """What was proven of the least change."""

    status: str
    text: str


class ParameterEntry(Entry):
    """One parameter: its range, its value at the base and in the solution."""

    name: str
    unit: str
    low: float
    high: float
    base: float
    solution: float | None


def _parameters(found: Any) -> list[ParameterEntry]:
    base = found.study.setup.shapes.base.tolist()
    return [
        filled(ParameterEntry, varied, base=at, solution=found.values.get(varied.name))
        for varied, at in zip(found.study.varied, base, strict=True)
    ]


class LimitedLineEntry(Entry):
    """One line that a limit concerns, at the base and in the solution."""

    line: Annotated[str, From("limit.line")]
    station_mm: float
    at_least_mm: Annotated[float | None, From(lambda line: _finite(line.limit.at_least))]
    at_most_mm: Annotated[float | None, From(lambda line: _finite(line.limit.at_most))]
    before_mm: float | None
    after_mm: float | None
    probability_asked: Annotated[float | None, From("limit.probability")]
    probability: float | None
    kept: bool
    before_open_end: bool
    after_open_end: bool


class SolutionDocument(Entry, tag_field="schema", tag=SOLUTION):
    """The least change that brings lines inside limits."""

    study: Annotated[str, From("study.name")]
    rule_set: Annotated[RuleSetEntry, From("study.setup.rules")]
    status: Literal["met", "found", "none_exists", "none_found"]
    reason: str
    skin_moved_mm: float | None
    proven_least_mm: Annotated[float | None, From("proof.least_mm")]
    proof: ProofEntry
    parameters: Annotated[list[ParameterEntry], From(_parameters)]
    lines: list[LimitedLineEntry]
    cautions: Annotated[list[str], _CAUTIONS]


class VariantsEntry(Entry):
    """How many variants were made, and what became of them."""

    made: Annotated[int, From(lambda results: len(results.status))]
    sample: Annotated[int, From(lambda results: len(results.study.sample))]
    ok: Annotated[int, From(lambda results: results.count("ok"))]
    incomplete: Annotated[int, From(lambda results: results.count("incomplete"))]
    open_end: Annotated[int, From(lambda results: int(results.open_ends().sum()))]
    infeasible: Annotated[int, From(lambda results: results.count("infeasible"))]


class KeptEntry(Entry):
    """How many variants of the sample keep one limit."""

    limit: str
    kept: int
    open_end: int  # Of the others, how many have a line that an open end could change


def _kept(results: Any) -> list[KeptEntry]:
    def count(which: Any) -> int:
        return int(which[results.sample].sum())

    return [
        KeptEntry(limit.text, count(results.within(limit)), count(results.open_ends(limit)))
        for limit in results.study.limits
    ]


def _all_kept(results: Any) -> int | None:
    return int(results.within_all[results.sample].sum()) if results.study.limits else None


class SensitivityEntry(Entry):
    """Sobol indices of one number by parameter, or why there are none."""

    name: str
    status: Literal["ok", "not_available"]
    reason: str
    sd_mm: Annotated[float | None, From("deviation")]
    first: dict[str, float] | None
    total: dict[str, float] | None


def _sensitivities(results: Any) -> list[SensitivityEntry]:
    names = [varied.name for varied in results.study.varied]

    def by_parameter(values: Any) -> dict[str, float] | None:
        return None if values is None else dict(zip(names, values.tolist(), strict=True))

    return [
        filled(SensitivityEntry, one, first=by_parameter(one.first), total=by_parameter(one.total))
        for one in results.sensitivities()
    ]


def _assumed(results: Any) -> list[str]:
    return [] if results.study.setup.heads is None else list(assumptions())


class HeadOfVariantEntry(Entry):
    """Where the head lands on one variant."""

    variant: int
    wad_mm: SpreadEntry


class HeadLandingEntry(Entry):
    """Where the head of one person lands over the sample, by the variants' medians."""

    person: str
    given: int
    not_given: int
    because: dict[str, int]
    nearest: HeadOfVariantEntry | None
    farthest: HeadOfVariantEntry | None


class HeadLandingsEntry(Entry):
    """Who is struck where, how fast, and in which assumed cases."""

    people: list[str]
    station_mm: Annotated[float, From("station")]
    speed_km_h: float
    draws: int
    seed: int


class SweepSummary(Entry, tag_field="schema", tag=SUMMARY):
    """The summary of a sweep: counts, limits kept, sensitivities."""

    study: Annotated[str, From("study.name")]
    rule_set: Annotated[RuleSetEntry, From("study.setup.rules")]
    variants: Annotated[VariantsEntry, From(lambda results: results)]
    infeasible_because: Annotated[dict[str, int], From("reasons")]
    limits: Annotated[list[KeptEntry], From(_kept)]
    within_all_limits: Annotated[int | None, From(_all_kept)]
    sensitivities: Annotated[list[SensitivityEntry], From(_sensitivities)]
    motion: Annotated[HeadLandingsEntry | None, From("study.setup.heads")]
    heads: Annotated[list[HeadLandingEntry], From("head_landings")]
    assumed: Annotated[list[str], From(_assumed)]
    cautions: Annotated[list[str], _CAUTIONS]


WHAT_IF: Final = "frontcheck.what-if/1"
"""Name and version of the document of moved features."""


class MoveEntry(Entry):
    """One handle and how far it was moved."""

    handle: str
    amount: float
    words: str


class MovedLineEntry(Entry):
    """One coordinate of a line at one station, before and after."""

    station_mm: float
    quantity: str
    before: float | None
    after: float | None
    change: float | None
    status_before: str
    status_after: str
    reason: str


class ToldEntry(Entry):
    """One line of the answer before and after."""

    block: str
    kind: Literal["gone", "changed", "new", "stayed"]
    before: str | None
    after: str | None


class PersonMovedEntry(Entry):
    """Who meets what, before and after."""

    before: AnswerPersonEntry
    after: AnswerPersonEntry


class RateEntry(Entry):
    """How far one line goes for 10 mm or 1 deg of one feature."""

    handle: Annotated[str, From("handle.name")]
    line: str
    mm: float | None
    reason: str


class RatesEntry(Entry):
    """Which feature moves which line at one station, near the shape before."""

    station_mm: Annotated[float, From("station")]
    rates: list[RateEntry]


def _moves(found: Any) -> list[MoveEntry]:
    amounts = found.amounts.items()
    return [MoveEntry(name, amount, moves_said({name: amount})) for name, amount in amounts]


def _moved_lines(found: Any) -> list[MovedLineEntry]:
    return [
        MovedLineEntry(y, each.quantity, each.a, each.b, each.change, each.status_a,
                       each.status_b, each.reason)
        for y, each in found.lines
    ]  # fmt: skip


def _met(found: Any) -> list[PersonMovedEntry]:
    entries = ((filled(AnswerPersonEntry, each) for each in pair) for pair in found.people())
    return [PersonMovedEntry(*pair) for pair in entries]


class WhatIfDocument(Entry, tag_field="schema", tag=WHAT_IF, kw_only=True):
    """A front with features moved: what of lines and answer that changes."""

    frontcheck: Annotated[str, VERSION]
    input: Annotated[InputEntry, From("base")]
    rule_set: Annotated[RuleSetEntry, From("rules")]
    moves: Annotated[list[MoveEntry], From(_moves)]
    not_moved: Annotated[list[str], From(lambda found: found.in_the_way())]
    skin_moved_mm: float
    moved: Annotated[InputEntry, From("front")]
    notes: list[str]
    lines: Annotated[list[MovedLineEntry], From(_moved_lines)]
    answer: Annotated[list[ToldEntry], From(lambda found: found.answer())]
    people: Annotated[list[PersonMovedEntry], From(_met)]
    per_10mm: RatesEntry | UnsetType = UNSET
    cautions: Annotated[list[str], From(lambda found: found.cautions)]
