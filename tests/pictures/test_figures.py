"""Figures: everything legible and inside, drawn where the geometry says, same bytes every time.

Lengths, angles and distances of what is drawn are checked against the definitions (UN R127.02,
text read: 700 mm at 20 deg, 2.38, and at 25 deg, 2.26; 1000 mm at 50 and 40 deg from 600 mm up,
2.7; sphere of 165 mm, 2.8) and against shapely, not against frontcheck's own results.
"""

from __future__ import annotations

import hashlib
import io
import itertools
import math
import os
import subprocess
import sys
from dataclasses import replace
from functools import cache
from pathlib import Path
from typing import TYPE_CHECKING

import matplotlib as mpl
import numpy as np
import pytest
import shapely
from front_shapes import TALL_SECTION
from hypothesis import given, settings
from hypothesis import strategies as st
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.colors import to_rgb
from matplotlib.figure import Figure
from matplotlib.text import Annotation, Text
from PIL import Image

import frontcheck
from frontcheck.caution import CAUTION_SHORT
from frontcheck.errors import OutputError
from frontcheck.front.front import Front
from frontcheck.outputs.figures import canvas as look
from frontcheck.outputs.figures.canvas import LABEL, NOTE
from frontcheck.outputs.figures.labels import Request, arrange
from frontcheck.outputs.figures.side_drawing import LINE_NAMES, millimetres, part_runs
from frontcheck.outputs.figures.side_view import (
    face_view,
    figure_bytes,
    overview,
    save,
    side_view,
    side_view_figure,
)
from frontcheck.surface.section import Section

if TYPE_CHECKING:
    from matplotlib.axes import Axes

GEOMETRIES = Path(__file__).resolve().parents[2] / "geometries"
PLOVER = frontcheck.read_front(GEOMETRIES / "plover.csv")
AVOCET = frontcheck.read_front(GEOMETRIES / "avocet.csv")
DEMO = [(front.name, y) for front in (PLOVER, AVOCET) for y in front.stations]

# As in tests/validation: the low nose and the plane inclined 20 deg.
LOW_NOSE = [(0, 150), (0, 550), (1500, 550 + 1500 * math.tan(math.radians(8)))]
LEANT = [(300, 290), *(((z - 300) * math.tan(math.radians(20)), z) for z in (300, 1500))]
# A face along the 50 deg edge from 700 to 900 mm: continuous contact, taken again at 40 deg.
ALONG = [(0, 300), (0, 700), (200 * math.tan(math.radians(50)), 900), (1500, 1000)]


def one(points: object, name: str = "One", y: float = 0.0) -> Front:
    return Front((Section(points, y),), name=name)


ODD = {
    "tall": one(TALL_SECTION),
    "low nose": one(LOW_NOSE),
    "inclined": one([*LEANT[:2], (0.5 * LEANT[2][0], 900), *LEANT[2:]]),
    "along": one(ALONG),
    "scrap": one([(10, 700), (0, 760), (50, 800)], y=-120.5),
    "no parts": Front((Section(PLOVER.sections[0].points, 0.0),), name="No parts"),
    "local datum": replace(PLOVER, datum="local"),
    "dollar": replace(PLOVER, name="A $very$ long \\name_ \u6771\u4eac " * 9),
}


@cache
def screening(name: str) -> frontcheck.Screening:
    fronts = {front.name: front for front in (PLOVER, AVOCET)}
    return frontcheck.screen(fronts.get(name) or ODD[name])


@cache
def figure_of(name: str, y: float | None = None) -> Figure:
    result = screening(name)
    return side_view_figure(result, result.stations[0].y if y is None else y)


def texts(figure: Figure) -> list[Text]:
    unseen = {id(label) for ax in figure.axes for label in _ticks_out_of_view(ax)}
    found = [
        t
        for t in figure.findobj(Text)
        if isinstance(t, Text) and t.get_visible() and t.get_text() and id(t) not in unseen
    ]
    assert len(found) > 10
    return found


