"""What ``legwatch setup`` finds out on the wires, as plain data."""

from __future__ import annotations

from dataclasses import replace
from math import ceil
from typing import TYPE_CHECKING, Any

from pydantic import ValidationError

from drivers.bus.settings import FIELD_PROTOCOLS, SUNSPEC_PROTOCOLS, BusSettings, MeterSettings
from drivers.bus.worker import BusWorker
from drivers.errors import LinkError, PortProblem
from drivers.fields.mapfile import load_any_map
from drivers.fields.model import FieldMap
from drivers.files.faults import FileFaults
from drivers.listening.worker import FieldMeter, ListeningWorker
from drivers.maps.model import MeterMap
from drivers.probe.listen import listen
from drivers.probe.ports import serial_ports
from drivers.probe.scan import Answer, line_settings, scan
from drivers.reading import Quality
from drivers.sunspec.models import CHANNELS
from drivers.sunspec.search import Search
from monitor.cli.numbers import Numbers
from monitor.cli.probe_scan import show_protocol
from monitor.places import data
from monitor.setup.recognise import likeness
from monitor.show.building import bus_settings
from monitor.show.check_buses import split_tcp
from monitor.show.filemodel import BusTable
from monitor.show.mapfiles import kind_for, kind_of

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping, Sequence
    from contextlib import AbstractContextManager
    from pathlib import Path

    from drivers.reading import ChannelReading, MeterPoll
    from monitor.show.model import System

    Steps = Callable[[int], AbstractContextManager[Callable[[int], None]]]

Row = dict[str, Any]
_BAUDS, _PARITIES = (9600, 19200, 38400, 115200, 4800, 2400), ("N", "E")
_LISTEN_BAUDS, _LISTEN_S = (115200, 9600, 19200, 57600, 38400, 4800, 2400), 3.0
_TIMEOUT_S = 0.2


class Wires:
    """Fulfils ``monitor.setup.meters.Wire``.

    Args:
        folder: where maps lie beside those that come with legwatch.
        steps: shows how far something of so many steps has come: called with each few that are done. What it raises
            ends the work.

    """

    def __init__(self, folder: Path, steps: Steps) -> None:
        self._steps = steps
        self._folders = (folder, data("config/meters"))

    def ports(self) -> list[Row]:
        """List the serial ports under their steadiest names."""
        return [{"name": p.by_id or p.by_path or p.device, "about": p.about} for p in serial_ports()]

    def scan(self, at: Mapping[str, Any], units: str) -> Row:
        """Ask who answers."""
        wanted = Numbers(0, 255).convert(units, None, None)
        answers: list[Answer] = []
        problem = ""
        settings = _to_scan(at)
        with self._steps(len(settings) * len(wanted)) as done:
            try:
                answers.extend(scan(settings, wanted, lambda: done(1)))
            except (LinkError, PortProblem) as error:
                problem = str(error)
        whole = [answer for answer in answers if answer.whole]
        if answers and not whole:
            problem = "only broken replies came: another line setting, or two meters of one number"
        rows = [{"bus": _bus_row(at, one), "unit": one.unit, "sunspec": one.sunspec is not None} for one in whole]
        return {"answers": rows, "problem": problem}

    def listen(self, at: Mapping[str, Any]) -> Row:
        """Listen to what comes."""
        bus = _plain(at, "text")
        settings = [replace(bus, baud=baud) for baud in _LISTEN_BAUDS] if bus.port else [bus]
        with self._steps(ceil(len(settings) * _LISTEN_S)) as done:
            try:
                heard = list(listen(settings, _LISTEN_S, _whole_seconds(done)))[-1]
            except PortProblem as problem:
                return {"bus": None, "lines": [], "problem": str(problem)}
        row = None
        if heard.guess.protocol in FIELD_PROTOCOLS:
            row = {**at, "protocol": heard.guess.protocol}
            if bus.port:
                row |= {"baud": heard.settings.baud, "parity": heard.guess.parity, "data_bits": heard.guess.data_bits}
        return {"bus": row, "lines": list(heard.guess.lines), "problem": heard.lost}

    def maps(self, protocol: str) -> list[str]:
        """Name the maps for a protocol, those beside the show file first."""
        paths = [path for folder in self._folders for path in sorted(folder.glob("*.toml"))]
        names = [path.stem for path in paths if (found := _map(path)) and kind_of(found) == kind_for(protocol)]
        return list(dict.fromkeys(names))

    def read(self, bus: Mapping[str, Any], unit: int, map_name: str | None, system: str) -> Row:
        """Read a meter by a map now."""
        try:
            settings = bus_settings(BusTable.model_validate({"id": "setup", **bus}))
        except ValidationError:
            return _nothing("this bus has a fault in the show file: legwatch check tells it")
        found = next((m for f in self._folders if map_name and (m := _map(f / f"{map_name}.toml"))), None)
        try:
            poll = _polled(settings, unit, found)
        except PortProblem as problem:
            return _nothing(str(problem))
        if poll is None:
            return _nothing(f"{map_name} is no map for {settings.protocol}")
        channels = [one for one in poll.channels if settings.protocol not in SUNSPEC_PROTOCOLS or _is_there(one)]
        good = any(one.quality is Quality.GOOD for one in channels)
        return {
            "likeness": likeness(channels, _system(system)),
            "channels": [{"channel": one.channel, "reads": _reads(one)} for one in channels],
            "problem": "" if good else next((one.detail for one in poll.channels if one.detail), "no values came"),
        }


