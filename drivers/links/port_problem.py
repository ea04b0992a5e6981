"""Why a port or connection can't be opened, in words that say what to do."""

from __future__ import annotations

import errno
import os
from contextlib import suppress
from pathlib import Path

from drivers.errors import PortProblem

_IN_USE = {errno.EAGAIN, errno.EBUSY, errno.EWOULDBLOCK}
_NO_PERMISSION = {errno.EACCES, errno.EPERM}
_MISSING = {errno.ENOENT, errno.ENODEV, errno.ENXIO, errno.EIO, errno.ENOTDIR}


def serial_problem(port: str, number: int | None, told: str) -> PortProblem:
    """Say why serial ``port`` can't be opened.

    Args:
        port: its path.
        number: the operating system's error number, if any.
        told: its own words.

    """
    if number in _MISSING:
        return PortProblem(port, "missing", f"{port} is not there: plug the adapter in, or correct the port's name")
    if number in _IN_USE:
        return PortProblem(port, "in-use", f"{port} is in use by {_holder(port)}: stop that first")
    if number in _NO_PERMISSION:
        return PortProblem(
            port,
            "no-permission",
            f"{port} may not be opened by this user: join the group that owns it (often dialout: "
            "sudo usermod -aG dialout USER), then log in again",
        )
    return PortProblem(port, "other", f"{port} can't be used as a serial port: {told}")


def network_problem(where: str, told: str) -> PortProblem:
    """Say that nothing answers at ``where``."""
    return PortProblem(
        where, "unreachable", f"{where} can't be reached ({told}): check its power, network cable and address"
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
