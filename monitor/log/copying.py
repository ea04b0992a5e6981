"""A copy of a log beside its running writer: whole, checked, on the disk before it has its name.

SQLite's backup begins again whenever the writer commits, once a second here, and so never ends; ``VACUUM INTO``
copies what one read transaction sees (https://www.sqlite.org/lang_vacuum.html#vacuum_with_an_into_clause).
"""

from __future__ import annotations

import contextlib
import os
import sqlite3
from dataclasses import dataclass
from pathlib import Path

from monitor.log.problems import LogProblem, of_sqlite, of_system
from monitor.log.reader import LogReader
from monitor.log.schema import refuse_foreign


@dataclass(frozen=True, slots=True)
class Copied:
    """What a copy holds.

    Attributes:
        readings: how many.
        first_ms: time of the first [ms, the log's clock], or None.
        last_ms: of the last.
        size: of the file [bytes].

    """

    readings: int
    first_ms: int | None
    last_ms: int | None
    size: int


def copy_log(log: Path, target: Path) -> Copied:
    """Copy the log at ``log`` to the new file ``target``.

    Raises:
        LogProblem: the log can't be read or is damaged, the target is there already or can't be written; no file of
            the target's name is left then.

    """
    if target.exists() or target.is_symlink():
        raise LogProblem("other", f"{target} is there already: name another file, or move that one away")
    LogReader(log).close()
    refuse_foreign(target)  # tells of a directory that is not there
    draft = Path(f"{target}.draft")
    try:
        draft.unlink(missing_ok=True)
        copied = _copy(log, draft)
        _to_disk(draft, target)
    except OSError as error:
        raise of_system(error, target) from error
    finally:
        with contextlib.suppress(OSError):
            draft.unlink(missing_ok=True)
    return copied


def _copy(log: Path, draft: Path) -> Copied:
    db = sqlite3.connect(f"{log.resolve().as_uri()}?mode=ro", uri=True, isolation_level=None)
    try:
        db.execute("VACUUM INTO ?", (str(draft),))
    except sqlite3.Error as error:
        raise of_sqlite(error, draft if draft.exists() else log) from error
    finally:
        db.close()
    db = sqlite3.connect(f"{draft.resolve().as_uri()}?mode=ro&immutable=1", uri=True)
    try:
        ((found,),) = db.execute("PRAGMA quick_check(1)").fetchall()
        readings, first_ms, last_ms = db.execute("SELECT count(*), min(time_ms), max(time_ms) FROM reading").fetchone()
    except sqlite3.Error as error:
        raise of_sqlite(error, draft) from error
    finally:
        db.close()
    if found != "ok":
        raise LogProblem("corrupt", f"{log} is damaged ({found}): see what `legwatch repair {log}` can read of it")
    return Copied(readings, first_ms, last_ms, draft.stat().st_size)


def _to_disk(draft: Path, target: Path) -> None:
    """Have the disk hold the copy, and only then give it its name; a file of that name made meanwhile stays."""
    with draft.open("rb") as file:
        os.fsync(file.fileno())
    try:
        os.link(draft, target)
    except FileExistsError:
        raise LogProblem("other", f"{target} is there already: name another file, or move that one away") from None
    except OSError:  # a file system without hard links
        draft.rename(target)
    folder = os.open(target.parent, os.O_RDONLY)
    try:
        os.fsync(folder)
    finally:
        os.close(folder)
