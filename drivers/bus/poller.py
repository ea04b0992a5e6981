"""One poll of one meter over an open link, and what happens when it goes wrong.

A meter that did not answer, or answered badly, is given one more chance within the same poll: the bus is left
alone for longer than the slowest reply seen, what comes meanwhile is thrown away, and when the meter has been
brought back in step (see ``resync``) all its blocks are read again. A second fault ends the poll with a gap.

Bytes that nobody asked for are thrown away before every request; as many as a reply has put the meter in doubt
and are told as strays, so that the poll before can be taken back. For a while after such a find the second copy
of a reply is waited for wherever it could pass for the answer to the next request. A reply that repeats the one
before it is read again (see ``copies``).
"""

from __future__ import annotations

from dataclasses import dataclass, field
from functools import partial
from typing import TYPE_CHECKING

from drivers.bus.copies import Copies
from drivers.bus.resync import Heard, Trust, plan_probes
from drivers.clock import monotonic, now
from drivers.errors import Corrupt, LinkDown, LinkError, Refused, Silent, Suspect
from drivers.maps.blocks import plan_blocks
from drivers.maps.decode import decode_poll
from drivers.reading import ChannelReading, MeterPoll, Quality

if TYPE_CHECKING:
    from collections.abc import Callable

    from drivers.bus.settings import BusSettings, MeterSettings
    from drivers.links.contract import Link
    from drivers.maps.model import Block, MeterMap, Table
    from drivers.sunspec.search import Search

    Image = dict[tuple[Table, int], int]

SHORTEST_FRAME = 5
"""Fewer unasked bytes than an exception reply has are no reply: the click of a line that nobody drives."""
UNKNOWN = -1
_CLICK_S = 0.02
_GUARD_S = 60.0
_TRIES = 2
_QUIET_FACTOR = 1.5
_FORGET = 0.98
"""Each good poll lets this much of the slowest reply stand, so that one late reply does not slow a bus for ever."""


@dataclass(slots=True)
class Meter:
    """One meter as the bus knows it.

    Attributes:
        unit: unit number.
        map: its register map.
        blocks: the reads of one poll.
        trust: whether its next reply can be believed.
        copies: whether a reply may be a copy of the one before.
        search: how its map is found, where the map only stands for it until then; see ``finding``.
        found: it has been.

    """

    unit: int
    map: MeterMap
    blocks: tuple[Block, ...]
    trust: Trust
    copies: Copies = field(default_factory=Copies)
    search: Search | None = None
    found: bool = False

    @classmethod
    def of(cls, settings: MeterSettings) -> Meter:
        """Plan the reads of a meter."""
        blocks = plan_blocks(settings.map)
        trust = Trust(plan_probes(blocks), blocks[0])
        return cls(settings.unit, settings.map, blocks, trust, search=settings.search)


@dataclass(frozen=True, slots=True)
class Polled:
    """What came of one poll.

    Attributes:
        poll: the readings.
        answered: the meter gave at least one whole reply that was no refusal.
        strays: units whose replies came though they were not asked, or not for that; ``UNKNOWN`` among them where
            bytes came before anything was asked.
        down: the link is gone, or None.

    """

    poll: MeterPoll
    answered: bool
    strays: frozenset[int] = frozenset()
    down: LinkDown | None = None


