"""Documents: their JSON Schema, what it lets pass and what not, and reading them back.

The schema is checked with `jsonschema`, which knows nothing of the models it was made from.
"""

from __future__ import annotations

import dataclasses
import hashlib
import json
from dataclasses import replace
from typing import TYPE_CHECKING, Any, get_args

import jsonschema
import pytest

import frontcheck
from frontcheck.comparison.two_fronts import compare
from frontcheck.documents import Status
from frontcheck.errors import InputError
from frontcheck.findings.finding_settings import FindingSettings
from frontcheck.front.front import Front
from frontcheck.legs.leg_study import leg_study
from frontcheck.lines.line_values import STATUSES
from frontcheck.outputs.documents.exports import json_bytes, read_screening, screening_document
from frontcheck.outputs.documents.schemas import SCHEMAS, schema_bytes, schema_path
from frontcheck.people.people import PEOPLE
from frontcheck.reading.hard_point_file import read_hard_points
from frontcheck.reading.readers import read_front
from frontcheck.rules.ruleset import rule_set_ids
from frontcheck.screening import ScreeningDocument, screen
from frontcheck.serializer import filled
from frontcheck.study.solve import solve
from frontcheck.study.study_file import read_study
from frontcheck.sure.corrections import corrected
from frontcheck.sure.intervals import tolerance
from frontcheck.sure.tolerance_document import ToleranceSettingsEntry
from frontcheck.sure.uncertainty import Uncertainty
from frontcheck.surface.section import Section

if TYPE_CHECKING:
    from pathlib import Path

    from frontcheck.screening import Screening


@pytest.fixture(scope="module")
def schema() -> dict[str, Any]:
    found: dict[str, Any] = json.loads(schema_path("screening").read_bytes())
    return found


@pytest.fixture(scope="module")
def validator(schema) -> jsonschema.Draft202012Validator:
    return jsonschema.Draft202012Validator(schema)


@pytest.fixture(scope="module")
def fronts(geometries) -> dict[str, Front]:
    plover, avocet = (read_front(geometries / f"{n}.csv") for n in ("plover", "avocet"))
    one = Section([(600, 100), (0, 100), (0, 500), (600, 520)])
    return {
        "plover": plover,
        "avocet": avocet,
        "local datum": replace(plover, datum="local"),
        "one station": Front(plover.sections[:1]),
        "three stations": Front(plover.sections[:3]),
        "no parts": Front(tuple(Section(s.points, s.y) for s in avocet.sections[:4])),
        "a block": Front((one,)),
    }


@pytest.fixture(scope="module")
def plover(fronts) -> Screening:
    return screen(fronts["plover"])


def test_the_schema_is_one_itself(schema) -> None:
    jsonschema.Draft202012Validator.check_schema(schema)


@pytest.mark.parametrize("name", SCHEMAS)
def test_the_file_in_the_package_is_what_the_models_give(name) -> None:
    """Renew with ``python -m frontcheck.outputs.documents.schemas`` and read the difference."""
    assert schema_path(name).read_bytes() == schema_bytes(name)


def test_statuses_are_those_of_lines() -> None:
    assert get_args(Status) == STATUSES


@pytest.mark.parametrize("rules", rule_set_ids())
@pytest.mark.parametrize("name", ["plover", "avocet", "three stations"])
def test_documents_of_every_rule_set_keep_the_schema(name, rules, fronts, validator) -> None:
    document = json.loads(json_bytes(screen(fronts[name], rules).to_dict()))
    assert list(validator.iter_errors(document)) == []


@pytest.mark.parametrize("name", ["local datum", "one station", "no parts", "a block"])
def test_documents_of_which_much_is_missing_keep_the_schema(name, fronts, validator) -> None:
    result = screen(fronts[name], wad=(303.0, 1000.0))
    for lines_only in (False, True):
        document = json.loads(json_bytes(result.to_dict(lines_only=lines_only)))
        assert list(validator.iter_errors(document)) == []


def test_a_document_with_all_that_may_stand_in_it_keeps_the_schema(geometries, validator) -> None:
    before = read_front(geometries / "plover-survey.csv")
    front, report = corrected(before)
    settings = FindingSettings(
        hard_points=read_hard_points(geometries / "plover-hard-points.csv").points
    )
    document = screening_document(
        screen(front, finding_settings=settings),
        tolerance=tolerance(front, "UN-R127-02", draws=200),
        corrections=report,
    )
    assert list(validator.iter_errors(json.loads(json_bytes(document)))) == []
    assert len(document["corrections"]["lines"]) > 10
    assert len(document["tolerance"]["stations"]) == len(document["stations"])
    assert not {"frontcheck", "input", "rule_set"} & set(document["tolerance"])


