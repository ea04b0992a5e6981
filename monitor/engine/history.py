"""The past, as screens may ask for it: from the log, a stretch at a time, never all of it."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal, Protocol

if TYPE_CHECKING:
    from monitor.alarms.model import Priority


@dataclass(frozen=True, slots=True)
class Sample:
    """One moment, or one minute, of a circuit or of the source; None is a gap, never bridged.

    Attributes:
        time_ms: when it began, on the log's clock.
        amps: lowest, mean, highest [A]; all the same for a single reading.
        volts: lowest, mean, highest [V].
        hertz: lowest, mean, highest [Hz].

    """

    time_ms: int
    amps: tuple[float, float, float] | None
    volts: tuple[float, float, float] | None
    hertz: tuple[float, float, float] | None = None


@dataclass(frozen=True, slots=True)
class Entry:
    """One line of the log: an event, an alarm's change or a note.

    Attributes:
        time_ms: on the log's clock.
        kind: ``event``, ``alarm`` or ``note``.
        where: the place it is about, or empty.
        who: or empty.
        text: one plain sentence.

    """

    time_ms: int
    kind: str
    where: str
    who: str
    text: str


@dataclass(frozen=True, slots=True)
class Place:
    """Room for a load at one circuit.

    Attributes:
        circuit: its id.
        fits: None where nothing could be checked.
        room_amps: least room on the way [A], or None.
        limited_by: which place limits, or None.
        not_checked: places without a live value or a rating.

    """

    circuit: str
    fits: bool | None
    room_amps: float | None
    limited_by: str | None
    not_checked: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Switching:
    """A load coming on or going off at a circuit, as the logger found it.

    Attributes:
        time_ms: first reading that shows it, on the log's clock.
        on: it came on; else it went off.
        watts: settled change [W], below 0 for off, or None.
        amps: the same in a hot leg [A], or None.
        loads: name of each piece of planned load it is taken for; empty where no plan explains it.
        confidence: share of all explanations' weight that this one has, 0 to 1.
        note: what the log can't tell about it, or empty.

    """

    time_ms: int
    on: bool
    watts: float | None
    amps: float | None
    loads: tuple[str, ...]
    confidence: float
    note: str = ""


@dataclass(frozen=True, slots=True)
class Planned:
    """A planned load of a circuit, or several of a kind, against what was seen of it.

    Attributes:
        name: for people.
        watts: of one piece [W].
        amps: of one piece at nominal volts [A].
        count: how many are planned.
        on: how many of them are taken to be on, by the steps that were found; None where none was seen to switch.
        since_ms: when that last changed, on the log's clock, or None.

    """

    name: str
    watts: float
    amps: float
    count: int
    on: int | None = None
    since_ms: int | None = None


@dataclass(frozen=True, slots=True)
class Fixed:
    """What the show fixes of a circuit beyond its view.

    Attributes:
        breaker: rating and standard in words.
        volts_low: its alarm's limit [V].
        volts_high: its alarm's limit [V].

    """

    breaker: str
    volts_low: float
    volts_high: float


@dataclass(frozen=True, slots=True)
class Allowed:
    """When a breaker's standard alone lets it open, from cold, at one steady load: no forecast of this breaker.

    Attributes:
        amps: the load [A].
        multiple: of the rating [1].
        soonest: ``time``, ``holds`` (not at all, or not for so long) or ``not-set``.
        soonest_s: with ``time``: no sooner than this [s]; with ``holds``: for so long [s], or None without end.
        latest_s: by this at the latest [s]; None where no opening is required.
        source: of the gates, with what is only remembered.

    """

    amps: float
    multiple: float
    soonest: Literal["time", "holds", "not-set"]
    soonest_s: float | None
    latest_s: float | None
    source: str


@dataclass(frozen=True, slots=True)
class Spell:
    """One time that an alarm stood.

    Attributes:
        code: of its rule.
        where: its place.
        weight: how much attention it needed.
        text: what was seen last.
        begin_ms: on the log's clock.
        end_ms: when it was told that what it saw had gone; None while it stands.
        who: acknowledged it, or empty.
        noted_ms: when that was, or None.

    """

    code: str
    where: str
    weight: Priority
    text: str
    begin_ms: int
    end_ms: int | None
    who: str = ""
    noted_ms: int | None = None


class History(Protocol):
    """What a feed can tell of the past and of room; may raise nothing and blocks for a fraction of a second at most."""

    def samples(self, circuit: str, begin_ms: int, end_ms: int) -> tuple[Sample, ...]:
        """Give a circuit's readings, or its minutes where the stretch is longer than 20 minutes; oldest first.

        For a circuit metered leg by leg, and for ``source``: the highest amps and lowest volts of its legs.
        """

    def entries(self, limit: int) -> tuple[Entry, ...]:
        """Give the newest lines of the log, at most ``limit``, newest first."""

    def room(self, watts: float, power_factor: float) -> tuple[Place, ...]:
        """Say for every circuit whether a load [W] fits now, at measured values, most room first."""

    def switchings(self, circuit: str, begin_ms: int, end_ms: int) -> tuple[Switching, ...]:
        """Give the steps found at a circuit in a stretch, oldest first."""

    def planned(self, circuit: str, end_ms: int) -> tuple[Planned, ...]:
        """Give a circuit's planned loads, and which are taken to be on by the steps of the day before ``end_ms``."""

    def fixed(self, circuit: str) -> Fixed | None:
        """Give what the show fixes of a circuit; None where it is not in the show."""

    def allowed(self, circuit: str, amps: float) -> Allowed | None:
        """Say what a circuit's breaker may do at a steady load [A]; None where its standard doesn't cover it."""

    def spells(self, begin_ms: int, end_ms: int, circuit: str = "") -> tuple[Spell, ...]:
        """Give every time that an alarm stood within a stretch, oldest first; of one circuit and its legs if named."""
