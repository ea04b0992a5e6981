"""``legwatch service``."""

from __future__ import annotations

import os
import pwd
import shutil
import subprocess
import sys
import tempfile
from pathlib import Path
from typing import TYPE_CHECKING

import click

from monitor.cautions import SHORT
from monitor.cli.errors import fail, guarded
from monitor.cli.service_unit import Unit
from monitor.show.loading import load_show

if TYPE_CHECKING:
    from collections.abc import Sequence

UNITS = Path("/etc/systemd/system")
DATA = Path("/var/lib/legwatch")


@click.group(epilog=SHORT)
def command() -> None:
    """Have the system start the logger with the computer, and again after a crash."""


@command.command(epilog=SHORT)
@click.argument("show_file", metavar="SHOW", type=click.Path(path_type=Path))
@click.option("--log", "log_file", type=click.Path(path_type=Path), help="Default: /var/lib/legwatch/NAME.sqlite.")
@click.option("--name", default="legwatch", show_default=True, help="Of the service.")
@click.option("--user", default="legwatch", show_default=True, help="Who it runs as; made where there is none.")
@click.option("--replace", is_flag=True, help="Overwrite a service of this name.")
@click.option("--dry-run", is_flag=True, help="Print what would be written and run; change nothing.")
@guarded
def install(show_file: Path, log_file: Path | None, name: str, user: str, *, replace: bool, dry_run: bool) -> None:
    """Write a systemd service that logs SHOW, and start it.

    It runs as a user of its own that may open serial ports and write the log's folder, and nothing else. Who belongs
    to its group can watch the log and acknowledge. It counts as started once the first readings are committed; when
    no cycle ends for half a minute it is started again. What it prints goes to the journal: journalctl -u NAME.

    Exit code: 0 done; 1 systemd found a fault or a step failed; 2 used wrongly.
    """
    show_file = show_file.resolve()
    load_show(show_file)
    if not name.replace("-", "").replace("_", "").isalnum() or not user.replace("-", "").replace("_", "").isalnum():
        fail("legwatch: --name and --user are letters, digits and hyphens")
    log = (log_file or DATA / f"{show_file.stem}.sqlite").resolve()
    unit = Unit(_program(), show_file, log, user)
    place = UNITS / f"{name}.service"
    steps = _steps(user, log.parent, name)
    if dry_run:
        click.echo(f"# would write {place}:\n{unit.text()}")
        click.echo("# and run:\n" + "\n".join(" ".join(step) for step in steps))
        _verify(unit, name)
        return
    if os.geteuid() != 0:
        fail("legwatch: installing a service needs root: sudo, or look at it first with --dry-run")
    if place.exists() and not replace:
        fail(f"legwatch: {place} is there already: --replace overwrites it, --name makes another")
    _verify(unit, name)
    log.parent.mkdir(parents=True, exist_ok=True)
    place.write_text(unit.text(), encoding="utf-8")
    for step in steps:
        _run(step)
    click.echo(f"{name} is started; look: systemctl status {name}; watch: legwatch watch {log}")


def _program() -> Path:
    """Give the path of this legwatch."""
    beside = Path(sys.executable).with_name("legwatch")
    found = str(beside) if beside.exists() else shutil.which("legwatch")
    if not found:
        fail("legwatch: can't tell where legwatch is installed: run it by its full path")
    return Path(found)


def _steps(user: str, folder: Path, name: str) -> list[list[str]]:
    """Give the commands that install, in their order."""
    steps = [] if _known(user) else [["useradd", "--system", "--user-group", "--no-create-home", "-G", "dialout", user]]
    return [
        *steps,
        ["chown", f"{user}:{user}", str(folder)],
        ["chmod", "2770", str(folder)],
        ["systemctl", "daemon-reload"],
        ["systemctl", "enable", "--now", f"{name}.service"],
    ]


def _known(user: str) -> bool:
    try:
        pwd.getpwnam(user)
    except KeyError:
        return False
    return True


def _verify(unit: Unit, name: str) -> None:
    """Have systemd read the unit before it is put in place; where there is no systemd, say so."""
    if shutil.which("systemd-analyze") is None:
        fail("legwatch: this computer has no systemd; start `legwatch log SHOW` by its own means", 1)
    with tempfile.TemporaryDirectory() as folder:
        place = Path(folder) / f"{name}.service"
        place.write_text(unit.text(), encoding="utf-8")
        words = ["systemd-analyze", "verify", "--recursive-errors=no", str(place)]
        done = subprocess.run(words, capture_output=True, text=True, check=False)  # noqa: S603 - no shell
    if done.returncode:
        fail(f"legwatch: systemd finds a fault in the service:\n{done.stderr.strip()}", 1)
    click.echo("# systemd-analyze verify: no fault found", err=True)


def _run(step: Sequence[str]) -> None:
    done = subprocess.run(step, capture_output=True, text=True, check=False)  # noqa: S603 - steps of our own, no shell
    if done.returncode:
        fail(f"legwatch: {' '.join(step)} failed: {done.stderr.strip() or done.returncode}", 1)
