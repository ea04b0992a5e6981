"""After a restart: heat and what looks back are rebuilt from the log, within a stated bound."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest

from drivers.clock import Instant
from monitor.engine.watch import Watch
from monitor.log.reader import LogReader
from monitor.log.writer import LogWriter
from monitor.recorder.rebuild import rebuild
from tests.monitor.engine.test_watch import BEGIN_MS, WEIR, rows

if TYPE_CHECKING:
    from pathlib import Path


@pytest.mark.parametrize(
    ("amps", "within"),
    [
        ([24.0] * 2400, 0.01),  # a steady overload
        ([28.0] * 900 + [5.0] * 1500, 0.02),  # warm, then cooling
        ([24.0] * 600 + [-1.0] * 300 + [24.0] * 900, 0.02),  # a silence in between
        ([27.0, 21.0] * 1200, 0.02),  # a load that varies about the edge
    ],
)
def test_heat_after_a_restart_is_that_of_a_run_without_one(amps: list[float], within: float, tmp_path: Path) -> None:
    """A watch rebuilt from the log knows the heat of the one that wrote it, within a stated bound."""
    path, watch = tmp_path / "weir.sqlite", Watch(WEIR)
    readings, minute = rows(amps), 120
    with LogWriter.open(path, WEIR, Instant(BEGIN_MS, 0.0)) as writer:
        for begin in range(0, len(readings), minute):
            batch = readings[begin : begin + minute]
            end_ms = batch[-1].time_ms // 1000 * 1000 + 1000
            writer.write_cycle(batch, (), Instant(end_ms, end_ms / 1000.0), watch.advance(batch, end_ms))
    again = Watch(WEIR)
    with LogReader(path) as reader:
        rebuild(again, WEIR, reader)
    for circuit, state in watch.conditions.heat.items():
        rebuilt = again.conditions.heat[circuit]
        assert state.slowest is not None
        assert rebuilt.slowest == pytest.approx(state.slowest, abs=within)
        assert rebuilt.unknown_s == pytest.approx(state.unknown_s, abs=120)


def test_a_new_log_rebuilds_nothing(tmp_path: Path) -> None:
    """No readings: a cold start and no fault."""
    with LogWriter.open(tmp_path / "weir.sqlite", WEIR, Instant(BEGIN_MS, 0.0)):
        pass
    watch = Watch(WEIR)
    with LogReader(tmp_path / "weir.sqlite") as reader:
        rebuild(watch, WEIR, reader)
    assert all(state.slowest == 0.0 for state in watch.conditions.heat.values())
