"""Who may open the dashboard in a browser: pure, asked for every page, file and socket.

A browser runs what any page tells it to. Without a token the names in ``Host`` must be those of this computer, so that
no foreign name can be made to point here; and a page of another origin is never answered, so that none can press keys.
"""

from __future__ import annotations

import hmac
import secrets
from dataclasses import dataclass
from enum import Enum
from ipaddress import ip_address
from urllib.parse import urlsplit

_TOKEN_BYTES = 16


class Answer(Enum):
    """What becomes of a request."""

    COME_IN = 200
    TOKEN_WANTED = 401
    REFUSED = 403


def is_loopback(address: str) -> bool:
    """Say whether an address or name is only reached from this computer."""
    if address.lower() == "localhost":
        return True
    try:
        return ip_address(address).is_loopback
    except ValueError:
        return False


def new_token() -> str:
    """Give a token that nobody can guess."""
    return secrets.token_urlsafe(_TOKEN_BYTES)


@dataclass(frozen=True, slots=True)
class Door:
    """The rule for one server.

    Attributes:
        token: must be shown; empty where the server is only reached from this computer and asks for none.

    """

    token: str = ""

    def fits(self, shown: str) -> bool:
        """Say whether a token is the right one, in a time that tells nothing about it."""
        return hmac.compare_digest(shown.encode(), self.token.encode())

    def answer(self, host: str, origin: str | None, shown: str) -> Answer:
        """Say what becomes of a request.

        Args:
            host: its ``Host``, with or without a port.
            origin: its ``Origin``; None where it has none.
            shown: the token that came with it, or empty.

        """
        if origin is not None and _netloc(origin) != host.lower():
            return Answer.REFUSED
        if not self.token:
            return Answer.COME_IN if is_loopback(_name(host)) else Answer.REFUSED
        return Answer.COME_IN if self.fits(shown) else Answer.TOKEN_WANTED


def _netloc(origin: str) -> str:
    try:
        return urlsplit(origin).netloc.lower()
    except ValueError:
        return ""


def _name(host: str) -> str:
    try:
        return urlsplit(f"//{host}").hostname or ""
    except ValueError:
        return ""
