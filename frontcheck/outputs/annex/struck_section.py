"""The section of the annex on people who are struck: figures, tables, what was assumed."""

from __future__ import annotations

from functools import partial
from typing import TYPE_CHECKING, Final

from frontcheck.body.person_motion import KINDS, by_reason
from frontcheck.findings.people_rows import head_part, percent, plain_person
from frontcheck.outputs.annex.annex_figures import BELOW_HEADING, DRAWN_PEOPLE, WHOLE_PAGE
from frontcheck.outputs.annex.annex_text import (
    MISSING,
    Bullets,
    Section,
    number,
    pictured,
    tabled,
    told,
)  # fmt: skip
from frontcheck.outputs.figures import canvas as look

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from matplotlib.figure import Figure

    from frontcheck.body.motion import Difference, MotionStudy, PersonChange
    from frontcheck.body.person_motion import PersonMotion, Spread
    from frontcheck.outputs.annex.annex_text import Picture, Table

_SEPARABLE: Final = {
    "yes": "yes",
    "only if equally soft": "only if both are equally soft and slippery",
    "no": "no: too close to call",
}


def struck_figures(study: MotionStudy, *, full: bool) -> list[Picture]:
    """Return the figures of people who are struck."""
    from frontcheck.outputs.figures.motion_figure import motion_figure

    def drawn(name: str, size: tuple[float, float]) -> Figure:
        return motion_figure(study, name, look.new_figure(*size))

    known = [one.person for one in study.people]
    chosen = [name for name in DRAWN_PEOPLE[not full :] if name in known] or known[:1]
    said = {"fronts": " and ".join(study.names), "draws": study.draws}
    return [
        pictured(
            "motion", partial(drawn, name, WHOLE_PAGE if i else BELOW_HEADING),
            f"motion-{name.replace(' ', '-')}", name=name, **said,
            Person=f"{plain_person(name)[0].upper()}{plain_person(name)[1:]}",
        )
        for i, name in enumerate(chosen)
    ]  # fmt: skip


def struck_section(study: MotionStudy, pictures: Sequence[Picture]) -> Section:
    """Return the section on people who are struck."""
    y = study.sides[0].station.y
    where = "at the centre plane" if y == 0.0 else f"at station {number(y, 0)} mm"
    said = {"speed": study.speed_km_h, "draws": study.draws, "seed": study.seed, "where": where}
    notes = [told("range").text, told("word").text]
    tables = []
    for name, people in zip(study.names, study.motions, strict=True):
        more = [*notes, *_withheld(people)]
        tables.append(tabled("struck", map(_row, people), more, name=name))
        notes = []
    return Section(
        "motion",
        "People who are struck",
        (
            told("motion", **said),
            *pictures,
            *tables,
            *_changes(study),
            *(Bullets(study.notes, "Interpolated or left out") for _ in study.notes[:1]),
            Bullets(study.cautions[1:], "What this does not say"),
            Bullets(study.assumed, "What was assumed, and what would settle it"),
        ),
    )


def _row(one: PersonMotion) -> tuple[str, ...]:
    return (
        plain_person(one.person),
        *(percent(one.shares[key]) if one.shares else MISSING for key in KINDS),
        "not said" if one.refused else one.kind,
        MISSING if one.at_least is None else percent(one.at_least),
        _range(one.wad_mm),
        head_part(one) or MISSING,
        _range(one.time_ms),
        _range(one.torso_deg),
        _range(one.past_edge_mm),
    )


def _withheld(told: Sequence[PersonMotion] | Sequence[PersonChange]) -> Iterator[str]:
    """Why something is not given, each reason once, with whom it concerns."""
    for why, who in by_reason(told).items():
        yield f"{', '.join(map(plain_person, who))}: {why}."


def _range(spread: Spread | None) -> str:
    if spread is None:
        return MISSING
    return f"{number(spread.median, 0)} ({number(spread.p5, 0)} to {number(spread.p95, 0)})"


def _changes(study: MotionStudy) -> Iterator[Table]:
    if not study.changes:
        return
    a, b = study.names
    rows = (
        (plain_person(change.person), *_moved(change.wad), *_moved(change.time))
        for change in study.changes
    )
    yield tabled("moved", rows, _withheld(study.changes), a=a, b=b)


def _moved(of: Difference | None) -> tuple[str, str, str]:
    if of is None:
        return MISSING, MISSING, MISSING
    low, middle, high = (
        ("+" if round(value) > 0 else "") + number(value, 0)
        for value in (of.spread.p5, of.spread.median, of.spread.p95)
    )
    same = f"{percent(of.same_sign)} / {percent(of.same_sign_drawn_apart)}"
    return f"{middle} ({low} to {high})", _SEPARABLE[of.separable], same
