"""``legwatch setup``."""

from __future__ import annotations

import json
import os
import sys
from dataclasses import asdict
from datetime import datetime
from pathlib import Path
from typing import TYPE_CHECKING, NoReturn

import click

from drivers.clock import now
from drivers.files.faults import FileFaults
from monitor.cautions import SHORT
from monitor.cli.errors import FOUND_WRONG, fail, guarded
from monitor.cli.setup_wire import Wires
from monitor.places import data
from monitor.setup.draft import ShowDraft
from monitor.setup.meters import meters_part
from monitor.setup.places import boxes_part, circuits_part, show_part, source_part
from monitor.setup.talk import BACK, QUIT, Back, Entry, Quit, Talk
from monitor.show.loading import load_show_text

if TYPE_CHECKING:
    from collections.abc import Sequence

_ENDING = ".setup-draft"
_HEAD = (
    "# Made by legwatch setup. Change it by hand or with legwatch setup again; legwatch check tells what is wrong.\n"
)


@click.command(epilog=SHORT)
@click.argument("show_file", metavar="[SHOW]", default="show.toml", type=click.Path(path_type=Path))
@guarded
def command(show_file: Path) -> None:
    """Make a show file, or add to one, by answering questions: from the ports to a file that `legwatch check` reads.

    It finds meters on a port or at an address, shows what each reads now, helps to choose its map, and asks what its
    channels measure: circuits with their legs, breakers and plans. Without SHOW it makes show.toml.

    Enter takes the answer in brackets; "back" returns to the question before; "quit" or Ctrl-C ends, and what was
    answered is kept beside the show file: the next setup goes on from there. What SHOW holds already stays as it is,
    comments too, but for what you change. Nothing is written before you say so, and the file as it was is kept as a
    copy. It needs no full terminal: answers may come from a pipe, one a line.

    Exit code: 0 done, or ended by you; 1 the answers ended before the end; 2 used wrongly.
    """
    before = _text_of(show_file)
    desk = _Desk(show_file)
    if before and (faults := _faults(before, show_file)):
        fail(f"{faults}\nlegwatch: mend these first; nothing was asked")
    click.echo(f'Enter takes what stands in brackets. "{BACK}" goes back, "{QUIT}" ends and keeps what you typed.')
    talk = Talk(_Lines(), desk.keep, desk.kept())
    try:
        talk.run(lambda one: _dialogue(one, show_file, before))
    except Quit as end:
        _left(show_file, early=bool(end.args))
    except KeyboardInterrupt:
        click.echo()
        _left(show_file, early=False)
    desk.clear()


def _left(show_file: Path, *, early: bool) -> NoReturn:
    click.echo(f"ended; {show_file} is as it was, and your answers are kept: legwatch setup {show_file} goes on")
    raise SystemExit(FOUND_WRONG if early else 0)


def _dialogue(talk: Talk, show_file: Path, before: str) -> None:
    """Ask everything, then write."""
    draft = ShowDraft(before or _HEAD)
    show_part(talk, draft, _zone())
    source_part(talk, draft)
    boxes_part(talk, draft)
    meters_part(talk, draft, Wires(show_file.parent))
    circuits_part(talk, draft)
    text = draft.text
    faults = _faults(text, show_file)
    if faults:
        talk.terminal.tell(f"\nNot written, the file would have faults; the last question comes again:\n{faults}")
        raise Back
    if text == before:
        talk.tell("\nNothing has changed.")
        return
    there = "; the one that is there stays as a copy" if before else ""
    if not talk.yes(f"\nWrite {show_file}{there}", default=None if before else True):
        talk.leave()
    _write(talk, show_file, before, text)


def _write(talk: Talk, show_file: Path, before: str, text: str) -> None:
    if _text_of(show_file) != before:
        fail(f"legwatch: {show_file} was changed meanwhile and is left as it is; your answers are kept: start again")
    draft = show_file.with_name(show_file.name + ".new")
    try:
        if before:
            stamp = datetime.fromtimestamp(now().wall_ms / 1000).astimezone().strftime("%Y%m%d-%H%M%S")
            copy = show_file.with_name(f"{show_file.name}.{stamp}")
            copy.write_text(before, encoding="utf-8")
            talk.tell(f"copy of the old one: {copy}")
        draft.write_text(text, encoding="utf-8")
        draft.replace(show_file)
    except OSError as error:
        fail(f"legwatch: {show_file} can't be written: {error.strerror}; your answers are kept, start setup again")
    talk.tell(f"written: {show_file}\nNext: legwatch check {show_file}, before any load is connected")


def _faults(text: str, show_file: Path) -> str:
    try:
        load_show_text(text, str(show_file), (show_file.parent, data("config/meters")))
    except FileFaults as faults:
        return str(faults)
    return ""


def _text_of(path: Path) -> str:
    try:
        return path.read_text(encoding="utf-8") if path.exists() else ""
    except (OSError, UnicodeDecodeError) as error:
        fail(f"legwatch: {path} can't be read: {error}")


def _zone() -> str:
    """Give the computer's own time zone."""
    link = os.path.realpath("/etc/localtime")
    return os.environ.get("TZ") or (link.partition("zoneinfo/")[2] or "UTC")


class _Lines:
    """Plain prompts on whatever terminal there is, or in a pipe."""

    def ask(self, prompt: str) -> str:
        """Ask for one line."""
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

    def tell(self, text: str) -> None:
        """Show a line."""
        click.echo(text)


class _Desk:
    """Keeps the journal beside the show file."""

    def __init__(self, show_file: Path) -> None:
        self._place = show_file.with_name(show_file.name + _ENDING)

    def kept(self) -> list[Entry]:
        """Give what was kept last time, where somebody wants to go on from there."""
        try:
            entries = [Entry(**entry) for entry in json.loads(self._place.read_text(encoding="utf-8"))]
        except (OSError, ValueError, TypeError):
            return []
        entries = Talk.kept(entries)
        if not entries:
            return []
        answers = sum(entry.kind == "answer" for entry in entries)
        click.echo(f"{answers} answers of last time are kept; the last: {entries[-1].question}: {entries[-1].value}")
        typed = _Lines().ask("Go on from there (y/n) [y]: ").strip().lower()
        return [] if typed.startswith("n") else entries

    def keep(self, journal: Sequence[Entry]) -> None:
        """Write the journal."""
        draft = self._place.with_name(self._place.name + ".new")
        try:
            draft.write_text(json.dumps([asdict(entry) for entry in journal], ensure_ascii=False), encoding="utf-8")
            draft.replace(self._place)
        except OSError as error:
            fail(f"legwatch: {self._place.parent} can't be written: {error.strerror}; name a SHOW in another folder")

    def clear(self) -> None:
        """Take the journal away: what it holds stands in the show file."""
        self._place.unlink(missing_ok=True)
