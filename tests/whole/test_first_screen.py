"""The first screen: read back as a person would read it, and held against the screening."""

from __future__ import annotations

import re
from dataclasses import replace
from functools import cache

import pytest
from click.testing import CliRunner

import frontcheck as fc
from frontcheck.caution import CAUTION
from frontcheck.cli import main
from frontcheck.outputs.text.first_screen import MOST_LINES, WIDEST
from frontcheck.outputs.text.terminal import Plain, Ruled
from frontcheck.people.people import struck_people

HEADINGS = ("Who meets what", "What stands out", "What a shape cannot say", "Next")


@cache
def screening(name):
    front = fc.read_front(f"geometries/{name.split('-')[0]}.csv")
    if name.endswith("-one"):
        front = replace(front, sections=front.sections[:1])
    if name.endswith("-local"):
        front = replace(front, datum="local")
    return fc.screen(front)


NAMES = ("plover", "avocet", "plover-one", "avocet-local")


@pytest.mark.parametrize("name", NAMES)
def test_it_fits_a_window(name) -> None:
    lines = Plain().screening(screening(name)).splitlines()
    assert len(lines) <= MOST_LINES
    assert max(map(len, lines)) <= WIDEST
    plain = "\n".join(lines)
    assert all(heading in plain for heading in HEADINGS)
    assert CAUTION in " ".join(plain.split())


@pytest.mark.parametrize("name", NAMES)
def test_it_says_the_answer_line_by_line(name) -> None:
    result = screening(name)
    text = " ".join(Plain().screening(result).split())
    answer = result.answer
    stands_out = text.partition("What stands out ")[2].partition("What a shape cannot say")[0]
    for i, line in enumerate(answer.lines, start=1):
        assert f"{i} {' '.join(line.text.split())}" in stands_out
    for said in answer.cannot_say:
        assert said in text
    for i, step in enumerate(answer.next, start=1):
        assert f"{i} {step.do}" in text.partition(" Next ")[2]
    assert "soft" in answer.cannot_say[0]


@pytest.mark.parametrize("name", NAMES)
def test_its_people_and_lines_are_those_of_the_screening(name) -> None:
    result = screening(name)
    lines = Plain().screening(result).splitlines()
    for row in result.answer.people:
        told = next(line for line in lines if line.startswith(f"  {row.person} "))
        assert f"{row.first_touch}, {row.first_touch_mm:.0f} mm up" in told
        word = {"above": "above: ", "in the band": "about level", "below": "below: "}
        assert word[row.edge_against_centre_of_mass] in told
    text, centre = " ".join(" ".join(lines).split()), result.station(0.0)
    assert f"(LBRL) {centre.LBRL.z:.0f} up, upper (UBRL) {centre.UBRL.z:.0f} up" in text
    assert f"(BLERL) {centre.BLERL.z:.0f} up, lead {centre.bumper_lead:.0f}" in text
    back = "-" if centre.BRRL.x is None else f"{centre.BRRL.x:.0f}"
    assert f"(BRRL) {back} back" in text
    assert ("Not formed: BRRL" in text) == (centre.BRRL.x is None)
    for mark in centre.wads:
        assert f"{mark.distance:g} at {mark.x:.0f}" in text


def test_how_far_the_lips_stand_behind_the_foremost_point() -> None:
    # By hand from the rows of the file: foremost 19.5 at 538, lower lip 33.5 at 338, recess 54.
    text = " ".join(Plain().screening(screening("plover")).split())
    found = re.search(
        r"overhang (\d+), recess (\d+) deep, upper lip (\d+) and lower lip (\d+)", text
    )
    assert [int(n) for n in found.groups()][2:] == [0, 14]
    # The recess behind the straight line from lip to lip, at the height of its deepest row, 426 mm.
    across = 33.5 + (19.5 - 33.5) * (426 - 338) / (538 - 338)
    assert abs(int(found[2]) - (54.0 - across)) <= 1.0


