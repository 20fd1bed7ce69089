"""The page of a measuring sheet that takes what belongs to the whole vehicle."""

from __future__ import annotations

from typing import TYPE_CHECKING

from frontcheck.outputs.figures import style as look
from frontcheck.outputs.sheet.sheet_page import BODY, FINE, text_width
from frontcheck.outputs.sheet.sheet_words import ATTITUDE, LINE_WORDS, PART_WORDS, WRITE, edge_words
from frontcheck.reading.form import number_text
from frontcheck.rules.ruleset import rule_set

if TYPE_CHECKING:
    from frontcheck.outputs.sheet.sheet_page import Page
    from frontcheck.reading.form import Worksheet


def draw_record(page: Page, sheet: Worksheet) -> None:
    """Lay out the page of the vehicle: what to write, fields, wheels, checks."""
    left, right = page.left, page.right
    page.heading("The vehicle and the measurement", sheet.name)
    y = 27.0
    for words, text in WRITE.items():
        page.text((left, y + 2.6), words, BODY, bold=True)
        y = page.paragraph((left + 22.0, y), text, right - left - 22.0, BODY) + 0.7
    page.text((left, y + 2.6), "Parts", BODY, bold=True)
    words = "; ".join(f"{part}: {meaning}" for part, meaning in PART_WORDS.items())
    y = page.paragraph((left + 22.0, y), f"{words}.", right - left - 22.0, BODY) + 3.0
    middle = left + (right - left) / 2.0 + 2.0
    rows: list[tuple[tuple[str, float], ...]] = [
        (("Vehicle", left), ("Measured by", middle)),
        (("Tools", left), ("Place, day", middle)),
        (
            (f"Uncertainty, height [{sheet.unit}]", left),
            (f"Uncertainty, setback [{sheet.unit}]", middle),
        ),
        (
            (f"Ground rises rearward by [{sheet.unit}]", left),
            (f"over a length of [{sheet.unit}]", middle),
        ),
    ]
    for row in rows:
        for label, x in row:
            end = middle - 4.0 if x == left else right
            page.field(x, y, end, label, sheet.name if label == "Vehicle" else "")
        y += 8.2
    page.text((left, y + 5.0), "Datum", look.TEXT)
    _ticks(page, left + 24.0, y, ("common", "local"), "common")
    page.text((middle, y + 5.0), "Symmetric", look.TEXT)
    _ticks(page, middle + 24.0, y, ("yes", "no"), "yes" if sheet.symmetric else "no")
    y = _wheels(page, sheet, y + 10.0)
    _checks(page, sheet, y + 4.0)


def _wheels(page: Page, sheet: Worksheet, y: float) -> float:
    """Tyre pressures and wheel-arch heights: one column a wheel."""
    left, right = page.left, page.right
    first = 74.0
    step = (right - left - first) / 4.0
    names = ("front left", "front right", "rear left", "rear right")
    for i, name in enumerate(names):
        page.text((left + first + (i + 0.5) * step, y + 3.0), name, look.SMALL, ha="center",
                  color=look.MUTED)  # fmt: skip
    y += 4.2
    for label in (
        "Tyre pressure, as found / set to",
        f"Wheel arch as measured [{sheet.unit}]",
        f"Wheel arch in normal ride attitude [{sheet.unit}]",
    ):
        page.text((left, y + 4.7), label, look.TEXT)
        for i in range(4):
            page.box(left + first + i * step, y, step, 7.2)
        y += 7.2
    y += 1.5
    half = (right - left) / 2.0 + 2.0
    page.field(left, y, left + half - 6.0, f"Wheelbase [{sheet.unit}]", "")
    page.field(left + half, y, right, f"Front wheel centre, setback [{sheet.unit}]", "")
    y += 8.2
    return page.paragraph((left, y + 1.0), ATTITUDE, right - left, look.SMALL, color=look.MUTED)


def _checks(page: Page, sheet: Worksheet, y: float) -> None:
    """Rows for what is measured a second way, to be compared with the offsets."""
    left, right = page.left, page.right
    page.text((left, y + 3.0), "Checks on the car", 9.5, bold=True)
    page.text((left + 36.0, y + 3.0), "measured independently, the string line still in place; see "
              "page 1", look.SMALL, color=look.MUTED)  # fmt: skip
    y += 4.6
    unit = sheet.unit
    heads = (f"station [{unit}]", "what", f"measured [{unit}]", f"uncertainty [{unit}]")
    edges = [left, left + 24.0, right - 58.0, right - 27.0, right]
    height = 6.6
    lines = edge_words(rule_set())
    for x, head in zip(edges[:-1], heads, strict=True):
        page.text((x + 1.2, y + 3.2), head, look.SMALL, color=look.MUTED)
    y += 4.4
    top = y
    for station, what in sheet.checks:
        page.text((edges[0] + 2.0, y + 4.4), number_text(station), look.TEXT)
        if what in lines:
            page.text(
                (edges[1] + 1.5, y + 2.9), f"height of the {LINE_WORDS[what]}", 6.6, bold=True
            )
            page.text((edges[1] + 1.5, y + 5.7), lines[what], 5.6, color=look.MUTED)
        else:
            page.text((edges[1] + 1.5, y + 4.4), "tape from the ground to row no.", 6.6, bold=True)
        y += height
    page.lines([((x, top), (x, y)) for x in edges], look.INK, FINE)
    levels = [top + i * height for i in range(len(sheet.checks) + 1)]
    page.lines([((left, y), (right, y)) for y in levels], look.INK, FINE)


def _ticks(page: Page, x: float, y: float, words: tuple[str, ...], chosen: str) -> None:
    """Boxes to tick, the one printed in the table file crossed in grey."""
    for word in words:
        page.box(x, y + 0.4, 6.0, 6.0)
        if word == chosen:
            page.text((x + 3.0, y + 4.5), "x", look.TEXT, ha="center", color=look.MUTED)
        page.text((x + 7.5, y + 5.0), word, look.TEXT)
        x += 12.0 + text_width(word, look.TEXT)
