"""The places of points against pysunspec2's copy of the published model definitions."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest
import sunspec2
from sunspec2 import mb

from drivers.sunspec.models import NO_SCALE, NOT_IMPLEMENTED, families, family_of

NUMBERS = [201, 202, 203, 204, 211, 212, 213, 214, 701]


def published(number: int) -> dict[str, dict[str, Any]]:
    """Give the points of a model with their offsets, by name."""
    path = Path(sunspec2.__file__).parent / "models" / "json" / f"model_{number}.json"
    at, points = 0, {}
    for point in json.loads(path.read_text(encoding="utf-8"))["group"]["points"]:
        points[point["name"]] = {**point, "at": at}
        at += point["size"]
    return points


def test_the_meter_models_are_all_there() -> None:
    """Integers, floats and the newer one."""
    assert sorted(number for family in families() for number in family.models) == NUMBERS


@pytest.mark.parametrize("number", NUMBERS)
def test_every_point_is_where_the_definition_has_it(number: int) -> None:
    """Offset, type and scale factor of each point that is read."""
    family, points = family_of(number), published(number)
    assert family is not None
    for name, place in family.points.items():
        point = points[name]
        assert (place.at, place.type) == (point["at"], point["type"]), name
        assert place.scale == (points[point["sf"]]["at"] if point.get("sf") else None), name
    if family.legs_from is not None:
        assert points["ACType"]["at"] == family.legs_from


@pytest.mark.parametrize("number", NUMBERS)
def test_every_quantity_is_taken_from_a_point_of_its_unit(number: int) -> None:
    """By the definitions' units; what has none there is a power factor."""
    units = {"V": "volts", "A": "amps", "W": "watts", "VA": "volt_amperes", "Var": "vars", "var": "vars", "Hz": "hertz"}
    units |= {"Wh": "watt_hours", "PF": "power_factor"}
    family, points = family_of(number), published(number)
    assert family is not None
    for names in (*family.legs, family.whole):
        for quantity, name in names.items():
            assert units[points[name].get("units") or "PF"] == quantity, name


@pytest.mark.parametrize("kind", [kind for kind in NOT_IMPLEMENTED if kind != "float32"])
def test_what_is_not_implemented(kind: str) -> None:
    """The patterns of pysunspec2, as raw bits."""
    given = {
        "int16": mb.SUNS_UNIMPL_INT16,
        "uint16": mb.SUNS_UNIMPL_UINT16,
        "uint32": mb.SUNS_UNIMPL_UINT32,
        "acc32": mb.SUNS_UNIMPL_ACC32,
        "uint64": mb.SUNS_UNIMPL_UINT64,
    }[kind]
    bits = 16 if kind.endswith("16") else 64 if kind.endswith("64") else 32
    assert [one % 2**bits for one in NOT_IMPLEMENTED[kind]] == [given % 2**bits]
    assert mb.SUNS_UNIMPL_SUNSSF % 2**16 == NO_SCALE


def test_a_float_that_is_not_implemented_is_a_quiet_nan() -> None:
    """The bits that pysunspec2 has for it, and the same with the other sign."""
    assert NOT_IMPLEMENTED["float32"] == (mb.SUNS_UNIMPL_FLOAT32, mb.SUNS_UNIMPL_FLOAT32 | 1 << 31)
