"""The rules' data: whole, plain, and without words that could mislead a person."""

from __future__ import annotations

import re

import pytest

from monitor.alarms.model import Priority
from monitor.alarms.rules import Clears, Rule, Side, rules
from monitor.show.settings import known_settings
from tests.support.moments import alarm_show

EXPECTED = {
    "near-rating", "above-rating", "far-above-rating", "heat-past-late", "over-plan", "volts-low", "volts-high",
    "volts-far-low", "hertz-low", "hertz-high", "source-kw", "source-kva", "source-low-load", "fuel-reserve",
    "fuel-time", "legs-unbalanced", "neutral-over", "lost-neutral", "lost-leg", "wrong-service", "circuit-opened",
    "feeder-lost", "source-lost", "meter-silent", "value-implausible", "run-resistance", "log-not-written",
    "clock-stepped",
}  # fmt: skip
FORBIDDEN = re.compile(
    r"\b(safe|safely|unsafe|safety|dead|ok|okay|nuisance|isolated|isolate|false alarm"
    r"|red|amber|green|yellow|orange|blue|purple"
    r"|fault of|blame|careless\w*|mistake\w*|guilty|somebody failed"
    r"|because|caused by|due to|the cause is|the reason is"
    r"|countdown|will (open|trip)|trips? in|opens? in|(seconds|minutes) (left|until|to))\b",
    re.IGNORECASE,
)
EVERY = pytest.mark.parametrize("rule", rules().values(), ids=lambda rule: rule.code)


def words(rule: Rule) -> str:
    """Give everything a rule says."""
    return " | ".join((*rule.means, rule.do, rule.unknown))


def test_every_rule_is_there() -> None:
    """Every code that conditions give has its rule."""
    assert set(rules()) == EXPECTED


@EVERY
def test_words(rule: Rule) -> None:
    """No forbidden word, more than one possible cause, and whole sentences where there are sentences."""
    assert not FORBIDDEN.findall(words(rule))
    assert len(rule.means) >= 2
    assert all(not cause.endswith(".") for cause in rule.means)
    assert rule.do.endswith(".")
    assert rule.unknown.endswith(".")


def test_the_search_for_words_finds_them() -> None:
    """Each kind of forbidden word is found where it stands."""
    for text in ("It is safe", "the leg is DEAD", "OK to energise", "a nuisance trip", "circuit isolated", "shown red",
                 "somebody's mistake", "because of the kettle", "it will trip", "40 seconds left"):  # fmt: skip
        assert FORBIDDEN.search(text)


@EVERY
def test_settings(rule: Rule) -> None:
    """Delays and, for what is measured, a deadband can be set for the show; all limits it names exist."""
    timed = {rule.setting("on_seconds"), rule.setting("off_seconds")}
    if rule.side is not Side.STATE:
        timed.add(rule.setting("deadband"))
        assert rule.unit
    assert timed | set(rule.settings) <= set(known_settings())
    assert set(rule.under) <= set(rules())
    assert timed <= set(alarm_show().settings)


@EVERY
def test_worse_rules_are_worse(rule: Rule) -> None:
    """A rule keeps quiet only under rules that are at least as urgent."""
    order = list(Priority)
    assert all(order.index(rules()[worse].priority) <= order.index(rule.priority) for worse in rule.under)


def test_what_the_trade_asks_for() -> None:
    """What can destroy equipment within seconds latches or is urgent; near-rating counts a minute (common practice)."""
    assert {code for code, rule in rules().items() if rule.clears is Clears.LATCHES} == {
        "lost-neutral",
        "wrong-service",
    }
    settings = alarm_show().settings
    urgent = {code for code, rule in rules().items() if rule.priority is Priority.URGENT}
    assert {"far-above-rating", "volts-high", "lost-neutral", "wrong-service"} <= urgent
    assert all(settings[rules()[code].setting("on_seconds")] <= 5 for code in urgent)
    names = ("near-rating", "above-rating", "far-above-rating", "volts-low", "volts-high", "lost-neutral")
    assert [settings[rules()[code].setting("on_seconds")] for code in names] == [60, 10, 3, 10, 2, 1]
