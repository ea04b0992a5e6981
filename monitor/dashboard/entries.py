"""What may be typed into the line at the bottom: each check says what would do, or nothing."""

from __future__ import annotations

import re

LONGEST_NAME = 30  # characters: it stands in the head line
LONGEST_TEXT = 300
MOST_MINUTES = 24 * 60  # the logger's own longest shelf
MOST_WATTS = 1_000_000.0
MOST_LITRES = 10_000.0  # as ``legwatch refuel``
_LOAD = re.compile(r"(?P<amount>\d+(\.\d+)?)\s*(?P<unit>k?w)?\s*(@\s*(?P<factor>\d*\.?\d+))?", re.IGNORECASE | re.ASCII)
_LITRES = re.compile(r"(?P<amount>\d+(\.\d+)?)\s*l?", re.IGNORECASE | re.ASCII)


def why_no_name(text: str) -> str:
    """Say why the text is no name; empty where it is one."""
    if not text:
        return "A name is needed, for the log"
    return f"At most {LONGEST_NAME} characters" if len(text) > LONGEST_NAME else ""


def why_no_text(text: str) -> str:
    """Say why the text is no reason or note; empty where it is one."""
    return "" if text else "A few words are needed"


def why_no_minutes(text: str) -> str:
    """Say why the text is no number of minutes; empty where it is one."""
    fits = text.isdecimal() and 1 <= int(text) <= MOST_MINUTES
    return "" if fits else f"Whole minutes from 1 to {MOST_MINUTES}"


def why_no_minutes_or_none(text: str) -> str:
    """Say why the text is neither 0 nor a number of minutes; empty where it is one."""
    return "" if text.isdecimal() and int(text) == 0 else why_no_minutes(text)


def litres_in(text: str) -> float | None:
    """Give litres typed as ``60``, ``60.5`` or ``60 l``; else None."""
    found = _LITRES.fullmatch(text.strip())
    litres = float(found["amount"]) if found else 0.0
    return litres if 0 < litres <= MOST_LITRES else None


def why_no_litres(text: str, tank: float = MOST_LITRES) -> str:
    """Say why the text is no amount of fuel that a tank [l] can take; empty where it is one."""
    litres = litres_in(text)
    if litres is not None and litres > tank:
        return f"The tank of the show file holds {tank:g} l: less, or a note (n)"
    return "" if litres else f"Litres, more than 0 and at most {tank:g}, as 60.5"


def anything(_: str) -> str:
    """Take every text, an empty one too."""
    return ""


def load_in(text: str) -> tuple[float, float] | None:
    """Give watts [W] and power factor [1] of a load typed as ``1200``, ``1.2 kW`` or ``1200 W @ 0.9``; else None."""
    found = _LOAD.fullmatch(text.strip())
    if found is None:
        return None
    watts = float(found["amount"]) * (1000.0 if (found["unit"] or "").lower() == "kw" else 1.0)
    power_factor = float(found["factor"] or 1.0)
    return (watts, power_factor) if 0 < watts <= MOST_WATTS and 0 < power_factor <= 1 else None


def why_no_load(text: str) -> str:
    """Say why the text is no load; empty where it is one."""
    return "" if load_in(text) else "Watts, then @ and a power factor up to 1 if you know it"