@pytest.mark.parametrize("length", [20, 60, 97])
def test_counts_of_assumed_cases_fit_whatever_the_lines_say(length) -> None:
    result = screening("plover")
    counts = [91, 100, None, 0, 100]
    one = result.answer.lines[0]
    lines = tuple(replace(one, text="x" * length, holds_in_100=n) for n in counts)
    shown = replace(result)
    shown.__dict__["answer"] = replace(result.answer, lines=lines)
    text = Plain().screening(shown)
    assert len(text.splitlines()) <= MOST_LINES
    assert max(map(len, text.splitlines())) <= WIDEST
    said = " ".join(text.split())
    each = [f"{'x' * length}; holds in {n} of 100 assumed cases" for n in (91, 100, 0)]
    row = "Of 100 assumed cases they hold in so many: 1 in 91, 2 in 100, 4 in 0, 5 in 100"
    assert all(claim in said for claim in each) != (row in said)


@pytest.mark.parametrize("length", [20, 60, 97])
def test_it_fits_however_much_there_is_to_mind(length) -> None:
    """Cautions of the reader, a long method, marks that are not reached, five lines."""
    front = screening("plover").front
    short = tuple(fc.Section(s.points[:30], s.y, s.parts and s.parts[:30]) for s in front.sections)
    front = replace(
        front,
        sections=short,
        method="a method told at length " * 9,
        reader_cautions=tuple(f"Something {n} to mind of the input. " * 5 for n in "abc"),
    )
    shown = fc.screen(front)
    counts = [91, 100, None, 0, 100]
    lines = tuple(replace(shown.answer.lines[0], text="x" * length, holds_in_100=n) for n in counts)
    shown.__dict__["answer"] = replace(shown.answer, lines=lines)
    text = Plain().screening(shown).splitlines()
    assert len(text) <= MOST_LINES
    assert max(map(len, text)) <= WIDEST
    # What is left out is asked for elsewhere; the lines of the answer and the caution stay.
    said = " ".join(" ".join(text).split())
    assert said.count("x" * length) == 5
    assert said.endswith(CAUTION)
    assert "--all" in said


def printed(*options):
    run = CliRunner().invoke(main, ["screen", "geometries/plover.csv", *options])
    assert run.exit_code == 0
    return run.output


def test_tables_and_findings_are_printed_when_asked_for() -> None:
    first, stations, findings, both = (
        printed(*more) for more in ((), ("--stations",), ("--findings",), ("--all",))
    )
    result = screening("plover")
    assert len(first.splitlines()) <= MOST_LINES
    assert "Test areas" in stations
    assert "What stands out" not in stations
    numbers = [int(n) for n in re.findall(r"^ *(\d+)  [A-Z]+-[A-Z0-9-]+$", findings, re.MULTILINE)]
    assert numbers == list(range(1, len(result.findings) + 1))
    assert result.answer.standing in " ".join(findings.split())
    for text in (stations, findings, both):
        assert CAUTION in " ".join(text.split())
    assert printed("--stations", "--findings") == both
    assert both.startswith(first.rstrip()[:200])
    assert all(part in both for part in ("Test areas", "What stands out", "Settled by"))


def test_a_terminal_shows_the_same_words() -> None:
    result = screening("plover")
    ruled = re.sub(r"\x1b\[[0-9;]*m", "", Ruled(WIDEST).screening(result))
    shown = [line.rstrip() for line in ruled.splitlines()]
    assert shown == Plain().screening(result).splitlines()
    narrow = re.sub(r"\x1b\[[0-9;]*m", "", Ruled(80).screening(result))
    assert max(map(len, narrow.splitlines())) <= 80


@cache
def struck(name):
    result = screening(name)
    return replace(result, motion=fc.motion(result, draws=20))


