"""The server on loopback: what each request gets, with a token and without."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING

import aiohttp
import pytest
from aiohttp.test_utils import TestClient, TestServer

from monitor.dashboard.web.door import Door
from monitor.dashboard.web.server import Site

if TYPE_CHECKING:
    from aiohttp import web

TOKEN = "kiln-yard"  # noqa: S105 - of this test alone
ENDS_AT_ONCE = "true"


def client(door: Door) -> TestClient[web.Request, web.Application]:
    """Give a client of a server whose dashboards end at once."""
    return TestClient(TestServer(Site(ENDS_AT_ONCE, "legwatch: <night & day>", door, 8000).app()))


async def test_the_page_asks_nothing_of_another_server() -> None:
    """Every address in it is of this server; the policy forbids others; a show's name can't be markup."""
    async with client(Door()) as browser:
        answer = await browser.get("/")
        page = await answer.text()
        assert "legwatch: &lt;night &amp; day&gt;" in page
        addresses = re.findall(r'(?:src|href)="([^"]+)"', page)
        assert addresses
        assert all(address.startswith(("/", "data:,")) for address in addresses)
        assert f'"ws://{browser.host}:{browser.port}/ws"' in page
        assert answer.headers["Content-Security-Policy"].startswith("default-src 'self';")
        for address in (address for address in addresses if address != "data:,"):
            assert (await browser.get(address)).status == 200
        style = await (await browser.get("/own/page.css")).text()
        (font,) = re.findall(r"url\(\"([^)]*)\"\)", style)
        assert (await (await browser.get(font)).read())[:4] == b"\x00\x01\x00\x00"  # how a TrueType file begins
        assert (await browser.get("/own/server.py")).status == 404


async def test_without_the_token_nothing_is_given() -> None:
    """No page, no file, no socket: not without one, not with a wrong one."""
    async with client(Door(TOKEN)) as browser:
        for wrong in ("", "?token=", "?token=kiln-yar"):
            answer = await browser.get(f"/{wrong}")
            assert answer.status == 401
            assert "terminal" not in await answer.text()
        for path in ("/static/js/textual.js", "/own/before.js", "/ws", f"/ws?token={TOKEN}"):
            assert (await browser.get(path)).status == 401
        with pytest.raises(aiohttp.WSServerHandshakeError, match="401"):
            await browser.ws_connect("/ws", headers={"Cookie": "legwatch-8000=wrong"})


async def test_the_token_opens_page_and_socket() -> None:
    """It leaves the address at once, and its cookie can't be read by scripts."""
    async with client(Door(TOKEN)) as browser:
        answer = await browser.get(f"/?token={TOKEN}", allow_redirects=False)
        assert (answer.status, answer.headers["Location"]) == (303, "/")
        cookie = answer.headers["Set-Cookie"]
        assert "HttpOnly" in cookie
        assert "SameSite=Lax" in cookie
        shown = {"Cookie": f"legwatch-8000={TOKEN}"}
        assert 'id="terminal"' in await (await browser.get("/", headers=shown)).text()
        async with browser.ws_connect("/ws", headers=shown) as socket:
            assert not socket.closed


async def test_foreign_pages_and_names_are_refused() -> None:
    """A socket asked for by a page from elsewhere, a page asked for under a name from elsewhere."""
    async with client(Door()) as browser:
        with pytest.raises(aiohttp.WSServerHandshakeError, match="403"):
            await browser.ws_connect("/ws", headers={"Origin": "http://elsewhere.example"})
        assert (await browser.get("/", headers={"Host": "elsewhere.example"})).status == 403
