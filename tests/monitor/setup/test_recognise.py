"""Which map looks right by what it reads."""

from __future__ import annotations

import pytest

from drivers.reading import ChannelReading, Quality, Values
from monitor.setup.recognise import likeness


def read(**values: float) -> list[ChannelReading]:
    """Give one channel that read these."""
    return [ChannelReading("ch1", values=Values(**values))]


@pytest.mark.parametrize(
    ("better", "worse"),
    [
        (read(volts=121.0, amps=4.0, watts=480.0, hertz=60.0), read(volts=4.6e-41, amps=0.0, hertz=3e8)),
        (read(volts=121.0, amps=4.0, watts=480.0), read(volts=121.0, amps=4.0, watts=9000.0)),
        (read(volts=239.0), read(volts=2390.0)),
        (read(volts=0.0, amps=0.0), [ChannelReading("ch1", Quality.REFUSED)]),
        (read(volts=120.0), read(volts=0.0)),
    ],
)
def test_the_likelier_map_comes_first(better: list[ChannelReading], worse: list[ChannelReading]) -> None:
    """Volts of the system, hertz of a supply and watts that can be speak for a map; nothing read speaks for none."""
    assert likeness(better, "120/240") > likeness(worse, "120/240")


def test_nothing_read_is_no_likeness() -> None:
    """No channel, or only refusals: 0."""
    assert likeness([], "230") == 0.0
    assert likeness([ChannelReading("ch1", Quality.SILENT)] * 3, "230") == 0.0
