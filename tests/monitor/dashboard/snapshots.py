"""Snapshots built by hand, with invented values: twelve circuits on two boxes of a generator."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

from drivers.reading import Quality
from monitor.alarms.model import Priority
from monitor.engine.snapshot import (
    AlarmView,
    CircuitView,
    FeederView,
    Freshness,
    LegView,
    LoggerView,
    Measured,
    Snapshot,
    SourceView,
)
from monitor.engine.told import HeatView

if TYPE_CHECKING:
    from collections.abc import Iterable

NOW_MS = 1_767_924_187_000  # 2026-01-08 22:03:07 in Halifax

UNMETERED = Measured(Freshness.UNMETERED)
NEVER = Measured(Freshness.NEVER, quality=Quality.SILENT, detail="no reply within 0.4 s")

_PLAN = (
    ("A1", "Key side", "boxA", ("L1",), 11.0, 20.0),
    ("A2", "Fill side", "boxA", ("L2",), 10.0, 20.0),
    ("A3", "Craft table", "boxA", ("L1",), 12.5, 20.0),
    ("A4", "Camera carts", "boxA", ("L2",), 6.2, 20.0),
    ("A5", "Balloon light", "boxA", ("L1", "L2"), 16.7, 30.0),
    ("A6", "Spare, north wall", "boxA", ("L1",), 0.0, 20.0),
    ("B1", "Window left", "boxB", ("L1",), 14.0, 20.0),
    ("B2", "Window right", "boxB", ("L2",), 14.0, 20.0),
    ("B3", "Sound cart", "boxB", ("L1",), 2.5, 15.0),
    ("B4", "Wardrobe steamer", "boxB", ("L2",), 13.0, 20.0),
    ("B5", "Video village", "boxB", ("L1",), 7.5, 20.0),
    ("B6", "Work lights", "boxB", ("L2",), 4.0, 20.0),
)
_AMPS = (10.8, 9.7, 11.9, 6.0, 16.4, 0.0, 13.6, 13.9, 2.4, 0.3, 7.1, 3.9)


def live(amps: float | None, volts: float | None = 119.2, age_s: float = 0.6) -> Measured:
    """Give a place with live values."""
    watts = None if amps is None or volts is None else round(amps * volts * 0.97)
    return Measured(Freshness.LIVE, age_s, Quality.GOOD, volts=volts, amps=amps, hertz=60.02, watts=watts)


def old(measured: Measured, age_s: float = 12.4, quality: Quality = Quality.SILENT) -> Measured:
    """Give the same place after its meter has stopped answering."""
    detail = "no reply within 0.4 s" if quality is Quality.SILENT else "checksum wrong"
    return replace(measured, freshness=Freshness.OLD, age_s=age_s, quality=quality, detail=detail)


def measured_as(circuit: CircuitView, measured: Measured) -> CircuitView:
    """Give the circuit with another measurement."""
    amps = measured.amps if measured.live else None
    return replace(
        circuit,
        measured=measured,
        over_plan_amps=None if amps is None else amps - circuit.planned_amps,
        percent=None if amps is None else 100.0 * amps / circuit.rated_amps,
    )


def circuits() -> tuple[CircuitView, ...]:
    """Give twelve circuits, all live and within their limits."""
    return tuple(
        measured_as(
            CircuitView(
                id=name,
                name=title,
                box=box,
                legs=legs,
                measured=UNMETERED,
                by_leg=(),
                nominal_volts=120.0 * len(legs),
                planned_amps=planned,
                continuous_amps=0.8 * rated,
                rated_amps=rated,
                over_plan_amps=None,
                percent=None,
            ),
            live(amps, 238.6 if len(legs) > 1 else 119.2),
        )
        for (name, title, box, legs, planned, rated), amps in zip(_PLAN, _AMPS, strict=True)
    )


def leg(name: str, measured: Measured, limit: float | None, circuits_amps: float | None = None) -> LegView:
    """Give one leg."""
    amps = measured.amps if measured.live else None
    percent = None if amps is None or limit is None else 100.0 * amps / limit
    return LegView(name, measured, circuits_amps, limit, percent, 0.0 if name == "N" else 120.0)


def quiet() -> Snapshot:
    """Give a show in which nothing is wrong."""
    source = SourceView(
        name="Towable set",
        system="120/240",
        legs=(leg("L1", live(62.4, 119.6), 104.0, 62.2), leg("L2", live(50.3, 119.9), 104.0, 50.2)),
        nominal_hertz=60.0,
        hertz=60.02,
        kilowatts=13.1,
        kilowatts_measured=True,
        rated_kw=20.0,
        percent=65.5,
    )
    feeders = (
        FeederView("boxA", "North box", "source", (leg("L1", UNMETERED, 60, 39.1), leg("L2", UNMETERED, 60, 32.1))),
        FeederView("boxB", "South box", "source", (leg("L1", live(23.2), 60, 23.1), leg("L2", live(18.2), 60, 18.1))),
    )
    return Snapshot(
        time_ms=NOW_MS,
        show_name="Ropewalk, second night",
        timezone="America/Halifax",
        source=source,
        feeders=feeders,
        circuits=circuits(),
        wrong=(),
        logger=LoggerView(True, 0.7, 0, "", "ropewalk.log"),  # noqa: FBT003 - the field's name is "running"
    )


def changed(snapshot: Snapshot, measurements: dict[str, Measured], wrong: Iterable[AlarmView] = ()) -> Snapshot:
    """Give the Snapshot with other measurements of some circuits, and with what is wrong then."""
    views = (
        measured_as(view, measurements[view.id]) if view.id in measurements else view for view in snapshot.circuits
    )
    found = tuple(wrong)
    return replace(snapshot, circuits=tuple(views), wrong=found, alarms=found)


def wrong(code: str, weight: Priority, where: str, text: str, ago_s: int = 95) -> AlarmView:
    """Give one thing that has been wrong for a while."""
    return AlarmView(code, weight, where, text, NOW_MS - 1000 * ago_s)


ABOVE = wrong(
    "above-rating", Priority.URGENT, "A3", "A3 Craft table carries 24.6 A, above its breaker's 20 A", ago_s=134
)
LOW_VOLTS = wrong("volts-low", Priority.HIGH, "B2", "B2 Window right reads 106.8 V, below 108.0 V", ago_s=41)
SILENT = wrong(
    "meter-silent",
    Priority.HIGH,
    "rs485:4",
    "unit 4 on bus rs485 gives no values now of B5, B6 (silent: no reply within 0.4 s)",
    ago_s=12,
)
LONG = wrong(
    "near-rating", Priority.LOW, "B1", "B1 Window left carries 17.3 A, above its continuous limit of 16.0 A", 610
)
UNPLANNED = wrong(
    "over-plan", Priority.LOW, "A3", "A3 Craft table carries 12.1 A more than its planned 12.5 A", ago_s=134
)


FAR_ABOVE = replace(
    wrong(
        "far-above-rating",
        Priority.URGENT,
        "A3",
        "A3 Craft table carries 24.6 A, above 24.0 A, 120 % of its rating",
        134,
    ),
    means="a large load was added; a motor is held; a fault takes current; the rating in the show file is not real",
    do="Take load off this circuit now. Look at its cable and connectors without touching them.",
    cannot_know="When or whether the breaker opens: only amps and time are known.",
    folded=("A3 Craft table carries 12.1 A more than its planned 12.5 A",),
)
NOTED = replace(
    SILENT,
    state="acknowledged",
    who="Noor",
    changed_ms=NOW_MS - 5_000,
    told_ms=NOW_MS,
    do="Look at its plug and cable.",
)
LATCHED = replace(
    wrong("lost-neutral", Priority.URGENT, "boxB", "boxB's legs stood 23.3 V apart while their sum held", 3_000),
    state="latched-acknowledged",
    who="Ilse",
    changed_ms=NOW_MS - 2_000_000,
    told_ms=NOW_MS - 2_900_000,
)
RETURNED = replace(
    wrong("hertz-low", Priority.HIGH, "source", "source ran at 58.1 Hz, below 58.5 Hz", 900),
    state="returned-unacknowledged",
    do="Ask the generator operator.",
)
SHELVED = replace(
    wrong("over-plan", Priority.LOW, "A5", "A5 Balloon light carries 4.2 A more than its planned 16.7 A", 5_000),
    state="shelved",
    who="Noor",
    why="heater agreed with the gaffer",
    until_ms=NOW_MS + 1_800_000,
)


def alarmed() -> Snapshot:
    """Give the troubled show with an alarm of every state."""
    wrongs = (FAR_ABOVE, LATCHED, LOW_VOLTS, NOTED, LONG)
    return replace(troubled(), wrong=wrongs, alarms=(*wrongs, RETURNED, SHELVED))


def troubled() -> Snapshot:
    """Give a show with a few things wrong, two circuits silent, one never heard and one without a meter."""
    base = {view.id: view.measured for view in circuits()}
    return changed(
        quiet(),
        {
            "A3": live(24.6, 117.1),
            "A4": UNMETERED,
            "B1": live(17.3),
            "B2": live(14.9, 106.8),
            "B3": NEVER,
            "B5": old(base["B5"]),
            "B6": old(base["B6"]),
        },
        (ABOVE, LOW_VOLTS, SILENT, LONG, UNPLANNED),
    )


def moving() -> Snapshot:
    """Give the troubled show with a rising and a falling load, and with breakers that are warm and hot."""
    base = troubled()
    told: dict[str, tuple[HeatView | None, float | None]] = {}
    told |= {"A1": (HeatView(0.04, 0.01), None), "A3": (HeatView(1.2, 0.3, 4.0), 7.1)}
    told |= {"B1": (HeatView(0.6, 0.1), -3.4), "B2": (HeatView(None, 0.2), 0.2)}
    views = ((view, *told.get(view.id, (None, None))) for view in base.circuits)
    return replace(base, circuits=tuple(replace(v, heat=heat, over_minute_amps=change) for v, heat, change in views))


def stopped() -> Snapshot:
    """Give the same on an attached screen whose logger gave no sign of life for a while."""
    logger = LoggerView(False, 47.2, 0, "", "ropewalk.log")  # noqa: FBT003 - the field's name is "running"
    return replace(troubled(), logger=logger)


def not_kept() -> Snapshot:
    """Give a quiet show whose readings can't be written."""
    logger = LoggerView(True, 33.0, 144, "disk full", "ropewalk.log")  # noqa: FBT003 - the field's name is "running"
    return replace(quiet(), logger=logger)


