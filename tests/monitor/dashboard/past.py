"""A past of invented values for the screens that ask for one: a circuit that was low, silent and then high."""

from __future__ import annotations

from monitor.alarms.model import Priority
from monitor.engine.history import Allowed, Entry, Fixed, Place, Planned, Sample, Spell, Switching
from tests.monitor.dashboard.snapshots import NOW_MS

MINUTE_MS = 60_000
FINE_MS = 20 * MINUTE_MS


def span(value: float) -> tuple[float, float, float]:
    """Give one value as lowest, mean and highest."""
    return (value, value, value)


class Past:
    """A past: 11 A till nine minutes ago, then a minute without readings, a minute of bad ones, 17.5 A, 24.6 A."""

    def __init__(self) -> None:
        self.asked: list[tuple[str, int, int]] = []
        self.loads: list[tuple[float, float]] = []

    def samples(self, circuit: str, begin_ms: int, end_ms: int) -> tuple[Sample, ...]:
        """Give a reading a second, or a minute's."""
        self.asked.append((circuit, begin_ms, end_ms))
        step = 1000 if end_ms - begin_ms <= FINE_MS else MINUTE_MS
        times = range(begin_ms // step * step, end_ms, step)
        return tuple(sample for at in times if (sample := self._at(at)) is not None)

    def entries(self, limit: int) -> tuple[Entry, ...]:
        """Give a few lines of every kind, then many of one."""
        return (*LINES, *MORE)[:limit]

    def room(self, watts: float, power_factor: float) -> tuple[Place, ...]:
        """Give places of every kind; the larger the load, the fewer fit."""
        self.loads.append((watts, power_factor))
        needed = watts / (power_factor * 120.0)
        return tuple(
            Place(name, needed <= room if room is not None else None, room, by, unknown)
            for name, room, by, unknown in ROOM
        )

    def switchings(self, circuit: str, begin_ms: int, end_ms: int) -> tuple[Switching, ...]:
        """Give what came on and went off at A3 in the last minutes."""
        return tuple(s for s in SWITCHED if begin_ms <= s.time_ms < end_ms) if circuit == "A3" else ()

    def planned(self, circuit: str, end_ms: int) -> tuple[Planned, ...]:
        """Give the plan of A3; of others nothing is planned."""
        del end_ms
        return PLANNED if circuit == "A3" else ()

    def fixed(self, circuit: str) -> Fixed | None:
        """Give what the show says of a breaker of 20 A."""
        return None if circuit == "gone" else Fixed("20 A UL 489", 114.0, 126.0)

    def allowed(self, circuit: str, amps: float) -> Allowed | None:
        """Give what UL 489 says of 20 A at 23 A or more; below that it holds."""
        del circuit
        latest_s = 3600.0 if amps >= 27 else None
        return Allowed(amps, amps / 20, "holds" if amps <= 20 else "not-set", None, latest_s, "UL 489")

    def spells(self, begin_ms: int, end_ms: int, circuit: str = "") -> tuple[Spell, ...]:
        """Give the times that alarms stood."""
        del begin_ms
        return tuple(s for s in SPELLS if s.begin_ms < end_ms and circuit in {"", s.where})

    def _at(self, time_ms: int) -> Sample | None:
        ago_s = (NOW_MS - time_ms) / 1000
        if 480 < ago_s <= 540:
            return None
        if 420 < ago_s <= 480:
            return Sample(time_ms, None, None)
        amps = 24.6 if ago_s <= 134 else 17.5 if ago_s <= 420 else 11.0
        return Sample(time_ms, span(amps), span(117.1 if ago_s <= 134 else 119.2), span(60.02))


LINES = (
    Entry(NOW_MS - 41_000, "alarm", "B2", "", "unacknowledged: B2 Window right reads 106.8 V, below 108.0 V"),
    Entry(NOW_MS - 95_000, "note", "A3", "Noor", "kettle stays, the urn goes"),
    Entry(NOW_MS - 134_000, "alarm", "A3", "", "unacknowledged: A3 Craft table carries 24.6 A"),
    Entry(NOW_MS - 600_000, "event", "", "", "the logger started"),
    Entry(NOW_MS - 7 * 3_600_000, "note", "source", "Ilse", "refuel 60 litres: before supper"),
)
MORE = tuple(
    Entry(NOW_MS - 8 * 3_600_000 - n * MINUTE_MS, "event", f"B{n % 6 + 1}", "", f"meter answered again, time {n}")
    for n in range(40)
)
ROOM: tuple[tuple[str, float | None, str | None, tuple[str, ...]], ...] = (
    ("A6", 16.0, "A6", ()),
    ("A2", 6.3, "A2", ("boxA/L2",)),
    ("A1", 5.2, "A1", ()),
    ("B1", -1.3, "B1", ()),
    ("A4", None, None, ("A4", "boxA/L2")),
)
SWITCHED = (
    Switching(NOW_MS - 420_000, True, 780.0, 6.5, ("Urn",), 0.97),  # noqa: FBT003 - the field's name is "on"
    Switching(NOW_MS - 134_000, True, 852.0, 7.1, (), 0.0),  # noqa: FBT003
    Switching(NOW_MS - 60_000, False, -60.0, -0.5, ("Fairy lights",), 0.62, "it may be the meter"),  # noqa: FBT003
)
PLANNED = (
    Planned("Urn", 780.0, 6.5, 1, 1, NOW_MS - 420_000),
    Planned("Hotplate", 700.0, 5.8, 1),
    Planned("Fairy lights", 60.0, 0.5, 2, 1, NOW_MS - 60_000),
)
SPELLS = (
    Spell(
        "volts-low",
        "B2",
        Priority.HIGH,
        "B2 Window right reads 105.9 V, below 108.0 V",
        NOW_MS - 90_000_000,
        NOW_MS - 89_500_000,
        "Ilse",
        NOW_MS - 89_900_000,
    ),
    Spell("near-rating", "A3", Priority.LOW, "A3 Craft table carries 17.5 A", NOW_MS - 410_000, NOW_MS - 134_000),
    Spell(
        "far-above-rating",
        "A3",
        Priority.URGENT,
        "A3 Craft table carries 24.6 A, above 24.0 A, 120 % of its rating",
        NOW_MS - 134_000,
        None,
        "Noor",
        NOW_MS - 100_000,
    ),
)
