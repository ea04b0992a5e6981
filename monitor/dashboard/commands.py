"""What the list of commands holds: every key of the screen in front, and every circuit."""

from __future__ import annotations

from functools import partial
from typing import TYPE_CHECKING

from textual.app import SystemCommand

from monitor.dashboard.pieces import clean
from monitor.dashboard.screens import PowerScreen

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator

    from textual.screen import Screen

_NOT_LISTED = frozenset({"", "c", "down", "right", "pagedown"})  # this list itself, and what moves about
ASKED = "What to do, or which circuit?"


def commands(
    screen: Screen[object], press: Callable[[str], None], show: Callable[[str], None]
) -> Iterator[SystemCommand]:
    """Give the commands of a screen.

    Args:
        screen: in front.
        press: presses a key by its name.
        show: opens a circuit by its id.

    """
    if not isinstance(screen, PowerScreen):
        return
    for hint in screen.all_hints():
        if hint.press not in _NOT_LISTED:
            yield SystemCommand(hint.does, f"key {hint.shown}", partial(press, hint.press))
    for circuit in screen.snapshot.circuits:
        name = "" if circuit.name == circuit.id else f" {clean(circuit.name)}"
        yield SystemCommand(f"circuit {clean(circuit.id)}{name}", "opens it", partial(show, circuit.id))
