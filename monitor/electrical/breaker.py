"""The band of a breaker: what its standard alone allows at one steady load.

A gate says one thing about one multiple of the rating: holds, not before, or latest. Between gates only one fact is
used: more current never takes longer. So at a multiple m

- *latest* is the smallest latest time of any gate at or below m;
- *soonest* is the largest not-before time of any gate at or above m. "Holds" is such a gate too: the breaker must not
  open within the conventional time (1 h, or 2 h for the larger ratings); what comes after that time is not said. Where
  no gate stands at or above m the standard sets no lower time, and the breaker may open at once.

A multiple that equals a gate's belongs to the gate. Times are limits of a test from cold at reference temperature,
never a forecast of what one breaker will do.
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise
from math import inf, isfinite
from typing import TYPE_CHECKING, Any, Literal

from monitor.electrical.tables import table

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

    from monitor.show.model import Breaker

_SLACK = 1e-9  # relative; multiples that differ by less are one (rounding of a division)
_OWN_POINTS = "the user's own points"


@dataclass(frozen=True, slots=True)
class Requirement:
    """One thing that a gate asks of a breaker.

    Attributes:
        multiple: current as a multiple of the rating [1].
        kind: ``holds`` or ``not-before``: does not open within ``seconds``; ``latest``: has opened by ``seconds``.
        seconds: [s]; None with ``holds`` is without limit of time.
        source: where it stands.
        seen: False where it comes from memory.

    """

    multiple: float
    kind: Literal["holds", "not-before", "latest"]
    seconds: float | None
    source: str
    seen: bool = True


@dataclass(frozen=True, slots=True)
class Soonest:
    """The earliest opening that the gates allow.

    Attributes:
        kind: ``time``, ``holds`` (no opening within the conventional time) or ``not-set``.
        seconds: [s]; None unless ``time``.
        holds_for_s: with ``holds``: the conventional time [s], or None where it holds without limit.

    """

    kind: Literal["time", "holds", "not-set"]
    seconds: float | None = None
    holds_for_s: float | None = None


@dataclass(frozen=True, slots=True)
class Latest:
    """The latest opening that the gates allow.

    Attributes:
        kind: ``time``, or ``none`` where no opening is required.
        seconds: [s]; None unless ``time``.

    """

    kind: Literal["time", "none"]
    seconds: float | None = None


@dataclass(frozen=True, slots=True)
class Band:
    """What the gates allow at one steady load.

    Attributes:
        multiple: load / rating [1].
        soonest: not before this.
        latest: by this at the latest.
        gates: every requirement on this breaker, rising in multiple.
        source: of the gates.

    """

    multiple: float
    soonest: Soonest
    latest: Latest
    gates: tuple[Requirement, ...]
    source: str


def band(breaker: Breaker, load_amps: float, magnetic: float | None = None) -> Band:
    """Give the band of a breaker at one steady load.

    Args:
        breaker: its standard's gates count; its own gates only where the standard is ``custom``.
        load_amps: steady current [A], 0 or more.
        magnetic: setting of the magnetic part as a multiple of the rating (IEC 60947-2 only), or None.

    Raises:
        ValueError: the load is no current, or the standard doesn't cover the breaker.

    """
    if not isfinite(load_amps) or load_amps < 0:
        raise ValueError(f"a load is a current of 0 A or more; found {load_amps:g} A")
    gates = requirements(breaker, magnetic)
    multiple = load_amps / breaker.amps
    return Band(multiple, soonest_at(gates, multiple), latest_at(gates, multiple), gates, source_of(breaker))


def requirements(breaker: Breaker, magnetic: float | None = None) -> tuple[Requirement, ...]:
    """Give every requirement on a breaker, rising in multiple.

    Raises:
        ValueError: the standard doesn't cover the rating or knows no such class, or own gates contradict each other.

    """
    if breaker.standard == "custom":
        return own_requirements(breaker)
    rules = table("breakers")[breaker.standard]
    _check_covered(breaker, rules)
    rows = [row for row in rules["gates"] if _covers(row, breaker)]
    found = [
        Requirement(float(row["multiple"]), row["kind"], _seconds(row), rules["source"], row["seen"]) for row in rows
    ]
    if magnetic is not None:
        found += _magnetic(breaker, rules, magnetic)
    return _ordered(found)


def own_requirements(breaker: Breaker) -> tuple[Requirement, ...]:
    """Give the user's own points of a breaker as requirements, rising in multiple.

    Raises:
        ValueError: there are none, one is no point of a curve, or more current would take longer.

    """
    _check_rating(breaker)
    found: list[Requirement] = []
    for gate in breaker.gates:
        times = (gate.multiple, *(t for t in (gate.soonest_s, gate.latest_s) if t is not None))
        if len(times) == 1 or not all(isfinite(number) and number > 0 for number in times):
            raise ValueError(
                f"gate at {gate.multiple:g} x rating: needs a soonest or a latest time in seconds, and numbers above 0"
            )
        if gate.soonest_s is not None:
            found.append(Requirement(gate.multiple, "not-before", gate.soonest_s, _OWN_POINTS))
        if gate.latest_s is not None:
            found.append(Requirement(gate.multiple, "latest", gate.latest_s, _OWN_POINTS))
    if not found:
        raise ValueError("a custom breaker needs gates: points of its datasheet's curve")
    ordered = _ordered(found)
    _check_own(ordered)
    return ordered


def soonest_at(gates: Iterable[Requirement], multiple: float) -> Soonest:
    """Give the soonest opening at a multiple of the rating."""
    above = [g for g in gates if g.kind != "latest" and multiple <= g.multiple * (1 + _SLACK)]
    if not above:
        return Soonest("not-set")
    longest = max(above, key=lambda gate: inf if gate.seconds is None else gate.seconds)
    if longest.kind == "holds":
        return Soonest("holds", holds_for_s=longest.seconds)
    return Soonest("time", longest.seconds)


def latest_at(gates: Iterable[Requirement], multiple: float) -> Latest:
    """Give the latest opening at a multiple of the rating."""
    below = [
        g.seconds
        for g in gates
        if g.kind == "latest" and g.seconds is not None and multiple >= g.multiple * (1 - _SLACK)
    ]
    return Latest("time", min(below)) if below else Latest("none")


def source_of(breaker: Breaker) -> str:
    """Name the source of a breaker's gates, with what is only remembered."""
    if breaker.standard == "custom":
        return _OWN_POINTS
    rules = table("breakers")[breaker.standard]
    memory = sorted({f"{row['multiple']:g} x" for row in rules["gates"] if _covers(row, breaker) and not row["seen"]})
    return f"{rules['source']}; from memory: {', '.join(memory)}" if memory else str(rules["source"])


