"""A progress bar for what takes longer than a moment."""

from __future__ import annotations

import sys
import threading
from contextlib import contextmanager
from typing import TYPE_CHECKING, Final

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator

_AFTER_S: Final = 1.0
"""A person who waits longer wants to know what for."""


@contextmanager
def progress(words: str) -> Iterator[Callable[[str, float], None]]:
    """Show a bar on standard error after a moment; nothing where messages go to a file."""
    said: tuple[str, float | None] = (words, None)
    show: Callable[[], None] | None = None

    def tell(words: str, done: float) -> None:
        nonlocal said
        said = words, done
        if show is not None:
            show()

    if not sys.stderr.isatty():
        yield tell
        return

    lock, over, bars = threading.Lock(), False, []

    def start() -> None:
        from rich.console import Console
        from rich.progress import BarColumn, Progress, TextColumn, TimeRemainingColumn

        columns = TextColumn("{task.description}"), BarColumn(), TimeRemainingColumn()
        bar = Progress(*columns, console=Console(stderr=True), transient=True)
        task = bar.add_task(said[0], total=None)

        def update() -> None:
            total = None if said[1] is None else 1.0
            bar.update(task, description=said[0], completed=said[1] or 0.0, total=total)

        nonlocal show
        with lock:
            if not over:
                update()
                bar.start()
                bars.append(bar)
                show = update

    timer = threading.Timer(_AFTER_S, start)
    timer.daemon = True
    timer.start()
    try:
        yield tell
    finally:
        timer.cancel()
        with lock:
            over = True
            for bar in bars:
                bar.stop()