def _whole_seconds(done: Callable[[int], None]) -> Callable[[float], None]:
    """Give what is told seconds [s] in pieces and tells the whole ones; 0 where none is full, as it may end there."""
    heard_s = told_s = 0.0

    def looked(more_s: float) -> None:
        nonlocal heard_s, told_s
        heard_s += more_s
        whole = int(heard_s - told_s)
        told_s += whole
        done(whole)

    return looked


def _nothing(why: str) -> Row:
    return {"likeness": 0.0, "channels": [], "problem": why}


def _polled(settings: BusSettings, unit: int, found: MeterMap | FieldMap | None) -> MeterPoll | None:
    """Poll once, by what the protocol asks for."""
    worker: BusWorker | ListeningWorker
    if settings.protocol in SUNSPEC_PROTOCOLS:
        search = Search(CHANNELS)
        worker = BusWorker(settings, [MeterSettings(unit, search.placeholder(), search)], lambda _: None)
    elif isinstance(found, FieldMap):
        worker = ListeningWorker(settings, [FieldMeter(unit, found)], lambda _: None)
    elif isinstance(found, MeterMap):
        worker = BusWorker(settings, [MeterSettings(unit, found)], lambda _: None)
    else:
        return None
    try:
        return worker.poll_once()[0]
    finally:
        worker.stop()


def _to_scan(at: Mapping[str, Any]) -> tuple[BusSettings, ...]:
    if at.get("port"):
        return line_settings(replace(_plain(at, "modbus-rtu"), timeout_s=_TIMEOUT_S), _BAUDS, _PARITIES)
    return tuple(replace(_plain(at, name), timeout_s=_TIMEOUT_S) for name in ("modbus-tcp", "modbus-rtu-over-tcp"))


def _plain(at: Mapping[str, Any], protocol: str) -> BusSettings:
    if at.get("port"):
        return BusSettings("setup", protocol, port=at["port"])
    host, port = split_tcp(at["tcp"]) or ("", 502)
    return BusSettings("setup", protocol, host=host, tcp_port=port)


def _bus_row(at: Mapping[str, Any], answer: Answer) -> Row:
    row = {**at, "protocol": show_protocol(answer)}
    return {**row, "baud": answer.settings.baud, "parity": answer.settings.parity} if at.get("port") else row


def _map(path: Path) -> MeterMap | FieldMap | None:
    try:
        return load_any_map(path)
    except FileFaults:  # another kind of file, or a map with faults
        return None


def _is_there(one: ChannelReading) -> bool:
    values = one.values
    return any(value is not None for value in (values.volts, values.amps, values.watts))


def _reads(one: ChannelReading) -> str:
    v = one.values
    figures: Sequence[tuple[str, float | None, int]] = (("V", v.volts, 1), ("A", v.amps, 2), ("W", v.watts, 0))
    told = " ".join(f"{value:.{digits}f} {unit}" for unit, value, digits in figures if value is not None)
    return told or f"no values ({one.quality})"


def _system(text: str) -> System:
    known: tuple[System, ...] = ("120/240", "208Y/120", "400Y/230", "230")
    return next((one for one in known if one == text), "120/240")
