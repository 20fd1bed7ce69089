"""What the annex says of an input, its first page and beside its figures, in rare cases.

Stand-ins hold nothing but what is told; worked out by hand, own choice.
"""

from __future__ import annotations

from types import SimpleNamespace as Part

import pytest
from unit.test_first_screen_words import MET, ROW, shares, struck

from frontcheck.caution import CAUTION
from frontcheck.outputs.annex import annex_figures, annex_sections, first_page
from frontcheck.outputs.annex.annex_text import Bullets, Paragraph

DASH, MINUS = "\u2013", "\u2212"


def front(**more: object) -> Part:
    held = {
        "name": "Plover", "source": Part(file="", sha256="", kind="offsets"), "datum": "common",
        "symmetric": False, "stations": (-300.0, 0.0), "ground_slope_deg": -0.25, "method": "",
        "notes": "", "not_measured": "", "changes": (), "reader_notes": (), "row_u_mm": None,
        "drawn": "",
    }  # fmt: skip
    return Part(**(held | more))


def screening(**more: object) -> Part:
    rules = Part(id="X", title="Title", changed=(), constants=())
    held = {
        "front": front(), "doubts": (), "assumed": lambda **_: (), "rules": rules,
        "wad": (900.0,), "tape_start": "section", "motion": None, "unconfirmed": (),
        "zones": Part(surface="", options=Part(beam_ends_mm=None, grid_mm=62.5)),
        "stations": (Part(y=0.0, BLERL=Part(z=None)),),
    }  # fmt: skip
    return Part(**(held | more))


def facts(**more: object) -> dict[str, str]:
    return dict(annex_sections.front_facts(screening(front=front(**more)), "Input").pairs)


def test_what_is_known_of_an_input() -> None:
    plain = facts()
    assert plain.pop("Whether it looks like a front")
    assert plain == {
        "Name": "Plover", "File": "made in memory", "SHA-256 of the file": DASH,
        "Kind of input": "offsets",
        "Datum": "common: all setbacks are from one lateral line",
        "Symmetric": "no: given as a whole", "Stations y [mm]": f"{MINUS}300, 0",
        "Slope of the ground [deg]": f"{MINUS}0.25",
    }  # fmt: skip
    full = facts(
        source=Part(file="a.csv", sha256="abc", kind="mesh"), datum="local", symmetric=True,
        method="by hand", notes="A note.", not_measured="3 of 9 points proposed, not measured",
        changes=("one", "two"), reader_notes=("Read.", "Repaired."),
    )  # fmt: skip
    assert (full["File"], full["SHA-256 of the file"]) == ("a.csv", "abc")
    assert full["Symmetric"] == "yes: one half was given, the other is its mirror image"
    assert full["Datum"].startswith("local: the square was set anew at each station")
    assert (full["Method"], full["Notes in the file"]) == ("by hand", "A note.")
    assert full["Not measured"] == "3 of 9 points proposed, not measured"
    assert full["Changed from what was measured"] == "one; two"
    assert full["Detected or repaired by the reader"] == "Read. Repaired."


@pytest.mark.parametrize(("count", "words"), [(40, "0, 1, 2"), (41, "41 from 0.0 to 40.0")])
def test_many_stations_are_told_by_their_ends(count, words) -> None:
    assert facts(stations=tuple(map(float, range(count))))["Stations y [mm]"].startswith(words)


def test_settings_and_a_second_front() -> None:
    section = annex_sections.input_and_settings(screening())
    settings = dict(section.blocks[-1].pairs)
    assert settings == {
        "Rule set": "X: Title", "Constants set by the user": "none",
        "Wrap-around distances (WAD) [mm]": "900",
        "The tape stands": "below the foremost bumper point of each section",
        "Surface between stations": "none: no common datum",
        "Spacing of candidate points [mm]": "62.5", "Ends of the bumper beam [mm]": "not given",
    }  # fmt: skip
    zones = Part(surface="smooth", options=Part(beam_ends_mm=(-600.0, 600.0), grid_mm=50.0))
    other = screening(zones=zones, tape_start="vehicle",
                      rules=Part(id="X", title="T", changed=("a", "b")))  # fmt: skip
    section = annex_sections.input_and_settings(other, screening())
    settings = dict(section.blocks[-1].pairs)
    assert settings["Constants set by the user"] == "a, b"
    assert settings["The tape stands"] == "below the foremost point of the whole front"
    assert settings["Surface between stations"] == "smooth"
    assert settings["Ends of the bumper beam [mm]"] == f"y = {MINUS}600.0 to 600.0 mm"
    captions = [getattr(block, "caption", "") for block in section.blocks]
    assert captions[2:] == ["Input", "Input that it is compared with", "Settings"]


