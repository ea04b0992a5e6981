"""A seat at the dashboard for tests: a feed and a desk of the tests' own, and what is drawn."""

from __future__ import annotations

from typing import TYPE_CHECKING

from textual.events import Paste
from textual.widgets import Input

from monitor.dashboard.keys import Keys
from monitor.dashboard.panel import Panel
from monitor.dashboard.screens import PowerScreen

if TYPE_CHECKING:
    from textual.app import App
    from textual.pilot import Pilot

    from monitor.engine.requests import Request
    from monitor.engine.snapshot import Snapshot


class Feed:
    """A feed whose Snapshot is set by hand."""

    def __init__(self, now: Snapshot) -> None:
        self.now = now

    def snapshot(self) -> Snapshot:
        """Give what was set."""
        return self.now


class Desk:
    """A desk that keeps what is asked, or refuses it as a full disk or a folder without rights does."""

    def __init__(self, problem: OSError | None = None) -> None:
        self.asked: list[Request] = []
        self.problem = problem

    def ask(self, request: Request) -> None:
        """Keep a request."""
        if self.problem is not None:
            raise self.problem
        self.asked.append(request)


def drawn(app: App[None], panel: str = "body") -> list[str]:
    """Give the lines of one panel of the screen in front."""
    widget = app.screen.query_one(f"#{panel}", Panel)
    return [widget.render_line(y).text for y in range(widget.size.height)]


def said(app: App[None]) -> str:
    """Give the sentence or question above the keys."""
    assert isinstance(app.screen, PowerScreen)
    foot = app.screen.foot
    return str(foot.query_one("#said").render()) if foot.display else ""


def shown_keys(app: App[None]) -> list[str]:
    """Give the keys that the screen in front shows."""
    return [hint.shown for hint in app.screen.query_one(Keys).hints]


async def click_key(pilot: Pilot[None], shown: str) -> None:
    """Click one of the keys shown."""
    keys = pilot.app.screen.query_one(Keys)
    places = ((x, y) for y in range(keys.size.height) for x in range(keys.size.width))
    place = next(at for at in places if (hint := keys.hint_at(*at)) is not None and hint[0].shown == shown)
    await pilot.click(keys, offset=place)
    await pilot.pause()


async def type_line(pilot: Pilot[None], text: str) -> None:
    """Put a line in, as a terminal pastes it, and accept it."""
    await pilot.pause()
    entry = pilot.app.screen.focused
    assert isinstance(entry, Input)
    entry.post_message(Paste(text))
    await pilot.press("enter")
    await pilot.pause()
