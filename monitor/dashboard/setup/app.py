"""The screen of ``legwatch setup``: the show so far, the question that stands, a meter's values, and the answer's line.

It decides nothing: what to ask, what an answer means and what is written is the conversation's business.
"""

from __future__ import annotations

import asyncio
import os
import signal
from threading import Thread
from typing import TYPE_CHECKING, Any, ClassVar

from rich.text import Text
from textual.app import App
from textual.binding import Binding, BindingType
from textual.containers import Horizontal, Vertical, VerticalScroll
from textual.screen import ModalScreen
from textual.widgets import Input, Static

from monitor.dashboard.keys import KeyHint, Keys
from monitor.dashboard.palette import PALETTES
from monitor.dashboard.pieces import Tone, clean, fit
from monitor.dashboard.setup.face import Asked, Ended, Looking, Read, ScreenFace, Told
from monitor.dashboard.setup.lines import HELP, hung, live_lines
from monitor.dashboard.setup.widgets import Choices, Entry, toned
from monitor.dashboard.terminal import Colours, colours
from monitor.dashboard.themes import dress
from monitor.setup.talk import BACK, QUIT

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    from textual import events
    from textual.app import ComposeResult
    from textual.timer import Timer

    from monitor.setup.talk import Question

OLD_S = 3.0
"""A meter's values are called live no longer than this after they were read."""
_NARROW, _LOW = 72, 22
_GIVEN = 3
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
    """The help, until a key is pressed."""

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
        told: what was told since the last answer.
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
    #page { height: 1fr; }
    #sofar { width: 34%; max-width: 44; padding: 0 1; border-right: ascii $footer-description-foreground; }
    #sofar, #told { scrollbar-size: 0 0; }
    #now { width: 1fr; padding: 0 1; }
    #told { height: 1fr; min-height: 2; }
    #question, #fault, #takes { height: auto; max-height: 4; }
    #live { height: auto; margin: 1 0 0 0; }
    #choices { height: auto; margin: 1 0; }
    #line { height: 1; }
    #line Static { width: 2; }
    #entry { width: 1fr; }
    .-narrow #page { layout: vertical; }
    .-narrow #sofar { width: 100%; max-width: 100%; height: 4; border-right: none; }
    .-narrow #now { height: 1fr; }
    .-low #live, .-low #choices { margin: 0; }
    """

    def __init__(self, title: str, hold: Callable[[ScreenFace], None], shades: Colours = Colours.FULL) -> None:
        super().__init__(ansi_color=shades is not Colours.FULL)
        self.told: list[str] = []
        self.problem: BaseException | None = None
        self._name, self._hold = title, hold
        self._palette = PALETTES[shades]
        self._face = ScreenFace(self.post_message)
        self._thread = Thread(target=self._converse, name="setup", daemon=True)
        self.asked: Question | None = None
        self._row: dict[str, Any] | None = None
        self._ages: Timer | None = None
        dress(self, shades)

    def compose(self) -> ComposeResult:
        """Lay out: the show so far beside the question and what belongs to it, the keys below."""
        yield Static(Text(clean(f"legwatch setup  {self._name}  nothing is written before the last page")), id="title")
        with Horizontal(id="page"):
            with VerticalScroll(id="sofar", can_focus=False):
                yield Static(id="show", markup=False)
            with Vertical(id="now"):
                with VerticalScroll(id="told", can_focus=False):
                    yield Static(id="news", markup=False)
                yield Static(id="question", markup=False)
                yield Static(id="live", markup=False)
                yield Choices(self._palette)
                yield Static(id="fault", markup=False)
                yield Static(id="takes", markup=False)
                with Horizontal(id="line"):
                    yield Static("> ", markup=False)
                    yield Entry()
        yield Keys(self._palette)

    def on_mount(self) -> None:
        """Begin the conversation; end as Ctrl-C does when asked to end, or when the line to this screen drops."""
        self.query_one(Keys).show(_KEYS)
        self.query_one(Entry).focus()
        for number in (signal.SIGTERM, signal.SIGHUP):
            asyncio.get_running_loop().add_signal_handler(number, self.exit)
        self._thread.start()

    def on_resize(self, event: events.Resize) -> None:
        """Fit the layout to the size."""
        self.screen.set_class(event.size.width < _NARROW, "-narrow")
        self.screen.set_class(event.size.height < _LOW, "-low")
        self.query_one(Choices).height = max(3, event.size.height // 3 - 1)
        self._draw()

    def end(self) -> None:
        """End the conversation where it still goes on, and wait for it. Called when the screen has gone."""
        self._face.answer(QUIT)
        self._thread.join()

    def on_asked(self, event: Asked) -> None:
        """Put a question."""
        first = not event.question.fault
        self.asked = event.question
        if first:
            self._row = None
            self._forget_age()
            self.query_one(Choices).offer(event.question.choices, event.question.default)
        self._draw()
        self._anchor(bottom=not event.question.page)

    def on_told(self, event: Told) -> None:
        """Keep what was told for the next question."""
        self.told += [clean(line) for line in event.text.splitlines()]
        self._write("news", [(line, Tone.PLAIN) for line in self.told])
        self._anchor(bottom=True)

    def on_looking(self, event: Looking) -> None:
        """Show what is looked for, and how far it has come."""
        self.asked = None
        self.query_one(Choices).offer((), None)
        self._write("fault", [])
        self.query_one("#live", Static).display = False
        percent = f" {100 * event.done // event.count} %" if event.count else ""
        self._write("question", [(f"Looking for {event.what} ...{percent}", Tone.STRONG)])
        self._write("takes", [("Esc gives up and goes back", Tone.QUIET)])

    def on_read(self, event: Read) -> None:
        """Show a meter's values, for as long as they may be called live."""
        if self.asked is None or event.question.live is not self.asked.live:
            return
        self._row = event.row
        self._forget_age()
        self._ages = self.set_timer(OLD_S, lambda: self._draw_live(old=True))
        self._draw_live()

    def on_ended(self) -> None:
        """Leave the screen."""
        self.exit()

    def on_input_submitted(self, event: Input.Submitted) -> None:
        """Take what was typed, or what is chosen."""
        event.stop()
        self._answer(event.value.strip() or self.query_one(Choices).answer or "")

    def on_choices_taken(self) -> None:
        """Take what was clicked."""
        self._answer(self.query_one(Choices).answer or "")

    def on_input_blurred(self) -> None:
        """Keep the line in hand: a click elsewhere must not turn what is typed into keys."""
        if self.app_focus and not isinstance(self.screen, HelpScreen):
            self.query_one(Entry).focus()

    def action_choose(self, steps: int) -> None:
        """Choose another one."""
        self.query_one(Choices).move(steps)

    def action_edit(self) -> None:
        """Put what Enter would take into the line."""
        if self.asked is not None:
            entry = self.query_one(Entry)
            entry.value = self.query_one(Choices).answer or self.asked.default or ""
            entry.cursor_position = len(entry.value)

    def action_turn(self, pages: int) -> None:
        """Scroll what was told."""
        told = self.query_one("#told", VerticalScroll)
        (told.scroll_page_down if pages > 0 else told.scroll_page_up)(animate=False)

    def action_previous(self) -> None:
        """Go back one question, also from what is looked for."""
        self._take(BACK)

    def action_leave(self) -> None:
        """End; what was answered is kept."""
        self._take(QUIT)
        self._write("takes", [("Ending ...", Tone.QUIET)])

    def action_help(self) -> None:
        """Show the help."""
        if not isinstance(self.screen, HelpScreen):
            self.push_screen(HelpScreen())

    def _answer(self, text: str) -> None:
        if self.asked is not None:
            self._take(text)

    def _take(self, text: str) -> None:
        self.asked = None
        self.told.clear()
        self._forget_age()
        self.query_one(Entry).value = ""
        self._face.answer(text)

    def _draw(self) -> None:
        """Draw the question and what belongs to it."""
        asked = self.asked
        if asked is None:
            return
        so_far = self.query_one("#sofar")
        so_far.display = not asked.page
        width = so_far.content_size.width or self.size.width
        self._write("show", [(line, Tone.PLAIN) for line in hung(asked.so_far, width)])
        self._write("news", _news(asked, self.told, self.query_one("#told").content_size.width))
        words = f"What does {asked.channel} measure?" if asked.channel else asked.words
        self._write("question", [(clean(words), Tone.STRONG)])
        self._write("fault", [(clean(asked.fault), Tone.HIGH)] if asked.fault else [])
        takes = clean(asked.default or "") if not any(asked.default == answer for answer, _ in asked.choices) else ""
        self._write("takes", [(f"Enter takes: {takes}", Tone.QUIET)] if takes else [])
        self._draw_live()

    def _draw_live(self, *, old: bool = False) -> None:
        asked, panel = self.asked, self.query_one("#live", Static)
        panel.display = asked is not None and asked.live is not None
        if asked is not None and panel.display:
            width = self.query_one(Entry).size.width or self.size.width
            height = max(3, self.size.height // 4)
            panel.update(toned(live_lines(self._row, asked.channel, width, height, old=old), self._palette))

    def _write(self, name: str, lines: Sequence[tuple[str, Tone]]) -> None:
        panel = self.query_one(f"#{name}", Static)
        panel.update(Text("\n").join(Text(text, self._palette[tone]) for text, tone in lines))
        if name in ("fault", "takes"):
            panel.display = bool(lines)

    def _anchor(self, *, bottom: bool) -> None:
        """Keep the ends of the show and of what was told in sight; of a page that is to be looked through the begin."""
        self.call_after_refresh(self.query_one("#sofar", VerticalScroll).scroll_end, animate=False)
        told = self.query_one("#told", VerticalScroll)
        told.anchor(bottom)
        if not bottom:
            told.scroll_home(animate=False)

    def _forget_age(self) -> None:
        if self._ages is not None:
            self._ages.stop()
            self._ages = None

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


def _news(question: Question, told: list[str], width: int) -> list[tuple[str, Tone]]:
    """Give what stands above a question: what was answered last, what was told since, what to look through."""
    if question.page:
        head = ("Page down for the rest. This would be written:", Tone.QUIET)
        return [head, *((clean(line), Tone.PLAIN) for line in question.page.splitlines())]
    given = [(fit(line.strip(), width).rstrip(), Tone.QUIET) for line in question.given[-_GIVEN:]]
    return [*given, *((line, Tone.PLAIN) for line in told)]
