"""What a meter said, or why it said nothing: the only thing that leaves this package."""

from __future__ import annotations

from dataclasses import dataclass, field
from enum import StrEnum
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from drivers.clock import Instant


class Quality(StrEnum):
    """``GOOD``, or the reason for a gap."""

    GOOD = "good"
    SILENT = "silent"  # no reply, no port, no connection
    CORRUPT = "corrupt"  # bytes came, but no whole and matching frame
    REFUSED = "refused"  # the meter answered with an exception
    IMPLAUSIBLE = "implausible"  # a whole frame with a value that can't be
    SUSPECT = "suspect"  # a whole frame that may answer an earlier question

    __hash__ = str.__hash__  # Enum's own is Python code, and every reading is looked up by it


@dataclass(frozen=True, slots=True)
class Values:
    """Measured values of one channel, SI units; ``None`` is "not measured", never zero.

    The field names are those of ``drivers.quantities.QUANTITIES`` (a test holds them together).
    """

    volts: float | None = None
    amps: float | None = None
    hertz: float | None = None
    watts: float | None = None
    volt_amperes: float | None = None
    vars: float | None = None
    power_factor: float | None = None
    watt_hours: float | None = None


@dataclass(frozen=True, slots=True)
class ChannelReading:
    """One channel of one meter at one poll.

    Attributes:
        channel: the channel's name in the register map.
        quality: ``GOOD``, or the worst reason met while reading the channel.
        values: what stands. A refused value is ``None`` here; where ``quality`` is ``SILENT``,
            ``CORRUPT``, ``REFUSED`` or ``SUSPECT`` nothing of the failed block stands.
        detail: the reason in plain words; empty when good, but for a derived value (power factor, say) that was
            refused.

    """

    channel: str
    quality: Quality = Quality.GOOD
    values: Values = field(default_factory=Values)
    detail: str = ""


@dataclass(frozen=True, slots=True)
class MeterPoll:
    """Everything one meter gave in one poll.

    Attributes:
        bus: id of the bus.
        unit: unit number (1 to 247).
        at: when the last byte of the last block arrived (or when it was given up).
        channels: one reading for every channel of the meter's map.
        latency_s: from the first request to the last byte [s].
        retries: times that the meter was asked anew after a fault.

    """

    bus: str
    unit: int
    at: Instant
    channels: tuple[ChannelReading, ...]
    latency_s: float = 0.0
    retries: int = 0
