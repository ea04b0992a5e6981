"""Snapshots: all that a screen may know, frozen, with every figure already worked out.

A value is None where it is not measured or not live. ``Live`` carries the last good value too, with its age, so that
a screen can show it marked as old; nothing else does.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from drivers.reading import Quality
    from monitor.alarms.model import Priority
    from monitor.engine.told import Answer, BusView, FuelView, HeatView, OutputView


class Freshness(StrEnum):
    """How far a place's figures can be believed now."""

    LIVE = "live"  # the last reading with values is recent: its age is within the show's limit
    OLD = "old"  # no reading with values for longer than the show's limit
    NEVER = "never"  # metered, but no reading with values yet
    UNMETERED = "unmetered"  # no meter measures here


@dataclass(frozen=True, slots=True)
class Measured:
    """What one point measured last.

    Attributes:
        freshness: whether the values are live.
        age_s: since the last good reading [s]; None where there was none.
        quality: of the last reading, good or not; None where there was none.
        detail: why the last reading was not good, in plain words.
        volts: [V]. While ``freshness`` is OLD these five hold the last good values: never show them as live.
        amps: [A].
        hertz: [Hz].
        watts: [W]; measured, or None.
        power_factor: measured, or None.

    """

    freshness: Freshness
    age_s: float | None = None
    quality: Quality | None = None
    detail: str = ""
    volts: float | None = None
    amps: float | None = None
    hertz: float | None = None
    watts: float | None = None
    power_factor: float | None = None

    @property
    def live(self) -> bool:
        """Whether the values may be shown as present ones."""
        return self.freshness is Freshness.LIVE


@dataclass(frozen=True, slots=True)
class CircuitView:
    """One circuit.

    Attributes:
        id: of the circuit.
        name: for people.
        box: id of what feeds it.
        legs: its legs.
        measured: for a circuit metered leg by leg: the highest amps, lowest volts, sum of watts and oldest age.
        by_leg: (leg, measured) where it is metered leg by leg, else empty.
        nominal_volts: what its volts should be [V].
        planned_amps: [A]; 0 with no planned load.
        continuous_amps: the site's limit for continuous load [A].
        rated_amps: of the breaker [A].
        over_plan_amps: measured minus planned [A]; None unless live.
        percent: amps in percent of the rating; None unless live.
        heat: of its breaker; None where it is not known.
        over_minute_amps: amps now less those of a minute ago, of the leg in which they changed most [A]; None
            unless live, and known for most of that minute.

    """

    id: str
    name: str
    box: str
    legs: tuple[str, ...]
    measured: Measured
    by_leg: tuple[tuple[str, Measured], ...]
    nominal_volts: float
    planned_amps: float
    continuous_amps: float
    rated_amps: float
    over_plan_amps: float | None
    percent: float | None
    heat: HeatView | None = None
    over_minute_amps: float | None = None


@dataclass(frozen=True, slots=True)
class LegView:
    """One leg (or the neutral) of the source or of a feeder.

    Attributes:
        leg: ``L1`` to ``L3`` or ``N``.
        measured: by its own meter; UNMETERED where it has none.
        circuits_amps: sum of the live circuits on it [A], a lower bound; None where none is live. Not for ``N``.
        limit_amps: rating [A], or None.
        percent: measured amps in percent of the limit; None unless live and limited.
        nominal_volts: leg to neutral [V]; 0 for ``N``.

    """

    leg: str
    measured: Measured
    circuits_amps: float | None
    limit_amps: float | None
    percent: float | None
    nominal_volts: float


@dataclass(frozen=True, slots=True)
class FeederView:
    """A feeder or box, with its legs."""

    id: str
    name: str
    fed_from: str
    legs: tuple[LegView, ...]