@pytest.mark.parametrize("name", NAMES)
def test_people_who_are_struck_fit_in(name) -> None:
    """Who meets what carries the motion: read back row by row."""
    result = struck(name)
    lines = Plain().screening(result).splitlines()
    assert len(lines) <= MOST_LINES
    assert max(map(len, lines)) <= WIDEST
    first = next(i for i, line in enumerate(lines) if line.startswith("Who meets what"))
    columns = ("leg met first", "knee to face", "edge", "of 20 cases", "head at, mm, most on")
    starts = [lines[first].index(column) for column in columns] + [WIDEST]
    people = {row.person: row for row in result.answer.people}
    for line, row in zip(lines[first + 1 :], people.values(), strict=False):
        assert line.strip().startswith(row.person.partition(" (")[0])
        leg, _, edge, share, head = (
            line[a:b].strip() for a, b in zip(starts, starts[1:], strict=False)
        )
        assert leg == f"{row.first_touch} {row.first_touch_mm:.0f} up"
        against = row.edge_against_centre_of_mass
        assert edge == ("level" if against == "in the band" else against)
        motion = row.motion
        number, _, words = share.partition(" % ")
        assert float(number) == round(100.0 * max(motion.shares[key] for key in BECOMES))
        assert words.endswith("?") == (motion.kind == "undecided")
        assert motion.kind.startswith(words) or words.endswith("?")
        wad = motion.wad_mm
        assert head == f"{wad.p5:.0f} to {wad.p95:.0f} {motion.part}"
    said = " ".join(" ".join(lines).split())
    assert "Edge: bonnet edge against balance point" in said
    assert "Cases, not chances" in said
    assert "may be run over" in said
    assert "frontcheck explain, motion" in said
    assert "--motion" not in said


BECOMES = ("pushed", "folded", "carried")


def test_how_to_ask_for_the_motion_is_said() -> None:
    assert "--motion" in Plain().screening(screening("plover"))


def test_a_front_that_is_not_struck_says_why() -> None:
    result = screening("plover")
    result = replace(result, motion=fc.motion(result, station=650.0, draws=20))
    lines = Plain().screening(result).splitlines()
    assert len(lines) <= MOST_LINES
    assert max(map(len, lines)) <= WIDEST
    said = " ".join(" ".join(lines).split())
    assert "Nothing is said of people struck: the front faces 27 deg to the side" in said
    assert "not said" in said


NOSE = (
    (120, 200), (40, 260), (0, 450), (8, 540), (60, 700), (300, 850), (900, 1000), (1950, 1200),
)  # fmt: skip


def nose(points) -> fc.Screening:
    return fc.screen(fc.Front([fc.Section(points, 0.0)]))


def planted(result: fc.Screening, **changes) -> fc.Screening:
    """The same, with something else said of everybody."""
    study = fc.motion(result, draws=20, people=struck_people()[:1])
    people = tuple(replace(one, **changes) for one in study.people)
    return replace(result, motion=replace(study, motions=(people,)))


@pytest.mark.parametrize(
    ("never", "beyond", "words"),
    [
        (0.25, 0.1, "no place in 35 %"),
        (0.25, 0.0, "no touch 25 %"),
        (0.0, 0.25, "unmeasured 25 %"),
        (0.0, 0.0, "not given"),
        (0.02, 0.0, "not given"),  # heads enough touch: it is withheld for another reason
    ],
)
def test_a_head_whose_place_is_withheld_gets_no_number(never, beyond, words) -> None:
    shares = {"pushed": 0.0, "folded": 0.0, "carried": 1.0,
              "no_head_contact": never, "beyond_measured": beyond}  # fmt: skip
    result = planted(
        nose(NOSE), shares=shares, wad_mm=None, time_ms=None, part=None, parts=None, reason="X lies"
    )
    lines = Plain().screening(result).splitlines()
    (row,) = (line for line in lines if line.strip().startswith("six-year-old"))
    assert row.endswith(words)
    said = " ".join(" ".join(lines).split())
    assert ("Not given for six-year-old: X lies." in said) == (words == "not given")
    assert ("touch nothing within 0.35 s" in said) == (words != "not given")


def _rows(result: fc.Screening) -> list[str]:
    lines = Plain().screening(result).splitlines()
    first = next(i for i, line in enumerate(lines) if line.startswith("Who meets what"))
    return lines[first : first + 6]


