"""``legwatch setup`` through a pipe and by signals, against far ends that this project did not write."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
import time
import tomllib
from pathlib import Path

from monitor.places import data
from tests.support.cable import Cable
from tests.support.senders import printing, printing_tcp
from tests.support.sets import small_set
from tests.support.sunspec_devices import image, model, rtu_device
from tests.support.telegrams import checked

LEGWATCH = str(Path(sys.executable).with_name("legwatch"))
HEAD = ("Quarry, last week", "2", "Europe/Oslo", "2", "1", "63", "")
"""A show in Europe, a house tie-in of 400Y/230 with 63 A a leg, no boxes."""


def legwatch(folder: Path, *words: str | Path, typed: tuple[str, ...] = ()) -> subprocess.CompletedProcess[str]:
    """Run a command with typed lines, in a folder."""
    return subprocess.run(
        [LEGWATCH, *map(str, words)],
        input="".join(f"{line}\n" for line in typed),
        capture_output=True,
        text=True,
        timeout=90,
        check=False,
        cwd=folder,
    )


def choice(printed: str, words: str) -> str:
    """Give the number before an option's words."""
    return next(line.split(")")[0].strip() for line in printed.splitlines() if words in line and ")" in line)


def place(folder: Path, words: str) -> str:
    """Give the number of a kind of place, which depends on this computer's ports."""
    printed = legwatch(folder, "setup", "peek.toml", typed=HEAD).stdout
    (folder / "peek.toml.setup-draft").unlink()
    return choice(printed, words)


def test_a_sunspec_meter_on_a_cable(tmp_path: Path) -> None:
    """Scanned, recognised by its marker, its legs set to the source's: what is written checks and reads right."""
    values = {"PhVphA": 2301, "PhVphB": 2302, "PhVphC": 2303, "V_SF": -1, "AphA": 101, "AphB": 92, "AphC": 83,
              "A_SF": -1}  # fmt: skip
    serial = place(tmp_path, "another serial port")
    with Cable(tmp_path) as cable, rtu_device(image(model(203, values)), 40_000, cable.far):
        typed = (
            *HEAD,
            serial,
            str(cable.near),
            "1",
            "1",
            "y",
            "source/L1",
            "source/L2",
            "source/L3",
            "",
            "",
            "",
            "",
            "y",
        )
        done = legwatch(tmp_path, "setup", "quarry.toml", typed=typed)
        once = legwatch(tmp_path, "log", "quarry.toml", "--once")
    assert done.returncode == 0, done.stdout + done.stderr
    assert "(SunSpec)" in done.stdout
    show = tomllib.loads((tmp_path / "quarry.toml").read_text(encoding="utf-8"))
    assert show["bus"][0]["protocol"] == "sunspec-rtu"
    assert once.returncode == 0, once.stdout + once.stderr
    assert [line.split()[:3] for line in once.stdout.splitlines()[1:4]] == [
        ["source/L1", "230.1", "10.10"], ["source/L2", "230.2", "9.20"], ["source/L3", "230.3", "8.30"],
    ]  # fmt: skip


def test_a_board_that_prints_and_a_new_two_hot_circuit(tmp_path: Path) -> None:
    """Heard on the network, read by a map beside the show file, its channel a circuit that is made on the way."""
    (tmp_path / "own.toml").write_text(
        '[meter]\nname = "Own"\nsource = "invented for this test"\nprotocol = "text"\n'
        '[[value]]\nchannel = "load"\nquantity = "volts"\nfield = "u"\n'
        '[[value]]\nchannel = "load"\nquantity = "amps"\nfield = "i"\n'
        "[[example]]\ntext = 'u=400 i=3'\nexpect = { load = { volts = 400.0, amps = 3.0 } }\n",
        encoding="utf-8",
    )
    network = place(tmp_path, "an address on the network")
    with printing_tcp(lambda _: b"u=401.5 i=6.25\r\n") as port:
        typed = (*HEAD, network, f"127.0.0.1:{port}", "2", "1", "K1", "", "", "L1,L2", "16", "", "", "", "4000",
                 "Kiln", "", "", "", "", "y")  # fmt: skip
        done = legwatch(tmp_path, "setup", "quarry.toml", typed=typed)
        check = legwatch(tmp_path, "check", "quarry.toml")
    assert done.returncode == 0, done.stdout + done.stderr
    assert "own: load 401.5 V 6.25 A" in done.stdout
    assert check.returncode == 0, check.stdout + check.stderr
    assert "401.5 V  6.25 A" in check.stdout
    (circuit,) = tomllib.loads((tmp_path / "quarry.toml").read_text(encoding="utf-8"))["circuit"]
    assert (circuit["legs"], circuit["breaker"]) == (["L1", "L2"], {"amps": 16, "poles": 2, "class": "C"})


