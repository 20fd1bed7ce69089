"""The command ``motion``: what becomes of people whom a front, or two, strike."""

from __future__ import annotations

import sys
from typing import TYPE_CHECKING, Any

import click

from frontcheck.cli.common import (
    DONE,
    INCOMPLETE,
    FrontFile,
    crew_for,
    file_options,
    finish,
    guarded,
    line_options,
    lined,
    output_options,
)
from frontcheck.cli.draws import seed_option
from frontcheck.cli.progress import progress

if TYPE_CHECKING:
    from collections.abc import Sequence
    from pathlib import Path

    from frontcheck.body.motion import MotionStudy
    from frontcheck.outputs.text.terminal import Style
    from frontcheck.people.people import Person


@click.command()
@click.argument("file", type=FrontFile)
@click.argument("file_b", metavar="[FILE_B]", type=FrontFile, required=False)
@click.option(
    "--station",
    type=float,
    metavar="Y",
    help="Station [mm].  [default: the one nearest the centre]",
)
@click.option(
    "--speed",
    type=float,
    default=40.0,
    show_default=True,
    metavar="KM_H",
    help="Speed of the front, 20 to 50 km/h.",
)
@click.option(
    "--person",
    "names",
    multiple=True,
    metavar="NAME",
    help='Who is struck: "six-year-old", "woman p5" (percentile), "woman p50", "man p50", '
    '"man p95"; may be given several times.  [default: all five]',
)
@click.option(
    "--stature",
    type=float,
    metavar="MM",
    help="A person of this stature instead; needs --mass. Not 1200 to 1450 mm.",
)
@click.option("--mass", type=float, metavar="KG", help="Mass of that person.")
@click.option(
    "--draws",
    type=int,
    default=64,
    show_default=True,
    metavar="N",
    help="Assumed cases of each person, 20 to 5000.",
)
@seed_option()
@click.option(
    "--workers",
    type=click.IntRange(min=1),
    metavar="N",
    help="Processes that work at once.  [default: as many as there are people and processors]",
)
@line_options
@output_options("motion", "document and figures")
@file_options
def motion(
    file: Path,
    file_b: Path | None,
    station: float | None,
    speed: float,
    names: tuple[str, ...],
    stature: float | None,
    mass: float | None,
    draws: int,
    seed: int,
    workers: int | None,
    rules_id: str | None,
    wad: tuple[float, ...] | None,
    tape_start: str,
    json_path: Path | None,
    out: Path | None,
    **options: Any,
) -> None:
    """Say whether the front in FILE pushes people ahead, folds them or carries them up.

    A standing person is struck from the side: nine bodies in one plane, until the head touches,
    with skin, joints and stance drawn anew in every assumed case. Beside FILE_B: what moves from
    one front to the other, and whether more than the assumptions leave open. FILE may be a front
    file (.toml). Exit code 0: done. 1: done, but for someone the place of the head cannot be given.
    2: unusable input or arguments.

    \b
    Examples:
      frontcheck motion geometries/plover.csv
      frontcheck motion geometries/plover.csv geometries/avocet.csv --draws 200
      frontcheck motion geometries/plover.csv --person six-year-old --speed 30
      frontcheck motion geometries/plover.csv --stature 1600 --mass 60 --out reports/motion
    """

    def work() -> MotionStudy:
        from frontcheck.body.motion import motion as motion_study

        people = _people(names, stature, mass)
        files = [file] if file_b is None else [file, file_b]
        fronts = [lined(each, rules_id, wad, tape_start, options) for each in files]
        with crew_for(len(people), workers) as executor:
            return motion_study(
                *fronts, people=people, station=station, speed_km_h=speed, draws=draws, seed=seed,
                executor=executor, progress=step,
            )  # fmt: skip

    with progress("people are struck") as step:
        result = guarded(work)
        if out is not None:
            guarded(lambda: _write_out(result, out))

    def text(style: Style) -> str:
        from frontcheck.outputs.text.motion_text import motion_text

        return motion_text(style, result, out)

    finish(json_path, result.to_dict, text)
    sys.exit(DONE if result.complete else INCOMPLETE)


def _people(names: Sequence[str], stature: float | None, mass: float | None) -> list[Person]:
    from frontcheck.errors import refuse
    from frontcheck.people.people import person_of_stature, struck_people

    known = struck_people()
    if stature is not None or mass is not None:
        if names:
            raise refuse("option.person_and_stature", name=names[0], stature=stature or 0.0)
        if stature is None or mass is None:
            told = f"--mass {mass:g}" if stature is None else f"--stature {stature:g}"
            raise refuse("motion.stature_and_mass", told=told)
        return [person_of_stature(stature, mass_kg=mass)]
    if not names:
        return list(known)
    by_name = {person.name: person for person in known}
    chosen = {}
    for name in names:
        wanted = " ".join(name.split()).lower()
        if wanted not in by_name:
            raise refuse(
                "option.person", name=name, known=", ".join(by_name), more=" and --mass KG"
            )
        chosen[wanted] = by_name[wanted]
    return list(chosen.values())


def _write_out(result: MotionStudy, out: Path) -> None:
    from frontcheck.outputs.documents.folder import write_folder
    from frontcheck.outputs.documents.result_files import motion_files

    write_folder(out, motion_files(result))
