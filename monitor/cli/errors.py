"""From errors to one clear message and the right exit code: 0 done, 1 found something wrong, 2 used wrongly."""

from __future__ import annotations

import functools
import os
import sys
import traceback
from typing import TYPE_CHECKING, NoReturn, ParamSpec, TypeVar

import click

from drivers.errors import PortProblem
from drivers.files.faults import FileFaults

if TYPE_CHECKING:
    from collections.abc import Callable

P = ParamSpec("P")
R = TypeVar("R")

SHOW_TRACEBACK = "LEGWATCH_TRACEBACK"
FOUND_WRONG = 1
USED_WRONGLY = 2


def fail(message: str, code: int = USED_WRONGLY) -> NoReturn:
    """Write ``message`` to stderr and leave with ``code``."""
    click.echo(message, err=True)
    sys.exit(code)


def guarded(command: Callable[P, R]) -> Callable[P, R]:
    """Turn the errors that a user can meet into messages; Ctrl-C is a plain end."""

    @functools.wraps(command)
    def run(*args: P.args, **kwargs: P.kwargs) -> R:
        from monitor.log.problems import LogProblem  # noqa: PLC0415 - it loads SQLite, which --help does not need

        try:
            return command(*args, **kwargs)
        except (FileFaults, LogProblem, PortProblem) as error:
            fail(f"legwatch: {error}")
        except BrokenPipeError:
            sys.stderr.close()  # the reader of our output has gone: nobody is left to tell
            sys.exit(0)
        except OSError as error:  # readers and writers of files tell their own; what is left is where we print to
            os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())  # what is still held can't be written either
            fail(f"legwatch: can't go on: {error.strerror or error}; look at the disk, or print to another place")
        except KeyboardInterrupt:
            sys.exit(0)
        except (click.ClickException, click.Abort, click.exceptions.Exit):
            raise
        except Exception as error:
            if os.environ.get(SHOW_TRACEBACK):
                raise
            fail(f"legwatch: can't go on: {_unforeseen(error)}")

    return run


def _unforeseen(error: Exception) -> str:
    """Say what nobody foresaw: content that no legwatch writes, in a log whose pages are sound, or a fault of ours."""
    place = traceback.extract_tb(error.__traceback__)[-1]
    what = f"{type(error).__name__}: {error}"[:200].replace("\n", " ")
    return (
        f"{what} ({place.filename.rpartition('/')[2]}, line {place.lineno}).\n"
        "Where a log is read, it may hold what no legwatch writes: carry over the rest with `legwatch repair LOG NEW`. "
        f"Else it is a fault of this program: please report it ({SHOW_TRACEBACK}=1 shows more)."
    )
