"""The guided screen of ``legwatch setup``, by keys and mouse, with an independent Modbus server at the far end."""

from __future__ import annotations

import os
import socket
import subprocess
import sys
import tomllib
from pathlib import Path
from typing import TYPE_CHECKING

import pytest
from textual.widgets import Input

from monitor.dashboard.keys import Keys
from monitor.dashboard.setup.app import HelpScreen
from monitor.dashboard.setup.widgets import Choices
from monitor.dashboard.terminal import Colours
from monitor.places import data
from monitor.setup.talk import Quit
from tests.monitor.dashboard.setup.seat import Sitter, sitting
from tests.support.cable import Cable
from tests.support.senders import AskedMeter, printing_tcp
from tests.support.sets import FarMeter, free_port
from tests.support.telegrams import readout

if TYPE_CHECKING:
    from collections.abc import Iterator

LEGWATCH = str(Path(sys.executable).with_name("legwatch"))
HOUSE = ("Ferry, dusk", "2", "Europe/Oslo", "2", "1", "63", "")
"""A house tie-in of 400Y/230 with 63 A a leg and no boxes, typed."""


@pytest.fixture
def far() -> Iterator[FarMeter]:
    """Give an independent server that answers to unit 1 with the three channels of a three-channel meter."""
    meter = FarMeter(free_port())
    for channel in (1, 2, 3):
        meter.reads(channel, 120.0 + channel, 4.0 * channel)
    meter.start()
    yield meter
    meter.stop()


async def head(sitter: Sitter) -> None:
    """Answer for the show and a generator with its fuel, 120/240, one box."""
    await sitter.type("Name of the show", "Ferry, dusk")
    await sitter.press("Region", "enter")
    await sitter.type("Time zone", "America/Halifax")
    await sitter.press("Kind", "enter")
    await sitter.press("Voltage system", "enter")
    await sitter.type("Rated kW", "20")
    await sitter.type("Rated kVA", "25")
    await sitter.type("Amps that one leg", "83")
    await sitter.type("Litres per hour", "2.3 3.4 4.9 6.1")
    await sitter.type("Litres that its tank", "110")
    await sitter.press("Fuel", "enter")
    await sitter.type("Id of a box", "box1")
    await sitter.type("box1: its name", "Pier box")
    await sitter.press("box1: fed from", "enter")
    await sitter.type("box1: amps", "60")
    await sitter.type("box1: cable", "6 awg 100 ft")
    await sitter.press("Id of a box", "enter")


async def to_the_network(sitter: Sitter, where: str) -> None:
    """Choose an address on the network with the arrow keys, among this computer's ports."""
    await sitter.choose("Where are meters", "an address on the network")
    await sitter.type("Address", where)
    await sitter.press("How do they speak", "enter")


async def to_the_channels(sitter: Sitter, far: FarMeter) -> None:
    """Find the meter and choose its map."""
    await to_the_network(sitter, f"127.0.0.1:{far.port}")
    await sitter.type("Numbers to ask", "1")
    await sitter.press("Set up unit 1", "enter")
    await sitter.choose("Which one agrees", "three-channel:")


async def one_circuit(sitter: Sitter) -> None:
    """Make a circuit of the first channel, L1 of the source of the second, nothing of the third."""
    await sitter.type("ch1, which", "A1")
    await sitter.type("A1: its name", "Key side")
    await sitter.press("A1: fed from", "enter")
    await sitter.press("A1: its leg", "down", "enter")
    await sitter.type("A1: amps", "20")
    await sitter.type("A1: cable", "12 awg 50 ft")
    await sitter.choose("where does the meter take", "before it")
    await sitter.type("A1: watts", "600")
    await sitter.type("what is it", "LED panel")
    await sitter.press("A1: watts", "enter")
    await sitter.choose("ch2, which", "source/L1")
    await sitter.press("ch3, which", "enter")
    await sitter.choose("what powers", "box1")


def names_in(folder: Path) -> list[str]:
    """Name the files of a folder."""
    return [path.name for path in folder.iterdir()]


def legwatch(*words: str | Path, typed: tuple[str, ...] = ()) -> subprocess.CompletedProcess[str]:
    """Run a command with typed lines."""
    lines = "".join(f"{line}\n" for line in typed)
    return subprocess.run(
        [LEGWATCH, *map(str, words)], input=lines, capture_output=True, text=True, timeout=60, check=False
    )


