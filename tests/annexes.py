"""Annexes that several tests look at, each made once a process."""

from __future__ import annotations

from cProfile import Profile
from dataclasses import replace
from functools import cache
from pathlib import Path
from pstats import Stats
from typing import NamedTuple

from frontcheck.body.motion import motion
from frontcheck.comparison.two_fronts import compare
from frontcheck.outputs.annex.annex import annex_files
from frontcheck.outputs.annex.annex_text import TitleBlock
from frontcheck.outputs.text.first_screen import face_words
from frontcheck.reading.readers import read_front
from frontcheck.screening import Screening, screen, with_motion

GEOMETRIES = Path(__file__).resolve().parent.parent / "geometries"

# Markup of HTML, of script and of the typesetting language, references and formulas, marks that
# turn the direction of writing, a word longer than any column.
HOSTILE = (
    "</script><script>window.broken=1</script><img src=x onerror=window.broken=1>"
    "]]>--><!-- &lt; \" ' `<style>*{display:none}</style> "
    '#panic("broken") #include "/etc/passwd" *bold* _low_ $x^2$ <label> @ref \\ [a](b) = Head '
    "{{7*7}} ${7*7} \u202egnp.exe \u200b\x07\x1b[31m "
)
IN_A_FILE = HOSTILE.replace("\u202e", "").replace("\u200b", "").replace("\x07\x1b", "")
"""The same without what the reader of offset tables refuses."""
LONG = "W" * 300

TABLE = """\
# name: {name}
# method: {method}
# notes: {notes}
# datum: common
# symmetric: yes
station_mm,height_mm,setback_mm,part
"""
ROWS = (
    (240, 300, "underside"), (260, 60, "bumper"), (330, 20, "bumper"), (450, 30, "bumper"),
    (560, 10, "bumper"), (650, 40, "grille"), (780, 90, "grille"), (840, 250, "bonnet"),
    (1000, 1150, "bonnet"), (985, 1185, "cowl"), (990, 1210, "windscreen"),
    (1600, 2400, "windscreen"),
)  # fmt: skip


def small_front(folder: Path, **text: str) -> Path:
    """An offset table of two stations with text of one's choice."""
    head = TABLE.format(**{"name": "Small", "method": "invented", "notes": "invented shape"} | text)
    rows = [f"{y},{z},{x + 0.0002 * y * y:g},{part}" for y in (0, 600) for z, x, part in ROWS]
    path = folder / "small.csv"
    path.write_text(head + "\n".join(rows) + "\n", "utf-8")
    return path


class Calls(NamedTuple):
    """How often one function was called from one file."""

    caller: Path
    called: Path
    function: str
    count: int


@cache
def screened(name: str) -> Screening:
    """Screening of one of the demonstration fronts, at every third station.

    Four stations show what ten would; CI makes the annex of the whole fronts (.ci/reports).
    """
    front = read_front(GEOMETRIES / f"{name}.csv")
    return screen(replace(front, sections=front.sections[::3]))


TITLES = TitleBlock(
    title="Nose review", author="The studio", project="Compact electric runabout",
    number="GA-014", revision="B", date="12 May",
)  # fmt: skip


@cache
def plover_files() -> dict[str, bytes]:
    """Annex of one front without a title block."""
    return annex_files(screened("plover"))


def both_files() -> dict[str, bytes]:
    """Annex of two fronts with every entry of the title block, on Letter paper."""
    return both_files_and_calls()[0]


@cache
def both_files_and_calls() -> tuple[dict[str, bytes], list[Calls]]:
    """The same, and every call made on the way from results that were all there."""
    a, b = screened("plover"), screened("avocet")
    comparison = compare(a, b)
    for screening in (a, b):
        screening.to_dict()
        assert screening.bands
        assert screening.answer_bands
        assert screening.by_other_rules
        assert face_words(screening)
        for each in (screening, *screening.by_other_rules):
            for station in each.stations:  # tools are set when they are first asked for
                assert [line.pose for line in station.lines]
                assert [point.tape for point in station.wads]
    comparison.to_dict()
    profile = Profile()
    files = profile.runcall(annex_files, a, comparison, TITLES, "letter", full=True)
    calls = [
        Calls(Path(caller[0]), Path(called[0]), called[2], counts[0])
        for called, (*_, callers) in Stats(profile).stats.items()
        for caller, counts in callers.items()
    ]
    return files, calls


@cache
def struck(other: str = "") -> Screening:
    """Screening of the first front, with people who are struck by it, and by another one."""
    fronts = [screened(name) for name in ("plover", other) if name]
    return with_motion(fronts[0], motion(*fronts, draws=20))


@cache
def struck_files() -> dict[str, bytes]:
    """Annex of two fronts with people who are struck."""
    return annex_files(struck("avocet"), compare(screened("plover"), screened("avocet")))
