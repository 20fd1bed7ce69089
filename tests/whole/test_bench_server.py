"""The server of the page: who may talk to it, what it lets a browser do, and how it stops.

Held against HTTP's own codes (RFC 9110: 303 See Other, 403 Forbidden, 404 Not Found), cookies
(RFC 6265), the handshake of RFC 6455, 4.1, Content Security Policy Level 3 (W3C) and the exit codes
of the README.
"""

from __future__ import annotations

import asyncio
import base64
import hashlib
import http.client
import re
import signal
import subprocess
import sys
from collections.abc import Iterator
from http.cookies import SimpleCookie
from typing import NamedTuple
from urllib.parse import urlsplit

import pytest
from bench_pages import served

pytest.importorskip("bokeh")
from tornado.httpclient import HTTPRequest
from tornado.websocket import websocket_connect

from frontcheck.outputs.pages.book_html import handbook_html

PLOVER = "geometries/plover.csv"


class Inside(NamedTuple):
    """What the one who came in first holds."""

    base: str  # host and port
    first: str  # the path told, which served once
    path: str  # the path of the page
    cookie: str  # name=value


def asked(base: str, path: str, **headers: str) -> tuple[int, http.client.HTTPMessage, bytes]:
    line = http.client.HTTPConnection(base, timeout=20)
    try:
        line.request("GET", path, headers=headers)
        answer = line.getresponse()
        return answer.status, answer.headers, answer.read()
    finally:
        line.close()


def entered(address: str) -> Inside:
    parts = urlsplit(address)
    code, headers, _ = asked(parts.netloc, parts.path)
    assert code == 303
    (morsel,) = SimpleCookie(headers["Set-Cookie"]).values()
    assert morsel["httponly"]
    assert morsel["samesite"] == "Strict"
    assert morsel["path"] == headers["Location"] != "/"
    return Inside(parts.netloc, parts.path, headers["Location"], f"{morsel.key}={morsel.value}")


@pytest.fixture(scope="module")
def inside() -> Iterator[Inside]:
    with served(PLOVER) as (url, _):
        yield entered(url)


def test_the_address_lets_in_once_and_then_only_what_holds_the_cookie(inside: Inside) -> None:
    assert inside.base.startswith("127.0.0.1:")
    assert len(inside.first.rpartition("/")[2]) >= 32
    assert asked(inside.base, inside.path, Cookie=inside.cookie)[0] == 200
    wrong = inside.cookie[:-1] + ("A" if inside.cookie[-1] != "A" else "B")
    scripts = f"{inside.path}static/js/bokeh.min.js"
    assert asked(inside.base, scripts, Cookie=inside.cookie)[0] == 200
    for path in ("/", "/bench", inside.first, inside.path, f"{inside.path}ws", scripts):
        for cookie in ({}, {"Cookie": wrong}, {"Cookie": "frontcheck="}):
            code, _, body = asked(inside.base, path, **cookie)
            assert code == 403, path
            assert b"start frontcheck bench again" in body
    code, headers, _ = asked(inside.base, inside.first, Cookie=inside.cookie)  # the same browser
    assert (code, headers["Location"]) == (303, inside.path)


def test_a_wrong_token_does_not_use_the_address_up() -> None:
    with served(PLOVER) as (url, _):
        parts = urlsplit(url)
        wrong = parts.path[:-1] + ("A" if parts.path[-1] != "A" else "B")
        alone = f"/{parts.path.rpartition('/')[2]}"
        for path in (wrong, f"{parts.path}/", parts.path.lower(), f"/x{parts.path}", alone):
            assert asked(parts.netloc, path)[0] == 403
        assert asked(parts.netloc, parts.path, Host=f"elsewhere.example:{parts.port}")[0] == 403
        assert asked(parts.netloc, parts.path, Origin="http://elsewhere.example")[0] == 403
        line = http.client.HTTPConnection(parts.netloc, timeout=20)
        line.request("HEAD", parts.path)  # whoever looks whether a link is one uses nothing up
        assert line.getresponse().status == 403
        line.close()
        assert entered(url)
        assert asked(parts.netloc, parts.path)[0] == 403


def handshake(inside: Inside, **headers: str) -> int:
    return asked(inside.base, f"{inside.path}ws", **{
        "Upgrade": "websocket", "Connection": "Upgrade", "Sec-WebSocket-Version": "13",
        "Sec-WebSocket-Key": "MDEyMzQ1Njc4OWFiY2RlZg==", "Cookie": inside.cookie, **headers,
    })[0]  # fmt: skip