class Poller:
    """Polls the meters of one bus. Used by one thread."""

    def __init__(self, link: Link, settings: BusSettings) -> None:
        self._link = link
        self._settings = settings
        self._slowest_s = 0.0
        self._strays: set[int] = set()
        self._answered = False
        self._retries = 0
        self._asked_s = float("-inf")
        self._last: tuple[int, Table, int] | None = None
        self._guard_until_s = float("-inf")

    @property
    def quiet_s(self) -> float:
        """How long the bus is left alone after a fault [s]: longer than the slowest reply seen, within bounds."""
        return min(max(_QUIET_FACTOR * self._slowest_s, _CLICK_S), max(self._settings.timeout_s, _CLICK_S))

    @property
    def settled_s(self) -> float:
        """When the answer to the last request can be believed if nothing more came by then [monotonic, s]."""
        return self._asked_s + self.quiet_s

    def confusable(self, meter: Meter) -> bool:
        """Say whether another reply to the last request could pass for the first one of ``meter``."""
        return self._alike(meter.unit, meter.blocks[0])

    def poll(self, meter: Meter) -> Polled:
        """Poll ``meter`` once; a fault ends as a gap, never as an exception."""
        self._answered, self._retries = False, 0
        self._strays.clear()
        begun_s = monotonic()
        image: Image = {}
        failures: dict[Block, LinkError] = {}
        down: LinkDown | None = None
        try:
            fault = self._tries(meter, image, failures)
        except LinkDown as gone:
            meter.trust.doubt(monotonic())
            fault = down = gone
        if fault is not None:
            failures = dict.fromkeys(meter.blocks, fault)
        channels = decode_poll(meter.map, meter.blocks, image, failures)
        poll = MeterPoll(self._settings.id, meter.unit, now(), channels, monotonic() - begun_s, self._retries)
        return Polled(poll, self._answered, frozenset(self._strays), down)

    def is_quiet(self) -> bool:
        """Say whether nothing came unasked.

        Raises:
            LinkDown: the port or connection is gone.

        """
        return self._link.pending() < SHORTEST_FRAME

    def _tries(self, meter: Meter, image: Image, failures: dict[Block, LinkError]) -> LinkError | None:
        """Fill ``image`` and ``failures``; give the fault that spoils the whole poll, if any."""
        if self._clear(meter.unit, meter.blocks[0]):
            self._strays.add(UNKNOWN)
            meter.trust.doubt(monotonic())
        if self._link.matches_replies and not meter.trust.in_step:
            return self._read_blocks(meter, image, failures)  # it did not answer last time: one try is enough
        fault: LinkError | None = None
        for self._retries in range(_TRIES):
            if not (self._link.matches_replies or meter.trust.in_step):
                fault = self._resync(meter)
                if fault is not None:
                    return fault
            fault = self._read_blocks(meter, image, failures)
            if fault is None:
                return None
        return fault

    def _read_blocks(self, meter: Meter, image: Image, failures: dict[Block, LinkError]) -> LinkError | None:
        """Read block after block; a refused one is noted, any other fault ends it."""
        failures.clear()
        for number, block in enumerate(meter.blocks):
            try:
                if number:
                    self._expect_quiet(meter, block)
                registers = self._read(meter, block)
            except Refused as refusal:
                failures[block] = refusal
            except (Silent, Corrupt, Suspect) as fault:
                return fault
            else:
                self._answered = True
                first = block.address
                image.update({(block.table, first + i): register for i, register in enumerate(registers)})
        return None

    def _read(self, meter: Meter, block: Block) -> tuple[int, ...]:
        """Read one block; a reply that may be a copy of the one before is read again."""
        if self._link.matches_replies:
            return self._ask(meter, block, meter.trust.after_block)
        before = meter.copies.before(block)
        parted = meter.copies.must_part(block, wary=monotonic() < self._guard_until_s)
        if parted:
            self._part(meter, block)
        registers = self._ask(meter, block, meter.trust.after_block)
        if meter.copies.doubtful(block, before, registers) and not parted:
            self._part(meter, block)
            registers = self._ask(meter, block, meter.trust.after_block)
        meter.copies.believed(block, before, registers)
        return registers

    def _part(self, meter: Meter, block: Block) -> None:
        """Have the meter answer something else before ``block``, so that no copy of what it said can follow."""
        told = False
        probe = meter.trust.parting(monotonic())
        if probe is not None:
            self._expect_quiet(meter, probe)
            told = not meter.copies.refused
            try:
                self._ask(meter, probe, partial(meter.trust.after_parting, probe))
            except Refused:
                pass  # an answer as good as any, unless it may be the copy of a refusal
            else:
                told = True
        self._expect_quiet(meter, block, wait=not told)

    def _expect_quiet(self, meter: Meter, block: Block, *, wait: bool = False) -> None:
        """See that nothing came that nobody asked for, before ``block`` is.

        Raises:
            Suspect: something came.

        """
        if self._clear(meter.unit, block, wait=wait):
            meter.trust.doubt(monotonic())
            raise Suspect(f"unit {meter.unit}: bytes came that nobody asked for")

    def _resync(self, meter: Meter) -> LinkError | None:
        """Bring a meter back in step; give the fault that stands in the way, if any."""
        while (probe := meter.trust.probe(monotonic())) is not None:
            try:
                self._ask(meter, probe, partial(meter.trust.after_probe, probe))
            except Refused:
                continue
            except (Silent, Corrupt) as fault:
                return fault
            return None
        return self._settle(meter)

    def _settle(self, meter: Meter) -> LinkError:
        """Let time bring back a meter that no probe can; whatever comes, this poll is a gap."""
        suspect = Suspect(f"unit {meter.unit}: a reply to an earlier question may still come; left alone meanwhile")
        if not meter.trust.settled(monotonic()):
            return suspect
        try:
            self._ask(meter, meter.blocks[0], meter.trust.after_block)
        except LinkDown:
            raise
        except LinkError as fault:
            meter.trust.doubt(monotonic())
            return fault
        meter.trust.settle()
        self._answered = True
        return suspect

    def _ask(self, meter: Meter, block: Block, note: Callable[[Heard, float], None]) -> tuple[int, ...]:
        """Read one block and note what came; after silence or bytes that are no reply, leave the bus alone."""
        self._asked_s = asked_s = monotonic()
        self._last = (meter.unit, block.table, block.count)
        try:
            registers = self._link.read(meter.unit, block.table, block.address, block.count)
        except Refused:
            note(Heard.REFUSAL, monotonic())
            meter.copies.refusal(block)
            raise
        except (Silent, Corrupt) as fault:
            note(Heard.NOTHING, monotonic())
            if isinstance(fault, Corrupt) and fault.sender is not None:
                self._strays.add(fault.sender)
            if self._link.drain(self.quiet_s) >= SHORTEST_FRAME:
                self._slowest_s = max(self._slowest_s, monotonic() - asked_s - self.quiet_s)
            raise
        replied_s = monotonic()
        note(Heard.REPLY, replied_s)
        meter.copies.replied(block, registers)
        self._slowest_s = max(self._slowest_s * _FORGET, replied_s - asked_s)
        return registers

    def _clear(self, unit: int, block: Block, *, wait: bool = False) -> bool:
        """Throw away what came unasked; say whether it may have been a reply that could pass for another.

        Where replies lately came twice, wait for the second one before a question that it could answer.
        """
        guarded = wait or (monotonic() < self._guard_until_s and self._alike(unit, block))
        if not (self._link.pending() or guarded):
            return False
        stray = self._link.drain(self.quiet_s) >= SHORTEST_FRAME and not self._link.matches_replies
        if stray:
            self._guard_until_s = monotonic() + _GUARD_S
        return stray

    def _alike(self, unit: int, block: Block) -> bool:
        return self._last == (unit, block.table, block.count)


def gap(bus: str, meter: Meter, fault: LinkError) -> MeterPoll:
    """Give a poll in which nothing came, for the reason ``fault``."""
    channels = decode_poll(meter.map, meter.blocks, {}, dict.fromkeys(meter.blocks, fault))
    return MeterPoll(bus, meter.unit, now(), channels)


def doubted(poll: MeterPoll) -> MeterPoll:
    """Give ``poll`` with its values taken back."""
    reason = f"unit {poll.unit}: more came after the reply; it may have answered an earlier question"
    channels = tuple(ChannelReading(c.channel, Quality.SUSPECT, detail=reason) for c in poll.channels)
    return MeterPoll(poll.bus, poll.unit, poll.at, channels, poll.latency_s, poll.retries)
