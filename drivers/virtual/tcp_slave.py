"""A virtual Modbus TCP meter (or a gateway with several) on a real socket of the loopback address."""

from __future__ import annotations

import contextlib
import selectors
import socket
from threading import Thread
from typing import TYPE_CHECKING

from drivers.virtual import frames

if TYPE_CHECKING:
    from drivers.virtual.frames import Image

_STOP_WAIT_S = 2.0
_SEND_WAIT_S = 1.0


class TcpSlave:
    """Answers Modbus TCP on 127.0.0.1, every client in one thread of its own.

    The port is taken at once, so that ``port`` is known before ``start``.

    Args:
        image: gives the registers.
        port: TCP port, 0 for any free one.

    Raises:
        OSError: the port is taken.

    """

    def __init__(self, image: Image, port: int = 0) -> None:
        self._image = image
        self._listener = socket.create_server(("127.0.0.1", port))
        self.port: int = self._listener.getsockname()[1]
        self._stop_read, self._stop_write = socket.socketpair()
        self._pending: dict[socket.socket, bytes] = {}
        self._thread: Thread | None = None

    def start(self) -> None:
        """Answer from now on."""
        self._thread = Thread(target=self._serve, name=f"tcp-slave-{self.port}", daemon=True)
        self._thread.start()

    def stop(self) -> None:
        """Stop answering, close every connection and the port; stopping twice is no fault."""
        if self._thread is not None:
            self._stop_write.send(b"x")
            self._thread.join(_STOP_WAIT_S)
            self._thread = None
        for each in (self._listener, self._stop_read, self._stop_write, *self._pending):
            each.close()
        self._pending.clear()

    def _serve(self) -> None:
        with selectors.DefaultSelector() as selector:
            selector.register(self._listener, selectors.EVENT_READ)
            selector.register(self._stop_read, selectors.EVENT_READ)
            while True:
                for key, _ in selector.select():
                    ready = key.fileobj
                    if ready is self._stop_read:
                        return
                    if ready is self._listener:
                        self._welcome(selector)
                    elif isinstance(ready, socket.socket) and not self._talk(ready):
                        selector.unregister(ready)
                        del self._pending[ready]
                        ready.close()

    def _welcome(self, selector: selectors.BaseSelector) -> None:
        with contextlib.suppress(OSError):  # a client that went away before it was let in
            client, _ = self._listener.accept()
            client.settimeout(_SEND_WAIT_S)
            self._pending[client] = b""
            selector.register(client, selectors.EVENT_READ)

    def _talk(self, client: socket.socket) -> bool:
        """Take what came and answer every whole request in it; False where the connection is over."""
        try:
            came = client.recv(4096)
            data = self._pending[client] + came
            while len(data) >= frames.MBAP_BYTES:
                end = frames.MBAP_BYTES + frames.mbap_length(data)
                if len(data) < end:
                    break
                reply = frames.tcp_reply(data[: frames.MBAP_BYTES], data[frames.MBAP_BYTES : end], self._image)
                if reply is not None:
                    client.sendall(reply)
                data = data[end:]
        except (OSError, ValueError):
            return False
        self._pending[client] = data
        return bool(came)
