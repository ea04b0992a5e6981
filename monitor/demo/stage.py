"""The demo's stage: a show file in a folder of its own, and meters that answer behind it.

Whoever reads ``show_path`` meets real ports and real bytes; nothing there tells that it is a demo.
"""

from __future__ import annotations

from contextlib import ExitStack
from functools import partial
from pathlib import Path
from tempfile import TemporaryDirectory
from threading import Event, Thread
from typing import TYPE_CHECKING, Self

from drivers.clock import monotonic
from drivers.virtual.image import one_meter, several_meters
from drivers.virtual.serial_slave import SerialSlave
from drivers.virtual.tcp_slave import TcpSlave
from monitor.demo.metering import Metering
from monitor.demo.scenario import Moment, Player, load_script
from monitor.places import data
from monitor.show.loading import load_show

if TYPE_CHECKING:
    from collections.abc import Mapping
    from types import TracebackType

    from drivers.reading import Values
    from drivers.virtual.frames import Image
    from monitor.show.model import Meter, Point, Show

_FOLDER = "fixtures/demo"
_EXPONENT = -2  # where a map has powers of ten in registers: hundredths of every unit
_SHORTEST_WAIT_S = 0.02
_MOST_BEHIND_S = 2.0  # after a longer stop (a suspended machine) the scenario goes on where it was
_STOP_WAIT_S = 2.0


class Stage:
    """The demo's set, alive between ``with`` and its end; everything it made is gone afterwards.

    Args:
        speed: scenario seconds in a second.
        folder: where ``show.toml`` and ``scenario.toml`` are; those that came with this copy if None.

    Attributes:
        show_path: the show file, ready to be loaded.

    """

    show_path: Path

    def __init__(self, speed: float = 1.0, folder: Path | None = None) -> None:
        self._speed = speed
        self._folder = folder or data(_FOLDER)
        self._ends = ExitStack()
        self._stopping = Event()

    def at(self) -> float:
        """Give how far the scenario is [s]."""
        return self._now[0].state.time_s

    @property
    def moment(self) -> Moment:
        """What is true now, without the meters' errors."""
        return self._now[0]

    def __enter__(self) -> Self:
        """Start the meters and the scenario.

        Raises:
            OSError: no folder, pseudo-terminal or TCP port to be had.
            FileFaults: the show or the scenario is faulty.

        """
        with ExitStack() as ends:
            self._start(ends)
            self._ends = ends.pop_all()
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        """Stop the scenario and the meters, and take the folder away."""
        self._ends.close()

    def _start(self, ends: ExitStack) -> None:
        folder = Path(ends.enter_context(TemporaryDirectory(prefix="legwatch-demo-")))
        on_line: dict[int, Image] = {}  # both are filled below, when the show is known
        on_net: dict[int, Image] = {}
        net = TcpSlave(several_meters(on_net))
        ends.callback(net.stop)
        show = self._write_show(folder, folder / "line", f"127.0.0.1:{net.port}")
        script = load_script(self._folder / "scenario.toml")
        self._player = Player(show, script)
        self._metering = Metering(show.points(), script.seed)
        self._advance()
        buses = {bus.id: bus for bus in show.buses}
        for meter in show.meters:
            if meter.map is not None:
                wire = on_line if buses[meter.bus].port else on_net
                wire[meter.unit] = one_meter(meter.map, partial(self._shown, meter), _EXPONENT)
        baud = next((bus.baud for bus in show.buses if bus.port), None)
        line = SerialSlave(several_meters(on_line), folder / "line", baud)
        ends.callback(line.stop)
        line.start()
        net.start()
        thread = Thread(target=self._run, name="demo-scenario", daemon=True)
        ends.callback(thread.join, _STOP_WAIT_S)
        ends.callback(self._stopping.set)
        thread.start()

    def _write_show(self, folder: Path, line: Path, net: str) -> Show:
        """Write the show file with its ports filled in, and maps that stand beside it; give the show."""
        for path in self._folder.glob("*.toml"):
            text = path.read_text(encoding="utf-8").replace("@serial@", str(line)).replace("@tcp@", net)
            (folder / path.name).write_text(text, encoding="utf-8")
        self.show_path = folder / "show.toml"
        return load_show(self.show_path)

    def _run(self) -> None:
        """Keep the scenario in step with the clock until told to stop."""
        step_s = self._player.step_s / self._speed
        due = monotonic() + step_s
        while not self._stopping.wait(max(due - monotonic(), _SHORTEST_WAIT_S)):
            now = monotonic()
            due = max(due, now - _MOST_BEHIND_S)
            while due <= now and not self._stopping.is_set():
                self._advance()
                due += step_s

    def _advance(self) -> None:
        moment = self._player.advance()
        # Put in place in one go: the meters' threads read it meanwhile.
        self._now: tuple[Moment, Mapping[Point, Values]] = (
            moment,
            self._metering.measure(moment.state, self._player.step_s),
        )

    def _shown(self, meter: Meter) -> Mapping[str, Values] | None:
        """Give what each channel of a meter shows now; None while it doesn't answer."""
        moment, shown = self._now
        if f"{meter.bus}/{meter.unit}" in moment.silent:
            return None
        return {channel: shown[point] for channel, point in meter.points}
