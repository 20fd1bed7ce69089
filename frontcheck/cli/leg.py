"""The command ``leg``: how a front, or two, meet an upright leg, with a planar dynamic model."""

from __future__ import annotations

import math
import sys
from typing import TYPE_CHECKING, Any, Final

import click

from frontcheck.cli.common import (
    DONE,
    INCOMPLETE,
    FrontFile,
    file_options,
    finish,
    guarded,
    line_options,
    lined,
    output_options,
    shoe_option,
)
from frontcheck.cli.draws import seed_option

if TYPE_CHECKING:
    from pathlib import Path

    from frontcheck.legs.dynamics import RunSettings
    from frontcheck.legs.leg_study import LegStudy
    from frontcheck.outputs.text.terminal import Style
    from frontcheck.people.people import Person

_EVERYWHERE: Final = "all"
_PERSON: Final = "man p50"
_MOST_STIFFNESS, _MOST_SPEED, _MOST_DEPTH, _MOST_DRAWS = 1000.0, 100.0, 500.0, 5000
"""Far above any front or test: beyond them a number is a slip of the pen."""


class PartValue(click.ParamType):  # type: ignore[type-arg]
    """A value for one part, such as ``bumper=0.5``."""

    name = "PART=NUMBER"

    def __init__(self, unit: str, most: float) -> None:
        self.unit = unit
        self.most = most

    def convert(
        self, value: Any, param: click.Parameter | None, ctx: click.Context | None
    ) -> tuple[str, float]:
        """Turn the text into a part and a number."""
        from frontcheck.surface.section import PARTS

        if isinstance(value, tuple):
            return value
        part, _, text = str(value).partition("=")
        part = part.strip()
        if part != _EVERYWHERE and part not in PARTS:
            expected = f"PART=NUMBER with a part of {', '.join((*PARTS, _EVERYWHERE))}"
            self.fail(f"{value!r}: found part {part!r}; expected {expected}", param, ctx)
        try:
            number = float(text)
        except ValueError:
            number = math.nan
        if not 0.0 <= number <= self.most:
            self.fail(
                f"{value!r}: found {text.strip()!r}; expected a number from 0 to {self.most:g} "
                f"{self.unit}, such as {part}=0.5",
                param,
                ctx,
            )
        return part, number


class Amount(click.ParamType):  # type: ignore[type-arg]
    """A number above 0 up to a most; `click.FloatRange` lets "nan" through."""

    name = "NUMBER"

    def __init__(self, unit: str, most: float) -> None:
        self.unit = unit
        self.most = most

    def convert(
        self, value: Any, param: click.Parameter | None, ctx: click.Context | None
    ) -> float:
        """Turn the text into a number."""
        try:
            number = float(value)
        except ValueError:
            number = math.nan
        if not 0.0 < number <= self.most:
            expected = f"expected a number above 0, at most {self.most:g} {self.unit}"
            self.fail(f"found {str(value)!r}; {expected}", param, ctx)
        return number


