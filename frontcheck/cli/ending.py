"""How a command ends where it does not end by itself: stopped, cut off, or by a fault of ours."""

from __future__ import annotations

import errno
import os
import signal
import sys
import threading
import time
from contextlib import contextmanager, suppress
from typing import TYPE_CHECKING, Any, Final, NoReturn

import click

from frontcheck.cli.common import UNUSABLE
from frontcheck.errors import escaped

if TYPE_CHECKING:
    from collections.abc import Iterator

FAULT: Final = 70
"""Internal software error: EX_SOFTWARE of BSD's sysexits.h (from memory)."""
STOPS: Final = tuple(
    getattr(signal, name) for name in ("SIGINT", "SIGTERM", "SIGHUP") if hasattr(signal, name)
)
"""How a person, the system or a terminal that closes stops a command. It ends with 128 and the
number of the signal, as shells have it (from memory)."""
_PATIENCE_S: Final = 1.2
"""So long after a stop things are cleared away and said; whoever stops waits two seconds."""
_said: Final = threading.Event()
"""That a command was stopped is said once, by whoever comes first."""
_REPORT: Final = (
    "please report it with the command, and the file if you may share it; --debug before the "
    "command shows where"
)


class StoppedError(KeyboardInterrupt):
    """A stop, with the number of its signal; what is saved is a note of it."""

    def __init__(self, number: int) -> None:
        super().__init__()
        self.number = number


@contextmanager
def stoppable() -> Iterator[None]:
    """Let a stop clear away and end the command, at once or within moments."""
    if os.name != "posix" or threading.current_thread() is not threading.main_thread():
        yield
        return
    usual = (signal.SIG_DFL, signal.default_int_handler)
    handlers = {each: signal.getsignal(each) for each in STOPS}
    caught = [each for each, handler in handlers.items() if handler in usual]  # or else as told
    raised, main = threading.Event(), threading.get_ident()
    hooks = sys.unraisablehook, sys.excepthook

    def stop(number: int, _: object) -> None:
        if not raised.is_set():  # once: what clears away is not stopped
            raised.set()
            raise StoppedError(number)

    # What is raised in a callback is dropped, and its trace printed: then it is raised once more.
    def lost(what: sys.UnraisableHookArgs) -> None:
        if isinstance(what.exc_value, StoppedError):
            raised.clear()
        else:
            hooks[0](what)

    def traced(kind: type[BaseException], *what: Any) -> None:
        if not issubclass(kind, StoppedError):
            hooks[1](kind, *what)

    # Libraries swallow what is raised, or return late: so another thread waits as well.
    def watch() -> None:
        while told := os.read(reader, 1):
            if told[0] in caught:
                end = time.monotonic() + _PATIENCE_S
                while time.monotonic() < end:
                    time.sleep(0.05)
                    if not raised.is_set():
                        signal.pthread_kill(main, told[0])
                _say_stopped()
                os._exit(128 + told[0])
        os.close(reader)

    _said.clear()
    reader, writer = os.pipe()
    os.set_blocking(writer, False)
    before = signal.set_wakeup_fd(writer, warn_on_full_buffer=False)
    sys.unraisablehook, sys.excepthook = lost, traced
    threading.Thread(target=watch, daemon=True).start()
    for each in caught:
        signal.signal(each, stop)
    try:
        yield
    finally:
        if not raised.is_set():
            for each in caught:
                signal.signal(each, handlers[each])
            sys.unraisablehook, sys.excepthook = hooks
        signal.set_wakeup_fd(before)
        os.close(writer)


@contextmanager
def ended_well(*, debug: bool) -> Iterator[None]:
    """Turn whatever ends a command unexpectedly into plain words and an exit code."""
    try:
        try:
            yield
        finally:
            sys.stdout.flush()  # what cannot be written is found here and not when all is over
    except click.ClickException as error:
        error.message = escaped(error.message, "\n")  # type: ignore[misc]
        raise
    except (click.exceptions.Exit, click.Abort, SystemExit):
        raise
    except KeyboardInterrupt as stop:
        _say_stopped(*getattr(stop, "__notes__", ()))
        _leave(128 + getattr(stop, "number", signal.SIGINT))
    except BrokenPipeError:
        _leave(0)  # whoever reads has enough
    except OSError as error:
        if error.errno not in (errno.ENOSPC, errno.EDQUOT, errno.EFBIG, errno.EIO):
            _fault(error, debug=debug)
        _say(f"cannot be written ({error.strerror}); make room, or name another place")
        _leave(UNUSABLE)
    except Exception as error:  # noqa: BLE001, a traceback is for us and not for a user
        _fault(error, debug=debug)


def _say_stopped(what: str = "outputs stand as they were") -> None:
    if not _said.is_set():
        _said.set()
        _say(f"stopped; {what}")


def _fault(error: Exception, *, debug: bool) -> NoReturn:
    from frontcheck.errors import FrontcheckError

    if not isinstance(error, FrontcheckError):
        fault_said(f"{type(error).__name__}: {error}", error, debug=debug)
        _leave(FAULT)
    if debug:
        _say_trace(error)
    _say(str(error))
    _leave(UNUSABLE)


def fault_said(words: str, error: BaseException | None, *, debug: bool) -> None:
    """Say a fault of ours and what to report."""
    from frontcheck import __version__

    if debug and error is not None:
        _say_trace(error)
    _say(f"a fault of frontcheck {__version__} ({' '.join(words.split())[:200]})")
    _say(_REPORT)


def _say_trace(error: BaseException) -> None:
    import traceback

    _say("".join(traceback.format_exception(error)))


def _say(text: str) -> None:
    with suppress(OSError, ValueError):
        click.echo("frontcheck: " + escaped(text, "\n"), err=True)


def _leave(code: int) -> NoReturn:
    """End with a code; what can no longer be printed is let go."""
    with suppress(OSError, ValueError, AttributeError):
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
    sys.exit(code)
