"""``legwatch probe --listen``: what comes from a meter that sends by itself."""

from __future__ import annotations

import json
import sys
from typing import TYPE_CHECKING

import click

from drivers.probe.listen import listen
from monitor.cli.errors import FOUND_WRONG, fail

if TYPE_CHECKING:
    from collections.abc import Iterator

    from drivers.probe.listen import Heard
    from monitor.cli.probe_asked import Asked

_NAMES = {
    "text": "lines of text that legwatch reads",
    "iec62056-21": "telegrams after IEC 62056-21",
    "modbus-rtu": "Modbus: another program or display asks the meters on this line",
}
_QUIET = """\
nothing came. Look at, in this order:
  power      the meter's display or lamp is on
  wires      its sending wire goes to our receiving one; some send only when a pin or a key asks for it
  patience   some send once in ten seconds: --seconds 15
  asked      most meters send nothing by themselves: legwatch probe without --listen asks them"""
_GARBLED = "bytes came that are no message at any of these speeds: give the meter's own speed with --baud"
_FIELDS = 12


def run(asked: Asked) -> None:
    """Listen, tell what came, and what to write into the show file."""
    settings = asked.listening()
    heard: list[Heard] = []
    length = round(10 * asked.seconds * len(settings))
    with click.progressbar(length=length, label="listening", file=sys.stderr) as bar:
        heard.extend(listen(settings, asked.seconds, lambda s: bar.update(max(1, round(10 * s)))))
    if asked.as_json:
        click.echo(json.dumps({"heard": [_json(one) for one in heard]}, indent=1, ensure_ascii=False))
    else:
        for line in _lines(heard):
            click.echo(line)
    if not heard[-1].guess.protocol:
        lost = heard[-1].lost
        fail(lost or (_GARBLED if any(one.count for one in heard) else _QUIET), FOUND_WRONG)


def _lines(heard: list[Heard]) -> Iterator[str]:
    for one in heard:
        settings, guess = one.settings, one.guess
        at = f"{settings.baud} {guess.data_bits}{guess.parity}1" if settings.port else settings.where
        what = _NAMES.get(guess.protocol, "no message that legwatch knows" if one.count else "nothing")
        damaged = f", {guess.damaged} not whole" if guess.damaged else ""
        whole = f"; {guess.messages} whole{damaged}" if guess.messages else ""
        yield f"{at}: {one.count} bytes, {what}{whole}"
        for line in guess.lines:
            yield f"    {line}"
    last = heard[-1]
    if last.guess.protocol in ("text", "iec62056-21"):
        yield from show_lines(last)
    elif last.guess.protocol:
        yield "\nOnly one may ask on a line: end the other program, then legwatch probe without --listen"


def show_lines(heard: Heard) -> Iterator[str]:
    """Give the lines for the show file, and what the newest message said."""
    guess, settings = heard.guess, heard.settings
    yield "\nIn the newest message:"
    for name, amounts in list(guess.fields.items())[:_FIELDS]:
        yield f"    {name}  {amounts[0].text} {amounts[0].unit}".rstrip()
    if len(guess.fields) > _FIELDS:
        yield f"    and {len(guess.fields) - _FIELDS} more"
    yield '\nIn the show file:\n[[bus]]\nid = "bus1"'
    yield f"port = {json.dumps(settings.port)}" if settings.port else f"tcp = {json.dumps(settings.where)}"
    yield f'protocol = "{guess.protocol}"'
    if settings.port:
        yield f'baud = {settings.baud}\nparity = "{guess.parity}"'
        if guess.data_bits != 8:  # noqa: PLR2004 - the show file's default
            yield f"data_bits = {guess.data_bits}"
    if guess.protocol == "text":
        yield "\nNext: a map that says which field is which, as config/meters/text-lines.toml does; then legwatch setup"
    else:
        yield "\nNext: legwatch setup, which shows what it measures and writes the show file"


def _json(heard: Heard) -> dict[str, object]:
    guess, settings = heard.guess, heard.settings
    return {
        "where": settings.where,
        "baud": settings.baud if settings.port else None,
        "data_bits": guess.data_bits,
        "parity": guess.parity,
        "bytes": heard.count,
        "protocol": guess.protocol or None,
        "messages": guess.messages,
        "damaged": guess.damaged,
        "fields": {name: [{"text": a.text, "unit": a.unit} for a in amounts] for name, amounts in guess.fields.items()},
        "lines": list(guess.lines),
    }
