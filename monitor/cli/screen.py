"""Opening the dashboard, or saying politely why not. Textual is loaded here and nowhere else in the commands."""

from __future__ import annotations

from typing import TYPE_CHECKING

from monitor.cli.errors import fail
from monitor.recorder.history import LogHistory

if TYPE_CHECKING:
    from monitor.recorder.attached import AttachedFeed
    from monitor.recorder.recorder import Recorder

    LoggedFeed = Recorder | AttachedFeed


def refuse_poor_terminal(instead: str) -> None:
    """Leave with a message that offers ``instead`` where this terminal can't show a screen."""
    from monitor.dashboard.terminal import why_no_screen_here  # noqa: PLC0415 - only for screens

    reason = why_no_screen_here()
    if reason:
        fail(f"legwatch: {reason} Use: {instead}")


def open_dashboard(feed: LoggedFeed, quitting: str = "quit") -> None:
    """Run the dashboard until it is closed; ``quitting`` says on screen what closing it does."""
    from monitor.dashboard.app import run_dashboard  # noqa: PLC0415 - loading Textual costs time and memory

    history = LogHistory(feed.log_path, feed.show, feed)
    run_dashboard(feed, feed, history=history, quitting=quitting)
