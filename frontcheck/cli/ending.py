"""How a command ends where it does not end by itself: stopped, cut off, or by a fault of ours."""

from __future__ import annotations

import errno
import os
import sys
from contextlib import contextmanager, suppress
from typing import TYPE_CHECKING, Final, NoReturn

import click

from frontcheck.cli.common import UNUSABLE

if TYPE_CHECKING:
    from collections.abc import Iterator

FAULT: Final = 70
"""Internal software error: EX_SOFTWARE of BSD's sysexits.h (from memory)."""
STOPPED: Final = 130
"""Stopped from the keyboard: 128 and the number of the signal, as shells have it (from memory)."""
_REPORT: Final = (
    "please report it with the command, and the file if you may share it; --debug before the "
    "command shows where"
)


@contextmanager
def ended_well(*, debug: bool) -> Iterator[None]:
    """Turn whatever ends a command unexpectedly into plain words and an exit code."""
    try:
        try:
            yield
        finally:
            sys.stdout.flush()  # what cannot be written is found here and not when all is over
    except (click.ClickException, click.exceptions.Exit, click.Abort, SystemExit):
        raise
    except KeyboardInterrupt:
        _say("stopped; outputs stand as they were, and a sweep goes on where it was")
        _leave(STOPPED)
    except BrokenPipeError:
        _leave(0)  # whoever reads has enough
    except OSError as error:
        if error.errno not in (errno.ENOSPC, errno.EDQUOT, errno.EFBIG, errno.EIO):
            _fault(error, debug=debug)
        _say(f"cannot be written ({error.strerror}); make room, or name another place")
        _leave(UNUSABLE)
    except Exception as error:  # noqa: BLE001, a traceback is for us and not for a user
        _fault(error, debug=debug)


def _fault(error: Exception, *, debug: bool) -> NoReturn:
    from frontcheck import __version__
    from frontcheck.errors import FrontcheckError

    if debug:
        import traceback

        _say("".join(traceback.format_exception(error)))
    if isinstance(error, FrontcheckError):
        _say(str(error))
        _leave(UNUSABLE)
    words = " ".join(f"{type(error).__name__}: {error}".split())[:200]
    _say(f"a fault of frontcheck {__version__} ({words})")
    _say(_REPORT)
    _leave(FAULT)


def _say(text: str) -> None:
    with suppress(OSError, ValueError):
        click.echo(f"frontcheck: {text}", err=True)


def _leave(code: int) -> NoReturn:
    """End with a code; what can no longer be printed is let go."""
    with suppress(OSError, ValueError, AttributeError):
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
    sys.exit(code)
