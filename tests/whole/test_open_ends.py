"""Every output says of a value that an open end could change that it is not known.

The ends are planted: the same front, once as it is and once with lines of its centre plane marked,
so that whatever differs comes from the statuses. What each output leaves is read back as text.
"""

from __future__ import annotations

import csv
import io
import json
import re
from functools import cache
from pathlib import Path

import ezdxf
import numpy as np
import pytest
from matplotlib.text import Text
from open_ends import closed, opened
from pictures.test_figures import assert_legible

import frontcheck
from frontcheck.findings.explanations import KINDS, explanations
from frontcheck.lines import statuses
from frontcheck.lines.line_values import STATUSES
from frontcheck.outputs.annex import annex_sections
from frontcheck.outputs.annex.annex import changes
from frontcheck.outputs.annex.annex_page import viewer_html
from frontcheck.outputs.annex.annex_text import Bullets, Facts, Paragraph, Table
from frontcheck.outputs.documents.exports import stations_csv
from frontcheck.outputs.documents.exports_dxf import dxf_bytes
from frontcheck.outputs.documents.result_files import changes_csv, lines_csv
from frontcheck.outputs.figures.findings_figures import head_map
from frontcheck.outputs.figures.leg_figure import leg_figure
from frontcheck.outputs.figures.plan_figures import bonnet_map, front_view, plan_view
from frontcheck.outputs.figures.side_view import face_view, overview, side_view_figure
from frontcheck.outputs.text.comparison_text import comparison_text
from frontcheck.outputs.text.terminal import Plain, Ruled
from frontcheck.people.people import PEOPLE

GEOMETRIES = Path(__file__).resolve().parents[2] / "geometries"
NAMES = ("LBRL", "BLERL", "BRRL", "WAD 1000")


@cache
def screenings() -> dict[str, frontcheck.Screening]:
    plain, other = (
        closed(frontcheck.screen(frontcheck.read_front(GEOMETRIES / f"{name}.csv")))
        for name in ("plover", "avocet")
    )
    return {"plain": plain, "open": opened(plain, *NAMES), "other": other}


@cache
def comparison(kind: str) -> frontcheck.Comparison:
    return frontcheck.compare(screenings()["other"], screenings()[kind])


def words(figure) -> str:
    texts = figure.findobj(lambda artist: isinstance(artist, Text) and artist.get_visible())
    return "\n".join(text.get_text() for text in texts)


def figure_of(ax):
    return ax.get_figure(root=True)


def said(*blocks) -> str:
    """All that sections of the annex say, figures apart."""
    parts = []
    for block in blocks:
        if isinstance(block, Paragraph):
            parts.append(block.text)
        elif isinstance(block, Bullets):
            parts += block.items
        elif isinstance(block, Facts):
            parts += [f"{name}: {value}" for name, value in block.pairs]
        elif isinstance(block, Table):
            parts += [" ".join(row) for row in block.rows]
            parts += [note for note in block.notes if not note.startswith("* status")]
    return "\n".join(parts)


def dxf_text(screening: frontcheck.Screening) -> str:
    document = ezdxf.read(io.StringIO(dxf_bytes(screening.zones).decode()))
    notes = [text.plain_text() for text in document.modelspace().query("MTEXT")]
    return "\n".join([*notes, *(layer.dxf.name for layer in document.layers)])


FIGURES = {
    "side view": lambda s: side_view_figure(s, 0.0),
    "face": lambda s: figure_of(face_view(s, 0.0)),
    "overview": overview,
    "plan": lambda s: figure_of(plan_view(s, s.zones)),
    "front view": lambda s: figure_of(front_view(s, s.zones)),
    "bonnet map": lambda s: figure_of(bonnet_map(s, s.zones)),
    "head map": lambda s: head_map(s, s.head),
    "leg": lambda s: leg_figure(s, 0.0, PEOPLE[-2]),
}
OUTPUTS = {
    "terminal": lambda s: Plain().screening(s),
    "terminal, ruled": lambda s: Ruled(140).screening(s),
    "annex, lines": lambda s: said(*annex_sections.reference_lines(s).blocks),
    "annex, areas": lambda s: said(*annex_sections.test_areas(s, ()).blocks),
    "page": lambda s: viewer_html(s, ()),
    "table of stations": lambda s: stations_csv(s).decode(),
    "table of lines": lambda s: lines_csv(s).decode(),
    "drawing": dxf_text,
    "document": lambda s: json.dumps(s.to_dict()),
}
COMPARED = {
    "terminal": lambda c: comparison_text(Plain(), c),
    "annex": lambda c: said(*changes(c, ()).blocks[:-2]),
    "table": lambda c: changes_csv(c).decode(),
    "document": lambda c: json.dumps(c.to_dict()),
    "overlay": lambda c: words(frontcheck.overlay_figure(c, y=0)),
    "changes": lambda c: words(frontcheck.changes_figure(c)),
    "distances": lambda c: words(frontcheck.distance_figure(frontcheck.compare(c.b, c.a))),
}


