"""Buses and meters in words: how each answers, and what to look at where one does not; on screen and in print."""

from __future__ import annotations

from typing import TYPE_CHECKING

from monitor.dashboard import words
from monitor.engine.snapshot import Freshness

if TYPE_CHECKING:
    from monitor.engine.snapshot import Measured
    from monitor.engine.told import BusView, MeterCounts, MeterView

_MILLI = 1000.0
_SLOW = 0.8  # of the wanted polls: a bus that gives less is told as behind (a judgement)
_LINES = frozenset({"modbus-rtu", "modbus-ascii", "sunspec-rtu"})
_LISTENS = frozenset({"iec62056-21", "text"})
_ONE = {
    "silent": "no reply: look at its supply, its plug and its wires, then whether its unit number is {unit}",
    "corrupt": "no whole reply: look for a loose wire, two meters with unit number {unit}, another parity or speed",
    "refused": "it refuses what it is asked: its map may be another model's; legwatch probe shows what it has",
    "implausible": "values that can't be: look at map, word order, wiring; legwatch check says which",
    "suspect": "replies out of step: more than one may ask on this bus, or a converter holds replies back",
}
_NETWORK = "no reply: look at its supply and at the network between, then whether its unit number is {unit}"
_ALL_LINE = (
    "no meter on this line answers: look at the adapter, the pair's two wires, speed and parity before any meter"
)
_ALL_NETWORK = "no meter behind this address answers: look at the gateway and the network before any meter"


def dark(meter: MeterView) -> bool:
    """Say whether a meter gives nothing live."""
    return meter.latest.freshness is not Freshness.LIVE


def state(measured: Measured) -> str:
    """Say in one word how the last reading was: ``good``, or what was wrong with it."""
    if measured.freshness is Freshness.NEVER and measured.quality is None:
        return "nothing yet"
    if measured.freshness is Freshness.OLD and measured.quality in {None, "good"}:
        return "no reading"
    return str(measured.quality or "good")


def why_dark(meter: MeterView, bus: BusView) -> str:
    """Say what to look at where a meter gives nothing live.

    Empty where it does, where its bus explains it, or where its last reading was good: then it is not the meter that
    is missing.
    """
    kind = str(meter.latest.quality or "good")
    if not dark(meter) or kind == "good" or whole_bus(bus):
        return ""
    text = _NETWORK if kind == "silent" and bus.protocol not in _LINES else _ONE.get(kind, _ONE["silent"])
    return text.format(unit=meter.unit)


def whole_bus(bus: BusView) -> str:
    """Say what to look at where the bus itself is the matter; empty where it is not."""
    if bus.problem and not bus.is_open:
        return bus.problem
    if len(bus.meters) > 1 and all(dark(meter) and str(meter.latest.quality) == "silent" for meter in bus.meters):
        return _ALL_LINE if bus.protocol in _LINES else _ALL_NETWORK
    return ""


def rate(bus: BusView) -> str:
    """Say how many polls a second come of how many wanted; empty where nothing is counted."""
    counted = [meter.counts.per_second for meter in bus.meters if meter.counts is not None]
    if not counted or all(each is None for each in counted):
        return ""
    polls = sum(each for each in counted if each is not None)
    name = "messages" if bus.protocol in _LISTENS else "polls"
    wanted = len(bus.meters) / bus.interval_s if bus.interval_s > 0 else None
    of = "" if wanted is None else f" of {wanted:.3g} wanted"
    return f"{polls:.3g}{of} {name}/s"


def behind(bus: BusView) -> bool:
    """Say whether clearly fewer polls come than are wanted."""
    rates = [meter.counts.per_second for meter in bus.meters if meter.counts and meter.counts.per_second is not None]
    if bus.interval_s <= 0 or len(rates) < len(bus.meters):
        return False
    return sum(rates) < _SLOW * len(bus.meters) / bus.interval_s


def busy(bus: BusView) -> str:
    """Say which share of its time the bus is occupied; empty where nothing is counted."""
    shares = [meter.counts.busy for meter in bus.meters if meter.counts is not None and meter.counts.busy is not None]
    return f"occupied {100 * sum(shares):.0f} % of the time" if shares and bus.protocol not in _LISTENS else ""


def latency(counts: MeterCounts | None) -> tuple[str, str]:
    """Give median and worst latency in milliseconds."""
    if counts is None:
        return words.MISSING, words.MISSING
    return _ms(counts.median_s), _ms(counts.worst_s)


def faults(counts: MeterCounts | None) -> str:
    """Count what went wrong, each kind by its name; ``none`` where nothing did."""
    if counts is None:
        return words.MISSING
    return ", ".join(f"{number} {kind}" for kind, number in counts.faults) or "none"


def good_share(counts: MeterCounts | None) -> str:
    """Give the share of good polls, never 100 % where one was not."""
    if counts is None or not counts.polls:
        return words.MISSING
    share = 100 * counts.good / counts.polls
    return "100" if counts.good == counts.polls else f"{min(share, 99.9):.1f}"


def _ms(seconds: float | None) -> str:
    if seconds is None:
        return words.MISSING
    return "<1" if _MILLI * seconds < 1 else f"{_MILLI * seconds:.0f}"
