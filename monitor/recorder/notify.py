"""Signs of life for the service manager: systemd's notify protocol (sd_notify(3), a datagram to ``NOTIFY_SOCKET``).

The watchdog is fed by committed cycles only: a logger that runs but can't write is started again by its manager only
if it stands still, so cycles whose readings wait in memory count too, and say so.
"""

from __future__ import annotations

import contextlib
import os
import socket


class ServiceManager:
    """Who started this process and waits for its signs of life; nobody where it was started by hand.

    Args:
        address: of the manager's socket; an ``@`` stands for the abstract namespace; empty: nobody waits.

    """

    def __init__(self, address: str) -> None:
        self._address = "\0" + address[1:] if address.startswith("@") else address
        self._ready = False

    @classmethod
    def of_environment(cls) -> ServiceManager:
        """Find the manager, and keep it from child processes."""
        return cls(os.environ.pop("NOTIFY_SOCKET", ""))

    def cycle(self, problem: str) -> None:
        """Tell of one finished cycle.

        Args:
            problem: why its readings wait in memory, or empty where they are committed.

        """
        if problem:
            if self._ready:
                self._tell(f"STATUS=not written: {problem}"[:400], "WATCHDOG=1")
            return
        self._tell(*(() if self._ready else ("READY=1",)), "STATUS=logging", "WATCHDOG=1")
        self._ready = True

    def stopping(self) -> None:
        """Tell that the end has begun."""
        self._tell("STOPPING=1")

    def _tell(self, *lines: str) -> None:
        if not self._address:
            return
        with contextlib.suppress(OSError), socket.socket(socket.AF_UNIX, socket.SOCK_DGRAM) as door:
            door.sendto("\n".join(lines).encode(), self._address)
