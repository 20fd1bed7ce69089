"""The first page of an annex: the answer, what it rests on, and what no shape can say."""

from __future__ import annotations

from collections import Counter
from typing import TYPE_CHECKING, Final

from frontcheck.caution import CAUTION, PROVENANCES
from frontcheck.outputs.annex.annex_text import (
    Bullets,
    Facts,
    Paragraph,
    Section,
    Table,
    number,
)

if TYPE_CHECKING:
    from frontcheck.findings.people_rows import PersonRow
    from frontcheck.outputs.annex.annex_text import Picture
    from frontcheck.screening import Screening

_MOST: Final = 260
"""Characters of one entry that come from a file."""
_SHORT: Final = (
    "Left out here, and added by frontcheck annex --full: side views of more stations, "
    "lines across the front, front view, bonnet unrolled, a second person beside the front, and "
    "every constant of the rule set with its source."
)
"""What the annex leaves out at its default depth."""
_FOLLOWS: Final = {
    "above": "tends to push ahead",
    "in the band": "either",
    "below": "tends to fold or carry up",
}
_KNEE: Final = {"below": "below it", "in": "level with it", "above the face": "above it"}


def answer_section(screening: Screening, picture: Picture, *, full: bool) -> Section:
    """Return the section that stands alone on the first page."""
    answer = screening.answer
    lines = tuple(line.text for line in answer.lines)
    nothing = ("Nothing beyond what holds for nearly every front.",)
    return Section(
        "answer",
        "The answer",
        (
            Bullets(lines or nothing, "What stands out", ordered=bool(lines)),
            _people(screening),
            Bullets(answer.cannot_say, "What a shape cannot say"),
            Bullets(tuple(step.do for step in answer.next), "What to do next", ordered=True),
            _rests_on(screening),
            picture,
            Paragraph(CAUTION, "caution"),
            *(() if full else (Paragraph(_SHORT, "note"),)),
        ),
    )


def _people(screening: Screening) -> Table:
    station = min(screening.stations, key=lambda each: (abs(each.y), each.y))
    where = "the centre" if station.y == 0.0 else f"station y = {station.y:g} mm"
    edge = "" if station.BLERL.z is None else f", {number(station.BLERL.z, 0)} mm up,"
    return Table(
        f"Who meets what at {where}, standing upright",
        ("person", "leg met first", "knee against the face",
         f"bonnet edge{edge} against the balance point [mm]", "what follows"),
        tuple(_person(row) for row in screening.answer.people),
        (2.0, 1.6, 1.3, 1.7, 2.0),
    )  # fmt: skip


def _person(row: PersonRow) -> tuple[str, ...]:
    touch = "not met"
    if row.first_touch_mm is not None:
        touch = f"{row.first_touch}, {number(row.first_touch_mm, 0)} mm up"
    knee = "not known" if row.knee is None else _KNEE[row.knee]
    against, band = row.edge_against_centre_of_mass, row.band_mm
    if against is None or band is None:
        return (row.person, touch, knee, "not known", "not known")
    low, high = (number(value, 0) for value in band)
    edge = f"{against} {low} to {high}" if against != "in the band" else f"in {low} to {high}"
    return (row.person, touch, knee, edge, _FOLLOWS[against])


def _rests_on(screening: Screening) -> Facts:
    front, rules = screening.front, screening.rules
    u = front.row_u_mm
    exact = "how exact the rows are is not stated" if u is None else f"rows +/- {u:g} mm"
    held = Counter(constant.provenance for constant in rules)
    known = ", ".join(f"{held[each]} {each}" for each in PROVENANCES if held[each])
    doubtful = ", ".join(each.constant for each in screening.unconfirmed)
    pairs = [
        ("Input", f"{front.source.file or 'made in memory'}, {front.source.kind}; {exact}"),
        ("Measured", front.method),
        ("SHA-256", front.source.sha256),
        ("Rule set", f"{rules.id}; {len(rules.constants)} constants: {known}"),
        ("Not confirmed, but used", doubtful),
        ("Taken without being told", " ".join(screening.assumed())),
    ]
    return Facts("What this rests on", tuple((name, _short(text)) for name, text in pairs if text))


def _short(text: str) -> str:
    return text if len(text) <= _MOST else f"{text[: _MOST - 3].rstrip()}..."
