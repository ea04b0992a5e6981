"""A range of registers, as far as the meter gives it."""

from __future__ import annotations

from typing import TYPE_CHECKING

from drivers.errors import Corrupt, Refused, Silent

if TYPE_CHECKING:
    from collections.abc import Callable

    from drivers.links.contract import Link
    from drivers.maps.model import Table

MOST = 60  # registers in one question: some meters give no more
TRIES = 2
QUIET_S = 0.2  # s of silence after which nothing is under way any more (a judgement)


def read_range(
    link: Link, unit: int, table: Table, first: int, last: int, asked: Callable[[int], None] = lambda _: None
) -> dict[int, int]:
    """Read registers ``first`` to ``last`` (from 0, both included); those that the meter refuses are left out.

    A refused stretch is halved until what it gives is found, so that a hole in a meter's table hides nothing.

    Args:
        link: open.
        unit: of the meter.
        table: holding or input.
        first: first register.
        last: last register.
        asked: called with the number of registers settled by each question.

    Raises:
        Silent: the meter does not answer.
        Corrupt: only broken frames came.
        LinkDown: the port went away.

    """
    found: dict[int, int] = {}
    stretches = [(start, min(start + MOST - 1, last)) for start in range(first, last + 1, MOST)]
    while stretches:
        start, end = stretches.pop(0)
        try:
            registers = _read(link, unit, table, start, end - start + 1)
        except Refused:
            if start == end:
                asked(1)
                continue
            middle = (start + end) // 2
            stretches[:0] = [(start, middle), (middle + 1, end)]
        else:
            found.update(zip(range(start, end + 1), registers, strict=True))
            asked(end - start + 1)
    return found


def _read(link: Link, unit: int, table: Table, start: int, count: int) -> tuple[int, ...]:
    """Read once more after a lost or broken reply; nothing that is still under way is taken for the next one."""
    for left in reversed(range(TRIES)):
        try:
            return link.read(unit, table, start, count)
        except (Silent, Corrupt):
            link.drain(QUIET_S)
            if not left:
                raise
    raise AssertionError
