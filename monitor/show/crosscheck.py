"""Everything that one table of a show file alone can't tell."""

from __future__ import annotations

from typing import TYPE_CHECKING
from zoneinfo import ZoneInfo, available_timezones

from drivers.files.checked import nearest
from monitor.show.check_breakers import check_breakers
from monitor.show.check_buses import check_buses
from monitor.show.check_meters import check_meters
from monitor.show.check_tree import check_tree
from monitor.show.draft import Draft, sound
from monitor.show.settings import check_settings

if TYPE_CHECKING:
    from collections.abc import Iterator

    from drivers.files.faults import Fault
    from monitor.show.mapfiles import MapFiles


def crosscheck(draft: Draft, maps: MapFiles | None) -> Iterator[Fault]:
    """Give every fault between the tables that could be read.

    Args:
        draft: the file's tables.
        maps: where register maps are; None leaves maps and channels unchecked.

    """
    yield from _timezone(draft)
    yield from check_tree(draft)
    yield from check_breakers(draft)
    yield from check_buses(draft)
    yield from check_meters(draft, maps)
    yield from check_settings(draft.located, ("alarms",), draft.alarms)
    for path, circuit in sound(draft.circuits):
        yield from check_settings(draft.located, (*path, "alarms"), circuit.alarms)


def _timezone(draft: Draft) -> Iterator[Fault]:
    if draft.show is None:
        return
    name = draft.show.timezone
    try:
        ZoneInfo(name)
    except (KeyError, ValueError, OSError):  # unknown; not a plain name; a folder of the time zone database
        near = nearest(name, tuple(sorted(available_timezones())))
        hint = near if near.startswith("did") else 'write it like "America/Halifax" or "Europe/Vienna"'
        yield draft.located.fault(("show", "timezone"), f'no time zone is called "{name}"; {hint}')
