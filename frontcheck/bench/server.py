"""The page served to this machine alone: one address a run, with a token nobody can guess."""

from __future__ import annotations

import logging
import secrets
import time
from typing import TYPE_CHECKING, Final

from bokeh.application import Application
from bokeh.application.handlers.function import FunctionHandler
from bokeh.server.server import BaseServer
from bokeh.server.tornado import BokehTornado
from bokeh.server.util import bind_sockets
from tornado.httpserver import HTTPServer
from tornado.ioloop import IOLoop, PeriodicCallback

from frontcheck.bench.page import page

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    from frontcheck.front.front import Front

HOST: Final = "127.0.0.1"
_LARGEST: Final = 400 << 20
"""Bytes of files that a page may hand over at once, as text: own choice, a mesh of 300 MB."""
_LOOK_MS: Final = 500


def serve(shapes: Sequence[Front], close_after_s: float, say: Callable[[str], None]) -> None:
    """Serve the page until nobody has had it open for so long; say where it is."""
    for name in ("tornado.access", "bokeh.server.views.ws"):  # who is refused learns it by the code
        logging.getLogger(name).setLevel(logging.CRITICAL)
    token = secrets.token_urlsafe(24)
    sockets, port = bind_sockets(HOST, 0)
    origin = f"{HOST}:{port}"
    app = BokehTornado(
        {"/": Application(FunctionHandler(lambda doc: page(doc, shapes)))},
        prefix=f"/{token}",
        extra_websocket_origins=[origin],
        websocket_max_message_size_bytes=_LARGEST,
    )
    http = HTTPServer(app)
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
    say(f"http://{origin}/{token}/")
    try:
        server.io_loop.start()
    finally:
        looking.stop()
        server.stop()
