"""Finds the map that a meter names, beside the show file first, then among those that come with legwatch."""

from __future__ import annotations

from typing import TYPE_CHECKING

from drivers.bus.settings import FIELD_PROTOCOLS, MODBUS_PROTOCOLS
from drivers.fields.mapfile import load_any_map
from drivers.files.checked import nearest
from drivers.files.faults import FileFaults

if TYPE_CHECKING:
    from collections.abc import Sequence
    from pathlib import Path

    from drivers.fields.model import FieldMap
    from drivers.files.faults import Fault
    from drivers.maps.model import MeterMap


class MapFiles:
    """Loads each map once and keeps its faults.

    Attributes:
        faults: what was wrong with the map files met so far.

    """

    def __init__(self, folders: Sequence[Path]) -> None:
        """Look in ``folders``, in that order."""
        self.faults: list[Fault] = []
        self._folders = tuple(folders)
        self._loaded: dict[Path, MeterMap | FieldMap | None] = {}

    def find(self, name: str) -> Path | None:
        """Give the file that ``name`` (a name with or without ``.toml``, or a path) means, or None."""
        tries = (folder / f"{name}{ending}" for folder in self._folders for ending in ("", ".toml"))
        return next((path for path in tries if name and _is_file(path)), None)

    def load(self, path: Path) -> MeterMap | FieldMap | None:
        """Give the map of a file, or None where it has faults, which are kept."""
        if path not in self._loaded:
            try:
                self._loaded[path] = load_any_map(path)
            except FileFaults as found:
                self.faults.extend(found.faults)
                self._loaded[path] = None
        return self._loaded[path]

    def unknown(self, name: str) -> str:
        """Say that ``name`` is no map: what is near, and where it was looked for."""
        looked = " and ".join(str(folder) for folder in self._folders)
        return f'no meter map "{name}"; {nearest(name, self._names())} (looked in {looked})'

    def known(self, protocol: str) -> str:
        """Name the maps for ``protocol`` that can be found."""
        return nearest("", tuple(name for name in self._names() if self._is_for(name, protocol)))

    def _is_for(self, name: str, protocol: str) -> bool:
        path = self.find(name)
        try:
            return path is not None and kind_of(load_any_map(path)) == kind_for(protocol)
        except FileFaults:  # of a map that nobody has named
            return False

    def _names(self) -> tuple[str, ...]:
        names = [path.stem for folder in self._folders for path in sorted(folder.glob("*.toml")) if _is_map(path)]
        return tuple(dict.fromkeys(names))


def map_name(given: str | None, protocol: str | None) -> str | None:
    """Give the map that a meter uses, which is the one that comes with legwatch where telegrams are named by OBIS."""
    return "telegram" if given is None and protocol == "iec62056-21" else given


def kind_of(loaded: MeterMap | FieldMap) -> str:
    """Give what a map is for, as its file's ``protocol`` says it."""
    return getattr(loaded, "protocol", "modbus")


def kind_for(protocol: str) -> str:
    """Give the kind of map that a meter on a bus of ``protocol`` needs, or nothing where it needs none."""
    if protocol in MODBUS_PROTOCOLS:
        return "modbus"
    return protocol if protocol in FIELD_PROTOCOLS else ""


def _is_file(path: Path) -> bool:
    try:
        return path.is_file()
    except OSError:  # a name too long for the file system
        return False


def _is_map(path: Path) -> bool:
    try:
        return "[[value]]" in path.read_text(encoding="utf-8")
    except (OSError, UnicodeDecodeError):
        return False
