"""Ports and answers as text and JSON."""

from __future__ import annotations

import json
from typing import TYPE_CHECKING

import click

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from drivers.bus.settings import BusSettings
    from drivers.probe.ports import SerialPort
    from drivers.probe.scan import Answer


def print_ports(ports: Sequence[SerialPort]) -> None:
    """Print each port under its steadiest name."""
    for port in ports:
        names = [name for name in (port.by_id, port.by_path, port.device) if name]
        click.echo(names[0])
        for line in (*names[1:], port.about):
            if line:
                click.echo(f"    {line}")
        if not port.usable:
            click.echo("    may not be opened by you: join the group that owns it (often dialout), then log in again")
    click.echo("\nA by-id name stays with its adapter: write that one into the show file.")
    click.echo("Next: legwatch probe --port NAME")


def ports_json(ports: Sequence[SerialPort]) -> dict[str, object]:
    """Give the ports as one object."""
    rows = [
        {"device": p.device, "by_id": p.by_id, "by_path": p.by_path, "about": p.about, "usable": p.usable}
        for p in ports
    ]
    return {"ports": rows}


def answer_line(answer: Answer) -> str:
    """Say what one unit answered."""
    at = _line(answer.settings)
    if not answer.whole:
        return (
            f"unit {answer.unit:>3}  {at}: bytes came, but no whole reply (line setting, or two meters of one number)"
        )
    gives = " and ".join(table.value for table in answer.tables)
    what = f"gives {gives} registers" if gives else "answers, but gives no register 0"
    if answer.sunspec is not None:
        what = f"a SunSpec meter (its marker stands at {answer.sunspec})"
    return f"unit {answer.unit:>3}  {at}: {what}, {1000 * answer.reply_s:.0f} ms"


def answer_json(answer: Answer) -> dict[str, object]:
    """Give one answer as an object."""
    settings = answer.settings
    return {
        "unit": answer.unit,
        "protocol": settings.protocol,
        "where": settings.where,
        "baud": settings.baud if settings.port else None,
        "parity": settings.parity if settings.port else None,
        "tables": [table.value for table in answer.tables],
        "reply_ms": round(1000 * answer.reply_s, 1),
        "whole": answer.whole,
        "sunspec": answer.sunspec,
    }


def what_next(answer: Answer) -> Iterator[str]:
    """Give the lines for the show file, and the next command to try."""
    settings = answer.settings
    yield "\nIn the show file:\n[[bus]]"
    yield 'id = "bus1"'
    yield f"port = {json.dumps(settings.port)}" if settings.port else f"tcp = {json.dumps(settings.where)}"
    protocol = show_protocol(answer)
    yield f'protocol = "{protocol}"'
    where, line = f"--tcp {settings.where}", ""
    if settings.port:
        yield f'baud = {settings.baud}\nparity = "{settings.parity}"'
        where, line = f"--port {settings.port}", f" --baud {settings.baud} --parity {settings.parity}"
    if protocol != settings.protocol:
        yield f'[[meter]]\nbus = "bus1"\nunit = {answer.unit}\npoints = {{ l1 = "source/L1" }}'
        yield "\nNext: legwatch setup, which shows what it measures and writes the show file"
        return
    yield f"\nNext: legwatch probe {where} --protocol {settings.protocol}{line} --units {answer.unit} --dump"
    yield "or, with a map for it at hand: legwatch setup"


def show_protocol(answer: Answer) -> str:
    """Give the protocol that the show file needs for what answered."""
    carried = {"modbus-rtu": "sunspec-rtu", "modbus-tcp": "sunspec-tcp"}
    protocol = answer.settings.protocol
    return protocol if answer.sunspec is None else carried.get(protocol, protocol)


def _line(settings: BusSettings) -> str:
    if not settings.port:
        return settings.where
    return f"{settings.baud} {settings.data_bits}{settings.parity}{settings.stop_bits}"
