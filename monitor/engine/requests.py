"""What people ask of the logger: acknowledge, shelve, take off the shelf, reset, note. The logger alone decides."""

from __future__ import annotations

from dataclasses import asdict, dataclass
from typing import Any, Literal, Protocol, get_args

Kind = Literal["acknowledge", "shelve", "unshelve", "reset", "note", "refuel", "handheld"]
KINDS: tuple[str, ...] = get_args(Kind)
_LONGEST = 1_000  # characters of any one text


@dataclass(frozen=True, slots=True)
class Request:
    """One wish of a person.

    Attributes:
        number: unique text, so that an answer can be found.
        kind: what is asked.
        who: the person's name; never empty.
        code: of the alarm; empty for notes.
        where: of the alarm, or the place that a note is about; may be empty for notes.
        text: why (shelve), or the note itself.
        minutes: how long to shelve [min], or None.
        amount: refuel: litres added [l]; handheld: what the instrument showed; else None.
        quantity: what ``amount`` counts: litres, volts, amps; else empty.

    """

    number: str
    kind: Kind
    who: str
    code: str = ""
    where: str = ""
    text: str = ""
    minutes: float | None = None
    amount: float | None = None
    quantity: str = ""

    def as_data(self) -> dict[str, Any]:
        """Give plain data for a file."""
        return asdict(self)

    @classmethod
    def from_data(cls, data: object) -> Request:
        """Read plain data that anybody may have written; what would steer a terminal becomes a space.

        Raises:
            ValueError: it is no request, or has no name; in plain words.

        """
        if not isinstance(data, dict) or not set(data) <= set(cls.__slots__):
            raise ValueError("it is no request")
        if data.get("kind") not in KINDS:
            raise ValueError(f"it asks for {data.get('kind')!r}; known here: {', '.join(KINDS)}")
        texts = {name: data.get(name, "") for name in ("number", "kind", "who", "code", "where", "text", "quantity")}
        if not all(isinstance(text, str) and len(text) <= _LONGEST for text in texts.values()):
            raise ValueError(f"its texts must be text of at most {_LONGEST} characters")
        if not texts["who"].strip() or not texts["number"]:
            raise ValueError("it has no name: say who asks")
        if data["kind"] == "note" and not texts["text"].strip():
            raise ValueError("the note is empty: say what there is to note")
        texts = {name: "".join(c if c.isprintable() else " " for c in text) for name, text in texts.items()}
        return cls(**texts, minutes=_amount(data.get("minutes")), amount=_amount(data.get("amount")))


class Desk(Protocol):
    """Where requests are handed in, by a screen in the logger's process or in another."""

    def ask(self, request: Request) -> None:
        """Hand in a request; never blocks for long. Its effect shows in a later Snapshot or in the log."""


def _amount(value: object) -> float | None:
    if value is None:
        return None
    if isinstance(value, bool) or not isinstance(value, int | float) or not -1e9 < value < 1e9:  # noqa: PLR2004 - absurd
        raise ValueError(f"{value!r} is no amount")
    return float(value)
