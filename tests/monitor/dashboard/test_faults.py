"""What is wrong stands at its place, with a mark and a word."""

from __future__ import annotations

from dataclasses import replace

import pytest

from monitor.alarms.model import Priority
from monitor.alarms.rules import rules
from monitor.dashboard.faults import BADGE_WIDTH, SIGNS, Faults, badge
from monitor.dashboard.pieces import Tone
from tests.monitor.dashboard.snapshots import ABOVE, LONG, LOW_VOLTS, UNPLANNED, wrong


@pytest.mark.parametrize(
    ("code", "weight", "text"),
    [
        ("above-rating", Priority.URGENT, "▲AMPS"),
        ("near-rating", Priority.LOW, "▲near"),
        ("source-kw", Priority.URGENT, "▲KW"),
        ("volts-low", Priority.HIGH, "▼volts"),
        ("lost-neutral", Priority.URGENT, "■N LOST"),
        ("meter-silent", Priority.HIGH, "■silent"),
        ("some-new-thing", Priority.LOW, "■thing"),
    ],
)
def test_badge(code: str, weight: Priority, text: str) -> None:
    """Every code, known or not, gives a mark and a word of one width; capitals are urgent."""
    piece = badge(wrong(code, weight, "A1", ""))
    assert piece.text == text.ljust(BADGE_WIDTH)


def test_the_most_urgent_comes_first() -> None:
    """A place with several things wrong shows the gravest, whatever their order."""
    faults = Faults([UNPLANNED, ABOVE])
    assert faults.badge("A3").text.strip() == "▲AMPS"
    assert faults.badge("A1").text.strip() == ""


def test_each_figure_has_its_own_tone() -> None:
    """Only the figure that something is wrong with stands out."""
    faults = Faults([UNPLANNED, ABOVE, LOW_VOLTS, LONG])
    assert faults.tone("amps", Tone.STRONG, "A3") is Tone.URGENT
    assert faults.fill("A3") is Tone.URGENT_FILL
    assert faults.tone("plan", Tone.PLAIN, "A3") is Tone.LOW
    assert faults.tone("volts", Tone.STRONG, "A3") is Tone.STRONG
    assert faults.tone("volts", Tone.STRONG, "B2") is Tone.HIGH
    assert faults.fill("B2") is Tone.FILL


def test_a_leg_is_wrong_at_its_own_point() -> None:
    """What is wrong with one leg of the source marks that leg alone."""
    faults = Faults([wrong("volts-low", Priority.HIGH, "source/L2", "")])
    assert faults.badge("source/L2").text.strip() == "▼volts"
    assert faults.badge("source/L1", "source").text.strip() == ""


def test_every_rule_has_its_sign() -> None:
    """Every alarm rule, and no other, has a word that fits its place."""
    assert set(SIGNS) == set(rules())
    for code, sign in SIGNS.items():
        assert 0 < len(sign.word) < BADGE_WIDTH, code


def test_acknowledged_is_quieter() -> None:
    """The badge of an acknowledged alarm has the word, but not the fill."""
    assert badge(ABOVE).tone is Tone.URGENT_BADGE
    assert badge(replace(ABOVE, state="acknowledged")) == (badge(ABOVE).text, Tone.URGENT)


def test_a_loss_is_said_before_the_amps_of_before() -> None:
    """An alarm of amps stands on for its off-delay when a circuit opens: its line says that it opened."""
    opened = wrong("circuit-opened", Priority.HIGH, "A3", "")
    assert Faults([ABOVE, opened]).badge("A3").text.strip() == "■opened"
