"""Loads a show file: a whole, checked show, or every fault of it at once."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from drivers.files.faults import FileFaults
from drivers.files.located import parse, read
from monitor.places import data
from monitor.show.building import build
from monitor.show.crosscheck import crosscheck
from monitor.show.draft import read_draft
from monitor.show.mapfiles import MapFiles

if TYPE_CHECKING:
    from collections.abc import Sequence

    from drivers.files.located import LocatedToml
    from monitor.show.model import Show


def load_show(path: str | Path) -> Show:
    """Load the show file at ``path``; its register maps are looked for beside it, then among legwatch's own.

    Raises:
        FileFaults: every fault of the file, and of the register maps it names.

    """
    return _load(read(str(path)), MapFiles((Path(path).parent, data("config/meters"))))


def load_show_text(text: str, file: str, map_dirs: Sequence[Path] = (), *, with_maps: bool = True) -> Show:
    """Load a show from its text.

    Args:
        text: the file's text.
        file: its name, for messages.
        map_dirs: where to look for register maps, in that order.
        with_maps: False loads no maps (every ``Meter.map`` is None) and checks no channels: for a text that was
            checked before and whose maps may be elsewhere, such as the one kept in a log.

    Raises:
        FileFaults: every fault of the text, and of the register maps it names.

    """
    return _load(parse(text, file), MapFiles(map_dirs) if with_maps else None)


def _load(located: LocatedToml, maps: MapFiles | None) -> Show:
    draft, faults = read_draft(located)
    faults.extend(crosscheck(draft, maps))
    if faults:
        raise FileFaults(tuple(dict.fromkeys(faults)))
    return build(draft, maps)