def _ticks_out_of_view(ax: Axes) -> list[Text]:
    """Labels of ticks beyond the limits: matplotlib makes them but does not draw them."""
    hidden: list[Text] = []
    for axis, limits in ((ax.xaxis, ax.get_xlim()), (ax.yaxis, ax.get_ylim())):
        low, high = sorted(limits)
        for tick, at in zip(axis.get_major_ticks(), axis.get_majorticklocs(), strict=True):
            if not (low <= at <= high and ax.axison):
                hidden += [tick.label1, tick.label2]
    return hidden


def words(figure: Figure) -> str:
    return "\n".join(t.get_text() for t in texts(figure))


def lines(ax: Axes, gid: str) -> list[np.ndarray]:
    return [np.column_stack(line.get_data()) for line in ax.lines if line.get_gid() == gid]


def extents(figure: Figure, dpi: float) -> list[tuple[Text, np.ndarray]]:
    """Boxes of all texts as really drawn, in pixels of the figure at that resolution."""
    before = figure.dpi
    figure.set_dpi(dpi)
    canvas = FigureCanvasAgg(figure)
    with look.house_style():
        canvas.draw()
        renderer = canvas.get_renderer()
        boxes = [(t, Text.get_window_extent(t, renderer).extents) for t in texts(figure)]
    figure.set_dpi(before)
    return boxes


def assert_legible(figure: Figure, dpi: float = 100.0) -> None:
    width, height = figure.get_size_inches() * dpi
    boxes = extents(figure, dpi)
    for text, (x0, y0, x1, y1) in boxes:
        inside = x0 >= 0 and y0 >= 0 and x1 <= width and y1 <= height
        assert inside, f"runs out of the figure: {text.get_text()!r}"
    for (a, p), (b, q) in itertools.combinations(boxes, 2):
        overlap = min(p[2], q[2]) - max(p[0], q[0]), min(p[3], q[3]) - max(p[1], q[1])
        assert min(overlap) <= 0.0, f"{a.get_text()!r} overlaps {b.get_text()!r}"
    for text, box in boxes:
        if text.get_gid() in (LABEL, NOTE) and text.axes and not _beside(text):
            frame = text.axes.bbox.extents * dpi / figure.dpi
            assert (box[:2] >= frame[:2]).all(), text.get_text()
            assert (box[2:] <= frame[2:]).all(), text.get_text()


def _beside(text: Text) -> bool:
    """Whether a text is meant to stand right of its panel: the legform bands of the overview."""
    return "legform" in text.get_text()


# --- legible ---------------------------------------------------------------------------


@pytest.mark.parametrize(("name", "y"), DEMO)
def test_side_view_is_legible_at_every_station_of_the_demo_fronts(name: str, y: float) -> None:
    assert_legible(figure_of(name, y))


@pytest.mark.parametrize("dpi", [72.0, 150.0])
@pytest.mark.parametrize(("name", "y"), [DEMO[0], DEMO[-1]])
def test_side_view_is_legible_at_other_resolutions(name: str, y: float, dpi: float) -> None:
    assert_legible(figure_of(name, y), dpi)


@pytest.mark.parametrize("name", ODD)
def test_side_view_is_legible_for_odd_sections(name: str) -> None:
    assert_legible(figure_of(name))


@pytest.mark.parametrize("name", ["Plover", "Avocet", "local datum", "tall", "scrap"])
def test_overview_is_legible(name: str) -> None:
    assert_legible(overview(screening(name)))


def test_many_distances_are_legible() -> None:
    distances = (775, 930, 1000, 1250, 1500, 1700, 1800, 2100, 2500)
    result = frontcheck.screen(PLOVER, "EU-631-2009", distances, tape_start="vehicle")
    for y in (0.0, 760.0):
        figure = side_view_figure(result, y)
        assert_legible(figure)
        assert "foremost point of the whole front" in words(figure)
        assert "held free of the ground" in words(figure)
        assert "WAD 2500 missing" in words(figure)


def test_a_planted_overlap_is_noticed() -> None:
    figure = side_view_figure(screening("tall"), 0.0)
    label = next(t for t in texts(figure) if t.get_gid() == LABEL)
    figure.axes[0].text(*label.get_position(), "over it")
    with pytest.raises(AssertionError, match="overlaps"):
        assert_legible(figure)