def test_telegrams_on_a_cable(tmp_path: Path) -> None:
    """A meter that pushes telegrams: heard, its setting kept, its legs read by the map that comes along."""
    telegram = checked("1-0:32.7.0(231.4*V)\n1-0:31.7.0(005.2*A)\n1-0:21.7.0(01.190*kW)")
    serial = place(tmp_path, "another serial port")
    with Cable(tmp_path) as cable, printing(cable.far, lambda _: telegram, 0.5):
        head = (*HEAD, serial, str(cable.near), "2")
        peek = legwatch(tmp_path, "setup", "peek.toml", typed=(*head, "1"))
        (tmp_path / "peek.toml.setup-draft").unlink()
        channels = [line for line in peek.stdout.splitlines() if ", which read " in line]
        assert channels[0].startswith("l1, which read 231.4 V 5.20 A"), peek.stdout
        (tmp_path / "quarry.toml").unlink(missing_ok=True)
        typed = (*head, "1", "source/L1", *[""] * 3, "", "", "", "y")
        done = legwatch(tmp_path, "setup", "quarry.toml", typed=typed)
        once = legwatch(tmp_path, "log", "quarry.toml", "--once")
    assert done.returncode == 0, done.stdout + done.stderr
    assert "source/L1      231.4    5.20" in once.stdout


def test_on_a_show_that_is_there_only_what_is_answered_changes(tmp_path: Path) -> None:
    """One circuit's breaker on the example: one line differs, the old file stays as a copy, it asks before writing."""
    before = data("config/example-show.toml").read_text(encoding="utf-8")
    show = tmp_path / "salt.toml"
    show.write_text(before, encoding="utf-8")
    keep = ("y", "y", "", "", "W3")
    done = legwatch(tmp_path, "setup", "salt.toml", typed=(*keep, "", "", "", "15", "", "", "", "", "y"))
    assert done.returncode == 0, done.stdout + done.stderr
    after = show.read_text(encoding="utf-8")
    changed = [(a, b) for a, b in zip(before.splitlines(), after.splitlines(), strict=True) if a != b]
    assert changed == [("breaker = { amps = 20 }", "breaker = { amps = 15 }")]
    (copy,) = tmp_path.glob("salt.toml.2*")
    assert copy.read_text(encoding="utf-8") == before
    assert legwatch(tmp_path, "check", "salt.toml", "--file-only").returncode == 0
    again = legwatch(tmp_path, "setup", "salt.toml", typed=("y", "y", "", "", ""))
    assert "Nothing has changed" in again.stdout
    assert show.read_text(encoding="utf-8") == after


def test_changing_the_source_keeps_its_other_figures(tmp_path: Path) -> None:
    """Another rated kW on the example's source: Enter keeps the rest, and a dash takes the fuel out."""
    before = data("config/example-show.toml").read_text(encoding="utf-8")
    show = tmp_path / "salt.toml"
    show.write_text(before, encoding="utf-8")
    none = place(tmp_path, "no more meters")
    source = tomllib.loads(before)["source"]
    typed = ("y", "n", "", "", str(source["rated_kw"] - 1), "", "", "-", "", none, "", "y")
    done = legwatch(tmp_path, "setup", "salt.toml", typed=typed)
    assert done.returncode == 0, done.stdout + done.stderr
    after = tomllib.loads(show.read_text(encoding="utf-8"))["source"]
    source["rated_kw"] -= 1
    del source["fuel"]
    assert after == source


