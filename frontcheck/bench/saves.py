"""What the page offers to save, each as the bytes of a file."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

if TYPE_CHECKING:
    from collections.abc import Callable

    from frontcheck.comparison.comparison_result import Comparison
    from frontcheck.front.front import Front
    from frontcheck.screening import Screening

FEW: Final = ("shape.csv", "screening.json", "side.svg")
ANNEX: Final = ("annex.pdf",)


def offers(
    front: Front, result: Screening, y: float, comparison: Comparison | None
) -> dict[str, Callable[[], bytes]]:
    """Return what makes each file, by its name; made when it is asked for."""
    return {
        "shape.csv": lambda: _shape(front),
        "screening.json": lambda: _document(result),
        "side.svg": lambda: _picture(result, y),
        "annex.pdf": lambda: _annex(result, comparison),
    }


def _shape(front: Front) -> bytes:
    from frontcheck.outputs.documents.offset_table import offset_table

    return offset_table(front, "bench")


def _document(result: Screening) -> bytes:
    from frontcheck.outputs.documents.exports import json_bytes, screening_document

    return json_bytes(screening_document(result))


def _picture(result: Screening, y: float) -> bytes:
    from frontcheck.outputs.figures.side_view import figure_bytes, side_view

    figure = side_view(result, y).get_figure(root=True)
    assert figure is not None
    return figure_bytes(figure)


def _annex(result: Screening, comparison: Comparison | None) -> bytes:
    from frontcheck.outputs.writing import annex

    return annex(result, comparison)["annex.pdf"]
