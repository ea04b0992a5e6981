"""Headless Chromium for tests, driven through its DevTools protocol over aiohttp's WebSocket client.

The protocol's commands are those of its public description, version 1.3: Page, Network, Input, Emulation, Runtime.
"""

from __future__ import annotations

import asyncio
import base64
import contextlib
import json
import os
import shutil
import tempfile
from pathlib import Path
from typing import TYPE_CHECKING, Any

import aiohttp

if TYPE_CHECKING:
    from collections.abc import AsyncIterator, Callable

CHROMIUM = shutil.which("chromium") or shutil.which("chromium-browser")
REQUIRED = os.environ.get("LEGWATCH_REQUIRE_CHROMIUM") == "1"
_FLAGS = (
    "--headless=new",
    "--no-sandbox",  # CI is root in a container of its own; only pages of this test are opened
    "--remote-debugging-port=0",
    "--disable-dev-shm-usage",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--hide-scrollbars",
    "--use-gl=angle",
    "--use-angle=swiftshader",
    "--enable-unsafe-swiftshader",
)
_NOWHERE = asyncio.subprocess.DEVNULL
_START_S, _LOOK_S = 30.0, 0.1


class Tab:
    """One page: what it was sent over its sockets, and every address that it asked for."""

    def __init__(self, socket: aiohttp.ClientWebSocketResponse) -> None:
        self._socket = socket
        self._number = 0
        self._answers: dict[int, asyncio.Future[dict[str, Any]]] = {}
        self.asked: list[str] = []
        self.received = ""
        self.reader = asyncio.create_task(self._read())

    async def do(self, method: str, **parameters: Any) -> dict[str, Any]:
        """Send one command and give its result."""
        self._number += 1
        answer = self._answers[self._number] = asyncio.get_running_loop().create_future()
        await self._socket.send_json({"id": self._number, "method": method, "params": parameters})
        return await asyncio.wait_for(answer, _START_S)

    async def open(self, address: str, width: int, height: int) -> None:
        """Open a page in a window of so many pixels."""
        for domain in ("Page", "Network", "Runtime"):
            await self.do(f"{domain}.enable")
        await self.do(
            "Emulation.setDeviceMetricsOverride", width=width, height=height, deviceScaleFactor=1, mobile=False
        )
        await self.do("Page.navigate", url=address)

    async def press(self, *keys: str) -> None:
        """Type characters, ``Enter`` among them."""
        for key in keys:
            text = "\r" if key == "Enter" else key
            code = {"windowsVirtualKeyCode": 13} if key == "Enter" else {}
            await self.do("Input.dispatchKeyEvent", type="keyDown", key=key, text=text, **code)
            await self.do("Input.dispatchKeyEvent", type="keyUp", key=key, **code)

    async def click(self, x: float, y: float) -> None:
        """Click at a place in pixels."""
        for kind in ("mousePressed", "mouseReleased"):
            await self.do("Input.dispatchMouseEvent", type=kind, x=x, y=y, button="left", clickCount=1)

    async def value(self, expression: str) -> Any:
        """Give the value of an expression of the page's own language."""
        answer = await self.do("Runtime.evaluate", expression=expression)
        return answer["result"].get("value")

    async def picture(self) -> bytes:
        """Give what the page looks like as a PNG."""
        answer = await self.do("Page.captureScreenshot", format="png")
        return base64.b64decode(answer["data"])

    async def until(self, holds: Callable[[], bool], within_s: float, what: str) -> None:
        """Wait until something holds, at most so long."""
        for _ in range(int(within_s / _LOOK_S)):
            if holds():
                return
            await asyncio.sleep(_LOOK_S)
        raise AssertionError(f"not within {within_s:g} s: {what}; the page was sent last: {self.received[-2000:]!r}")

    async def _read(self) -> None:
        async for message in self._socket:
            told = json.loads(message.data)
            if "id" in told:
                answer = self._answers.pop(told["id"])
                if "error" in told:
                    answer.set_exception(AssertionError(str(told["error"])))
                else:
                    answer.set_result(told["result"])
            elif told["method"] == "Network.requestWillBeSent":
                self.asked.append(told["params"]["request"]["url"])
            elif told["method"] == "Network.webSocketCreated":
                self.asked.append(told["params"]["url"])
            elif told["method"] == "Network.webSocketFrameReceived":
                frame = told["params"]["response"]
                data = frame["payloadData"]
                self.received += base64.b64decode(data).decode("utf-8", "replace") if frame["opcode"] == 2 else data


@contextlib.asynccontextmanager
async def chromium() -> AsyncIterator[Callable[[], Any]]:
    """Run Chromium; gives a function that opens a new tab."""
    assert CHROMIUM is not None
    with tempfile.TemporaryDirectory(ignore_cleanup_errors=True) as folder:
        command = [CHROMIUM, *_FLAGS, f"--user-data-dir={folder}", "about:blank"]
        process = await asyncio.create_subprocess_exec(*command, stdout=_NOWHERE, stderr=_NOWHERE)
        tabs: list[Tab] = []
        try:
            port = await _port(Path(folder))
            async with aiohttp.ClientSession() as session, contextlib.AsyncExitStack() as sockets:

                async def tab() -> Tab:
                    async with session.put(f"http://127.0.0.1:{port}/json/new?about:blank") as answer:
                        where = (await answer.json())["webSocketDebuggerUrl"]
                    socket = await sockets.enter_async_context(session.ws_connect(where, max_msg_size=0))
                    tabs.append(Tab(socket))
                    return tabs[-1]

                yield tab
                for each in tabs:
                    each.reader.cancel()
        finally:
            process.terminate()
            await process.wait()


async def _port(folder: Path) -> int:
    told = folder / "DevToolsActivePort"
    for _ in range(int(_START_S / _LOOK_S)):
        with contextlib.suppress(OSError, ValueError, IndexError):
            return int(told.read_text().splitlines()[0])
        await asyncio.sleep(_LOOK_S)
    raise AssertionError(f"Chromium gave no port within {_START_S:g} s")