def _magnetic(breaker: Breaker, rules: dict[str, Any], setting: float) -> list[Requirement]:
    if "magnetic_tolerance" not in rules:
        raise ValueError(f"a magnetic setting belongs to IEC 60947-2, not to {breaker.standard}")
    if not isfinite(setting) or setting <= 1:
        raise ValueError(f"a magnetic setting is a multiple of the rating above 1; found {setting:g}")
    tolerance, seconds = rules["magnetic_tolerance"], rules["magnetic_seconds"]
    source = f"{rules['source']}; magnetic part within {tolerance:.0%} of its setting, {seconds} s from memory"
    return [
        Requirement(setting * (1 - tolerance), "not-before", seconds, source, seen=False),
        Requirement(setting * (1 + tolerance), "latest", seconds, source, seen=False),
    ]


def _covers(row: dict[str, Any], breaker: Breaker) -> bool:
    in_class: bool = row.get("class", breaker.curve) == breaker.curve
    in_range: bool = row.get("above", 0) < breaker.amps <= row.get("up_to", inf)
    return in_class and in_range


def _seconds(row: dict[str, Any]) -> float | None:
    return float(row["seconds"]) if "seconds" in row else None


def _check_rating(breaker: Breaker) -> None:
    if not isfinite(breaker.amps) or breaker.amps <= 0:
        raise ValueError(f"a rating is a current above 0 A; found {breaker.amps:g} A")


def _check_covered(breaker: Breaker, rules: dict[str, Any]) -> None:
    _check_rating(breaker)
    if breaker.amps > rules["up_to_amps"]:
        raise ValueError(
            f"{breaker.standard}: the table covers ratings up to {rules['up_to_amps']} A; found {breaker.amps:g} A;"
            ' give the points of its datasheet\'s curve (standard "custom")'
        )
    classes = rules["classes"]
    if classes and breaker.curve not in classes:
        raise ValueError(f"{breaker.standard} needs a class: {', '.join(classes)}; found {breaker.curve or 'none'}")
    if not classes and breaker.curve:
        raise ValueError(f"{breaker.standard} has no classes; found {breaker.curve}")


def _check_own(gates: Sequence[Requirement]) -> None:
    """Refuse own points by which more current would take longer, or which cross."""
    for kind in ("not-before", "latest"):
        points = [gate for gate in gates if gate.kind == kind]
        for lower, higher in pairwise(points):
            if (higher.seconds or 0.0) > (lower.seconds or 0.0):
                raise ValueError(
                    f"gates at {lower.multiple:g} and {higher.multiple:g} x rating: more current can't take longer"
                )
    for gate in gates:
        soonest = soonest_at(gates, gate.multiple).seconds
        latest = latest_at(gates, gate.multiple).seconds
        if soonest is not None and latest is not None and soonest > latest:
            raise ValueError(f"gate at {gate.multiple:g} x rating: soonest {soonest:g} s is after latest {latest:g} s")


def _ordered(found: Iterable[Requirement]) -> tuple[Requirement, ...]:
    return tuple(sorted(found, key=lambda g: (g.multiple, g.kind == "latest")))
