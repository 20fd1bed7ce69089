"""What the pictures of a shape study have in common: style, words, margins, edges of a matrix."""

from __future__ import annotations

import functools
import textwrap
from typing import TYPE_CHECKING, ParamSpec, TypeVar

from frontcheck.outputs.figures import canvas as look

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

P = ParamSpec("P")
T = TypeVar("T")


def styled(draw: Callable[P, T]) -> Callable[P, T]:
    """Draw in the house style; the caller's settings come back after."""

    @functools.wraps(draw)
    def in_style(*args: P.args, **kwargs: P.kwargs) -> T:
        with look.house_style():
            return draw(*args, **kwargs)

    return in_style


def spoken(name: str, unit: bool = True) -> str:
    """Return the name of a number or parameter as words."""
    body, _, tail = name.rpartition("_")
    words = body.replace("_", " ") if body else tail
    return f"{words} [{tail}]" if unit and body else words


def frame(
    figure: Figure, *, left: float, bottom: float, right: float, top: float
) -> tuple[float, float, float, float]:
    """Turn margins into fractions of the figure."""
    width, height = figure.get_size_inches()
    return left / width, bottom / height, 1.0 - right / width, 1.0 - top / height


def note(figure: Figure, text: str) -> None:
    """Write a small note above the caution."""
    width, height = figure.get_size_inches()
    figure.text(0.2 / width, 0.3 / height, text, fontsize=look.SMALL, color=look.MUTED)


def edge_labels(ax: Axes, names: Sequence[str], i: int, j: int, count: int) -> None:
    """Label a panel of a matrix: ticks and names at its left and lower edge only."""
    from matplotlib.ticker import MaxNLocator

    ax.xaxis.set_major_locator(MaxNLocator(3, integer=True))
    if i != j:
        ax.yaxis.set_major_locator(MaxNLocator(3, integer=True))
    if i == count - 1:
        ax.set_xlabel(textwrap.fill(spoken(names[j]), 16))
    else:
        ax.set_xticklabels([])
    if j == 0 and i > 0:
        ax.set_ylabel(textwrap.fill(spoken(names[i]), 16))
    elif i != j:
        ax.set_yticklabels([])


def wide_figure(width: float, height: float) -> Figure:
    """An empty figure, wide enough for head and caution."""
    return look.new_figure(max(width, 7.6), max(height, 3.4))


def titled(figure: Figure, title: str, words: str) -> None:
    """Write title and subtitle at the left edge."""
    look.head(figure, title, words, left=0.2 / figure.get_figwidth(), top=0.12)