async def test_from_ports_to_a_file(tmp_path: Path, far: FarMeter) -> None:
    """Every question by keys; what grows stands beside; the last page shows the file; it is written and checks."""
    path = tmp_path / "ferry.toml"
    async with sitting(path, by_keys=True) as sitter:
        await head(sitter)
        await to_the_channels(sitter, far)
        await one_circuit(sitter)
        await sitter.asked("Where are meters")
        show = sitter.shown("show")
        await sitter.press("Where are meters", "enter")
        await sitter.press("Id of a circuit", "enter")
        await sitter.asked("Write")
        page = sitter.shown("news")
        assert not path.exists()
        await sitter.pilot.press("enter")
        await sitter.until(lambda: not sitter.app.is_running)
    assert "A1 Key side, L2, 20 A" in " ".join(show.split())
    assert "unit 1: ch1 A1, ch2 source/L1" in " ".join(show.split())
    assert "awg = 12, feet = 50" in page
    assert any(line.startswith("written:") for line in sitter.app.told)
    text = path.read_text(encoding="utf-8")
    assert text.strip() in page
    written = tomllib.loads(text)
    assert written["source"]["fuel"] == {
        "kind": "diesel", "tank_litres": 110, "litres_per_hour": {"25": 2.3, "50": 3.4, "75": 4.9, "100": 6.1},
    }  # fmt: skip
    assert written["feeder"][0]["cable"] == {"awg": 6, "feet": 100}
    assert written["circuit"][0]["volts_tap"] == "line"
    assert written["meter"][0]["powered_from"] == "box1"
    assert names_in(tmp_path) == ["ferry.toml"]
    check = legwatch("check", path, "--file-only")
    assert check.returncode == 0, check.stdout + check.stderr


async def test_values_are_live_or_not_there(tmp_path: Path, far: FarMeter) -> None:
    """While a channel is asked about, its meter is read again and again; a meter that has gone shows no value."""
    async with sitting(tmp_path / "ferry.toml") as sitter:
        await head(sitter)
        await to_the_channels(sitter, far)
        await sitter.asked("ch1, which")
        await sitter.until(lambda: "121.0 V 4.00 A" in sitter.shown("live"))
        far.reads(1, 119.5, 11.25)
        await sitter.until(lambda: "119.5 V 11.25 A" in sitter.shown("live"))
        assert sitter.shown("question") == "What does ch1 measure?"  # without the value of before
        far.stop()
        await sitter.until(lambda: "No values" in sitter.shown("live"))
        assert "119.5" not in sitter.shown("live")
        far.start()
        await sitter.until(lambda: "Read now" in sitter.shown("live"))
        await sitter.press("ch1, which", "enter")
        await sitter.until(lambda: "> ch2" in sitter.shown("live"))


async def test_a_meter_that_is_signed_on_to(tmp_path: Path) -> None:
    """Mode C of IEC 62056-21 on a cable, read again and again while one answers; the next wire work waits its turn."""

    def volts(number: int) -> list[bytes]:
        return [readout(f"1-0:32.7.0({221 + number}.0*V)", "1-0:31.7.0(12.25*A)")]

    with (
        Cable(tmp_path) as cable,
        AskedMeter(cable.far, cable.near, b"/XMP5EXAMPLE\r\n", volts, b"\x06050\r\n") as meter,
    ):
        async with sitting(tmp_path / "ferry.toml") as sitter:
            await head(sitter)
            await sitter.choose("Where are meters", "another serial port")
            await sitter.type("Port, such as", str(cable.near))
            await sitter.choose("How do they speak", "one meter waits for the sign-on")
            await sitter.choose("Which one agrees", "telegram:")
            await sitter.asked("l1, which read 221.0 V")
            await sitter.until(lambda: "22" in sitter.shown("live") and len(meter.speeds) > 2)
            await sitter.choose("l1, which", "source/L1")
            for channel in ("l2", "l3", "total"):
                await sitter.press(f"{channel}, which", "enter")
            await sitter.press("what powers", "enter")
            await sitter.asked("Where are meters")
            assert "unit 1: l1 source/L1" in " ".join(sitter.shown("show").split())


