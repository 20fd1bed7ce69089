"""What the motion model assumes: every number says how it is known, and none is typed twice."""

from __future__ import annotations

import re
import tomllib
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np
import pytest

import frontcheck
from frontcheck.body.anatomy import Figure, figure_of
from frontcheck.body.assumed import drawn, nominal
from frontcheck.body.assumptions import assumptions
from frontcheck.caution import PROVENANCES
from frontcheck.errors import InputError
from frontcheck.people.people import person_of_stature, struck_people

if TYPE_CHECKING:
    from collections.abc import Iterator

PACKAGE = Path(frontcheck.__file__).parent
BODY = tomllib.loads((PACKAGE / "body/body.toml").read_text("utf-8"))
PEOPLE = tomllib.loads((PACKAGE / "people/people.toml").read_text("utf-8"))


def held(tree: dict[str, Any], within: tuple[dict[str, Any], ...] = ()) -> Iterator[Any]:
    """Every number with the tables that hold it, the nearest last."""
    for key, value in tree.items():
        if isinstance(value, dict):
            yield from held(value, (*within, value))
        elif isinstance(value, (int, float, list)):
            yield key, value, within


@pytest.mark.parametrize("tree", [BODY, PEOPLE], ids=["body", "people"])
def test_every_number_says_how_it_is_known_and_what_would_settle_it(tree) -> None:
    numbers = list(held(tree))
    assert len(numbers) > 50
    for key, _, within in numbers:
        table = next((each for each in reversed(within) if "provenance" in each), None)
        assert table is not None, key
        assert table["provenance"] in PROVENANCES
        assert len(table["source"]) > 10
        # What the model does not rest on has no title; a published table needs no more.
        assert "settles" in table or "title" not in table or table["provenance"] == "from memory"


def merged(tables: dict[str, dict[str, Any]]) -> dict[str, float]:
    return {k: v for table in tables.values() for k, v in table.items() if isinstance(v, float)}


@pytest.mark.parametrize("who", ["adult", "child"])
def test_shares_of_the_mass_make_one_person(who: str) -> None:
    mass = merged(PEOPLE["body"][who]["mass"])
    assert sum(mass.values()) + mass["thigh"] + mass["shank"] == pytest.approx(1.0, abs=1e-12)


def test_adults_have_the_published_shares() -> None:
    """D. A. Winter, Biomechanics and Motor Control of Human Movement, Wiley: thorax 0.216 and an
    arm 0.050 each, shank and foot 0.061, head and neck 0.081; R. Drillis and R. Contini there: hips
    0.191 broad. From memory."""
    mass = merged(PEOPLE["body"]["adult"]["mass"])
    assert mass["thorax"] == pytest.approx(0.216 + 2 * 0.050)
    assert mass["neck"] + mass["head"] == pytest.approx(0.081)
    assert (mass["pelvis"], mass["abdomen"]) == (0.142, 0.139)
    assert (mass["thigh"], mass["shank"]) == (0.100, 0.061)
    assert PEOPLE["body"]["adult"]["half"]["pelvis"]["pelvis"] == pytest.approx(0.191 / 2)