def many(number: int = 48) -> Snapshot:
    """Give a quiet show of more circuits than a screen has lines."""
    views = circuits()
    more = tuple(replace(views[i % 12], id=f"{views[i % 12].box[-1]}{i + 1}") for i in range(number))
    return replace(quiet(), circuits=more)


def apparent_power() -> Snapshot:
    """Give a quiet show whose source's meters give no watts."""
    source = replace(quiet().source, kilowatts=14.2, kilowatts_measured=False, percent=71.0)
    return replace(quiet(), source=source)


def unmetered_source() -> Snapshot:
    """Give a quiet show whose source has no meter."""
    legs = (leg("L1", UNMETERED, 104.0, 62.2), leg("L2", UNMETERED, 104.0, 50.2))
    source = replace(quiet().source, legs=legs, hertz=None, kilowatts=None, percent=None)
    return replace(quiet(), source=source)


def three_legs() -> Snapshot:
    """Give a quiet show on three legs with a metered neutral, its boxes without meters."""
    legs = tuple(leg(name, live(61.0 + n), 100.0, 60.5 + n) for n, name in enumerate(("L1", "L2", "L3")))
    base = quiet()
    source = replace(base.source, system="208Y/120", legs=(*legs, leg("N", live(7.4, None), 100.0)))
    three = tuple(leg(name, UNMETERED, 60.0, 20.0) for name in ("L1", "L2", "L3"))
    feeders = tuple(replace(feeder, legs=three) for feeder in base.feeders)
    wide = replace(base.circuits[4], legs=("L1", "L2", "L3"))
    return replace(base, source=source, feeders=feeders, circuits=(*base.circuits[:4], wide, *base.circuits[5:]))
