"""Sentences for a terminal of any width, and numbers with what they count."""

from __future__ import annotations

import shutil
import sys
import textwrap

import click

_NARROWEST = 40
_IN_A_PIPE = 80


def columns() -> int:
    """Give how many columns to print in: the terminal's, 80 in a pipe."""
    return max(_NARROWEST, shutil.get_terminal_size().columns) if sys.stdout.isatty() else _IN_A_PIPE


def say(text: str, indent: str = "") -> None:
    """Print a sentence, broken between words where a terminal is too narrow; whole in a pipe."""
    if sys.stdout.isatty():
        text = textwrap.fill(text, columns(), subsequent_indent=indent, break_long_words=False, break_on_hyphens=False)
    click.echo(text)


def counted(number: int, word: str) -> str:
    """Give ``1 meter`` or ``2 meters``."""
    return f"{number} {word}" if number == 1 else f"{number} {word}s"