# --- to scale, and where the definitions put things ---------------------------------------


@pytest.mark.parametrize(("name", "y"), [*DEMO[::5], ("tall", 0.0), ("inclined", 0.0)])
def test_both_panels_have_equal_scale(name: str, y: float) -> None:
    figure = figure_of(name, y)
    FigureCanvasAgg(figure).draw()
    for ax in figure.axes:
        origin, right, up = ax.transData.transform([(0, 0), (1000, 0), (0, 1000)])
        assert np.hypot(*(right - origin)) == pytest.approx(np.hypot(*(up - origin)), rel=1e-9)


@pytest.mark.parametrize(("name", "y"), [*DEMO[::3], *((name, None) for name in ODD)])
def test_straight_edges_have_their_length_lean_and_reach(name: str, y: float | None) -> None:
    ax = figure_of(name, y).axes[0]
    result = screening(name)
    station = result.stations[0] if y is None else result.station(y)
    contour = shapely.LineString(result.front.section(station.y).points)
    drawn = 0
    for line, length, lean, low in (
        ("LBRL", 700.0, {-25.0}, 0.0),
        ("UBRL", 700.0, {20.0}, 0.0),
        ("BLERL", 1000.0, {50.0, 40.0}, 600.0),
    ):
        point = getattr(station, line)
        edges = lines(ax, f"edge {line}")
        assert len(edges) == int(point.formed)
        if not edges:
            continue
        drawn += 1
        (foot, tip) = edges[0]
        angle = math.degrees(math.atan2(tip[0] - foot[0], tip[1] - foot[1]))
        assert min(abs(angle - a) for a in lean) < 1e-9
        whole = shapely.LineString(edges[0])
        if "shortened" not in _label(ax, "straight edge", angle):
            assert foot[1] == pytest.approx(low, abs=1e-9)
            assert whole.length == pytest.approx(length, abs=1e-9)
        else:
            assert line == "UBRL"
            assert whole.length < length
        assert whole.distance(contour) < 1e-6
        if point.status != "wad_1000":
            assert whole.distance(shapely.Point(point.x, point.z)) < 0.1 + 1e-9
        # It only touches: in air ahead of the contour, never through it.
        pushed = shapely.affinity.translate(whole, xoff=-0.6)
        assert not pushed.intersects(contour)
    assert drawn >= 1


def _label(ax: Axes, start: str, angle: float) -> str:
    way = f"{abs(angle):.0f} deg"
    return next(
        t.get_text() for t in ax.texts if t.get_text().startswith(start) and way in t.get_text()
    )


@pytest.mark.parametrize(("name", "y"), [*DEMO[::2], ("tall", 0.0)])
def test_the_tape_drawn_to_a_mark_is_as_long_as_the_mark_says(name: str, y: float) -> None:
    ax = figure_of(name, y).axes[0]
    tapes = lines(ax, "tape")
    lengths = [float(np.hypot(*np.diff(path, axis=0).T).sum()) for path in tapes]
    assert lengths == pytest.approx([1000.0, 1500.0, 1700.0, 2100.0], abs=1e-6)
    contour = shapely.LineString(screening(name).front.section(y).points)
    for path in tapes:
        assert path[0, 1] == 0.0
        assert contour.distance(shapely.Point(path[-1])) < 1e-6
    for span in lines(ax, "tape span"):
        # Over air: its middle is off the contour.
        assert contour.distance(shapely.Point(span.mean(axis=0))) > 0.1


