"""The page to try shapes on, served to a Chromium for tests."""

from __future__ import annotations

import subprocess
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from typing import Any, NamedTuple


@contextmanager
def served(*arguments: str, before: str = "") -> Iterator[tuple[str, subprocess.Popen[str]]]:
    """The address at which `frontcheck bench` serves, and the process that does."""
    run = f"{before}\nfrom frontcheck.cli import main\nmain(prog_name='frontcheck')"
    command = [sys.executable, "-c", run, "bench", *arguments]
    pipes = {"stdout": subprocess.PIPE, "stderr": subprocess.PIPE}
    with subprocess.Popen(command, text=True, **pipes) as process:
        try:
            assert process.stdout is not None
            told = next((line for line in process.stdout if line.startswith("http://")), "")
            yield told.strip(), process
        finally:
            process.terminate()


class Visit(NamedTuple):
    """A browser that came in with the address, which opens once; its tabs share the cookie."""

    context: Any
    url: str

    @classmethod
    def paid(cls, browser: Any, address: str) -> Visit:
        """Come in."""
        context = browser.new_context(viewport={"width": 1280, "height": 800})
        page = context.new_page()
        page.goto(address)
        url = page.url
        ready(page)  # cut off while it opens, a line would be held for longer
        page.close()
        return cls(context, url)

    def tab(self, **how: Any) -> Any:
        """A tab of its own, once all is worked out; whatever it throws or is kept from is noted."""
        page = self.context.new_page()
        page.emulate_media(**how)
        page.thrown, page.asked = [], []
        page.on("pageerror", lambda error: page.thrown.append(str(error)))
        page.on("console", lambda m: page.thrown.append(m.text) if m.type == "error" else None)
        page.on("request", lambda request: page.asked.append(request.url))
        page.goto(self.url)
        ready(page)
        return page


def ready(page: Any) -> None:
    """Wait until all that is shown is of the shape that is shown."""
    page.wait_for_selector(".ready >> text=up to date", timeout=60_000)


_PLACE = """([x, z]) => {
  const plot = Bokeh.documents[0].get_model_by_name("side");
  const view = Bokeh.index.find_one_by_id(plot.id);
  const box = view.canvas_view.el.getBoundingClientRect();
  return [box.x + view.frame.x_scale.compute(x), box.y + view.frame.y_scale.compute(z)];
}"""


def place(page: Any, at: tuple[float, float]) -> tuple[float, float]:
    """Where a place (x, z) of the drawing is in the window, once the drawing stands still."""
    before = None
    while (now := page.evaluate(_PLACE, list(at))) != before:
        before = now
        page.wait_for_timeout(100)
    x, y = now
    return x, y


def drag(page: Any, at: tuple[float, float], by: tuple[float, float], held: float = 0.0) -> None:
    """Drag what stands at a place (x, z) by pixels as a hand does, once held for a while [ms]."""
    x, y = place(page, at)
    page.mouse.move(x, y)
    page.mouse.down()
    page.wait_for_timeout(held)
    for share in (0.3, 0.6, 0.9, 1.0):
        page.mouse.move(x + share * by[0], y + share * by[1])
        page.wait_for_timeout(60)
    page.mouse.up()


def photographed(front: Any, to: Any) -> tuple[Any, dict[str, list[tuple[float, float]]]]:
    """A photo of the centre section as JPEG, and where on it [px] stands what is clicked.

    As from very far away, square to the car: 0.9 px a mm. The board is 1000 mm square.
    """
    from PIL import Image, ImageDraw

    section = front.section(0.0)
    outline = [(x, z) for x, z in section.points.tolist() if z > 230.0]
    true = {
        "ground": [(-200.0, 0.0), (1500.0, 0.0)],
        "corners": [(300.0, 0.0), (1300.0, 0.0), (1300.0, 1000.0), (300.0, 1000.0)],
        "outline": outline[::2],
    }
    seen = {kind: [(300 + 0.9 * x, 1250 - 0.9 * z) for x, z in at] for kind, at in true.items()}
    image = Image.new("RGB", (2000, 1300), "#c9d3dc")
    pen = ImageDraw.Draw(image)
    pen.rectangle((0, 1250, 2000, 1300), fill="#7d7d78")
    body = [(300 + 0.9 * x, 1250 - 0.9 * z) for x, z in outline]
    pen.polygon([*body, (body[-1][0], 1100), (body[0][0], 1100)], fill="#52606b")
    pen.polygon(seen["corners"], fill="#f2efe6", outline="#222222", width=3)
    image.save(to, "jpeg", quality=92)
    return true, seen


def click_photo(page: Any, seen: dict[str, list[tuple[float, float]]]) -> None:
    """Click all of it, kind by kind."""
    labels = {"ground": "Ground (2)", "corners": "Board (4)", "outline": "Outline"}
    for kind, places in seen.items():
        page.locator("button", has_text=labels[kind]).click()
        page.wait_for_timeout(600)
        for at in places:
            x, y = page.evaluate(_PLACE.replace('"side"', '"photo"'), list(at))
            page.mouse.click(x, y)
            page.wait_for_timeout(400)  # two clicks sooner are a double click
