"""Heat: how far a varying load has brought a breaker along its two edge curves.

The rule is that of IEEE C37.112 for a varying current (its form from memory): an element has operated when the
integral of dt / T(I) reaches 1. Here T(I) are two curves, straight in log-log through the gates:

- the *early* edge through the not-before points (the holding point with its conventional time is its first one);
- the *late* edge through the latest points.

At a gate's own current the edge takes exactly the gate's time. Between gates an edge is a line that we draw, not a
word of the standard: the band says what the standard alone allows. Below an edge's first point nothing adds up.
Beyond the last point of the late edge its time stays (nothing shorter is required); beyond the last of the early
edge a breaker may open at once, and the fraction is full. An early edge of fewer than two points is no curve: it is
None and to be shown as "not set" (UL 489; the thermal part of IEC 60947-2 alone).

Cooling, below an edge's first point, follows the reset form of IEEE C37.112, (1 - M^2) / t_r, with M the load over
the first point's current (form from memory); t_r is the longest time among the gates, which is the conventional time
of a standard (a judgement). The early fraction ends at 1, the late one at ``CEILING``, so that a breaker far past its
edge is cool again two such times after its load went; how far past says little. Nothing here forecasts an opening.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from itertools import pairwise
from math import exp, inf, isfinite, log
from typing import TYPE_CHECKING

from monitor.electrical.breaker import latest_at, own_requirements, requirements, soonest_at, source_of

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

    from monitor.electrical.breaker import Requirement
    from monitor.show.model import Breaker

CEILING = 2.0  # of the late edge
_REACHED = 1.0  # of the early edge: past it there is nothing more to say
_SLACK = 1e-9  # relative, as in the band
_TWO_POINTS = 2

Edge = tuple[tuple[float, float], ...]  # (multiple of the rating [1], time [s]), rising in multiple


@dataclass(frozen=True, slots=True)
class Edges:
    """The two edge curves of one breaker.

    Attributes:
        rated_amps: its rating [A].
        early: through the not-before points, or None: not set.
        late: through the latest points, or None: none required.
        cooling_s: reset time t_r at no current [s].
        own_points: True where the user's own points replace the standard's.
        source: of the points.

    """

    rated_amps: float
    early: Edge | None
    late: Edge | None
    cooling_s: float
    own_points: bool
    source: str


@dataclass(frozen=True, slots=True)
class HeatState:
    """How far along the edges a load has come; frozen, so that it can be kept and rebuilt.

    Attributes:
        fastest: fraction of the early edge [1], 1 is reached; None where that edge is not set.
        slowest: fraction of the late edge [1]; above 1 without an opening is a finding; None where there is none.
        unknown_s: time without a reading that may still matter [s]: the fractions know nothing of what flowed then.
        since_gap_s: measured time since the last such gap [s]; after ``CEILING`` reset times a gap is forgotten.

    """

    fastest: float | None
    slowest: float | None
    unknown_s: float = 0.0
    since_gap_s: float = 0.0

    @property
    def past_latest(self) -> bool:
        """Whether the late edge is passed.

        With the breaker still closed this is a finding: wrong rating, wrong scale, or a breaker to have checked.
        Between gates the standard's own steps may allow more time: say that it is the line drawn through the gates.
        """
        return self.slowest is not None and self.slowest > 1.0 + _SLACK


def edges(breaker: Breaker, magnetic: float | None = None) -> Edges:
    """Draw the edges of a breaker: through its own points where it has some, else through its standard's gates.

    Args:
        breaker: its standard, rating and own points.
        magnetic: setting of the magnetic part as a multiple of the rating (IEC 60947-2 only), or None.

    Raises:
        ValueError: as ``monitor.electrical.breaker.requirements``.

    """
    own = bool(breaker.gates)
    gates = own_requirements(breaker) if own else requirements(breaker, magnetic)
    early = _early(gates)
    times = [gate.seconds for gate in gates if gate.seconds is not None]
    return Edges(
        rated_amps=breaker.amps,
        early=early if len(early) >= _TWO_POINTS else None,
        late=_late(gates) or None,
        cooling_s=max(times),
        own_points=own,
        source="the user's own points" if own else source_of(breaker),
    )


def cold(of: Edges) -> HeatState:
    """Give the state of a breaker that has carried nothing for long."""
    return HeatState(None if of.early is None else 0.0, None if of.late is None else 0.0)


def advance(state: HeatState, of: Edges, amps: float | None, dt_s: float) -> HeatState:
    """Carry a steady current for a while.

    Args:
        state: before.
        of: the breaker's edges.
        amps: current over the time [A]; None where it was not measured: the fractions stay, the time is counted.
        dt_s: how long [s], 0 or more.

    Raises:
        ValueError: ``dt_s`` is negative or no number, or ``amps`` is no number.

    """
    if not isfinite(dt_s) or dt_s < 0 or (amps is not None and not isfinite(amps)):
        raise ValueError(f"heat needs a current and a time of 0 s or more; found {amps} A for {dt_s} s")
    if amps is None:
        return replace(state, unknown_s=state.unknown_s + dt_s, since_gap_s=0.0)
    multiple = max(amps, 0.0) / of.rated_amps
    fastest = _along(state.fastest, of.early, (multiple, dt_s, of.cooling_s), _REACHED, beyond=0.0)
    slowest = _along(state.slowest, of.late, (multiple, dt_s, of.cooling_s), CEILING)
    since_gap_s = state.since_gap_s + dt_s if state.unknown_s else 0.0
    if since_gap_s >= CEILING * of.cooling_s:
        return HeatState(fastest, slowest)
    return HeatState(fastest, slowest, state.unknown_s, since_gap_s)


def seconds_on(edge: Edge, multiple: float, *, beyond: float | None = None) -> float:
    """Give the time T of an edge at a multiple of the rating [s]; infinite below its first point.

    Args:
        edge: the curve.
        multiple: current / rating [1].
        beyond: time beyond the last point [s]; None keeps the last point's.

    """
    if multiple < edge[0][0] * (1 - _SLACK):
        return inf
    for (low, slow), (high, quick) in pairwise(edge):
        if abs(multiple - low) <= low * _SLACK:
            return slow
        if multiple < high * (1 - _SLACK):
            return exp(log(slow) + log(quick / slow) * log(multiple / low) / log(high / low))
    last, time = edge[-1]
    return time if beyond is None or multiple <= last * (1 + _SLACK) else beyond


def _along(
    fraction: float | None,
    edge: Edge | None,
    load: tuple[float, float, float],
    ceiling: float,
    *,
    beyond: float | None = None,
) -> float | None:
    """Move a fraction along its edge for a load of (multiple, seconds, reset time)."""
    if fraction is None or edge is None:
        return None
    multiple, dt_s, cooling_s = load
    time = seconds_on(edge, multiple, beyond=beyond)
    if time == inf:
        return max(0.0, fraction - dt_s * (1.0 - (multiple / edge[0][0]) ** 2) / cooling_s)
    if time == 0.0:
        return ceiling if dt_s > 0 else fraction
    return min(ceiling, fraction + dt_s / time)


def _early(gates: Sequence[Requirement]) -> Edge:
    points = _multiples(gate for gate in gates if gate.kind != "latest" and gate.seconds is not None)
    timed = ((multiple, soonest_at(gates, multiple)) for multiple in points)
    return tuple((multiple, at.seconds or at.holds_for_s or 0.0) for multiple, at in timed)


def _late(gates: Sequence[Requirement]) -> Edge:
    points = _multiples(gate for gate in gates if gate.kind == "latest")
    return tuple((multiple, latest_at(gates, multiple).seconds or 0.0) for multiple in points)


def _multiples(gates: Iterable[Requirement]) -> list[float]:
    return sorted({gate.multiple for gate in gates})
