"""An event: something that happened at one moment and is worth a line in the log."""

from __future__ import annotations

from dataclasses import dataclass, field
from types import MappingProxyType
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Mapping


@dataclass(frozen=True, slots=True)
class Event:
    """Something that happened.

    Attributes:
        time_ms: on the log's clock [ms since 1970 UTC].
        kind: short name, lower case with hyphens: ``clock-step``, ``logger-started`` ...
        where: the point, circuit, meter or bus it belongs to, or empty.
        text: one plain sentence.
        data: the figures behind the sentence; units in the names.

    """

    time_ms: int
    kind: str
    where: str
    text: str
    data: Mapping[str, str | float | int | None] = field(default_factory=lambda: MappingProxyType({}))
