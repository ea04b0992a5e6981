"""A user's program on alarms: arguments as data, a time limit, failures told."""

from __future__ import annotations

import threading
from dataclasses import replace
from typing import TYPE_CHECKING

import pytest

from monitor.alarms.model import Alarm, AlarmChange, Priority
from monitor.recorder.alarm_program import AlarmProgram

if TYPE_CHECKING:
    from pathlib import Path

ALARM = Alarm("above-rating", "A1", Priority.HIGH, "unacknowledged", 0, 0, "A1 carries 23.0 A", 23.0, 20.0)


class Told:
    """Collects reports and lets a test wait for one."""

    def __init__(self) -> None:
        self.texts: list[str] = []
        self._came = threading.Event()

    def __call__(self, text: str) -> None:
        """Take a report."""
        self.texts.append(text)
        self._came.set()

    def wait(self) -> str:
        """Give the first report."""
        assert self._came.wait(10)
        return self.texts[0]


def program(folder: Path, body: str) -> Path:
    """Write an executable shell script."""
    path = folder / "program"
    path.write_text(f"#!/bin/sh\n{body}\n", encoding="utf-8")
    path.chmod(0o755)
    return path


def test_what_is_told_are_arguments_never_shell(tmp_path: Path) -> None:
    """A sentence full of shell arrives as one argument and runs nothing."""
    sentence = f"A1; touch {tmp_path}/owned; $(touch {tmp_path}/owned) 'x' \"y\""
    path = program(
        tmp_path,
        f'for a in "$@"; do echo "$a"; done > {tmp_path}/out.new; mv {tmp_path}/out.new {tmp_path}/out; exit 3',
    )
    told = Told()
    AlarmProgram(path, told).tell([AlarmChange(1_790_000_000_000, replace(ALARM, seen=sentence), "normal")])
    assert "ended with code 3" in told.wait()
    assert (tmp_path / "out").read_text(encoding="utf-8").splitlines() == [
        "unacknowledged",
        "high",
        "above-rating",
        "A1",
        "2026-09-21T14:13:20+00:00",
        sentence,
    ]
    assert not (tmp_path / "owned").exists()


def test_a_program_that_hangs_is_ended_and_told(tmp_path: Path) -> None:
    """The time limit holds."""
    told = Told()
    hanging = AlarmProgram(program(tmp_path, "exec sleep 60"), told, limit_s=0.2)
    hanging.tell([AlarmChange(0, ALARM, "normal")])
    assert "took more than 0.2 s" in told.wait()


def test_only_changes_of_state_run_it(tmp_path: Path) -> None:
    """A change that only lists more of what is folded runs nothing; the next one does."""
    path = program(tmp_path, f"echo $1 >> {tmp_path}/out; exit 1")
    told = Told()
    runner = AlarmProgram(path, told)
    runner.tell(
        [AlarmChange(0, ALARM, "unacknowledged"), AlarmChange(0, replace(ALARM, state="normal"), "acknowledged")]
    )
    told.wait()
    assert (tmp_path / "out").read_text(encoding="utf-8").split() == ["normal"]


def test_no_such_program_is_refused_at_once(tmp_path: Path) -> None:
    """Before anything starts."""
    with pytest.raises(ValueError, match="no program that can be run"):
        AlarmProgram(tmp_path / "nothing", Told())
