"""The page between title and keys: the show so far beside the question that stands and what belongs to it."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from rich.text import Text
from textual.containers import Horizontal, Vertical, VerticalScroll
from textual.widgets import Static

from monitor.dashboard.pieces import Tone, clean, fit
from monitor.dashboard.setup.lines import hung, live_lines
from monitor.dashboard.setup.widgets import Choices, Entry, toned

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from rich.style import Style
    from textual import events
    from textual.app import ComposeResult
    from textual.timer import Timer

    from monitor.dashboard.setup.face import Looking
    from monitor.setup.talk import Question

OLD_S = 3.0
"""A meter's values are called live no longer than this after they were read."""
_NARROW, _LOW = 72, 22
_GIVEN = 3


class QuestionPage(Horizontal):
    """Draws what the conversation said last.

    Args:
        palette: how tones look.

    Attributes:
        told: what was told since the last answer.

    """

    DEFAULT_CSS = """
    QuestionPage {
        height: 1fr;
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
        &.-narrow {
            layout: vertical;
            #sofar { width: 100%; max-width: 100%; height: 4; border-right: none; }
            #now { height: 1fr; }
        }
        &.-low #live, &.-low #choices { margin: 0; }
    }
    """

    def __init__(self, palette: Mapping[Tone, Style]) -> None:
        super().__init__()
        self.told: list[str] = []
        self._palette = palette
        self._asked: Question | None = None
        self._row: dict[str, Any] | None = None
        self._age: Timer | None = None

    def compose(self) -> ComposeResult:
        """Give the parts, from the top."""
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

    def on_resize(self, event: events.Resize) -> None:
        """Fit the layout to the size."""
        self.set_class(event.size.width < _NARROW, "-narrow")
        self.set_class(event.size.height < _LOW - 3, "-low")
        self.query_one(Choices).height = max(3, event.size.height // 3)
        self._draw()

    def put(self, question: Question) -> None:
        """Show a question."""
        self._asked = question
        if not question.fault:
            self._forget_values()
            self.query_one(Choices).offer(question.choices, question.default)
        self._draw()
        self._anchor(bottom=not question.page)

    def tell(self, text: str) -> None:
        """Show lines, until a question is answered."""
        self.told += [clean(line) for line in text.splitlines()]
        self._write("news", [(line, Tone.PLAIN) for line in self.told])
        self._anchor(bottom=True)

    def look(self, looking: Looking) -> None:
        """Show what is looked for, and how far it has come."""
        self._no_question()
        self.query_one(Choices).offer((), None)
        self._write("fault", [])
        percent = f" {100 * looking.done // looking.count} %" if looking.count else ""
        self._write("question", [(f"Looking: {looking.what} ...{percent}", Tone.STRONG)])
        self._write("takes", [("Esc gives up and goes back", Tone.QUIET)])

    def read(self, question: Question, row: dict[str, Any]) -> None:
        """Show a meter's values, for as long as they may be called live; not if another question stands by now."""
        if self._asked is None or question.live is not self._asked.live:
            return
        self._forget_values()
        self._row = row
        self._age = self.set_timer(OLD_S, lambda: self._draw_live(old=True))
        self._draw_live()

    def close(self) -> None:
        """Take note that the question was answered."""
        self._no_question()
        self.told.clear()

    def ending(self) -> None:
        """Say that the end was asked for."""
        self._write("takes", [("Ending; your answers are kept ...", Tone.QUIET)])

    def scroll_news(self, pages: int) -> None:
        """Scroll what was told, or the file."""
        told = self.query_one("#told", VerticalScroll)
        (told.scroll_page_down if pages > 0 else told.scroll_page_up)(animate=False)

    def _draw(self) -> None:
        asked = self._asked
        if asked is None:
            return
        so_far = self.query_one("#sofar")
        so_far.display = not asked.page
        self._write("show", [(line, Tone.PLAIN) for line in hung(asked.so_far, self._width("#sofar"))])
        self._write("news", _news(asked, self.told, self._width("#told")))
        words = f"What does {asked.channel} measure?" if asked.channel else asked.words.strip()
        self._write("question", [(clean(words), Tone.STRONG)])
        self._write("fault", [(clean(asked.fault), Tone.HIGH)] if asked.fault else [])
        offered = any(asked.default == answer for answer, _ in asked.choices)
        takes = "" if offered else clean(asked.default or "")
        self._write("takes", [(f"Enter takes: {takes}", Tone.QUIET)] if takes else [])
        self._draw_live()

    def _draw_live(self, *, old: bool = False) -> None:
        asked, panel = self._asked, self.query_one("#live", Static)
        panel.display = asked is not None and asked.live is not None
        if asked is not None and panel.display:
            height = max(3, self.size.height // 4)
            lines = live_lines(self._row, asked.channel, self._width("#now"), height, old=old)
            panel.update(toned(lines, self._palette))

    def _width(self, part: str) -> int:
        return self.query_one(part).content_size.width or self.size.width

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

    def _no_question(self) -> None:
        self._asked = None
        self._forget_values()
        self.query_one("#live").display = False

    def _forget_values(self) -> None:
        self._row = None
        if self._age is not None:
            self._age.stop()
            self._age = None


def _news(question: Question, told: list[str], width: int) -> list[tuple[str, Tone]]:
    """Give what stands above a question: what was answered last, what was told since, what to look through."""
    if question.page:
        head = ("Page down for the rest. This would be written:", Tone.QUIET)
        return [head, *((clean(line), Tone.PLAIN) for line in question.page.splitlines())]
    given = [(fit(line.strip(), width).rstrip(), Tone.QUIET) for line in question.given[-_GIVEN:]]
    return [*given, *((line, Tone.PLAIN) for line in told)]
