"""The watch: the same readings give the same alarms whatever the grouping; pauses are pauses."""

from __future__ import annotations

from typing import TYPE_CHECKING

from hypothesis import given, settings
from hypothesis import strategies as st

from drivers.reading import Quality, Values
from monitor.engine.fold import alarm_view
from monitor.engine.reading import Reading
from monitor.engine.watch import Watch
from monitor.show.loading import load_show_text
from monitor.show.model import Point
from tests.support.sets import SHOW

if TYPE_CHECKING:
    from monitor.alarms.model import AlarmChange

BEGIN_MS = 1_790_000_000_000
POINTS = (Point("A1"), Point("A2"))


WEIR = load_show_text(SHOW.format(port=1502), "weir.toml", with_maps=False)


def new_watch() -> Watch:
    """Give a watch over the small set."""
    return Watch(WEIR)


def rows(amps: list[float]) -> list[Reading]:
    """Give a reading a second of each circuit; negative amps stand for a failed poll."""
    found = []
    for second, value in enumerate(amps):
        for n, point in enumerate(POINTS):
            time_ms = BEGIN_MS + 1000 * second + 100 * (n + 1)
            good = value >= 0
            values = Values(volts=120.0, amps=value, hertz=60.0, watts=120.0 * value) if good else Values()
            quality = Quality.GOOD if good else Quality.SILENT
            found.append(Reading(point, time_ms, time_ms / 1000.0, quality, values))
    return found


def codes(changes: tuple[AlarmChange, ...]) -> list[tuple[int, str, str, str]]:
    """Give (second, code, where, state) of changes."""
    return [((c.time_ms - BEGIN_MS) // 1000, c.alarm.code, c.alarm.where, c.alarm.state) for c in changes]


AMPS = st.lists(st.sampled_from([-1.0, 0.0, 10.0, 18.0, 22.0, 30.0]), min_size=1, max_size=40)


@settings(max_examples=30, deadline=None)
@given(AMPS, st.lists(st.booleans(), max_size=100))
def test_grouping_changes_nothing(amps: list[float], cuts: list[bool]) -> None:
    """One call with everything, or a call at any second in between: event for event the same."""
    readings = rows(amps)
    end_ms = BEGIN_MS + 1000 * (len(amps) + 20)
    at_once = new_watch().advance(readings, end_ms)
    watch = new_watch()
    grouped: list[AlarmChange] = []
    group: list[Reading] = []
    for number, reading in enumerate(readings):
        group.append(reading)
        if number < len(cuts) and cuts[number]:
            grouped += watch.advance(group, reading.time_ms)
            group = []
    grouped += watch.advance(group, end_ms)
    assert tuple(grouped) == at_once


def test_no_alarm_before_its_delay_and_one_after() -> None:
    """Twice the rating on a 20 A circuit: nothing within the first two seconds, then one alarm each."""
    watch = new_watch()
    readings = rows([10.0] * 5 + [40.0] * 20)
    early = watch.advance([r for r in readings if r.time_ms < BEGIN_MS + 7000], BEGIN_MS + 7000)
    late = watch.advance([r for r in readings if r.time_ms >= BEGIN_MS + 7000], BEGIN_MS + 25_000)
    assert "far-above-rating" not in {c.alarm.code for c in early}
    raised = [c for c in late if c.alarm.code == "far-above-rating" and c.alarm.state == "unacknowledged"]
    assert sorted(c.alarm.where for c in raised) == ["A1", "A2"]


def test_a_pause_restarts_delays_and_clears_nothing() -> None:
    """An hour without a reading: what stood still stands, and nothing new is made of the time between."""
    watch = new_watch()
    first = watch.advance(rows([40.0] * 15), BEGIN_MS + 15_000)
    assert codes(first)
    hour = [Reading(r.point, r.time_ms + 3_600_000, r.mono_s + 3600.0, r.quality, r.values) for r in rows([40.0])]
    changes = watch.advance(hour, hour[-1].time_ms + 1000)
    assert [c for c in changes if c.before != c.alarm.state] == []
    assert {(a.code, a.where) for a in watch.judge.alarms()} >= {("far-above-rating", "A1")}


def test_a_restart_goes_on_from_the_alarms_of_the_log() -> None:
    """A new watch given the standing alarms raises none of them again."""
    watch = new_watch()
    watch.advance(rows([40.0] * 15), BEGIN_MS + 15_000)
    again = Watch(WEIR, watch.judge.alarms())
    later = [Reading(r.point, r.time_ms + 20_000, r.mono_s + 20.0, r.quality, r.values) for r in rows([40.0] * 10)]
    changes = again.advance(later, BEGIN_MS + 31_000)
    assert not [c for c in changes if c.alarm.state == "unacknowledged" and c.before == "normal"]


def test_a_screen_is_told_what_to_do() -> None:
    """An alarm's view carries its rule's words."""
    watch = new_watch()
    watch.advance(rows([40.0] * 15), BEGIN_MS + 15_000)
    view = alarm_view(watch.judge.alarms()[0])
    assert view.text
    assert view.means
    assert view.do
    assert view.cannot_know
