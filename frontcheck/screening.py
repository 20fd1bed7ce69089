"""One call from a front and a rule set to everything that can be said of it."""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import cached_property
from html import escape
from typing import TYPE_CHECKING, Annotated, Any, Final

from msgspec import UNSET, Meta, UnsetType

from frontcheck.caution import CAUTION
from frontcheck.documents import (
    VERSION,
    AnswerEntry,
    FindingEntry,
    FrontLineEntry,
    InputEntry,
    PlausibilityEntry,
    RuleSetEntry,
    SettingsEntry,
    StationEntry,
    UnconfirmedEntry,
    ZonesEntry,
    everything_read,
)
from frontcheck.errors import refuse
from frontcheck.front.plausible import Doubt, doubts_told, plausibility
from frontcheck.lines.lined_front import LinedFront, TapeStart, by_other_rules, line_up
from frontcheck.lines.said import said_of_lines, untold
from frontcheck.rules.ruleset import DEFAULT_RULES, RuleSet, rule_set_ids
from frontcheck.rules.used_by import said_of, unconfirmed
from frontcheck.serializer import Entry, From, by_name, one_line, plain, table
from frontcheck.sure.tolerance_document import CorrectionsEntry, ToleranceDocument
from frontcheck.zones.front_zones import zone_options_of

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping

    import pandas as pd

    from frontcheck.body.motion import MotionStudy
    from frontcheck.findings.answer import Answer
    from frontcheck.findings.assumed_cases import AssumedCases
    from frontcheck.findings.bands import Band
    from frontcheck.findings.finding import Finding
    from frontcheck.findings.finding_settings import FindingSettings
    from frontcheck.findings.hard_points import HeadContact
    from frontcheck.front.front import Front
    from frontcheck.rules.used_by import Unconfirmed
    from frontcheck.sure.uncertainty import Uncertainty
    from frontcheck.zones.front_zones import FrontZones, ZoneOptions

SCHEMA: Final = "frontcheck.screening/2"
"""Name and version of the screening document."""

_WHOLE = {"minProperties": len(ZonesEntry.__struct_fields__)}
_EMPTY_OR_WHOLE = Meta(extra_json_schema={"anyOf": [{"maxProperties": 0}, _WHOLE]})


def _unconfirmed(screening: Screening, *, lines_only: bool = False) -> tuple[Unconfirmed, ...]:
    """Constants from memory, not confirmed, that a shown result rests on."""
    lines = screening.formed
    return unconfirmed(screening.rules, lines if lines_only else lines | screening.zones.formed)


@one_line
class ScreeningDocument(Entry, tag_field="schema", tag=SCHEMA, kw_only=True):
    """The screening of one front by one rule set, as its document says it.

    Parameters
    ----------
    frontcheck : str
        Version that wrote it.
    input : InputEntry
        The file the front was read from.
    rule_set : RuleSetEntry
        The rule set used.
    settings : SettingsEntry
        What was chosen.
    unconfirmed : list of UnconfirmedEntry
        Constants from memory, not confirmed, that a shown result depends on.
    plausibility : list of PlausibilityEntry, optional
        What looks odd in the input, where something does.
    assumed : list of str
        What was taken without being told.
    answer : AnswerEntry, optional
        The screening in a few sentences; null where only lines were asked for.
    stations : list of StationEntry
        Lines and face of every section; keys end in their unit.
    lines : dict of str to FrontLineEntry
        Lines across the front by name.
    zones : ZonesEntry
        Zones between them.
    findings : list of FindingEntry
        Where the shape may load leg or head differently.
    cautions : list of str
        What to keep in mind; the first says what a screening is not.
    tolerance : ToleranceDocument, optional
        Draws of the measurement, where they were made.
    corrections : CorrectionsEntry, optional
        Known errors that were taken out.

    Examples
    --------
    >>> import frontcheck as fc
    >>> result = fc.screen(fc.read_front("geometries/plover.csv"))
    >>> path = fc.write_screening(result, "plover.json")
    >>> fc.read_screening(path).stations[0].UBRL
    LineEntry(x_mm=22.0, z_mm=556.0, status='ok', ...)
    """

    frontcheck: Annotated[str, VERSION]
    input: Annotated[InputEntry, From(everything_read)]
    rule_set: Annotated[RuleSetEntry, From("rules")]
    settings: Annotated[SettingsEntry, From(lambda screening: screening)]
    unconfirmed: Annotated[list[UnconfirmedEntry], From(_unconfirmed)]
    plausibility: Annotated[
        list[PlausibilityEntry] | UnsetType, From(lambda s: doubts_told(s.doubts))
    ] = UNSET
    assumed: Annotated[list[str], From(lambda screening: screening.assumed())]
    answer: AnswerEntry | None
    stations: list[StationEntry]
    lines: Annotated[dict[str, FrontLineEntry], From(lambda s: by_name(s.zones.lines))]
    zones: Annotated[ZonesEntry, _EMPTY_OR_WHOLE]
    findings: list[FindingEntry]
    cautions: Annotated[list[str], From(lambda screening: screening.all_cautions())]
    tolerance: ToleranceDocument | UnsetType = UNSET
    corrections: CorrectionsEntry | UnsetType = UNSET


