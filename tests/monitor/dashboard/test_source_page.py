"""The source's screen: each figure with its rating, what is not known said, estimates called that, a refuel entered."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import pytest

from monitor.alarms.model import Priority
from monitor.dashboard import sourcewords
from monitor.dashboard.app import LegwatchApp
from monitor.dashboard.entries import litres_in, why_no_litres
from monitor.dashboard.pieces import Cells, text_of, width_of
from monitor.dashboard.plain import snapshot_json, snapshot_lines
from monitor.dashboard.shown import as_shown
from monitor.dashboard.sourcepage import NO_PAST, NO_READINGS, source_page
from monitor.dashboard.sourcescreen import SourceScreen
from monitor.dashboard.sourcetrend import Trace
from monitor.dashboard.stretch import Stretch
from monitor.engine.told import Answer
from tests.monitor.dashboard import snapshots
from tests.monitor.dashboard.past import Past
from tests.monitor.dashboard.seat import Desk, Feed, drawn, said, shown_keys, type_line
from tests.monitor.dashboard.snapshots import NOW_MS, wrong
from tests.monitor.dashboard.test_rows import GLYPHS
from tests.monitor.dashboard.told import FUEL, OUTPUT, house, minutes, told

if TYPE_CHECKING:
    from monitor.engine.history import Sample
    from monitor.engine.snapshot import Snapshot

TRACE = Trace(Stretch(NOW_MS - 300_000, NOW_MS, minutes(5)))


def page(snapshot: Snapshot, width: int = 80, height: int = 18, trace: Trace | None = TRACE) -> list[str]:
    """Give the page's lines, each as wide as the screen."""
    made = source_page(as_shown(snapshot), Cells(width, height), trace)
    assert {width_of(line) for line in (*made.head, *made.body)} == {width}
    return [text_of(line).rstrip() for line in (*made.head, *made.body)]


def line(lines: list[str], label: str) -> str:
    """Give the line of a figure."""
    return next(text for text in lines if text[8:15].strip() == label)


def test_everything_the_operator_needs_stands_on_the_smallest_whole_screen() -> None:
    """On 80 by 24 nothing scrolls: 18 lines are left beside the strip and two lines of keys."""
    lines = page(told())
    assert len(lines) == 18
    assert lines[0].strip() == "Towable set   generator, 120/240 V   60.02 Hz   legs 19 % apart"
    assert line(lines, "kW").endswith("of 20 kW   66 %")
    assert line(lines, "kVA").endswith("of 25 kVA  56 %")
    assert line(lines, "demand").endswith("64 %   15 min")
    assert line(lines, "L1").endswith("60 %  119.6 V")
    assert line(lines, "N").endswith("not measured; estimate 12 A, harmonics not in it")
    assert line(lines, "energy").endswith("34.2 kWh in 3 h 10 min; highest demand 14.2 kW at 21:40")
    assert line(lines, "load").endswith("mean 10.8, peak 15.0 kW; under 30 %: 40 min, over 80 %: 12 min")
    assert line(lines, "fuel").endswith("estimate: 61 of 110 l, 55 %, full at 18:09")
    assert "until about 03:09, at the worst hour's load 01:57; reserve 02:15" in "\n".join(lines)


def test_the_rating_stands_at_one_place_in_every_bar() -> None:
    """What passes its rating passes the same column."""
    lines = page(told())
    places = {line(lines, label).rindex("│") for label in ("kW", "kVA", "demand", "L1", "L2")}
    assert len(places) == 1
    above = told()
    above = replace(above, source=replace(above.source, kilowatts=21.0, percent=105.0))
    (place,) = places
    assert line(page(above), "kW")[place + 1] == "█"
    assert line(lines, "kW")[place + 1] == " "


@pytest.mark.parametrize("width", [40, 45, 57, 60, 80, 100, 120, 200])
@pytest.mark.parametrize("make", [told, house, snapshots.three_legs, snapshots.stopped, snapshots.unmetered_source])
def test_no_size_breaks_a_line_or_a_number(width: int, make: object) -> None:
    """At every width each line fits, in the glyphs of a Linux console, and no figure loses its end."""
    lines = page(make(), width)  # type: ignore[operator]
    assert {char for char in "".join(lines) if not char.isascii()} <= GLYPHS
    assert "#" not in "".join(lines)


def test_a_house_has_no_fuel_and_no_rating_it_was_not_given() -> None:
    """One leg: no neutral, no bar without a rating, no low load, and no word of fuel."""
    lines = page(house())
    text = "\n".join(lines)
    assert "fuel" not in text
    assert "under 30 %" not in text
    assert "not measured" not in text
    assert "house, 230 V   49.98 Hz" in lines[0]
    assert line(lines, "kW").split() == ["kW", "4.7", "kW"]
    assert line(lines, "demand").split() == ["demand", "4.6", "kW", "5", "min"]
    assert line(lines, "energy").endswith("34.2 kWh in 3 h 10 min; highest demand 14.2 kW at 21:40")


