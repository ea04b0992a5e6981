"""The list of alarms and the chosen one in full: nothing lost, nothing too wide."""

from __future__ import annotations

from dataclasses import replace

import pytest

from monitor.alarms.lifecycle import State
from monitor.dashboard import words
from monitor.dashboard.alarmdetail import detail_page
from monitor.dashboard.alarmlist import CHOSEN, alarms_page
from monitor.dashboard.needs import key_of
from monitor.dashboard.pieces import Cells, Tone, text_of, width_of
from tests.monitor.dashboard import snapshots

SHOWN = snapshots.alarmed()
FIRST = snapshots.FAR_ABOVE


@pytest.mark.parametrize("width", [40, 60, 76, 80, 104, 120, 200])
def test_every_line_has_the_width_of_the_screen(width: int) -> None:
    """Lists and details are exactly as wide as asked, whatever stands in them, wide signs too."""
    wide = replace(FIRST, text="控制室照明 " * 30, who="控制", why="控制室 " * 20, folded=("照明 " * 40,))
    for alarm in (wide, replace(wide, state="shelved", until_ms=snapshots.NOW_MS), replace(wide, state="acknowledged")):
        shown = replace(SHOWN, alarms=(*SHOWN.alarms, alarm))
        for page in (alarms_page(shown, Cells(width, 20), None), detail_page(shown, Cells(width, 9), alarm)):
            assert {width_of(line) for line in (*page.head, *page.body)} == {width}


def test_each_line_says_badge_weight_since_what_and_state() -> None:
    """A line has the mark, the weight's word, the time, the sentence and the state with its name."""
    lines = [text_of(line).rstrip() for line in alarms_page(SHOWN, Cells(140, 30), key_of(FIRST)).body]
    assert lines[1].startswith(f"{CHOSEN} ▲AMPS   urgent 22:00:53 A3 Craft table carries 24.6 A, above 24.0 A")
    assert lines[1].endswith("unacknowledged")
    assert lines[5].endswith("acknowledged by Noor")
    assert "returned, not acknowledged" in lines[9]
    assert lines[11].endswith("until 22:33 Noor: heater agreed with the gaffer")


def test_the_chosen_line_is_kept_in_sight() -> None:
    """The page names the chosen one's line; none where it is not there."""
    page = alarms_page(SHOWN, Cells(80, 10), key_of(snapshots.SHELVED))
    assert page.keep is not None
    assert text_of(page.body[page.keep]).startswith(CHOSEN)
    assert alarms_page(SHOWN, Cells(80, 10), ("no-such", "A1")).keep is None


def test_what_nobody_has_acknowledged_stands_out() -> None:
    """Acknowledged and shelved lines are quiet, the others are not."""
    tones = {}
    body = alarms_page(SHOWN, Cells(120, 30), None).body
    for alarm in SHOWN.alarms:
        line = next(line for line in body if alarm.text[:20] in text_of(line))
        tones[alarm.state] = next(piece.tone for piece in line if alarm.text[:20] in piece.text)
    asking = {State.UNACKNOWLEDGED, State.RETURNED}
    assert tones == {state: Tone.PLAIN if state in asking else Tone.QUIET for state in tones}


@pytest.mark.parametrize("width", [40, 60, 80, 120])
def test_the_chosen_one_is_shown_in_full(width: int) -> None:
    """Every word of the alarm is there at every width: what is seen, done, meant, not known, folded, and since when."""
    text = " ".join(" ".join(text_of(line)[10:] for line in detail_page(SHOWN, Cells(width, 9), FIRST).body).split())
    for part in (FIRST.text, FIRST.do, FIRST.means, FIRST.cannot_know, *FIRST.folded, "since 22:00:53 (2 min)"):
        assert part in text


def test_what_was_due_is_not_asked_for_any_more() -> None:
    """What to do stands as a demand only while the alarm stands: not once its condition has gone."""
    returned = next(alarm for alarm in SHOWN.alarms if alarm.state == State.RETURNED)
    lines = [text_of(line) for line in detail_page(SHOWN, Cells(80, 14), returned).body]
    assert any(line.strip().startswith("was due Ask the generator operator.") for line in lines)
    assert not any("do now" in line for line in lines)


def test_who_and_when_and_why() -> None:
    """A name comes with its time and reason; what can be reset says how."""
    texts = {
        alarm.code: "\n".join(text_of(line).rstrip() for line in detail_page(SHOWN, Cells(120, 14), alarm).body)
        for alarm in SHOWN.alarms
    }
    assert "state   high; acknowledged by Noor, at 22:03:02" in texts["meter-silent"]
    assert "state   low; shelved until 22:33 by Noor: heater agreed with the gaffer" in texts["over-plan"]
    assert "latched, acknowledged by Ilse, at 21:29:47; x resets it" in texts["lost-neutral"]


def test_a_cause_is_never_stated_as_a_fact() -> None:
    """What it may mean is said to be that."""
    assert any("It may mean: a large load" in text_of(line) for line in detail_page(SHOWN, Cells(80, 9), FIRST).body)


@pytest.mark.parametrize("state", [state for state in State if state is not State.NORMAL])
@pytest.mark.parametrize("who", ["", "Noor"])
def test_every_state_has_words(state: State, who: str) -> None:
    """No state is shown as an empty place, short or long, with a name or without one."""
    alarm = replace(FIRST, state=state, who=who, until_ms=None)
    for short in (False, True):
        said = words.state(alarm, SHOWN.timezone, short=short)
        assert said.strip() == said != ""
        assert "  " not in said
        named = state in {State.ACKNOWLEDGED, State.LATCHED_ACKNOWLEDGED, State.SHELVED}
        assert (who in said) if who and named else not who or who not in said


def test_no_alarm_is_said_with_its_reach() -> None:
    """An empty list makes no promise."""
    text = text_of(alarms_page(snapshots.quiet(), Cells(80, 10), None).body[0])
    assert "No alarm stands in what is measured." in text


def test_names_cannot_steer_the_terminal() -> None:
    """Control characters in what people wrote arrive as question marks."""
    evil = replace(snapshots.SHELVED, who="\x1b[2J", why="\x07", text="\x1b]0;x", do="\r", folded=("\x1b",))
    shown = replace(SHOWN, alarms=(evil,))
    for page in (alarms_page(shown, Cells(80, 9), None), detail_page(shown, Cells(80, 9), evil)):
        assert all(text_of(line).isprintable() for line in (*page.head, *page.body))
