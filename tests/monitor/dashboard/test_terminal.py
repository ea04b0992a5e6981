"""What a terminal can show: asked of the environment, and proved on a pseudo-terminal."""

from __future__ import annotations

import fcntl
import os
import pty
import re
import select
import struct
import subprocess
import sys
import termios
import time

import pytest

from monitor.dashboard.terminal import Colours, colours, why_no_screen

CHILD = """
from dataclasses import replace
from itertools import count
from monitor.dashboard.app import run_dashboard
from tests.monitor.dashboard import snapshots
from tests.monitor.dashboard.seat import Desk
class Still:
    calls = count()
    def snapshot(self):
        shown = snapshots.alarmed()
        return replace(shown, alarms=shown.alarms[1:]) if next(self.calls) == 0 else shown
run_dashboard(Still(), Desk())
"""


@pytest.mark.parametrize(
    ("environ", "expected"),
    [
        ({"TERM": "xterm-256color"}, Colours.FULL),
        ({"TERM": "xterm", "COLORTERM": "truecolor"}, Colours.FULL),
        ({"TERM": "linux"}, Colours.SIXTEEN),
        ({"TERM": "screen"}, Colours.SIXTEEN),
        ({"TERM": "xterm-256color", "NO_COLOR": "1"}, Colours.NONE),
        ({"TERM": "xterm-256color", "NO_COLOR": ""}, Colours.FULL),
    ],
)
def test_colours(environ: dict[str, str], expected: Colours) -> None:
    """The number of colours follows NO_COLOR (no-color.org: set and not empty), then what is announced."""
    assert colours(environ) is expected


def test_simple_terminals_are_refused_with_the_reason() -> None:
    """A terminal that can't show a screen is refused in one sentence, before anything is drawn."""
    assert why_no_screen({"TERM": "dumb"}, is_terminal=True) == (
        "This terminal can't show the dashboard (TERM is dumb)."
    )
    assert "TERM is not set" in why_no_screen({}, is_terminal=True)
    assert why_no_screen({"TERM": "xterm"}, is_terminal=False) == "There is no terminal to draw on."
    assert why_no_screen({"TERM": "linux"}, is_terminal=True) == ""


COMMAND = re.compile(
    rb"\x1b\][^\a\x1b]*(\a|\x1b\\)"
)  # an operating system command: BEL may end one, and rings nothing then


def sent_to_a_terminal(until: bytes, keys: dict[bytes, bytes] | None = None, **environ: str) -> bytes:
    """Run the dashboard on a pseudo-terminal until it has sent something; give all that it sent.

    Args:
        until: ends the run.
        keys: what to type once something was sent.
        environ: over this process's own.

    """
    ours, theirs = pty.openpty()
    fcntl.ioctl(theirs, termios.TIOCSWINSZ, struct.pack("HHHH", 24, 80, 0, 0))
    clean = {key: value for key, value in os.environ.items() if key not in {"NO_COLOR", "COLORTERM"}}
    child = subprocess.Popen(
        [sys.executable, "-c", CHILD], stdin=theirs, stdout=theirs, stderr=theirs, env={**clean, **environ}
    )
    os.close(theirs)
    sent, end, waiting = b"", time.monotonic() + 30, dict(keys or {})
    while until not in COMMAND.sub(b"", sent) and time.monotonic() < end:
        if select.select([ours], [], [], 0.2)[0]:
            sent += os.read(ours, 65536)
        for seen in [seen for seen in waiting if seen in sent]:
            os.write(ours, waiting.pop(seen))
    child.terminate()
    child.wait()
    os.close(ours)
    assert until in COMMAND.sub(b"", sent)
    return sent


def styles(sent: bytes) -> set[str]:
    """Give the style codes in what was sent."""
    return {code for codes in re.findall(rb"\x1b\[([\d;]*)m", sent) for code in codes.decode().split(";")}


ASKED = {b"quit": b"a", b"acknowledge": b"k"}  # once the circuits are there, and then the alarms


def test_no_color_sends_no_colour() -> None:
    """With NO_COLOR only attributes and the terminal's own colours (39, 49) are sent (ECMA-48, SGR)."""
    sent = sent_to_a_terminal(b"Your", ASKED, TERM="xterm-256color", NO_COLOR="1")
    assert styles(sent) <= {"0", "1", "2", "4", "7", "39", "49", ""}


def test_sixteen_colours_stay_sixteen() -> None:
    """A terminal of sixteen colours gets no 256-colour or direct-colour code (38, 48), in questions neither."""
    sent = styles(sent_to_a_terminal(b"Your", ASKED, TERM="linux"))
    assert not {"38", "48"} & sent
    assert {"31", "33"} & sent


def test_the_bell_reaches_the_terminal() -> None:
    """A new urgent alarm sends the bell's character (BEL, ECMA-48)."""
    sent = sent_to_a_terminal(b"\a", TERM="xterm-256color")
    assert COMMAND.sub(b"", sent).count(b"\a") == 1
