"""The lines of setup's screen: choices in sight, values that are live, old or not there."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import pytest
from rich.cells import cell_len

from monitor.dashboard.pieces import Tone
from monitor.dashboard.setup import page
from monitor.dashboard.setup.app import SetupApp
from monitor.dashboard.setup.lines import choice_lines, hung, live_lines
from monitor.setup.talk import Question
from tests.monitor.dashboard.setup.seat import Sitter

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    from monitor.dashboard.pieces import Line
    from monitor.dashboard.setup.face import ScreenFace

    Compare = Callable[..., bool]

ROW = {
    "problem": "",
    "channels": [{"channel": f"ch{n}", "reads": f"{230 + n}.0 V {n}.50 A"} for n in range(1, 13)],
}
MANY = tuple(
    (str(n), f"map-{n}: reads so many things that it takes more than one line of this width") for n in range(9)
)


def texts(lines: Sequence[Line]) -> list[str]:
    """Give lines without their tones."""
    return ["".join(piece.text for piece in line) for line in lines]


@pytest.mark.parametrize("at", range(-1, 9))
@pytest.mark.parametrize("height", [3, 5, 40])
def test_the_chosen_one_is_in_sight_and_told_in_full(at: int, height: int) -> None:
    """At any height from three lines on, marked; no line is wider or the list higher than the room."""
    lines = choice_lines(MANY, at, 34, height)
    shown = texts([line for _, line in lines])
    assert len(lines) <= height
    assert max(map(cell_len, shown)) <= 34
    told = " ".join(" ".join(text for (n, _), text in zip(lines, shown, strict=True) if n == at).split())
    assert told == ("" if at < 0 else f"> {at} {MANY[at][1]}")
    assert sum(text.startswith(">") for text in shown) == (at >= 0)


def test_answers_that_are_their_own_words_are_told_once() -> None:
    """Names and legs stand alone; numbers and letters stand before their words."""
    lines = choice_lines((("L1", "L1"), ("y", "yes"), ("-", "nothing")), 1, 30, 9)
    assert texts([line for _, line in lines]) == ["  L1", "> y  yes", "  nothing"]


def test_the_channel_asked_about_is_in_sight() -> None:
    """Of twelve channels in five lines; marked by a sign, not by a tone alone."""
    for number in (1, 7, 12):
        shown = texts(live_lines(ROW, f"ch{number}", 40, 5, old=False))
        assert shown[0] == "Read now:"
        assert len(shown) == 5
        assert [text for text in shown if text.startswith(">")] == [
            f"> {f'ch{number}':4}  {230 + number}.0 V {number}.50 A"
        ]


def test_old_and_missing_values_are_never_live() -> None:
    """Old: a word and another tone on every line; not read, or in vain: no value at all."""
    old = live_lines(ROW, "ch1", 40, 5, old=True)
    assert texts(old)[0].startswith("OLD")
    assert {piece.tone for line in old for piece in line} == {Tone.OLD}
    assert texts(live_lines(None, "ch1", 40, 5, old=False)) == ["Reading the meter ..."]
    (gone,) = texts(live_lines({**ROW, "problem": "no reply"}, "ch1", 40, 5, old=False))
    assert gone == "No values: no reply"


def test_what_is_broken_hangs_below_its_beginning() -> None:
    """Indents are kept, what goes on is indented further, nothing is lost, long words are cut."""
    broken = hung(("Ferry", "  A1 Key side, L1, 20 A, 12 awg", "x" * 25), 14)
    assert broken == ["Ferry", "  A1 Key", "    side, L1,", "    20 A, 12", "    awg", "x" * 12, "  " + "x" * 12, "  x"]


def held(live: Callable[[], dict[str, Any]]) -> Callable[[ScreenFace], None]:
    """Give a conversation of one question about a channel."""

    def hold(face: ScreenFace) -> None:
        face.tell("  What does each channel measure? A circuit's id (new ones too), box1/L1, source/L1; Enter: nothing")
        face.ask(
            Question(
                "ch7, which read 237.0 V",
                choices=(("", "nothing"), ("K1", "K1"), ("box1/L1", "box1/L1"), ("source/L1", "source/L1")),
                channel="ch7",
                live=live,
                given=("Set up unit 3 (y/n): yes", "Which one agrees with your own instrument: twelve-channel"),
                so_far=(
                    "Kiln hall",
                    "  europe, Europe/Oslo",
                    "source: house, 400Y/230, 63 A a leg",
                    "  box1 Hall, 32 A",
                    "    K1 Kiln, L1+L2, 16 A, 2.5 mm2 15 m, 4000 W",
                ),
            )
        )

    return hold


async def test_values_grow_old_where_the_meter_is_not_read(monkeypatch: pytest.MonkeyPatch) -> None:
    """A read that takes long: what was read before is called old meanwhile, and live again once it ends."""
    from threading import Event  # noqa: PLC0415

    monkeypatch.setattr(page, "OLD_S", 0.3)
    rows, go = [0], Event()

    def live() -> dict[str, Any]:
        rows[0] += 1
        if rows[0] > 1:
            go.wait(20)
        return ROW

    app = SetupApp("kiln.toml", held(live))
    async with app.run_test(size=(80, 24)) as pilot:
        sitter = Sitter(pilot, app, by_keys=True)
        await sitter.until(lambda: "Read now" in sitter.shown("live"))
        await sitter.until(lambda: "OLD: not read" in sitter.shown("live"))
        go.set()
        await sitter.until(lambda: "Read now" in sitter.shown("live"))
        await pilot.press("enter")
        await sitter.until(lambda: not app.is_running)
    app.end()


def test_picture(snap_compare: Compare) -> None:
    """The screen while one says what a channel measures."""

    async def once_read(pilot: Any) -> None:
        sitter = Sitter(pilot, pilot.app, by_keys=True)
        await sitter.until(lambda: "Read now" in sitter.shown("live"))

    app = SetupApp("kiln.toml", held(lambda: ROW))
    assert snap_compare(app, terminal_size=(80, 24), run_before=once_read)
