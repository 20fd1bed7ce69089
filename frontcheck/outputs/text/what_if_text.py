"""What the command ``what-if`` says on the terminal."""

from __future__ import annotations

import textwrap
from typing import TYPE_CHECKING, Final

from frontcheck.caution import CAUTION, DRAWING
from frontcheck.errors import escaped
from frontcheck.lines.said import missing_said
from frontcheck.lines.statuses import OPEN_END
from frontcheck.outputs.text.comparison_text import formed_otherwise, not_comparable
from frontcheck.outputs.text.first_screen import edge_words, knee, touch
from frontcheck.study.sensitivity import UNITS

if TYPE_CHECKING:
    from collections.abc import Iterator
    from pathlib import Path

    from frontcheck.comparison.changes import Change
    from frontcheck.findings.people_rows import PersonRow
    from frontcheck.front.front import Front
    from frontcheck.outputs.text.terminal import Style
    from frontcheck.study.sensitivity import Rate, Sensitivity
    from frontcheck.study.what_if import Told, WhatIf

_BLOCKS: Final = {
    "stands out": "What stands out",
    "cannot say": "What a shape cannot say",
    "next": "Next",
}
_MET: Final = ("leg met first", "knee to face", "bonnet edge to balance point")
_FOR: Final = " or ".join(f"{size:g} {unit}" for unit, size in UNITS.items())
_SAME: Final = 1e-6
"""Changes below this are rounding [mm]."""
_TENTH: Final = 0.05
"""What would read as 0.0 is shown with its own digit [mm]."""


def what_if_text(
    style: Style, found: WhatIf, rates: Sensitivity | None = None, out: Path | None = None
) -> str:
    """Return what moved, what that does to lines and answer, and which feature moves which line."""
    front = found.base
    moves = found.moves or ("not moved" if found.amounts else "as it is")
    parts = [style.paragraph(f"{front.name}: {moves}. {found.rules.title}.")]
    if found.amounts:
        parts += _moved(style, found)
    if rates is not None:
        parts += _rates(style, rates, "Before the moves: how" if found.amounts else "How")
    parts += [style.paragraph(text) for text in found.notes]
    parts += [style.paragraph(CAUTION, loud=True), style.paragraph(DRAWING)]
    if out is not None:
        parts.append(style.paragraph(f"Written: {escaped(out)}{_left_out(front)}"))
    return style.fitted(style.spelt_out(parts))


def _moved(style: Style, found: WhatIf) -> list[str]:
    front = found.front
    proposed = "" if front is None else front.not_measured
    skin = f"The skin moves {found.skin_moved_mm:.4g} mm at most"
    parts = [style.paragraph("; ".join(filter(None, [skin, proposed])) + ".")]
    parts += [style.paragraph(f"Not moved everywhere: {text}.") for text in found.in_the_way()]
    at = min((y for y, _ in found.lines), key=lambda y: (abs(y), y))
    rows = [
        _row(change, [other for _, other in found.lines if other.quantity == change.quantity])
        for y, change in found.lines
        if y == at and change.unit == "mm" and (change.a is not None or change.b is not None)
    ]
    where = "the centre" if at == 0.0 else f"y = {at:g} mm"
    title = f"Lines at {where}, mm (x back, z up)"
    header = ["line", "before", "after", "change", "change at all stations"]
    parts.append(style.table(title, header, rows))
    otherwise = formed_otherwise(found.lines)
    if otherwise:
        parts.append(
            style.table("Formed in another way", ["line", "before", "after", "y"], otherwise)
        )
    parts += [
        style.paragraph(f"{text.replace(' in A', ' before').replace(' in B', ' after')}.")
        for text in not_comparable(found.lines)
    ]
    missing = missing_said(found.after.stations)
    parts += [style.paragraph(f"Not formed: {text}.") for text in missing]
    parts.append(style.lines(list(_answer(found, style.width))))
    return parts


def _left_out(front: Front) -> str:
    """What of a front its table does not say."""
    beside = front.beside
    said = {"hard points": beside.hard_points, "beam ends": beside.beam_ends_mm}
    names = [name for name, there in said.items() if there]
    return (
        f" (without {' and '.join(names)}: a table has no place for them, so its answer may differ)"
        if names
        else ""
    )


