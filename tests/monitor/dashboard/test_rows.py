"""The lines from source to circuits: every width, every freshness, one scale."""

from __future__ import annotations

import re
from dataclasses import replace
from typing import TYPE_CHECKING

import pytest

from monitor.dashboard.guide import guide_page
from monitor.dashboard.pieces import Cells, Line, Page, text_of, width_of
from monitor.dashboard.rows import circuits_page
from monitor.dashboard.shown import as_shown
from monitor.dashboard.strip import strip_page
from monitor.engine.snapshot import FeederView, Freshness, Measured
from tests.monitor.dashboard import snapshots

if TYPE_CHECKING:
    from collections.abc import Callable

    from monitor.engine.snapshot import Snapshot

GLYPHS = set("█▄░▒▲▼●■─│°±·→←↑↓♦")  # what the Linux console's fonts have
MAKERS = (
    snapshots.quiet,
    snapshots.troubled,
    snapshots.stopped,
    snapshots.not_kept,
    snapshots.unmetered_source,
    snapshots.three_legs,
)


def page(snapshot: Snapshot, width: int = 80) -> Page:
    """Give the circuits as they would be shown."""
    return circuits_page(as_shown(snapshot), Cells(width, 24))


def row(snapshot: Snapshot, name: str, width: int = 80) -> str:
    """Give the line of one place."""
    lines = [text_of(line) for line in (*page(snapshot, width).head, *page(snapshot, width).body)]
    return next(line for line in lines if line[8:].startswith(f"{name} "))


def every_line(snapshot: Snapshot, width: int) -> list[Line]:
    """Give all lines of all views."""
    shown, size = as_shown(snapshot), Cells(width, 4)
    pages = (view(shown, size) for view in (circuits_page, strip_page, guide_page))
    return [line for found in pages for line in (*found.head, *found.body)]


@pytest.mark.parametrize("make", MAKERS)
@pytest.mark.parametrize("width", [40, 60, 67, 68, 77, 78, 80, 103, 104, 120, 200])
def test_every_line_has_the_width_and_the_consoles_glyphs(make: Callable[[], Snapshot], width: int) -> None:
    """At any width each line fills it exactly, with ASCII and the glyphs of a Linux console."""
    for line in every_line(make(), width):
        assert width_of(line) in {0, width}
        assert {char for char in text_of(line) if not char.isascii()} <= GLYPHS


@pytest.mark.parametrize("make", MAKERS)
def test_no_word_that_could_hurt(make: Callable[[], Snapshot]) -> None:
    """No line says that something is safe, dead, isolated or all right."""
    said = " ".join(text_of(line) for line in every_line(make(), 80)).lower()
    assert not re.search(r"\b(safe|safely|dead|isolated|ok|okay|fine|nuisance|normal)\b", said)


def test_live_row_has_all_figures() -> None:
    """A live circuit gives amps, bar, rating, volts, hertz, watts, difference from plan and age."""
    assert row(snapshots.troubled(), "A3").split() == [
        *("▲AMPS", "A3", "Craft", "table", "L1", "24.6", "██████●█│█│█", "20", "117", "60.0", "2794", "+12.1", "0", "s")
    ]


def test_wide_row_has_finer_figures_and_percent() -> None:
    """With room there are percent of the rating and a digit more."""
    figures = row(snapshots.troubled(), "A3", 120).split()[-8:]
    assert figures == ["20", "123", "117.1", "60.02", "2794", "+12.1", "0", "s"]


def test_ratings_stand_under_each_other() -> None:
    """The rating's mark of source legs and circuits is one vertical line at every width."""
    for width in (60, 80, 120):
        found = page(snapshots.quiet(), width)
        lines = [text_of(line) for line in (*found.head, *found.body)]
        places = {line.rindex("│") for line in lines if "│" in line}
        assert len(places) == 1


@pytest.mark.parametrize("width", [60, 80, 120])
@pytest.mark.parametrize("name", ["B5", "B3", "A4"])
def test_a_place_that_is_not_live_shows_words_and_no_figures(name: str, width: int) -> None:
    """Old, never heard and unmetered circuits have no bar, and words where the figures would be."""
    line = row(snapshots.troubled(), name, width)
    assert "█" not in line
    assert " - no" in line
    without_words = re.sub(r"\(last [\d.]+ A\)|for \d+ s|plan [\d.]+ A", "", line[8 + 3 :])
    assert not re.search(r"\b\d+\.\d|\b\d{2,}", without_words)