@one_line
@dataclass(frozen=True, eq=False)
class Screening(LinedFront):
    """The screening of one front by one rule set: its lines, and what follows from them.

    Parameters
    ----------
    cautions : tuple of str
        What to keep in mind of front and sections; the first says what a screening is not.
        `all_cautions` has those of the rules too. The other fields are those of `LinedFront`.
    zone_options : ZoneOptions, optional
        Beam ends, spacings, and how the surface runs between stations.
    finding_settings : FindingSettings, optional
        People, hard points and the limits that are ours to choose.
    untold : tuple of str, optional
        What was taken without being told before any line was formed; `assumed` gives all.
    cases : AssumedCases, optional
        With what to draw the cases in which the answer looks for its lines again.
    motion : MotionStudy, optional
        What becomes of people whom this front strikes.

    Examples
    --------
    >>> import frontcheck as fc
    >>> result = fc.screen(fc.read_front("geometries/plover.csv"))
    >>> result.station(0).UBRL.z, result.station(0).bumper_lead
    (556.0, 79.5)
    >>> result.zones.child_area.status
    'open_end'
    """

    cautions: tuple[str, ...]
    zone_options: ZoneOptions | None = None
    finding_settings: FindingSettings | None = None
    untold: tuple[str, ...] = ()
    cases: AssumedCases | None = None
    motion: MotionStudy | None = None

    def assumed(self, *, lines_only: bool = False, struck: bool = True) -> tuple[str, ...]:
        """Return what was taken without being told.

        Parameters
        ----------
        lines_only : bool, optional
            Leave out what only zones rest on.
        struck : bool, optional
            With what the motion of people who are struck rests on.

        Returns
        -------
        tuple of str
            Plain sentences, each once.
        """
        results: list[Any] = [line for station in self.stations for line in station.lines]
        if not lines_only:
            zones = self.zones
            results += [*zones.lines, zones.bumper_test_area, zones.child_area, zones.adult_area]
        said = (text for result in results for text in getattr(result, "assumed", ()))
        of_it = self.motion.assumed if self.motion and struck and not lines_only else ()
        return tuple(dict.fromkeys([*self.front.assumed, *self.untold, *said, *of_it]))

    def all_cautions(self, *, lines_only: bool = False) -> tuple[str, ...]:
        """Return the cautions, with what is to be said of the rules behind what is shown.

        Parameters
        ----------
        lines_only : bool, optional
            Of results, only lines of the sections are shown.

        Returns
        -------
        tuple of str
            Plain sentences.
        """
        struck = () if self.motion is None or lines_only else self.motion.to_mind
        rules = said_of(self.rules, _unconfirmed(self, lines_only=lines_only))
        return (*self.cautions, *struck, *rules)

    @property
    def unconfirmed(self) -> tuple[Unconfirmed, ...]:
        """Constants from memory, not confirmed, that the result rests on."""
        return _unconfirmed(self)

    @cached_property
    def zones(self) -> FrontZones:
        """Lines across the front and the zones between them; worked out on first use."""
        from frontcheck.zones.build import zones_of

        return zones_of(self, self.zone_options)

    @cached_property
    def doubts(self) -> tuple[Doubt, ...]:
        """What looks like a slip of measuring or typing; worked out on first use."""
        return plausibility(self.front)

    @cached_property
    def findings(self) -> tuple[Finding, ...]:
        """Where the shape may load leg or head differently, from the ground up, then rearward."""
        from frontcheck.findings.catalogue import all_findings

        return all_findings(self, self.zones, self.finding_settings, self.head, self.motion)

    @cached_property
    def answer(self) -> Answer:
        """What stands out, who meets what, what no shape can say, and what to do next."""
        from frontcheck.findings.answer import answer

        settings = self.finding_settings
        return answer(self, self.findings, settings, self.zones, self.cases, self.motion)

    @cached_property
    def by_other_rules(self) -> tuple[LinedFront, ...]:
        """The lines by every other rule set; formed anew only where a constant changes them."""
        return by_other_rules(self, (id_ for id_ in rule_set_ids() if id_ != self.rules.id))

    @cached_property
    def bands(self) -> Mapping[float, tuple[Band, ...]]:
        """Where findings lie along each section, by its station; worked out on first use."""
        from frontcheck.findings.bands import bands_of

        half = self.front.symmetric
        return {s.y: bands_of(s, self.findings, symmetric=half) for s in self.front.sections}

    @cached_property
    def answer_bands(self) -> Mapping[float, tuple[Band, ...]]:
        """Where the answer's lines lie along each section, numbered as they stand there."""
        from frontcheck.findings.bands import longest_bands

        said = self.answer.lines
        return {s.y: longest_bands(s, self.bands[s.y], said) for s in self.front.sections}

    @cached_property
    def head(self) -> HeadContact:
        """What headforms meet at grid points and above hard points; worked out on first use."""
        from frontcheck.findings.hard_points import head_contact

        hard = self.finding_settings.hard_points if self.finding_settings else ()
        return head_contact(self, self.zones, hard)

    def to_frame(self) -> pd.DataFrame:
        """Return one row per station with every number and status.

        Returns
        -------
        pandas.DataFrame
            Index ``y_mm``; lengths in mm. Missing numbers are NA, beside their status.
        """
        records = self.records()
        return table(records, records[0], "y_mm")

    def records(self) -> list[dict[str, Any]]:
        """Return one mapping per station with every number and status.

        Returns
        -------
        list of dict
            The same keys in the same order for every station; lengths in mm. Missing
            numbers are None, beside their status.
        """
        return [self._row(station) for station in self.stations]

    def to_dict(self, *, lines_only: bool = False) -> dict[str, Any]:
        """Return the screening document (`SCHEMA`) as plain values.

        Parameters
        ----------
        lines_only : bool, optional
            Leave the parts ``lines``, ``zones`` and ``findings``, which need a surface,
            empty.

        Returns
        -------
        dict
            Ready for JSON; missing values are None beside a status and a reason.
        """
        if not lines_only:
            return plain(ScreeningDocument, self)
        return plain(
            ScreeningDocument,
            self,
            lines={},
            zones=ZonesEntry(),
            findings=(),
            answer=None,
            unconfirmed=_unconfirmed(self, lines_only=True),
            cautions=self.all_cautions(lines_only=True),
            assumed=self.assumed(lines_only=True),
        )

    def _repr_html_(self) -> str:
        frame, title = self.to_frame(), escape(f"{self.front.name}: {self.rules.title}")
        columns = [c for c in frame.columns if c.endswith(("_z_mm", "lead_mm", "legform"))]
        table = frame[columns].round(1).to_html(na_rep="-", border=0)
        said = " ".join([CAUTION, *(c for c in self.cautions if "(open end)" in c)])
        return f"<p><b>{title}</b></p>{table}<p><i>{escape(said)}</i></p>"


