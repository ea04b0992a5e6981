"""The alarm settings a show file may change: their names, meaning, plausible range and default per region.

They are data, in ``config/standards/defaults.toml``, where each default names its source.
"""

from __future__ import annotations

import tomllib
from dataclasses import dataclass
from functools import cache
from types import MappingProxyType
from typing import TYPE_CHECKING, Any

from drivers.files.checked import nearest
from monitor.places import data

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping

    from drivers.files.faults import Fault
    from drivers.files.located import LocatedToml, Path
    from monitor.show.model import Region


@dataclass(frozen=True, slots=True)
class Setting:
    """One alarm setting.

    Attributes:
        name: as written in a show file.
        unit: of its value.
        meaning: in plain words.
        low: lowest value that can be right [unit].
        high: highest value that can be right [unit].
        defaults: by region [unit].
        source: where the defaults come from, or that they are a judgement.

    """

    name: str
    unit: str
    meaning: str
    low: float
    high: float
    defaults: Mapping[Region, float]
    source: str


@cache
def known_settings() -> Mapping[str, Setting]:
    """Give every alarm setting, by name."""
    tables = tomllib.loads(data("config/standards/defaults.toml").read_text(encoding="utf-8"))
    return MappingProxyType({name: _setting(name, table) for name, table in tables.items()})


def _setting(name: str, table: dict[str, Any]) -> Setting:
    return Setting(
        name=name,
        unit=table["unit"],
        meaning=table["meaning"],
        low=float(table["low"]),
        high=float(table["high"]),
        defaults=MappingProxyType(
            {"north-america": float(table["north-america"]), "europe": float(table["europe"])},
        ),
        source=table["source"],
    )


def with_defaults(region: Region, own: Mapping[str, float]) -> Mapping[str, float]:
    """Give every setting's value: the show's own, else the region's default."""
    return MappingProxyType(
        {name: float(own.get(name, setting.defaults[region])) for name, setting in known_settings().items()}
    )


def check_settings(located: LocatedToml, at: Path, found: Mapping[str, Any]) -> Iterator[Fault]:
    """Give a fault for each name that is no setting and each value that can't be right.

    Args:
        located: the show file.
        at: path of the table.
        found: the table.

    """
    settings = known_settings()
    for name, value in found.items():
        where = (*at, name)
        if name not in settings:
            yield located.fault(where, f"unknown setting; {nearest(name, tuple(settings))}")
        elif isinstance(value, bool) or not isinstance(value, int | float):
            yield located.fault(where, f"must be a number ({settings[name].unit})")
        elif not settings[name].low <= value <= settings[name].high:
            limits = f"{settings[name].low:g} to {settings[name].high:g}"
            yield located.fault(where, f"found {value}; must be {limits} ({settings[name].unit})")
