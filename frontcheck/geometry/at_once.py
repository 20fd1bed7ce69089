"""Two pieces of independent work at once: array operations let another thread run meanwhile."""

from __future__ import annotations

from typing import TYPE_CHECKING, TypeVar

if TYPE_CHECKING:
    from collections.abc import Callable

_Result = TypeVar("_Result")


def both(first: Callable[[], _Result], second: Callable[[], _Result]) -> tuple[_Result, _Result]:
    """Return what two calls return."""
    from concurrent.futures import ThreadPoolExecutor

    # One of them here: a further thread would hold further memory and gain nothing.
    with ThreadPoolExecutor(1) as other:
        elsewhere = other.submit(second)
        here = first()
        return here, elsewhere.result()
