"""The plain face of ``legwatch setup``, and where the answers of a conversation are kept."""

from __future__ import annotations

import json
import sys
from contextlib import contextmanager
from dataclasses import asdict
from typing import TYPE_CHECKING

import click

from monitor.setup.talk import Entry, Question, Quit, Talk

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator, Sequence
    from pathlib import Path

_ENDING = ".setup-draft"


class CantKeep(Exception):
    """A file can't be read or written; says which, why, and what to do."""


class PlainFace:
    """Plain prompts on whatever terminal there is, or in a pipe."""

    def ask(self, question: Question) -> str:
        """Ask for one line."""
        if question.fault:
            click.echo(f"  {question.fault}")
        else:
            self._begin(question)
        shown = f" [{question.default}]" if question.default else ""
        return self._line(f"{question.words}{shown}: ")

    def tell(self, text: str) -> None:
        """Show a line."""
        click.echo(text)

    def looking(self, what: str) -> None:
        """Show nothing: the steps show what takes long."""

    @contextmanager
    def steps(self, count: int) -> Iterator[Callable[[int], None]]:
        """Show a bar."""
        with click.progressbar(length=count, label="looking", file=sys.stderr) as bar:
            yield bar.update

    @staticmethod
    def _begin(question: Question) -> None:
        """Show what belongs to a question, once."""
        if question.page:
            click.echo(f"\n{question.page}\n")
        if question.kind == "of":
            for answer, words in question.choices:
                click.echo(f"  {answer}) {words}")

    @staticmethod
    def _line(prompt: str) -> str:
        if sys.stdin.isatty():
            try:
                return input(prompt)
            except EOFError:
                click.echo()
                raise Quit from None
        click.echo(prompt, nl=False)
        line = sys.stdin.readline()
        click.echo(line.rstrip("\n"))
        if not line:
            raise Quit("the answers ended")
        return line


class Desk:
    """Keeps the journal beside the show file.

    Args:
        show_file: the show file.

    """

    def __init__(self, show_file: Path) -> None:
        self._place = show_file.with_name(show_file.name + _ENDING)

    def kept(self) -> list[Entry]:
        """Give what of last time's journal one can go on from."""
        try:
            entries = [Entry(**entry) for entry in json.loads(self._place.read_text(encoding="utf-8"))]
        except (OSError, ValueError, TypeError):
            return []
        return Talk.kept(entries)

    def keep(self, journal: Sequence[Entry]) -> None:
        """Write the journal.

        Raises:
            CantKeep: it can't be written.

        """
        draft = self._place.with_name(self._place.name + ".new")
        try:
            draft.write_text(json.dumps([asdict(entry) for entry in journal], ensure_ascii=False), encoding="utf-8")
            draft.replace(self._place)
        except OSError as error:
            why = f"{self._place.parent} can't be written: {error.strerror}; name a SHOW in another folder"
            raise CantKeep(why) from error

    def clear(self) -> None:
        """Take the journal away: what it holds stands in the show file."""
        self._place.unlink(missing_ok=True)
