"""What if a feature were moved: the front before and after, and what of the answer that changes."""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from functools import cached_property
from typing import TYPE_CHECKING, Any, Final, Literal

import numpy as np

from frontcheck.caution import CAUTION, DRAWING
from frontcheck.comparison.changes import Origins, line_changes
from frontcheck.errors import NotAvailableError, refuse
from frontcheck.lines.lined_front import glazed, match_stations
from frontcheck.rules.ruleset import DEFAULT_RULES, RuleSet, rule_set
from frontcheck.screening import Screening, screen
from frontcheck.serializer import filled, one_line, plain
from frontcheck.study.moves import (
    BLEND_MM,
    MorphedFront,
    amounts_of,
    in_the_way,
    morph_front,
    moves_said,
)
from frontcheck.study.study_document import RatesEntry, WhatIfDocument

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping

    from frontcheck.comparison.changes import Change
    from frontcheck.findings.answer import Answer
    from frontcheck.findings.people_rows import PersonRow
    from frontcheck.front.front import Front
    from frontcheck.study.moves import Obstacle
    from frontcheck.study.sensitivity import Sensitivity
    from frontcheck.surface.section import Section

_SAME_DATUM: Final = Origins(0.0, 0.0, "")

Kind = Literal["gone", "changed", "new", "stayed"]


@dataclass(frozen=True)
class Told:
    """One line of the answer before and after a move."""

    block: Literal["stands out", "cannot say", "next"]
    before: str | None  # None where it is new
    after: str | None  # None where it is gone

    @property
    def kind(self) -> Kind:
        """Whether it went, came, changed or stayed."""
        if self.before is None:
            return "new"
        if self.after is None:
            return "gone"
        return "stayed" if self.before == self.after else "changed"


@one_line
@dataclass(frozen=True, eq=False)
class WhatIf:
    """A front with features moved, beside the front as it was.

    Screenings are made when they are asked for: `front` alone is there at once.

    Parameters
    ----------
    base : Front
        The front as it was; of a mesh, its sections.
    amounts : dict of str to float
        How far each handle is moved; see ``frontcheck sweep --parameters``.
    front : Front or None
        The front with features moved; None where something is in the way.
    skin_moved_mm : float or None
        Farthest that any point of the skin travelled [mm].
    obstacles : tuple of Obstacle
        What was in the way, by station; beside a front, where it has no such feature.
    notes : tuple of str
        What was done first.
    rules : RuleSet
        Rule set of the screenings.
    settings : dict
        Further arguments of `screen`.
    caution : str, optional
        What a screening is not.

    Examples
    --------
    >>> import frontcheck as fc
    >>> moved = fc.what_if(fc.read_front("geometries/plover.csv"), {"lower_lip": {"forward": 20}})
    >>> moved.moves, moved.skin_moved_mm
    ('lower lip forward 20 mm', 20.0)
    """

    base: Front
    amounts: dict[str, float]
    front: Front | None
    skin_moved_mm: float | None
    obstacles: tuple[Obstacle, ...]
    notes: tuple[str, ...]
    rules: RuleSet
    settings: dict[str, Any] = field(repr=False)
    caution: str = field(default=CAUTION, repr=False)

    @property
    def moves(self) -> str:
        """The moves in words."""
        return moves_said(self.amounts)

    @cached_property
    def before(self) -> Screening:
        """The front as it was, screened."""
        return screen(self.base, self.rules, **self.settings)

    @cached_property
    def after(self) -> Screening:
        """The moved front, screened.

        Raises
        ------
        NotAvailableError
            If something is in the way, so that there is none.
        """
        if self.front is None:
            raise NotAvailableError("; ".join(each.words for each in self.obstacles))
        return screen(self.front, self.rules, **self.settings)

    @property
    def cautions(self) -> tuple[str, ...]:
        """What to keep in mind; the first says what a screening is not."""
        return (self.after.all_cautions()[0], DRAWING, *self.after.all_cautions()[1:])

    @cached_property
    def lines(self) -> tuple[tuple[float, Change], ...]:
        """Station, and what became of a line there: `a` is before, `b` after."""
        matched, _ = match_stations(self.before, self.after)
        # Setbacks compare even from local datums: those of either shape are the same.
        return tuple(
            (each.y, change) for each in matched for change in line_changes(each, _SAME_DATUM)
        )

    def answer(self) -> tuple[Told, ...]:
        """Return the lines of the answer that went, came, changed or stayed.

        Returns
        -------
        tuple of Told
            What stands out, what cannot be said, what to do next; text before and after.
        """
        one, two = _lines(self.before.answer), _lines(self.after.answer)
        return tuple(
            Told(key[0], one.get(key), two.get(key)) for key in dict.fromkeys((*one, *two))
        )

    def people(self) -> tuple[tuple[PersonRow, PersonRow], ...]:
        """Return who meets what, before and after.

        Returns
        -------
        tuple of tuple
            A row of the answer before and after, person by person.
        """
        pair = self.before.answer.people, self.after.answer.people
        return tuple(zip(*pair, strict=True))

    @property
    def complete(self) -> bool:
        """Whether every line could be formed, before and after, and every feature was there."""
        return self.before.complete and self.after.complete and not self.obstacles

    def in_the_way(self) -> list[str]:
        """Return what was in the way, with the stations where it was.

        Returns
        -------
        list of str
            Each reason once. Beside a front: where it has no such feature, and so stayed.
        """
        return in_the_way(self.obstacles, len(self.base.sections))

    def to_dict(self, per_10mm: Sensitivity | None = None) -> dict[str, Any]:
        """Return the document ``frontcheck.what-if/1`` as plain values.

        Parameters
        ----------
        per_10mm : Sensitivity, optional
            Which feature moves which line, to go with it.

        Returns
        -------
        dict
            Ready for JSON; missing values are None.
        """
        given = {} if per_10mm is None else {"per_10mm": filled(RatesEntry, per_10mm)}
        return plain(WhatIfDocument, self, **given)


