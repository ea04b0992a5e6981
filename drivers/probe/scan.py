"""Who answers on a bus: unit after unit, one short question each, at one line setting after another."""

from __future__ import annotations

import time
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from drivers.clock import monotonic
from drivers.errors import Corrupt, LinkDown, Refused, Silent
from drivers.links.opening import open_link
from drivers.maps.model import Table
from drivers.sunspec.search import BASES, MARKER

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable, Iterator, Sequence

    from drivers.bus.settings import BusSettings
    from drivers.links.contract import Link

REST_S = 0.02  # s between two questions (a judgement), so that another master's meter or a slow one gets its breath
QUIET_S = 0.05


@dataclass(frozen=True, slots=True)
class Answer:
    """What came back from one unit at one line setting.

    Attributes:
        settings: of the bus.
        unit: asked.
        tables: tables of which register 0 was given; empty where the meter only refused (it is there all the same).
        reply_s: from question to reply [s].
        whole: False where bytes came that are no frame: a wrong line setting, or two meters of one number.
        sunspec: holding register where it has the marker of a SunSpec meter, or None.

    """

    settings: BusSettings
    unit: int
    tables: tuple[Table, ...]
    reply_s: float
    whole: bool = True
    sunspec: int | None = None


def scan(
    settings: Iterable[BusSettings], units: Sequence[int], asked: Callable[[], None], *, everywhere: bool = False
) -> Iterator[Answer]:
    """Ask every unit at every line setting, and give what answers.

    Args:
        settings: line settings to try, the likeliest first.
        units: unit numbers.
        asked: called after each question.
        everywhere: go on with the other settings after one at which a meter answered.

    Raises:
        PortProblem: the port can't be opened.
        LinkDown: the port went away, or the address can't be connected to any more.

    """
    for setting in settings:
        link = open_link(setting)
        found = False
        try:
            for unit in units:
                try:
                    answer = _ask(link, setting, unit)
                except LinkDown:
                    if setting.port:
                        raise
                    link.close()  # many in a row kept still, which links take for a lost connection: is it there?
                    link, answer = open_link(setting), None
                asked()
                if answer is not None:
                    found = found or answer.whole
                    yield answer
        finally:
            link.close()
        if found and not everywhere:
            return


def line_settings(bus: BusSettings, bauds: Iterable[int], parities: Iterable[str]) -> tuple[BusSettings, ...]:
    """Give the settings of a serial bus at each baud [bit/s] and parity; no parity goes with its usual stop bit."""
    return tuple(replace(bus, baud=baud, parity=parity) for parity in parities for baud in bauds)


def _ask(link: Link, settings: BusSettings, unit: int) -> Answer | None:
    """Ask one unit for register 0 of the holding table, and where that is not given, of the input table."""
    tables: list[Table] = []
    began, reply_s = monotonic(), 0.0
    heard = garbled = False
    for table in (Table.HOLDING, Table.INPUT):
        began = monotonic()
        try:
            link.read(unit, table, 0, 1)
            tables.append(table)
            heard = True
        except Refused:
            heard = True
        except Silent:
            if not heard:
                break
        except Corrupt:
            garbled = True
            link.drain(QUIET_S)
        reply_s = reply_s or monotonic() - began
        time.sleep(REST_S)
    if not heard and not garbled:
        return None
    return Answer(settings, unit, tuple(tables), reply_s, heard, _marker(link, unit) if heard else None)


def _marker(link: Link, unit: int) -> int | None:
    """Look for the marker of a SunSpec meter at its usual places."""
    for base in BASES:
        try:
            if link.read(unit, Table.HOLDING, base, len(MARKER)) == MARKER:
                return base
        except Refused:
            continue
        except (Silent, Corrupt):
            link.drain(QUIET_S)
        finally:
            time.sleep(REST_S)
    return None
