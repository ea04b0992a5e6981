"""One cause, one alarm."""

from __future__ import annotations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from monitor.alarms.model import Observation
from monitor.alarms.track import WAIT_MS
from tests.support.moments import Run, obs

CIRCUITS = ("A1", "A2", "A3", "A4")
BOX = (("feeder-lost", "boxA"),)
TOP = (("source-lost", "source"),)


def set_of(
    circuits: tuple[str, ...] = (), *, box: float | None = 0.0, source: float | None = 0.0
) -> tuple[Observation, ...]:
    """Give what a small set shows: which circuits are gone, and whether the box and the source are."""
    gone = tuple(obs("circuit-opened", float(name in circuits), name, BOX) for name in CIRCUITS)
    return (*gone, obs("feeder-lost", box, "boxA", TOP), obs("source-lost", source, "source"))


def raised(run: Run) -> list[tuple[str, str]]:
    """Give what was raised, in order."""
    return [(code, where) for _, code, where, before, after in run.told() if after == "unacknowledged" != before]


def test_a_lost_feeder_is_one_alarm() -> None:
    """All circuits go with their box: one alarm, with a sentence for each of them."""
    run = Run()
    for _ in range(60):
        run.moment(*set_of(CIRCUITS, box=1.0))
    assert raised(run) == [("feeder-lost", "boxA")]
    alarm = run.alarm("feeder-lost", "boxA")
    assert alarm is not None
    assert alarm.folded == tuple(f"{name} shows 1 for circuit-opened" for name in CIRCUITS)


def test_through_a_cause_that_is_explained_itself() -> None:
    """Source, box and circuits go: one alarm at the source, the box and its circuits are listed there."""
    run = Run()
    for _ in range(60):
        run.moment(*set_of(CIRCUITS, box=1.0, source=1.0))
    assert raised(run) == [("source-lost", "source")]
    assert len(run.judge.alarms()[0].folded) == 5


def test_through_a_cause_of_which_nothing_is_known() -> None:
    """The box's meter is silent, the source is lost: its circuits are explained all the same."""
    run = Run()
    for _ in range(60):
        run.moment(*set_of(CIRCUITS, box=None, source=1.0))
    assert raised(run) == [("source-lost", "source")]


def test_not_through_a_cause_that_is_in_order() -> None:
    """The box stands although the source reads lost: a circuit that opens speaks for itself."""
    run = Run()
    for _ in range(60):
        run.moment(*set_of(("A1",), box=0.0, source=1.0))
    assert sorted(raised(run)) == [("circuit-opened", "A1"), ("source-lost", "source")]


@pytest.mark.parametrize("late", range(1, 10))
def test_a_cause_seen_late_takes_its_children_in(late: int) -> None:
    """A box seen lost up to nine seconds after its circuits: in the end one alarm stands, the others tell of it.

    A circuit waits for a cause that is coming; up to three seconds late, nothing but the cause is ever raised.
    """
    run = Run()
    for second in range(60):
        run.moment(*set_of(CIRCUITS, box=float(second >= late)))
    assert [(alarm.code, alarm.where) for alarm in run.judge.alarms()] == [("feeder-lost", "boxA")]
    if late <= 3:
        assert raised(run) == [("feeder-lost", "boxA")]
    else:
        let_go = [change.alarm.why for change in run.changes if change.alarm.state == "normal"]
        assert let_go == ["folded under feeder-lost at boxA"] * 4


def test_an_older_alarm_keeps_its_own() -> None:
    """A circuit that opened long before its box stays an alarm of its own, acknowledged as it was."""
    run = Run()
    for _ in range(60):
        run.moment(*set_of(("A1",)))
    run.acknowledge("circuit-opened")
    for _ in range(60):
        run.moment(*set_of(CIRCUITS, box=1.0))
    assert run.state("circuit-opened") == "acknowledged"
    assert raised(run) == [("circuit-opened", "A1"), ("feeder-lost", "boxA")]


def test_what_stays_when_the_cause_goes() -> None:
    """The box comes back, one circuit doesn't: after its own delay it is an alarm."""
    run = Run()
    for _ in range(20):
        run.moment(*set_of(CIRCUITS, box=1.0))
    for _ in range(20):
        run.moment(*set_of(("A3",)))
    assert raised(run) == [("feeder-lost", "boxA"), ("circuit-opened", "A3")]


def test_a_child_that_joins_is_told() -> None:
    """What an alarm comes to explain later is a change of it, in the same state; told once."""
    run = Run()
    for _ in range(20):
        run.moment(*set_of(("A1",), box=1.0))
    for _ in range(20):
        run.moment(*set_of(("A1", "A2"), box=1.0))
    joined = [change for change in run.changes if change.before == change.alarm.state]
    assert [len(change.alarm.folded) for change in joined] == [2]


