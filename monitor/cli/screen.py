"""Opening the dashboard, or saying politely why not. Textual is loaded here and nowhere else in the commands."""

from __future__ import annotations

from typing import TYPE_CHECKING

from monitor.cli.errors import fail

if TYPE_CHECKING:
    from monitor.engine.feed import Feed
    from monitor.engine.requests import Desk


def refuse_poor_terminal(instead: str) -> None:
    """Leave with a message that offers ``instead`` where this terminal can't show a screen."""
    from monitor.dashboard.terminal import why_no_screen_here  # noqa: PLC0415 - only for screens

    reason = why_no_screen_here()
    if reason:
        fail(f"legwatch: {reason} Use: {instead}")


def open_dashboard(feed: Feed, desk: Desk, quitting: str = "quit") -> None:
    """Run the dashboard until it is closed; ``quitting`` says on screen what closing it does."""
    from monitor.dashboard.app import run_dashboard  # noqa: PLC0415 - loading Textual costs time and memory

    run_dashboard(feed, desk, quitting=quitting)
