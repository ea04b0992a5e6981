"""Figures and words: fixed places, nothing missing shown as nought, nothing old shown as live."""

from __future__ import annotations

from dataclasses import replace

import pytest

from drivers.reading import Quality
from monitor.dashboard import words
from monitor.dashboard.pieces import cut, fit, right
from monitor.engine.snapshot import Freshness, LoggerView, Measured
from tests.monitor.dashboard import snapshots


@pytest.mark.parametrize(
    ("value", "text"), [(None, "-"), (0.0, "0.0"), (-0.02, "0.0"), (24.64, "24.6"), (99.96, "100"), (-12.3, "-12.3")]
)
def test_amps(value: float | None, text: str) -> None:
    """Amps keep a tenth below a hundred; a missing value is no number."""
    assert words.amps(value) == text


@pytest.mark.parametrize(
    ("value", "text"), [(None, "-"), (9.1, "+9.1"), (-9.1, "-9.1"), (0.02, "0.0"), (120.4, "+120")]
)
def test_difference(value: float | None, text: str) -> None:
    """A difference carries its sign unless it is nought."""
    assert words.difference(value) == text


@pytest.mark.parametrize(("value", "text"), [(None, "-"), (2905.4, "2905"), (9999.4, "9999"), (9999.6, "10.0k")])
def test_watts(value: float | None, text: str) -> None:
    """Watts fit five cells."""
    assert words.watts(value) == text


@pytest.mark.parametrize(
    ("seconds", "text"),
    [
        (None, "-"),
        (-1.0, "0 s"),
        (59.9, "59 s"),
        (60.0, "1 min"),
        (3599.0, "59 min"),
        (3600.0, "1 h"),
        (200000.0, "2 d"),
    ],
)
def test_age(seconds: float | None, text: str) -> None:
    """An age is rounded down and fits its place."""
    assert words.age(seconds) == text


def test_a_figure_too_long_for_its_place_is_no_other_figure() -> None:
    """A cut number would be a wrong number: the place is filled with signs instead."""
    assert right("123456", 5) == "#####"


def test_a_cut_name_is_marked() -> None:
    """A name that doesn't fit ends with a full stop, and its width is that of its cells."""
    assert fit("Wardrobe steamer", 11) == "Wardrobe s."
    assert fit("控制室照明", 6) == "控制 ."
    assert fit("Key", 5) == "Key  "
    assert fit("Key", 0) == ""


def test_a_sentence_is_cut_between_words() -> None:
    """Half a number would be another number: a sentence ends with a whole word and two stops."""
    assert cut("reads 106.8 V, below 108.0 V", 26) == "reads 106.8 V, below .."
    assert cut("reads 106.8 V", 13) == "reads 106.8 V"
    assert cut("108.0", 4) == ""


@pytest.mark.parametrize(
    ("quality", "text"),
    [
        (Quality.SILENT, "no reading for 12 s: silent"),
        (Quality.CORRUPT, "no good reading for 12 s: corrupt"),
        (None, "no reading for 12 s"),
    ],
)
def test_old_says_for_how_long_and_why(quality: Quality | None, text: str) -> None:
    """An old place gives its age and the reason."""
    assert words.no_reading(Measured(Freshness.OLD, 12.9, quality, amps=3.0)) == text


def test_last_amps_go_before_the_reason_does() -> None:
    """Where room is short the last amps are left out, never the age."""
    measured = snapshots.old(snapshots.live(7.1))
    assert words.with_last(measured, 60) == "no reading for 12 s: silent (last 7.1 A)"
    assert words.with_last(measured, 30) == "no reading for 12 s: silent"


@pytest.mark.parametrize(
    ("logger", "text"),
    [
        (LoggerView(True, None, 0, "", "a.log"), "nothing logged yet"),  # noqa: FBT003 - the field is "running"
        (LoggerView(True, 0.4, 0, "", "a.log"), "logged 0 s ago"),  # noqa: FBT003
        (LoggerView(True, 9.0, 1, "disk full", "a.log"), "1 reading NOT KEPT: disk full"),  # noqa: FBT003
        (LoggerView(True, 9.0, 0, "disk full", "a.log"), "LOG: disk full"),  # noqa: FBT003
        (LoggerView(False, 9.0, 3, "disk full", "a.log"), "LOGGER STOPPED"),  # noqa: FBT003
    ],
)
def test_logger_state(logger: LoggerView, text: str) -> None:
    """Whether readings are kept is said in every case."""
    assert words.logger_state(logger) == text


def test_kilowatts_from_volts_times_amps_are_an_upper_bound() -> None:
    """What was not measured as watts is said to be at most so much."""
    source = snapshots.apparent_power().source
    assert words.power(source) == "at most 14.2 kW of 20 kW, 71 %"


def test_unmetered_source_is_not_measured() -> None:
    """A source without meters is "not measured", which is not "no live reading"."""
    assert words.power(snapshots.unmetered_source().source) == "kW not measured"
    assert words.cycles(snapshots.unmetered_source().source) == "hertz not known"


def test_a_sentence_that_was_told_earlier_has_its_time() -> None:
    """The figures of an alarm that clears, or that was read from the log, are never taken for present ones."""
    shown = snapshots.alarmed()
    now = replace(snapshots.ABOVE, told_ms=shown.time_ms - 1000)
    before = replace(snapshots.ABOVE, told_ms=shown.time_ms - 60_000)
    assert words.told(snapshots.ABOVE, shown) == words.told(now, shown) == snapshots.ABOVE.text
    at = words.moment(shown.time_ms - 60_000, shown.timezone).strftime("%H:%M:%S")
    assert words.told(before, shown) == f"at {at} {snapshots.ABOVE.text}"
    answered = replace(snapshots.ABOVE, changed_ms=shown.time_ms - 60_000)
    assert words.told(answered, shown) == f"before {at} {snapshots.ABOVE.text}"
    assert words.told(before, shown, room=60).startswith(f"at {at[:-3]} A3 Craft")


@pytest.mark.parametrize("room", [40, 60])
def test_a_long_name_gives_way_to_the_figures(room: int) -> None:
    """Of a sentence that is too long for its line, the name of its place is shortened first, never the id."""
    name = "Kitchen behind the great palm house, left row, socket beside the door"
    calm = snapshots.quiet()
    long = replace(calm, circuits=tuple(replace(each, name=name) for each in calm.circuits))
    alarm = replace(snapshots.ABOVE, text=f"A3 {name} carries 24.6 A")
    assert words.told(alarm, long) == alarm.text
    said = words.told(alarm, long, room)
    assert len(said) == room
    assert said.startswith("A3 Kitchen behind")
    assert words.told(alarm, long, 20) == "A3 Kitchen behind . carries 24.6 A"
    assert said.endswith(". carries 24.6 A")
    assert words.told(snapshots.ABOVE, calm, room=10) == snapshots.ABOVE.text
