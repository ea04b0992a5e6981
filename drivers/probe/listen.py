"""Listens on a port without sending anything, at one speed after another, until what comes can be told."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from drivers.clock import monotonic
from drivers.errors import LinkDown
from drivers.links.byte_stream import open_stream
from drivers.probe.heard import Guess, recognise

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable, Iterator

    from drivers.bus.settings import BusSettings

LOOK_S = 0.25
_MOST = 65_536
"""Bytes kept of one stretch."""
_ENOUGH = 3
"""So many whole messages, and there is no need to listen on."""


@dataclass(frozen=True, slots=True)
class Heard:
    """What came at one speed.

    Attributes:
        settings: of the port.
        count: bytes that came.
        guess: what they look like.
        lost: why listening ended early, or empty.

    """

    settings: BusSettings
    count: int
    guess: Guess
    lost: str = ""


def listen(settings: Iterable[BusSettings], seconds: float, looked: Callable[[float], None]) -> Iterator[Heard]:
    """Listen at each setting for ``seconds`` [s], and end after the first at which something is recognised.

    Args:
        settings: of one port or address, with eight data bits and no parity (see ``recognise``).
        seconds: how long at each [s].
        looked: called with the seconds that have passed since it was last called.

    Raises:
        PortProblem: the port can't be opened.

    """
    for setting in settings:
        heard = _at(setting, seconds, looked)
        yield heard
        if heard.guess.protocol or heard.lost:
            return


def _at(settings: BusSettings, seconds: float, looked: Callable[[float], None]) -> Heard:
    stream = open_stream(settings)
    data, lost = b"", ""
    begun_s = last_s = monotonic()
    try:
        while last_s - begun_s < seconds:
            came = stream.read(min(LOOK_S, seconds))
            now_s = monotonic()
            looked(now_s - last_s)
            last_s = now_s
            data = (data + came)[-_MOST:]
            if came and recognise(data).messages >= _ENOUGH:
                break
    except LinkDown as down:
        lost = str(down)
    finally:
        stream.close()
    return Heard(settings, len(data), recognise(data), lost)
