"""Somebody who sits at the screen of setup and answers by keys."""

from __future__ import annotations

import asyncio
from contextlib import asynccontextmanager
from typing import TYPE_CHECKING

from textual.widgets import Static

from monitor.cli.setup_command import converse
from monitor.dashboard.setup.app import SetupApp
from monitor.dashboard.setup.widgets import Choices, Entry
from monitor.dashboard.terminal import Colours

if TYPE_CHECKING:
    from collections.abc import AsyncIterator, Callable
    from pathlib import Path

    from textual.pilot import Pilot

WITHIN_S = 20.0


class Sitter:
    """Types answers, each once its question stands.

    Args:
        pilot: presses the keys.
        app: the screen.
        by_keys: type each answer key by key, not as pasted.

    """

    def __init__(self, pilot: Pilot[None], app: SetupApp, *, by_keys: bool) -> None:
        self.pilot, self.app = pilot, app
        self._by_keys = by_keys

    def shown(self, part: str) -> str:
        """Give the text of a part of the screen."""
        return str(self.app.query_one(f"#{part}", Static).render())

    async def until(self, true: Callable[[], bool]) -> None:
        """Wait for something, with a bound."""
        for _ in range(int(WITHIN_S / 0.02)):
            if true():
                return
            await self.pilot.pause(0.02)
        raise AssertionError(f"not within {WITHIN_S:g} s; the screen shows:\n{self.all()}")

    async def asked(self, words: str) -> None:
        """Wait for a question."""
        await self.until(lambda: self.app.asked is not None and words in self.app.asked.words)

    async def press(self, words: str, *keys: str) -> None:
        """Press keys once a question stands, and wait until it stands no longer."""
        await self.asked(words)
        before = self.app.asked
        await self.pilot.press(*keys)
        await self.until(lambda: self.app.asked is not before)

    async def type(self, words: str, answer: str) -> None:
        """Type an answer and Enter once a question stands."""
        if self._by_keys:
            await self.press(words, *(_KEYS.get(char, char) for char in answer), "enter")
            return
        await self.asked(words)
        self.app.query_one(Entry).value = answer
        await self.press(words, "enter")

    async def choose(self, words: str, choice: str) -> None:
        """Choose what begins so with the arrow keys, and Enter, once a question stands."""
        await self.asked(words)
        assert self.app.asked is not None
        wanted = next(n for n, (_, text) in enumerate(self.app.asked.choices) if text.startswith(choice))
        at = self.app.query_one(Choices).at
        down = wanted + 1 if at is None else wanted - at
        await self.press(words, *["down" if down > 0 else "up"] * abs(down), "enter")

    def look(self) -> str:
        """Give the screen as it is drawn."""
        strips = self.app.screen._compositor.render_strips()
        return "\n".join("".join(segment.text for segment in strip) for strip in strips)

    def all(self) -> str:
        """Give everything that the screen shows, for looking at."""
        parts = ("show", "news", "question", "live", "choices", "fault", "takes")
        return "\n".join(f"[{part}] {self.shown(part)}" for part in parts)


_KEYS = {" ": "space", ",": "comma", ".": "full_stop", ":": "colon", "/": "slash", "-": "minus", "=": "equals_sign"}


@asynccontextmanager
async def sitting(
    show_file: Path,
    size: tuple[int, int] = (80, 24),
    shades: Colours = Colours.FULL,
    before: str = "",
    *,
    by_keys: bool = False,
) -> AsyncIterator[Sitter]:
    """Open the screen on a show file, which holds ``before``; the conversation is ended and waited for behind it."""
    app = SetupApp(show_file.name, lambda face: converse(face, show_file, before), shades)
    try:
        async with app.run_test(size=size) as pilot:
            yield Sitter(pilot, app, by_keys=by_keys)
    finally:
        await asyncio.to_thread(app.end)
