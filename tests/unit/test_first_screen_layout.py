"""How the first screen is laid out: rows of people, its head, air between blocks, what is cut.

Worked out by hand, own choice; stand-ins hold nothing but what is told.
"""

from __future__ import annotations

from dataclasses import replace
from types import SimpleNamespace as Part

import pytest
from unit.test_first_screen_words import MET, ROW, TWICE, WAD, row, screened, shares, struck

from frontcheck.outputs.text import first_screen as told


def test_people_in_a_table_with_the_height_of_the_edge() -> None:
    rows = (replace(ROW, person="child"), replace(TWICE, given=True, edge_mm=790.4))
    result = screened(answer=Part(people=rows))
    head, one, two, *more = told._people(result, 100)
    assert [loud for _, loud in (head, one, two, *more)] == [True, *[False] * (2 + len(more))]
    assert head[0].split("  ")[0] == "Who meets what (centre)"
    assert head[0].endswith("bonnet edge (790) to balance point")
    assert one[0].split() == ["child", "not", "met", "not", "known", "not", "known"]
    columns = [head[0].index(each) for each in ("leg met first", "knee to face", "bonnet edge")]
    assert [two[0].index(each) for each in ("shin, 332", "not known")] == columns[:2]
    assert more == [
        ("  tall man (p95): 1900 mm tall. Met next: thigh, 712 mm up, 19 later.", False)
    ]
    nobody_knows = told._people(screened(answer=Part(people=rows[:1])), 100)
    assert nobody_knows[0][0].endswith("bonnet edge to balance point")


def test_people_struck_lose_small_words_before_a_part_is_cut_off(monkeypatch) -> None:
    monkeypatch.setattr(told, "_struck", lambda *_: ["below"])
    sure = struck(shares(carried=1.0), "carried up", wad_mm=WAD, part="windscreen")
    rows = (row(sure), MET)
    result = screened(motion=Part(draws=200), answer=Part(people=rows))
    (head, loud), *lines = told._people(result, 100)
    assert loud
    assert " ".join(head.split()) == (
        "Who meets what leg met first knee to face edge 790 of 200 cases head at, mm, most on"
    )
    full = " ".join(lines[0][0].split())
    assert full == "tall man shin 332 up - - 100 % carried up 1402 to 1611 windscreen"
    wide = max(len(text) for text, _ in lines)
    exact = [text for text, _ in told._people(result, wide)]
    assert "carried up" in exact[1]
    short = [text for text, _ in told._people(result, wide - 1)]
    assert " ".join(short[1].split()) == full.replace(" carried up", " carried")
    assert lines[-1] == ("below", False)


def heads(front: Part, width: int = 100) -> list[tuple[str, bool]]:
    result = Part(front=front, rules=Part(id="UN-R127-02"), stations=(Part(y=0.0, face=None),))
    return told._head(result, width, 0)


@pytest.mark.parametrize(
    ("stations", "symmetric", "words"),
    [
        ((-30.0,), False, "one section, y = -30 mm"),
        ((0.0,), True, "one section, y = 0 mm"),
        ((-300.0, 0.0, 250.5), False, "3 stations, -300 to 250.5 mm"),
        ((0.0, 300.0), True, "2 stations, 0 to 300 mm each side"),
    ],
)
def test_the_head_says_what_was_measured(stations, symmetric, words, monkeypatch) -> None:
    monkeypatch.setattr(told, "_exact", lambda _: "+/- 2 mm")
    front = Part(name="Plover", stations=stations, symmetric=symmetric, method="by hand")
    assert heads(front) == [(f"Plover   UN-R127-02   {words}   by hand, +/- 2 mm", True)]
    length = len(heads(front)[0][0])
    assert len(heads(front, length)) == 1
    first, second = heads(front, length - 1)
    assert first == (f"Plover   UN-R127-02   {words}".replace("   ", " "), True)
    assert second == ("  by hand, +/- 2 mm", False)
    front.method = ""
    assert heads(front)[0][0].endswith(f"{words}   +/- 2 mm")


@pytest.mark.parametrize(
    ("count", "airy"),
    [(32, []), (31, [1]), (30, [1, 2]), (29, [1, 2, 7]), (25, [1, 2, 3, 4, 5, 6, 7]),
     (8, [1, 2, 3, 4, 5, 6, 7])],
)  # fmt: skip
def test_air_between_blocks_where_there_is_room(count, airy, monkeypatch) -> None:
    """Own choice: 32 lines; round the people first, then before the caution."""
    blocks = [[(f"block {i}", True)] for i in range(8)]
    blocks[0] += [("more", False)] * (count - 8)
    monkeypatch.setattr(told, "_blocks", lambda *_: blocks)
    said = [text for text, _ in told.first_screen(Part(), 100)]
    assert [said[i + 1] for i, text in enumerate(said) if not text] == [f"block {i}" for i in airy]
    assert [text for text in said if text and text != "more"] == [f"block {i}" for i in range(8)]


def test_it_is_made_shorter_until_it_fits(monkeypatch) -> None:
    """At most three times, and never wider than 100."""
    asked = []

    def blocks(_, width: int, short: int) -> list[list[tuple[str, bool]]]:
        asked.append((width, short))
        return [[("x", False)] * (40 - 4 * short)] + [[]] * 7

    monkeypatch.setattr(told, "_blocks", blocks)
    told.first_screen(Part(), 140)
    assert asked == [(100, 0), (100, 1), (100, 2)]
    monkeypatch.setattr(told, "MOST_LINES", 10)
    told.first_screen(Part(), 70)
    assert asked[3:] == [(70, 0), (70, 1), (70, 2), (70, 3)]
