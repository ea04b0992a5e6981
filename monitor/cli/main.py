"""The command ``legwatch``: each command lives in its own file and is loaded only when it is called."""

from __future__ import annotations

import importlib
from typing import TYPE_CHECKING

import click

from monitor.cautions import SHORT

if TYPE_CHECKING:
    from collections.abc import Mapping

COMMANDS: Mapping[str, str] = {
    "demo": "the whole thing on virtual meters, no hardware needed",
    "run": "poll, log and watch one set's power on the dashboard",
    "log": "poll and log without a screen",
    "watch": "open the dashboard on a log that another process writes",
    "probe": "find ports and meters, look into registers, find the one that reads a known value",
    "setup": "make a show file by answering questions: ports, meters, circuits",
    "check": "read a show file, then each of its meters once",
    "replay": "run recorded readings through the same judgement, into a log",
    "review": "list what happened: incidents with their evidence, one in detail",
    "report": "one HTML file of an incident, a shift or the fuel, for others to read",
    "export": "readings, minutes or events as CSV or Parquet",
    "alarms": "list a log's alarms, their history or their statistics",
    "ack": "acknowledge an alarm, with a name",
    "shelve": "put an alarm aside for a time, with a name and a reason",
    "note": "write a note into a log, with a name",
    "refuel": "write a refuel into a log, with a name",
    "snapshot": "copy a log beside its running logger, checked",
    "repair": "carry over what can still be read of a damaged log",
    "doctor": "look at the computer below: versions, ports, rights, disk, clock",
    "service": "have the system start the logger with the computer",
    "plan": "the load schedule before any power flows: headroom, drop, balance",
    "breaker": "soonest and latest opening that a standard allows at one load",
}


class LazyGroup(click.Group):
    """A group whose commands are imported when they are called, so that ``--help`` and small commands start fast."""

    def list_commands(self, ctx: click.Context) -> list[str]:
        """Give the names, in the order of a working day."""
        del ctx
        return list(COMMANDS)

    def get_command(self, ctx: click.Context, cmd_name: str) -> click.Command | None:
        """Load one command."""
        del ctx
        if cmd_name not in COMMANDS:
            return None
        command = importlib.import_module(f"monitor.cli.{cmd_name}_command").command
        assert isinstance(command, click.Command)  # noqa: S101 - for the type checker
        return command

    def format_commands(self, ctx: click.Context, formatter: click.HelpFormatter) -> None:
        """List the commands without loading them."""
        del ctx
        with formatter.section("Commands"):
            formatter.write_dl(list(COMMANDS.items()))


@click.group(cls=LazyGroup, epilog=SHORT, context_settings={"help_option_names": ["-h", "--help"]})
@click.version_option(package_name="legwatch")
def main() -> None:
    """Watch the load on every circuit of temporary power on a film, television or event set, and log it.

    legwatch polls power meters over serial or Modbus, logs volts, amps and hertz of every circuit to SQLite, and
    compares them with the planned load and the breaker ratings that a show file describes.

    Start with `legwatch demo`. Each command has its own --help.
    """


if __name__ == "__main__":
    main()
