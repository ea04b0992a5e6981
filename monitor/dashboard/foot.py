"""The line above the keys: what became of a request, or a question with room for the answer. Never over other lines."""

from __future__ import annotations

import asyncio
from typing import TYPE_CHECKING, ClassVar

from rich.text import Text
from textual.binding import Binding, BindingType
from textual.message import Message
from textual.widget import Widget
from textual.widgets import Input, Static

from monitor.dashboard.entries import LONGEST_TEXT, anything
from monitor.dashboard.pieces import Tone, clean

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping

    from rich.style import Style
    from textual.app import ComposeResult

    Check = Callable[[str], str]


class Foot(Widget):
    """Says one sentence, or asks one question at a time.

    Args:
        palette: how tones look.

    """

    BINDINGS: ClassVar[list[BindingType]] = [Binding("escape", "leave", show=False)]
    DEFAULT_CSS = """
    Foot {
        layout: horizontal;
        height: 1;
        display: none;
        #said { width: 100%; height: auto; }
        #entry { width: 1fr; margin: 0 0 0 1; display: none; }
        &.-said { display: block; height: auto; max-height: 3; }
        &.-asking {
            display: block;
            height: 1;
            #said { width: auto; max-width: 75%; height: 1; }
            #entry { display: block; }
        }
    }
    """

    class Changed(Message):
        """A question was put or answered: other keys hold now."""

    def __init__(self, palette: Mapping[Tone, Style]) -> None:
        super().__init__(id="foot")
        self._palette = palette
        self._why_not: Check = anything
        self._answer: asyncio.Future[str | None] | None = None

    def compose(self) -> ComposeResult:
        """Give the place of the sentence and that of the answer."""
        yield Static(id="said", markup=False)
        yield Input(id="entry", compact=True, max_length=LONGEST_TEXT, select_on_focus=False)

    @property
    def asking(self) -> bool:
        """Whether a question waits for its answer."""
        return self._answer is not None

    def say(self, text: str) -> None:
        """Show a sentence, or none; while a question is put it is not shown."""
        if not self.asking:
            self._write(text, Tone.PLAIN)
            self.set_class(bool(text), "-said")

    async def ask(self, question: str, why_not: Check, given: str = "") -> str | None:
        """Put a question; give the answer without blanks around it, or None where it was left with Esc.

        Args:
            question: ends with a colon or says what Enter does.
            why_not: says why an answer won't do; empty where it does.
            given: stands in the line already.

        """
        self._why_not = why_not
        self._answer = asyncio.get_running_loop().create_future()
        self._write(question, Tone.STRONG)
        self.add_class("-asking")
        entry = self.query_one(Input)
        entry.value = given
        entry.cursor_position = len(given)
        entry.focus()
        self.post_message(self.Changed())
        answer = await self._answer
        self._close()
        return answer

    def on_input_submitted(self, event: Input.Submitted) -> None:
        """Take the answer, or say why it won't do."""
        event.stop()
        text = event.value.strip()
        reason = self._why_not(text)
        if reason:
            self._write(f"{reason}:", Tone.STRONG)
        else:
            self._end(text)

    def action_leave(self) -> None:
        """Leave the question."""
        self._end(None)

    def on_input_blurred(self) -> None:
        """Keep the question in hand: a click elsewhere must not turn what is typed into keys."""
        if self.asking and self.app.app_focus:
            self.query_one(Input).focus()

    def _end(self, answer: str | None) -> None:
        if self._answer is not None and not self._answer.done():
            self._answer.set_result(answer)

    def _close(self) -> None:
        self._answer = None
        self.remove_class("-asking")
        self._write("", Tone.PLAIN)
        self.screen.set_focus(None)
        self.post_message(self.Changed())

    def _write(self, text: str, tone: Tone) -> None:
        if self.is_mounted:
            self.query_one("#said", Static).update(Text(clean(text), style=self._palette[tone]))