def test_every_uncertainty_is_told() -> None:
    names = [field.name for field in dataclasses.fields(Uncertainty)]
    assert list(ToleranceSettingsEntry.__struct_fields__)[: len(names)] == names
    stated = Uncertainty(**{name: 1.0 + k for k, name in enumerate(names)})
    front = Front((Section([(600, 100), (0, 100), (0, 500), (600, 520)]),))
    told = tolerance(front, "UN-R127-02", settings=stated, draws=100).to_dict()["settings"]
    assert {name: told[name] for name in names} == stated.to_dict()


def others(geometries: Path) -> dict[str, dict[str, Any]]:
    """One document of every other kind."""
    whole = [read_front(geometries / f"{n}.csv") for n in ("plover", "avocet")]
    fronts = [replace(front, sections=front.sections[:2]) for front in whole]
    pair = [screen(front) for front in fronts]
    study = read_study(geometries / "nose-study.toml")
    easy = replace(study, limits=study.limits[1:2])
    return {
        "comparison": compare(*pair, draws=100).to_dict(),
        "leg": leg_study(pair, PEOPLE[0]).to_dict(),
        "solution": solve(easy, 50).to_dict(),
        "tolerance": tolerance(fronts[0], "UN-R127-02", draws=100).to_dict(),
    }


def test_the_other_documents_keep_their_schemas(geometries) -> None:
    for name, document in others(geometries).items():
        schema = json.loads(schema_path(name).read_bytes())
        validator = jsonschema.Draft202012Validator(schema)
        found = json.loads(json_bytes(document))
        assert list(validator.iter_errors(found)) == [], name
        for key in found:
            lacking = {k: v for k, v in found.items() if k != key}
            assert list(validator.iter_errors(lacking)) != [] or key in OPTIONAL[name], (name, key)
        assert list(validator.iter_errors(found | {"verdict": "passed"})) != [], name


OPTIONAL = {
    "comparison": ("plausibility",),
    "leg": ("plausibility",),
    "solution": (),
    "tolerance": ("frontcheck", "input", "rule_set", "plausibility"),
}
"""Keys that a document may go without: draws within a screening say those above."""


def at(document: Any, *path: Any) -> Any:
    for key in path:
        document = document[key]
    return document


# Where, which key, and what stands there instead; None takes the key out.
PLANTED = {
    "another schema": ((), "schema", "frontcheck.screening/0"),
    "no cautions": ((), "cautions", None),
    "a key nobody knows": ((), "verdict", "passed"),
    "a number as text": (("stations", 0, "UBRL"), "x_mm", "22.0"),
    "an unknown status": (("stations", 0, "UBRL"), "status", "fine"),
    "a point without status": (("stations", 0, "WAD", "1000"), "status", None),
    "an unknown legform": (("stations", 0), "legform", "middle"),
    "a station without y": (("stations", 0), "y_mm", None),
    "a line short of a coordinate": (("lines", "SRL"), "points_mm", [[1.0, 2.0]]),
    "zones half there": (("zones",), "bumper_test_area", None),
    "a corner that is no point": (("zones", "bumper_corners", "gauge"), "left_mm", [1.0, 2.0]),
    "a threshold in words": (("findings", 0), "threshold", "425 mm"),
    "a finding without its source": (("findings", 0), "source", None),
    "an unknown comparison": (("findings", 0), "comparison", "!="),
    "a finding of no theme": (("findings", 0), "theme", None),
    "an unknown theme": (("findings", 0), "theme", "style"),
    "an unknown evidence": (("findings", 0), "evidence", "hearsay"),
    "an unknown provenance": (("findings", 0), "provenance", "read somewhere"),
    "a region without its stretch": (("findings", 0, "region"), "arc_mm", None),
    "a distance met nowhere told": (("stations", 0, "WAD", "1000"), "all", None),
    "no word on what was assumed": ((), "assumed", None),
    "an answer in words": ((), "answer", "fine"),
    "settings without attitude": (("settings",), "attitude", None),
    "a file without its digest": (("input", "files", 0), "sha256", None),
    "one caution for all": ((), "cautions", "mind"),
}


