"""The questions about buses and meters: what is on the wire, which map reads it, what each channel measures."""

from __future__ import annotations

from enum import Enum, auto
from typing import TYPE_CHECKING, Any, Protocol

from drivers.bus.settings import FIELD_PROTOCOLS
from monitor.setup.places import powered_from
from monitor.setup.points import ask_points
from monitor.setup.readers import number

if TYPE_CHECKING:
    from collections.abc import Mapping

    from monitor.setup.draft import ShowDraft
    from monitor.setup.talk import Talk

Row = dict[str, Any]
_ASK, _LISTEN, _SIGN_ON = "ask", "listen", "sign-on"
_SHOWN_MAPS, _SHOWN_CHANNELS = 8, 3
_NOBODY = """  nothing answered. Look at the meter's power, at the two wires (swapping them harms nothing), and at the
  baud, parity and number in its menu"""
_NO_MAP = """  Make a map from what your own instrument shows, put it beside the show file, then start setup again:
    legwatch probe {where} --units {unit} --find 121.3 --as ch1.volts --map my-meter.toml"""
_NO_FIELDS = """  Make a map of the fields that it sends and put it beside the show file, then start setup again"""


class _Other(Enum):
    """What may be chosen instead of a map."""

    LEAVE = auto()
    STOP = auto()
    AGAIN = auto()


class Wire(Protocol):
    """What the questions need of the wires; everything is plain data, so that it can be kept."""

    def ports(self) -> list[Row]:
        """Give the serial ports: ``name`` and ``about``."""

    def scan(self, at: Mapping[str, Any], units: str) -> Row:
        """Ask who answers at a port or address: ``answers`` (bus keys, ``unit``, ``sunspec``) and ``problem``."""

    def listen(self, at: Mapping[str, Any]) -> Row:
        """Listen at a port or address: ``bus`` (its keys, or None), ``lines`` and ``problem``."""

    def maps(self, protocol: str) -> list[str]:
        """Name the maps for a protocol."""

    def read(self, bus: Mapping[str, Any], unit: int, map_name: str | None, system: str) -> Row:
        """Read a meter by a map now: ``likeness``, ``channels`` (``channel``, ``reads``) and ``problem``."""


def meters_part(talk: Talk, draft: ShowDraft, wire: Wire) -> None:
    """Ask for buses and their meters until there are no more."""
    talk.tell("\nMeters")
    for meter in draft.tables("meter"):
        talk.tell(f"  known: {meter.get('bus')} unit {meter.get('unit', 1)} measures {_measures(meter)}")
    while (at := _place(talk, draft, wire)) is not None:
        way = _way(talk)
        if way == _ASK:
            _asked_meters(talk, draft, wire, at)
        else:
            _sending_meter(talk, draft, wire, at, way)


def _place(talk: Talk, draft: ShowDraft, wire: Wire) -> Row | None:
    """Ask where meters are; None: no more."""
    ports = talk.found("ports", wire.ports)
    options: list[tuple[Row | None, str]] = [
        ({"port": port["name"]}, f"{port['name']}  {port['about']}".rstrip()) for port in ports
    ]
    options.append(({"port": ""}, "another serial port, typed in"))
    options.append(({"tcp": ""}, "an address on the network"))
    options.append((None, "no more meters"))
    at = talk.choose("Where are meters to add", options, len(options) if draft.tables("meter") else 1)
    if at == {"port": ""}:
        return {"port": talk.ask("Port, such as /dev/ttyUSB0", _path, None)}
    if at == {"tcp": ""}:
        return {"tcp": talk.ask("Address, such as 192.0.2.10:502", _address, None)}
    return at


def _way(talk: Talk) -> str:
    return talk.choose(
        "How do they speak",
        [
            (_ASK, "they answer when asked: Modbus and SunSpec"),
            (_LISTEN, "one meter sends by itself: lines of text, telegrams"),
            (_SIGN_ON, "one meter waits for the sign-on of IEC 62056-21"),
        ],
    )


def _asked_meters(talk: Talk, draft: ShowDraft, wire: Wire, at: Row) -> None:
    where = at.get("port") or at["tcp"]
    while True:
        units = talk.ask("Numbers to ask, such as 1-16,50", _units, "1-16")
        heard = talk.found(f"who answers at {where} to {units}", lambda: wire.scan(at, units))  # noqa: B023 - called now
        if heard["problem"]:
            talk.tell(f"  {heard['problem']}")
        if heard["answers"]:
            break
        if not heard["problem"]:
            talk.tell(_NOBODY)
        if not talk.yes("Ask again"):
            return
    for answer in heard["answers"]:
        _answered(talk, draft, wire, answer)


def _answered(talk: Talk, draft: ShowDraft, wire: Wire, answer: Row) -> None:
    bus = _bus(draft, answer["bus"])
    unit = int(answer["unit"])
    known = draft.find("meter", bus=bus["id"], unit=unit)
    kind = "SunSpec" if answer["sunspec"] else "Modbus"
    talk.tell(f"\n  unit {unit} answers ({kind}{', in the show already' if known else ''})")
    searched = str(bus["protocol"]).startswith("sunspec")
    if searched and not answer["sunspec"]:
        talk.tell("  the other meters of this bus are read as SunSpec, which it is not: put it on a port of its own")
        return
    if not talk.yes(f"Set up unit {unit}", default=not known):
        return
    if searched:
        now = _read(talk, draft, wire, bus, unit, None)
        map_name = None
    else:
        map_name, now = _map(talk, draft, wire, bus, unit)
        if map_name is None:
            return
    points = ask_points(talk, draft, now, known or {}, lambda: wire.read(bus, unit, map_name, _system(draft)))
    if points:
        power = powered_from(talk, draft, f"unit {unit}", known or {})
        _keep_bus(draft, bus)
        keys = {"bus": bus["id"], "unit": unit}
        draft.put("meter", keys, {"map": map_name, "powered_from": power, "points": points})


