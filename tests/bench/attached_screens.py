"""What ten attached screens cost the logger: ``python tests/bench/attached_screens.py``; nothing here is asserted.

A logger polls the demo's virtual meters. Its processor time is taken for a while alone, then with ten dashboards open
on its log, each on a pseudo-terminal of its own, then alone again: what the screens cost is told beside how much the
two times alone differ.
"""

from __future__ import annotations

import fcntl
import os
import pty
import select
import signal
import struct
import subprocess
import sys
import tempfile
import termios
import time
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parents[2]))

from monitor.demo.stage import Stage

SCREENS, MEASURED_S, SETTLE_S = 10, 20, 6
LEGWATCH = (sys.executable, "-m", "monitor.cli.main")


def main() -> None:
    """Print the costs."""
    with tempfile.TemporaryDirectory() as folder, Stage() as stage:
        log = Path(folder) / "bench.sqlite"
        logger = subprocess.Popen(
            [*LEGWATCH, "log", str(stage.show_path), "--log", str(log)], stdout=subprocess.DEVNULL
        )
        time.sleep(SETTLE_S)
        before = _percent(logger.pid, ())
        screens = [_screen(log) for _ in range(SCREENS)]
        _drain(SETTLE_S * 2, screens)
        watched = _percent(logger.pid, screens)
        for child, _ in screens:
            child.terminate()
        _drain(SETTLE_S, screens)
        after = _percent(logger.pid, ())
        logger.send_signal(signal.SIGINT)
        logger.wait()
    alone = (before + after) / 2
    print(f"logger alone                 {before:5.2f} % of a core, later {after:5.2f} %")
    print(f"with {SCREENS} attached screens     {watched:5.2f} %")
    noise = abs(after - before)
    print(
        f"the screens cost it          {watched - alone:+5.2f} %   limit: nothing beyond the noise, here {noise:.2f} %"
    )


def _screen(log: Path) -> tuple[subprocess.Popen[bytes], int]:
    ours, theirs = pty.openpty()
    fcntl.ioctl(theirs, termios.TIOCSWINSZ, struct.pack("HHHH", 24, 80, 0, 0))
    environ = {**os.environ, "TERM": "xterm-256color"}
    child = subprocess.Popen([*LEGWATCH, "watch", str(log)], stdin=theirs, stdout=theirs, stderr=theirs, env=environ)
    os.close(theirs)
    return child, ours


def _percent(pid: int, screens: list[tuple[subprocess.Popen[bytes], int]] | tuple[()]) -> float:
    began_s, began = _used_s(pid), time.monotonic()
    _drain(MEASURED_S, screens)
    return 100 * (_used_s(pid) - began_s) / (time.monotonic() - began)


def _used_s(pid: int) -> float:
    fields = Path(f"/proc/{pid}/stat").read_text().rpartition(")")[2].split()
    return (int(fields[11]) + int(fields[12])) / os.sysconf("SC_CLK_TCK")


def _drain(seconds: float, screens: list[tuple[subprocess.Popen[bytes], int]] | tuple[()]) -> None:
    """Take what the screens draw, as a terminal does."""
    ends = time.monotonic() + seconds
    while (left := ends - time.monotonic()) > 0:
        for ours in select.select([ours for _, ours in screens], [], [], min(left, 0.2))[0]:
            try:
                os.read(ours, 65536)
            except OSError:  # its screen has ended
                time.sleep(0.02)


if __name__ == "__main__":
    main()