def test_a_second_meter_on_a_bus_that_is_there(tmp_path: Path) -> None:
    """The bus is found again by its address; a point that is taken is refused; the new circuit and meter are added."""
    with small_set(tmp_path) as (path, _):
        where = tomllib.loads(path.read_text(encoding="utf-8"))["bus"][0]["tcp"]
        head = ("y", "y", "")
        printed = legwatch(tmp_path, "setup", path, typed=head).stdout
        network = choice(printed, "an address on the network")
        (tmp_path / "weir.toml.setup-draft").unlink()
        asked = (*head, network, where, "1", "2", "y")
        three = choice(legwatch(tmp_path, "setup", path, typed=asked).stdout, "three-channel: ")
        (tmp_path / "weir.toml.setup-draft").unlink()
        circuit = ("A3", "Hair light", "", "L2", "", "", "", "750", "Tungsten")
        done = legwatch(tmp_path, "setup", path, typed=(*asked, three, "A1", *circuit, "", "", "", "", "", "", "y"))
        check = legwatch(tmp_path, "check", path)
    assert done.returncode == 0, done.stdout + done.stderr
    assert "A1 is measured by net unit 1 already" in done.stdout
    show = tomllib.loads(path.read_text(encoding="utf-8"))
    assert [bus["id"] for bus in show["bus"]] == ["net"]
    assert show["meter"][1] == {"bus": "net", "unit": 2, "map": "three-channel", "points": {"ch1": "A3"}}
    assert show["circuit"][2]["load"] == [{"name": "Tungsten", "watts": 750}]
    assert "bus net unit 2 answers" in check.stdout


def test_saying_no_and_answers_that_end_write_nothing(tmp_path: Path) -> None:
    """No at the end: exit 0, nothing written; a pipe that ends early: exit 1; the answers are kept both times."""
    none = place(tmp_path, "no more meters")
    no = legwatch(tmp_path, "setup", "quarry.toml", typed=(*HEAD, none, "", "n"))
    assert (no.returncode, (tmp_path / "quarry.toml").exists()) == (0, False)
    yes = legwatch(tmp_path, "setup", "quarry.toml", typed=("y", "y"))
    assert yes.returncode == 0, yes.stdout
    assert tomllib.loads((tmp_path / "quarry.toml").read_text(encoding="utf-8"))["show"]["name"] == HEAD[0]
    assert not list(tmp_path.glob("*.setup-draft*"))
    early = legwatch(tmp_path, "setup", "other.toml", typed=HEAD[:3])
    assert early.returncode == 1
    assert not (tmp_path / "other.toml").exists()


def test_ctrl_c_loses_nothing(tmp_path: Path) -> None:
    """SIGINT in the middle: no traceback, and the next setup goes on after the last answer."""
    process = subprocess.Popen(
        [LEGWATCH, "setup", "quarry.toml"],
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
        stderr=subprocess.STDOUT,
        text=True,
        cwd=tmp_path,
        env={**os.environ, "PYTHONUNBUFFERED": "1"},
    )
    assert process.stdin is not None
    process.stdin.write("Quarry, last week\n2\n")
    process.stdin.flush()
    kept = tmp_path / "quarry.toml.setup-draft"
    until = time.monotonic() + 20
    while time.monotonic() < until and not (kept.exists() and "Region" in kept.read_text(encoding="utf-8")):
        time.sleep(0.05)
    process.send_signal(signal.SIGINT)
    printed = process.communicate(timeout=20)[0]
    assert process.returncode == 0, printed
    assert "Traceback" not in printed
    none = place(tmp_path, "no more meters")
    on = legwatch(tmp_path, "setup", "quarry.toml", typed=("y", *HEAD[2:], none, "", "y"))
    assert on.returncode == 0, on.stdout + on.stderr
    assert "2 answers of last time are kept" in on.stdout
    assert tomllib.loads((tmp_path / "quarry.toml").read_text(encoding="utf-8"))["show"]["name"] == "Quarry, last week"


def test_a_show_with_faults_is_left_alone(tmp_path: Path) -> None:
    """Its faults with their lines, exit 2, no question asked."""
    (tmp_path / "bad.toml").write_text('[show]\nnme = "x"\n', encoding="utf-8")
    result = legwatch(tmp_path, "setup", "bad.toml")
    assert result.returncode == 2
    assert "bad.toml:2" in result.stderr
    assert "mend these first" in result.stderr


def test_back_and_wrong_answers(tmp_path: Path) -> None:
    """Back to the region after the zone; a zone and a circuit id that can't be are asked for again."""
    none = place(tmp_path, "no more meters")
    typed = ("Quarry", "1", "back", "2", "Mars/Base", "Europe/Oslo", *HEAD[3:], none, "a b", "", "y")
    done = legwatch(tmp_path, "setup", "quarry.toml", typed=typed)
    assert done.returncode == 0, done.stdout + done.stderr
    assert 'no time zone is called "Mars/Base"' in done.stdout
    assert "without spaces" in done.stdout
    show = tomllib.loads((tmp_path / "quarry.toml").read_text(encoding="utf-8"))["show"]
    assert (show["region"], show["timezone"]) == ("europe", "Europe/Oslo")
