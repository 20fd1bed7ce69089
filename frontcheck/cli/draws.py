"""Draws of the measurement: options that commands share, and what the file leaves open."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING, Any, Final, TypeVar

import click

if TYPE_CHECKING:
    from collections.abc import Callable

    from frontcheck.front.front import Front
    from frontcheck.sure.uncertainty import Uncertainty

F = TypeVar("F", bound="Callable[..., Any]")

_MOST: Final = 1_000_000
"""Draws whose results still fit into the memory of a small machine."""


def seed_option(default: int = 1) -> Callable[[F], F]:
    """Add the option of the seed to a command."""
    return click.option(
        "--seed",
        type=click.IntRange(min=0),
        default=default,
        show_default=True,
        metavar="N",
        help="Of the draws: the same seed gives the same result.",
    )


def draw_options(default: int, words: str) -> Callable[[F], F]:
    """Add the options of draws to a command."""

    def add(command: F) -> F:
        for option in (
            click.option(
                "--hand-tools",
                is_flag=True,
                help="Where FILE states no uncertainty, take that of square, level and tape.",
            ),
            seed_option(),
            click.option(
                "--draws",
                type=click.IntRange(0, _MOST),
                default=default,
                show_default=True,
                metavar="N",
                help=words,
            ),
        ):
            command = option(command)
        return command

    return add


def settings_for(front: Front, *, hand_tools: bool) -> Uncertainty:
    """Return the uncertainties to draw with."""
    from frontcheck.sure.uncertainty import HAND_TOOLS, Uncertainty

    stated = Uncertainty.of(front)
    if not hand_tools:
        return stated
    known = {name: value for name, value in stated.to_dict().items() if value}
    known.pop("pitch_pivot_mm")
    return replace(HAND_TOOLS, **known)
