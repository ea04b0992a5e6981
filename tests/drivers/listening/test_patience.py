"""How long a meter that sends by itself is waited for."""

from __future__ import annotations

from drivers.listening.patience import LONGEST_S, Patience


def test_the_first_message_has_its_own_time() -> None:
    """Nothing heard yet."""
    patience = Patience(least_s=1.0, first_s=11.0, since_s=100.0)
    assert not patience.over(110.9)
    assert patience.over(111.0)


def test_it_follows_the_shortest_spacing_seen() -> None:
    """Messages every 10 s are waited for 25 s; a lost one does not make it wait longer."""
    patience = Patience(least_s=1.0, first_s=11.0, since_s=0.0)
    for at in (5.0, 15.0, 25.0, 45.0):
        patience.heard(at)
    assert not patience.over(69.9)
    assert patience.over(70.0)


def test_it_stays_within_its_bounds() -> None:
    """Ten messages a second and one a minute."""
    quick, slow = Patience(1.0, 5.0, 0.0), Patience(1.0, 5.0, 0.0)
    for number in range(1, 6):
        quick.heard(number * 0.1)
        slow.heard(number * 60.0)
    assert (quick.wait_s, slow.wait_s) == (1.0, LONGEST_S)


def test_a_silence_is_no_spacing() -> None:
    """After a silence was told, the time until the next message is not taken for how often the meter sends."""
    patience = Patience(1.0, 5.0, 0.0)
    patience.heard(1.0)
    patience.heard(2.0)
    patience.restart(10.0)
    patience.heard(60.0)
    patience.heard(61.0)
    assert patience.wait_s == 2.5