def test_freshness_has_its_own_words() -> None:
    """Old, never and unmetered can't be mixed up."""
    snapshot = snapshots.troubled()
    assert row(snapshot, "B5").startswith("■OLD    B5")
    assert "no reading for 12 s: silent (last 7.1 A)" in row(snapshot, "B5")
    assert "no reading yet: silent; plan 2.5 A" in row(snapshot, "B3")
    assert "not measured; plan 6.2 A" in row(snapshot, "A4")


def test_volts_only_meter_says_that_amps_are_not_measured() -> None:
    """A live circuit without amps has no bar and no nought."""
    snapshot = snapshots.changed(snapshots.quiet(), {"A1": snapshots.live(None)})
    line = row(snapshot, "A1", 120)
    assert "amps not measured" in line
    assert "█" not in line
    assert " 0.0 " not in line


def test_after_the_logger_stopped_no_row_is_live() -> None:
    """Every metered circuit is old once the logger has stopped, as old as the log at least."""
    found = page(snapshots.stopped())
    text = "\n".join(text_of(line) for line in (*found.head, *found.body))
    assert "█" not in text
    assert "A1 Key side    L1       - no reading for 47 s (last 10.8 A)" in text
    assert "hertz not known" in text


def test_unmetered_legs_show_the_sum_as_a_lower_bound() -> None:
    """Without a meter a leg shows what its circuits add up to, marked as at least that."""
    snapshot = snapshots.unmetered_source()
    assert ">62.2 ▒▒▒▒▒▒" in row(snapshot, "L1")
    assert "not measured" in row(snapshot, "L1")
    assert "L1 at least 39.1 of 60 A" in row(snapshot, "boxA")


def test_three_legs_of_a_box_fit_80_columns() -> None:
    """Where words don't fit, signs keep every leg of a box on the line."""
    line = row(snapshots.three_legs(), "boxA")
    for leg in ("L1 ", "L2 ", "L3 "):
        assert leg in line


def test_the_way_goes_from_source_over_boxes_to_circuits() -> None:
    """Circuits stand below what feeds them, a box below its own box, circuits on the source first."""
    base = snapshots.quiet()
    inner = FeederView("boxC", "Far box", "boxA", base.feeders[0].legs)
    moved = tuple(replace(view, box={"A1": "source", "B6": "boxC"}.get(view.id, view.box)) for view in base.circuits)
    found = page(replace(base, feeders=(*base.feeders, inner), circuits=moved))
    order = [text_of(line).split()[0] for line in found.body]
    assert order == [
        "A1",
        "boxA",
        *(f"A{n}" for n in range(2, 7)),
        "boxC",
        "B6",
        "boxB",
        *(f"B{n}" for n in range(1, 6)),
    ]


def test_control_characters_of_names_do_not_reach_the_screen() -> None:
    """Names, ids and sentences from files can't steer the terminal."""
    base = snapshots.troubled()
    evil = "\x1b[2J\x9b"
    snapshot = replace(
        base,
        show_name=evil,
        source=replace(base.source, name=evil),
        feeders=tuple(replace(feeder, name=evil) for feeder in base.feeders),
        circuits=tuple(replace(view, name=evil) for view in base.circuits),
        wrong=tuple(replace(found, text=evil) for found in base.wrong),
        logger=replace(base.logger, problem=evil, log_path=evil),
    )
    for make in (snapshot, replace(snapshot, logger=replace(snapshot.logger, running=False))):
        assert all(text_of(line).isprintable() for line in every_line(make, 80))


def test_a_huge_value_is_never_cut_to_a_smaller_one() -> None:
    """What doesn't fit its place is shown as signs."""
    base = snapshots.quiet()
    measured = Measured(Freshness.LIVE, 0.1, volts=1234567.0, amps=123456.0, hertz=60.0, watts=1.0)
    line = row(snapshots.changed(base, {"A1": measured}), "A1")
    assert "#####" in line
    assert "123456" not in line


def test_a_long_name_of_the_source_is_cut_and_does_not_vanish() -> None:
    """Where no whole word of it fits, its begin stands there all the same."""
    calm = snapshots.quiet()
    long = replace(calm, source=replace(calm.source, name="Hausanschlussraum-Kellergeschoss"))
    assert text_of(page(long, 60).head[0]).strip().startswith("Hausans")