@pytest.mark.parametrize(("name", "y"), DEMO[::3])
def test_the_sphere_drawn_rests_on_bonnet_and_windscreen(name: str, y: float) -> None:
    # The sphere rests in space (tests/unit/test_tool_poses.py): its centre may stand beside the
    # section, whose plane then cuts it in a smaller circle. The facets on either side of a
    # station lean apart by a little, and the line is the mean of both.
    ax = figure_of(name, y).axes[0]
    (circle,) = lines(ax, "sphere")
    centre = circle[:-1].mean(axis=0)
    section = screening(name).front.section(y)
    rear = screening(name).station(y).BRRL
    beside = rear.pose.centre[1] - y
    radius = math.sqrt(82.5**2 - beside**2)
    drawn = np.hypot(*(circle - centre).T)
    assert np.ptp(drawn) < 1e-6
    assert np.hypot(rear.x - centre[0], rear.z - centre[1]) == pytest.approx(drawn[0], abs=1e-6)
    assert drawn[0] == pytest.approx(radius, abs=5e-3)
    whole = shapely.LineString(section.points)
    assert whole.distance(shapely.Point(centre)) == pytest.approx(radius, abs=5e-3)
    # It touches the windscreen too, in the plane of its centre or beside it: never deeper.
    glass = shapely.LineString(section.points[section.part_mask("windscreen")])
    assert glass.distance(shapely.Point(centre)) >= radius - 5e-3
    assert glass.distance(shapely.Point(centre)) == pytest.approx(radius, abs=0.1 + 2 * abs(beside))


def test_part_runs_cover_the_contour_once() -> None:
    for section in (*PLOVER.sections, *AVOCET.sections):
        runs = part_runs(section)
        length = sum(np.hypot(*np.diff(points, axis=0).T).sum() for _, points in runs)
        assert length == pytest.approx(section.length, rel=1e-12)
        for (_, a), (_, b) in itertools.pairwise(runs):
            assert (a[-1] == b[0]).all()


# --- what is said ----------------------------------------------------------------------


@pytest.mark.parametrize(("name", "y"), DEMO[::4])
def test_side_view_says_what_it_shows(name: str, y: float) -> None:
    figure, station = figure_of(name, y), screening(name).station(y)
    said = words(figure)
    side = figure.axes[0]
    for line in station.lines:
        full = f"{LINE_NAMES[line.name]} ({line.name})"
        labels = [t.get_text() for t in side.texts if full in t.get_text()]
        assert len(labels) == 1
        assert f"height {line.z:.0f} mm, setback {line.x:.0f} mm" in labels[0]
    for wad in station.wads:
        labels = [t.get_text() for t in side.texts if t.get_text().startswith(f"{wad.name}\n")]
        assert len(labels) == 1
        assert f"height {wad.z:.0f} mm\nsetback {wad.x:.0f} mm" in labels[0]
    assert f"Bumper lead {station.BLERL.x - station.UBRL.x:.0f} mm" in said
    assert "wrap-around distance (WAD)" in said
    assert "sphere of 165 mm" in said
    for part in set(screening(name).front.section(y).parts):
        assert part in said
    assert name in said
    assert f"station {y:.0f} mm" in said
    assert "UN-R127-02" in said
    assert CAUTION_SHORT in said


def test_face_panel_tells_lips_recess_and_undercut() -> None:
    # Foremost 19.5 at the upper lip; lower lip and recess read from the table of offsets.
    section = PLOVER.sections[0]
    face = section.face
    said = "\n".join(t.get_text() for t in figure_of("Plover", 0.0).axes[1].texts)
    foremost = section.x[section.z < 700].min()
    assert "Upper lip: at the plumb line" in said
    assert f"Lower lip: {face.lower_lip[0] - foremost:.1f} mm" in said
    assert f"{face.recess[0] - foremost:.1f} mm behind\nthe plumb line" in said
    assert f"Undercut {face.lower_lip[0] - face.upper_lip[0]:.1f} mm" in said
    (string,) = lines(figure_of("Plover", 0.0).axes[1], "string")
    # The depth is horizontal; square to the string it is shorter by the lean of the string.
    lean = math.atan2(*(string[1] - string[0]))
    square = shapely.LineString(string).distance(shapely.Point(face.recess))
    assert square == pytest.approx(face.recess_depth_mm * math.cos(lean), abs=1e-9)


@pytest.mark.parametrize(
    ("name", "expected"),
    [
        ("tall", "edge end"),
        ("low nose", "lower end of the edge touches"),
        ("inclined", "WAD 1000 taken instead"),
        ("along", "retaken at 40 deg"),
    ],
)
def test_other_statuses_are_said_in_the_label_and_explained(name: str, expected: str) -> None:
    side = figure_of(name).axes[0]
    labels = [t.get_text() for t in side.texts if t.get_gid() == LABEL]
    assert sum(expected in label for label in labels) == 1
    (note,) = [t.get_text() for t in side.texts if t.get_gid() == NOTE]
    for line in screening(name).stations[0].lines:
        if line.reason:
            assert line.name in note
            assert line.reason in " ".join(note.split())


