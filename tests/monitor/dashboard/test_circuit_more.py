"""What stands below a circuit's trend, what happened between its plots, its marks, and the history of alarms."""

from __future__ import annotations

import re
from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from monitor.alarms.model import Priority
from monitor.dashboard.alarmpast import past_page
from monitor.dashboard.app import LegwatchApp
from monitor.dashboard.circuitmore import Beside, band_words, more_lines, step_words
from monitor.dashboard.happened import happened_line
from monitor.dashboard.onecircuitscreen import OneCircuitScreen
from monitor.dashboard.pieces import Cells, text_of, width_of
from monitor.dashboard.shown import as_shown
from monitor.dashboard.signs import FALLING, HOT, RISING, WARM, heat_mark, trend_mark
from monitor.dashboard.stretch import Stretch, column_of, in_columns
from monitor.engine.history import Allowed, Sample, Spell, Switching
from monitor.engine.told import HeatView
from tests.monitor.dashboard import snapshots
from tests.monitor.dashboard.past import SPELLS, SWITCHED, Past, span
from tests.monitor.dashboard.seat import Desk, Feed, drawn
from tests.monitor.dashboard.snapshots import NOW_MS
from tests.monitor.dashboard.told import told

FORBIDDEN = ("safe", "dead", "ok to", "isolated", "nuisance", "left", "until it", "remaining", "will open", "will trip")


def allowed(soonest: str, soonest_s: float | None, latest_s: float | None) -> Allowed:
    """Give what a standard says at 24 A of 20 A."""
    return Allowed(24.0, 1.2, soonest, soonest_s, latest_s, "UL 489")  # type: ignore[arg-type]


@pytest.mark.parametrize(
    ("said", "words"),
    [
        (allowed("holds", None, None), "wants it to hold"),
        (allowed("holds", 3600.0, None), "wants it to hold for 1 h"),
        (allowed("not-set", None, None), "lets it open at once and sets no latest time"),
        (allowed("not-set", None, 120.0), "lets it open at once and wants it open by 2 min"),
        (allowed("time", 12.0, 90.0), "lets it open after 12 s and wants it open by 1.5 min"),
        (allowed("time", 0.1, None), "lets it open after 0.1 s"),
    ],
)
def test_a_band_in_words_is_no_forecast(said: Allowed, words: str) -> None:
    """What the standard allows from cold at a steady load; never a time that runs down."""
    text = band_words(said)
    assert text == f"at a steady 24.0 A, 1.20 times its rating, from cold, the standard {words}"
    assert not any(word in text for word in FORBIDDEN)


def lines_of(circuit: str = "A3", width: int = 100) -> str:
    """Give the lines of a circuit as one text, blanks joined."""
    shown = replace(snapshots.moving(), buses=told().buses)
    view = next(view for view in shown.circuits if view.id == circuit)
    past = Past()
    beside = Beside(past.fixed(circuit), past.allowed(circuit, 24.6), past.planned(circuit, 0), SWITCHED)
    lines = more_lines(shown, view, beside, width)
    assert {width_of(line) for line in lines} == {width}
    return re.sub(r"\s+", " ", "\n".join(map(text_of, lines)))


def test_breaker_plan_steps_and_meter_are_told() -> None:
    """The breaker, its heat with what is not in it, each planned load, each step, and the meter's counts."""
    text = lines_of()
    assert "breaker 20 A UL 489; at a steady 24.6 A, 1.23 times its rating" in text
    assert "heat: hot, 120 % of the way to where it may open, 30 % of the way to where it should have opened" in text
    assert "4 s without readings are not in it" in text
    assert "planned 12.5 A; measured 24.6 A; taken to be on 7.0 A" in text
    assert "Hotplate, 700 W 5.8 A: not seen to switch" in text
    assert "Fairy lights, 2 x 60 W 0.5 A: 1 of 2 on since 22:02:07" in text
    assert "22:00:53 on 852 W 7.1 A: nothing in the plan explains it" in text
    assert "unit 1 on rs485" in text
    assert not any(word in text for word in FORBIDDEN)


def test_what_is_not_known_is_said() -> None:
    """No plan, no live amps, no meter, no counts, no heat: words, never a nought."""
    shown = as_shown(replace(snapshots.stopped(), buses=told().buses))
    view = next(view for view in shown.circuits if view.id == "A4")
    beside = Beside(Past().fixed("A4"))
    text = re.sub(r"\s+", " ", "\n".join(text_of(line) for line in more_lines(shown, view, beside, 70)))
    for said in (
        "no live amps to say",
        "heat: not known here",
        "no load is planned here",
        "none found in this stretch",
    ):
        assert said in text


@pytest.mark.parametrize("width", [40, 45, 60, 80, 200])
def test_every_width_holds_its_lines(width: int) -> None:
    """Nothing is cut: the words are the same at each width."""
    assert lines_of(width=width).replace(" ", "").replace("-", "") == lines_of().replace(" ", "").replace("-", "")


def test_a_doubtful_step_says_how_doubtful() -> None:
    """A share below nine tenths is told, a higher one is not; a note follows."""
    assert step_words(SWITCHED[0]) == "on 780 W 6.5 A: taken for Urn"
    assert step_words(SWITCHED[2]) == "off 60 W 0.5 A: taken for Fairy lights, 62 % (it may be the meter)"
    assert step_words(Switching(0, True, None, 5.0, (), 0.0)) == "on 5.0 A: nothing in the plan explains it"  # noqa: FBT003


