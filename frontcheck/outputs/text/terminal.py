"""What the command line says, as text: ruled and coloured for a terminal, plain when piped."""

from __future__ import annotations

import shutil
import textwrap
from abc import ABC, abstractmethod
from functools import partial
from typing import TYPE_CHECKING, Literal, TextIO

from frontcheck.caution import CAUTION
from frontcheck.front.plausible import doubts_said
from frontcheck.lines.said import missing_said
from frontcheck.lines.statuses import OPEN_END, STATUS_WORDS

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from frontcheck.findings.explanations import Explanation
    from frontcheck.findings.finding import Finding
    from frontcheck.lines.station import LinePoint, Station, WadPoint
    from frontcheck.rules.ruleset import RuleSet
    from frontcheck.screening import Screening
    from frontcheck.zones.front_zones import BumperArea, HeadformArea

Shown = Literal["answer", "stations", "findings", "all", "lines"]

_WIDTH = 100
_IN = "     "
_MARKS = {
    "edge_end": "e",
    OPEN_END: "o",
    "underside_first": "u",
    "lower_end": "l",
    "wad_1000": "w",
    "retaken_40deg": "r",
    "wad_only": "a",
}
_MARK_MEANINGS = {mark: f"{mark}: {STATUS_WORDS[status]}" for status, mark in _MARKS.items()} | {
    "o": f"o, in brackets: {STATUS_WORDS[OPEN_END]}",
    "b": "b: the tape bridges a recess there",
}
_LEAD = "lead: horizontally from UBRL to BLERL"
_FINDINGS = "all findings by theme. frontcheck explain CODE says more of each."


def style_for(stream: TextIO) -> Style:
    """Return the style that suits a stream."""
    return Ruled(shutil.get_terminal_size().columns) if stream.isatty() else Plain()