def test_missing_lines_are_listed_with_their_reason() -> None:
    (note,) = [t.get_text() for t in figure_of("scrap").axes[0].texts if t.get_gid() == NOTE]
    flat = " ".join(note.split())
    missing = screening("scrap").stations[0].missing
    assert len(missing) == 7
    for text in missing:
        name, _, reason = text.partition(": ")
        assert name in flat
        assert reason in flat
    assert "Bumper lead" not in words(figure_of("scrap"))


def test_local_datum_has_no_plan_view() -> None:
    said = words(overview(screening("local datum")))
    assert "No plan view" in said
    assert "Plan view to scale" not in said
    assert "Plan view to scale" in words(overview(screening("Plover")))
    assert "datum set anew at each station" in words(figure_of("local datum"))


def test_overview_says_what_it_shows() -> None:
    said = words(overview(screening("Plover")))
    for expected in (*LINE_NAMES.values(), "425", "500", "upper legform", "WAD 2100",
                     "only the right half was measured", CAUTION_SHORT):  # fmt: skip
        assert expected in said
    leads = [s.BLERL.x - s.UBRL.x for s in screening("Plover").stations]
    assert f"{max(leads):.0f} mm" in said
    assert f"{min(leads):.0f} mm" in said


def test_given_axes_are_used_and_carry_the_caution() -> None:
    figure = Figure(figsize=(11, 7))
    ax = figure.add_axes((0.07, 0.25, 0.9, 0.68))
    assert side_view(screening("Plover"), 300.0, ax) is ax
    assert len(figure.axes) == 1
    assert " ".join(CAUTION_SHORT.split()) in " ".join(words(figure).split())
    assert_legible(figure)
    other = Figure(figsize=(5, 8)).add_axes((0.15, 0.2, 0.8, 0.7))
    assert face_view(screening("Plover"), 300.0, other) is other
    own = Figure()
    assert overview(screening("Plover"), own) is own


def test_a_dollar_sign_in_a_name_is_no_formula() -> None:
    (title,) = [t for t in texts(figure_of("dollar")) if t.get_gid() == "title"]
    assert "$very$ long \\name_ ??" in title.get_text()
    assert not title.get_parse_math()


def test_face_view_alone_is_legible() -> None:
    for name in ("Plover", "dollar"):
        figure = face_view(screening(name), 0.0).get_figure()
        assert_legible(figure)
        assert CAUTION_SHORT in " ".join(words(figure).split())


def test_unknown_station_is_refused() -> None:
    with pytest.raises(KeyError, match="no station at 1 mm"):
        side_view(screening("Plover"), 1.0)


@pytest.mark.parametrize(
    ("only", "others"),
    [
        (["LBRL"], ["(UBRL)", "(BLERL)", "(BRRL)", "WAD", "lead"]),
        (["BRRL", "WAD 1500"], ["(UBRL)", "(LBRL)", "(BLERL)", "WAD 1000", "lead"]),
        (["bumper lead"], ["(UBRL)", "(LBRL)", "(BLERL)", "(BRRL)", "WAD", "straight edge 700"]),
    ],
)
def test_what_alone_is_asked_for_alone_is_drawn(only, others) -> None:
    ax = side_view(screening("Plover"), 0.0, only=only, size=(6.0, 5.0))
    labels = " ".join(t.get_text() for t in ax.texts if t.get_gid() == LABEL)
    assert all(name.lower() in labels.lower() for name in only)
    assert not [name for name in others if name in labels]
    figure = ax.get_figure()
    assert len(figure.axes) == 1
    assert CAUTION_SHORT in " ".join(words(figure).split())


def test_what_is_not_there_cannot_be_drawn_alone() -> None:
    with pytest.raises(KeyError, match="no line or mark 'WAD 1234'; there are"):
        side_view(screening("Plover"), 0.0, only=["WAD 1234"])


