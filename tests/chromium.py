"""Chromium driven over a pipe by the DevTools protocol: no driver, no port, no package needed."""

from __future__ import annotations

import base64
import json
import os
import select
import shutil
import subprocess
import tempfile
import time
from pathlib import Path
from typing import Any

NAMES = ("chromium", "chromium-browser")
FLAGS = (
    "--headless", "--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run",
    "--disable-background-networking", "--disable-component-update", "--disable-sync",
    "--disable-dev-shm-usage", "--hide-scrollbars", "--force-device-scale-factor=1",
)  # fmt: skip
TIMEOUT = 60.0


def found() -> str | None:
    """Path of the browser, if there is one."""
    return next((path for path in map(shutil.which, NAMES) if path), None)


class Browser:
    """One browser with one tab; `events` collects what it reported."""

    def __init__(self, program: str) -> None:
        self.home = tempfile.TemporaryDirectory(prefix="frontcheck-chromium-")
        to_child, self._out = os.pipe()
        self._in, from_child = os.pipe()
        flags = [*FLAGS, f"--user-data-dir={self.home.name}", "--remote-debugging-pipe"]
        self.process = subprocess.Popen(
            [
                "bash", "-c", f'exec "$@" 3<&{to_child} 4>&{from_child}', "bash", program, *flags,
                "about:blank",
            ],
            pass_fds=(to_child, from_child),
            stdin=subprocess.DEVNULL,
            stdout=subprocess.DEVNULL,
            stderr=subprocess.DEVNULL,
        )  # fmt: skip
        os.close(to_child)
        os.close(from_child)
        self._count, self._rest = 0, b""
        self.events: list[dict[str, Any]] = []
        self.session = ""
        target = self.call("Target.createTarget", url="about:blank")["targetId"]
        self.session = self.call("Target.attachToTarget", targetId=target, flatten=True)[
            "sessionId"
        ]
        for domain in ("Page", "Runtime", "Log", "Network", "DOM"):
            self.call(f"{domain}.enable")

    def close(self) -> None:
        """End the browser."""
        os.close(self._out)
        os.close(self._in)
        self.process.terminate()
        try:
            self.process.wait(10.0)
        except subprocess.TimeoutExpired:
            self.process.kill()
            self.process.wait()
        for _ in range(20):  # its children may still be writing there
            try:
                self.home.cleanup()
            except OSError:
                time.sleep(0.1)
            else:
                return

    def call(self, method: str, **params: Any) -> dict[str, Any]:
        """One command; its result."""
        self._count += 1
        message: dict[str, Any] = {"id": self._count, "method": method, "params": params}
        if self.session:
            message["sessionId"] = self.session
        os.write(self._out, json.dumps(message).encode() + b"\0")
        while True:
            answer = self._next(TIMEOUT)
            assert answer is not None, f"{method}: no answer"
            if answer.get("id") == self._count:
                assert "error" not in answer, f"{method}: {answer['error']}"
                return answer["result"]
            self.events.append(answer)

    def _next(self, timeout: float) -> dict[str, Any] | None:
        end = time.monotonic() + timeout
        while b"\0" not in self._rest:
            if not select.select([self._in], [], [], max(end - time.monotonic(), 0.0))[0]:
                return None
            self._rest += os.read(self._in, 1 << 20)
        raw, _, self._rest = self._rest.partition(b"\0")
        return json.loads(raw)

    def pump(self, seconds: float = 0.3) -> None:
        """Collect what the browser reports for a while."""
        end = time.monotonic() + seconds
        while (left := end - time.monotonic()) > 0.0:
            event = self._next(left)
            if event is not None:
                self.events.append(event)

    def open(
        self, path: Path, width: int = 1280, height: int = 900, *, script: bool = True
    ) -> None:
        """Open a file and wait until it is loaded."""
        self.call(
            "Emulation.setDeviceMetricsOverride",
            width=width, height=height, deviceScaleFactor=1, mobile=False,
        )  # fmt: skip
        self.call("Emulation.setScriptExecutionDisabled", value=not script)
        self.events.clear()
        self.call("Page.navigate", url=path.absolute().as_uri())
        end = time.monotonic() + TIMEOUT
        while not any(e.get("method") == "Page.loadEventFired" for e in self.events):
            assert time.monotonic() < end, "the page did not load"
            self.pump(0.1)
        self.pump()

    def run(self, expression: str) -> Any:
        """Value of a JavaScript expression in the page."""
        answer = self.call("Runtime.evaluate", expression=expression, returnByValue=True)
        assert "exceptionDetails" not in answer, answer["exceptionDetails"]
        return answer["result"].get("value")

    def key(self, name: str, code: int, text: str = "") -> None:
        """Press and release a key."""
        for kind in ("keyDown", "keyUp"):
            self.call(
                "Input.dispatchKeyEvent",
                type=kind, key=name, code=name, windowsVirtualKeyCode=code, text=text,
            )  # fmt: skip

    def hover(self, x: float, y: float) -> None:
        """Move the pointer."""
        self.call("Input.dispatchMouseEvent", type="mouseMoved", x=x, y=y)

    def click(self, x: float, y: float) -> None:
        """Press and release the left button."""
        for kind in ("mousePressed", "mouseReleased"):
            self.call("Input.dispatchMouseEvent", type=kind, x=x, y=y, button="left", clickCount=1)

    def picture(self, path: Path, *, whole: bool = False) -> None:
        """Write what is to be seen as PNG."""
        data = self.call("Page.captureScreenshot", format="png", captureBeyondViewport=whole)
        path.write_bytes(base64.b64decode(data["data"]))

    def pdf(self) -> bytes:
        """The page as it prints."""
        data = self.call("Page.printToPDF", preferCSSPageSize=True, printBackground=True)
        return base64.b64decode(data["data"])