def test_three_legs_and_a_neutral_each_have_their_line() -> None:
    """A metered neutral is not estimated."""
    lines = page(snapshots.three_legs())
    assert [text[8:10] for text in lines if text[8:10] in {"L1", "L2", "L3", "N "}] == ["L1", "L2", "L3", "N "]
    assert "estimate" not in line(lines, "N")


def test_after_the_logger_has_stopped_nothing_is_told_as_present() -> None:
    """No figure that goes on: they are not known, and why."""
    stopped = replace(told(), logger=snapshots.stopped().logger)
    lines = page(stopped)
    text = " ".join(lines)
    for figure in ("13.1", "13.9", "12.8", "34.2", "61 of", "03:09", "119.6"):
        assert figure not in text
    for label in ("demand", "energy", "fuel"):
        assert line(lines, label).endswith("not known: the logger has stopped")
    assert line(lines, "L1").endswith("no reading for 47 s (last 62.4 A)")


def test_without_the_loggers_figures_it_is_said_that_they_are_not_known_here() -> None:
    """A log from another computer still shows what its readings tell."""
    base = told()
    bare = FUEL.__class__(FUEL.tank_litres, FUEL.reserve_litres)
    lines = page(replace(base, source=replace(base.source, output=None, fuel=bare), told=False))
    assert line(lines, "kW").endswith("66 %")
    for label in ("energy", "fuel"):
        assert sourcewords.NOT_TOLD[:40] in line(lines, label)
    partly = page(replace(base, source=replace(base.source, output=None, fuel=bare)))
    assert line(partly, "fuel").endswith("not known: not every leg of the source has a meter")


def test_what_is_assumed_of_the_fuel_is_said() -> None:
    """No refuel entered, load unread for a while, too early to say until when, at the reserve, days away."""
    shown = told()
    assumed = replace(FUEL, entered=False, unknown_s=900.0, hours_mean=None, hours_worst=None, hours_reserve=None)
    assert sourcewords.tank(assumed, shown).endswith("if full at 18:09, 15 min unread not in it")
    assert sourcewords.lasts(assumed, shown) == "until when is not known before 10 min of load are read"
    assert sourcewords.tank(replace(FUEL, calibrated=True), shown).startswith("estimate, by refuels too: 61 of")
    low = replace(FUEL, hours_reserve=0.0)
    assert sourcewords.lasts(low, shown).endswith("; at its reserve of 16 l now")
    assert sourcewords.lasts(replace(FUEL, hours_mean=30.0, hours_worst=None), shown).startswith(
        "until about Sat 04:03;"
    )
    assert sourcewords.lasts(replace(FUEL, hours_mean=200.0), shown).startswith("until about more than a week")


def test_times_of_the_fuel_keep_to_the_zone_over_a_change_of_the_clocks() -> None:
    """Five hours from the evening before summer time begins end an hour later on the clock."""
    evening = replace(told(), time_ms=1_772_938_800_000)  # 2026-03-07 23:00 in Halifax; clocks go on at 02:00
    assert sourcewords.lasts(replace(FUEL, hours_worst=None, hours_mean=5.0), evening).startswith("until about 05:00")


def test_each_alarm_of_the_source_is_marked_at_its_own_figure() -> None:
    """Fuel at the fuel, kW at the kW, hertz at the head; never all at one place."""
    alarms = (
        wrong("source-kw", Priority.HIGH, "source", "the source gives 19 kW"),
        wrong("fuel-reserve", Priority.HIGH, "source", "about 16 l in the tank"),
        wrong("hertz-low", Priority.URGENT, "source", "the source runs at 57 Hz"),
        wrong("source-low-load", Priority.LOW, "source", "the source has run for 4 h under 30 %"),
    )
    lines = page(replace(told(), wrong=alarms))
    assert lines[0].startswith("▼HERTZ")
    assert line(lines, "kW").startswith("▲kW")
    assert line(lines, "load").startswith("▼load")
    assert line(lines, "fuel").startswith("▼fuel")
    assert line(lines, "kVA").startswith("        ")


def test_a_dip_of_hertz_and_volts_stands_in_the_same_columns_and_a_gap_stays_one() -> None:
    """Both plots share their columns: the dip below nominal in both, ``?`` where nothing was read in both."""
    lines = page(told())
    hertz_low, volts_low = lines[-5], lines[-2]
    assert hertz_low.endswith("58.5")
    assert volts_low.endswith("114")
    for glyph in ("█", "?"):
        places = [{n for n, char in enumerate(text) if char == glyph} for text in (hertz_low, volts_low)]
        assert places[0] == places[1] != set()
    assert lines[-1].split()[0] == "21:58"


def test_without_a_past_no_plot_is_drawn() -> None:
    """No empty plot that could be taken for a steady source."""
    assert NO_PAST in page(told(), trace=None)[-1]
    nothing: tuple[Sample, ...] = ()
    assert NO_READINGS in page(told(), trace=Trace(Stretch(0, 300_000, nothing)))[-1]


