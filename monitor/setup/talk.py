"""A conversation that can go back, be left and be taken up again. It asks and tells through what it is given.

Everything that was answered or found out stands in a journal. Going back takes the last answer off and runs the
dialogue again from its beginning, with the journal's answers given silently; so does taking it up another day. A
dialogue must therefore ask the same questions after the same answers: whatever else it depends on (what a wire said)
goes through ``found``, and stands in the journal too.
"""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING, Any, Literal, NoReturn, Protocol, TypeVar

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

T = TypeVar("T")
BACK, QUIT = "back", "quit"
NOTHING = "-"
"""Typed where Enter would take something, to give nothing."""
_ANSWER, _FOUND = "answer", "found"


class Back(Exception):
    """Somebody wants to answer the last question anew."""


class Quit(Exception):
    """Somebody ends the conversation for now."""


@dataclass(frozen=True, slots=True)
class Question:
    """What is asked now, for whatever face shows it.

    Attributes:
        words: without its mark.
        kind: ``text``, one ``of`` several (their answers are numbers), or ``yes`` or no.
        default: what an empty answer gives; None where something must be typed.
        choices: (answer, words); with ``text`` they are proposals, and anything else may be typed.
        channel: of the meter, where the question is about one.
        live: reads that meter now: what ``Wire.read`` gives. None where nothing is read.
        page: what is to be looked through before answering.
        fault: what is wrong with the answer before, where that was to the same question.
        given: what was answered before, in words, the oldest first.
        so_far: the show as it stands, line by line.

    """

    words: str
    kind: Literal["text", "of", "yes"] = "text"
    default: str | None = ""
    choices: tuple[tuple[str, str], ...] = ()
    channel: str = ""
    live: Callable[[], dict[str, Any]] | None = None
    page: str = ""
    fault: str = ""
    given: tuple[str, ...] = ()
    so_far: tuple[str, ...] = ()


class Terminal(Protocol):
    """Where the conversation takes place."""

    def ask(self, question: Question) -> str:
        """Show a question and give what was typed. Raises Quit where nothing more can come."""

    def tell(self, text: str) -> None:
        """Show a line."""

    def looking(self, what: str) -> None:
        """Take note that something is looked for now, which may take a while. May raise Back or Quit."""


@dataclass(frozen=True, slots=True)
class Entry:
    """One line of the journal.

    Attributes:
        kind: ``answer`` or ``found``.
        question: what was asked or looked for.
        value: plain data.

    """

    kind: str
    question: str
    value: Any


@dataclass(slots=True)
class Talk:
    """One conversation.

    Attributes:
        terminal: where it takes place.
        keep: called with the whole journal whenever it has grown.
        journal: what was said so far.
        so_far: gives the show as it stands, line by line; a dialogue sets it.

    """

    terminal: Terminal
    keep: Callable[[Sequence[Entry]], None]
    journal: list[Entry] = field(default_factory=list)
    so_far: Callable[[], tuple[str, ...]] = tuple
    _at: int = 0
    _given: list[str] = field(default_factory=list)

    def run(self, dialogue: Callable[[Talk], T]) -> T:
        """Run ``dialogue`` to its end, from its beginning again wherever somebody goes back.

        Raises:
            Quit: somebody ended it; the journal stays.

        """
        while True:
            self._at = 0
            self._given.clear()
            try:
                return dialogue(self)
            except Back:
                self._take_back()

    def tell(self, text: str = "") -> None:
        """Show a line, unless it was shown before."""
        if self._at >= len(self.journal):
            self.terminal.tell(text)

    def ask(self, question: Question | str, read: Callable[[str], T], default: str | None = "") -> T:
        """Ask until the answer can be read.

        Args:
            question: or its words alone, without their mark.
            read: gives the answer's meaning, or raises ValueError with what is wrong with it.
            default: what Enter gives, where the question is words alone; None where something must be typed.

        """
        asked = question if isinstance(question, Question) else Question(question, default=default)
        known = self._replayed(_ANSWER, asked.words)
        if known is not None:
            try:
                meaning = read(str(known.value))
            except ValueError:  # it no longer means anything: a file has changed meanwhile
                self._at -= 1
                self._forget()
            else:
                self._remember(asked, str(known.value))
                return meaning
        asked = replace(asked, given=tuple(self._given), so_far=self.so_far())
        while True:
            typed = self.terminal.ask(asked).strip()
            if typed == BACK:
                raise Back
            if typed == QUIT:
                raise Quit
            answer = typed or asked.default
            if answer is None:
                asked = replace(asked, fault=f'please type something, or "{BACK}" or "{QUIT}"')
                continue
            try:
                meaning = read(answer)
            except ValueError as error:
                asked = replace(asked, fault=str(error))
                continue
            self._add(Entry(_ANSWER, asked.words, answer))
            self._remember(asked, answer)
            return meaning

    def choose(self, question: str, options: Sequence[tuple[T, str]], default: int | None = 1) -> T:
        """Show ``options`` as (value, words), numbered from 1, and give the value of the one chosen."""

        def read(text: str) -> T:
            if not text.isascii() or not text.isdigit() or not 1 <= int(text) <= len(options):
                raise ValueError(f"type a number from 1 to {len(options)}")
            return options[int(text) - 1][0]

        choices = tuple((str(number), words) for number, (_, words) in enumerate(options, 1))
        return self.ask(Question(question, "of", None if default is None else str(default), choices), read)

    def yes(self, question: str, *, default: bool | None = True, page: str = "") -> bool:
        """Ask for a yes or a no; ``default`` None takes no Enter for an answer."""

        def read(text: str) -> bool:
            if text.lower() not in ("y", "yes", "n", "no"):
                raise ValueError("type y or n")
            return text.lower().startswith("y")

        shown = None if default is None else "y" if default else "n"
        choices = (("y", "yes"), ("n", "no"))
        return self.ask(Question(f"{question} (y/n)", "yes", shown, choices, page=page), read)

    def found(self, what: str, look: Callable[[], T]) -> T:
        """Give what ``look`` finds out, as plain data; what was found before is not looked for again."""
        known = self._replayed(_FOUND, what)
        if known is not None:
            value: T = known.value
            return value
        self.terminal.looking(what)
        value = look()
        self._add(Entry(_FOUND, what, value))
        return value

    def leave(self) -> NoReturn:
        """End the conversation for now, before the last answer: it is asked anew next time."""
        self._take_back()
        raise Quit

    @staticmethod
    def kept(entries: Sequence[Entry]) -> list[Entry]:
        """Give what of a kept journal to go on from: what was found since the last answer is looked for anew."""
        answers = [index for index, entry in enumerate(entries) if entry.kind == _ANSWER]
        return list(entries[: answers[-1] + 1]) if answers else []

    def _replayed(self, kind: str, question: str) -> Entry | None:
        if self._at >= len(self.journal):
            return None
        entry = self.journal[self._at]
        if (entry.kind, entry.question) != (kind, question):
            self._forget()
            return None
        self._at += 1
        return entry

    def _remember(self, asked: Question, answer: str) -> None:
        words = dict(asked.choices).get(answer, answer)
        self._given.append(f"{asked.words}: {words or 'nothing'}")

    def _forget(self) -> None:
        """Drop what no longer fits, from here on."""
        del self.journal[self._at :]

    def _add(self, entry: Entry) -> None:
        self.journal.append(entry)
        self._at = len(self.journal)
        self.keep(self.journal)

    def _take_back(self) -> None:
        while self.journal and self.journal.pop().kind != _ANSWER:
            pass
        self.keep(self.journal)