def what_if(
    front: Front,
    moves: Mapping[str, Mapping[str, float]],
    rules: str | RuleSet = DEFAULT_RULES,
    wad: Iterable[float] | None = None,
    *,
    only_at: Iterable[float] | None = None,
    blend: float = BLEND_MM,
    windscreen_from: tuple[float, float] | None = None,
    **settings: Any,
) -> WhatIf:
    """Move features of a front and see what of the lines and of the answer changes.

    Parameters
    ----------
    front : Front
        The front; a mesh is cut to its sections first.
    moves : mapping of str to mapping of str to float
        For each feature (``lower_lip``, ``upper_lip``, ``recess``, ``bumper_face``,
        ``leading_edge``, ``bonnet_height``, ``bonnet_slope``, ``nose``, ``face``,
        ``ride_height``) which way it goes and how far, in mm or deg, such as
        ``{"lower_lip": {"forward": 20}}``; a negative amount goes the other way.
    rules : str or RuleSet, optional
        Rule set or its id.
    wad : iterable of float, optional
        Wrap-around distances [mm]; else those of the rule set.
    only_at : iterable of float, optional
        Stations [mm] at which it is moved; all when not given.
    blend : float, optional
        Length along the contour over which a move fades to nothing [mm].
    windscreen_from : tuple of float, optional
        Where the windscreen begins at the centre, setback and height [mm].
    **settings
        Further arguments of `screen`.

    Returns
    -------
    WhatIf
        The moved front, or what is in the way. Moved points are marked as proposed.

    Raises
    ------
    InputError
        If there is no such feature, way or station, or an amount is beyond reach.

    Examples
    --------
    >>> import frontcheck as fc
    >>> plover = fc.read_front("geometries/plover.csv")
    >>> moved = fc.what_if(plover, {"leading_edge": {"up": -15}})
    >>> [result.station(0).ble_height for result in (moved.before, moved.after)]
    [800.0, 785.0]
    >>> moved.front.not_measured
    '... points proposed, not measured'
    """
    amounts, chosen, notes = amounts_of(moves), rule_set(rules), []
    told = glazed(front, chosen, windscreen_from)
    if told.mesh is not None:
        notes.append(
            f"The mesh was cut to its {len(front.sections)} sections first, before and after: what "
            "runs between stations runs from section to section."
        )
    before = [len(section) for section in front.sections]
    sections = tuple(map(_foot_marked, told.sections, before))
    base = replace(told, sections=tuple(told.sections), mesh=None)
    stations = None if only_at is None else tuple(only_at)
    for y in stations or ():
        if y not in base.stations:
            raise refuse("moves.station", y=y, known=[f"{at:g}" for at in base.stations])
    marked = replace(base, sections=sections) if any(amounts.values()) else base
    made = morph_front(marked, amounts, blend, stations)
    settings |= {"wad": None if wad is None else tuple(wad)}
    return WhatIf(
        base, amounts, _reglazed(made), made.skin_moved_mm, made.obstacles, tuple(notes), chosen,
        settings,
    )  # fmt: skip


def _foot_marked(section: Section, measured: int) -> Section:
    """The section with a point that was put in at the foot of its windscreen marked as proposed."""
    if len(section) == measured or section.proposed is not None:
        return section
    mark = np.zeros(len(section), dtype=bool)
    mark[np.flatnonzero(section.part_mask("windscreen"))[0]] = True
    return replace(section, proposed=mark)


def _reglazed(made: MorphedFront) -> Front | None:
    """The moved front, and where its windscreen begins by now."""
    front = made.made
    if front is None or front.windscreen.at is None:
        return front
    centre = min(front.sections, key=lambda section: abs(section.y))
    foot = np.flatnonzero(centre.part_mask("windscreen"))[0]
    x, z = centre.points[foot].tolist()
    return replace(front, windscreen=replace(front.windscreen, at=(x, z)))


def _lines(answer: Answer) -> dict[tuple[Any, ...], str]:
    """Lines of an answer, by block and by what makes two of them the same line."""
    return {
        **{("stands out", line.theme, line.findings): line.text for line in answer.lines},
        **{("cannot say", text): text for text in answer.cannot_say},
        **{("next", step.do): step.do for step in answer.next},
    }
