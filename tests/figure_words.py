"""Words of a figure, for tests that read what it says."""

from __future__ import annotations

from typing import TYPE_CHECKING

from matplotlib.text import Text

if TYPE_CHECKING:
    from matplotlib.figure import Figure


def words(figure: Figure) -> list[Text]:
    """Every text that is seen, numbers of the axes apart."""
    ticks = {id(t) for ax in figure.axes for t in (*ax.get_xticklabels(), *ax.get_yticklabels())}
    return [
        t for t in figure.findobj(Text)
        if t.get_text().strip() and t.get_visible() and id(t) not in ticks
    ]  # fmt: skip


def said(figure: Figure) -> str:
    """The same in one line."""
    return " ".join(" ".join(t.get_text() for t in words(figure)).split())


def outside(figure: Figure) -> list[str]:
    """Words that do not lie within a figure that has been drawn."""
    page = figure.bbox.padded(1.0)
    boxes = [(t.get_text(), t.get_window_extent()) for t in words(figure)]
    return [
        text for text, box in boxes
        if not (page.x0 <= box.x0 and box.x1 <= page.x1 and page.y0 <= box.y0 and box.y1 <= page.y1)
    ]  # fmt: skip
