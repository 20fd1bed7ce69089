"""The server of the page: who may talk to it, and how it stops.

Held against HTTP's own codes (RFC 9110: 404 Not Found, 403 Forbidden) and the exit codes of the
README.
"""

from __future__ import annotations

import asyncio
import http.client
import re
import signal
import subprocess
import sys
import urllib.error
import urllib.request
from collections.abc import Iterator
from urllib.parse import urlsplit

import pytest
from bench_pages import served

pytest.importorskip("bokeh")
from tornado.httpclient import HTTPRequest
from tornado.websocket import websocket_connect

PLOVER = "geometries/plover.csv"


@pytest.fixture(scope="module")
def address() -> Iterator[str]:
    with served(PLOVER) as (url, _):
        yield url


def code(url: str) -> int:
    try:
        with urllib.request.urlopen(url, timeout=20) as answer:
            return answer.status
    except urllib.error.HTTPError as error:
        return error.code


def test_only_the_address_with_the_token_is_served(address: str) -> None:
    parts = urlsplit(address)
    base = f"http://{parts.netloc}"
    assert parts.hostname == "127.0.0.1"
    token = parts.path.strip("/")
    assert len(token) >= 32
    assert code(address) == 200
    wrong = token[:-1] + ("A" if token[-1] != "A" else "B")
    for path in ("", "bench", wrong, f"{wrong}/ws", "static/js/bokeh.min.js", f"x/{token}"):
        assert code(f"{base}/{path}") == 404


async def greeted(address: str, origin: str) -> bool:
    with urllib.request.urlopen(address, timeout=20) as answer:
        html = answer.read().decode()
    session = re.search(r'"token":"([^"]+)"', html)
    assert session is not None
    url = f"ws://{address.removeprefix('http://')}ws"
    request = HTTPRequest(url, headers={"Origin": origin})
    line = await websocket_connect(request, subprotocols=["bokeh", session.group(1)])
    try:
        return await asyncio.wait_for(line.read_message(), 10.0) is not None
    finally:
        line.close()


def handshake(address: str, origin: str) -> int:
    """The answer to a plain request to talk on (RFC 6455, 4.1)."""
    parts = urlsplit(address)
    line = http.client.HTTPConnection(parts.netloc, timeout=20)
    try:
        line.request("GET", f"{parts.path}ws", headers={
            "Upgrade": "websocket", "Connection": "Upgrade", "Sec-WebSocket-Version": "13",
            "Sec-WebSocket-Key": "MDEyMzQ1Njc4OWFiY2RlZg==", "Origin": origin,
        })  # fmt: skip
        return line.getresponse().status
    finally:
        line.close()


def test_no_other_origin_may_talk_to_it(address: str) -> None:
    own = f"http://{urlsplit(address).netloc}"
    assert asyncio.run(greeted(address, own))
    port = urlsplit(address).port
    for other in ("http://elsewhere.example", f"http://localhost:{port}", "http://127.0.0.1:1"):
        assert handshake(address, other) == 403
    assert handshake(address, own) == 101


def test_ctrl_c_stops_it_without_a_traceback() -> None:
    with served(PLOVER) as (url, process):
        assert code(url) == 200
        process.send_signal(signal.SIGINT)
        assert process.wait(timeout=20) == 130
        assert process.stderr is not None
        assert "Traceback" not in process.stderr.read()


def test_it_stops_once_nobody_has_had_it_open_for_the_time_stated() -> None:
    with served("--close-after", "1") as (url, process):
        assert url
        assert process.wait(timeout=20) == 0


def test_a_file_that_is_not_there_is_refused() -> None:
    command = [sys.executable, "-m", "frontcheck", "bench", "nowhere.csv"]
    done = subprocess.run(command, capture_output=True, text=True, check=False)
    assert done.returncode == 2
    assert "nowhere.csv" in done.stderr
    assert "Traceback" not in done.stderr