@pytest.mark.parametrize("case", PLANTED)
def test_a_planted_fault_is_noticed_and_refused(case, plover, validator, tmp_path) -> None:
    document = json.loads(json_bytes(plover.to_dict()))
    assert list(validator.iter_errors(document)) == []
    path, key, value = PLANTED[case]
    spoiled = at(document, *path)
    if value is None:
        del spoiled[key]
    else:
        spoiled[key] = value
    assert list(validator.iter_errors(document)) != []
    # Zones are whole or empty in the schema; a reader has no use for that.
    if case != "zones half there":
        file = tmp_path / "spoiled.json"
        file.write_bytes(json_bytes(document))
        with pytest.raises(InputError, match=r"spoiled\.json: found (another|a) document"):
            read_screening(file)


def test_a_document_read_back_holds_the_numbers_of_the_screening(plover, tmp_path) -> None:
    path = tmp_path / "screening.json"
    path.write_bytes(json_bytes(plover.to_dict()))
    back = read_screening(path)
    assert back == filled(ScreeningDocument, plover)
    for entry, station in zip(back.stations, plover.stations, strict=True):
        assert (entry.y_mm, entry.UBRL.z_mm) == (station.y, station.UBRL.z)
        assert entry.bumper_lead_mm == station.bumper_lead
        assert entry.WAD["1000"].x_mm == station.wad(1000.0).x
        assert entry.BLERL.edge_angle_deg == station.BLERL.edge_angle_deg
    assert back.zones.child_headform_area.area_m2 == plover.zones.child_area.area_m2
    assert [f.value for f in back.findings] == [f.value for f in plover.findings]
    assert back.lines["SRL"].points_mm == plover.zones.line("SRL").points.tolist()
    assert back.frontcheck == frontcheck.__version__


def test_lines_only_reads_back_without_zones(plover, tmp_path) -> None:
    path = tmp_path / "lines.json"
    path.write_bytes(json_bytes(plover.to_dict(lines_only=True)))
    back = read_screening(path)
    assert (back.lines, back.findings) == ({}, [])
    assert json.loads(path.read_bytes())["zones"] == {}
    assert back.stations == filled(ScreeningDocument, plover).stations


REFUSED = {
    "cut short": (b'{"schema": "frontcheck.screening/2", "input": {', "damaged JSON"),
    "not text": (b"\xff\xfe\x00", "damaged JSON"),
    "empty": (b"", "damaged JSON"),
    "a list": (b"[]", "another document"),
    "of something else": (b'{"schema": "frontcheck.comparison/2"}', "another document"),
}


@pytest.mark.parametrize("case", REFUSED)
def test_a_file_that_is_no_screening_document_is_refused(case, tmp_path: Path) -> None:
    data, found = REFUSED[case]
    path = tmp_path / "some.json"
    path.write_bytes(data)
    with pytest.raises(InputError) as refused:
        read_screening(path)
    assert refused.value.file == "some.json"
    assert refused.value.found.startswith(found)
    assert "frontcheck.screening/2" in refused.value.expected
    assert refused.value.todo


def test_a_document_of_another_version_is_refused_by_both_versions(tmp_path: Path) -> None:
    path = tmp_path / "old.json"
    path.write_bytes(b'{"schema": "frontcheck.screening/1", "input": {}}')
    with pytest.raises(InputError) as refused:
        read_screening(path)
    assert refused.value.found == "a document frontcheck.screening/1"
    assert refused.value.expected == "a document frontcheck.screening/2"
    assert "screen the front again" in refused.value.todo


def test_the_answer_and_what_seems_odd_have_their_place(plover, validator) -> None:
    """Both are worked out elsewhere; what may stand there is laid down here."""
    document = json.loads(json_bytes(plover.to_dict()))
    assert [line["theme"] for line in document["answer"]["lines"]] == [
        line.theme for line in plover.answer.lines
    ]
    assert document["answer"]["people"][0]["person"] == "small woman (p5)"
    assert plover.to_dict(lines_only=True)["answer"] is None
    assert "plausibility" not in document
    line = {"theme": "low_support", "text": "Little below.", "evidence": "practice",
            "stations_mm": [0.0], "findings": ["LEG-UNDERCUT"], "holds_in_100": 97}  # fmt: skip
    person = {"person": "woman p50", "first_touch": "knee", "first_touch_mm": 480.0, "knee": "in",
              "second_touch": "shin", "second_touch_mm": 320.0, "second_later_mm": 14.0,
              "free_mm": [[0.0, 250.0]], "heights": "knee 472 mm up",
              "edge_against_centre_of_mass": "below", "motion": None}  # fmt: skip
    document["answer"] = {
        "lines": [line] * 5,
        "people": [person],
        "cannot_say": ["how soft the bumper is"],
        "next": [{"do": "lower legform test at y = 0 mm", "settles": ["LEG-UNDERCUT"]}],
        "standing": "What holds for most fronts.",
    }
    document["plausibility"] = [{"what": "row 7 stands out", "rows": [7], "do": "measure again"}]
    assert list(validator.iter_errors(document)) == []
    document["answer"]["lines"].append(line)
    assert list(validator.iter_errors(document)) != []