@cache
def drawn(name: str, kind: str):
    return FIGURES[name](screenings()[kind])


def output(name: str, kind: str) -> str:
    return words(drawn(name, kind)) if name in FIGURES else OUTPUTS[name](screenings()[kind])


SAYS = re.compile("open[ _]end", re.IGNORECASE)
# Words that stand below every plan: what hollow and dashed would mean.
EXPLAINED = re.compile("Hollow: tip of the tool, or open end[^.]*")


@pytest.mark.parametrize("name", [*OUTPUTS, *FIGURES])
def test_an_open_end_is_said_and_nothing_where_there_is_none(name: str) -> None:
    with_ends, without = (output(name, kind) for kind in ("open", "plain"))
    assert SAYS.search(EXPLAINED.sub("", with_ends))
    assert not SAYS.search(EXPLAINED.sub("", without))


@pytest.mark.parametrize("name", COMPARED)
def test_a_change_to_an_open_end_is_not_known(name: str) -> None:
    with_ends, without = (COMPARED[name](comparison(kind)) for kind in ("open", "plain"))
    assert SAYS.search(with_ends)
    assert not SAYS.search(without)


@pytest.mark.parametrize("name", [n for n in COMPARED if n != "distances"])
def test_where_it_is_not_known_is_said(name: str) -> None:
    text = COMPARED[name](comparison("open"))
    # The distances are between the contours; of lines they only show places.
    assert "not known: open end" in text
    if name != "changes":
        assert "not known: open end in B" in text


@pytest.mark.parametrize("name", FIGURES)
def test_figures_speak_in_words_and_stay_legible(name: str) -> None:
    for kind in ("open", "plain"):
        figure = drawn(name, kind)
        assert not [code for code in STATUSES if "_" in code and code in words(figure)]
        if name in ("side view", "overview", "plan", "front view"):
            assert_legible(figure)


def test_no_open_value_looks_like_a_known_one_on_the_terminal() -> None:
    first = " ".join(Plain().screening(screenings()["open"]).split())
    text = Plain().screening(screenings()["open"], show="stations")
    row = next(line for line in text.splitlines() if line.startswith("0 "))
    station = screenings()["open"].station(0)
    for value in (station.LBRL.z, station.BLERL.z, station.bumper_lead, station.BRRL.x):
        assert f"({value:.1f}) o" in row
    for value in (station.LBRL.z, station.BLERL.z, station.BRRL.x):
        assert f"({value:.0f}, open end)" in first
    assert f" {station.UBRL.z:.1f} " in row
    assert f" {station.UBRL.z:.0f} up" in first
    assert f"({station.wad(1000).x:.1f}) o" in row
    assert "o, in brackets: open end: what lies beyond the measured surface could change it" in text
    areas = text.partition("Test areas")[2].partition("Input")[0]
    assert "(0.965 m2)" in areas
    assert "bounded by wrap-around distance (WAD) alone" in areas


def test_every_status_has_words_a_name_and_a_mark_or_none_needed() -> None:
    from frontcheck.outputs.text import terminal

    assert set(statuses.STATUS_WORDS) == set(statuses.STATUS_NAMES) == set(STATUSES)
    marked = {status for status in STATUSES if terminal._MARKS.get(status)}
    assert marked == set(STATUSES) - {"ok", "not_reached", "not_available"}
    assert len(set(terminal._MARKS.values())) == len(terminal._MARKS)
    listed = " ".join(Plain().explainable(KINDS, tuple(explanations().values())).split())
    for status, words in statuses.STATUS_WORDS.items():
        meaning = words.removeprefix("open end: ")  # the word itself stands to the left of it
        assert f" {status} {meaning} " in listed


def marker_faces(ax, at: tuple[float, float]) -> list[str]:
    """Insides of the markers drawn at one place."""
    return [
        line.get_markerfacecolor()
        for line in ax.get_lines()
        if line.get_marker() == "o"
        and len(line.get_xdata()) == 1
        and np.allclose([line.get_xdata()[0], line.get_ydata()[0]], at, atol=1e-9)
    ]


def test_markers_are_hollow_at_open_ends_and_filled_elsewhere() -> None:
    from frontcheck.outputs.figures.canvas import INK, PAPER

    for kind, names in (("open", NAMES), ("plain", ())):
        screening = screenings()[kind]
        ax = frontcheck.side_view(screening, 0)
        for line in screening.station(0).lines:
            faces = marker_faces(ax, line.point)
            assert faces == [PAPER if line.name in names else INK], line.name
        legend = figure_of(ax).legends[0]
        hollow = [text for text in legend.get_texts() if text.get_text().startswith("hollow")]
        assert len(hollow) == bool(names)