def test_a_front_without_findings_says_so() -> None:
    section = annex_sections.findings(Part(findings=(), answer=Part(standing="It stands.")))
    assert section.blocks[1:] == (Paragraph("It stands."), Paragraph("There is no finding."))


# --- the first page ------------------------------------------------------------------------------


class Rules(list):
    """Constants, with the name of their set."""

    id = "X"

    @property
    def constants(self) -> list[Part]:
        return list(self)


def rests(**more: object) -> dict[str, str]:
    ours = Rules([Part(provenance="text read"), Part(provenance="own choice"),
                  Part(provenance="text read")])  # fmt: skip
    return dict(first_page._rests_on(screening(**({"rules": ours} | more))).pairs)


def test_what_the_answer_rests_on() -> None:
    plain = rests()
    assert plain["Input"] == "made in memory, offsets; how exact the rows are is not stated"
    assert plain["Rule set"] == "X; 3 constants: 2 text read, 1 own choice"
    for name in ("SHA-256", "Not measured", "Not confirmed, but used", "People struck",
                 "Taken without being told"):  # fmt: skip
        assert name not in plain
    known = Part(file="a.csv", sha256="abc", kind="offsets")
    full = rests(
        front=front(source=known, method="by hand", row_u_mm=1.5), motion=Part(draws=64),
        unconfirmed=(Part(constant="a.b"), Part(constant="c.d")),
        assumed=lambda struck: ("One.", "Two.") if not struck else ("None.",),
        doubts=(Part(what="w", do="d"),),
    )  # fmt: skip
    assert full["Input"] == "a.csv, offsets; by hand; rows +/- 1.5 mm"
    assert (full["SHA-256"], full["Not confirmed, but used"]) == ("abc", "a.b, c.d")
    assert full["Taken without being told"] == "One. Two."
    assert full["People struck"] == "64 assumed cases each; their section lists all"
    assert full["Slips in the input"] != plain["Slips in the input"]


@pytest.mark.parametrize(("z", "edge"), [(790.4, " (790)"), (None, "")])
def test_people_on_the_first_page(z, edge) -> None:
    sure = struck(shares(carried=1.0), "carried up")
    rows = (ROW, MET.__class__(**(vars(MET) | {"band_mm": (900.4, 950.0), "motion": sure})))
    at = (Part(y=-40.0, BLERL=Part(z=z)),)
    table = first_page._people(screening(stations=at, answer=Part(people=rows)))
    assert table.caption == "Who meets what (station y = -40 mm), standing upright"
    assert table.header[3] == f"bonnet edge{edge} to balance point"
    assert [row[-1] for row in table.rows] == ["not known", "900 to 950"]
    study = Part(speed_km_h=40.0, draws=64)
    table = first_page._people(screening(stations=at, answer=Part(people=rows), motion=study))
    assert table.header[-1] == "struck at 40 km/h, of 64 cases"
    assert [row[-1] for row in table.rows] == ["not said", "carried up in 100 %"]


@pytest.mark.parametrize(("count", "shown"), [(0, 0), (1, 1), (3, 3), (4, 3), (9, 3)])
@pytest.mark.parametrize("full", [True, False])
def test_slips_come_first_and_the_caution_last(count, shown, full, monkeypatch) -> None:
    """At most three entries; what is left out is told with how to ask for it."""
    for name in ("_people", "_centre", "_rests_on"):
        monkeypatch.setattr(first_page, name, lambda _: None)
    answer = Part(lines=(), people=(), cannot_say=("One.",), next=(Part(do="Do."),))
    doubts = tuple(Part(what=f"slip {n}", do="look") for n in range(count))
    section = first_page.answer_section(screening(answer=answer, doubts=doubts), Part(), full=full)
    lists = [block for block in section.blocks if isinstance(block, Bullets)]
    titles = ["What stands out", "What a shape cannot say", "What to do next"]
    assert [block.title for block in lists][-3:] == titles
    assert [block.ordered for block in lists][-3:] == [False, False, True]
    assert lists[-3].items == ("Nothing beyond what holds for nearly every front.",)
    assert len(lists) == 3 + (count > 0)
    if count:
        assert lists[0].title == "Check first: what looks like a slip in the input"
        assert len(lists[0].items) == shown
        told = tuple(f"slip {n}; look" for n in range(count))
        assert lists[0].items[: 3 - (count > 3)] == told[: 3 - (count > 3)]
    if count > 3:
        assert lists[0].items[-1] == f"and {count - 2} more, under Input"
    caution, note = section.blocks[-2:]
    assert (caution.text, caution.voice) == (CAUTION, "caution")
    assert note.voice == "note"
    assert ("frontcheck annex --full" in note.text) == (not full)
    assert note.text.endswith("frontcheck annex --motion adds it.")
    done = screening(answer=answer, motion=Part())
    last = first_page.answer_section(done, Part(), full=True).blocks[-1]
    assert last.voice == "caution"


