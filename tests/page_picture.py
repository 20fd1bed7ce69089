"""Make the README's picture of the page to try shapes on: page_picture.py [FILE]."""

from __future__ import annotations

import sys
from pathlib import Path

import chromium
from bench_pages import Visit, drag, ready, served
from playwright.sync_api import sync_playwright

FRONTS = ("geometries/plover.csv", "geometries/avocet.csv")
UPPER_LIP = (19.5, 538.0)


def main(file: str = "reports/bench/page.png") -> None:
    """Show Plover with its upper lip dragged forward, Avocet behind it."""
    with sync_playwright() as driver, served(*FRONTS) as (address, _):
        browser = driver.chromium.launch(
            executable_path=chromium.found(), args=["--no-sandbox", "--disable-gpu"]
        )
        page = Visit.paid(browser, address).tab(color_scheme="light")
        drag(page, UPPER_LIP, (-7.0, 0.0))
        ready(page)
        page.mouse.click(4.0, 700.0)
        page.wait_for_timeout(500)
        Path(file).parent.mkdir(parents=True, exist_ok=True)
        page.screenshot(path=file)
        browser.close()


if __name__ == "__main__":
    main(*sys.argv[1:])