async def test_what_was_heard_stands_until_it_is_answered(tmp_path: Path) -> None:
    """A board that prints lines: they are still there when its map is asked for, after more was looked for."""
    with printing_tcp(lambda n: f"u=231.{n % 10} i=4.5\r\n".encode()) as port:
        async with sitting(tmp_path / "ferry.toml") as sitter:
            await head(sitter)
            await sitter.choose("Where are meters", "an address on the network")
            await sitter.type("Address", f"127.0.0.1:{port}")
            await sitter.choose("How do they speak", "one meter sends by itself")
            await sitter.asked("Which one agrees")
            assert "i=4.5" in sitter.shown("news")
            await sitter.choose("Which one agrees", "none of these: leave")
            await sitter.asked("Where are meters")
            assert "i=4.5" not in sitter.shown("news")
            assert "Make a map of the fields" in sitter.shown("news")


async def test_begun_plain_gone_on_here_finished_plain(tmp_path: Path) -> None:
    """The two faces share their answers: begun with prompts, back and on by keys, ended, then prompts again."""
    path = tmp_path / "ferry.toml"
    legwatch("setup", path, typed=HOUSE[:3])
    async with sitting(path) as sitter:
        await sitter.asked("Go on from there")
        assert "3 answers of last time are kept" in sitter.shown("news")
        await sitter.press("Go on from there", "enter")
        await sitter.asked("Kind")
        assert "Time zone: Europe/Oslo" in sitter.shown("news")
        await sitter.press("Kind", "escape")
        await sitter.type("Time zone", "Europe/Vienna")
        await sitter.press("Kind", "2", "enter")
        await sitter.asked("Voltage system")
        await sitter.pilot.press("ctrl+c")
        await sitter.until(lambda: not sitter.app.is_running)
    assert isinstance(sitter.app.problem, Quit)
    assert not path.exists()
    peek = legwatch("setup", path, typed=("y", "1", "63", ""))
    assert "4 answers of last time are kept" in peek.stdout
    none = next(line.split(")")[0].strip() for line in peek.stdout.splitlines() if "no more meters" in line)
    done = legwatch("setup", path, typed=("y", none, "", "y"))
    assert done.returncode == 0, done.stdout + done.stderr
    assert tomllib.loads(path.read_text(encoding="utf-8"))["show"]["timezone"] == "Europe/Vienna"


async def test_a_long_search_holds_nothing_up(tmp_path: Path) -> None:
    """Where nobody answers: how far it has come is told, the help opens meanwhile, Esc gives up and asks again."""
    with socket.create_server(("127.0.0.1", 0)) as deaf:
        async with sitting(tmp_path / "ferry.toml") as sitter:
            await head(sitter)
            await to_the_network(sitter, f"127.0.0.1:{deaf.getsockname()[1]}")
            await sitter.type("Numbers to ask", "1-200")
            await sitter.until(lambda: " 2 %" in sitter.shown("question"))
            assert "who answers" in sitter.shown("question")
            await sitter.pilot.press("question_mark")
            await sitter.until(lambda: isinstance(sitter.app.screen, HelpScreen))
            await sitter.pilot.press("escape")
            await sitter.until(lambda: not isinstance(sitter.app.screen, HelpScreen))
            await sitter.pilot.press("x", "enter")  # no question stands: nothing to answer
            await sitter.pilot.press("escape")
            await sitter.asked("Numbers to ask")


async def test_mouse_help_change_and_a_wrong_answer(tmp_path: Path) -> None:
    """A click takes a choice; a wrong answer says why and stays; Tab takes the proposal for changing; ? helps."""
    async with sitting(tmp_path / "ferry.toml") as sitter:
        await sitter.press("Name of the show", "enter")
        assert "please type something" in sitter.shown("fault")
        await sitter.type("Name of the show", "What?")
        await sitter.asked("Region")
        await sitter.pilot.click(Choices, offset=(4, 1))
        await sitter.asked("Time zone")
        await sitter.type("Time zone", "Mars/Base")
        assert 'no time zone is called "Mars/Base"' in sitter.shown("fault")
        await sitter.pilot.press("tab")
        entry = sitter.app.query_one(Input)
        assert entry.value
        entry.value = "Europe/Oslo"
        await sitter.press("Time zone", "enter")
        assert sitter.shown("fault") == ""
        await sitter.asked("Kind")
        await sitter.pilot.press("question_mark")
        await sitter.until(lambda: isinstance(sitter.app.screen, HelpScreen))
        await sitter.pilot.press("question_mark")
        await sitter.pilot.press("ctrl+c")
        await sitter.until(lambda: not sitter.app.is_running)
    kept = (tmp_path / "ferry.toml.setup-draft").read_text(encoding="utf-8")
    assert "What?" in kept
    assert '"value": "2"' in kept


