"""The past of a circuit in columns and glyphs: gaps stay gaps, nought is none, and a limit passed is seen."""

from __future__ import annotations

import pytest

from monitor.dashboard.bar import Marks
from monitor.dashboard.onecircuit import NO_HISTORY, circuit_page
from monitor.dashboard.pieces import Cells, text_of, width_of
from monitor.dashboard.shown import as_shown
from monitor.dashboard.stretch import Column, Stretch, in_columns
from monitor.dashboard.trend import amps_lines, volts_lines
from monitor.engine.history import Sample
from tests.monitor.dashboard import snapshots
from tests.monitor.dashboard.past import Past, span
from tests.monitor.dashboard.test_rows import GLYPHS

MARKS = Marks(20.0, 16.0, 12.0)
BEGIN = 1_080_000_000


def sampled(amps: list[float | None], apart_ms: int = 1000) -> Stretch:
    """Give a stretch of readings at one distance; None: asked for, but not answered."""
    times = [BEGIN + n * apart_ms for n in range(len(amps))]
    samples = tuple(
        Sample(at, None if value is None else span(value), None if value is None else span(120.0))
        for at, value in zip(times, amps, strict=True)
    )
    return Stretch(BEGIN, BEGIN + len(amps) * apart_ms, samples)


def column(amps: float | None, volts: float | None = 120.0, *, missing: bool = False) -> Column:
    """Give a column of one value."""
    return Column(None if amps is None else span(amps), None if volts is None else span(volts), missing)


def drawn_amps(*amps: float | None, height: int = 9) -> list[str]:
    """Draw columns of amps, without labels."""
    lines = amps_lines([column(value) for value in amps], MARKS, height)
    return [text_of(line)[1 : 1 + len(amps)] for line in lines]


def test_each_column_has_what_was_measured_in_its_time() -> None:
    """Lowest, mean and highest of the readings of a column."""
    found = in_columns(sampled([1.0, 2.0, 3.0, 4.0, 5.0, 6.0]), 2)
    assert [column.amps for column in found] == [(1.0, 2.0, 3.0), (4.0, 5.0, 6.0)]
    assert not any(column.missing for column in found)


@pytest.mark.parametrize("gap", [[None] * 4, "left out"])
def test_a_gap_is_never_filled_from_its_neighbours(gap: list[None] | str) -> None:
    """Readings that failed and readings that are not there at all both leave columns without a value, marked."""
    stretch = sampled([5.0] * 4 + [None] * 4 + [9.0] * 4)
    if gap == "left out":
        stretch = Stretch(stretch.begin_ms, stretch.end_ms, tuple(s for s in stretch.samples if s.amps))
    found = in_columns(stretch, 6)
    assert [column.amps and column.amps[1] for column in found] == [5.0, 5.0, None, None, 9.0, 9.0]
    assert [column.missing for column in found] == [False, False, True, True, False, False]


def test_a_column_with_half_a_gap_is_marked() -> None:
    """A short gap in a long column does not disappear."""
    found = in_columns(sampled([5.0] * 10 + [None] * 5 + [5.0] * 15), 3)
    assert found[1].amps == (5.0, 5.0, 5.0)
    assert [column.missing for column in found] == [False, True, False]


def test_a_slow_meter_has_no_gaps_between_its_readings() -> None:
    """Readings every ten seconds stand for ten seconds, in columns of five."""
    found = in_columns(sampled([5.0, 6.0, 7.0], 10_000), 6)
    assert [column.amps and column.amps[1] for column in found] == [5.0, 5.0, 6.0, 6.0, 7.0, 7.0]


def test_the_newest_column_is_not_missing_while_it_fills() -> None:
    """What the log has not written yet is no gap; what it did not write for long is one."""
    stretch = sampled([5.0] * 10)
    just = Stretch(BEGIN, BEGIN + 10_900, stretch.samples)
    assert not any(column.missing for column in in_columns(just, 10)[-1:])
    late = Stretch(BEGIN + 5_000, BEGIN + 14_999, stretch.samples)
    found = in_columns(late, 10)
    assert [column.missing for column in found[5:8]] == [True] * 3
    assert all(column.amps is None for column in found[5:])


def test_no_samples_at_all() -> None:
    """An empty log gives columns without values, and no error."""
    assert all(column.amps is None for column in in_columns(Stretch(BEGIN, BEGIN + 60_000, ()), 30))


def test_amps_stand_on_the_scale_of_the_bars() -> None:
    """Nine rows hold one and a half times the rating: limit in the fifth, rating in the seventh, plan in the fourth."""
    lines = [text_of(line)[2:].strip() for line in amps_lines([column(0.0)], MARKS, 9)]
    assert lines == ["30 A", "", "20 rating", "", "16 limit", "12 plan", "", "", "0"]