def test_millimetres_has_a_true_minus_and_no_minus_zero() -> None:
    assert millimetres(-0.04, 1) == "0.0 mm"
    assert millimetres(-5.4) == "\u22125 mm"


# --- in grey, and for readers who do not tell red from green ------------------------------


def grey(color: str) -> float:
    """Relative luminance: W3C, Web Content Accessibility Guidelines (WCAG) 2.1, 2018 (sRGB)."""
    linear = [c / 12.92 if c <= 0.04045 else ((c + 0.055) / 1.055) ** 2.4 for c in to_rgb(color)]
    return float(np.dot((0.2126, 0.7152, 0.0722), linear))


@pytest.mark.parametrize("strokes", [look.PART_STYLES, look.LINE_STYLES], ids=["parts", "lines"])
def test_no_two_strokes_differ_in_hue_only(strokes: dict[str, look.Stroke]) -> None:
    for (a, p), (b, q) in itertools.combinations(strokes.items(), 2):
        other_shape = p.dashes != q.dashes or p.marker != q.marker or abs(p.width - q.width) >= 0.6
        lighter = (max(grey(p.color), grey(q.color)) + 0.05) / (
            min(grey(p.color), grey(q.color)) + 0.05
        )
        assert other_shape or lighter >= 1.5, f"{a} and {b}"


def test_text_has_contrast_enough() -> None:
    # WCAG 2.1, 1.4.3: at least 4.5 to 1 for text of this size.
    colors = [look.INK, look.MUTED, look.FACE, look.LEAD,
              *(stroke.color for stroke in look.LINE_STYLES.values())]  # fmt: skip
    for color in colors:
        assert 1.05 / (grey(color) + 0.05) >= 4.5, color


# --- bytes -----------------------------------------------------------------------------


PROGRAM = """
import hashlib, sys
import frontcheck
from frontcheck.outputs.figures.side_view import figure_bytes, overview, side_view_figure
result = frontcheck.screen(frontcheck.read_front(sys.argv[1]))
for figure in (side_view_figure(result, 0.0), overview(result)):
    for kind in ("svg", "png"):
        print(hashlib.sha256(figure_bytes(figure, kind)).hexdigest())
assert "matplotlib.pyplot" not in sys.modules
"""


def test_same_bytes_in_every_process_and_no_pyplot() -> None:
    outs = []
    for seed in ("1", "2"):
        done = subprocess.run(
            [sys.executable, "-c", PROGRAM, str(GEOMETRIES / "plover.csv")],
            env={**os.environ, "PYTHONHASHSEED": seed},
            capture_output=True, text=True, check=True,
        )  # fmt: skip
        outs.append(done.stdout.split())
    result = screening("Plover")
    here = [
        hashlib.sha256(figure_bytes(figure, kind)).hexdigest()
        for figure in (side_view_figure(result, 0.0), overview(result))
        for kind in ("svg", "png")
    ]
    assert outs[0] == outs[1] == here
    assert len(set(here)) == 4


def test_settings_of_the_caller_neither_leak_in_nor_change() -> None:
    plain = figure_bytes(side_view_figure(screening("tall"), 0.0))
    changes = {"font.size": 20.0, "lines.linewidth": 9.0, "axes.grid": True, "svg.fonttype": "none"}
    with mpl.rc_context(changes):
        before = dict(mpl.rcParams)
        assert figure_bytes(side_view_figure(screening("tall"), 0.0)) == plain
        assert dict(mpl.rcParams) == before


def test_files_carry_the_caution_and_no_date() -> None:
    svg = figure_bytes(figure_of("tall"), "svg").decode()
    assert "not a prediction of injury" in " ".join(svg.split())
    assert "dc:date" not in svg
    assert "Lower bumper reference line (LBRL)" in svg  # the words, beside their outlines
    png = figure_bytes(figure_of("tall"), "png")
    assert b"not a prediction of injury" in png
    assert b"Matplotlib" not in png


