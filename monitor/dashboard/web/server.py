"""Serves the dashboard to browsers, each in a process of its own. The one file that imports textual-serve and aiohttp.

The page is ours, since textual-serve's own one fetches its font from elsewhere; script, style and font are the copies
that it carries. Nothing that a page here loads may come from another server: its Content-Security-Policy says so.
"""

from __future__ import annotations

import html
import logging
from pathlib import Path
from string import Template
from typing import TYPE_CHECKING

from aiohttp import web
from textual_serve.server import Server

from monitor.dashboard.web.door import Answer

if TYPE_CHECKING:
    import socket

    from aiohttp.typedefs import Handler

    from monitor.dashboard.web.door import Door

_HERE = Path(__file__).parent
_OWN = {"page.css": "text/css", "before.js": "text/javascript", "after.js": "text/javascript"}
_OPEN_TO_ALL = frozenset({"/", "/own/page.css"})  # the page asks for the token itself
_CLOSING_S = 3.0
_REFUSED = "Refused: open the address that legwatch printed.\n"


class Site:
    """The pages of one server.

    Args:
        command: a shell's command line that runs the dashboard for one browser.
        title: of the page.
        door: who may come in.
        port: that is listened on.

    """

    def __init__(self, command: str, title: str, door: Door, port: int) -> None:
        self._server = Server(command, title=title)
        self._title = html.escape(title)
        self._door = door
        self._cookie = f"legwatch-{port}"  # cookies of one computer are shared by all its ports

    def app(self) -> web.Application:
        """Give the application."""
        app = web.Application(middlewares=[self._guarded])
        app.router.add_get("/", self._page)
        app.router.add_get("/ws", self._server.handle_websocket)
        app.router.add_get("/own/{name}", self._own)
        app.router.add_static("/static", self._server.statics_path)
        return app

    @web.middleware
    async def _guarded(self, request: web.Request, handler: Handler) -> web.StreamResponse:
        shown = request.cookies.get(self._cookie, "")
        match self._door.answer(request.host, request.headers.get("Origin"), shown):
            case Answer.COME_IN:
                return await handler(request)
            case Answer.TOKEN_WANTED if request.path in _OPEN_TO_ALL:
                return self._asked(request) if request.path == "/" else await handler(request)
            case refused:
                return web.Response(status=refused.value, text=_REFUSED)

    def _asked(self, request: web.Request) -> web.Response:
        """Take the token out of the address into a cookie, or ask for it."""
        if self._door.fits(request.query.get("token", "")):
            answer = web.Response(status=303, headers={"Location": "/", **_headers(request)})
            answer.set_cookie(self._cookie, self._door.token, httponly=True, samesite="Lax")
            return answer
        status = Answer.TOKEN_WANTED.value
        text = (_HERE / "ask.html").read_text("utf-8")
        return web.Response(status=status, text=text, content_type="text/html", headers=_headers(request))

    async def _page(self, request: web.Request) -> web.Response:
        text = Template((_HERE / "page.html").read_text("utf-8"))
        said = text.substitute(title=self._title, socket=html.escape(f"ws://{request.host}/ws"))
        return web.Response(text=said, content_type="text/html", headers=_headers(request))

    async def _own(self, request: web.Request) -> web.Response:
        kind = _OWN.get(request.match_info["name"])
        if kind is None:
            raise web.HTTPNotFound
        return web.Response(text=(_HERE / request.match_info["name"]).read_text("utf-8"), content_type=kind)


def serve(site: Site, listening: socket.socket) -> None:
    """Serve until SIGINT or SIGTERM; every dashboard that runs for a browser then ends too.

    Args:
        site: what is served.
        listening: bound; closed at the end.

    """
    handler = logging.StreamHandler()
    handler.addFilter(_one_line)
    logging.basicConfig(level=logging.ERROR, format="legwatch: in a browser: %(message)s", handlers=[handler])
    web.run_app(site.app(), sock=listening, print=None, access_log=None, shutdown_timeout=_CLOSING_S)


def _headers(request: web.Request) -> dict[str, str]:
    """Keep the page to this server: nothing is loaded from or told to another."""
    own = f"default-src 'self'; connect-src 'self' ws://{request.host}; img-src 'self' data:"
    return {
        "Content-Security-Policy": f"{own}; style-src 'self' 'unsafe-inline'; frame-ancestors 'none'; base-uri 'none'",
        "Referrer-Policy": "no-referrer",
        "Cache-Control": "no-store",
    }


def _one_line(record: logging.LogRecord) -> bool:
    record.exc_info = None  # what a person can use stands in the message
    return True
