"""OBIS codes as meters write them, and the data lines that carry them.

``A-B:C.D.E*F`` in full; meters leave out A-B, E and F as they like. C is what is measured, D how (7 now, 8 summed
up), E the tariff (0 all of them), F the billing period (255 or left out: the present). Source: notes on
IEC 62056-21 and on the reduced codes of IEC 62056-61; see the tests.
"""

from __future__ import annotations

import re
from typing import TYPE_CHECKING

from drivers.errors import Corrupt
from drivers.fields.model import Amount

if TYPE_CHECKING:
    from collections.abc import Iterator

    from drivers.fields.model import Fields

CODE = re.compile(
    r"((?P<a>\d{1,3})-(?P<b>\d{1,3}):)?(?P<c>[0-9A-Z]{1,3})\.(?P<d>[0-9A-Z]{1,3})(\.(?P<e>\d{1,3}))?([*&](?P<f>\d{1,3}))?",
    re.ASCII,
)
_LINE = re.compile(r"(?P<code>[^()/!]*)(?P<groups>(\([^()]*\))+)", re.ASCII)
_GROUP = re.compile(r"\(([^()]*)\)")
_ELECTRICITY = "1-"
_PRESENT = (None, "255")


def canonical(code: str) -> str | None:
    """Give a code in one spelling: E always, F only where it is a past period; None where it is no code."""
    found = CODE.fullmatch(code)
    if found is None:
        return None
    head = f"{int(found['a'])}-{int(found['b'])}:" if found["a"] else ""
    period = "" if found["f"] in _PRESENT else f"*{found['f']}"
    return f"{head}{found['c'].lstrip('0') or '0'}.{found['d'].lstrip('0') or '0'}.{int(found['e'] or 0)}{period}"


def _names(code: str) -> Iterator[str]:
    """Give the names under which the amount of ``code`` is found; an electricity code is found without A-B too."""
    whole = canonical(code)
    if whole is not None:
        head, colon, tail = whole.partition(":")
        yield whole
        if colon and head.startswith(_ELECTRICITY):
            yield tail


def fields_of(lines: str) -> Fields:
    """Read the data lines of one telegram: each amount under its code, and an electricity code's without A-B too.

    Raises:
        Corrupt: a line is none.

    """
    found: dict[str, list[Amount]] = {}
    for line in lines.splitlines():
        for code, amount in _line(line.strip()):
            for name in _names(code):
                found.setdefault(name, []).append(amount)
    return {name: tuple(amounts) for name, amounts in found.items()}


def _line(line: str) -> Iterator[tuple[str, Amount]]:
    """Read one line: one data set, or several in a row (``1.8.0(1*kWh)1.8.1(2*kWh)``)."""
    at = 0
    while at < len(line):
        found = _LINE.match(line, at)
        if found is None:
            raise Corrupt(f'"{line[:40]}" is no data line')
        groups = _GROUP.findall(found["groups"])
        if found["code"].strip():
            text, _, unit = groups[0].partition("*")
            yield found["code"].strip(), Amount(text.strip(), unit.strip())
        at = found.end()
