"""What a typed answer means. Each reader gives the meaning, or raises ValueError with what would do."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING, Any
from zoneinfo import ZoneInfo

from monitor.setup.talk import NOTHING
from monitor.show.filemodel import AWG_SIZES
from monitor.show.model import SOURCE_ID

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping, Sequence

ID = re.compile(r"[A-Za-z0-9_.-]+")
QUARTERS = (25, 50, 75, 100)
"""Percent of the rated load at which nameplates and data sheets give the fuel used: common practice, no source."""
_NUMBER = r"\d+(?:[.,]\d+)?"
_CABLE = re.compile(
    rf"(?:(?P<awg>[\d/]+)\s*awg|(?P<mm2>{_NUMBER})\s*(?:mm2|mm²))[\s,]+(?P<length>{_NUMBER})\s*(?P<unit>\w+)"
)
_LENGTHS: Mapping[str, str] = {"m": "metres", "metres": "metres", "ft": "feet", "feet": "feet"}
_LONGEST: Mapping[str, float] = {"metres": 5_000, "feet": 16_000}
"""As the show file takes them."""


def number(low: float, high: float, what: str) -> Callable[[str], float]:
    """Make a reader of numbers with a unit that may be left out."""

    def read(text: str) -> float:
        found = re.fullmatch(rf"({_NUMBER})\s*[A-Za-z]*", text)
        value = _plain(found[1]) if found else -1.0
        if not low <= value <= high:
            raise ValueError(f"type {what} as a number from {low:g} to {high:g}")
        return value

    return read


def maybe(read: Callable[[str], Any]) -> Callable[[str], Any]:
    """Let a reader take nothing, or a dash where Enter would take something; both give None."""
    return lambda text: None if text in ("", NOTHING) else read(text)


def filled(text: str) -> str:
    """Read a name."""
    if not text.strip() or not text.isprintable():
        raise ValueError("type a name")
    return text.strip()


def identifier(text: str) -> str:
    """Read the id of a box or circuit."""
    if not ID.fullmatch(text) or text == NOTHING:
        raise ValueError('use letters, digits, "_", "." and "-" only, without spaces')
    if text == SOURCE_ID:
        raise ValueError("the source is there already; type another id")
    return text


def zone(text: str) -> str:
    """Read a time zone."""
    try:
        ZoneInfo(text)
    except (KeyError, ValueError, OSError):
        raise ValueError(f'no time zone is called "{text}"; write it like America/Halifax or Europe/Vienna') from None
    return text


def one_of(names: Sequence[str]) -> Callable[[str], str]:
    """Make a reader of one of these names."""

    def read(text: str) -> str:
        if text not in names:
            raise ValueError(f"type one of {', '.join(names)}")
        return text

    return read


def some_of(legs: tuple[str, ...]) -> Callable[[str], tuple[str, ...]]:
    """Make a reader of one leg or several."""

    def read(text: str) -> tuple[str, ...]:
        chosen = tuple(part.strip().upper() for part in re.split(r"[,+ ]+", text) if part.strip())
        if not chosen or len(set(chosen)) != len(chosen) or not set(chosen) <= set(legs):
            raise ValueError(f"type {' or '.join(legs)}, or several with commas between")
        return chosen

    return read


def curve(text: str) -> str:
    """Read the class of a breaker."""
    if text.upper() not in ("B", "C", "D"):
        raise ValueError("type B, C or D: it stands before the amps on the breaker")
    return text.upper()


def cable(text: str) -> dict[str, Any]:
    """Read the size and one-way length of a cable, as the show file holds them."""
    found = _CABLE.fullmatch(text.strip().lower())
    unit = _LENGTHS.get(found["unit"]) if found else None
    if found is None or unit is None:
        raise ValueError("type size and one-way length, as in 12 awg 50 ft or 2.5 mm2 15 m")
    length = number(0.01, _LONGEST[unit], "a length")(found["length"])
    if found["mm2"]:
        return {"mm2": number(0.1, 1_000, "square millimetres")(found["mm2"]), unit: length}
    if found["awg"] not in AWG_SIZES:
        raise ValueError(f"no such size; type one of {', '.join(AWG_SIZES)}")
    return {"awg": int(found["awg"]) if found["awg"].isdigit() else found["awg"], unit: length}


def cable_words(known: Mapping[str, Any]) -> str:
    """Write a cable so that ``cable`` reads it; empty where there is none, or one that it could not read."""
    size = f"{known['awg']} awg" if "awg" in known else f"{figure(known, 'mm2')} mm2" if "mm2" in known else ""
    length = (
        f"{figure(known, 'feet')} ft"
        if "feet" in known
        else f"{figure(known, 'metres')} m"
        if "metres" in known
        else ""
    )
    return f"{size} {length}" if size and length else ""


def burn(text: str) -> dict[str, float]:
    """Read litres per hour by percent of the rated load: four numbers for the quarters, or PERCENT=LITRES pairs."""
    parts = text.split()
    pairs = [part.partition("=")[::2] for part in parts]
    if len(parts) == len(QUARTERS) and "=" not in text:
        pairs = [(str(percent), part) for percent, part in zip(QUARTERS, parts, strict=True)]
    if not all(re.fullmatch(_NUMBER, part) for pair in pairs for part in pair):
        raise ValueError("type four numbers, as in 2.3 3.4 4.9 6.1, or pairs, as in 50=3.4 100=6.1")
    points = sorted((_plain(percent), _plain(litres)) for percent, litres in pairs)
    percents, litres = [p for p, _ in points], [x for _, x in points]
    if percents[-1] > 110 or len(set(percents)) < len(percents):  # noqa: PLR2004 - as the show file takes them
        raise ValueError("each percent counts once, from 0 to 110")
    if litres != sorted(litres):
        raise ValueError("more load takes more fuel: the litres must rise with the percent")
    return {f"{percent:g}": value for percent, value in points}


def burn_words(known: Mapping[str, Any]) -> str:
    """Write fuel points so that ``burn`` reads them."""
    return " ".join(f"{percent}={figure(known, percent)}" for percent in known)


def figure(known: Mapping[str, Any], key: str) -> str:
    """Write a number that is known as it would be typed; nothing where none is."""
    return f"{known[key]:.10g}" if key in known else ""


def _plain(digits: str) -> float:
    """Read digits; a whole number stays one, as the show file would be written by hand."""
    value = float(digits.replace(",", "."))
    return int(value) if value.is_integer() else value
