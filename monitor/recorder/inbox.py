"""Requests from other processes, as files beside the log: nobody but the logger writes the log itself.

Each request is one small JSON file in the folder ``LOG.requests``, written under another name and renamed, so that
the logger never reads half of one. The logger takes them once a cycle and removes them.
"""

from __future__ import annotations

import json
import os
from pathlib import Path
from typing import TYPE_CHECKING

from monitor.engine.requests import Request

if TYPE_CHECKING:
    from collections.abc import Iterator

_LARGEST = 10_000  # bytes of one request
_MOST = 100  # requests taken in one cycle


def folder_of(log_path: Path) -> Path:
    """Give the folder of a log's requests."""
    return log_path.with_name(log_path.name + ".requests")


def post(log_path: Path, request: Request) -> None:
    """Leave a request for the logger of a log.

    Raises:
        OSError: it can't be written there.

    """
    folder = folder_of(log_path)
    folder.mkdir(mode=0o770, exist_ok=True)
    place = folder / f"{request.number}.json"
    draft = place.with_suffix(".draft")
    draft.write_text(json.dumps(request.as_data(), ensure_ascii=False), encoding="utf-8")
    draft.rename(place)


def collect(log_path: Path) -> Iterator[Request | str]:
    """Take the waiting requests, oldest first; a file that is none gives the reason in plain words. Removes them."""
    try:
        with os.scandir(folder_of(log_path)) as entries:
            found = sorted((e.stat().st_mtime_ns, e.path) for e in entries if e.name.endswith(".json"))
    except OSError:
        return  # no folder: nobody has asked anything yet
    for _, name in found[:_MOST]:
        yield _taken(Path(name))


def _taken(place: Path) -> Request | str:
    try:
        with place.open("rb") as stream:
            raw = stream.read(_LARGEST + 1)
        place.unlink()
        if len(raw) > _LARGEST:
            return f"the request {place.name} is too long"
        return Request.from_data(json.loads(raw))
    except (OSError, ValueError, RecursionError) as error:
        return f"the request {place.name} can't be used: {error}"
