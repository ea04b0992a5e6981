"""One rule at one place: makes its observation of each moment, anew only where something changed."""

from __future__ import annotations

from typing import TYPE_CHECKING

from monitor.alarms.model import Observation

if TYPE_CHECKING:
    from collections.abc import Iterable


class Watch:
    """One rule at one place.

    Args:
        code: the rule.
        where: the place.
        limit: in the rule's unit; 0.5 for a state.
        parents: (code, where) of what would explain it.

    """

    __slots__ = ("_clear", "code", "limit", "parents", "unknown", "where")

    def __init__(self, code: str, where: str, limit: float = 0.5, parents: Iterable[tuple[str, str]] = ()) -> None:
        self.code = code
        self.where = where
        self.limit = limit
        self.parents = tuple(parents)
        self.unknown = Observation(code, where, None, limit, "", self.parents)
        self._clear = Observation(code, where, 0.0, limit, "", self.parents)

    def at(self, value: float, seen: str = "") -> Observation:
        """Give the observation of a value, in the rule's unit."""
        return Observation(self.code, self.where, value, self.limit, seen, self.parents)

    def state(self, seen: str | None) -> Observation:
        """Give the observation of a state: it holds where there is a sentence."""
        return self.at(1.0, seen) if seen else self._clear