@dataclass(frozen=True, slots=True)
class SourceView:
    """The source.

    Attributes:
        name: for people.
        system: voltage system.
        legs: its legs, and ``N`` where the neutral is metered.
        nominal_hertz: [Hz].
        hertz: live, from whatever point of the source, else of any place, measures it [Hz]; None if none.
        kilowatts: sum over the source's metered legs [kW]; None unless every leg is live.
        kilowatts_measured: True where ``kilowatts`` comes from the meters' own watts, False where it is volts times
            amps (kVA: an upper bound for kW).
        rated_kw: [kW] or None.
        percent: kilowatts in percent of rated kW; None where either is unknown.
        kind: ``generator`` or ``house``.
        kva: sum of the legs' volts times amps [kVA]; None unless every leg is live.
        rated_kva: [kVA] or None.
        kva_percent: kVA in percent of rated kVA; None where either is unknown.
        neutral_estimate_amps: from the legs' amps and power factors, at the fundamental alone [A]; None where a leg is
            not live, or the neutral has a meter, or there is one leg only.
        output: None where it is not known.
        fuel: None where the show gives no fuel points.

    """

    name: str
    system: str
    legs: tuple[LegView, ...]
    nominal_hertz: float
    hertz: float | None
    kilowatts: float | None
    kilowatts_measured: bool
    rated_kw: float | None
    percent: float | None
    kind: str = "generator"
    kva: float | None = None
    rated_kva: float | None = None
    kva_percent: float | None = None
    neutral_estimate_amps: float | None = None
    output: OutputView | None = None
    fuel: FuelView | None = None


@dataclass(frozen=True, slots=True)
class AlarmView:
    """One alarm that is not normal.

    Attributes:
        code: short name: ``above-rating``, ``volts-low``, ``meter-silent`` ...
        weight: how much attention it needs.
        where: the point, circuit, feeder, meter, ``source`` or ``log``.
        text: one plain sentence with value and limit.
        since_ms: on the log's clock.
        state: of its life cycle.
        means: what it may mean.
        do: what to do now.
        cannot_know: what it can't know.
        folded: sentences of what it explains.
        who: who acknowledged or shelved it, or empty.
        why: the reason given, or empty.
        until_ms: shelved until, on the log's clock, or None.
        changed_ms: when ``state`` last changed, on the log's clock, or None where it is not known.
        told_ms: when what ``text`` says was seen, on the log's clock: its figures are of then; None where all that is
            known is that it was seen before ``changed_ms``.

    """

    code: str
    weight: Priority
    where: str
    text: str
    since_ms: int
    state: str = "unacknowledged"
    means: str = ""
    do: str = ""
    cannot_know: str = ""
    folded: tuple[str, ...] = ()
    who: str = ""
    why: str = ""
    until_ms: int | None = None
    changed_ms: int | None = None
    told_ms: int | None = None


@dataclass(frozen=True, slots=True)
class LoggerView:
    """The logger behind the figures.

    Attributes:
        running: False on an attached screen whose logger gave no sign of life.
        last_commit_age_s: since the log was last written [s]; None before the first time.
        not_kept: readings that could not be written so far.
        problem: why not, in plain words, or empty.
        log_path: the file.
        cut_off: on an attached screen: the logger runs, but can't write the log, so that no reading gets here.

    """

    running: bool
    last_commit_age_s: float | None
    not_kept: int
    problem: str
    log_path: str
    cut_off: bool = False


@dataclass(frozen=True, slots=True)
class Snapshot:
    """Everything, at one moment.

    Attributes:
        time_ms: the log's clock.
        show_name: of the show.
        timezone: IANA name, to write times in.
        source: the source.
        feeders: parents before children.
        circuits: in the show file's order.
        wrong: alarms whose condition holds or is latched, not the shelved ones; most urgent first, then oldest first.
        logger: the logger.
        alarms: every alarm that is not normal, with those of ``wrong``: returned and shelved ones too.
        buses: in the show's order.
        told: the logger's own figures are known here: without, no energy, demand, fuel, heat or counts.
        answers: what became of the newest requests, oldest first.

    """

    time_ms: int
    show_name: str
    timezone: str
    source: SourceView
    feeders: tuple[FeederView, ...]
    circuits: tuple[CircuitView, ...]
    wrong: tuple[AlarmView, ...]
    logger: LoggerView
    alarms: tuple[AlarmView, ...] = ()
    buses: tuple[BusView, ...] = ()
    told: bool = False
    answers: tuple[Answer, ...] = ()
