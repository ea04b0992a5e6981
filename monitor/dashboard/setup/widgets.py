"""The parts of the screen: lines in tones, choices that can be clicked, the line to answer in."""

from __future__ import annotations

from typing import TYPE_CHECKING, ClassVar

from rich.text import Text
from textual.binding import Binding, BindingType
from textual.message import Message
from textual.widgets import Input, Static

from monitor.dashboard.entries import LONGEST_TEXT
from monitor.dashboard.setup.lines import choice_lines

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping

    from rich.style import Style
    from textual import events

    from monitor.dashboard.pieces import Line, Tone

Choice = tuple[str, str]


def toned(lines: Iterable[Line], palette: Mapping[Tone, Style]) -> Text:
    """Give lines as text in their tones."""
    return Text("\n").join(Text.assemble(*((piece.text, palette[piece.tone]) for piece in line)) for line in lines)


class Choices(Static):
    """Choices, one of them chosen.

    Args:
        palette: how tones look.

    """

    ALLOW_SELECT = False

    class Taken(Message):
        """A choice was clicked."""

    def __init__(self, palette: Mapping[Tone, Style]) -> None:
        super().__init__(id="choices", markup=False)
        self._palette = palette
        self._choices: tuple[Choice, ...] = ()
        self._numbers: list[int] = []
        self.at: int | None = None
        self.height = 8

    @property
    def answer(self) -> str | None:
        """The answer of the one that is chosen, or None."""
        return None if self.at is None else self._choices[self.at][0]

    def offer(self, choices: tuple[Choice, ...], default: str | None) -> None:
        """Show other choices; the default is chosen where it is among them."""
        self._choices = choices
        self.at = next((n for n, (answer, _) in enumerate(choices) if answer == default), None)
        self._draw()

    def move(self, steps: int) -> None:
        """Choose another one."""
        if self._choices:
            begin = (-1 if steps > 0 else len(self._choices)) if self.at is None else self.at
            self.at = max(0, min(begin + steps, len(self._choices) - 1))
            self._draw()

    def on_resize(self) -> None:
        """Lay the lines out anew."""
        self._draw()

    def on_click(self, event: events.Click) -> None:
        """Take the choice that was clicked."""
        if 0 <= event.y < len(self._numbers):
            self.at = self._numbers[event.y]
            self._draw()
            self.post_message(self.Taken())

    def _draw(self) -> None:
        at = -1 if self.at is None else self.at
        width = self.size.width or self.app.size.width
        lines = choice_lines(self._choices, at, width, self.height)
        self._numbers = [number for number, _ in lines]
        self.update(toned((line for _, line in lines), self._palette))
        self.display = bool(lines)


class Entry(Input):
    """The line to answer in. The arrow keys choose, ``?`` at its beginning helps."""

    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("up", "app.choose(-1)", show=False),
        Binding("down", "app.choose(1)", show=False),
        Binding("tab", "app.edit", show=False),
        Binding("escape", "app.previous", show=False),
        Binding("pageup", "app.turn(-1)", show=False),
        Binding("pagedown", "app.turn(1)", show=False),
    ]

    def __init__(self) -> None:
        super().__init__(id="entry", compact=True, max_length=LONGEST_TEXT, select_on_focus=False)

    def check_consume_key(self, key: str, character: str | None) -> bool:
        """Leave ``?`` to the app while nothing is typed."""
        return not (character == "?" and not self.value) and super().check_consume_key(key, character)

    async def _on_key(self, event: events.Key) -> None:
        if event.character == "?" and not self.value:
            event.prevent_default()  # bubbles to the app's key
            return
        await super()._on_key(event)
