"""The page served to this machine alone, and to the browser that came first with its token."""

from __future__ import annotations

import base64
import hashlib
import logging
import re
import secrets
import time
from collections.abc import Callable
from typing import TYPE_CHECKING, Any, Final

from bokeh.application import Application
from bokeh.application.handlers.function import FunctionHandler
from bokeh.resources import Resources
from bokeh.server.server import BaseServer
from bokeh.server.tornado import BokehTornado
from bokeh.server.util import bind_sockets
from tornado.httpserver import HTTPServer
from tornado.ioloop import IOLoop, PeriodicCallback
from tornado.web import OutputTransform, RequestHandler

from frontcheck.bench.page import page
from frontcheck.bench.page_words import HANDBOOK
from frontcheck.outputs.pages.book_html import handbook_html

if TYPE_CHECKING:
    from collections.abc import Sequence

    from tornado.httputil import HTTPHeaders, HTTPServerRequest

    from frontcheck.front.front import Front

Fault = Callable[[str, BaseException | None], None]
"""Is told in words what went wrong, and what was raised."""

HOST: Final = "127.0.0.1"
_LARGEST: Final = 400 << 20
"""Bytes of files that a page may hand over at once, as text: own choice, a mesh of 300 MB."""
_LOOK_MS: Final = 500
_COOKIE: Final = "frontcheck"
_SCRIPT: Final = re.compile(rb"<script(?![^>]*\bsrc=)[^>]*>(.*?)</script>", re.DOTALL)
_FIXED: Final = {
    "Cache-Control": "no-store",
    "Cross-Origin-Opener-Policy": "same-origin",
    "Cross-Origin-Resource-Policy": "same-origin",
    "Referrer-Policy": "no-referrer",
    "X-Content-Type-Options": "nosniff",
}


class Door:
    """Who may come in: whoever shows the token first, and from then on what holds the cookie."""

    def __init__(self, port: int) -> None:
        self.origin = f"{HOST}:{port}"
        self.prefix = f"/{secrets.token_urlsafe(12)}"  # a cookie goes to every port of a host
        self.cookie = secrets.token_urlsafe(24)
        self.path, self.used = f"{self.prefix}/{secrets.token_urlsafe(24)}", False

    @property
    def address(self) -> str:
        """Where to come in, once."""
        return f"http://{self.origin}{self.path}"

    def enters(self, request: HTTPServerRequest) -> bool:
        """Whether the token is shown, which serves once, and then to who came in with it."""
        shown = secrets.compare_digest(request.path.encode(), self.path.encode())
        if not shown or request.method != "GET" or (self.used and not self.knows(request)):
            return False
        self.used = True
        return True

    def elsewhere(self, request: HTTPServerRequest) -> bool:
        """Whether it was asked for under another name, or by the page of somebody else."""
        origin = request.headers.get("Origin")
        return request.host != self.origin or origin not in (None, f"http://{self.origin}")

    def knows(self, request: HTTPServerRequest) -> bool:
        """Whether the cookie is shown."""
        shown = request.cookies.get(_COOKIE)
        return shown is not None and secrets.compare_digest(
            shown.value.encode(), self.cookie.encode()
        )


class _Enter(RequestHandler):
    """Take the token for a cookie; the address that stays in the browser opens nothing else."""

    def initialize(self, door: Door) -> None:
        self.door = door

    def get(self, *_: str) -> None:
        door = self.door
        self.set_cookie(
            _COOKIE, door.cookie, path=f"{door.prefix}/", httponly=True, samesite="Strict"
        )
        self.redirect(f"{door.prefix}/", status=303)


class _Refused(RequestHandler):
    """Turn away, whatever was asked for."""

    def prepare(self) -> None:
        self.set_status(403)
        self.set_header("Content-Type", "text/plain; charset=utf-8")
        self.finish(
            "Refused. The address that frontcheck bench told opens the page in one browser, the "
            "first that shows it; for another, start frontcheck bench again.\n"
        )


