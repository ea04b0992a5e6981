"""Between the conversation's thread and the screen: questions and news one way, answers the other.

The conversation waits in ``ask``; the screen never waits. While a question about a channel stands, another thread
reads the meter about once a second; nothing else is begun on the wires before its last read has ended.
"""

from __future__ import annotations

from contextlib import contextmanager
from queue import SimpleQueue
from threading import Event, Lock, Thread
from typing import TYPE_CHECKING, Any

from textual.message import Message

from monitor.setup.talk import BACK, Back, Question, Quit

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator

REST_S = 1.0


class Asked(Message):
    """A question stands now."""

    def __init__(self, question: Question) -> None:
        super().__init__()
        self.question = question


class Told(Message):
    """A line was told."""

    def __init__(self, text: str) -> None:
        super().__init__()
        self.text = text


class Looking(Message):
    """Something is looked for; ``count`` steps, 0 where that is not known."""

    def __init__(self, what: str, done: int = 0, count: int = 0) -> None:
        super().__init__()
        self.what, self.done, self.count = what, done, count


class Read(Message):
    """The meter was read for a question that may stand no longer."""

    def __init__(self, question: Question, row: dict[str, Any]) -> None:
        super().__init__()
        self.question, self.row = question, row


class Ended(Message):
    """The conversation has ended."""


class ScreenFace:
    """Fulfils ``monitor.setup.talk.Terminal`` for a screen.

    Args:
        post: gives a message to the screen, from any thread.

    """

    def __init__(self, post: Callable[[Message], object]) -> None:
        self._post = post
        self._answers: SimpleQueue[str] = SimpleQueue()
        self._wires = Lock()
        self._what = ""

    def answer(self, text: str) -> None:
        """Take what was typed; ``back`` and ``quit`` also end what is looked for. Called by the screen."""
        self._answers.put(text)

    def ask(self, question: Question) -> str:
        """Show a question and wait for its answer."""
        self._post(Asked(question))
        answered = Event()
        if question.live is not None:
            Thread(target=self._read_on, args=(question, answered), name="setup-live", daemon=True).start()
        try:
            return self._answers.get()
        finally:
            answered.set()

    def tell(self, text: str) -> None:
        """Show a line."""
        self._post(Told(text))

    def looking(self, what: str) -> None:
        """Show that something is looked for, once the wires are free for it."""
        self._what = what
        self._post(Looking(what))
        with self._wires:
            self._end_where_wanted()

    @contextmanager
    def steps(self, count: int) -> Iterator[Callable[[int], None]]:
        """Show how far it has come; end it where the screen wants to."""
        done = 0

        def more(steps: int) -> None:
            nonlocal done
            done += steps
            self._end_where_wanted()
            self._post(Looking(self._what, done, count))

        yield more

    def _end_where_wanted(self) -> None:
        if self._answers.empty():
            return
        raise Back if self._answers.get() == BACK else Quit

    def _read_on(self, question: Question, answered: Event) -> None:
        while question.live is not None and not answered.is_set():
            with self._wires:
                if answered.is_set():
                    return
                row = question.live()
            self._post(Read(question, row))
            answered.wait(REST_S)
