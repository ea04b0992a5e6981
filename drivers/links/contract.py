"""The link contract: four verbs that every link passes, whatever wire is below."""

from __future__ import annotations

from typing import TYPE_CHECKING, Protocol

if TYPE_CHECKING:
    from drivers.maps.model import Table


class Link(Protocol):
    """One open way to the meters of one bus. Used by one thread only.

    Attributes:
        matches_replies: True where a reply carries a number that ties it to its request (Modbus TCP's
            transaction number); a late reply can't be mistaken there.

    """

    matches_replies: bool

    def read(self, unit: int, table: Table, address: int, count: int) -> tuple[int, ...]:
        """Read ``count`` (1 to 125) registers from ``address`` (from 0) of ``unit``.

        Returns exactly ``count`` raw registers (0 to 65535), in order.

        Raises:
            Refused: the meter answered with an exception.
            Silent: nothing came within the bus's timeout.
            Corrupt: bytes came that are no whole frame (too few among them), or a frame of another unit,
                function or length.
            LinkDown: the port or connection is gone.

        """

    def pending(self) -> int:
        """Count bytes that came unasked since the last read, once the silence between two frames is over.

        Raises:
            LinkDown: the port or connection is gone.

        """

    def drain(self, quiet_s: float) -> int:
        """Throw away what comes in until nothing came for ``quiet_s`` [s]; give the bytes thrown away.

        Gives up after a bounded time on a line that never falls quiet.

        Raises:
            LinkDown: the port or connection is gone.

        """

    def close(self) -> None:
        """Close; never raises; closing twice is no fault."""

    def reopen(self) -> None:
        """Close, then open under the same name again.

        Raises:
            PortProblem: it can't be opened now.

        """
