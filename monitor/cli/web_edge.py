"""``legwatch watch --web``: the address, the token, the words before it serves."""

from __future__ import annotations

import importlib.util
import os
import shlex
import socket
import sys
from ipaddress import ip_address
from typing import TYPE_CHECKING

import click

from monitor.cli.errors import fail
from monitor.dashboard.web.door import Door, is_loopback, new_token

if TYPE_CHECKING:
    from pathlib import Path

_NEEDED = ("textual_serve", "aiohttp")
_WARNING = (
    "legwatch: WARNING: {host} can be reached from other computers. Whoever has the token sees this screen and can "
    "acknowledge and shelve alarms. Nothing is encrypted: on a network that you don't trust the token can be read too."
)


def serve_web(log_file: Path, title: str, host: str, port: int) -> None:
    """Serve the dashboard of a log to browsers until Ctrl-C.

    Args:
        log_file: the log; it was read once already.
        title: of the page.
        host: address to listen on; a token is asked for where it is not loopback.
        port: 0 takes a free one.

    """
    if any(importlib.util.find_spec(name) is None for name in _NEEDED):
        fail("legwatch: --web needs what is not installed here: pip install 'legwatch[web]'")
    from monitor.dashboard.web.server import Site, serve  # noqa: PLC0415 - only there where the extra is installed

    listening = _bound(host, port)
    port = listening.getsockname()[1]
    door = Door("" if is_loopback(host) else new_token())
    if door.token:
        click.echo(_WARNING.format(host=host), err=True)
    click.echo(f"{title} is at {_address(host, port, door.token)}")
    click.echo("Ctrl-C ends this and every screen in a browser; the logger goes on.", err=True)
    command = [sys.executable, "-P", "-m", "monitor.cli.web_screen", str(log_file.resolve())]
    serve(Site(f"exec {shlex.join(command)}", title, door, port), listening)  # no shell stays between the two


def _bound(host: str, port: int) -> socket.socket:
    try:
        family = socket.getaddrinfo(host, port, type=socket.SOCK_STREAM)[0][0]
        return socket.create_server((host, port), family=family)
    except OSError as error:
        reason = os.strerror(error.errno) if error.errno and error.errno > 0 else error.strerror or str(error)
        fail(f"legwatch: can't listen on {host} port {port}: {reason}; try another --port or --host")


def _address(host: str, port: int, token: str) -> str:
    try:
        found = ip_address(host)
    except ValueError:
        name = host
    else:
        name = socket.gethostname() if found.is_unspecified else f"[{host}]" if ":" in host else host
    return f"http://{name}:{port}/{f'?token={token}' if token else ''}"