@pytest.mark.parametrize("person", struck_people(), ids=lambda person: person.name)
def test_the_centre_of_mass_of_the_figure_lies_in_the_band_of_the_findings(person) -> None:
    """Summed from lengths and shares of the file, and as the chain has it: one value."""
    figure, chain = figure_of(person), figure_of(person).chain
    upright = np.zeros((1, 11))
    upright[0, 1] = figure.hip
    height = 1e3 * float(chain.centre_of_mass(upright)[0, 1])
    # With and without shoes: findings wear them, the figure does not.
    for shoe in (0.0, person.shoe_mm):
        low, high = person.in_shoes(shoe).centre_of_mass.band_mm or (0.0, 0.0)
        assert low < height < high
    built = PEOPLE["body"]["child" if person.name == "six-year-old" else "adult"]
    at = merged(PEOPLE["fractions"]) | merged(built["height"])
    both, turn = merged(PEOPLE["body"]["both"]), merged(built["turn"])
    mass = merged(built["mass"])
    centre = {
        "pelvis": (at["hip"] + at["lumbar"]) / 2,
        "abdomen": (at["lumbar"] + at["waist"]) / 2,
        "thorax": at["waist"] + both["thorax_centre"] * (at["neck"] - at["waist"]),
        "neck": (at["neck"] + at["skull"]) / 2,
        "head": at["skull"] + turn["head_centre"],
        "thigh": at["hip"] - both["thigh_centre"] * (at["hip"] - at["knee"]),
        "shank": at["knee"] - both["shank_centre"] * (at["knee"] - at["ankle"]),
    }
    share = sum(mass[k] * z * (1 + (k in ("thigh", "shank"))) for k, z in centre.items())
    assert height == pytest.approx(share * person.stature.known(), abs=1e-6)
    # As the contract of the model has them: 0.579 of an adult, 0.593 of a child.
    assert share == pytest.approx(0.593 if person.name == "six-year-old" else 0.579, abs=5e-4)


def test_proportions_go_by_stature() -> None:
    for person in struck_people():
        child = person.name == "six-year-old"
        expected = Figure.of(person.stature.known() / 1e3, person.mass_kg or 0.0, child=child)
        assert np.array_equal(figure_of(person).chain.centre, expected.chain.centre)
    hips = {
        stature: figure_of(person_of_stature(stature, mass_kg=mass)).hip / stature * 1e3
        for stature, mass in ((1100.0, 20.0), (1199.0, 24.0), (1451.0, 45.0), (2100.0, 90.0))
    }
    assert list(hips.values()) == pytest.approx([0.495, 0.495, 0.530, 0.530])


@pytest.mark.parametrize(
    ("stature", "says"),
    [
        (1099.9, "1100 to 2100 mm: nobody smaller than a six-year-old is told of"),
        (2100.1, "1100 to 2100 mm"),
        (1200.0, "below 1200 mm, for a child, or above 1450 mm, for an adult"),
        (1325.0, "between them neither table of proportions fits"),
        (1450.0, "above 1450 mm"),
    ],
)
def test_statures_that_no_table_fits_are_refused_with_the_range(stature: float, says: str) -> None:
    with pytest.raises(InputError, match=says):
        figure_of(person_of_stature(stature, mass_kg=20.0 * (stature / 1e3) ** 2))


def test_a_person_without_a_mass_is_refused() -> None:
    with pytest.raises(InputError, match="no mass for stature 1700 mm"):
        figure_of(person_of_stature(1700))


def test_draws_fill_the_ranges_of_the_file() -> None:
    """One draw in each of 50 equal slices, evenly or in the logarithm; a name a field."""
    cases, one = drawn(50, 3), nominal()
    contact, joints, stance = BODY["contact"], BODY["joints"], BODY["stance"]
    fields = {
        "rebound": contact["rebound"]["rebound"], "grip": contact["grip"]["grip"],
        "sole_friction": contact["sole"]["sole_friction"],
        "spine": joints["springs"]["spine"], "neck": joints["springs"]["neck"],
        "hip": joints["springs"]["hip"], "knee": joints["knee"]["knee"],
        "knee_most": joints["knee"]["knee_bears"],
        "stops": joints["stops"]["stops_of_neck_and_head"],
        "shoulder": stance["person"]["breadth"], "braking": stance["braking"]["braking"],
    }  # fmt: skip
    columns = {name: (getattr(cases, name), getattr(one, name)) for name in fields}
    columns["lean"] = np.degrees(cases.lean), np.degrees(one.lean)
    fields["lean"] = stance["person"]["lean"]
    for i in range(4):
        columns[f"stiffness {i}"] = cases.stiffness[:, i] / 1e6, one.stiffness[:, i] / 1e6
        columns[f"friction {i}"] = cases.friction[:, i], one.friction[:, i]
        fields[f"stiffness {i}"] = contact["stiffness"]["stiffness"]
        fields[f"friction {i}"] = contact["friction"]["friction"]
    for name, (many, single) in columns.items():
        assert single == pytest.approx(fields[name]["value"]), name
        scale = np.log if "by" in fields[name] else np.asarray
        low, high = scale(fields[name]["range"])
        slices = np.floor((scale(many) - low) / (high - low) * 50.0)
        assert sorted(slices) == list(range(50)), name
    assert cases.legs_touch.sum() == 50 * stance["legs"]["legs_touch"]
    drawn_in_file = [n for _, n, within in held(BODY) if isinstance(n, list)]
    assert len(drawn_in_file) == len(fields) - 6  # four parts of the front share two ranges