def test_where_the_cases_agree_on_nobody_the_line_says_so() -> None:
    high = [
        (420, 180), (60, 190), (20, 230), (0, 410), (0, 1000), (40, 1180), (120, 1200),
        (390, 1260), (1150, 1350), (1950, 1800),
    ]  # fmt: skip
    result = planted(nose(high), kind="undecided", at_least=None)
    (row,) = (each for each in _rows(result) if "six-year-old" in each)
    assert row.endswith("leading edge")  # the widest part, in the widest row
    assert max(map(len, _rows(result))) <= WIDEST
    line = next(each for each in result.answer.lines if each.theme == "pushed_or_carried")
    most = max(one.shares[key] for one in result.motion.people for key in BECOMES)
    assert line.text.endswith(f"; struck at 40 km/h: undecided, no kind above {100 * most:.0f} %")
    named = planted(nose(high), kind="carried up", at_least=0.86)
    assert not any("undecided" in each.text for each in named.answer.lines)


@pytest.mark.parametrize("short", [NOSE[:5], NOSE[3:], NOSE[:7]])
def test_fronts_that_end_early_fit_in_and_say_why(short) -> None:
    result = nose(short)
    result = replace(result, motion=fc.motion(result, draws=20))
    lines = Plain().screening(result).splitlines()
    assert len(lines) <= MOST_LINES
    assert max(map(len, lines)) <= WIDEST
    said = " ".join(" ".join(lines).split())
    if any(one.refused for one in result.motion.people):
        assert result.motion.people[0].reason in said
    for one in result.motion.people:
        if one.wad_mm is not None:
            assert f"{one.wad_mm.p5:.0f} to {one.wad_mm.p95:.0f} {one.part}" in said
        else:
            assert "unmeasured" in said or "not said" in said


@pytest.mark.parametrize("show", ["answer", "stations", "findings", "all"])
def test_every_view_goes_with_the_motion(show) -> None:
    result = struck("plover")
    said = " ".join(Plain().screening(result, show=show).split())
    assert CAUTION in said
    told = any(finding.code == "BODY-STRUCK-CARRIED" for finding in result.findings)
    assert told
    if show in ("findings", "all"):
        assert "BODY-STRUCK-CARRIED" in said


def test_one_process_or_two_say_the_same(monkeypatch, tmp_path) -> None:
    made = []
    for count in (1, 2):
        monkeypatch.setattr("os.cpu_count", lambda count=count: count)
        path = tmp_path / f"{count}.json"
        args = ["screen", "geometries/plover.csv", "--motion", "--motion-draws", "20", "--json"]
        run = CliRunner().invoke(main, [*args, str(path)])
        made.append((run.output, path.read_bytes()))
    assert made[0] == made[1]


@pytest.mark.parametrize(
    ("args", "words"),
    [
        (["--speed", "30"], "--speed says how people are struck: it needs --motion"),
        (["--motion-draws", "30"], "it needs --motion"),
        (["--motion", "--lines-only"], "does not go with --lines-only"),
        (["--motion", "--motion-draws", "3"], "20 to 5000"),
        (["--motion", "--speed", "nan"], "20 to 50 km/h"),
    ],
)
def test_what_does_not_go_together_is_refused(args, words) -> None:
    run = CliRunner().invoke(main, ["screen", "geometries/plover.csv", *args])
    assert run.exit_code == 2
    assert words in " ".join(run.output.split())
    assert "Traceback" not in run.output


def test_the_command_lets_people_be_struck(tmp_path) -> None:
    path = tmp_path / "struck.json"
    args = ["screen", "geometries/plover.csv", "--motion", "--motion-draws", "20", "--json", path]
    done = CliRunner().invoke(main, [*map(str, args)])
    assert done.exit_code == CliRunner().invoke(main, ["screen", "geometries/plover.csv"]).exit_code
    document = fc.read_screening(path)
    assert [row.motion.kind for row in document.answer.people][:2] == ["carried up"] * 2
    assert "of 20 cases" in done.output
    refused = CliRunner().invoke(main, [*map(str, args[:3]), "--speed", "99"])
    assert refused.exit_code == 2
    assert "20 to 50 km/h" in refused.output
