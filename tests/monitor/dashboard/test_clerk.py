"""The clerk: requests reach the desk whole, and count as done only when a Snapshot shows it."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import pytest

from monitor.dashboard.clerk import Clerk, make
from monitor.dashboard.entries import why_no_minutes, why_no_minutes_or_none, why_no_name, why_no_text
from tests.monitor.dashboard import snapshots
from tests.monitor.dashboard.seat import Desk
from tests.monitor.dashboard.snapshots import ABOVE, LATCHED, SHELVED

if TYPE_CHECKING:
    from monitor.engine.requests import Kind
    from monitor.engine.snapshot import AlarmView

LOGGER = snapshots.quiet().logger


@pytest.mark.parametrize(
    ("kind", "before", "after"),
    [
        ("acknowledge", ABOVE, replace(ABOVE, state="acknowledged")),
        ("acknowledge", ABOVE, None),
        ("shelve", ABOVE, replace(ABOVE, state="shelved")),
        ("unshelve", SHELVED, replace(SHELVED, state="unacknowledged")),
        ("unshelve", SHELVED, None),
        ("reset", LATCHED, None),
    ],
)
def test_waits_until_the_effect_shows(kind: Kind, before: AlarmView, after: AlarmView | None) -> None:
    """A request is waited for until the Snapshot has what it asked for, and no longer."""
    clerk, quiet = Clerk(Desk()), snapshots.quiet()
    clerk.hand_in(LOGGER, make(kind, "Noor", code=before.code, where=before.where, text="why"))
    assert not clerk.follow(replace(quiet, alarms=(before,)))
    assert clerk.waiting
    assert clerk.follow(replace(quiet, alarms=() if after is None else (after,)))
    assert clerk.overdue() == ""


@pytest.mark.parametrize(
    ("kind", "after"),
    [
        ("acknowledge", replace(ABOVE, state="returned-unacknowledged")),
        ("shelve", replace(ABOVE, state="acknowledged")),
    ],
)
def test_another_change_is_not_the_effect(kind: Kind, after: AlarmView) -> None:
    """That the alarm moved otherwise is not what was asked."""
    clerk = Clerk(Desk())
    clerk.hand_in(LOGGER, make(kind, "Noor", code=ABOVE.code, where=ABOVE.where))
    assert not clerk.follow(replace(snapshots.quiet(), alarms=(after,)))
    assert clerk.overdue().startswith(f"No effect seen in 5 s of: {kind} above-rating at A3.")
    assert not clerk.waiting


def test_numbers_are_unique() -> None:
    """No two requests have the same number."""
    assert len({make("note", "Noor", text="x").number for _ in range(100)}) == 100


def test_a_request_without_a_name_is_none() -> None:
    """The name is checked where the request is made, too."""
    with pytest.raises(ValueError, match="no name"):
        make("note", " ", text="x")


@pytest.mark.parametrize("text", ["", "0", "-5", "1441", "2.5", "ten", "²", "1e3"])
def test_minutes_that_are_none(text: str) -> None:
    """Only whole minutes up to the longest shelf are taken."""
    assert why_no_minutes(text) == "Whole minutes from 1 to 1440"


def test_entries_that_will_do() -> None:
    """Names, reasons and minutes that will do give no complaint; 0 only where it has a meaning."""
    assert not why_no_name("Noor")
    assert not why_no_text("agreed")
    assert not why_no_minutes("1440")
    assert not why_no_minutes_or_none("0")
    assert why_no_minutes_or_none("-1")
    assert why_no_name("N" * 31) == "At most 30 characters"
