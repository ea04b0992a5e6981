"""What a bus worker needs of a protocol in which meters send messages."""

from __future__ import annotations

from typing import TYPE_CHECKING, Protocol

if TYPE_CHECKING:
    from drivers.fields.model import Fields


class Listener(Protocol):
    """Listens on one open stream. Used by one thread only.

    Attributes:
        whole: a message has everything that the meter tells; False where it may tell the rest in the next one.

    """

    whole: bool

    def listen(self, wait_s: float) -> Fields | None:
        """Give the next whole message, or None where none is complete within about ``wait_s`` [s].

        Raises:
            Corrupt: a message came that is not whole.
            Silent: none came for as long as this meter may take.
            LinkDown: the port or connection is gone.

        """

    def close(self) -> None:
        """Close the stream; never raises."""
