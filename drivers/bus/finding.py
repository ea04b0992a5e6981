"""Polls meters whose register map has to be found on the meter itself first, under the same rules as any poll.

Every read of the search goes the way that a poll's blocks go, so that a late or doubled reply can't put a model in a
wrong place. A meter that falls silent is searched anew: what answers next may be another one.
"""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

from drivers.bus.poller import Meter, Polled, Poller, gap
from drivers.bus.resync import plan_probes
from drivers.clock import monotonic
from drivers.errors import LinkDown, LinkError, Refused
from drivers.maps.blocks import plan_blocks
from drivers.reading import ChannelReading, Quality

if TYPE_CHECKING:
    from drivers.bus.poller import Image
    from drivers.maps.model import Block, MeterMap
    from drivers.reading import MeterPoll
    from drivers.sunspec.search import Answer, Search


class FindingPoller(Poller):
    """A poller that searches first where a meter has a ``search``; any other meter it polls as ever."""

    def poll(self, meter: Meter) -> Polled:
        """Poll ``meter`` once; where its map is not known yet, search for it first."""
        search = meter.search
        if search is None:
            return super().poll(meter)
        strays: frozenset[int] = frozenset()
        if not meter.found:
            fault = self._find(meter, search)
            strays = frozenset(self._strays)
            if fault is not None:
                poll = gap(self._settings.id, meter, fault)
                return Polled(poll, answered=False, strays=strays, down=fault if isinstance(fault, LinkDown) else None)
        polled = super().poll(meter)
        polled = replace(polled, poll=_with_absent(polled, search), strays=polled.strays | strays)
        if not polled.answered:
            _use(meter, search, search.placeholder())
            meter.found = False
        return polled

    def _find(self, meter: Meter, search: Search) -> LinkError | None:
        """Search once and give the meter its map; give the fault that stands in the way, if any."""
        self._answered = False
        self._strays.clear()
        steps = search.steps()
        try:
            block = next(steps)
            while True:
                block = steps.send(self._answer(meter, search, block))
        except StopIteration as end:
            _use(meter, search, end.value)
            meter.found = True
            return None
        except LinkDown as down:
            meter.trust.doubt(monotonic())
            fault: LinkError = down
        except LinkError as other:
            fault = other
            fault.detail = f"unit {meter.unit}: {other.detail}" if "unit " not in other.detail else other.detail
        _use(meter, search, search.placeholder())
        return fault

    def _answer(self, meter: Meter, search: Search, block: Block) -> Answer:
        """Read one block of the search.

        Raises:
            LinkError: it did not come; a refusal is an answer.

        """
        _ask_of(meter, search, (block,))
        meter.trust.probes = search.probes()
        image: Image = {}
        failures: dict[Block, LinkError] = {}
        fault = self._tries(meter, image, failures)
        if fault is not None:
            raise fault
        refusal = failures.get(block)
        if isinstance(refusal, Refused):
            return refusal
        return tuple(image[block.table, block.address + offset] for offset in range(block.count))


def _use(meter: Meter, search: Search, found: MeterMap) -> None:
    meter.map = found
    _ask_of(meter, search, plan_blocks(found))


def _ask_of(meter: Meter, search: Search, blocks: tuple[Block, ...]) -> None:
    """Make ``blocks`` what is read of ``meter``; no probe is as long as anything that was read of it before."""
    search.lengths.update(block.count for block in blocks)
    meter.blocks = blocks
    meter.trust.block = blocks[0]
    meter.trust.probes = tuple(probe for probe in plan_probes(blocks) if probe.count not in search.lengths)


def _with_absent(polled: Polled, search: Search) -> MeterPoll:
    """Give the poll with a gap for each wanted channel that this meter does not have."""
    poll = polled.poll
    detail = f"unit {poll.unit}: {search.absent()}"
    absent = [channel for channel in search.wanted if channel not in search.channels]
    gaps = tuple(ChannelReading(channel, Quality.REFUSED, detail=detail) for channel in absent)
    return replace(poll, channels=(*poll.channels, *gaps))
