"""What the command ``motion`` says on the terminal."""

from __future__ import annotations

import textwrap
from typing import TYPE_CHECKING, Final

from frontcheck.body.person_motion import KINDS, by_reason
from frontcheck.body.struck_front import BEYOND
from frontcheck.errors import escaped
from frontcheck.findings.people_rows import head_part, names_of, percent, plain_person

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence
    from pathlib import Path

    from frontcheck.body.motion import Difference, MotionStudy
    from frontcheck.body.person_motion import PersonMotion, Spread
    from frontcheck.outputs.text.terminal import Style

WIDEST: Final = 100
_NONE: Final = "-"
_KINDS: Final = {"folded over the edge": "folded over"}
_BEYOND: Final = {BEYOND: "beyond measured"}
_SURE: Final = {"yes": "yes", "only if equally soft": "if alike", "no": "no"}


def motion_text(style: Style, study: MotionStudy, out: Path | None = None) -> str:
    """Return a motion study as text: who is pushed, folded or carried first."""
    width = min(style.width, WIDEST)
    lines = list(_lines(study, width))
    if out is not None:
        lines += [("", False), *_wrapped(f"Written: {escaped(out)}", width)]
    return style.spelt_out([style.lines(lines)])


def _lines(study: MotionStudy, width: int) -> Iterator[tuple[str, bool]]:
    y = study.sides[0].station.y
    where = "at the centre plane" if y == 0.0 else f"at y = {y:g} mm"
    yield from _wrapped(
        f"{' and '.join(study.names)}: people struck from the side {where} at "
        f"{study.speed_km_h:g} km/h, in {study.draws} assumed cases each. Shares are of those "
        "cases; ranges leave out the lowest and the highest 5 in 100. Heads land at a wrap-around "
        "distance: from the ground along the skin.",
        width,
    )
    for name, people in zip(study.names, study.motions, strict=True):
        yield "", False
        yield from _front(name, people, width)
    if study.changes:
        yield "", False
        yield from _changes(study, width)
    for text in study.cautions[1:]:
        yield "", False
        yield from _wrapped(text, width)
    yield "", False
    yield from _wrapped(study.cautions[0], width, loud=True)
    yield "", False
    for note in study.notes:
        yield from _wrapped(note, width)
    yield "Assumed, and what would settle it (all numbers: frontcheck explain motion-model)", True
    for text in study.assumed:
        yield from _wrapped(f"- {text}", width, "  ")


def _wrapped(
    text: str, width: int, indent: str = "", *, loud: bool = False
) -> Iterator[tuple[str, bool]]:
    for line in textwrap.wrap(text, width, subsequent_indent=indent):
        yield line, loud


def _table(
    rows: Sequence[Sequence[str]], width: int, shares: Sequence[int] = ()
) -> Iterator[tuple[str, bool]]:
    """Rows in columns, the first a heading; columns of shares stand close, to the right."""
    wide = [max(map(len, column)) for column in zip(*rows, strict=True)]
    for i, row in enumerate(rows):
        line = ""
        for j, (cell, w) in enumerate(zip(row, wide, strict=True)):
            gap = "" if j == 0 else " " if {j, j - 1} <= set(shares) else "  "
            line += gap + (cell.rjust(w) if j in shares else cell.ljust(w))
        yield line.rstrip()[:width], i == 0


def _front(name: str, people: Sequence[PersonMotion], width: int) -> Iterator[tuple[str, bool]]:
    rows = [[name, *KINDS, "becomes", "head at, mm", "on the", "after, ms"]]
    for one in people:
        shares = [percent(one.shares[share]) if one.shares else _NONE for share in KINDS]
        rows.append(
            [
                plain_person(one.person),
                *shares,
                _KINDS.get(one.kind, one.kind) if one.shares else "not said",
                _range(one.wad_mm),
                _BEYOND.get(one.part or "", head_part(one) or _NONE),
                _range(one.time_ms),
            ]
        )
    yield from _table(rows, width, (1, 2, 3))
    limits: dict[str, list[str]] = {}
    for one in people:
        if one.at_least is not None:
            limits.setdefault(percent(one.at_least), []).append(one.person)
    if limits:
        said = "; ".join(f"{limit} for {names_of(who)}" for limit, who in limits.items())
        yield from _wrapped(
            f"Lower 95 % limit of the share that a word rests on: {said}.", width, "  "
        )
    yield from _wrapped(_edge(people), width, "  ")
    for reason, who in by_reason(people).items():
        whose = f"No place of the head for {names_of(who)}"
        what = "Nothing can be said here" if people[0].refused else whose
        yield from _wrapped(f"{what}: {reason}.", width, "  ")


def _edge(people: Sequence[PersonMotion]) -> str:
    """The static comparison, beside the moving one."""
    known: dict[str, list[str]] = {}
    for one in people:
        if one.edge is not None:
            known.setdefault(one.edge.against, []).append(one.person)
    if not known:
        return "How the bonnet edge stands to the balance point is not known."
    height = next(one.edge.edge_mm for one in people if one.edge is not None)
    words = {
        "below": "below that of",
        "in the band": "about level with that of",
        "above": "above that of",
    }
    said = "; ".join(f"{words[key]} {names_of(known[key])}" for key in words if key in known)
    return (
        f"Standing still: the bonnet edge, {height:.0f} mm up, against the balance point: {said}."
    )


def _range(spread: Spread | None) -> str:
    return _NONE if spread is None else f"{spread.p5:.0f} to {spread.p95:.0f}"


def _changes(study: MotionStudy, width: int) -> Iterator[tuple[str, bool]]:
    a, b = study.names
    title = f"From {a} to {b}"
    rows = [[title, "head lands, mm", "separable", "after, ms", "separable"]]
    for change in study.changes:
        cells = [_difference(change.wad), _difference(change.time)]
        rows.append([plain_person(change.person), *cells[0], *cells[1]])
    yield from _table(rows, width)
    yield from _wrapped(
        "Median (range) of B less A, case by case. Separable: yes, or no (too close to call), or "
        "only if both are alike, that is equally soft and slippery; then the shares of cases with "
        "that sign: softness and friction drawn alike for both / drawn apart.",
        width,
        "  ",
    )
    for change in study.changes:
        if change.reason:
            yield from _wrapped(
                f"{plain_person(change.person)}: not compared: {change.reason}.", width, "  "
            )


def _difference(of: Difference | None) -> tuple[str, str]:
    if of is None:
        return _NONE, _NONE
    spread = of.spread
    return (
        f"{spread.median:+.0f} ({spread.p5:+.0f} to {spread.p95:+.0f})",
        f"{_SURE[of.separable]}, {100.0 * of.same_sign:.0f} / {percent(of.same_sign_drawn_apart)}",
    )
