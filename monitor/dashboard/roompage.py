"""Where a load has room: every circuit, most room first, and which place on its way limits it."""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

from rich.cells import cell_len

from monitor.dashboard import words
from monitor.dashboard.faults import Faults
from monitor.dashboard.pieces import BLANK, Cells, Line, Page, Piece, Tone, clean, fit, padded, right, width_of

if TYPE_CHECKING:
    from monitor.engine.history import Place
    from monitor.engine.snapshot import CircuitView, Snapshot

NO_HISTORY = "This screen can't work out room: it has no log and no show file behind it."
STOPPED = "The logger has stopped: nothing is known of the present, so no room can be told."
_GONE = 0.5  # of nominal volts; a judgement
_ASK = "h asks how large the load is."
_CAUTION = (
    "By measured values and the site's continuous policy. No permission: a qualified person decides. What comes on "
    "later, or is not measured, is not in it."
)
_MARGIN = 8  # cells kept free for how many lines are out of sight
_ANSWER, _ROOM = 18, 6  # cells
_MOST_ID, _NAME = 10, 18
_LEGS = 5
_LEGS_FROM, _NAMED_FROM = 68, 100  # widths from which circuits have their legs and their names


class Answer(NamedTuple):
    """What was answered for a load.

    Attributes:
        watts: of the load [W].
        power_factor: of the load [1].
        time_ms: of the measured values, on the log's clock.
        places: most room first.

    """

    watts: float
    power_factor: float
    time_ms: int
    places: tuple[Place, ...]


def room_page(snapshot: Snapshot, size: Cells, answer: Answer | None, *, can_answer: bool) -> Page:
    """Give the answer, or why there is none."""
    margin, width = Piece(" " * _MARGIN), size.width
    if not can_answer or not snapshot.logger.running or answer is None:
        said = NO_HISTORY if not can_answer else _ASK if snapshot.logger.running else STOPPED
        texts = words.wrapped(said, width - _MARGIN)
        return Page(tuple(padded((margin, Piece(text, Tone.STRONG)), width) for text in texts))
    at = f"{words.moment(answer.time_ms, snapshot.timezone):%H:%M:%S}"
    load = f"{answer.watts:g} W at power factor {answer.power_factor:g}"
    head = [padded((margin, Piece(f"Room for {load}", Tone.STRONG), Piece(f", at {at}", Tone.QUIET)), width)]
    head += [padded((margin, Piece(text)), width) for text in words.wrapped(_CAUTION, width - _MARGIN)]
    circuits = {circuit.id: circuit for circuit in snapshot.circuits}
    ids = min(max((len(place.circuit) for place in answer.places), default=0) + 1, _MOST_ID)
    ids = max(ids, len("circuit"))
    head.append(_columns(ids, width))
    faults = Faults(snapshot.wrong)
    rows = (_place(place, circuits.get(place.circuit), faults, ids, width) for place in answer.places)
    return Page(tuple(head), tuple(rows))


def _columns(ids: int, width: int) -> Line:
    name = fit("", _NAME + 1) if width >= _NAMED_FROM else ""
    legs = fit("leg", _LEGS + 1) if width >= _LEGS_FROM else ""
    lead = f"{'':{_MARGIN}}{'answer':<{_ANSWER}} {fit('circuit', ids)} "
    text = f"{lead}{name}{legs}{right('room A', _ROOM)} limited by"
    return padded((Piece(text, Tone.QUIET),), width)


def _place(place: Place, circuit: CircuitView | None, faults: Faults, ids: int, width: int) -> Line:
    answer, tone = _answer(place, circuit)
    name = "" if circuit is None or circuit.name == circuit.id else circuit.name
    legs = () if circuit is None else circuit.legs
    mark = faults.badge(place.circuit, *(f"{place.circuit}/{leg}" for leg in legs))
    line: list[Piece] = [mark, BLANK, Piece(answer.ljust(_ANSWER), tone), BLANK]
    line += [Piece(fit(place.circuit, ids), Tone.STRONG), BLANK]
    line += [Piece(fit(name, _NAME)), BLANK] if width >= _NAMED_FROM else []
    line += [Piece(fit(words.legs(legs) if legs else "", _LEGS), Tone.QUIET), BLANK] if width >= _LEGS_FROM else []
    line += [Piece(right(words.amps(place.room_amps), _ROOM), tone), BLANK, Piece(clean(place.limited_by or ""))]
    line += _unknown(place.not_checked, width - width_of(tuple(line)))
    return padded(tuple(line), width)


def _unknown(places: tuple[str, ...], room: int) -> Line:
    """Name the places that were not checked, or count them where their names have no room."""
    if not places:
        return ()
    named = f"  not checked: {clean(', '.join(places))}"
    return (Piece(named if cell_len(named) <= room else f"  {len(places)} not checked", Tone.QUIET),)


def _answer(place: Place, circuit: CircuitView | None) -> tuple[str, Tone]:
    """Say whether it fits; never that it does where volts are gone, as they are behind an open breaker."""
    volts = circuit.measured.volts if circuit is not None and circuit.measured.live else None
    if circuit is not None and volts is not None and volts < _GONE * circuit.nominal_volts:
        return "volts gone", Tone.OLD
    if place.fits is None:
        return "not checked", Tone.OLD
    if not place.fits:
        return "does not fit", Tone.PLAIN
    return ("fits where checked" if place.not_checked else "fits"), Tone.STRONG