def test_a_shelved_cause_still_explains() -> None:
    """Who shelves a lost box isn't called for each circuit in it; once it stands again, circuits speak."""
    run = Run()
    for _ in range(5):
        run.moment(*set_of(CIRCUITS, box=1.0))
    run.judge.shelve("feeder-lost", "boxA", "Mara", "moving it", 3_600_000, run.second * 1000)
    for _ in range(30):
        run.moment(*set_of(CIRCUITS, box=1.0))
    assert raised(run) == [("feeder-lost", "boxA")]
    for _ in range(30):
        run.moment(*set_of(("A1",)))
    assert raised(run)[1:] == [("circuit-opened", "A1")]


def overload(run: Run, percent: float, seconds: int) -> None:
    """Show a circuit at ``percent`` of its rating, by its three levels (80, 100, 125 %)."""
    for _ in range(seconds):
        run.moment(
            Observation("near-rating", "A1", percent, 80.0, f"near {percent}"),
            Observation("above-rating", "A1", percent, 100.0, f"above {percent}"),
            Observation("far-above-rating", "A1", percent, 125.0, f"far {percent}"),
        )


def test_one_overload_is_one_alarm() -> None:
    """Far above its rating at once: the urgent one alone."""
    run = Run()
    overload(run, 140.0, 120)
    assert raised(run) == [("far-above-rating", "A1")]
    assert run.judge.alarms()[0].folded == ()


def test_an_overload_that_grows_moves_up() -> None:
    """Near, above, far: each worse alarm takes the lesser one in, however long that stood."""
    run = Run()
    overload(run, 90.0, 3600)
    overload(run, 110.0, 3600)
    overload(run, 140.0, 60)
    assert raised(run) == [("near-rating", "A1"), ("above-rating", "A1"), ("far-above-rating", "A1")]
    assert [alarm.code for alarm in run.judge.alarms()] == ["far-above-rating"]
    assert [change.alarm.why for change in run.changes if change.alarm.state == "normal"] == [
        "folded under above-rating at A1",
        "folded under far-above-rating at A1",
    ]


def test_what_latches_is_never_taken_in() -> None:
    """A lost neutral stands for itself, even where something else would explain it."""
    run = Run()
    for second in range(60):
        run.moment(obs("lost-neutral", 1.0, "boxA", TOP), obs("source-lost", float(second >= 3), "source"))
    assert run.state("lost-neutral", "boxA") == "unacknowledged"


def test_a_circle_is_not_silent() -> None:
    """Two that name each other as parents: one of them stands, never none."""
    run = Run()
    for _ in range(60):
        run.moment(
            obs("volts-low", 50.0, "A1", (("volts-low", "A2"),)),
            obs("volts-low", 50.0, "A2", (("volts-low", "A1"),)),
        )
    assert len(run.judge.alarms()) == 1


PLACES = tuple(f"P{n}" for n in range(5))
GRAPHS = st.lists(st.sets(st.sampled_from(PLACES), max_size=2), min_size=5, max_size=5)
SHOWN = st.lists(st.lists(st.sampled_from([1.0, 1.0, 1.0, 0.0, None]), min_size=5, max_size=5), max_size=40)


def above(place: str, parents: dict[str, set[str]]) -> set[str]:
    """Give everything that may explain a place, at any distance."""
    reached = set(parents[place])
    while more := {up for each in reached for up in parents[each]} - reached:
        reached |= more
    return reached - {place}


@settings(max_examples=100, deadline=None)
@given(GRAPHS, SHOWN, st.booleans())
def test_nothing_is_lost_by_folding(graph: list[set[str]], shown: list[list[float | None]], held: bool) -> None:  # noqa: FBT001 - drawn
    """Whoever explains whom: what is seen for its delays with nothing above it in alarm is in alarm.

    Without circles: no show has any (see the contract of the conditions), and two that explain each other take turns.
    """
    parents = {place: {up for up in ups if up < place} for place, ups in zip(PLACES, graph, strict=True)}
    run = Run(feeder_lost_on_seconds=2, feeder_lost_off_seconds=2)
    longest = 2 + WAIT_MS // 1000
    alone = dict.fromkeys(PLACES, 0)
    everything: list[float | None] = [1.0] * 5
    for values in [*shown, *([everything] * 20 if held else [])]:
        named = {place: tuple(("feeder-lost", up) for up in sorted(parents[place])) for place in PLACES}
        run.moment(*(obs("feeder-lost", v, p, named[p]) for p, v in zip(PLACES, values, strict=True)))
        active = {alarm.where for alarm in run.judge.alarms() if alarm.state == "unacknowledged"}
        for place, value in zip(PLACES, values, strict=True):
            quiet = value == 1.0 and not above(place, parents) & active
            alone[place] = alone[place] + 1 if quiet else 0
            assert alone[place] <= longest or place in active
    if held:
        assert active
