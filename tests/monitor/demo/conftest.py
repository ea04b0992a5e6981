"""The demo's own show and scenario, and its first minutes played once."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest

from monitor.demo.scenario import Moment, load_script, play
from monitor.places import data
from monitor.show.loading import load_show_text

if TYPE_CHECKING:
    from monitor.demo.script import Script
    from monitor.show.model import Show


@pytest.fixture(scope="session")
def show() -> Show:
    """The demo's show, with any ports."""
    text = data("fixtures/demo/show.toml").read_text(encoding="utf-8")
    text = text.replace("@serial@", "/dev/none").replace("@tcp@", "127.0.0.1:5020")
    return load_show_text(text, "show.toml", (data("config/meters"),))


@pytest.fixture(scope="session")
def script() -> Script:
    """The demo's scenario."""
    return load_script(data("fixtures/demo/scenario.toml"))


@pytest.fixture(scope="session")
def evening(show: Show, script: Script) -> tuple[Moment, ...]:
    """The scenario from its begin to the end of its second time round."""
    return tuple(play(show, script, 2 * script.repeat_seconds))


@pytest.fixture(scope="session")
def opening(evening: tuple[Moment, ...]) -> tuple[Moment, ...]:
    """The first three minutes."""
    return tuple(moment for moment in evening if moment.state.time_s <= 180)
