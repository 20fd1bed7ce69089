"""The files of an annex folder."""

from __future__ import annotations

from typing import TYPE_CHECKING

from frontcheck.outputs.annex.annex import annex_of
from frontcheck.outputs.annex.annex_page import page_bytes
from frontcheck.outputs.annex.annex_pdf import document_bytes, require_typst
from frontcheck.outputs.documents.comparison_files import changes_csv
from frontcheck.outputs.documents.exports import csv_bytes, json_bytes
from frontcheck.outputs.documents.exports_dxf import LINES_HEADER, dxf_bytes, lines_rows
from frontcheck.rules.ruleset import rule_set_ids
from frontcheck.screening import screen

if TYPE_CHECKING:
    from collections.abc import Callable

    from frontcheck.comparison.comparison_result import Comparison
    from frontcheck.outputs.annex.annex_model import TitleBlock
    from frontcheck.outputs.annex.annex_pdf import Paper
    from frontcheck.screening import Screening

__all__ = ["annex_files"]

_DRAWING_SHARE = 0.8
"""Part of the time that goes into figures."""


def annex_files(
    screening: Screening,
    comparison: Comparison | None = None,
    title_block: TitleBlock | None = None,
    paper: Paper = "a4",
    step: Callable[[str, float], None] | None = None,
) -> dict[str, bytes]:
    """Return every file of an annex."""
    require_typst()  # before the work, not after it

    def drawing(words: str, done: float) -> None:
        if step is not None:
            step(words, _DRAWING_SHARE * done)

    def then(words: str, done: float) -> None:
        if step is not None:
            step(words, done)

    annex = annex_of(screening, comparison, title_block, drawing)
    then("other rule sets", _DRAWING_SHARE)
    others = _by_other_rules(screening)
    then("annex.html", 0.86)
    files = {"annex.html": page_bytes(annex, screening, others, paper)}
    then("annex.pdf", 0.92)
    files["annex.pdf"] = document_bytes(annex, paper)
    then("tables and drawing", 0.96)
    files |= _data(screening, "")
    if comparison is not None:
        files |= _data(comparison.b, "-b")
        files["comparison.json"] = json_bytes(comparison.to_dict())
        files["changes.csv"] = changes_csv(comparison)
    files |= {f"{picture.stem}.svg": picture.svg for picture in annex.pictures}
    return files


def _by_other_rules(screening: Screening) -> tuple[Screening, ...]:
    """The lines of the same front by every other rule set; nothing that needs a surface."""
    return tuple(
        screen(screening.front, id_, screening.wad, tape_start=screening.tape_start)
        for id_ in rule_set_ids()
        if id_ != screening.rules.id
    )


def _data(screening: Screening, mark: str) -> dict[str, bytes]:
    caution = screening.cautions[0]
    rows = [[*row, caution] for row in lines_rows(screening.zones)]
    return {
        f"screening{mark}.json": json_bytes(screening.to_dict()),
        f"lines{mark}.csv": csv_bytes([*LINES_HEADER, "caution"], rows),
        f"lines{mark}.dxf": dxf_bytes(screening.zones),
    }