def test_areas_that_are_not_known_have_dashed_borders() -> None:
    for kind, dashed in (("open", True), ("plain", False)):
        ax = plan_view(screenings()[kind], screenings()[kind].zones)
        for name in ("child", "adult"):
            borders = [line for line in ax.get_lines() if line.get_gid() == f"area {name}"]
            assert borders
            assert all((line.get_linestyle() != "-") == dashed for line in borders)


def test_open_ends_lie_on_layers_of_their_own_and_nothing_is_lost() -> None:
    drawings = {}
    for kind in ("plain", "open"):
        zones = screenings()[kind].zones
        document = ezdxf.read(io.StringIO(dxf_bytes(zones).decode()))
        drawings[kind] = {
            layer: [
                np.array([v.dxf.location.xyz for v in line.vertices])
                for line in document.modelspace().query(f'POLYLINE[layer=="{layer}"]')
            ]
            for layer in ("BLERL", "BLERL OPEN END")
        }
    whole = drawings["plain"]["BLERL"]
    assert drawings["plain"]["BLERL OPEN END"] == []
    left, right = drawings["open"]["BLERL"]
    (middle,) = drawings["open"]["BLERL OPEN END"]
    # The stretch of the open end has the neighbours of the centre plane at its ends.
    assert middle[len(middle) // 2, 1] == 0.0
    assert len(middle) == 3
    joined = np.concatenate([left, middle[1:], right[1:]])
    assert np.array_equal(joined, np.concatenate(whole))


def test_changes_from_or_to_open_ends_have_no_number() -> None:
    both = comparison("open")
    rows = list(csv.DictReader(io.StringIO(changes_csv(both).decode())))
    of_lines = [row for row in rows if row["y_mm"] == "0.0" and row["group"] == "lines"]
    for row in of_lines:
        open_end = row["quantity"].startswith(("LBRL", "BLERL", "BRRL", "WAD_1000", "bumper_lead"))
        assert (row["change"] == "") == open_end, row["quantity"]
        assert (row["not_comparable"] == "not known: open end in B") == open_end
        assert row["a"]
        assert row["b"]
    assert both.changed
    # The same front, with and without the open end: that it is not known is a difference, but no
    # number is made of it.
    same = frontcheck.compare(screenings()["plain"], screenings()["open"]).station(0)
    change = same.change("BLERL_z_mm")
    assert (change.a, change.b, change.change) == (change.a, change.a, None)
    assert change.differs
    assert change.open_end == "B"


def test_draws_give_no_probability_of_an_open_end() -> None:
    a, b = screenings()["other"], screenings()["open"]
    drawn = frontcheck.compare(a, b, draws=200, settings=frontcheck.HAND_TOOLS)
    here, beside = drawn.station(0), drawn.station(100)
    assert here.change("BLERL_z_mm").u is None
    assert beside.change("BLERL_z_mm").u is not None
    names = {name for _, name, _ in here.chances}
    assert "UBRL_z_mm" in names
    assert not names & {"BLERL_z_mm", "LBRL_z_mm", "bumper_lead_mm"}


def test_findings_that_rest_on_an_open_end_say_so_and_no_others() -> None:
    plain, planted = (screenings()[kind] for kind in ("plain", "open"))
    assert not [f for f in plain.findings if "open end" in f.message]
    doubted = {f.code: f for f in planted.findings if "(open end: " in f.message}
    # At the centre plane LBRL, BLERL and BRRL are planted, which these compare with something;
    # the legform findings of Plover lie outboard of y = 500 mm, where every line is known, and
    # nothing is low from y = 100 mm on: at the centre the skin reaches below mid-shin.
    for code in ("LEG-SHORT-LEAD", "LEG-LOWER-LEGFORM", "BODY-EDGE-ABOVE-MASS"):
        assert code in doubted, code
    for code in (
        "LEG-NOTHING-LOW",
        "LEG-UNDERCUT",
        "LEG-LEGFORM-NEAR",
        "LEG-HIGH-BUMPER",
        "LEG-KNEE-FIRST",
    ):
        assert code not in doubted, code
    said = doubted["BODY-EDGE-ABOVE-MASS"].message
    assert "(open end: BLERL at y = 0 mm: what lies beyond" in said
    assert planted.answer.people[0].edge_against_centre_of_mass is None
    # Nothing else of a finding moves.
    by_code = {(f.code, f.station, f.person): f for f in plain.findings}
    for finding in planted.findings:
        before = by_code[finding.code, finding.station, finding.person]
        assert (finding.value, finding.rule) == (before.value, before.rule)
        said, _, note = finding.message.partition(" (open end: ")
        assert said.removesuffix(".") == before.message.removesuffix(".")
        assert note == "" or note.endswith("change it).")
