"""The meters' screen: each meter's rate, faults and latency, and what to look at where one gives nothing."""

from __future__ import annotations

import json
from dataclasses import replace
from typing import TYPE_CHECKING

import pytest

from drivers.reading import Quality
from monitor.dashboard import meterwords
from monitor.dashboard.app import LegwatchApp
from monitor.dashboard.meterpage import meters_page
from monitor.dashboard.meterscreen import MetersScreen
from monitor.dashboard.pieces import Cells, text_of, width_of
from monitor.dashboard.plain import snapshot_json, snapshot_lines
from monitor.dashboard.shown import as_shown
from tests.monitor.dashboard import snapshots
from tests.monitor.dashboard.seat import Desk, Feed, drawn, shown_keys
from tests.monitor.dashboard.snapshots import SILENT, live, old
from tests.monitor.dashboard.test_rows import GLYPHS
from tests.monitor.dashboard.told import LINE, NET, counts, meter, told

if TYPE_CHECKING:
    from monitor.engine.snapshot import Snapshot

SILENT_LINE = replace(LINE, meters=tuple(replace(m, latest=old(live(1.0), 40.0)) for m in LINE.meters))


def page(snapshot: Snapshot, width: int = 80) -> list[str]:
    """Give the page's lines, each as wide as the screen."""
    made = meters_page(as_shown(snapshot), Cells(width, 18))
    assert {width_of(line) for line in (*made.head, *made.body)} == {width}
    return [text_of(line).rstrip() for line in (*made.head, *made.body)]


def row(lines: list[str], unit: str) -> str:
    """Give the first line of a meter by its unit number."""
    return next(text for text in lines[1:] if text[8:12].strip() == unit)


def test_a_meter_has_its_age_faults_latency_and_points_in_one_line() -> None:
    """Median and worst in milliseconds, retries, kinds of faults by name; never 100 % where one poll failed."""
    lines = page(told())
    assert row(lines, "1").split() == [
        "1",
        "good",
        "0",
        "s",
        "99.9",
        "41",
        "83",
        "2",
        "2",
        "corrupt;",
        "A1",
        "A2",
        "A3",
    ]
    assert row(lines, "5").split()[:8] == ["5", "good", "0", "s", "100", "41", "83", "0"]
    assert row(lines, "4").startswith("■OLD    4    silent")
    assert "110 silent" in row(lines, "4")


def test_a_bus_has_its_port_rate_and_occupation() -> None:
    """Polls that come beside polls that are wanted; a bus that has not begun says neither."""
    text = " ".join(" ".join(page(told())).split())
    assert (
        "rs485 /dev/serial/by-id/usb-adapter-0042, modbus-rtu; 3 of 3 wanted polls/s; occupied 18 % of the time" in text
    )
    assert "net 192.0.2.10:502, modbus-tcp no connection" in text.replace("; occupied 6 % of the time", "")


def test_where_one_meter_is_silent_it_is_said_what_to_look_at() -> None:
    """One silent meter of three: itself; its alarm marks it; the others have no advice."""
    text = " ".join(" ".join(page(told())).split())
    assert "no reply: look at its supply, its plug and its wires, then whether its unit number is 4" in text
    assert text.count("look at") == 2
    marked = page(replace(told(), wrong=(SILENT,)))
    assert row(marked, "4").startswith("■silent")


def test_where_a_whole_line_is_silent_no_single_meter_is_blamed() -> None:
    """All of them: the adapter, the pair, the speed. Behind an address: the gateway."""
    text = " ".join(" ".join(page(replace(told(), buses=(SILENT_LINE,)))).split())
    assert "no meter on this line answers: look at the adapter" in text
    assert "its plug" not in text
    behind = replace(SILENT_LINE, protocol="modbus-tcp")
    assert "gateway" in " ".join(page(replace(told(), buses=(behind,))))


def test_a_port_that_is_not_open_gives_its_own_reason() -> None:
    """The driver's sentence is shown, once, and no advice about the meter behind."""
    lines = page(told())
    assert sum("no connection to 192.0.2.10:502" in text for text in lines) == 1
    assert not meterwords.why_dark(NET.meters[0], NET)


