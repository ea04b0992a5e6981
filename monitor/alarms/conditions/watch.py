"""One rule at one place: makes its observation of each moment, a new one only where somebody waits for it."""

from __future__ import annotations

from math import inf
from typing import TYPE_CHECKING

from monitor.alarms.model import Observation

if TYPE_CHECKING:
    from collections.abc import Iterable


class Watch:
    """One rule at one place; a ``monitor.alarms.model.Teller``.

    Args:
        code: the rule.
        where: the place.
        limit: in the rule's unit; 0.5 for a state.
        parents: (code, where) of what would explain it.

    """

    __slots__ = ("_calm", "_clear", "_high", "_low", "code", "limit", "parents", "unknown", "where")

    def __init__(self, code: str, where: str, limit: float = 0.5, parents: Iterable[tuple[str, str]] = ()) -> None:
        self.code = code
        self.where = where
        self.limit = limit
        self.parents = tuple(parents)
        self.unknown = Observation(code, where, None, limit, "", self.parents, teller=self)
        self._clear = Observation(code, where, 0.0, limit, "", self.parents, teller=self)
        self._calm = Observation(code, where, None, limit, "", self.parents, calm=True, teller=self)
        self.speak()

    def rest(self, low: float, high: float) -> None:
        """From now on, tell a value from ``low`` to ``high`` (in the rule's unit) as calm."""
        self._low, self._high = low, high

    def speak(self) -> None:
        """From now on, tell every value."""
        self._low, self._high = inf, -inf

    def at(self, value: float, seen: str = "") -> Observation:
        """Give the observation of a value, in the rule's unit."""
        if self._low <= value <= self._high:
            return self._calm
        return Observation(self.code, self.where, value, self.limit, seen, self.parents, False, self)  # noqa: FBT003

    def state(self, seen: str | None) -> Observation:
        """Give the observation of a state: it holds where there is a sentence."""
        if seen:
            return self.at(1.0, seen)
        return self._calm if self._low <= 0.0 <= self._high else self._clear