def test_the_document_tells_what_was_read_and_what_nobody_told(fronts, geometries) -> None:
    document = screen(fronts["plover"]).to_dict()
    read = document["input"]
    digest = hashlib.sha256((geometries / "plover.csv").read_bytes()).hexdigest()
    assert read["files"] == [{"file": "plover.csv", "sha256": digest}]
    assert read["notes"] == list(fronts["plover"].reader_notes)
    assert document["settings"]["windscreen"] == {"basis": "labels", "from_mm": None}
    assert document["settings"]["gap"] is None
    assert document["settings"]["attitude"]["basis"] == "as measured"
    assert any("1500" in text for text in document["assumed"])
    given = screen(fronts["no parts"], wad=(1000.0, 1500.0)).to_dict()
    assert given["input"]["files"] == []
    assert given["settings"]["windscreen"]["basis"] == "shape"
    assert any(text.startswith("windscreen by shape") for text in given["assumed"])
    assert not any("1500" in text for text in given["assumed"])


def test_what_a_mesh_does_not_state_is_assumed_and_its_gap_is_told(geometries) -> None:
    mesh = read_front(geometries / "plover.stl", unit="mm", pitch=200.0, gap=12.0)
    document = screen(mesh).to_dict(lines_only=True)
    assert document["settings"]["gap"] == {"widest_mm": 12.0}
    untold = [text for text in document["assumed"] if text in mesh.reader_notes]
    assert [text.split(":")[0].split(" is ")[0] for text in untold] == [
        "Axes", "Axes", "The height of the ground was not stated; it was taken as 0 of the up axis."
    ]  # fmt: skip
    told = read_front(
        geometries / "plover.stl", unit="mm", pitch=200.0, forward="-x", up="+z", ground=0.0
    )
    assert told.assumed == ()


def test_margins_are_how_far_a_value_lies_beyond_its_threshold(fronts) -> None:
    """A finding is made where its comparison holds, so that no margin is below 0."""
    seen = set()
    for name in ("plover", "avocet"):
        for finding in screen(fronts[name]).to_dict()["findings"]:
            value, limit, how = (finding[key] for key in ("value", "threshold", "comparison"))
            seen.add(how)
            if how == "is":
                assert finding["margin"] is None
                continue
            assert finding["margin"] >= 0.0
            # As far as the margin towards the threshold lies the point where the rule turns.
            ends = limit if isinstance(limit, list) else [limit]
            assert min(abs(abs(value - end) - finding["margin"]) for end in ends) < 1e-9
            if how in ("<", "<=", ">", ">="):
                assert finding["margin"] == pytest.approx(
                    value - limit if how[0] == ">" else limit - value, abs=1e-12
                )
            else:
                assert finding["margin"] == pytest.approx(
                    min(value - limit[0], limit[1] - value), abs=1e-12
                )
    assert {">", ">=", "<", "within"} <= seen


def test_every_solution_of_a_distance_is_told() -> None:
    """A recess in the face: 303 mm is met three times (tests/validation/test_contact_tape.py)."""
    slot = Section(
        [(300, 100), (0, 100), (0, 200), (40, 200), (40, 300), (0, 300), (0, 500), (600, 520)]
    )
    (station,) = screen(Front((slot,)), wad=(303.0, 5000.0)).to_dict()["stations"]
    mark = station["WAD"]["303"]
    assert mark["all"] == [[mark["x_mm"], mark["z_mm"]], *mark["also_at_mm"]]
    assert len(mark["all"]) == 3
    assert station["WAD"]["5000"]["all"] == []


def test_a_file_that_is_not_there_is_refused(tmp_path: Path) -> None:
    with pytest.raises(InputError, match=r"none\.json: found no file that can be read"):
        read_screening(tmp_path / "none.json")
