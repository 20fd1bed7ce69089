"""People who are struck, for commands that show them beside other results."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, Final, TypeVar

import click

from frontcheck.cli.common import crew_for

if TYPE_CHECKING:
    from collections.abc import Callable

    from frontcheck.outputs.documents.result_files import Step
    from frontcheck.screening import Screening

F = TypeVar("F", bound="Callable[..., Any]")

_SPEED: Final = 40.0
_DRAWS: Final = 64


def motion_options(words: str) -> Callable[[F], F]:
    """Add the options with which people are struck, too; `struck` is speed and draws, or None."""

    def add(command: F) -> F:
        for option in (
            click.option(
                "--motion-draws",
                type=int,
                metavar="N",
                help="With --motion: assumed cases of each person, 20 to 5000; a robust finding "
                f"takes 200.  [default: {_DRAWS}]",
            ),
            click.option(
                "--speed",
                type=float,
                metavar="KM_H",
                help=f"With --motion: speed of the front, 20 to 50 km/h.  [default: {_SPEED:g}]",
            ),
            click.option("--motion", "struck", is_flag=True, help=words),
        ):
            command = option(command)
        return command

    return add


def asked(options: dict[str, Any]) -> tuple[float, int] | None:
    """Take the options of `motion_options` out of those of a command: speed and draws, if asked."""
    struck, speed, draws = (options.pop(name) for name in ("struck", "speed", "motion_draws"))
    if struck:
        return _SPEED if speed is None else speed, _DRAWS if draws is None else draws
    for name, value in (("--speed", speed), ("--motion-draws", draws)):
        if value is not None:
            raise click.UsageError(f"{name} says how people are struck: it needs --motion")
    return None


def with_struck(
    result: Screening,
    other: Screening | None,
    how: tuple[float, int],
    step: Step,
    seed: int = 1,
) -> Screening:
    """Let people be struck by a front, and by one that it is compared with."""
    from frontcheck.body.motion import motion
    from frontcheck.people.people import struck_people
    from frontcheck.screening import with_motion

    speed, draws = how
    with crew_for(len(struck_people()), None) as executor:
        told = motion(
            result, other, speed_km_h=speed, draws=draws, seed=seed, executor=executor,
            progress=step,
        )  # fmt: skip
    return with_motion(result, told)
