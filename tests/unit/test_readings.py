"""Tables of ranges and angles, of two tapes and of comb pieces: read, and refused with reasons."""

from __future__ import annotations

import csv

import numpy as np
import pytest
from spreadsheets import workbook

from frontcheck.errors import ContourError, InputError
from frontcheck.reading.readers import read_front
from frontcheck.surface.section import Section

POLAR = {"datum": "common", "origin": "-900 mm, 620 mm", "range_u": "1.5 mm", "angle_u_deg": "0.1"}
TAPES = {
    "datum": "common", "ground_mark_a": "-500 mm", "ground_mark_b": "-1500 mm, 0 mm",
    "tape_u": "1.5 mm",
}  # fmt: skip
COMB = {"datum": "common", "comb_u": "0.5 mm", "height_u": "2 mm", "setback_u": "1.5 mm"}


@pytest.fixture
def read(tmp_path):
    def read(keys, header, rows):
        path = tmp_path / "front.csv"
        top = "".join(f"# {key}: {value}\n" for key, value in keys.items())
        lines = (",".join(map(str, row)) for row in [header, *rows])
        path.write_text(top + "\n".join(lines) + "\n")
        return read_front(path)

    return read


@pytest.fixture(scope="module")
def plover(geometries):
    lines = list(csv.reader((geometries / "plover.csv").read_text("utf-8").splitlines()))
    rows = [row for row in lines if not row[0].startswith("#")][1:]
    return [(float(y), float(z), float(x), part) for y, z, x, part in rows]


def polar_rows(plover):
    places = np.array([(x + 900, z - 620) for _, z, x, _ in plover])
    ranges, angles = np.hypot(*places.T), np.degrees(np.arctan2(places[:, 1], places[:, 0]))
    return [(y, r, a, part) for (y, *_, part), r, a in zip(plover, ranges, angles, strict=True)]


def tape_rows(plover):
    return [
        (y, float(np.hypot(x + 500, z)), float(np.hypot(x + 1500, z)), part)
        for y, z, x, part in plover
    ]


@pytest.mark.parametrize("kind", ["polar", "tapes"])
def test_plover_comes_back(kind, plover, read, geometries):
    """The same points, and so the same lines, as the table of heights and setbacks."""
    header = {"polar": "range_mm,angle_deg", "tapes": "tape_a_mm,tape_b_mm"}[kind].split(",")
    rows = polar_rows(plover) if kind == "polar" else tape_rows(plover)
    keys = (POLAR if kind == "polar" else TAPES) | {"symmetric": "yes", "name": "Plover"}
    found = read(keys, ["station_mm", *header, "part"], rows)
    known = read_front(geometries / "plover.csv")
    for ours, theirs in zip(found.sections, known.sections, strict=True):
        np.testing.assert_allclose(ours.points, theirs.points, atol=1e-6)
        assert ours.parts == theirs.parts
        assert ours.correlation is not None
        assert (ours.height_u > 0.1).all()
        # A front seen from the other side has the same errors.
        assert np.array_equal(ours.mirrored().correlation, ours.correlation)
    assert found.datum == "common"
    assert any(note.startswith("Worked out from") for note in found.reader_notes)


def test_units_and_spreadsheets_hold_here_too(tmp_path):
    places = np.array([(60, 250), (0, 500), (80, 800), (900, 950)], dtype=float)
    away = places - (-900, 620)
    rows = [[0, float(np.hypot(*p)) / 10, float(np.degrees(np.arctan2(p[1], p[0])))] for p in away]
    top = [
        ["datum", "common"], ["Origin", "-90 cm, 62 cm"], ["range u (mm)", 1.5],
        ["Angle u (deg)", 0.1], ["Station (mm)", "Range [cm]", "Angle (°)"],
    ]  # fmt: skip
    path = tmp_path / "front.xlsx"
    path.write_bytes(workbook([*top, *rows]))
    section = read_front(path).sections[0]
    np.testing.assert_allclose(section.points, places, atol=1e-9)
    a = np.radians(rows[0][2])
    expected = np.hypot(np.cos(a) * 1.5, rows[0][1] * 10 * np.sin(a) * np.radians(0.1))
    assert section.setback_u[0] == pytest.approx(expected)


# ---- comb -----------------------------------------------------------------------------------

COMB_HEADER = (
    "station_mm", "piece", "along_mm", "depth_mm", "mark", "height_mm", "setback_mm", "part",
)  # fmt: skip


