"""What a terminal can show: asked of the environment, and proved on a pseudo-terminal."""

from __future__ import annotations

import os
import pty
import re
import select
import subprocess
import sys
import time

import pytest

from monitor.dashboard.terminal import Colours, colours, why_no_screen

CHILD = """
from monitor.dashboard.app import run_dashboard
from tests.monitor.dashboard import snapshots
class Still:
    def snapshot(self):
        return snapshots.troubled()
run_dashboard(Still())
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


def styles_on_a_terminal(**environ: str) -> set[str]:
    """Run the dashboard on a pseudo-terminal until it has drawn; give the style codes it sent."""
    ours, theirs = pty.openpty()
    clean = {key: value for key, value in os.environ.items() if key not in {"NO_COLOR", "COLORTERM"}}
    child = subprocess.Popen(
        [sys.executable, "-c", CHILD], stdin=theirs, stdout=theirs, stderr=theirs, env={**clean, **environ}
    )
    os.close(theirs)
    sent, end = b"", time.monotonic() + 30
    while b"quit" not in sent and time.monotonic() < end:
        if select.select([ours], [], [], 0.2)[0]:
            sent += os.read(ours, 65536)
    child.terminate()
    child.wait()
    os.close(ours)
    assert b"quit" in sent
    return {code for codes in re.findall(rb"\x1b\[([\d;]*)m", sent) for code in codes.decode().split(";")}


def test_no_color_sends_no_colour() -> None:
    """With NO_COLOR only attributes and the terminal's own colours (39, 49) are sent (ECMA-48, SGR)."""
    assert styles_on_a_terminal(TERM="xterm-256color", NO_COLOR="1") <= {"0", "1", "2", "4", "7", "39", "49", ""}


def test_sixteen_colours_stay_sixteen() -> None:
    """A terminal of sixteen colours gets no 256-colour or direct-colour code (38, 48)."""
    sent = styles_on_a_terminal(TERM="linux")
    assert not {"38", "48"} & sent
    assert {"31", "33"} & sent
