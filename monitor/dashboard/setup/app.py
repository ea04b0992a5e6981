"""The screen of ``legwatch setup``.

It decides nothing: what to ask, what an answer means and what is written is the conversation's business.
"""

from __future__ import annotations

import asyncio
import os
import signal
from threading import Thread
from typing import TYPE_CHECKING, ClassVar

from rich.text import Text
from textual.app import App
from textual.binding import Binding, BindingType
from textual.containers import VerticalScroll
from textual.screen import ModalScreen
from textual.widgets import Input, Static

from monitor.dashboard.keys import KeyHint, Keys
from monitor.dashboard.palette import PALETTES
from monitor.dashboard.pieces import clean
from monitor.dashboard.setup.face import Asked, Ended, Looking, Read, ScreenFace, Told
from monitor.dashboard.setup.lines import HELP
from monitor.dashboard.setup.page import QuestionPage
from monitor.dashboard.setup.widgets import Choices, Entry
from monitor.dashboard.terminal import Colours, colours
from monitor.dashboard.themes import dress
from monitor.setup.talk import BACK, QUIT

if TYPE_CHECKING:
    from collections.abc import Callable

    from textual.app import ComposeResult

    from monitor.setup.talk import Question

_KEYS = (
    KeyHint("Enter", "answer", "enter"),
    KeyHint("▲▼", "choose", "down"),
    KeyHint("Esc", "back", "escape"),
    KeyHint("Tab", "change", "tab"),
    KeyHint("PgUp PgDn", "scroll", "pagedown"),
    KeyHint("?", "help", "question_mark"),
    KeyHint("Ctrl-C", "end, answers are kept", "ctrl+c"),
)


class HelpScreen(ModalScreen[None]):
    """The help, until it is left."""

    BINDINGS: ClassVar[list[BindingType]] = [Binding("escape,question_mark,enter,q", "dismiss", show=False)]
    DEFAULT_CSS = """
    HelpScreen { align: center middle; background: $background; }
    HelpScreen VerticalScroll { width: 100%; max-width: 84; height: 1fr; padding: 1 2; scrollbar-size: 0 0; }
    HelpScreen #leave { width: 100%; height: 1; }
    """

    def compose(self) -> ComposeResult:
        """Give the text, and how to leave it."""
        with VerticalScroll():
            yield Static(HELP, markup=False)
        yield Static("Esc back   ▲▼ scroll", id="leave", markup=False)


