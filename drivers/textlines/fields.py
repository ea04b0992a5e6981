"""One line of text to its fields, strictly: a line that is not whole from end to end gives nothing.

Two forms are read: a JSON object (fields inside it by dotted names, ``l1.volts``, places in a list from 0), and
``key=value`` separated by commas, semicolons, spaces or tabs, where a number may carry its unit (``volts=120.4V``).
Either may end with ``*`` and two hexadecimal digits: the exclusive or of all characters before the ``*``, a ``$`` at
the start not counted (the check of NMEA 0183, from memory). Without a check the wire's own mistakes can pass for
numbers; with one they hardly can.
"""

from __future__ import annotations

import json
import re
from functools import reduce
from operator import xor
from typing import TYPE_CHECKING, Any

from drivers.errors import Corrupt
from drivers.fields.decode import NO_VALUE
from drivers.fields.model import Amount

if TYPE_CHECKING:
    from collections.abc import Iterator

    from drivers.fields.model import Fields

_CHECK = re.compile(r"\$?(?P<body>.*)\*(?P<check>[0-9A-Fa-f]{2})", re.ASCII)
_SPACED = re.compile(r"[ \t]*=[ \t]*")
_PAIR = re.compile(r"(?P<key>[A-Za-z_][\w.\[\]/-]*)=(?P<value>[^=]*)", re.ASCII)
_AMOUNT = re.compile(r"(?P<text>[+-]?(\d+\.?\d*|\.\d+)([eE][+-]?\d{1,3})?)(?P<unit>[A-Za-z%]{0,6})", re.ASCII)
_NOT_A_NUMBER = re.compile(r"[+-]?(nan|inf|infinity|ovf)|-+|null|none", re.ASCII | re.IGNORECASE)
_SEPARATORS = re.compile(r"[,;\s]+")
_DEEPEST = 8


def fields_of(line: str, *, check_needed: bool = False) -> Fields | None:
    """Give the fields of ``line`` (without its end), or None where it is no data but, say, a boot message.

    Raises:
        Corrupt: it has the beginnings of data and is not whole.

    """
    checked = _CHECK.fullmatch(line.strip())
    body = line.strip()
    if checked is not None:
        body = checked["body"]
        if reduce(xor, body.encode("utf-8"), 0) != int(checked["check"], 16):
            raise Corrupt(f"the check of the line does not agree with it: {_shown(line)}")
    if body.startswith("{") or body.endswith("}"):
        found = _object(body)
    elif "=" in body:
        found = _pairs(body)
    else:
        return None
    if check_needed and checked is None:
        raise Corrupt(f"the line came without its check: {_shown(line)}")
    return found


def _pairs(body: str) -> Fields:
    found: dict[str, tuple[Amount, ...]] = {}
    for token in _SEPARATORS.split(_SPACED.sub("=", body).strip(",; \t")):
        pair = _PAIR.fullmatch(token)
        if pair is None:
            raise Corrupt(f'"{token[:24]}" is no key=value: {_shown(body)}')
        if pair["key"] in found:
            raise Corrupt(f"{pair['key']} stands twice in one line: {_shown(body)}")
        found[pair["key"]] = (_amount(pair["value"], body),)
    return found


def _amount(text: str, body: str) -> Amount:
    amount = _AMOUNT.fullmatch(text)
    if amount is not None:
        return Amount(amount["text"], amount["unit"])
    if _NOT_A_NUMBER.fullmatch(text):
        return Amount(NO_VALUE if text.casefold() in (NO_VALUE, "none") else text)
    if text.startswith('"') and text.endswith('"') and len(text) > 1:
        return Amount(text)
    if re.fullmatch(r"[A-Za-z_][\w.:/+-]*", text, re.ASCII):  # a word: the board's name, a state
        return Amount(text)
    raise Corrupt(f'"{text[:24]}" is no number: {_shown(body)}')


def _object(body: str) -> Fields:
    try:
        data = json.loads(body, object_pairs_hook=_once, parse_float=str, parse_int=str, parse_constant=str)
    except (ValueError, RecursionError):
        raise Corrupt(f"is no whole JSON object: {_shown(body)}") from None
    if not isinstance(data, dict):
        raise Corrupt(f"is no JSON object: {_shown(body)}")
    return {name: (amount,) for name, amount in _flat(data, "", 0)}


def _once(pairs: list[tuple[str, Any]]) -> dict[str, Any]:
    found = dict(pairs)
    if len(found) != len(pairs):
        raise ValueError
    return found


def _flat(data: Any, name: str, depth: int) -> Iterator[tuple[str, Amount]]:
    if depth > _DEEPEST:
        return
    if isinstance(data, dict | list):
        items = data.items() if isinstance(data, dict) else ((str(place), one) for place, one in enumerate(data))
        for key, inner in items:
            yield from _flat(inner, f"{name}.{key}" if name else key, depth + 1)
    elif data is None:
        yield name, Amount(NO_VALUE)
    elif isinstance(data, str):
        amount = _AMOUNT.fullmatch(data.strip())
        yield name, Amount(amount["text"], amount["unit"]) if amount else Amount(data)
    else:
        yield name, Amount(str(data).lower())  # true and false are no numbers


def _shown(line: str) -> str:
    text = "".join(c if c.isprintable() else "?" for c in line)
    return f"{text[:60]}..." if len(text) > 60 else text  # noqa: PLR2004 - a line's worth of it