@pytest.mark.parametrize(
    ("quality", "said"),
    [
        (Quality.CORRUPT, "two meters with unit number 4"),
        (Quality.REFUSED, "map may be another model's"),
        (Quality.IMPLAUSIBLE, "values that can't be"),
        (Quality.SUSPECT, "replies out of step"),
    ],
)
def test_each_kind_of_fault_has_its_own_advice(quality: Quality, said: str) -> None:
    """What is looked at first depends on what came."""
    dark = meter(4, old(live(7.1), 95.0, quality), counts(9), "B5")
    assert said in meterwords.why_dark(dark, LINE)


def test_a_bus_that_falls_behind_says_so() -> None:
    """Clearly fewer polls than wanted are told with what would help; a little fewer are not."""
    slow = replace(counts(50), per_second=0.5)
    bus = replace(LINE, meters=tuple(replace(m, latest=live(1.0), counts=slow) for m in LINE.meters))
    text = " ".join(" ".join(page(replace(told(), buses=(bus,)))).split())
    assert "fewer polls than wanted" in text
    assert "1.5 of 3 wanted polls/s" in text
    assert "fewer polls" not in " ".join(page(told()))


def test_after_the_logger_has_stopped_no_meter_is_blamed() -> None:
    """Nothing is counted, every age stands, and nobody is sent to a meter that may be well."""
    lines = page(replace(told(), logger=snapshots.stopped().logger))
    text = " ".join(lines)
    assert "Counts are not known: the logger has stopped." in text
    assert "look at" not in text
    assert "good" not in "".join(lines[1:])
    assert row(lines, "1").split()[:5] == ["■OLD", "1", "no", "reading", "47"]


def test_without_the_loggers_figures_ages_stand_and_counts_are_not_known() -> None:
    """A log of another computer: the readings tell who answers, nothing tells how well."""
    bare = tuple(
        replace(bus, is_open=None, problem="", meters=tuple(replace(m, counts=None) for m in bus.meters))
        for bus in told().buses
    )
    lines = page(replace(told(), buses=bare, told=False))
    assert "Counts: not known here" in " ".join(lines)
    assert row(lines, "1").split() == ["1", "good", "0", "s", "-", "-", "-", "-", "-;", "A1", "A2", "A3"]


@pytest.mark.parametrize("width", [40, 45, 57, 60, 80, 100, 120])
def test_no_size_breaks_a_line_or_a_number(width: int) -> None:
    """Columns are left out whole; all points and faults stand somewhere; the glyphs are a Linux console's."""
    lines = page(told(), width)
    text = " ".join(" ".join(lines).split())
    assert {char for char in text if not char.isascii()} <= GLYPHS
    for word in ("110 silent", "2 corrupt", "source/L1 source/L2", "B5 B6"):
        assert word in text
    assert ("41" in row(lines, "1").split()) == (width > 40)
    assert "#" not in text


def test_the_twins_say_the_same() -> None:
    """Plain lines and JSON hold buses, meters, counts and advice."""
    text = " ".join(" ".join(snapshot_lines(told())).split())
    assert "Bus rs485, /dev/serial/by-id/usb-adapter-0042, modbus-rtu; 3 of 3 wanted polls/s" in text
    assert "unit 1 three-channel: good, 0 s old; 99.9 % of 5210 polls good, 41 ms, worst 83 ms; retries 2" in text
    assert "then whether its unit number is 4" in text
    data = json.loads(json.dumps(snapshot_json(told())))
    assert [bus["id"] for bus in data["buses"]] == ["rs485", "net"]
    first = data["buses"][0]["meters"][1]
    assert (first["unit"], first["freshness"], first["counts"]["faults"]) == (4, "old", {"silent": 110})
    assert first["points"] == {"ch1": "B5", "ch2": "B6"}


async def test_m_opens_the_meters_and_esc_leads_back() -> None:
    """The key that opened the screen is not offered on it."""
    app = LegwatchApp(Feed(told()), Desk())
    async with app.run_test(size=(60, 20)) as pilot:
        await pilot.press("m")
        assert isinstance(app.screen, MetersScreen)
        assert "m" not in shown_keys(app)
        assert "rs485" in "".join(drawn(app))
        await pilot.press("end")
        assert "no connection" in "".join(drawn(app))
        await pilot.press("escape")
        assert not isinstance(app.screen, MetersScreen)
