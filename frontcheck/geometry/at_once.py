"""Independent work done at once: array operations let other threads run meanwhile."""

from __future__ import annotations

from collections import deque
from itertools import chain, islice
from typing import TYPE_CHECKING, Final, TypeVar

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable, Iterator
    from concurrent.futures import Future

_Result = TypeVar("_Result")
WORKERS: Final = 2
"""Own choice: more would hold more memory at a time, and gain little."""


def in_order(calls: Iterable[Callable[[], _Result]]) -> Iterator[_Result]:
    """Yield what calls return, in their order, the next ones being worked on meanwhile."""
    todo = iter(calls)
    first = list(islice(todo, 2))
    if len(first) < 2:  # a thread for one call gains nothing
        yield from (call() for call in first)
        return
    from concurrent.futures import ThreadPoolExecutor

    held: deque[Future[_Result]] = deque()
    with ThreadPoolExecutor(WORKERS) as pool:
        for call in chain(first, todo):
            held.append(pool.submit(call))
            if len(held) > WORKERS:
                yield held.popleft().result()
        while held:
            yield held.popleft().result()