@pytest.mark.parametrize(
    ("size", "shades"), [((80, 24), Colours.SIXTEEN), ((60, 20), Colours.NONE), ((140, 45), Colours.FULL)]
)
async def test_everything_needed_is_in_sight(
    size: tuple[int, int], shades: Colours, tmp_path: Path, far: FarMeter
) -> None:
    """On the smallest screen too: question, values, the marked choice, the line, all keys; the file can be scrolled."""
    async with sitting(tmp_path / "ferry.toml", size, shades) as sitter:
        await head(sitter)
        await to_the_channels(sitter, far)
        await sitter.asked("ch1, which")
        await sitter.until(lambda: "Read now" in sitter.shown("live"))
        await sitter.until(lambda: "What does ch1 measure?" in sitter.look() and "> ch1  121.0 V" in sitter.look())
        seen = sitter.look()
        for words in ("> nothing", "Pier box", "Enter answer", "Ctrl-C end, answers are kept", "Esc back"):
            assert words in seen, seen
        assert sitter.app.query_one(Input).region.bottom <= sitter.app.query_one(Keys).region.y
        await one_circuit(sitter)
        await sitter.press("Where are meters", "enter")
        await sitter.press("Id of a circuit", "enter")
        await sitter.asked("Write")
        await sitter.until(lambda: 'name = "Ferry, dusk"' in sitter.look())
        for _ in range(8):
            await sitter.pilot.press("pagedown")
        await sitter.until(lambda: "powered_from" in sitter.look())


async def test_on_a_show_that_is_there_the_last_page_shows_what_changes(tmp_path: Path) -> None:
    """One breaker of the example: one line goes, one comes; no Enter for an answer; "no" leaves the file alone."""
    path = tmp_path / "salt.toml"
    before = data("config/example-show.toml").read_text(encoding="utf-8")
    path.write_text(before, encoding="utf-8")
    async with sitting(path, before=before) as sitter:
        await sitter.press("Keep it", "enter")
        await sitter.press("Keep it", "enter")
        await sitter.press("Id of a box", "enter")
        await sitter.press("Where are meters", "enter")
        await sitter.type("Id of a circuit", "W3")
        for words in ("W3: its name", "W3: fed from", "W3: its leg"):
            await sitter.press(words, "enter")
        await sitter.type("W3: amps", "15")
        for words in ("W3: cable", "where does the meter take", "W3: watts", "Id of a circuit"):
            await sitter.press(words, "enter")
        await sitter.asked("Write")
        page = sitter.shown("news").splitlines()
        assert [line for line in page if line[:1] in "+-"] == ["-breaker = { amps = 20 }", "+breaker = { amps = 15 }"]
        await sitter.press("Write", "enter")
        assert "please type something" in sitter.shown("fault")
        await sitter.pilot.press("n", "enter")
        await sitter.until(lambda: not sitter.app.is_running)
    assert path.read_text(encoding="utf-8") == before


async def test_it_ends_from_the_help_and_stands_any_size(tmp_path: Path) -> None:
    """Ctrl-C while the help is in front, on a terminal far below what is meant, and larger again."""
    async with sitting(tmp_path / "ferry.toml", (20, 6)) as sitter:
        await sitter.type("Name of the show", "Ferry")
        await sitter.asked("Region")
        await sitter.pilot.resize_terminal(60, 20)
        await sitter.until(lambda: "> 1  north-america" in sitter.look())
        await sitter.pilot.press("question_mark")
        await sitter.until(lambda: isinstance(sitter.app.screen, HelpScreen))
        await sitter.pilot.press("ctrl+c")
        await sitter.until(lambda: not sitter.app.is_running)
    assert isinstance(sitter.app.problem, Quit)


def test_dumb_and_missing_terminals_get_prompts(tmp_path: Path) -> None:
    """TERM=dumb on a real terminal, and --plain: the first prompt comes as a line, no screen is drawn."""
    for words, term in (((), "dumb"), (("--plain",), "xterm-256color")):
        far, near = os.openpty()
        process = subprocess.Popen(
            [LEGWATCH, "setup", *words, "ferry.toml"], stdin=near, stdout=near, stderr=near, cwd=tmp_path,
            env={**os.environ, "TERM": term},
        )  # fmt: skip
        os.close(near)
        printed = b""
        while b"Name of the show:" not in printed:
            printed += os.read(far, 4096)
        os.write(far, b"quit\n")
        assert process.wait(30) == 0
        os.close(far)
        assert b"\x1b[?1049h" not in printed  # the alternate screen, from memory of xterm's control sequences