def _sending_meter(talk: Talk, draft: ShowDraft, wire: Wire, at: Row, way: str) -> None:
    where = at.get("port") or at["tcp"]
    if way == _SIGN_ON:
        bus = _bus(draft, {**at, "protocol": "iec62056-21"})
    else:
        heard = talk.found(f"what comes at {where}", lambda: wire.listen(at))
        for line in heard["lines"]:
            talk.tell(f"    {line}")
        if heard["bus"] is None:
            talk.tell(f"  {heard['problem'] or 'nothing came that legwatch knows'}")
            return
        bus = _bus(draft, heard["bus"])
    map_name, now = _map(talk, draft, wire, bus, 1)
    if map_name is None:
        return
    known = draft.find("meter", bus=bus["id"]) or {}
    points = ask_points(talk, draft, now, known, lambda: wire.read(bus, 1, map_name, _system(draft)))
    if points:
        power = powered_from(talk, draft, "this meter", known)
        _keep_bus(draft, bus)
        draft.put("meter", {"bus": bus["id"]}, {"map": map_name, "powered_from": power, "points": points})


def _map(talk: Talk, draft: ShowDraft, wire: Wire, bus: Row, unit: int) -> tuple[str | None, Row]:
    """Ask which map reads a meter, the likeliest first, each with what it reads now."""
    names = talk.found(f"maps for {bus['protocol']}", lambda: wire.maps(bus["protocol"]))
    choice: str | _Other = _Other.AGAIN
    while choice is _Other.AGAIN:
        reads = {name: _read(talk, draft, wire, bus, unit, name) for name in names}
        choice = _chosen(talk, reads)
    if isinstance(choice, str):
        return choice, reads[choice]
    fields = bus["protocol"] in FIELD_PROTOCOLS
    where = f"--port {bus['port']}" if bus.get("port") else f"--tcp {bus['tcp']}"
    talk.tell(_NO_FIELDS if fields else _NO_MAP.format(where=where, unit=unit))
    if choice is _Other.STOP:
        talk.leave()
    return None, {}


def _chosen(talk: Talk, reads: Mapping[str, Row]) -> str | _Other:
    """Show what each map reads, and ask which one is right."""
    likely = sorted(reads, key=lambda name: -reads[name]["likeness"])
    fitting = [name for name in likely if reads[name]["likeness"] > 0][:_SHOWN_MAPS]
    if fitting:
        talk.tell("  What each map reads there now:")
    for name in likely[:1] if not fitting else ():
        talk.tell(f"  {name}: {reads[name]['problem'] or 'nothing that looks like this system'}")
    options: list[tuple[str | _Other, str]] = [(name, f"{name}: {_summary(reads[name])}") for name in fitting]
    options += [
        (_Other.LEAVE, "none of these: leave this meter out"),
        (_Other.STOP, "none of these: stop here and make a map first"),
        (_Other.AGAIN, "read again"),
    ]
    words = "Which one agrees with the meter's display or your own instrument"
    return talk.choose(words, options, 1 if fitting else len(options))


def _read(talk: Talk, draft: ShowDraft, wire: Wire, bus: Row, unit: int, map_name: str | None) -> Row:
    what = f"what {map_name or 'the meter'} reads at {bus.get('port') or bus['tcp']} unit {unit}"
    return talk.found(what, lambda: wire.read(bus, unit, map_name, _system(draft)))


def _system(draft: ShowDraft) -> str:
    return str(draft.table("source").get("system", "120/240"))


def _summary(read: Row) -> str:
    shown = [f"{one['channel']} {one['reads']}" for one in read["channels"][:_SHOWN_CHANNELS]]
    more = len(read["channels"]) - len(shown)
    return "; ".join(shown) + (f"; and {more} more" if more > 0 else "")


def _bus(draft: ShowDraft, keys: Row) -> Row:
    """Give the bus at a port or address as the show has it, or a new one with these keys."""
    way = "port" if keys.get("port") else "tcp"
    there = draft.find("bus", **{way: keys[way]})
    if there is not None:
        return there
    taken = {str(bus.get("id")) for bus in draft.tables("bus")}
    names = (f"bus{n}" for n in range(1, len(taken) + 2))
    return {"id": next(name for name in names if name not in taken), **keys}


def _keep_bus(draft: ShowDraft, bus: Row) -> None:
    if draft.find("bus", id=bus["id"]) is None:
        draft.put("bus", {"id": bus["id"]}, {key: value for key, value in bus.items() if key != "id"})


def _measures(meter: Mapping[str, Any]) -> str:
    points = meter.get("points")
    return ", ".join(map(str, points.values())) if isinstance(points, dict) else "nothing"


def _path(text: str) -> str:
    if not text.startswith("/"):
        raise ValueError("type the whole path, such as /dev/serial/by-id/... or /dev/ttyUSB0")
    return text


def _address(text: str) -> str:
    host, _, port = text.rpartition(":")
    if not host or " " in text or not port.isdigit() or not 1 <= int(port) <= 65_535:  # noqa: PLR2004 - TCP's range
        raise ValueError("type HOST:PORT, as in 192.0.2.10:502")
    return text


def _units(text: str) -> str:
    for part in text.split(","):
        first, dash, last = part.strip().partition("-")
        numbers = (first, last) if dash else (first,)
        for one in numbers:
            number(0, 255, "a meter's number")(one)
        if dash and int(first) > int(last):
            raise ValueError(f"{part.strip()} must rise")
    return text.replace(" ", "")
