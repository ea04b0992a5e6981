"""The strip on top: always the same lines, most urgent first, and loudest when nothing can be believed."""

from __future__ import annotations

import re
from dataclasses import replace
from itertools import cycle, islice
from typing import TYPE_CHECKING

import pytest

from monitor.dashboard.pieces import Cells, Tone, text_of
from monitor.dashboard.session import Mute
from monitor.dashboard.shown import as_shown
from monitor.dashboard.strip import strip_height, strip_page
from tests.monitor.dashboard import snapshots

if TYPE_CHECKING:
    from monitor.engine.snapshot import Snapshot


def lines(snapshot: Snapshot, width: int = 80, height: int = 4) -> list[str]:
    """Give the strip's text."""
    return [text_of(line) for line in strip_page(as_shown(snapshot), Cells(width, height)).head]


def test_height_never_depends_on_what_is_wrong() -> None:
    """The strip has the same number of lines whether nothing is wrong or a hundred things."""
    many = replace(snapshots.troubled(), wrong=tuple(islice(cycle(snapshots.troubled().wrong), 100)))
    for height in (strip_height(20), strip_height(24), strip_height(40)):
        counts = {len(lines(snapshot, 80, height)) for snapshot in (snapshots.quiet(), snapshots.stopped(), many)}
        assert counts == {height}


def test_most_urgent_first_and_the_rest_counted() -> None:
    """What doesn't fit is counted, never dropped in silence."""
    found = lines(snapshots.troubled())
    assert found[1].startswith("▲AMPS   A3 Craft table carries 24.6 A")
    assert found[2].startswith("▼volts  B2 Window right")
    assert found[3].endswith("and 2 more")


def test_since_is_dropped_before_the_sentence_is() -> None:
    """A long sentence gets the room of its time."""
    found = lines(snapshots.troubled())
    assert "since 22:00:53" in found[1]
    assert "since" not in lines(snapshots.troubled(), 60)[1]


def test_no_sentence_is_cut_inside_a_number() -> None:
    """At every width each number of a cut sentence is a number of the whole one."""
    whole = {number for wrong in snapshots.troubled().wrong for number in re.findall(r"[\d.]*\d", wrong.text)}
    for width in range(40, 120):
        for line in lines(snapshots.troubled(), width)[1:]:
            said = re.sub(r"since [\d:]+|and \d+ more", "", line[8:])
            assert set(re.findall(r"[\d.]*\d", said)) <= whole


def test_nothing_wrong_says_how_far_that_reaches() -> None:
    """A quiet strip makes no promise."""
    found = lines(snapshots.quiet())
    assert found[1].rstrip() == "No alarm stands in what is measured. Not measured: 2 legs."
    assert not "".join(found[2:]).strip()


def test_stopped_logger_is_the_loudest_thing() -> None:
    """Its lines span the whole width in the loudest tone; what was wrong is said to be past."""
    head = strip_page(as_shown(snapshots.stopped()), Cells(80, 4)).head
    assert [[piece.tone for piece in line] for line in head[:3]] == [[Tone.LOUD]] * 3
    assert text_of(head[0]).startswith(" LOGGER STOPPED: nothing on this screen is live")
    assert "47 s ago: ropewalk.log" in text_of(head[1])
    assert text_of(head[3]).startswith("5 things wrong when it stopped")
    tones = {piece.tone for line in head for piece in line}
    assert Tone.URGENT_BADGE not in tones


def test_readings_not_kept_stand_in_the_title() -> None:
    """Readings that can't be written are said in the first line, with the reason, at any width."""
    for width in (60, 80, 120):
        assert "144 readings NOT KEPT: disk full" in lines(snapshots.not_kept(), width)[0]


def test_acknowledged_is_marked_and_quieter() -> None:
    """What nobody has acknowledged comes first and stands out; the rest carries a word for it, at every width."""
    shown = snapshots.alarmed()
    for width, word in ((60, " ack."), (80, " ack."), (120, "acknowledged")):
        head = strip_page(shown, Cells(width, 7)).head
        texts = [text_of(line) for line in head]
        assert [text[:7].strip() for text in texts[1:6]] == ["▲AMPS", "▼volts", "▲near", "■N LOST", "■silent"]
        assert texts[5].rstrip().endswith(word)
        assert texts[4].rstrip().endswith("latched")
        assert (head[1][0].tone, head[4][0].tone) == (Tone.URGENT_BADGE, Tone.URGENT)
        assert not any(word in text for text in texts[1:4])


def test_what_is_not_wrong_now_is_counted_in_the_head() -> None:
    """Returned and shelved alarms are in no line of the strip; the first line counts them at every width."""
    for width in (60, 80, 120):
        found = [text_of(line) for line in strip_page(snapshots.alarmed(), Cells(width, 7)).head]
        assert found[0].rstrip().endswith("1 returned, 1 shelved")
        assert not any("58.1" in text or "Balloon" in text for text in found)


@pytest.mark.parametrize(
    ("width", "end"),
    [
        (120, "1 returned, 1 shelved, bell muted until 22:33 by Noor"),
        (80, "1 returned, 1 shelved, muted to 22:33 Noor"),
        (60, "muted to 22:33, 2 more (a)"),
    ],
)
def test_a_muted_bell_stands_in_the_head(width: int, end: str) -> None:
    """The head says until when the bell is muted, and by whom where there is room."""
    head = strip_page(snapshots.alarmed(), Cells(width, 7), Mute(snapshots.NOW_MS + 1_800_000, "Noor")).head
    assert text_of(head[0]).rstrip().endswith(end)
    assert len(text_of(head[0])) == width


def test_nothing_wrong_is_not_said_of_what_is_shelved() -> None:
    """With a shelved alarm the quiet line says that it leaves that out."""
    quiet = replace(snapshots.quiet(), alarms=(snapshots.SHELVED,))
    assert "No alarm stands in what is measured, apart from what is shelved." in lines(quiet)[1]


@pytest.mark.parametrize(("width", "height"), [(40, 3), (60, 3), (80, 4), (120, 7)])
def test_a_logger_that_cannot_write_is_told_as_that_on_an_attached_screen(width: int, height: int) -> None:
    """It is not stopped; nothing here is live; how many readings it costs, and why; as loud as a stopped one."""
    logger = replace(snapshots.not_kept().logger, cut_off=True)
    snapshot = replace(snapshots.troubled(), logger=logger)
    page = strip_page(as_shown(snapshot), Cells(width, height)).head
    text = " ".join(text_of(line) for line in page)
    assert len(page) == height
    assert "STOPPED" not in text
    assert "LOG NOT WRITTEN" in text
    assert "144 readings not kept" in text
    assert "disk full" in text
    assert page[0][0].tone is Tone.LOUD