@click.command()
@click.argument("file", type=FrontFile)
@click.argument("file_b", metavar="[FILE_B]", type=FrontFile, required=False)
@click.option(
    "--station",
    "stations",
    type=float,
    multiple=True,
    metavar="Y",
    help="Station [mm]; may be given several times.  [default: the one nearest the centre]",
)
@click.option(
    "--person",
    metavar="NAME",
    help=f'Whose leg: "woman p5" (percentile) to "man p95", "six-year-old".  [default: {_PERSON}]',
)
@click.option(
    "--stature",
    type=float,
    metavar="MM",
    help="A person of this stature instead.  Not 1200 to 1450 mm.",
)
@shoe_option
@click.option(
    "--depth",
    type=Amount("mm", _MOST_DEPTH),
    default=60.0,
    show_default=True,
    metavar="MM",
    help="Depth of the load in the leg figure; listed beside 20, 60 and 100 mm.",
)
@click.option(
    "--stiffness",
    "stiffnesses",
    type=PartValue("N/mm2", _MOST_STIFFNESS),
    multiple=True,
    help="Assumed stiffness of a part [N/mm2], or of all; parts given keep their ratios in draws.",
)
@click.option(
    "--speed",
    type=Amount("km/h", _MOST_SPEED),
    metavar="KM_H",
    help="Speed of the legform.  [default: 40]",
)
@click.option(
    "--draws",
    type=click.IntRange(1, _MOST_DRAWS),
    default=200,
    show_default=True,
    metavar="N",
    help="Cases of stiffness in which two fronts are compared; fewer than 200 rank nothing.",
)
@seed_option(default=0)
@line_options
@output_options("leg", "document and figures")
@file_options
def leg(
    file: Path,
    file_b: Path | None,
    stations: tuple[float, ...],
    person: str | None,
    stature: float | None,
    shoe: float | None,
    depth: float,
    stiffnesses: tuple[tuple[str, float], ...],
    speed: float | None,
    draws: int,
    seed: int,
    rules_id: str | None,
    wad: tuple[float, ...] | None,
    tape_start: str,
    json_path: Path | None,
    out: Path | None,
    **options: Any,
) -> None:
    """Say how the front in FILE meets leg and legform; beside FILE_B, which opens its knee less.

    Stiffness is not known: it is drawn part by part, and two shapes are ranked only where nearly
    all draws agree; no value is to be held against a limit. The legform is that of the rule set and
    of the lower bumper height. FILE may be a front file (.toml). Exit code 0: done. 1: done, but
    some line, load or run could not be had. 2: unusable input or arguments.

    \b
    Examples:
      frontcheck leg geometries/plover.csv
      frontcheck leg geometries/plover.csv geometries/avocet.csv --station 0 --station 500
      frontcheck leg geometries/plover.csv --person six-year-old --stiffness bumper=0.6
      frontcheck leg geometries/plover.csv geometries/avocet.csv --out reports/leg
    """

    def work() -> LegStudy:
        from frontcheck.legs.leg_study import DEPTHS, leg_study

        settings = _settings(stiffnesses, speed)
        chosen = _person(person, stature)
        chosen = chosen if shoe is None else chosen.in_shoes(shoe)
        files = [file] if file_b is None else [file, file_b]
        fronts = [lined(each, rules_id, wad, tape_start, options) for each in files]
        depths = tuple(sorted({*DEPTHS, depth}))
        return leg_study(
            fronts, chosen, stations, depths=depths, settings=settings, draws=draws, seed=seed
        )

    result = guarded(work)
    if out is not None:
        guarded(lambda: _write_out(result, out, depth))

    def text(style: Style) -> str:
        from frontcheck.outputs.text.leg_text import leg_text

        return leg_text(style, result, out)

    finish(json_path, result.to_dict, text)
    sys.exit(DONE if result.complete else INCOMPLETE)


def _settings(stiffnesses: tuple[tuple[str, float], ...], speed: float | None) -> RunSettings:
    """Assumptions of the runs."""
    from frontcheck.legs.dynamics import RunSettings

    parts, usual = _once("--stiffness", stiffnesses), RunSettings()
    everywhere = parts.pop(_EVERYWHERE, usual.stiffness)
    speed = usual.speed_km_h if speed is None else speed
    return RunSettings(speed, everywhere, tuple(sorted(parts.items())))


def _once(option: str, given: tuple[tuple[str, float], ...]) -> dict[str, float]:
    from frontcheck.errors import refuse

    values = dict(given)
    if len(values) < len(given):
        twice = next(part for part in values if [p for p, _ in given].count(part) > 1)
        raise refuse("option.twice", option=option, part=twice)
    return values


def _person(name: str | None, stature: float | None) -> Person:
    from frontcheck.errors import refuse
    from frontcheck.people.people import PEOPLE, person_of_stature

    if name is not None and stature is not None:
        raise refuse("option.person_and_stature", name=name, stature=stature)
    if stature is not None:
        return person_of_stature(stature)
    wanted = " ".join((_PERSON if name is None else name).split()).lower()
    for person in PEOPLE:
        if person.name == wanted:
            return person
    known = ", ".join(person.name for person in PEOPLE)
    raise refuse("option.person", name=name, known=known, more="")


def _write_out(result: LegStudy, out: Path, depth: float) -> None:
    from frontcheck.outputs.documents.folder import write_folder
    from frontcheck.outputs.documents.result_files import leg_files

    write_folder(out, leg_files(result, depth))
