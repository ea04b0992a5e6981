"""Why a port or connection can't be opened, in words that say what to do."""

from __future__ import annotations

import errno
import grp
import os
import pwd
import stat
from contextlib import suppress
from pathlib import Path
from typing import TYPE_CHECKING

from drivers.errors import PortProblem

if TYPE_CHECKING:
    from drivers.bus.settings import BusSettings

_IN_USE = {errno.EAGAIN, errno.EBUSY, errno.EWOULDBLOCK}
_NO_PERMISSION = {errno.EACCES, errno.EPERM}
_MISSING = {errno.ENOENT, errno.ENODEV, errno.ENOTDIR, errno.ELOOP}
_NOTHING_BEHIND = {errno.ENXIO, errno.EIO}
_NO_PORT = {errno.ENOTTY, errno.EISDIR, errno.EINVAL}
_ADAPTERS = ("serial/by-id/*", "ttyUSB*", "ttyACM*", "ttyAMA*")


def serial_problem(port: str, number: int | None, told: str) -> PortProblem:
    """Say why serial ``port`` can't be opened.

    Args:
        port: its path.
        number: the operating system's error number, if any.
        told: its own words, for what has no number.

    """
    if number in _MISSING or (number in _NOTHING_BEHIND and not Path(port).exists()):
        told = f"{port} is not there: plug the adapter in, or correct the port's name; {ports_here()}"
        return PortProblem(port, "missing", told)
    if number in _NOTHING_BEHIND:
        told = f"{port} has no hardware behind it: plug the adapter in, or correct the port's name; {ports_here()}"
        return PortProblem(port, "missing", told)
    if number in _IN_USE:
        return PortProblem(port, "in-use", f"{port} is in use by {_holder(port)}: stop that first")
    if number in _NO_PERMISSION:
        return PortProblem(port, "no-permission", f"{port} may not be opened by this user: {_who_may(port)}")
    if number in _NO_PORT or Path(port).is_file():
        told = f"{port} is no serial port, but {_kind(port)}: correct the port's name; {ports_here()}"
        return PortProblem(port, "other", told)
    why = told if number is None else os.strerror(number)
    return PortProblem(port, "other", f"{port} can't be used as a serial port ({why}): try another; {ports_here()}")


def ports_here(devices: Path = Path("/dev")) -> str:
    """Name the serial adapters that this computer has now, by the names that survive unplugging where there are any."""
    found = (sorted(map(str, devices.glob(pattern))) for pattern in _ADAPTERS)
    names = next((names for names in found if names), [])
    return f"here now: {', '.join(names)}" if names else "this computer has no serial adapter now"


def _kind(port: str) -> str:
    path = Path(port)
    if path.is_dir():
        return "a directory"
    return "a plain file" if path.is_file() else "another device"


def _who_may(port: str) -> str:
    """Say who may open ``port``, and how this user comes to it."""
    try:
        rights = Path(port).stat()
        group = grp.getgrgid(rights.st_gid).gr_name
    except (OSError, KeyError):
        return "join the group that owns it (often dialout: sudo usermod -aG dialout USER), then log in again"
    if not rights.st_mode & stat.S_IWGRP or rights.st_gid == 0:
        has = f"{stat.filemode(rights.st_mode)}, group {group}"
        return f"its rights are {has}; let a udev rule give it to the group dialout, and join that"
    return f"the group {group} may: sudo usermod -aG {group} {_user()}, then log in again"


def _user() -> str:
    try:
        return pwd.getpwuid(os.geteuid()).pw_name
    except KeyError:
        return "USER"


def network_problem(where: str, told: str) -> PortProblem:
    """Say that nothing answers at ``where``."""
    return PortProblem(
        where, "unreachable", f"{where} can't be reached ({told}): check its power, network cable and address"
    )


def silent_words(unit: int, settings: BusSettings) -> str:
    """Say that a meter did not answer on an open port or connection, and what to look at."""
    if settings.port:
        line = f"{settings.baud} {settings.data_bits}{settings.parity}{settings.stop_bits}"
        look = f"that its unit number is {unit} and its line {line}, and that A and B are not swapped"
    else:
        look = f"that its unit number is {unit}, and its line behind the gateway if there is one"
    return f"unit {unit} on {settings.where} did not answer: check its power, {look}"


def garbled_words(unit: int, count: int, sender: int | None = None) -> str:
    """Say that ``count`` bytes came that are no reply of ``unit``, and what to look at where it goes on.

    Args:
        unit: who was asked.
        count: bytes that came.
        sender: the unit number at the place where a reply has it, if there were enough bytes.

    """
    like = "" if sender in (None, unit) else f", if not unit {sender}'s"
    return (
        f"unit {unit}: {count} bytes came that are no whole reply{like}; where that goes on, look at the line's baud"
        " and parity, at its wires, and for a second meter with this number"
    )


def _holder(port: str) -> str:
    """Name the process that has ``port`` open, as far as this user may see it."""
    device = os.path.realpath(port)
    for process in Path("/proc").glob("[0-9]*"):
        with suppress(OSError):  # processes end, and other users' are closed to us
            if process.name != str(os.getpid()) and any(
                os.path.realpath(opened) == device for opened in (process / "fd").iterdir()
            ):
                return f"process {process.name} ({(process / 'comm').read_text().strip()})"
    return "another program (or another bus of this one)"