class _Handbook(RequestHandler):
    """Hand over the handbook, put together when it is first asked for."""

    async def get(self, *_: str) -> None:
        self.set_header("Content-Type", "text/html; charset=utf-8")
        self.finish(await IOLoop.current().run_in_executor(None, handbook_html))


class _Headers(OutputTransform):
    """Let a browser load, run and ask for nothing but what this server sends."""

    def transform_first_chunk(
        self,
        status_code: int,
        headers: HTTPHeaders,
        chunk: bytes,
        finishing: bool,
    ) -> tuple[int, HTTPHeaders, bytes]:
        for name, value in _FIXED.items():
            headers[name] = value
        own = (hashlib.sha256(script).digest() for script in _SCRIPT.findall(chunk))
        scripts = " ".join(f"'sha256-{base64.b64encode(digest).decode()}'" for digest in own)
        headers["Content-Security-Policy"] = (
            f"default-src 'none'; script-src 'self' {scripts}; style-src 'self' 'unsafe-inline'; "
            "img-src 'self' data: blob:; connect-src 'self'; base-uri 'none'; form-action 'none'; "
            "frame-ancestors 'none'"
        )
        return super().transform_first_chunk(status_code, headers, chunk, finishing)


class _Server(BokehTornado):
    """Bokeh's server behind a door."""

    def __init__(self, app: Application, door: Door) -> None:
        self.door = door
        super().__init__(
            {"/": app}, prefix=door.prefix, extra_websocket_origins=[door.origin],
            websocket_max_message_size_bytes=_LARGEST, transforms=[_Headers],
        )  # fmt: skip

    def find_handler(self, request: HTTPServerRequest, **kwargs: Any) -> Any:
        """Let in, or turn away before anything else is looked at."""
        door = self.door
        if not door.elsewhere(request):
            if door.enters(request):
                return self.get_handler_delegate(request, _Enter, {"door": door})
            if door.knows(request) and request.path == f"{door.prefix}/{HANDBOOK}":
                return self.get_handler_delegate(request, _Handbook)
            if door.knows(request):
                return super().find_handler(request, **kwargs)
        return self.get_handler_delegate(request, _Refused)

    def resources(self, absolute_url: str | bool | None = None) -> Resources:
        """Everything comes from the installed package, whatever the surroundings say."""
        del absolute_url
        return Resources(mode="server", root_url=self.prefix)


class _Faults(logging.Handler):
    """Hand on what went wrong behind the page, which otherwise would be printed with its trace."""

    def __init__(self, said: Fault) -> None:
        super().__init__(logging.ERROR)
        self.said = said

    def emit(self, record: logging.LogRecord) -> None:
        """Hand it on."""
        error = record.exc_info[1] if record.exc_info else None
        self.said(record.getMessage().strip().partition("\n")[0], error)


def serve(
    shapes: Sequence[Front], close_after_s: float, say: Callable[[str], None],
    fault: Fault,
) -> None:  # fmt: skip
    """Serve the page until nobody has had it open for so long; say where it is."""
    sockets, port = bind_sockets(HOST, 0)
    door = Door(port)
    for name in ("tornado.access", "bokeh.server.views.ws"):  # who is refused learns it by the code
        logging.getLogger(name).setLevel(logging.CRITICAL)
    faults = _Faults(fault)
    for name in ("bokeh", "tornado", "frontcheck"):
        logger = logging.getLogger(name)
        logger.addHandler(faults)
        logger.propagate = False
    app = _Server(Application(FunctionHandler(lambda doc: page(doc, shapes))), door)
    http = HTTPServer(app, max_buffer_size=_LARGEST)
    http.add_sockets(sockets)
    server = BaseServer(IOLoop.current(), app, http)
    seen = time.monotonic()

    def look() -> None:
        nonlocal seen
        now = time.monotonic()
        if any(session.connection_count for session in server.get_sessions()):
            seen = now
        elif now - seen > close_after_s:
            server.io_loop.stop()

    looking = PeriodicCallback(look, _LOOK_MS)
    server.start()
    looking.start()
    say(door.address)
    try:
        server.io_loop.start()
    finally:
        looking.stop()
        server.stop()