def comb_of(points, anchors=(0, -1), length=250.0, overlap=100.0, exact=True):
    """Pieces of a contour: each in a frame of its own, points in an overlap under the same mark."""
    arc = np.concatenate([[0.0], np.cumsum(np.hypot(*np.diff(points, axis=0).T))])
    pieces, start = [], 0.0
    while start < arc[-1] - overlap or not pieces:
        pieces.append([i for i, s in enumerate(arc) if start <= s <= start + length])
        start += length - overlap
    anchors = [i % len(points) for i in anchors]
    done, rows = set(), []
    for k, piece in enumerate(pieces):
        here = points[piece] - points[piece[0]]
        way = here[-1] / np.hypot(*here[-1])
        # Along runs as the contour does; depth counts to its right, into the body.
        along, depth = here @ way, here @ np.array([way[1], -way[0]])
        for i, a, d in zip(piece, along, depth, strict=True):
            anchor = i in anchors and i not in done
            done.add(i)
            x, z = points[i]
            place = (f"{z:.9f}", f"{x:.9f}") if anchor else ("", "")
            rows.append((0, chr(65 + k), f"{a + 7:.9f}", f"{d + 3:.9f}", f"m{i}", *place, ""))
    return rows, pieces


def smooth(step=10.0):
    """A front of 12 pieces or so: up a face with a belly, and over a bonnet."""
    s = np.arange(0.0, 1500.0, step)
    turn = np.radians(100 - 75 / (1 + np.exp(-(s - 600) / 60)) + 12 * np.sin(s / 90))
    steps = step * np.stack([np.cos(turn), np.sin(turn)], axis=1)
    return np.array([80.0, 150.0]) + np.cumsum(steps, axis=0)


def without_part(rows):
    return [row[:-1] for row in rows]


def test_pieces_of_a_comb_come_together_again(read):
    points = smooth()
    rows, pieces = comb_of(points, anchors=(0, 20, 60, 100, -1))
    front = read(COMB, COMB_HEADER[:-1], without_part(rows))
    section = front.sections[0]
    np.testing.assert_allclose(section.points, points, atol=1e-6)
    assert len(pieces) > 8
    left = len(rows) - len(points)
    assert f"Left out where pieces overlap: {left} rows." in front.reader_notes
    # Anchored ends are about as sure as their tape, nothing is surer than the comb itself.
    assert (section.setback_u > 0.5).all()
    assert section.setback_u[0] < 2.0


def test_between_anchors_a_comb_is_less_sure(read):
    points = smooth()
    rows, _ = comb_of(points, anchors=(0, 20, 60, 100, -1))
    sparse, _ = comb_of(points, anchors=(0, 45, 90, -1))
    many, few = (
        read(COMB, COMB_HEADER[:-1], without_part(each)).sections[0] for each in (rows, sparse)
    )
    assert many.setback_u.max() < few.setback_u.max()


def test_an_overlap_of_80_mm_that_reads_a_little_short_is_taken(read):
    """Where the contour bends its marks lie closer than along it, and readings stray by 0.5 mm."""
    rows = comb_case(anchors=(0, 20, 60, 100, -1), overlap=85)  # 9 marks, 80 mm apart
    assert len(read(COMB, COMB_HEADER[:-1], rows).sections[0]) == len(smooth())


def changed(rows, where, column, value):
    rows = [list(row) for row in rows]
    for i in [where] if isinstance(where, int) else where:
        rows[i][COMB_HEADER.index(column)] = value
    return rows


def comb_case(**options):
    return without_part(comb_of(smooth(), **options)[0])


def test_a_comb_refused_for_what_it_cannot_tell(read):
    good = comb_case(anchors=(0, 20, 60, 100, -1))
    names = [row[1] for row in good]
    first_b = names.index("B")
    anchored = next(i for i, row in enumerate(good) if i and row[5])
    cases = [
        (comb_case(anchors=(0, 20, 60, 100, -1), overlap=70), "overlap by at least 80 mm"),
        (changed(good, range(first_b, names.index("C")), "mark", ""), "0 common marks over 0 mm"),
        (comb_case(anchors=(0, 8)), r"pieces \w to \w \(4\) without an anchor; .* every 4 pieces"),
        (comb_case(anchors=(0,)), "without an anchor"),
        (changed(good, anchored, "setback_mm", ""), "only one of height and setback"),
        (changed(good, first_b + 1, "mark", good[first_b][4]), "twice in one piece"),
        (changed(good, len(good) - 1, "piece", "A"), "piece 'A' a second time"),
        (changed(good, anchored, "setback_mm", good[anchored][6].replace(".", "9.")), "times its"),
        (changed(good, first_b + 2, "depth_mm", "63"), "times its standard uncertainty"),
        (changed(good, 3, "depth_mm", ""), "blank cell"),
    ]
    for rows, says in cases:
        with pytest.raises(InputError, match=says) as caught:
            read(COMB, COMB_HEADER[:-1], rows)
        assert caught.value.row
    with pytest.raises(InputError, match=r"such as 0\.5 mm"):
        read(COMB | {"comb_u": "0 mm"}, COMB_HEADER[:-1], good)
    one_piece = comb_case(anchors=(0, 3))[:20]
    with pytest.raises(InputError, match="80 mm or more apart"):
        read(COMB, COMB_HEADER[:-1], one_piece)