def test_sentences_say_every_number_that_the_file_assumes() -> None:
    said = assumptions()
    assert len(said) <= 16
    assert max(map(len, said)) <= 340
    text = " ".join(said)
    figure = {part: BODY[part] for part in ("skin", "joints", "contact", "stance")}
    for key, value, _ in held(figure):
        for number in value if isinstance(value, list) else [value]:
            assert re.search(rf"(?<![\d.]){re.escape(f'{number:g}')}(?![\d.]*\d)", text), key
    for _, mass, _ in held(PEOPLE["mass"]):
        assert f" {mass:g}" in text
    for sentence in said[2:]:
        assert any(word.capitalize() in sentence for word in PROVENANCES)
        assert re.search(r"settled by \w|nothing settles it", sentence)


def printed(value: Any, name: str, unit: str) -> str:
    """The row of a number as it has to stand, gaps closed."""
    many = value if isinstance(value, dict) else {"value": value}
    parts = [name.replace("_", " "), f"{many['value']:g}", many.get("unit", unit)]
    if "range" in many:
        low, high = many["range"]
        parts.append(f"drawn {low:g} to {high:g}" + ", by factor" * ("by" in many))
    return " ".join(filter(None, parts))


def titled(tree: dict[str, Any]) -> Iterator[dict[str, Any]]:
    for value in tree.values():
        if isinstance(value, dict):
            yield from [value] if "title" in value else titled(value)


def test_the_explanation_shows_the_files_number_by_number() -> None:
    text = frontcheck.explain("motion-model")
    assert max(map(len, text.splitlines())) <= 88
    blocks = {block.splitlines()[0]: block for block in text.split("\n\n")}
    tables = [*titled(PEOPLE), *titled(BODY)]
    assert len(tables) > 30
    count = 0
    for table in tables:
        block = blocks[table["title"]]
        rows = [" ".join(row.split()) for row in block.splitlines() if re.match("  [^ ]", row)]
        names = [
            key for key, value in table.items()
            if key not in ("title", "unit", "of", "source", "provenance", "settles")
        ]  # fmt: skip
        assert rows == [printed(table[name], name, table.get("unit", "")) for name in names]
        count += len(rows)
        told = " ".join(block.split())
        for said in (" ".join(table["source"].split()), table["provenance"]):
            assert said in told
        assert table.get("settles", "")[1:] in told  # a capital begins it
        assert len({row.index(" drawn ") for row in block.splitlines() if " drawn " in row}) <= 1
    assert count > 100


def test_the_explanation_says_who_is_struck_and_what_is_refused() -> None:
    text = " ".join(frontcheck.explain("motion model").split())
    for person in struck_people():
        assert f"{person.name} {person.stature.known():g} mm" in text
        assert f"{person.name} {person.mass_kg:g} kg" in text
    for said in (
        "a person pushed ahead may be run over; one carried up may strike the windscreen",
        "Nobody smaller than a six-year-old is modelled",
        "a number without its interval",
        "how hard anything is struck, how fast the head is",
        "anything after the head has touched",
        "people who run, ride, sit or lie, or who are struck obliquely",
        "of the sides of the front",
        "which front is better",
        "a difference that the assumptions leave open",
        "never a chance in a crash",
    ):
        assert said in text
