"""Which circuits are looked at, in which order, and which of them is chosen: the same for every way to draw them."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum
from typing import TYPE_CHECKING

from monitor.dashboard.pieces import clean

if TYPE_CHECKING:
    from collections.abc import Iterator

    from monitor.engine.snapshot import CircuitView, FeederView, Snapshot

SOURCE_ID = "source"  # as Snapshots name it


class Order(StrEnum):
    """In which order circuits stand."""

    BOXES = "boxes"  # as in the show file, each below its box
    NEAREST = "nearest"  # the one nearest to its continuous limit first


@dataclass(frozen=True, slots=True)
class Sight:
    """How one screen looks at the circuits.

    Attributes:
        chosen: id of the chosen circuit, or None.
        order: of the circuits.
        only: a box or a leg, as the Snapshot writes it; empty: all circuits.
        large: few big figures instead of rows.

    """

    chosen: str | None = None
    order: Order = Order.BOXES
    only: str = ""
    large: bool = False


ALL = Sight()


def listing(snapshot: Snapshot, sight: Sight) -> tuple[CircuitView | FeederView, ...]:
    """Give the rows: circuits below their boxes, or circuits alone where nearness orders them."""
    if sight.order is Order.NEAREST:
        return nearest(snapshot, sight)
    kept = frozenset(circuit.id for circuit in _kept(snapshot, sight.only))
    return tuple(_way_down(snapshot, kept, SOURCE_ID))


def nearest(snapshot: Snapshot, sight: Sight) -> tuple[CircuitView, ...]:
    """Give the circuits nearest to their continuous limit first, and those that can't be ranked last."""
    return tuple(sorted(_kept(snapshot, sight.only), key=lambda circuit: -_share(circuit)))


def ranked(circuit: CircuitView) -> bool:
    """Say whether it is known how near a circuit is to its limit."""
    return circuit.measured.live and circuit.measured.amps is not None


def in_words(snapshot: Snapshot, sight: Sight) -> str:
    """Say what is left out and in which order the rest stands; empty while all stand by their boxes."""
    kept = _kept(snapshot, sight.only)
    said = [f"{len(kept)} of {len(snapshot.circuits)} circuits: {clean(sight.only)}"] if sight.only else []
    if sight.order is Order.NEAREST:
        unknown = sum(not ranked(circuit) for circuit in kept)
        said.append(f"nearest to its limit first{f', {unknown} without live amps last' if unknown else ''}")
    return "; ".join(said)


def named(snapshot: Snapshot, text: str) -> str:
    """Give the box or leg that a text means, as the Snapshot writes it; empty where it means none."""
    return next((name for name in _names(snapshot) if name.lower() == text.strip().lower()), "")


def why_no_filter(snapshot: Snapshot, text: str) -> str:
    """Say why a text filters nothing; empty where it does, or where it is empty."""
    return "" if not text.strip() or named(snapshot, text) else f"One of {', '.join(_names(snapshot))}, or nothing"


def _names(snapshot: Snapshot) -> list[str]:
    boxes = [feeder.id for feeder in snapshot.feeders]
    return boxes + sorted({leg for circuit in snapshot.circuits for leg in circuit.legs} - set(boxes))


def _kept(snapshot: Snapshot, only: str) -> list[CircuitView]:
    if not only:
        return list(snapshot.circuits)
    boxes = {only}
    for feeder in snapshot.feeders:  # parents come before children
        boxes |= {feeder.id} if feeder.fed_from in boxes else set()
    return [circuit for circuit in snapshot.circuits if circuit.box in boxes or only in circuit.legs]


def _way_down(snapshot: Snapshot, kept: frozenset[str], place: str) -> Iterator[CircuitView | FeederView]:
    """Give what hangs on a place: its circuits, then each box below it with what hangs on that.

    A box is left out where circuits hang on it and all of them are left out.
    """
    yield from (circuit for circuit in snapshot.circuits if circuit.box == place and circuit.id in kept)
    for feeder in snapshot.feeders:
        if feeder.fed_from == place:
            below = tuple(_way_down(snapshot, kept, feeder.id))
            if below or len(kept) == len(snapshot.circuits):
                yield feeder
                yield from below


def _share(circuit: CircuitView) -> float:
    """Give amps as a share of the continuous limit; -1 where they are not live."""
    measured = circuit.measured
    return -1.0 if not measured.live or measured.amps is None else measured.amps / circuit.continuous_amps
