"""People who are struck, for commands that show them beside other results."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, TypeVar

import click

from frontcheck.cli.common import crew_for

if TYPE_CHECKING:
    from collections.abc import Callable

    from frontcheck.outputs.documents.result_files import Step
    from frontcheck.screening import Screening

F = TypeVar("F", bound="Callable[..., Any]")


def motion_options(words: str) -> Callable[[F], F]:
    """Add the options with which people are struck, too; `asked` takes them."""

    def add(command: F) -> F:
        for option in (
            click.option(
                "--motion-draws",
                type=int,
                metavar="N",
                help="With --motion: assumed cases of each person, 20 to 5000; a robust finding "
                "takes 200.  [default: 64]",
            ),
            click.option(
                "--speed",
                type=float,
                metavar="KM_H",
                help="With --motion: speed of the front, 20 to 50 km/h.  [default: 40]",
            ),
            click.option("--motion", "struck", is_flag=True, help=words),
        ):
            command = option(command)
        return command

    return add


def asked(options: dict[str, Any]) -> dict[str, Any] | None:
    """Take what `motion_options` adds out of the options of a command: what is said, if asked."""
    struck, speed, draws = (options.pop(name) for name in ("struck", "speed", "motion_draws"))
    if struck:
        told = {"speed_km_h": speed, "draws": draws}
        return {name: value for name, value in told.items() if value is not None}
    for name, value in (("--speed", speed), ("--motion-draws", draws)):
        if value is not None:
            raise click.UsageError(f"{name} says how people are struck: it needs --motion")
    return None


def with_struck(
    result: Screening,
    other: Screening | None,
    how: dict[str, Any],
    step: Step,
    seed: int = 1,
) -> Screening:
    """Let people be struck by a front, and by one that it is compared with."""
    from frontcheck.body.motion import motion
    from frontcheck.people.people import struck_people
    from frontcheck.screening import with_motion

    with crew_for(len(struck_people()), None) as executor:
        told = motion(result, other, **how, seed=seed, executor=executor, progress=step)
    return with_motion(result, told)