@pytest.mark.parametrize("amps", [0.0, 12.0, 16.0, 16.1, 20.0, 20.1, 29.0])
def test_a_limit_is_passed_on_screen_where_it_is_passed(amps: float) -> None:
    """Up to a limit nothing is filled beyond its line, above it always something is."""
    upward = [row[0] for row in reversed(drawn_amps(amps))]
    assert (upward[5] == "█") == (amps > 16.0)
    assert (upward[7] == "█") == (amps > 20.0)


def test_nought_is_drawn_and_a_gap_is_a_hole() -> None:
    """Where nothing was measured not even the lines of the limits go on."""
    rows = drawn_amps(0.0, None, 0.0)
    assert rows[2] == rows[4] == "─ ─"
    missing = amps_lines([column(5.0), column(None, None, missing=True)], MARKS, 9)
    assert text_of(missing[-1])[1:3] == "█?"


def test_the_highest_of_a_column_is_drawn_lightly_above_its_mean() -> None:
    """A short peak in a long column is seen, and told from what lasted."""
    lines = amps_lines([Column((2.0, 6.0, 24.0), None, missing=False)], MARKS, 9)
    assert "".join(text_of(line)[1] for line in reversed(lines)) == "██░●─░─░ "


def test_more_than_the_scale_holds_is_marked() -> None:
    """Off the scale is said at its end."""
    assert drawn_amps(31.0)[0] == "▲"


def test_volts_stand_around_nominal() -> None:
    """Nominal in the middle; the scale widens with what was measured, and what is off it is marked."""
    narrow = volts_lines([column(1.0, 120.0), column(1.0, 114.0)], 120.0, 5)
    assert [text_of(line)[1:].strip() for line in narrow] == ["126", "", "█─ 120 V", "", "█ 114"]
    wide = volts_lines([column(1.0, 60.0), column(1.0, 150.0)], 120.0, 5)
    assert [text_of(line)[1:3] for line in wide] == [" ▲", "  ", "──", "  ", "▼ "]


def page_lines(name: str, size: Cells, history: Past | None) -> list[str]:
    """Give one circuit's page in the troubled show."""
    shown = as_shown(snapshots.troubled())
    circuit = next(view for view in shown.circuits if view.id == name)
    begin = snapshots.NOW_MS - 1_200_000
    samples = () if history is None else history.samples(name, begin, snapshots.NOW_MS)
    stretch = None if history is None else Stretch(begin, snapshots.NOW_MS, samples)
    page = circuit_page(shown, size, circuit, stretch)
    assert {width_of(line) for line in (*page.head, *page.body)} == {size.width}
    assert len(page.head) <= size.height
    return [text_of(line) for line in (*page.head, *page.body)]


@pytest.mark.parametrize("size", [(40, 8), (60, 14), (80, 18), (120, 32), (200, 60)])
@pytest.mark.parametrize("name", ["A3", "A4", "A5", "B3", "B5"])
def test_the_page_fits_every_size_in_the_consoles_glyphs(name: str, size: tuple[int, int]) -> None:
    """Every state of a circuit, every size."""
    text = "\n".join(page_lines(name, Cells(*size), Past()))
    assert {char for char in text if not char.isascii()} <= GLYPHS


def test_figures_against_plan_and_alarms() -> None:
    """Measured, percent, plan, difference, limits, volts and what stands on it."""
    lines = page_lines("A3", Cells(80, 18), Past())
    assert lines[1].strip() == "24.6 A 123 %   plan 12.5 (+12.1)   limit 16   rating 20 A"
    assert lines[2].strip() == "117.1 V of 120   60.02 Hz   2794 W   0 s old"
    assert lines[-2].startswith("▲AMPS   A3 Craft table carries 24.6 A")


def test_a_circuit_that_is_not_live_has_words_for_figures() -> None:
    """The last value stands in brackets, with its age."""
    lines = page_lines("B5", Cells(80, 18), Past())
    assert lines[1].strip() == "- no reading for 12 s: silent (last 7.1 A)"


def test_without_a_history_it_is_said() -> None:
    """The figures stay, the trend is said to be missing."""
    lines = page_lines("A3", Cells(80, 18), None)
    assert NO_HISTORY in lines[3]
    assert "24.6 A" in lines[1]


def test_a_circuit_that_has_gone_is_said() -> None:
    """A show file without it does not leave its last figures on screen."""
    page = circuit_page(snapshots.quiet(), Cells(80, 18), None, None)
    assert "in the show no more" in text_of(page.head[0])
