"""Volts and hertz against what the region, the governor and the set's class allow; low and high volts as spells.

One-second polling sees sustained levels. It doesn't see what lasts less than a poll; nothing here guesses at that.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Literal

from monitor.electrical.tables import table

if TYPE_CHECKING:
    from monitor.show.model import Region, Source


@dataclass(frozen=True, slots=True)
class VoltLimits:
    """Limits of sustained volts, rising.

    Attributes:
        tolerable_low: [V].
        good_low: [V].
        good_high: [V].
        tolerable_high: [V].
        source: where they stand.

    """

    tolerable_low: float
    good_low: float
    good_high: float
    tolerable_high: float
    source: str

    def judge(self, volts: float) -> Literal["good", "tolerable", "outside"]:
        """Judge sustained volts [V]; a limit itself is inside."""
        if self.good_low <= volts <= self.good_high:
            return "good"
        return "tolerable" if self.tolerable_low <= volts <= self.tolerable_high else "outside"


def volt_limits(region: Region, nominal: float, at: Literal["service", "utilization"] = "service") -> VoltLimits:
    """Give the region's limits for a nominal voltage.

    Args:
        region: of the show.
        nominal: as ``monitor.electrical.loads.nominal_volts`` gives it [V]; one that the table hasn't is scaled from
            the table's first row.
        at: ``service`` for the source, ``utilization`` for a circuit's loads.

    """
    rows = table("supply")[region][at]
    numbers = {float(key): row for key, row in rows.items() if key != "source"}
    base = round(nominal)
    row = numbers.get(base)
    if row is not None:
        low, good_low, good_high, high = (float(limit) for limit in row)
    else:
        first = next(iter(numbers))
        low, good_low, good_high, high = (limit * nominal / first for limit in numbers[first])
    return VoltLimits(low, good_low, good_high, high, rows["source"])


@dataclass(frozen=True, slots=True)
class Performance:
    """What a class of ISO 8528-5 allows; percent of declared hertz or volts.

    Attributes:
        droop: no load to full load [% Hz].
        steady_band: width of the steady frequency band [% Hz].
        dip_hertz: on a load coming on [% Hz].
        rise_hertz: on full load going off [% Hz].
        recovery_hertz_s: [s].
        steady_volts: either way [% V].
        dip_volts: on a load coming on [% V].
        rise_volts: on full load going off [% V].
        recovery_volts_s: [s].
        seen: False where the numbers come from memory.

    """

    droop: float
    steady_band: float
    dip_hertz: float
    rise_hertz: float
    recovery_hertz_s: float
    steady_volts: float
    dip_volts: float
    rise_volts: float
    recovery_volts_s: float
    seen: bool


def performance(name: str | None) -> Performance | None:
    """Give what a class of ISO 8528-5 allows; None for G4 (by agreement) and for no class."""
    row = table("supply")["iso8528"].get(name)
    return Performance(**row) if isinstance(row, dict) else None


@dataclass(frozen=True, slots=True)
class HertzBand:
    """Where steady hertz belong.

    Attributes:
        low: [Hz], or None where hertz say nothing about the set (an inverter).
        high: [Hz], or None likewise.
        text: on what it rests.

    """

    low: float | None
    high: float | None
    text: str


def hertz_band(source: Source) -> HertzBand:
    """Give the band of steady hertz for a source's governor and class.

    Isochronous: half the class's steady band to either side. Droop: from that much under the declared hertz at full
    load to that much over the class's droop at no load (ISO 8528-5 definitions, from memory).
    """
    kind = source.governor or ("house" if source.kind == "house" else None)
    if kind == "inverter":
        return HertzBand(None, None, "an inverter holds its hertz whatever the load: steady hertz say nothing here")
    usual, allowed = table("supply")["hertz"], performance(source.performance_class)
    half = allowed.steady_band / 2 if allowed else usual["isochronous"]
    rise = half
    if kind == "house":
        half = rise = usual["house"]
        text = f"house supply, {half:g} % either way (EN 50160, interconnected, from memory)"
    else:
        if kind != "isochronous":
            rise += allowed.droop if allowed else usual["droop"]
        known = "seen" if allowed and allowed.seen else "from memory"
        text = f"{kind or 'unknown'} governor, ISO 8528-5 class {source.performance_class or 'not given'} ({known})"
    return HertzBand(source.hertz * (1 - half / 100), source.hertz * (1 + rise / 100), text)


@dataclass(frozen=True, slots=True)
class Spell:
    """A time of low or high volts.

    Attributes:
        side: ``low`` or ``high``.
        begin_s: time of the first sample outside [s].
        last_s: time of the last sample outside so far [s].
        extreme_volts: the lowest (or highest) sample [V].
        samples: how many stood outside.
        ended: ``open`` while it lasts; ``back`` when volts came back; ``gap`` when readings stopped: what came after
            is not known.

    """

    side: Literal["low", "high"]
    begin_s: float
    last_s: float
    extreme_volts: float
    samples: int = 1
    ended: Literal["open", "back", "gap"] = "open"

    @property
    def duration_s(self) -> float:
        """From the first to the last sample outside [s]; it may have lasted up to one poll longer at either end."""
        return self.last_s - self.begin_s

    def depth_percent(self, nominal: float) -> float:
        """Give how far the extreme stands from nominal [%], without a sign."""
        return 100.0 * abs(self.extreme_volts - nominal) / nominal


def fold_volts(
    spell: Spell | None, time_s: float, volts: float | None, low: float, high: float, back: float = 0.0
) -> tuple[Spell | None, Spell | None]:
    """Add one sample to the bookkeeping of low and high volts.

    Args:
        spell: the spell that lasts, or None.
        time_s: of the sample [s], not before the last one.
        volts: [V], or None for a gap: it ends a spell, and is never bridged.
        low: volts under this are low [V].
        high: volts over this are high [V].
        back: a spell ends only this far inside its limit [V].

    Returns:
        The spell that lasts now, and the one that ended with this sample; either may be None.

    """
    if volts is None:
        return None, replace(spell, ended="gap") if spell else None
    if spell and (volts < low + back if spell.side == "low" else volts > high - back):
        extreme = min(spell.extreme_volts, volts) if spell.side == "low" else max(spell.extreme_volts, volts)
        return replace(spell, last_s=time_s, extreme_volts=extreme, samples=spell.samples + 1), None
    ended = replace(spell, ended="back") if spell else None
    if low <= volts <= high:
        return None, ended
    return Spell("low" if volts < low else "high", time_s, time_s, volts), ended


@dataclass(frozen=True, slots=True)
class Shares:
    """How a departure from nominal divides between what is above a point and the run to it.

    Attributes:
        source_volts: of it already at the point above [V], positive in the direction of the departure.
        run_volts: of it between the two points [V], likewise.

    """

    source_volts: float
    run_volts: float

    @property
    def larger(self) -> Literal["source", "run"]:
        """Name the larger share; a tie goes to the source, where the rest of the set has it too."""
        return "run" if self.run_volts > self.source_volts else "source"


def source_or_run(here: float, upstream: float | None, nominal: float) -> Shares | None:
    """Divide low or high volts between source and run, by two points of one moment.

    Args:
        here: volts of the point itself [V].
        upstream: volts of the same leg at the nearest metered point above [V], or None where nothing is read there.
        nominal: [V].

    Returns:
        The shares; None where there is nothing to compare with.

    """
    if upstream is None:
        return None
    sign = 1.0 if here < nominal else -1.0
    return Shares(sign * (nominal - upstream), sign * (upstream - here))
