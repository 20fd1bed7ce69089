"""Names of objects, layers and products: the part each counts as, and patterns of the user."""

from __future__ import annotations

import pytest
from unit.test_objects_of_a_mesh import HOOK, SKIN, obj

from frontcheck.errors import InputError
from frontcheck.reading.part_names import part_said, parts_of
from frontcheck.reading.readers import read_front

# As drawings and models name their things (common practice, no source); none from a real file.
SAID = {
    "bumper": "bumper|bumpers|Bumper.003|bumper_12|BUMPER_COVER|frontBumperCover|FASCIA-LH",
    "bonnet": "Hood outer|HOOD_MIRROR|Bonnet|hood2",
    "windscreen": "Windscreen_glass|WINDSHIELD|Wind screen|windshieldGlass",
    "grille": "bumper grille|Lower_Grill|GRILLES",
    "lamp": "Headlamp LH|HEAD_LAMP|fog lamp|headLights",
    "wing": "Fender_RH|front wing|wheel arch",
    "pillar": "A-Pillar LH|PILLARS",
    "underside": "Undertray|SKID_PLATE",
    "cowl": "windscreen cowl|COWL_PANEL",
    "trim": "bumper trim",
    "ignore": "ignore|Wing mirror|MIRROR|wiper_arm|Windscreen wiper|NUMBER_PLATE|Tyres|wheel 1",
    "": "|12|sbumper|Bumperette|COMPOUND|plate|Part1|hoodie|Schürze",
}


@pytest.mark.parametrize("part", SAID)
def test_words_say_the_part(part) -> None:
    for name in SAID[part].split("|"):
        assert part_said(name) == part, name


def test_of_a_path_the_innermost_piece_that_says_something_counts() -> None:
    assert parts_of(["Bumper assy/Grille", "Bumper assy/Skin"], None, "f") == ["grille", ""]
    assert parts_of(["car/Bumper assy/Skin", "car/Hood"], None, "f") == ["bumper", "bonnet"]
    # A word that stands before everything tells nothing apart.
    assert parts_of(["Hood study/1", "Hood study/Glass/bumper"], None, "f") == ["", "bumper"]
    assert parts_of(["Hood study"], None, "f") == ["bonnet"]


def test_patterns_come_before_words() -> None:
    names = ["Hood outer", "S_17/skin", "Windscreen_glass"]
    wanted = {"bumper": ["s_*"], "bonnet": ["*GLASS"]}
    assert parts_of(names, wanted, "f") == ["bonnet", "bumper", "bonnet"]


def test_patterns_that_cannot_be_met() -> None:
    with pytest.raises(InputError, match=r"f: found the pattern 'wing\*'.*one of these: a, b"):
        parts_of(["a", "b"], {"wing": ["wing*"]}, "f")
    with pytest.raises(InputError, match=r"part 'hood'; expected .*bonnet"):
        parts_of(["a"], {"hood": ["a"]}, "f")
    with pytest.raises(InputError, match="'ab' among the patterns of bumper and of wing"):
        parts_of(["ab"], {"bumper": ["a*"], "wing": ["*b"]}, "f")


def test_patterns_label_a_mesh_and_mirrors_are_left_out(tmp_path) -> None:
    path = tmp_path / "front.obj"
    path.write_text(obj([("o S1", SKIN), ("o wing mirror", HOOK)]))
    options = {"unit": "mm", "pitch": 400.0}
    front = read_front(path, parts={"bumper": ["S?"]}, **options)
    assert set(front.sections[0].parts) == {"bumper"}
    assert min(section.x.min() for section in front.sections) == 0.0
    assert "Left out by name: 2 triangles of wing mirror." in front.reader_notes
    # What is asked for by name stays.
    both = read_front(path, include=["*"], **options)
    assert min(section.x.min() for section in both.sections) == -80.0
    with pytest.raises(InputError, match="leave no triangle"):
        read_front(path, parts={"ignore": ["*"]}, **options)


def test_a_mesh_without_names_takes_no_patterns(tmp_path) -> None:
    path = tmp_path / "front.obj"
    path.write_text(obj([("s off", SKIN)]))
    with pytest.raises(InputError, match="without names"):
        read_front(path, unit="mm", parts={"bumper": ["S*"]})
    with pytest.raises(InputError, match="option parts for an offset table"):
        read_front("geometries/plover.csv", parts={"bumper": ["S*"]})
