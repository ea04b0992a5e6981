"""The show file that was in force: the whole of it, or what a list of incidents needs."""

from __future__ import annotations

import tomllib
from dataclasses import dataclass
from typing import TYPE_CHECKING

from monitor.log.problems import LogProblem
from monitor.show.model import SOURCE_ID

if TYPE_CHECKING:
    from monitor.log.reader import LogReader, ShowVersion
    from monitor.review.wording import Names
    from monitor.show.model import Show


@dataclass(frozen=True, slots=True)
class ShowThen:
    """The show file that was in force at a time.

    Attributes:
        version: as the log has it.
        show: what it says, without register maps.

    """

    version: ShowVersion
    show: Show


def version_at(reader: LogReader, time_ms: int | None, name: str) -> ShowVersion:
    """Give the version of the show file in force at a time [ms, the log's clock]; None: the newest.

    Args:
        reader: of the log.
        time_ms: a time before the first version gives the first.
        name: of the log, for messages.

    Raises:
        LogProblem: the log has none.

    """
    versions = reader.shows()
    if not versions:
        raise LogProblem("other", f"{name} holds no show yet: wait for its logger to start, or start one")
    then = [version for version in versions if time_ms is None or version.from_ms <= time_ms]
    return then[-1] if then else versions[0]


def show_at(reader: LogReader, time_ms: int | None, name: str) -> ShowThen:
    """Give the show file in force, with what it says; see ``version_at``.

    Raises:
        LogProblem: the log has none.
        FileFaults: it can't be read any more.

    """
    from monitor.show.loading import load_show_text  # noqa: PLC0415 - its checks take 0.15 s to load; a list needs none

    version = version_at(reader, time_ms, name)
    return ShowThen(version, load_show_text(version.text, name, with_maps=False))


@dataclass(frozen=True, slots=True)
class Glance:
    """What a list needs of a show.

    Attributes:
        name: of the show.
        timezone: IANA name.
        names: of places.

    """

    name: str
    timezone: str
    names: Names


def glance_at(reader: LogReader, name: str) -> Glance:
    """Read the newest show file without checking it again: it was checked when it came into the log.

    Raises:
        LogProblem: the log has none.

    """
    text = version_at(reader, None, name).text
    try:
        data = tomllib.loads(text)
        names = {SOURCE_ID: data["source"].get("name", SOURCE_ID)}
        names |= {entry["id"]: entry.get("name", "") for kind in ("feeder", "circuit") for entry in data.get(kind, ())}
        return Glance(data["show"]["name"], data["show"]["timezone"], names)
    except (tomllib.TOMLDecodeError, KeyError, TypeError, AttributeError):
        raise LogProblem("other", f"the show file in {name} can't be read: was another program at the log?") from None