def _row(change: Change, everywhere: list[Change]) -> list[str]:
    values = [each.change for each in everywhere if each.change is not None]
    ends = f"{_change(min(values))} to {_change(max(values))}" if values else "-"
    name = change.quantity.removesuffix("_mm").replace("_", " ")
    sides = ((change.a, change.status_a), (change.b, change.status_b))
    before, after = (_number(value, status) for value, status in sides)
    return [name, before, after, _change(change.change), ends]


def _number(value: float | None, status: str) -> str:
    if value is None:
        return "-"
    return f"({value:.1f})" if status.startswith(OPEN_END) else f"{value:.1f}"


def _change(value: float | None) -> str:
    if value is None:
        return "-"
    if abs(value) < _SAME:
        return "0"
    return f"{value:+.1f}" if abs(value) >= _TENTH else f"{value:+.1g}"


def _answer(found: WhatIf, width: int) -> Iterator[tuple[str, bool]]:
    """The answer, line by line: what went, what came, what stays."""
    yield "The answer: - went, + came, = stays", True
    told = found.answer()
    for block, title in _BLOCKS.items():
        lines = [each for each in told if each.block == block]
        if block == "next":
            yield from _people(found, width)
        if block != "stands out" and all(each.kind == "stayed" for each in lines):
            yield f"{title}: as before", False
            continue
        yield title, False
        for each in lines:
            yield from _told(each, width)


def _told(told: Told, width: int) -> Iterator[tuple[str, bool]]:
    if told.kind == "stayed":
        yield from _marked("=", told.after, width)
    else:
        yield from _marked("-", told.before, width)
        yield from _marked("+", told.after, width)


def _marked(mark: str, text: str | None, width: int) -> Iterator[tuple[str, bool]]:
    if text is not None:
        for line in textwrap.wrap(
            text, width, initial_indent=f"  {mark} ", subsequent_indent=" " * 4
        ):
            yield line, False


def _people(found: WhatIf, width: int) -> Iterator[tuple[str, bool]]:
    """Who meets something else than before, and what it was."""
    said = []
    for pair in found.people():
        whats = [
            f"{what}: {after} (was {before})"
            for what, before, after in zip(_MET, *map(_met, pair), strict=True)
            if before != after
        ]
        if whats:
            said.append(f"{pair[0].person}: {'; '.join(whats)}")
    rest = len(found.people()) - len(said)
    yield "Who meets what" + ("" if not rest else ": as before" if not said else ", changed"), False
    for text in said:
        yield from _marked(" ", text, width)


def _met(row: PersonRow) -> tuple[str, str, str]:
    return touch(row), knee(row), edge_words(row)


def _rates(style: Style, table: Sensitivity, how: str) -> list[str]:
    """Two tables, lines and tape, for one would be too wide; what has no one rate stands below."""
    absent: dict[str, dict[str, bool]] = {}
    for handle, why in table.absent.items():
        absent.setdefault(why.partition(",")[0], {})[handle.words] = True
    at = "the centre" if table.station == 0.0 else f"y = {table.station:g} mm"
    parts, notes = [], []
    tape = [line for line in table.lines if line.startswith("WAD")]
    for lines in ([line for line in table.lines if line not in tape], tape):
        rows = []
        for handle in table.there:
            rates = [table.rate(handle.name, line) for line in lines]
            rows.append([handle.label, *map(_rate, rates)])
            notes += [f"{handle.label}, {_head(r.line)}: {r.reason}" for r in rates if r.reason]
        title = f"{how} far a line goes at {at}, mm, for {_FOR} of each (. stays)"
        if lines:
            parts.append(style.table(title, ["for", *map(_head, lines)], rows))
    if notes:
        parts.append(style.paragraph(f"* No one rate: {'; '.join(notes)}."))
    for reason, names in absent.items():
        parts.append(style.paragraph(f"Not to be moved here ({reason}): {', '.join(names)}."))
    return parts


def _head(line: str) -> str:
    return line.removesuffix("_mm").replace("bumper_", "").replace("_", " ")


def _rate(rate: Rate) -> str:
    if rate.mm is None:
        return "*"
    return "." if abs(rate.mm) < 0.05 else f"{rate.mm:+.1f}"
