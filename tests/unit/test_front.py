"""Front: stations, mirroring, and how it shows itself in a notebook."""

from __future__ import annotations

import pytest

from frontcheck.errors import InputError
from frontcheck.front.front import Front
from frontcheck.surface.section import Section

CONTOUR = [(300, 200), (0, 400), (80, 800), (900, 900)]


def test_a_symmetric_half_is_mirrored_once_and_the_centre_kept_single():
    half = Front(tuple(Section(CONTOUR, y) for y in (0, 150, 300)), symmetric=True)
    full = half.full()
    assert full.stations == (-300, -150, 0, 150, 300)
    assert not full.symmetric
    assert full.full() is full
    assert all((s.points == full.section(-s.y).points).all() for s in full.sections)


@pytest.mark.parametrize(
    ("stations", "symmetric", "says"),
    [
        ((), False, "no section"),
        ((0, 0), False, "increasing"),
        ((10, 0), False, "increasing"),
        ((-10, 0, 10), True, "one side"),
    ],
)
def test_stations_that_cannot_be_are_refused(stations, symmetric, says):
    with pytest.raises(InputError, match=says):
        Front(tuple(Section(CONTOUR, y) for y in stations), symmetric=symmetric)


def test_text_from_a_file_cannot_inject_markup_into_a_notebook():
    front = Front((Section(CONTOUR),), name="<script>alert(1)</script>", reader_notes=("<b>x",))
    shown = front._repr_html_()
    assert "<script>" not in shown
    assert "<b>x" not in shown
    assert "&lt;script&gt;" in shown
