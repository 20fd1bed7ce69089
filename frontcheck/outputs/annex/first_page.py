"""The first page of an annex: the answer, what it rests on, and what no shape can say."""

from __future__ import annotations

from collections import Counter
from typing import TYPE_CHECKING, Final

from frontcheck.caution import CAUTION, PROVENANCES
from frontcheck.findings.people_rows import kind_of
from frontcheck.front.plausible import NOT_FOUND, doubts_said
from frontcheck.outputs.annex.annex_text import (
    Bullets,
    Facts,
    Paragraph,
    Section,
    Table,
    number,
    told,
)
from frontcheck.outputs.text import first_screen as said

if TYPE_CHECKING:
    from frontcheck.findings.people_rows import PersonRow
    from frontcheck.outputs.annex.annex_text import Picture
    from frontcheck.screening import Screening

_MOST: Final = 230
"""Characters of one entry that come from a file."""
_MOST_ODD: Final = 3
ASK: Final = (
    "What becomes of people who are struck is not in this annex; frontcheck annex --motion adds it."
)
"""How to ask for the section on them where it was left out."""


def answer_section(screening: Screening, picture: Picture, *, full: bool) -> Section:
    """Return the section that stands alone on the first page."""
    answer = screening.answer
    lines = tuple(line.text for line in answer.lines)
    left_out = " ".join(
        [*([] if full else [told("left_out").text]), *([] if screening.motion else [ASK])]
    )
    nothing = ("Nothing beyond what holds for nearly every front.",)
    odd = [_short(f"{doubt.what}; {doubt.do}") for doubt in screening.doubts]
    if len(odd) > _MOST_ODD:
        odd[_MOST_ODD - 1 :] = [f"and {len(odd) - _MOST_ODD + 1} more, under Input"]
    return Section(
        "answer",
        "The answer",
        (
            *(
                (Bullets(tuple(odd), "Check first: what looks like a slip in the input"),)
                if odd
                else ()
            ),
            Bullets(lines or nothing, "What stands out", ordered=bool(lines)),
            _people(screening),
            Bullets(answer.cannot_say, "What a shape cannot say"),
            Bullets(
                tuple(step.do for step in answer.next),
                said.next_title("What to do next", screening.front),
                ordered=True,
            ),
            _centre(screening),
            _rests_on(screening),
            picture,
            Paragraph(CAUTION, "caution"),
            *((Paragraph(left_out, "note"),) if left_out else ()),
        ),
    )


def _people(screening: Screening) -> Table:
    z = said.centre(screening).BLERL.z
    edge = "" if z is None else f" ({number(z, 0)})"
    header = ["person", "leg met first", "knee to face", f"bonnet edge{edge} to balance point",
              "balance point, mm up"]  # fmt: skip
    rows = [
        [row.person, said.touch(row), said.knee(row), said.edge_words(row), _band(row)]
        for row in screening.answer.people
    ]
    widths = [2.1, 1.7, 1.2, 2.6, 1.6]
    study = screening.motion
    if study is not None:
        header.append(f"struck at {study.speed_km_h:g} km/h, of {study.draws} cases")
        widths.append(2.2)
        for cells, row in zip(rows, screening.answer.people, strict=True):
            cells.append("not said" if row.motion is None else kind_of(row.motion))
    return Table(
        f"Who meets what ({said.where(screening)}), standing upright",
        tuple(header), tuple(map(tuple, rows)), tuple(widths),
    )  # fmt: skip


def _band(row: PersonRow) -> str:
    return "not known" if row.band_mm is None else " to ".join(number(z, 0) for z in row.band_mm)


def _centre(screening: Screening) -> Facts:
    pairs = [("Face", said.face_words(screening)), ("Lines", said.lines_words(screening))]
    return Facts(f"At the {said.where(screening)}, mm", tuple(pair for pair in pairs if pair[1]))


def _rests_on(screening: Screening) -> Facts:
    front, rules = screening.front, screening.rules
    u = front.row_u_mm
    name = front.source.file or "made in memory"
    exact = "how exact the rows are is not stated" if u is None else f"rows +/- {u:g} mm"
    held = Counter(constant.provenance for constant in rules)
    known = ", ".join(f"{held[each]} {each}" for each in PROVENANCES if held[each])
    doubtful = ", ".join(each.constant for each in screening.unconfirmed)
    pairs = [
        ("Input", "; ".join(filter(None, (f"{name}, {front.source.kind}", front.method, exact)))),
        ("SHA-256", front.source.sha256),
        ("Not measured", front.not_measured),
        ("Slips in the input", NOT_FOUND if screening.doubts else " ".join(doubts_said(()))),
        ("Rule set", f"{rules.id}; {len(rules.constants)} constants: {known}"),
        ("Not confirmed, but used", doubtful),
        ("Taken without being told", " ".join(screening.assumed(struck=False))),
    ]
    study = screening.motion
    if study is not None:
        pairs.append(
            ("People struck", f"{study.draws} assumed cases each; their section lists all")
        )
    return Facts("What this rests on", tuple((name, _short(text)) for name, text in pairs if text))


def _short(text: str) -> str:
    return text if len(text) <= _MOST else f"{text[: _MOST - 3].rstrip()}..."