# --- beside figures ------------------------------------------------------------------------------


AWAY = " At another station (hollow point, dashed section) or without a place of its own:"


@pytest.mark.parametrize(
    ("bands", "here", "rest"),
    [
        ((1, 3), "1, 3.", f"{AWAY} 2."), ((), "none.", f"{AWAY} 1, 2, 3."),
        ((1, 2, 3), "1, 2, 3.", ""),
    ],
)  # fmt: skip
def test_the_figure_of_the_answer_says_which_lines_hold_where(bands, here, rest) -> None:
    marked = tuple(Part(number=n) for n in bands)
    of = Part(answer_bands={-300.0: marked}, answer=Part(lines=(1, 2, 3)))
    picture = annex_figures._answer(of, -300.0)
    assert picture.stem == "findings-ym0300"
    assert picture.caption == (
        f"Side view at station -300 mm, to scale. Lines marked here: {here}{rest}"
    )


def test_a_side_view_in_words() -> None:
    lines = (Part(name="UBRL", x=-4.6, z=520.4), Part(name="BRRL", x=None, z=None))
    words = annex_figures._side(Part(station=lambda _: Part(lines=lines)), 0.0).alt
    assert "UBRL at height 520 mm, setback -5 mm" in words
    assert "BRRL" not in words
    nothing = annex_figures._side(Part(station=lambda _: Part(lines=lines[1:])), 0.0)
    assert "no line could be formed" in nothing.alt


@pytest.mark.parametrize(
    ("grid", "points", "areas", "words"),
    [
        ((), None, (), None), ((), (), (), None),
        ((1,), None, (1.0, None), "child headform area 1.000 m\u00b2"),
        ((), (1,), (None, None), "no area could be formed"),
        ((1,), (1,), (1.0, 0.5),
         "child headform area 1.000 m\u00b2; adult headform area 0.500 m\u00b2"),
    ],
)  # fmt: skip
def test_a_head_map_only_where_something_is_on_it(grid, points, areas, words) -> None:
    settings = None if points is None else Part(hard_points=points)
    child, adult = (*areas, None, None)[:2]
    zones = Part(grid=grid, child_area=Part(name="child", area_m2=child),
                 adult_area=Part(name="adult", area_m2=adult))  # fmt: skip
    pictures = list(annex_figures._head(Part(finding_settings=settings, zones=zones)))
    assert len(pictures) == (words is not None)
    for picture in pictures:
        assert words in picture.alt


@pytest.mark.parametrize(
    ("people", "full", "stems"),
    [
        (("six-year-old", "man p50"), True, ["motion-six-year-old", "motion-man-p50"]),
        (("six-year-old", "man p50"), False, ["motion-man-p50"]),
        (("six-year-old", "woman p5"), False, ["motion-six-year-old"]),
        (("woman p5", "man p95"), True, ["motion-woman-p5"]),
    ],
)
def test_who_is_drawn_struck(people, full, stems) -> None:
    """The average man; the child too in full; else whoever comes first."""
    study = Part(people=[Part(person=name) for name in people], names=("A", "B"), draws=64)
    assert [each.stem for each in annex_figures.struck_figures(study, full=full)] == stems


def test_without_a_surface_no_figure_across_the_front_is_drawn() -> None:
    assert annex_figures._plan(Part(zones=Part(surface=""))) == []
    names = [each.stem for each in annex_figures._plan(Part(zones=Part(surface="smooth")))]
    assert names == ["overview", "plan", "front", "bonnet-map"]