def test_no_other_origin_and_no_other_name_may_talk_to_it(inside: Inside) -> None:
    own = f"http://{inside.base}"
    port = inside.base.partition(":")[2]
    assert asyncio.run(greeted(inside, own))
    others = ("http://elsewhere.example", f"http://localhost:{port}", "http://127.0.0.1:1", "null",
              f"https://{inside.base}")  # fmt: skip
    for other in others:
        assert handshake(inside, Origin=other) == 403
        assert asked(inside.base, inside.path, Cookie=inside.cookie, Origin=other)[0] == 403
    for host in (f"localhost:{port}", "elsewhere.example", f"elsewhere.example:{port}"):
        assert asked(inside.base, inside.path, Cookie=inside.cookie, Host=host)[0] == 403
    assert handshake(inside, Origin=own, Cookie="") == 403
    assert handshake(inside, Origin=own) == 101


async def greeted(inside: Inside, origin: str) -> bool:
    html = asked(inside.base, inside.path, Cookie=inside.cookie)[2].decode()
    session = re.search(r'"token":"([^"]+)"', html)
    assert session is not None
    headers = {"Origin": origin, "Cookie": inside.cookie}
    request = HTTPRequest(f"ws://{inside.base}{inside.path}ws", headers=headers)
    line = await websocket_connect(request, subprotocols=["bokeh", session.group(1)])
    try:
        return await asyncio.wait_for(line.read_message(), 10.0) is not None
    finally:
        line.close()
        while await line.read_message() is not None:
            pass


def test_a_browser_is_told_to_load_and_run_only_what_is_sent(inside: Inside) -> None:
    for path in (inside.path, f"{inside.path}static/js/bokeh.min.js", "/elsewhere"):
        _, headers, body = asked(inside.base, path, Cookie=inside.cookie)
        assert headers["Cache-Control"] == "no-store"
        assert headers["Referrer-Policy"] == "no-referrer"
        assert headers["X-Content-Type-Options"] == "nosniff"
        rules = dict(
            rule.strip().partition(" ")[::2]
            for rule in headers["Content-Security-Policy"].split(";")
        )
        assert rules["default-src"] == rules["frame-ancestors"] == rules["base-uri"] == "'none'"
        assert rules["connect-src"] == "'self'"
        scripts = rules["script-src"].split()
        assert scripts[0] == "'self'"
        assert not {"'unsafe-inline'", "'unsafe-eval'", "*", "http:", "https:"} & set(scripts)
        if path == inside.path:
            inline = re.findall(rb"<script(?! [^>]*src=)[^>]*>(.*?)</script>", body, re.DOTALL)
            own = {
                f"'sha256-{base64.b64encode(hashlib.sha256(s).digest()).decode()}'" for s in inline
            }
            assert inline
            assert own == set(scripts[1:])
            assert b"http://" not in re.sub(rb"http://www\.w3\.org/[\w/]+", b"", body)
            assert b"https://" not in body


def test_the_handbook_is_behind_the_same_door(inside: Inside) -> None:
    path = f"{inside.path}handbook"
    code, headers, body = asked(inside.base, path, Cookie=inside.cookie)
    assert code == 200
    assert headers["Content-Type"].startswith("text/html")
    assert "script-src 'self' ;" in headers["Content-Security-Policy"]
    assert body == handbook_html()
    assert b"<script" not in body
    assert asked(inside.base, path)[0] == 403
    assert asked(inside.base, path, Cookie=inside.cookie, Host="elsewhere.example")[0] == 403


@pytest.mark.parametrize("number", [signal.SIGINT, signal.SIGTERM])
def test_a_stop_ends_it_without_a_traceback(number: signal.Signals) -> None:
    with served(PLOVER) as (url, process):
        inside = entered(url)
        assert asyncio.run(greeted(inside, f"http://{inside.base}"))
        process.send_signal(number)
        assert process.wait(timeout=20) == 128 + number
        assert process.stderr is not None
        assert re.fullmatch(r"frontcheck: stopped; .+\n", process.stderr.read())


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


def test_surroundings_open_it_to_nobody_and_load_from_nowhere_else(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setenv("BOKEH_ALLOW_WS_ORIGIN", "elsewhere.example")
    monkeypatch.setenv("BOKEH_RESOURCES", "cdn")
    with served(PLOVER) as (url, _):
        inside = entered(url)
        assert handshake(inside, Origin="http://elsewhere.example") == 403
        body = asked(inside.base, inside.path, Cookie=inside.cookie)[2].decode()
        found = re.findall(r'<script[^>]*\bsrc="([^"]+)"', body)
        assert found
        assert all(each.startswith(inside.path) for each in found)
