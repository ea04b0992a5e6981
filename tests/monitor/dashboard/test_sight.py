"""Order, filter and big figures: nothing is lost unsaid; what is not live is neither ranked nor drawn as a figure."""

from __future__ import annotations

from dataclasses import replace

import pytest

from monitor.dashboard.digits import HEIGHT, Figure, big, side_by_side
from monitor.dashboard.pieces import Cells, text_of, width_of
from monitor.dashboard.shown import as_shown
from monitor.dashboard.sight import ALL, Order, Sight, in_words, listing, named, why_no_filter
from monitor.dashboard.wall import wall_page
from monitor.engine.snapshot import CircuitView, FeederView
from tests.monitor.dashboard import snapshots
from tests.monitor.dashboard.test_rows import GLYPHS, MAKERS

NEAREST = Sight(order=Order.NEAREST)


def ids(sight: Sight) -> list[str]:
    """Give the ids of the rows of the troubled show."""
    return [row.id for row in listing(snapshots.troubled(), sight)]


def test_nearest_counts_the_continuous_limit_and_puts_the_unknown_last() -> None:
    """A large breaker near its limit comes before a small one far from it; what is not live is behind all others."""
    base = snapshots.quiet()
    changed = snapshots.changed(base, {"A5": snapshots.live(23.9), "A1": snapshots.old(snapshots.live(99.0))})
    order = [row.id for row in listing(changed, NEAREST)]
    assert order[0] == "A5"
    assert order[-1] == "A1"
    assert in_words(changed, NEAREST) == "nearest to its limit first, 1 without live amps last"


def test_a_box_is_its_circuits_and_the_boxes_below_it() -> None:
    """Filtering by a box keeps what hangs on a box below it too, and the boxes on the way."""
    base = snapshots.quiet()
    inner = FeederView("boxC", "Far box", "boxA", base.feeders[0].legs)
    moved = tuple(replace(view, box="boxC") if view.id == "B6" else view for view in base.circuits)
    snapshot = replace(base, feeders=(*base.feeders, inner), circuits=moved)
    found = [row.id for row in listing(snapshot, Sight(only="boxA"))]
    assert found == ["boxA", *(f"A{n}" for n in range(1, 7)), "boxC", "B6"]
    assert [row.id for row in listing(snapshot, Sight(only="boxC"))] == ["boxA", "boxC", "B6"]


def test_a_leg_keeps_every_circuit_that_stands_on_it() -> None:
    """A circuit over two legs stands on both."""
    assert ids(Sight(only="L2")) == ["boxA", "A2", "A4", "A5", "boxB", "B2", "B4", "B6"]
    assert in_words(snapshots.troubled(), Sight(only="L2")) == "6 of 12 circuits: L2"


def test_what_filters() -> None:
    """Boxes and legs in any case, with blanks around them; nothing else but nothing."""
    snapshot = snapshots.quiet()
    assert named(snapshot, " BOXa ") == "boxA"
    assert why_no_filter(snapshot, "l2") == why_no_filter(snapshot, "") == ""
    assert why_no_filter(snapshot, "box") == "One of boxA, boxB, L1, L2, or nothing"


def test_every_circuit_stands_in_every_order() -> None:
    """Another order loses none."""
    for order in Order:
        rows = listing(snapshots.troubled(), Sight(order=order))
        assert {row.id for row in rows if isinstance(row, CircuitView)} == {v.id for v in snapshots.circuits()}


@pytest.mark.parametrize("across", [1, 2])
def test_digits_differ_and_are_as_wide_as_they_say(across: int) -> None:
    """No two digits look alike, and every line of a figure has one width."""
    drawn = {char: big(char, across) for char in "0123456789-%"}
    assert len(set(drawn.values())) == len(drawn)
    assert {len(line) for line in big("1 24.6%".replace(" ", ""), across)} == {len(big("124.6%", across)[0])}
    assert all(len(rows) == HEIGHT for rows in drawn.values())


def test_figures_grow_with_their_room() -> None:
    """With room each dot is two cells wide."""
    narrow, wide = (side_by_side([Figure("L1", "62.4")], width) for width in (20, 40))
    assert sum(text_of(line).count("█") for line in wide) == 2 * sum(text_of(line).count("█") for line in narrow)


@pytest.mark.parametrize("make", MAKERS)
@pytest.mark.parametrize("size", [(40, 10), (60, 14), (80, 18), (120, 34)])
def test_the_wall_fills_its_lines(make: object, size: tuple[int, int]) -> None:
    """At any size the big figures fit, in the glyphs of a Linux console."""
    assert callable(make)
    page = wall_page(as_shown(make()), Cells(*size), ALL)
    assert len(page.head) <= size[1]
    for line in page.head:
        assert width_of(line) == size[0]
        assert {char for char in text_of(line) if not char.isascii()} <= GLYPHS


def test_the_wall_shows_no_figure_that_is_not_live() -> None:
    """After the logger stopped there is no digit, only dashes and words."""
    page = wall_page(as_shown(snapshots.stopped()), Cells(80, 18), ALL)
    text = "\n".join(text_of(line) for line in page.head)
    assert all(not set(row) - {"█", " "} or "kW" in row or "N" in row for row in text.splitlines())
    assert [row.count("█") for row in text.splitlines()[1:6]] == [0, 0, 18, 0, 0]
    assert "No live amps of any circuit." in text


def test_the_wall_says_that_a_sum_is_a_lower_bound() -> None:
    """A leg without a meter is drawn in another fill, with words."""
    text = "\n".join(text_of(line) for line in wall_page(snapshots.unmetered_source(), Cells(80, 18), ALL).head)
    assert "L1 at least" in text
    assert "▒" in text


def test_the_wall_keeps_to_the_filter_and_says_so() -> None:
    """Circuits outside the filter are not among the nearest."""
    text = "\n".join(text_of(line) for line in wall_page(snapshots.troubled(), Cells(80, 18), Sight(only="boxB")).head)
    assert "A3" not in text
    assert "6 of 12 circuits: boxB, nearest to its limit first" in text
