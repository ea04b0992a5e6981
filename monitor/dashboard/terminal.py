"""What a terminal can show, asked before the screen starts. Loads no Textual."""

from __future__ import annotations

import os
import sys
from enum import StrEnum
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Mapping

_NO_SCREEN = frozenset({"", "dumb", "unknown"})


class Colours(StrEnum):
    """How many colours a terminal is given."""

    FULL = "full"
    SIXTEEN = "sixteen"
    NONE = "none"


def colours(environ: Mapping[str, str]) -> Colours:
    """Say how many colours to use: none where NO_COLOR is set (no-color.org), else what the terminal announces."""
    if environ.get("NO_COLOR"):
        return Colours.NONE
    direct = environ.get("COLORTERM", "").lower() in {"truecolor", "24bit"}
    many = "256color" in environ.get("TERM", "") or "direct" in environ.get("TERM", "")
    return Colours.FULL if direct or many else Colours.SIXTEEN


def why_no_screen(environ: Mapping[str, str], *, is_terminal: bool) -> str:
    """Say in one sentence why the screen can't be shown here; empty where it can. The command says what to use instead.

    Args:
        environ: of the process.
        is_terminal: whether standard input, output and error (Textual draws on the last) are all terminals.

    """
    if not is_terminal:
        return "There is no terminal to draw on."
    if environ.get("TERM", "") in _NO_SCREEN:
        kind = environ.get("TERM") or "not set"
        return f"This terminal can't show the dashboard (TERM is {kind})."
    return ""


def why_no_screen_here() -> str:
    """Ask ``why_no_screen`` of this process."""
    streams = (sys.stdin, sys.stdout, sys.stderr)
    return why_no_screen(os.environ, is_terminal=all(stream is not None and stream.isatty() for stream in streams))