class Style(ABC):
    """How a text is laid out: the texts are the same, tables and paragraphs differ."""

    @abstractmethod
    def table(self, title: str, header: Sequence[str], rows: Sequence[Sequence[str]]) -> str:
        """Return a table as text."""

    @abstractmethod
    def paragraph(self, text: str, *, loud: bool = False) -> str:
        """Return a paragraph as text."""

    @abstractmethod
    def lines(self, lines: Sequence[tuple[str, bool]]) -> str:
        """Return lines of text, headings among them."""

    width = _WIDTH

    def fitted(self, text: str) -> str:
        """Return a text of paragraphs and tables with no line wider than this style is."""
        return text

    def screening(
        self,
        result: Screening,
        written: str = "",
        *,
        show: Shown = "answer",
        below: Sequence[str] = (),
    ) -> str:
        """Return a screening as text: the first screen, or the tables that are asked for."""
        lines_only = show == "lines"
        first = show in ("answer", "all")
        parts: list[str] = []
        if show in ("stations", "lines", "all"):
            parts += self._stations(result, lines_only=lines_only)
        parts.extend(below)
        if show in ("findings", "all"):
            parts += self._findings(result)
        if show != "answer":
            parts += self._said(result, lines_only=lines_only, caution=not first)
        if written:
            parts.append(self.paragraph(f"Written: {written}."))
        out = [self.spelt_out(parts)] if parts else []
        if first:
            from frontcheck.outputs.text.first_screen import first_screen

            out.insert(0, self.lines(first_screen(result, self.width)))
        return "\n".join(out)

    def spelt_out(self, parts: Sequence[str]) -> str:
        """Return parts as one text, ahead of the first abbreviation the words of them all."""
        from frontcheck.findings.abbreviations import legend

        words = legend("\n".join(parts))
        at = next((i for i, part in enumerate(parts) if legend(part)), len(parts))
        spelt = [self.paragraph(words)] if words else []
        return "\n".join([*parts[:at], *spelt, *parts[at:]])

    def _stations(self, result: Screening, *, lines_only: bool) -> list[str]:
        """The table of lines and the test areas."""
        header, rows = _station_table(result)
        title = f"{result.front.name}: {result.rules.title}. Heights z and setbacks x in mm."
        parts = [self.table(title, header, rows)]
        marks = {mark for row in rows for cell in row for mark in cell.split(" ")[1:]}
        meanings = [_LEAD, *(text for mark, text in _MARK_MEANINGS.items() if mark in marks)]
        parts.append(self.paragraph("; ".join(meanings) + "."))
        parts.extend(self.paragraph(f"Missing: {line}.") for line in missing_said(result.stations))
        if not lines_only:
            parts.append(self.table("Test areas", ["area", "extent", "note"], _zone_rows(result)))
        return parts

    def _said(self, result: Screening, *, lines_only: bool, caution: bool) -> list[str]:
        """What was read, assumed and is to be kept in mind; the first of it is the caution."""
        notes = result.front.reader_notes
        assumed = (text for text in result.assumed(lines_only=lines_only) if text not in notes)
        cautions = result.all_cautions(lines_only=lines_only)
        return [
            *(self.paragraph(f"Input: {note}") for note in notes),
            *(self.paragraph(f"Plausibility: {text}") for text in doubts_said(result.doubts)),
            *(self.paragraph(f"Assumed: {text}") for text in assumed),
            *(self.paragraph(text, loud=i == 0) for i, text in enumerate(cautions) if i or caution),
        ]

    def _findings(self, result: Screening) -> list[str]:
        """Return every finding, theme by theme, and what the tests do not cover."""
        from frontcheck.findings.explanations import explanations

        parts, number = [self.paragraph(f"{result.front.name}: {_FINDINGS}")], 1
        for theme in (each for each in explanations().values() if each.kind == "theme"):
            own = [finding for finding in result.findings if finding.rule.theme == theme.word]
            if own:
                parts.append(self.findings(theme.title, own, number))
                number += len(own)
        if number == 1:
            parts = [self.paragraph("Findings: none.")]
        return [*parts, self.paragraph(f"What the tests do not cover: {result.answer.standing}")]

    def findings(self, title: str, findings: Sequence[Finding], number: int) -> str:
        """Return the findings of one theme as text, numbered from a number on."""
        rows = [
            [str(i), finding.code, finding.message, finding.settled_by]
            for i, finding in enumerate(findings, start=number)
        ]
        return self.table(title, ["no", "code", "finding", "settled by"], rows)

    def explainable(self, kinds: Mapping[str, str], words: Sequence[Explanation]) -> str:
        """Return the list of all that can be explained, kind by kind."""
        from frontcheck.findings.explanations import WIDTH

        tables = []
        for kind, heading in kinds.items():
            own = [each for each in words if each.kind == kind]
            room = WIDTH - max((len(each.word) for each in own), default=0) - 2
            rows = [
                ["" if i else each.word, line]
                for each in own
                for i, line in enumerate(textwrap.wrap(each.title, room))
            ]
            tables.append(self.table(heading, ["word", "what it is"], rows))
        more = self.paragraph(
            "What a word means, with its source: frontcheck explain WORD. It may also be a column\n"
            "of a table, a key of a document, or a constant that frontcheck rules ID lists."
        )
        caution = self.paragraph(textwrap.fill(CAUTION, WIDTH), loud=True)
        return "\n".join([*tables, more, caution])

    def rule_sets(self, sets: Sequence[RuleSet]) -> str:
        """Return the list of rule sets."""
        from frontcheck.rules.ruleset import DEFAULT_RULES

        rows = [
            [each.id, each.title, "default" if each.id == DEFAULT_RULES else ""] for each in sets
        ]
        return self.spelt_out(
            [
                self.table("Rule sets", ["id", "title", ""], rows),
                self.paragraph("Every constant with its source: frontcheck rules ID"),
                *(self.paragraph(each.caution) for each in sets if each.caution),
                self.paragraph(CAUTION, loud=True),
            ]
        )

    def rule_set(self, rules: RuleSet) -> str:
        """Return every constant of a rule set."""
        from frontcheck.rules.used_by import said_of

        rows = [
            [
                constant.name,
                constant.plain,
                constant.document + (f", {constant.paragraph}" if constant.paragraph else ""),
                constant.provenance,
                constant.note,
            ]
            for constant in rules
        ]
        header = ["constant", "value", "source", "provenance", "note"]
        return self.spelt_out(
            [
                self.table(f"{rules.id}: {rules.title}", header, rows),
                *(self.paragraph(text) for text in said_of(rules, ())),
                self.paragraph(CAUTION, loud=True),
            ]
        )


class Plain(Style):
    """Columns of text with two spaces between, for pipes and files."""

    def table(self, title: str, header: Sequence[str], rows: Sequence[Sequence[str]]) -> str:
        """Return a table as aligned columns."""
        lines = [list(header), *[list(row) for row in rows]]
        widths = [max(len(line[i]) for line in lines) for i in range(len(header))]
        body = ("  ".join(cell.ljust(w) for cell, w in zip(line, widths, strict=True)).rstrip()
                for line in lines)  # fmt: skip
        return "\n".join([title, *body, ""])

    def paragraph(self, text: str, *, loud: bool = False) -> str:
        """Return a paragraph on a line of its own."""
        del loud
        return f"{text}\n"

    def fitted(self, text: str) -> str:
        """Return it with long lines wrapped."""
        # Paths stay in one piece.
        fill = partial(textwrap.fill, width=_WIDTH, break_long_words=False, break_on_hyphens=False)
        return "".join(f"{fill(line)}\n" for line in text.splitlines())

    def lines(self, lines: Sequence[tuple[str, bool]]) -> str:
        """Return them as they are."""
        return "".join(f"{line}\n" for line, _ in lines)

    def findings(self, title: str, findings: Sequence[Finding], number: int) -> str:
        """Return findings as wrapped paragraphs: a table of sentences would be too wide."""
        parts = [title]
        for i, finding in enumerate(findings, start=number):
            parts.append(f"{i:3d}  {finding.code}")
            for text in (finding.message, f"Settled by: {finding.settled_by}."):
                parts.extend(textwrap.wrap(text, _WIDTH, initial_indent=_IN, subsequent_indent=_IN))
        return "\n".join([*parts, ""])


