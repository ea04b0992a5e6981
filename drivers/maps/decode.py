"""From the registers of one poll to readings; what can't be is a gap with its reason, never a number."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING

from drivers.errors import Silent
from drivers.maps.blocks import spans
from drivers.maps.encodings import WORDS, decode, number, pattern
from drivers.quantities import QUANTITIES
from drivers.reading import ChannelReading, Quality, Values

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from drivers.errors import LinkError
    from drivers.maps.blocks import Span
    from drivers.maps.model import Block, MeterMap, Table, Value

PRIMARY = frozenset({"volts", "amps", "hertz", "watts"})
"""What a channel is read for: an impossible one of these spoils the channel's quality, another does not
(many meters give no number for power factor at no current)."""
MAX_EXPONENT = 10
"""Powers of ten beyond plus or minus this are no scale but a wrong register or "no value"."""

_WORST_FIRST = (
    Quality.SILENT,
    Quality.CORRUPT,
    Quality.REFUSED,
    Quality.SUSPECT,
    Quality.IMPLAUSIBLE,
    Quality.GOOD,
)


@dataclass(frozen=True, slots=True)
class Implausible:
    """A value that can't be.

    Attributes:
        detail: quantity, raw bits and what they would mean, in plain words.

    """

    detail: str


@dataclass(slots=True)
class _Gathered:
    """What is known of one channel so far."""

    values: dict[str, float | None] = field(default_factory=dict)
    told: list[tuple[Quality, str]] = field(default_factory=list)

    def reading(self, channel: str) -> ChannelReading:
        if not self.told:
            return ChannelReading(channel, Quality.GOOD, Values(**self.values))
        told = sorted(dict.fromkeys(self.told), key=lambda one: _WORST_FIRST.index(one[0]))
        detail = "; ".join(dict.fromkeys(text for _, text in told))
        return ChannelReading(channel, told[0][0], Values(**self.values), detail)


def decode_poll(
    meter_map: MeterMap,
    blocks: Sequence[Block],
    image: Mapping[tuple[Table, int], int],
    failures: Mapping[Block, LinkError],
) -> tuple[ChannelReading, ...]:
    """Read every channel of ``meter_map`` out of ``image``.

    A value of which some register came in no block that was read well is ``None``, and its channel has that
    block's quality and detail. A value outside its plausible range is ``None`` too; where it is a primary one
    the channel is ``IMPLAUSIBLE``, else the detail alone tells of it. The channel's other values stand.

    Args:
        meter_map: the map.
        blocks: all reads of the poll, as ``plan_blocks`` planned them.
        image: every register that came, by table and address from 0.
        failures: the blocks that failed, with what went wrong.

    Returns:
        One reading a channel, in the map's order.

    """
    good = [block for block in blocks if block not in failures] if failures else blocks
    whole = not failures and len(image) == sum(block.count for block in blocks)
    channels = {name: _Gathered() for name in meter_map.channels}
    for value in meter_map.values:
        channel = channels[value.channel]
        failure = None if whole else _failure(value, good, image, failures)
        if failure is not None:
            channel.told.append((failure.quality, failure.detail))
            continue
        found = decode_value(value, image)
        if isinstance(found, Implausible):
            quality = Quality.IMPLAUSIBLE if value.quantity in PRIMARY else Quality.GOOD
            channel.told.append((quality, found.detail))
            continue
        channel.values[value.quantity] = found
    return tuple(channel.reading(name) for name, channel in channels.items())


def decode_value(value: Value, image: Mapping[tuple[Table, int], int]) -> float | Implausible | None:
    """Read one value [its quantity's unit] out of ``image``, which must hold all its registers.

    Returns ``None`` where the registers hold one of the value's "no value" patterns.
    """
    first, count = value.address, WORDS[value.encoding]
    bits = pattern([image[value.table, address] for address in range(first, first + count)], value.word_order)
    if bits in value.missing:
        return None
    scaled = number(bits, value.encoding) * value.scale
    if value.scale_from is not None and image[value.table, value.scale_from] != value.scale_missing:
        exponent = int(decode([image[value.table, value.scale_from]], "i16", value.word_order))
        if abs(exponent) > MAX_EXPONENT:
            return Implausible(
                f"{value.quantity}: register {value.scale_from} (counted from 0) gives the power of ten as {exponent}; "
                f"it must be from {-MAX_EXPONENT} to {MAX_EXPONENT}"
            )
        scaled = shift(scaled, exponent)
    quantity = QUANTITIES[value.quantity]
    if not quantity.plausible(scaled):
        return Implausible(
            f"{quantity.name}: raw 0x{bits:0{4 * count}X} reads as {scaled:g} {quantity.unit}; "
            f"it must be from {quantity.low:g} to {quantity.high:g}"
        )
    return scaled


def shift(value: float, exponent: int) -> float:
    """Multiply by a power of ten; dividing where it is negative keeps 2305 x 10^-1 at 230.5."""
    return value * 10.0**exponent if exponent >= 0 else value / 10.0**-exponent


def _failure(
    value: Value,
    good: Sequence[Block],
    image: Mapping[tuple[Table, int], int],
    failures: Mapping[Block, LinkError],
) -> LinkError | None:
    """Say why some register of ``value`` did not come, or ``None`` where all did."""
    for span in spans(value):
        came = all((value.table, address) in image for address in range(span.start, span.stop))
        if came and (not failures or _holder(value.table, span, good)):
            continue
        failed = _holder(value.table, span, failures)
        return failures[failed] if failed else Silent(f"{value.quantity}: was not read")
    return None


def _holder(table: Table, span: Span, blocks: Sequence[Block] | Mapping[Block, LinkError]) -> Block | None:
    return next((block for block in blocks if block.table is table and span.within(block)), None)
