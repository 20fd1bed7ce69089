"""The geometry annex of one front, or of two: sections in order, figures drawn."""

from __future__ import annotations

from typing import TYPE_CHECKING

from frontcheck.outputs.annex import annex_sections as parts
from frontcheck.outputs.annex.annex_areas import test_areas
from frontcheck.outputs.annex.annex_changes import change_figures, changes
from frontcheck.outputs.annex.annex_figures import screening_figures
from frontcheck.outputs.annex.annex_model import Annex, Paragraph, Picture, Section, TitleBlock

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    from frontcheck.comparison.comparison_result import Comparison
    from frontcheck.outputs.annex.annex_figures import Drawn
    from frontcheck.screening import Screening

__all__ = ["annex_of"]


def annex_of(
    screening: Screening,
    comparison: Comparison | None = None,
    title_block: TitleBlock | None = None,
    step: Callable[[str, float], None] | None = None,
) -> Annex:
    """Assemble the annex."""
    said = step or _unheard
    title_block = title_block or TitleBlock()
    said("test areas and findings", 0.0)
    drawn = screening_figures(screening)
    other = None if comparison is None else comparison.b
    if comparison is not None:
        drawn["changes"] = change_figures(comparison)
    total = sum(len(group) for group in drawn.values())
    done = 0
    pictures: dict[str, list[Picture]] = {}
    for group, each in drawn.items():
        pictures[group] = []
        for figure in each:
            said(f"figure {figure.stem}", done / total)
            pictures[group].append(_picture(figure))
            done += 1
    sections = [
        parts.about(),
        parts.input_and_settings(screening, other),
        parts.reference_lines(screening),
        _side_views(screening, pictures["side"]),
        test_areas(screening, pictures["plan"]),
        parts.findings(screening, pictures["findings"]),
        _body(pictures["body"]),
    ]
    if comparison is not None:
        sections.append(changes(comparison, pictures["changes"]))
    sections += [parts.constants(screening), parts.how_to_read(screening)]
    name = screening.front.name
    subject = f"Geometry annex: {name}"
    if other is not None:
        subject = f"Geometry annex: {name}, and the changes to {other.front.name}"
    return Annex(title_block.title or subject, subject, title_block, tuple(sections))


def _unheard(words: str, done: float) -> None:
    del words, done


def _picture(figure: Drawn) -> Picture:
    return Picture(figure.stem, figure.svg(), figure.caption, figure.alt)


def _side_views(screening: Screening, pictures: Sequence[Picture]) -> Section:
    intro = "Every station measured is shown."
    if len(pictures) < len(screening.stations):
        intro = (
            f"{len(pictures)} of {len(screening.stations)} stations are shown; annex.html has "
            "the others, and the tables of reference lines all of them."
        )
    return Section("sides", "Side views", (Paragraph(intro), *pictures))


def _body(pictures: Sequence[Picture]) -> Section:
    return Section(
        "body",
        "Leg and head",
        (
            Paragraph(
                "Stiffness is not known: the leg models rank shapes under the same assumptions, "
                "and no value of theirs is to be held against a limit. The head map shows angles "
                "only; there is none where no candidate point lies in a headform area."
            ),
            *pictures,
        ),
    )
