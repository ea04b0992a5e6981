"""What ``legwatch doctor`` looks at, one function a subject; each finding says what to do."""

from __future__ import annotations

import getpass
import grp
import os
import platform
import shutil
import subprocess
import sys
from dataclasses import dataclass
from importlib import metadata
from pathlib import Path
from typing import TYPE_CHECKING

from drivers.clock import now
from drivers.probe.ports import serial_ports
from monitor.log.engine_facts import known_faults, sqlite_version
from monitor.log.problems import LogProblem
from monitor.log.reader import LogReader

if TYPE_CHECKING:
    from collections.abc import Iterator

_LIBRARIES = ("pyserial", "minimalmodbus", "pymodbus", "textual", "sqlite-utils")
_LEAST_HOURS = 24.0  # of disk left: less than a day's shoot and its night is wrong (a judgement)
_LEAST_FREE = 200e6  # bytes, over a day at 48 circuits and 6 MB an hour
_SERIAL_GROUP = "dialout"
_FRESH_S = 5.0  # since the last commit, of one a second
_TELLS_MS = 10 * 60_000  # ms; a shorter log doesn't tell how fast it grows
_OLD_CLOCK_MS = 1_735_689_600_000  # 2025-01-01: a clock before this has not been set


@dataclass(frozen=True, slots=True)
class Found:
    """One finding.

    Attributes:
        what: the subject.
        state: ``good``, ``look`` (may trouble you) or ``wrong``.
        text: what was found.
        do: what to do, or empty.

    """

    what: str
    state: str
    text: str
    do: str = ""


def look_around(log: Path | None) -> Iterator[Found]:
    """Look at everything, and at a log where one is named."""
    yield from _versions()
    yield from _ports()
    yield from clock()
    if log is None:
        yield _space(Path.cwd(), None)
    else:
        yield from _log(log)


def _versions() -> Iterator[Found]:
    libraries = ", ".join(f"{name} {_version(name)}" for name in _LIBRARIES)
    yield Found("legwatch", "good", f"{_version('legwatch')}, Python {platform.python_version()} at {sys.prefix}")
    yield Found("system", "good", f"{platform.system()} {platform.release()} on {platform.machine()}")
    yield Found("libraries", "good", libraries)
    faults = known_faults()
    yield Found("SQLite", "look" if faults else "good", f"{sqlite_version()}{''.join(f': {text}' for text in faults)}")


def _version(name: str) -> str:
    try:
        return metadata.version(name)
    except metadata.PackageNotFoundError:
        return "not installed"


def _ports() -> Iterator[Found]:
    ports = serial_ports()
    if not ports:
        yield Found("serial ports", "look", "none found", "plug the adapter in; meters on the network need none")
    for port in ports:
        name = port.by_id or port.by_path or port.device
        if port.usable:
            yield Found("serial port", "good", f"{name}{f', {port.about}' if port.about else ''}")
        else:
            yield Found(
                "serial port", "wrong", f"{name} may not be opened by {getpass.getuser()}", _join_group(port.device)
            )


def _join_group(device: str) -> str:
    try:
        group = grp.getgrgid(Path(device).stat().st_gid).gr_name
    except (OSError, KeyError):
        group = _SERIAL_GROUP
    return f"sudo usermod -a -G {group} {getpass.getuser()}, then log out and in again"


def clock() -> Iterator[Found]:
    """Look whether the computer's clock is set and kept."""
    if now().wall_ms < _OLD_CLOCK_MS:
        yield Found("clock", "wrong", "the computer's clock has not been set", "set it before logging: date -s ...")
        return
    answer = _timedatectl()
    if answer is None:
        yield Found("clock", "look", "can't tell whether a time server keeps it", "compare it with another clock")
    elif answer == "yes":
        yield Found("clock", "good", "kept by a time server")
    else:
        text = "no time server keeps it: times in the log are as good as this clock"
        yield Found("clock", "look", text, "compare it with another clock before the shoot")


def _timedatectl() -> str | None:
    """Ask the system whether its clock is kept; None where it can't tell."""
    program = shutil.which("timedatectl")
    if program is None:
        return None
    words = [program, "show", "--property=NTPSynchronized", "--value"]
    try:
        done = subprocess.run(words, capture_output=True, text=True, timeout=5, check=False)  # noqa: S603 - no shell
    except (OSError, subprocess.TimeoutExpired):
        return None
    return done.stdout.strip() if done.returncode == 0 else None


def _log(log: Path) -> Iterator[Found]:
    try:
        with LogReader(log) as reader:
            state = reader.writer_state()
            span_ms = (reader.last_time_ms() or 0) - (reader.first_time_ms() or 0)
    except LogProblem as problem:
        yield Found("log", "wrong", str(problem), f"legwatch repair {log} NEW" if problem.kind == "corrupt" else "")
        yield _space(log.parent, None)
        return
    age_s = (now().wall_ms + state.offset_ms - state.alive_ms) / 1000
    if state.running and age_s < _FRESH_S:
        yield Found("log", "good", f"{log}: written by process {state.pid} on {state.host}, {age_s:.0f} s ago")
    else:
        text = f"{log}: its logger {'gave no sign for ' + _long(age_s) if state.running else 'ended in order'}"
        yield Found("log", "look", text, "start it: legwatch log SHOW")
    yield from _rights(log)
    yield _space(log.parent, _bytes_an_hour(log, span_ms))


def _rights(log: Path) -> Iterator[Found]:
    if log.stat().st_mode & 0o002:
        yield Found("log's rights", "wrong", f"{log} can be written by anybody", f"chmod o-w {log}")
    elif not os.access(log, os.W_OK):
        yield Found("log's rights", "look", f"{log} can be read but not written by {getpass.getuser()}")


def _bytes_an_hour(log: Path, span_ms: int) -> float | None:
    """Give at what rate the log has grown so far [bytes/h]; None where it is too short to tell."""
    return log.stat().st_size / (span_ms / 3.6e6) if span_ms > _TELLS_MS else None


def _space(folder: Path, rate: float | None) -> Found:
    try:
        free = shutil.disk_usage(folder).free
    except OSError as error:
        return Found("disk", "wrong", f"{folder}: {error.strerror}", "name a folder that is there")
    if rate is None:
        state = "good" if free > _LEAST_FREE else "look"
        return Found(
            "disk", state, f"{free / 1e9:.1f} GB free at {folder}; a set of 48 circuits takes about 6 MB an hour"
        )
    hours = free / rate
    text = f"{free / 1e9:.1f} GB free at {folder}: about {_long(3600 * hours)} at {rate / 1e6:.1f} MB an hour"
    return Found(
        "disk", "good" if hours > _LEAST_HOURS else "wrong", text, "" if hours > _LEAST_HOURS else "free some space"
    )


def _long(seconds: float) -> str:
    """Say a time in its plainest unit."""
    for size, unit in ((86400, "days"), (3600, "h"), (60, "min")):
        if seconds >= 2 * size:
            return f"{seconds / size:.0f} {unit}"
    return f"{seconds:.0f} s"