def test_a_png_with_a_palette_shows_the_colours_drawn() -> None:
    figure = figure_of("tall")
    drawn = io.BytesIO()
    with look.house_style():
        figure.savefig(drawn, format="png", dpi=150.0)  # every colour, by the drawing library
    whole = np.asarray(Image.open(drawn).convert("RGB"), dtype=float)
    png = Image.open(io.BytesIO(figure_bytes(figure, "png")))
    few = np.asarray(png.convert("RGB"), dtype=float)
    assert few.shape == whole.shape
    off = np.abs(few - whole).max(axis=-1)
    # Of 256 steps: on the whole none, and on the rim of a letter no more than an eye can tell.
    assert off.mean() < 0.2
    assert np.quantile(off, 0.999) < 20.0
    assert (few[0, 0] == whole[0, 0]).all()  # paper stays white
    assert png.info["dpi"] == pytest.approx((150.0, 150.0), abs=0.1)


def test_save_writes_both_and_nothing_half(tmp_path: Path) -> None:
    figure = figure_of("tall")
    written = save(figure, tmp_path / "side.y0")
    assert [path.name for path in written] == ["side.y0.svg", "side.y0.png"]
    assert sorted(path.name for path in tmp_path.iterdir()) == ["side.y0.png", "side.y0.svg"]
    with pytest.raises(ValueError, match="'svg' or 'png'"):
        save(figure, tmp_path / "other", ("svg", "bmp"))
    with pytest.raises(OutputError, match="cannot be written"):
        save(figure, tmp_path / "missing" / "x")
    assert len(list(tmp_path.iterdir())) == 2


# --- placing labels ----------------------------------------------------------------------


requests = st.lists(
    st.builds(
        Request,
        width=st.floats(10, 150),
        height=st.floats(8, 50),
        anchor=st.none() | st.tuples(st.floats(50, 950), st.floats(50, 650)),
        prefer=st.tuples(st.floats(-1, 1), st.floats(-1, 1)),
    ),
    min_size=1,
    max_size=12,
)


@settings(max_examples=30)
@given(requests, st.integers(0, 2**31))
def test_labels_never_overlap_nor_leave_the_frame(wanted: list[Request], seed: int) -> None:
    # 12 boxes of 150 x 50 with their gaps fill a tenth of this frame: there is always room.
    walk = np.random.default_rng(seed).uniform(0, 1000, (20, 2))
    obstacles = np.stack([walk[:-1], walk[1:]], axis=1)
    frame = (0.0, 0.0, 1000.0, 700.0)
    places = arrange(wanted, frame, obstacles)
    assert places == arrange(wanted, frame, obstacles)
    boxes = []
    for request, place in zip(wanted, places, strict=True):
        box = shapely.box(place.x, place.y, place.x + request.width, place.y + request.height)
        assert place.free
        assert shapely.box(*frame).buffer(1e-6).covers(box)
        assert (place.leader is None) == (request.anchor is None)
        if place.leader is not None:
            end = shapely.Point(place.leader)
            assert box.distance(end) < 1e-6
            assert end.distance(shapely.Point(request.anchor)) == pytest.approx(
                box.distance(shapely.Point(request.anchor)), abs=1e-6
            )
        boxes.append(box)
    for a, b in itertools.combinations(boxes, 2):
        assert a.distance(b) >= 4.0 - 1e-6


def test_labels_without_room_say_so() -> None:
    crowd = [Request(60.0, 30.0, (50.0, 50.0)) for _ in range(8)]
    places = arrange(crowd, (0.0, 0.0, 100.0, 100.0), np.zeros((0, 2, 2)))
    assert not all(place.free for place in places)
    assert arrange([], (0.0, 0.0, 1.0, 1.0), np.zeros((0, 2, 2))) == ()


def test_labels_keep_off_lines_when_there_is_room() -> None:
    line = np.array([[(0.0, 100.0), (400.0, 100.0)]])
    (place,) = arrange([Request(80.0, 20.0, (200.0, 100.0), (0.0, -1.0))], (0, 0, 400, 200), line)
    assert place.y + 20.0 < 100.0


def test_annotations_of_dimensions_carry_no_text() -> None:
    arrows = [t for t in figure_of("Plover", 0.0).axes[0].texts if isinstance(t, Annotation)]
    assert arrows
    assert all(not arrow.get_text() for arrow in arrows)