class Ruled(Style):
    """Ruled tables for a terminal."""

    def __init__(self, width: int) -> None:
        self.width = width

    def lines(self, lines: Sequence[tuple[str, bool]]) -> str:
        """Return them with bold headings."""
        from rich.text import Text

        return self._render(
            Text("\n").join(Text(line, "bold" if loud else "") for line, loud in lines)
        )

    def _render(self, thing: object) -> str:
        from rich.console import Console

        console = Console(width=max(self.width, 60), force_terminal=True, highlight=False)
        with console.capture() as capture:
            console.print(thing)
        return capture.get()

    def table(self, title: str, header: Sequence[str], rows: Sequence[Sequence[str]]) -> str:
        """Return a ruled table."""
        from rich import box
        from rich.table import Table
        from rich.text import Text

        table = Table(
            title=Text(title), title_justify="left", box=box.SIMPLE_HEAD, pad_edge=False,
            padding=(0, 1, 0, 0),
        )  # fmt: skip
        numeric = [all(row[i][:1] in "-(0123456789" for row in rows) for i in range(len(header))]
        for name, is_number in zip(header, numeric, strict=True):
            table.add_column(Text(name), justify="right" if is_number else "left", overflow="fold")
        for row in rows:
            table.add_row(*[Text(cell) for cell in row])
        return self._render(table)

    def paragraph(self, text: str, *, loud: bool = False) -> str:
        """Return a wrapped paragraph."""
        from rich.text import Text

        return self._render(Text(text, style="bold" if loud else ""))


def _station_table(result: Screening) -> tuple[list[str], list[list[str]]]:
    header = ["y", "LBRL z", "UBRL z", "BLERL z", "lead", "BRRL x", "legform"]
    header += [f"{point.name} x" for point in result.stations[0].wads]
    rows = []
    for station in result.stations:
        rows.append(
            [
                f"{station.y:g}",
                _cell(station.LBRL, "z"),
                _cell(station.UBRL, "z"),
                _cell(station.BLERL, "z"),
                _lead(station),
                _cell(station.BRRL, "x"),
                station.legform or "-",
                *[_cell(point, "x") for point in station.wads],
            ]
        )
    return header, rows


def _zone_rows(result: Screening) -> list[list[str]]:
    zones = result.zones
    bumper = zones.bumper_test_area
    extent = "-"
    if bumper.y_min is not None and bumper.y_max is not None:
        extent = f"y = {bumper.y_min:.0f} to {bumper.y_max:.0f} mm, by {bumper.basis}"
    rows = [["bumper test area", _open(extent, bumper.status), _noted(bumper)]]
    for name, area in (("child", zones.child_area), ("adult", zones.adult_area)):
        size = "-" if area.area_m2 is None else f"{area.area_m2:.3f} m2"
        rows.append([f"{name} headform area", _open(size, area.status), _noted(area)])
    return rows


def _noted(area: BumperArea | HeadformArea) -> str:
    """What is to be said of an area: why, led by what bounds it where that is not known."""
    words = STATUS_WORDS[area.status] if area.status in (OPEN_END, "wad_only") else ""
    return "; ".join(text for text in (words, area.reason) if text)


def _open(value: str, status: str) -> str:
    """A value in brackets where it is kept, but not known."""
    return f"({value})" if status == OPEN_END and value != "-" else value


def _cell(point: LinePoint | WadPoint, axis: str) -> str:
    value = point.x if axis == "x" else point.z
    if value is None:
        return "-"
    marks = [_MARKS.get(point.status, ""), "b" if getattr(point, "bridged", None) else ""]
    return " ".join([_open(f"{value:.1f}", point.status), *filter(None, marks)])


def _lead(station: Station) -> str:
    if station.bumper_lead is None:
        return "-"
    value = f"{station.bumper_lead:.1f}"
    return f"({value}) o" if station.lead_open_end else value
