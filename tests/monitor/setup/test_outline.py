"""The show in few words, and what would change in its file."""

from __future__ import annotations

from monitor.places import data
from monitor.setup.draft import ShowDraft
from monitor.setup.outline import changes, outline

TEXT = """
[show]
name = "Kiln hall"
region = "europe"
timezone = "Europe/Oslo"
[source]
kind = "house"
system = "400Y/230"
amps_per_leg = 63
[[circuit]]
id = "K1"
name = "Kiln"
fed_from = "box1"
legs = ["L1", "L2"]
breaker = { amps = 16 }
cable = { mm2 = 2.5, metres = 15 }
load = [ { name = "Kiln", watts = 2000, count = 2 } ]
[[feeder]]
id = "box1"
fed_from = "source"
breaker = { amps = 32 }
[[bus]]
id = "net"
tcp = "192.0.2.10:502"
protocol = "modbus-tcp"
[[meter]]
bus = "net"
unit = 3
map = "own"
points = { ch1 = "K1" }
"""


def test_from_the_source_outwards() -> None:
    """Boxes with what they feed, whatever the file's order; then buses with their meters."""
    assert outline(ShowDraft(TEXT)) == (
        "Kiln hall",
        "  europe, Europe/Oslo",
        "source: house, 400Y/230, 63 A a leg",
        "  box1 32 A",
        "    K1 Kiln, L1+L2, 16 A, 2.5 mm2 15 m, 4000 W, metered",
        "net: modbus-tcp, 192.0.2.10:502",
        "  unit 3: ch1 K1",
    )


def test_nothing_yet_and_a_whole_show() -> None:
    """An empty draft has no lines; in the example every box and circuit is named once."""
    assert outline(ShowDraft()) == ()
    draft = ShowDraft(data("config/example-show.toml").read_text(encoding="utf-8"))
    places = [str(one["id"]) for one in (*draft.tables("feeder"), *draft.tables("circuit"))]
    firsts = [line.split()[0] for line in outline(draft) if line.startswith("  ")]
    assert sorted(first for first in firsts if first in places) == sorted(places)


def test_boxes_that_feed_each_other_end() -> None:
    """A circle is no endless list."""
    circle = '[[feeder]]\nid = "a"\nfed_from = "source"\n[[feeder]]\nid = "a"\nfed_from = "a"\n'
    assert outline(ShowDraft(circle)) == ("  a",)


def test_changes() -> None:
    """All of a new file; of another the lines that go and come, with one around them."""
    assert changes("", "a\nb\n") == "a\nb\n"
    before = "".join(f"line {n}\n" for n in range(20))
    after = before.replace("line 7\n", "line seven\n")
    assert changes(before, after) == "...\n line 6\n-line 7\n+line seven\n line 8"
