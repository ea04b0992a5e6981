"""The life cycle and the figures of ISA-18.2 / IEC 62682, as public texts give them.

Neither standard was read itself. The states, transitions and the two sequences stood in a public repository's text
about them; the definition of latching is that of OPC 10000-9, section 3, derived from both
(reference.opcfoundation.org/specs/OPC-10000-9/3). The first sequence came with its states only: its inputs here are
those that give them, for three lengths of the on-delay.
"""

from __future__ import annotations

import pytest

from monitor.alarms.lifecycle import Event, State, after
from monitor.alarms.model import Alarm, AlarmChange, Priority
from monitor.alarms.stats import stats
from tests.support.moments import Run, obs

U, A, N, RTN = State.UNACKNOWLEDGED, State.ACKNOWLEDGED, State.NORMAL, State.RETURNED

# Published: normal to unacknowledged on a confirmed condition; unacknowledged to acknowledged; unacknowledged to
# returned on clearing; acknowledged to normal on clearing; returned to normal on acknowledgement; returned to
# unacknowledged on recurrence; latching adds "cleared, acknowledged, waiting for reset", then normal on reset.
PUBLISHED = [
    (N, Event.RAISED, U),
    (U, Event.ACKNOWLEDGED, A),
    (U, Event.CLEARED, RTN),
    (A, Event.CLEARED, N),
    (RTN, Event.ACKNOWLEDGED, N),
    (RTN, Event.RAISED, U),
    (A, Event.CLEARED_LATCHED, State.LATCHED_ACKNOWLEDGED),
    (State.LATCHED_ACKNOWLEDGED, Event.RESET, N),
]


@pytest.mark.parametrize(("state", "event", "then"), PUBLISHED)
def test_published_transitions(state: State, event: Event, then: State) -> None:
    """Each published transition is in the table."""
    assert after(state, event) is then


@pytest.mark.parametrize("on_delay", [0, 1, 2])
def test_published_sequence(on_delay: int) -> None:
    """Normal to 6, unacknowledged to 8, acknowledged to 10, normal to 15, unacknowledged to 17, returned to 19."""
    run = Run(volts_high_on_seconds=on_delay, volts_high_off_seconds=0)
    holds = {*range(7 - on_delay, 11), *range(16 - on_delay, 18)}
    states = []
    for second in range(25):
        run.moment(obs("volts-high", 130 if second in holds else 90))
        if second in (9, 20):
            run.acknowledge("volts-high")
        states.append(run.state("volts-high"))
    assert states == [N] * 7 + [U] * 2 + [A] * 2 + [N] * 5 + [U] * 2 + [RTN] * 2 + [N] * 5


def test_published_latching_sequence() -> None:
    """True 2-5, on-delay 1 s, reset 5 and 11, acknowledged 8: normal 0-2, unacknowledged 3-7, latched 8-10, normal.

    The published sequence has one word for unacknowledged, whether the condition still holds or is only latched.
    """
    run = Run(lost_neutral_on_seconds=1, lost_neutral_off_seconds=0)
    states = []
    for second in range(15):
        run.moment(obs("lost-neutral", float(second in (2, 3, 4, 5))))
        if second == 5:
            with pytest.raises(Exception, match="can't be reset while its condition holds"):
                run.judge.reset("lost-neutral", "A1", "Mara", second * 1000)
        if second == 8:
            run.acknowledge("lost-neutral")
        if second == 11:
            run.judge.reset("lost-neutral", "A1", "Mara", second * 1000)
        states.append(run.state("lost-neutral"))
    one_word = ["unacknowledged" if state == State.LATCHED else state for state in states]
    assert one_word == [N] * 3 + [U] * 5 + [State.LATCHED_ACKNOWLEDGED] * 3 + [N] * 4


def raised(second: int, where: str = "A1", priority: Priority = Priority.LOW) -> AlarmChange:
    """Give an alarm that comes at ``second``."""
    alarm = Alarm("over-plan", where, priority, U, second * 1000, second * 1000, "", None, 0.0)
    return AlarmChange(second * 1000, alarm, N)


def test_published_rates() -> None:
    """6 an hour is very likely acceptable, 12 an hour the most that can be managed: 1 and 2 in 10 min."""
    for an_hour, in_ten in ((6, 1.0), (12, 2.0)):
        every = 3600 // an_hour
        found = stats([raised(second) for second in range(0, 36_000, every)], 0, 36_000_000)
        rate = next(figure for figure in found.figures if figure.name == "rate")
        assert rate.value == pytest.approx(in_ten)
        assert rate.within == (in_ten <= 1)


@pytest.mark.parametrize(("count", "flood"), [(10, False), (11, True)])
def test_published_flood(count: int, flood: bool) -> None:  # noqa: FBT001 - a table's column
    """More than 10 alarms in 10 min are a flood, 10 are the highest peak that is within the guidance."""
    found = stats([raised(50 * n, f"A{n}") for n in range(count)], 0, 86_400_000)
    peak = next(figure for figure in found.figures if figure.name == "peak")
    assert (peak.value, peak.within, bool(found.floods)) == (count, not flood, flood)


def test_published_priorities() -> None:
    """80, 15 and 5 % low, high and urgent stand beside the published split."""
    many = [*[Priority.LOW] * 80, *[Priority.HIGH] * 15, *[Priority.URGENT] * 5]
    found = stats([raised(n, priority=priority) for n, priority in enumerate(many)], 0, 86_400_000)
    split = {figure.name: (figure.value, figure.guidance) for figure in found.figures}
    assert split["low"] == (80.0, "about 80 %")
    assert split["high"] == (15.0, "about 15 %")
    assert split["urgent"] == (5.0, "about 5 %")
