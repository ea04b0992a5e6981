"""``legwatch setup``."""

from __future__ import annotations

import os
from datetime import datetime
from pathlib import Path
from typing import TYPE_CHECKING, NoReturn, Protocol

import click

from drivers.clock import now
from drivers.files.faults import FileFaults
from monitor.cautions import SHORT
from monitor.cli.errors import FOUND_WRONG, fail, guarded
from monitor.cli.setup_plain import CantKeep, Desk, PlainFace
from monitor.cli.setup_wire import Wires
from monitor.places import data
from monitor.setup.draft import ShowDraft
from monitor.setup.meters import meters_part
from monitor.setup.outline import changes, outline
from monitor.setup.places import boxes_part, circuits_part, show_part, source_part
from monitor.setup.talk import BACK, QUIT, Back, Entry, Question, Quit, Talk, Terminal
from monitor.show.loading import load_show_text

if TYPE_CHECKING:
    from collections.abc import Callable
    from contextlib import AbstractContextManager

_HEAD = (
    "# Made by legwatch setup. Change it by hand or with legwatch setup again; legwatch check tells what is wrong.\n"
)


@click.command(epilog=SHORT)
@click.argument("show_file", metavar="[SHOW]", default="show.toml", type=click.Path(path_type=Path))
@click.option("--plain", is_flag=True, help="Plain prompts, one line after another, also on a full terminal.")
@guarded
def command(show_file: Path, *, plain: bool) -> None:
    """Make a show file, or add to one, by answering questions: from the ports to a file that `legwatch check` reads.

    It finds meters on a port or at an address, shows what each reads now, helps to choose its map, and asks what its
    channels measure: circuits with their legs, breakers, cables and plans. Without SHOW it makes show.toml.

    On a full terminal the questions stand on a screen, beside the show as it grows, and a meter's values are live while
    you say what they measure; elsewhere, and with --plain, they come one a line, and answers may come from a pipe.

    Enter takes the answer that is proposed; "back" (Esc on the screen) returns to the question before; "quit" or Ctrl-C
    ends, and what was answered is kept beside the show file: the next setup goes on from there, on the screen or plain.
    What SHOW holds already stays as it is, comments too, but for what you change. The last page shows what would be
    written; nothing is before you say so, and the file as it was is kept as a copy.

    Exit code: 0 done, or ended by you; 1 the answers ended before the end; 2 used wrongly.
    """
    try:
        before = _text_of(show_file)
        if before and (faults := _faults(before, show_file)):
            fail(f"{faults}\nlegwatch: mend these first; nothing was asked")
        if plain or _no_screen():
            click.echo(
                f'Enter takes what stands in brackets. "{BACK}" goes back, "{QUIT}" ends and keeps what you typed.'
            )
            converse(PlainFace(), show_file, before)
        else:
            from monitor.dashboard.setup.app import run_setup  # noqa: PLC0415 - loads Textual, only for the screen

            run_setup(str(show_file), lambda face: converse(face, show_file, before), click.echo)
    except CantKeep as problem:
        fail(f"legwatch: {problem}")
    except Quit as end:
        _left(show_file, early=bool(end.args))
    except KeyboardInterrupt:
        click.echo()
        _left(show_file, early=False)


class Face(Terminal, Protocol):
    """A terminal that also shows how far a search has come."""

    def steps(self, count: int) -> AbstractContextManager[Callable[[int], None]]:
        """Show the way of something of ``count`` steps; what it gives is called with each few that are done."""


def _no_screen() -> str:
    from monitor.dashboard.terminal import why_no_screen_here  # noqa: PLC0415 - as everywhere for screens

    return why_no_screen_here()


def converse(face: Face, show_file: Path, before: str) -> None:
    """Hold the conversation on a face, from what was kept of the last one."""
    desk = Desk(show_file)
    talk = Talk(face, desk.keep, _go_on(face, desk.kept()))
    talk.run(lambda one: _dialogue(one, face, show_file, before))
    desk.clear()


def _go_on(face: Face, entries: list[Entry]) -> list[Entry]:
    """Ask whether to go on from what was kept."""
    if not entries:
        return []
    answers = sum(entry.kind == "answer" for entry in entries)
    face.tell(f"{answers} answers of last time are kept; the last: {entries[-1].question}: {entries[-1].value}")
    typed = face.ask(Question("Go on from there (y/n)", "yes", "y", (("y", "yes"), ("n", "no, begin anew")))).strip()
    if typed == QUIT:
        raise Quit
    return [] if typed.lower().startswith("n") else entries


def _left(show_file: Path, *, early: bool) -> NoReturn:
    click.echo(f"ended; {show_file} is as it was, and your answers are kept: legwatch setup {show_file} goes on")
    raise SystemExit(FOUND_WRONG if early else 0)


def _dialogue(talk: Talk, face: Face, show_file: Path, before: str) -> None:
    """Ask everything, then write."""
    draft = ShowDraft(before or _HEAD)
    talk.so_far = lambda: outline(draft)
    show_part(talk, draft, _zone())
    source_part(talk, draft)
    boxes_part(talk, draft)
    meters_part(talk, draft, Wires(show_file.parent, face.steps))
    circuits_part(talk, draft)
    text = draft.text
    faults = _faults(text, show_file)
    if faults:
        face.tell(f"\nNot written, the file would have faults; the last question comes again:\n{faults}")
        raise Back
    if text == before:
        talk.tell("\nNothing has changed.")
        return
    there = "; the one that is there stays as a copy" if before else ""
    if not talk.yes(f"Write {show_file}{there}", default=None if before else True, page=changes(before, text)):
        talk.leave()
    _write(face, show_file, before, text)


def _write(face: Face, show_file: Path, before: str, text: str) -> None:
    if _text_of(show_file) != before:
        raise CantKeep(f"{show_file} was changed meanwhile and is left as it is; your answers are kept: start again")
    draft = show_file.with_name(show_file.name + ".new")
    try:
        if before:
            stamp = datetime.fromtimestamp(now().wall_ms / 1000).astimezone().strftime("%Y%m%d-%H%M%S")
            copy = show_file.with_name(f"{show_file.name}.{stamp}")
            copy.write_text(before, encoding="utf-8")
            face.tell(f"copy of the old one: {copy}")
        draft.write_text(text, encoding="utf-8")
        draft.replace(show_file)
    except OSError as error:
        why = error.strerror
        raise CantKeep(f"{show_file} can't be written: {why}; your answers are kept, start setup again") from error
    face.tell(f"written: {show_file}\nNext: legwatch check {show_file}, before any load is connected")


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
        raise CantKeep(f"{path} can't be read: {error}") from error


def _zone() -> str:
    """Give the computer's own time zone."""
    link = os.path.realpath("/etc/localtime")
    return os.environ.get("TZ") or (link.partition("zoneinfo/")[2] or "UTC")
