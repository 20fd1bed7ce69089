"""The section of the annex on people who are struck: figures, tables, what was assumed."""

from __future__ import annotations

from functools import partial
from typing import TYPE_CHECKING, Final

from frontcheck.body.person_motion import KINDS, by_reason
from frontcheck.findings.people_rows import head_part, percent, plain_person
from frontcheck.outputs.annex.annex_figures import BELOW_HEADING, DRAWN_PEOPLE, WHOLE_PAGE, Drawn
from frontcheck.outputs.annex.annex_text import (
    MISSING,
    Bullets,
    Paragraph,
    Section,
    Table,
    number,
)
from frontcheck.outputs.figures import canvas as look

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from matplotlib.figure import Figure

    from frontcheck.body.motion import Difference, MotionStudy, PersonChange
    from frontcheck.body.person_motion import PersonMotion, Spread
    from frontcheck.outputs.annex.annex_text import Picture

_RANGE_NOTE: Final = (
    "Median of the cases and, in brackets, 5 to 95 in 100 of them. WAD wrap-around distance: from "
    "the ground along the skin to where the head touches. Time: from the first contact on. Lean of "
    "the trunk, and centre of mass behind the bonnet leading edge reference line (BLERL): then, or "
    "at the end."
)
_WORD_NOTE: Final = (
    "Becomes: named where 90 of 100 cases agree. At least: lower 95 % limit of the share that the "
    "word rests on."
)
_SIGN_NOTE: Final = (
    "Case by case, with the same assumptions. Same sign: share of the cases with the sign of the "
    "median, softness and friction drawn alike for both fronts / drawn for each by itself."
)
_SEPARABLE: Final = {
    "yes": "yes",
    "only if equally soft": "only if both are equally soft and slippery",
    "no": "no: too close to call",
}


def struck_figures(study: MotionStudy, *, full: bool) -> tuple[Drawn, ...]:
    """Return the figures of people who are struck."""
    known = [one.person for one in study.people]
    chosen = [name for name in DRAWN_PEOPLE[not full :] if name in known] or known[:1]
    fronts = " and ".join(study.names)
    return tuple(
        Drawn(
            f"motion-{name.replace(' ', '-')}",
            f"{plain_person(name)[0].upper()}{plain_person(name)[1:]} struck by {fronts}, the "
            f"middle one of {study.draws} assumed cases, to scale; below, where the heads of all "
            "people land.",
            f"Figures of a {name} every 30 ms over the section of {fronts}; the tables beside it "
            "say in numbers where and when heads land.",
            partial(_drawn, study, name, WHOLE_PAGE if i else BELOW_HEADING),
        )
        for i, name in enumerate(chosen)
    )


def _drawn(study: MotionStudy, name: str, size: tuple[float, float]) -> Figure:
    from frontcheck.outputs.figures.motion_figure import motion_figure

    return motion_figure(study, name, look.new_figure(*size))


def struck_section(study: MotionStudy, pictures: Sequence[Picture]) -> Section:
    """Return the section on people who are struck."""
    y = study.sides[0].station.y
    where = "at the centre plane" if y == 0.0 else f"at station {number(y, 0)} mm"
    intro = Paragraph(
        f"People who stand are struck from the side {where} at {study.speed_km_h:g} km/h, in one "
        f"plane, in {study.draws} assumed cases each (seed {study.seed}), until the head touches. "
        "A share is a share of these cases, never a chance in a crash. None of pushed ahead, "
        "folded and carried up is the better one: a person pushed ahead may be run over; one "
        "carried up may strike the windscreen."
    )
    tables = [
        _table(name, people, () if i else (_RANGE_NOTE, _WORD_NOTE))
        for i, (name, people) in enumerate(zip(study.names, study.motions, strict=True))
    ]
    return Section(
        "motion",
        "People who are struck",
        (
            intro,
            *pictures,
            *tables,
            *_changes(study),
            *(Bullets(study.notes, "Interpolated or left out") for _ in study.notes[:1]),
            Bullets(study.cautions[1:], "What this does not say"),
            Bullets(study.assumed, "What was assumed, and what would settle it"),
        ),
    )


def _table(name: str, people: Sequence[PersonMotion], notes: tuple[str, ...]) -> Table:
    rows = tuple(
        (
            plain_person(one.person),
            *(percent(one.shares[key]) if one.shares else MISSING
              for key in KINDS),
            "not said" if one.refused else one.kind,
            MISSING if one.at_least is None else percent(one.at_least),
            _range(one.wad_mm),
            head_part(one) or MISSING,
            _range(one.time_ms),
            _range(one.torso_deg),
            _range(one.past_edge_mm),
        )
        for one in people
    )  # fmt: skip
    return Table(
        f"People struck by {name}",
        ("person", "pushed", "folded", "carried", "becomes", "at least", "head at WAD [mm]",
         "on the", "after [ms]", "trunk leans [deg]", "past the edge [mm]"),
        rows, (1.95, 0.85, 0.85, 0.9, 1.5, 0.85, 1.75, 1.55, 1.5, 1.5, 1.65),
        (
            *notes,
            *_withheld(people),
        ),
    )  # fmt: skip


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
    rows = tuple(
        (plain_person(change.person), *_moved(change.wad), *_moved(change.time))
        for change in study.changes
    )
    yield Table(
        f"People struck by {b} less those struck by {a}",
        ("person", "head at WAD [mm]", "separable", "same sign alike / apart", "after [ms]",
         "separable", "same sign alike / apart"),
        rows, (2.0, 1.8, 3.2, 1.3, 1.5, 3.2, 1.3),
        (_SIGN_NOTE, *_withheld(study.changes)),
    )  # fmt: skip


def _moved(of: Difference | None) -> tuple[str, str, str]:
    if of is None:
        return MISSING, MISSING, MISSING
    low, middle, high = (
        ("+" if round(value) > 0 else "") + number(value, 0)
        for value in (of.spread.p5, of.spread.median, of.spread.p95)
    )
    same = f"{percent(of.same_sign)} / {percent(of.same_sign_drawn_apart)}"
    return f"{middle} ({low} to {high})", _SEPARABLE[of.separable], same
