"""The systemd unit of a logger, as text. Settings: systemd.service(5), systemd.exec(5), systemd.resource-control(5)."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from pathlib import Path

WATCHDOG_S = 30  # without a cycle, of one a second, the manager starts it again (a judgement)


@dataclass(frozen=True, slots=True)
class Unit:
    """What the unit is made from.

    Attributes:
        program: of legwatch.
        show: the show file.
        log: the log.
        user: who it runs as; the group has the same name.

    """

    program: Path
    show: Path
    log: Path
    user: str

    def text(self) -> str:
        """Give the unit file."""
        words = " ".join(_word(str(part)) for part in (self.program, "log", self.show, "--log", self.log))
        return f"""\
[Unit]
Description=legwatch logger for {_plain(self.show.name)}
After=network.target time-set.target
StartLimitIntervalSec=0

[Service]
Type=notify
NotifyAccess=main
ExecStart={words}
WatchdogSec={WATCHDOG_S}
Restart=always
RestartSec=3
RestartPreventExitStatus=2
TimeoutStopSec=30
User={self.user}
Group={self.user}
SupplementaryGroups=dialout
UMask=0007
ReadWritePaths={_word(str(self.log.parent))}

NoNewPrivileges=yes
CapabilityBoundingSet=
AmbientCapabilities=
ProtectSystem=strict
ProtectHome=read-only
PrivateTmp=yes
DevicePolicy=closed
DeviceAllow=char-ttyUSB rw
DeviceAllow=char-ttyACM rw
DeviceAllow=char-ttyS rw
DeviceAllow=char-ttyAMA rw
ProtectHostname=yes
ProtectKernelLogs=yes
ProtectKernelModules=yes
ProtectKernelTunables=yes
ProtectControlGroups=yes
ProtectProc=invisible
RestrictAddressFamilies=AF_UNIX AF_INET AF_INET6
RestrictNamespaces=yes
RestrictRealtime=yes
RestrictSUIDSGID=yes
LockPersonality=yes
MemoryDenyWriteExecute=yes
SystemCallArchitectures=native
SystemCallFilter=@system-service
SystemCallFilter=~@privileged @resources

[Install]
WantedBy=multi-user.target
"""


def _word(text: str) -> str:
    """Write one word of a command line (systemd.syntax(7)): quoted, with its own marks doubled."""
    doubled = text.replace("\\", "\\\\").replace('"', '\\"').replace("%", "%%").replace("$", "$$")
    return f'"{doubled}"' if doubled != text or any(c in text for c in " \t';") else text


def _plain(text: str) -> str:
    return text.replace("%", "%%").replace("\n", " ")