def test_plain_and_json_twins_have_the_same_figures() -> None:
    """What the screen shows, a script reads too; nothing of it once the logger has stopped."""
    text = " ".join(" ".join(snapshot_lines(told())).split())
    for part in (
        "13.9 kVA of 25 kVA, 56 %",
        "demand: 12.8 kW (15 min)",
        "energy: 34.2 kWh",
        "fuel: estimate: 61 of 110 l",
    ):
        assert part in text
    data = snapshot_json(told())
    assert data["source"]["output"]["highest"] == "2026-01-08T21:40:07.000-04:00"
    assert data["source"]["fuel"]["litres"] == 61.0
    assert data["circuits"][0]["heat"] == {"fastest": None, "slowest": 0.25, "unknown_s": 0.0}
    gone = snapshot_json(replace(told(), logger=snapshots.stopped().logger))
    assert gone["source"]["output"] is None
    assert gone["source"]["fuel"]["litres"] is None
    assert gone["circuits"][0]["heat"] is None
    assert OUTPUT.energy_kwh == 34.2


async def test_a_refuel_is_entered_from_the_screen() -> None:
    """``p`` opens the source, ``r`` asks litres, name and docket; the logger's answer is shown."""
    desk, feed = Desk(), Feed(told())
    app = LegwatchApp(feed, desk, history=Past())
    async with app.run_test(size=(80, 24)) as pilot:
        await pilot.press("p")
        assert isinstance(app.screen, SourceScreen)
        assert {"r", "+", "-", "Esc"} <= set(shown_keys(app))
        assert "p" not in shown_keys(app)
        await pilot.press("r")
        await type_line(pilot, "sixty")
        assert said(app).startswith("Litres, more than 0")
        await pilot.press(*("backspace" for _ in "sixty"))
        await type_line(pilot, "60.5 l")
        await type_line(pilot, "Ilse")
        assert said(app) == "60.5 l by Ilse. Docket or remark (Enter: none):"
        await type_line(pilot, "docket 118")
        (asked,) = desk.asked
        assert (asked.kind, asked.amount, asked.quantity, asked.who) == ("refuel", 60.5, "litres", "Ilse")
        assert (asked.where, asked.text) == ("source", "docket 118")
        refusal = Answer(
            asked.number, done=False, text="Ilse's request is refused: the log can't be written", time_ms=1
        )
        feed.now = replace(feed.now, time_ms=NOW_MS + 1000, answers=(refusal,))
        app.look()
        await pilot.pause()
        assert said(app) == refusal.text


async def test_no_refuel_where_there_is_no_fuel_or_nobody_to_ask() -> None:
    """A house has no key for it; a screen that can only watch has none either."""
    app = LegwatchApp(Feed(house()), Desk())
    async with app.run_test(size=(80, 24)) as pilot:
        await pilot.press("p")
        assert not {"r", "+", "-"} & set(shown_keys(app))
        await pilot.press("r")
        await pilot.pause()
        assert said(app) == "The show gives no fuel points: fuel is not watched."
    app = LegwatchApp(Feed(told()))
    async with app.run_test(size=(80, 24)) as pilot:
        await pilot.press("p")
        assert "r" not in shown_keys(app)


async def test_the_trend_is_zoomed_and_read_on() -> None:
    """``-`` asks the log for a longer stretch; time going on reads it again."""
    past, feed = Past(), Feed(told())
    app = LegwatchApp(feed, Desk(), history=past)
    async with app.run_test(size=(80, 24)) as pilot:
        await pilot.press("p", "minus")
        assert past.asked == [("source", NOW_MS - 300_000, NOW_MS), ("source", NOW_MS - 1_200_000, NOW_MS)]
        feed.now = replace(feed.now, time_ms=NOW_MS + 12_000)
        app.look()
        await pilot.pause()
        assert past.asked[-1] == ("source", NOW_MS - 1_188_000, NOW_MS + 12_000)
        assert "20 min" in "".join(drawn(app))


@pytest.mark.parametrize(
    ("text", "litres"), [("60", 60.0), ("60.5 l", 60.5), ("0", None), ("-3", None), ("1e3", None), ("10001", None)]
)
def test_litres_as_people_type_them(text: str, litres: float | None) -> None:
    """What could be misread is refused rather than guessed."""
    assert litres_in(text) == litres
    assert bool(why_no_litres(text)) == (litres is None)


def test_no_tank_takes_more_than_it_holds() -> None:
    """More litres than the show file's tank holds are refused, with the way to write them down all the same."""
    assert why_no_litres("110", 110.0) == ""
    assert why_no_litres("111", 110.0) == "The tank of the show file holds 110 l: less, or a note (n)"


def test_how_far_legs_are_apart_is_said_only_where_every_leg_is_live() -> None:
    """With a leg missing or old, or with nothing on any, no figure stands for the whole."""
    shown = snapshots.quiet()
    assert sourcewords.apart(shown.source) == "legs 19 % apart"  # 62.4 A and 50.3 A
    first, second, *rest = shown.source.legs
    dark = replace(first, measured=snapshots.old(first.measured))
    none = [replace(leg, measured=snapshots.live(0.0)) for leg in (first, second)]
    for legs in ((dark, second), none, (first,)):
        assert sourcewords.apart(replace(shown.source, legs=(*legs, *rest))) == ""