def screen(
    front: Front,
    rules: str | RuleSet = DEFAULT_RULES,
    wad: Iterable[float] | None = None,
    *,
    tape_start: TapeStart = "section",
    windscreen_from: tuple[float, float] | None = None,
    zone_options: ZoneOptions | None = None,
    finding_settings: FindingSettings | None = None,
    cases: Uncertainty | None = None,
    seed: int = 1,
    motion: MotionStudy | None = None,
) -> Screening:
    """Form every line of every section of a front.

    Parameters
    ----------
    front : Front
        The front.
    rules : str or RuleSet, optional
        Rule set or its id.
    wad : iterable of float, optional
        Wrap-around distances [mm]; else those of the rule set.
    tape_start : {"section", "vehicle"}, optional
        The tape stands below the foremost point of each section, or of the whole front as
        in-depth crash investigation measures (manual of the DaCoTA project of the European
        Commission, text read; authors, title and year not confirmed).
    windscreen_from : tuple of float, optional
        Where the windscreen begins at the centre, setback and height [mm]; else by labels or shape.
    zone_options, finding_settings : ZoneOptions and FindingSettings, optional
        Beam ends, spacings and the surface between stations; people, hard points, own limits.
    cases : Uncertainty, optional
        Where given, the answer says in how many of 100 assumed cases its lines hold: 200 draws of
        what the rows state and of this, some 0.2 s a station.
    seed : int, optional
        Seed of the cases.
    motion : MotionStudy, optional
        What becomes of people whom this front strikes, by the same rule set: `motion` makes it.

    Returns
    -------
    Screening
        The results.

    Raises
    ------
    InputError
        If cases are asked for and nothing has an uncertainty, the tape stands below the foremost
        point of a vehicle whose stations have no common datum, or the motion is of another front.
    RuleSetError
        If there is no such rule set.
    ValueError
        If a wrap-around distance is not a positive number, or `tape_start` is neither.

    Examples
    --------
    >>> import frontcheck as fc
    >>> plover = fc.read_front("geometries/plover.csv")
    >>> result = fc.screen(plover, "UN-R127-02", wad=(1000, 1500, 2100))
    >>> round(result.station(0).wad(1500).x, 1)
    765.1
    >>> result = fc.screen(plover, cases=fc.Uncertainty.of(plover))
    >>> [line.holds_in_100 is None for line in result.answer.lines]
    [False, False, True]
    """
    if finding_settings or front.beside.hard_points:
        from frontcheck.findings.finding_settings import settings_of

        finding_settings = settings_of(front, finding_settings)
    lined = line_up(front, rules, wad, tape_start=tape_start, windscreen_from=windscreen_from)
    result = Screening(
        lined.front,
        lined.rules,
        lined.stations,
        lined.wad,
        lined.tape_start,
        said_of_lines(lined),
        zone_options_of(front, zone_options),
        finding_settings,
        untold(lined, wad_given=wad is not None),
        batch=lined.batch,
        tapes=lined.tapes,
    )
    if motion is not None:
        result = with_motion(result, motion)
    if cases is None:
        return result
    from frontcheck.findings.assumed_cases import AssumedCases

    return replace(result, cases=AssumedCases.of(result, cases, seed))


def with_motion(result: Screening, motion: MotionStudy) -> Screening:
    """The same screening, that says what becomes of people, too."""
    struck = motion.fronts[0]
    same = struck.rules.id == result.rules.id and struck.stations == result.stations
    if not same or motion.sides[0].basis != "measured":
        raise refuse("motion.other_front", front=result.front.name, rules=result.rules.id)
    return replace(result, motion=motion)