def test_depth_counted_out_of_the_body_does_not_fit(read):
    rows = comb_case(anchors=(0, 20, 60, 100, -1))
    turned = [(*row[:3], f"{-float(row[3]):.9f}", *row[4:]) for row in rows]
    with pytest.raises(InputError, match="positive into the body"):
        read(COMB, COMB_HEADER[:-1], turned)


# ---- headers --------------------------------------------------------------------------------

HEADER = ("station_mm", "range_mm", "angle_deg")
ROWS = [(0, 1030, -20), (0, 910, -8), (0, 1050, 8), (0, 1900, 11)]
REFUSED = {
    "no origin": ({"origin": None}, HEADER, ROWS, "no origin above the table", "origin: -900 mm"),
    "no u": ({"range_u": None}, HEADER, ROWS, "no range_u above", "1.5 mm"),
    "u of other readings": ({"height_u": "2 mm"}, HEADER, ROWS, "height_u, which", "range_u"),
    "key of other readings": ({"tape_u": "2 mm"}, HEADER, ROWS, "tape_u, which", "delete"),
    "one length": ({"origin": "-900 mm"}, HEADER, ROWS, "'-900 mm'", "-900 mm, 620 mm"),
    "no unit": ({"origin": "-900, 620"}, HEADER, ROWS, "'-900'", "mm, cm, m, in"),
    "negative u": ({"range_u": "-1 mm"}, HEADER, ROWS, "-1 mm", "unit"),
    "negative range": ({}, HEADER, [*ROWS[:3], (0, -5, 3)], "-5 mm", "above 0"),
    "below ground": ({}, HEADER, [(0, 1030, -80), *ROWS[1:]], "below the ground", "level"),
    "angle in radians": ({}, (*HEADER[:2], "angle_rad"), ROWS, "'rad'", "convert"),
    "angle without unit": ({}, (*HEADER[:2], "angle"), ROWS, "'angle' without", "angle_deg"),
    "no angle": ({}, ("station_mm", "range_mm", "part"), ROWS, "no column for angle", "angle_deg"),
    "downwards": ({}, HEADER, ROWS[::-1], "not above its first row", "underside up"),
}  # fmt: skip


@pytest.mark.parametrize("case", REFUSED)
def test_refused(case, read):
    keys, header, rows, found, told = REFUSED[case]
    stated = {key: value for key, value in (POLAR | keys).items() if value is not None}
    with pytest.raises(InputError) as caught:
        read(stated, header, rows)
    assert found in caught.value.found
    assert told in str(caught.value)
    assert caught.value.row


def test_tapes_refused(read):
    header = ("station_mm", "tape_a_mm", "tape_b_mm")
    rows = tape_rows([(0, 250, 60, ""), (0, 500, 0, ""), (0, 800, 80, "")])
    rows = [row[:3] for row in rows]
    assert read(TAPES, header, rows).stations == (0.0,)
    with pytest.raises(InputError, match="marks 1000 mm apart") as caught:
        read(TAPES, header, [*rows[:2], (0, 300, 1900)])
    assert (caught.value.row, caught.value.column) == (8, "tape_b_mm")
    with pytest.raises(InputError, match="same setback"):
        read(TAPES | {"ground_mark_b": "-500 mm"}, header, rows)


def test_keys_of_readings_are_no_keys_of_an_offset_table(read):
    header = ("station_mm", "height_mm", "setback_mm")
    with pytest.raises(InputError, match="origin, which does not go with these columns"):
        read(POLAR, header, [(0, 250, 60), (0, 500, 0), (0, 800, 80)])


@pytest.mark.parametrize("wrong", [[0.5], [0.0, 0.0, 1.5], [0.0, np.nan, 0.0], [[0.0] * 3]])
def test_correlations_of_a_section_are_checked(wrong):
    points = [(60, 200), (0, 500), (80, 800)]
    with pytest.raises(ContourError, match="3 numbers from -1 to 1"):
        Section(points, correlation=wrong)
    points.insert(1, (20, 300))
    section = Section(points, parts=["", "ignore", "", ""], correlation=[0.5, 0.0, -1.0, 0.0])
    assert section.correlation.tolist() == [0.5, -1.0, 0.0]
