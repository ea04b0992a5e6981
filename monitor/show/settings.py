"""The alarm settings a show file may change: their names, meaning, plausible range and default per region.

They are data, each default with its source: limits in ``config/standards/defaults.toml``, the delays and the deadband
of each alarm rule with the rule in ``config/standards/alarms.toml``.
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

_URGENT_SECONDS, _LONGEST_SECONDS, _WIDEST_PERCENT = 60.0, 7200.0, 25.0  # no on-delay may hide what is urgent


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
    settings = [_setting(name, table) for name, table in _table("defaults").items()]
    for code, rule in _table("alarms")["rule"].items():
        settings += _timings(code, rule)
    return MappingProxyType({setting.name: setting for setting in settings})


def _table(name: str) -> dict[str, Any]:
    return tomllib.loads(data(f"config/standards/{name}.toml").read_text(encoding="utf-8"))


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


def _timings(code: str, rule: dict[str, Any]) -> Iterator[Setting]:
    """Give the settings of one alarm rule's timing: code_on_seconds, code_off_seconds and code_deadband."""
    longest_on = _URGENT_SECONDS if rule["priority"] == "urgent" else _LONGEST_SECONDS
    for key, unit, meaning, high in (
        ("on_seconds", "s", "seen for this long without a break before it is raised", longest_on),
        ("off_seconds", "s", "gone for this long before it clears", _LONGEST_SECONDS),
        ("deadband", "% of its limit", "how far the value must come back before it counts as gone", _WIDEST_PERCENT),
    ):
        if key in rule:
            value, name = float(rule[key]), f"{code.replace('-', '_')}_{key}"
            defaults: Mapping[Region, float] = MappingProxyType({"north-america": value, "europe": value})
            yield Setting(name, unit, f"{code}: {meaning}", 0.0, high, defaults, rule["timing"])


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