def test_steps_stand_over_the_alarms_of_their_moment() -> None:
    """Ten columns of a minute: an alarm from the third to the sixth, a step within it, two ways in one column."""
    begin = NOW_MS // 60_000 * 60_000
    steps = tuple(
        Switching(begin + second * 1000, on, 600.0 if on else -600.0, 5.0, (), 0.0)
        for second, on in ((250, True), (500, True), (510, False))
    )
    spell = Spell("over-plan", "A3", Priority.LOW, "", begin + 130_000, begin + 350_000)
    line = happened_line(Stretch(begin, begin + 600_000, (), steps, (spell,)), 10)
    assert text_of(line)[1:11] == "  ▄▄+▄  ± "
    before = Stretch(begin + 200_000, begin + 800_000, (), steps[:1], (replace(spell, end_ms=None),))
    assert text_of(happened_line(before, 10))[1:11] == "+▄▄▄▄▄▄▄▄▄"


@given(st.integers(0, 10**9), st.integers(1_000, 10**8), st.integers(1, 200), st.data())
def test_a_moment_falls_where_its_sample_does(begin: int, length: int, count: int, data: st.DataObject) -> None:
    """A mark stands in the column in which a reading of the same moment is drawn."""
    moment = data.draw(st.integers(begin, begin + length - 1))
    stretch = Stretch(begin, begin + length, (Sample(moment, span(5.0), None),))
    column = column_of(stretch, count, moment)
    assert column < count
    if column >= 0:
        assert in_columns(stretch, count)[column].amps is not None


@pytest.mark.parametrize(("change", "mark"), [(None, " "), (0.5, " "), (0.7, RISING), (-0.7, FALLING), (-0.5, " ")])
def test_a_load_that_moves_has_an_arrow(change: float | None, mark: str) -> None:
    """From 3 % of 20 A on, 0.6 A; quiet below and while nothing is known."""
    circuit = replace(snapshots.circuits()[0], over_minute_amps=change)
    assert trend_mark(circuit).text == mark


@pytest.mark.parametrize(
    ("heat", "mark"),
    [
        (None, " "),
        (HeatView(None, None), " "),
        (HeatView(0.4, 0.9), " "),
        (HeatView(0.5, 0.0), WARM),
        (HeatView(1.0, 0.1), HOT),
        (HeatView(None, 0.6), WARM),
        (HeatView(None, 0.2), " "),
    ],
)
def test_a_warm_breaker_has_a_mark(heat: HeatView | None, mark: str) -> None:
    """By the early edge; where the standard sets none, by the late one, and then never hot."""
    assert heat_mark(replace(snapshots.circuits()[0], heat=heat)).text == mark


def test_no_mark_outlives_the_logger() -> None:
    """Once the logger has stopped, neither trend nor heat is known."""
    stopped = replace(snapshots.moving(), logger=snapshots.stopped().logger)
    for view in as_shown(stopped).circuits:
        assert trend_mark(view).text == heat_mark(view).text == " "


def history_lines(width: int, *, running: bool = True) -> list[str]:
    """Give the history of alarms."""
    base = snapshots.alarmed()
    snapshot = base if running else replace(base, logger=snapshots.stopped().logger)
    page = past_page(snapshot, Cells(width, 20), SPELLS)
    assert {width_of(line) for line in (*page.head, *page.body)} == {width}
    return [text_of(line) for line in (*page.head, *page.body)]


def test_history_tells_begin_length_and_name() -> None:
    """Newest first; a day that is not today is named; what still stands is said, and of a stopped log only a ``?``."""
    lines = history_lines(120)
    assert "3 alarms in 7 days" in lines[0]
    assert lines[2].startswith("22:00:53    stands ▲AMPS   A3 Craft table carries 24.6 A")
    assert "acknowledged 22:01 by Noor" in lines[2]
    assert lines[3].startswith("21:56:17     4 min ▲near")
    assert lines[3].rstrip().endswith("not acknowledged")
    assert lines[4].startswith("01-07 21:03  8 min ▼volts")
    assert history_lines(120, running=False)[2].startswith("22:00:53         ? ▲AMPS")
    assert " ".join("".join(line[27:] for line in history_lines(45)[2:]).split()).count("acknowledged") == 3


async def test_history_opens_from_the_alarms_and_is_read_on() -> None:
    """``y`` opens it; without a log it says so."""
    for past, said in ((Past(), "3 alarms in 7 days"), (None, "no log")):
        app = LegwatchApp(Feed(snapshots.alarmed()), Desk(), history=past)
        async with app.run_test(size=(80, 24)) as pilot:
            await pilot.press("a", "y")
            assert said in "\n".join(drawn(app))


async def test_one_circuit_scrolls_to_its_meter() -> None:
    """On a small screen what does not fit is a few keys away, and the figures stay on top."""
    snapshot = replace(snapshots.moving(), buses=told().buses)
    app = LegwatchApp(Feed(snapshot), Desk(), history=Past())
    async with app.run_test(size=(60, 20)) as pilot:
        await pilot.press("down", "down", "down", "enter")
        assert isinstance(app.screen, OneCircuitScreen)
        assert "polls good" not in " ".join(drawn(app))
        await pilot.press("end")
        lines = drawn(app)
        assert "A3 Craft table" in lines[0]
        assert "polls good" in " ".join(lines)