class SetupApp(App[None]):
    """The screen.

    Args:
        title: the show file's name.
        hold: holds the conversation on a face; runs in a thread of its own.
        shades: how many colours the terminal is given.

    Attributes:
        asked: the question that stands, or None.
        problem: what ended the conversation early, or None.

    """

    TITLE = "legwatch setup"
    ENABLE_COMMAND_PALETTE = False
    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("question_mark", "help", show=False),
        Binding("ctrl+c,ctrl+q", "leave", show=False, priority=True),
    ]
    CSS = """
    Screen { overflow: hidden; layout: vertical; }
    #title { height: 1; background: $footer-background; padding: 0 1; }
    """

    def __init__(self, title: str, hold: Callable[[ScreenFace], None], shades: Colours = Colours.FULL) -> None:
        super().__init__(ansi_color=shades is not Colours.FULL)
        self.asked: Question | None = None
        self.problem: BaseException | None = None
        self._name, self._hold = title, hold
        self._palette = PALETTES[shades]
        self._page = QuestionPage(self._palette)
        self._face = ScreenFace(self.post_message)
        self._thread = Thread(target=self._converse, name="setup", daemon=True)
        dress(self, shades)

    @property
    def told(self) -> tuple[str, ...]:
        """What was told since the last answer."""
        return tuple(self._page.told)

    def compose(self) -> ComposeResult:
        """Lay out: the show so far beside the question and what belongs to it, the keys below."""
        title = f"legwatch setup  {self._name}  nothing is written before the last page"
        yield Static(Text(clean(title), no_wrap=True), id="title")
        yield self._page
        yield Keys(self._palette)

    def on_mount(self) -> None:
        """Begin the conversation; end as Ctrl-C does when asked to end, or when the line to this screen drops."""
        self.query_one(Keys).show(_KEYS)
        self._page.query_one(Entry).focus()
        for number in (signal.SIGTERM, signal.SIGHUP):
            asyncio.get_running_loop().add_signal_handler(number, self.exit)
        self._thread.start()

    def end(self) -> None:
        """End the conversation where it still goes on, and wait for it. Called when the screen has gone."""
        self._face.answer(QUIT)
        if self._thread.ident is not None:
            self._thread.join()

    def on_asked(self, event: Asked) -> None:
        """Put a question."""
        self.asked = event.question
        self._page.put(event.question)

    def on_told(self, event: Told) -> None:
        """Show what was told."""
        self._page.tell(event.text)

    def on_looking(self, event: Looking) -> None:
        """Show what is looked for."""
        self.asked = None
        self._page.look(event)

    def on_read(self, event: Read) -> None:
        """Show a meter's values."""
        self._page.read(event.question, event.row)

    def on_ended(self) -> None:
        """Leave the screen."""
        self.exit()

    def on_input_submitted(self, event: Input.Submitted) -> None:
        """Take what was typed, or what is chosen."""
        event.stop()
        self._answer(event.value.strip() or self._page.query_one(Choices).answer or "")

    def on_choices_taken(self) -> None:
        """Take what was clicked."""
        self._answer(self._page.query_one(Choices).answer or "")

    def on_input_blurred(self) -> None:
        """Keep the line in hand: a click elsewhere must not turn what is typed into keys."""
        if self.app_focus and not isinstance(self.screen, HelpScreen):
            self._page.query_one(Entry).focus()

    def action_choose(self, steps: int) -> None:
        """Choose another one."""
        self._page.query_one(Choices).move(steps)

    def action_edit(self) -> None:
        """Put what Enter would take into the line."""
        if self.asked is not None:
            entry = self._page.query_one(Entry)
            entry.value = self._page.query_one(Choices).answer or self.asked.default or ""
            entry.cursor_position = len(entry.value)

    def action_turn(self, pages: int) -> None:
        """Scroll what was told."""
        self._page.scroll_news(pages)

    def action_previous(self) -> None:
        """Go back one question, also from what is looked for."""
        self._take(BACK)

    def action_leave(self) -> None:
        """End; what was answered is kept."""
        self._take(QUIT)
        self._page.ending()

    def action_help(self) -> None:
        """Show the help."""
        if not isinstance(self.screen, HelpScreen):
            self.push_screen(HelpScreen())

    def _answer(self, text: str) -> None:
        if self.asked is not None:
            self._take(text)

    def _take(self, text: str) -> None:
        """Hand an answer over; until the next question stands, only going back and ending can be handed over."""
        self.asked = None
        self._page.close()
        self._page.query_one(Entry).value = ""
        self._face.answer(text)

    def _converse(self) -> None:
        """Hold the conversation; whatever ends it is kept for whoever opened the screen."""
        try:
            self._hold(self._face)
        except BaseException as problem:  # noqa: BLE001 - raised again by run_setup, in the thread that can tell it
            self.problem = problem
        self.post_message(Ended())


def run_setup(title: str, hold: Callable[[ScreenFace], None], tell: Callable[[str], None]) -> None:
    """Hold a conversation on a screen; ask ``terminal.why_no_screen`` first.

    Args:
        title: the show file's name.
        hold: holds the conversation on a face; runs in a thread of its own. What it raises is raised here.
        tell: is given what the conversation told last, once the screen has gone.

    """
    app = SetupApp(title, hold, colours(os.environ))
    app.run()
    app.end()
    for line in app.told:
        tell(line)
    if app.problem is not None:
        raise app.problem
