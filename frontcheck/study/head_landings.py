"""Where heads land on the variants of a study: always an interval, from the same assumed cases."""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

from frontcheck.errors import refuse
from frontcheck.people.people import struck_people

if TYPE_CHECKING:
    from frontcheck.errors import RefusedError
    from frontcheck.front.front import Front
    from frontcheck.rules.ruleset import RuleSet

RUNS_A_SECOND: Final = 20
"""Runs, one person in one assumed case, that a core does at least: what is asked of the model."""
INTERVAL: Final = ("median", "p5", "p95")
TOLD: Final = (*(f"{each}_mm" for each in INTERVAL), "status", "reason")
"""Of every person: the interval, whether it is given, and why not."""
_NOT_STRUCK: Final = "made for the sensitivities of lines only; heads are asked for in the sample"


@dataclass(frozen=True)
class HeadLandings:
    """Who is struck where, how fast and in how many assumed cases."""

    people: tuple[str, ...]  # Names of people whom the motion model strikes
    station: float  # [mm]
    speed_km_h: float
    draws: int
    seed: int

    def column(self, person: str, what: str) -> str:
        """Return one column of the results table."""
        words = re.sub(r"[ -]", "_", person)
        return f"y{self.station + 0.0:g}_head_wad_{words}_{what}"

    @property
    def columns(self) -> tuple[str, ...]:
        """All its columns, person by person."""
        return tuple(self.column(person, what) for person in self.people for what in TOLD)

    def cells(self, front: Front | None, rules: RuleSet, *, struck: bool) -> list[object]:
        """Return those columns of one variant; all empty where it cannot be made."""
        if front is None:
            return [None] * len(self.columns)
        if not struck:
            return [None, None, None, "not_available", _NOT_STRUCK] * len(self.people)
        from frontcheck.body.motion import motion
        from frontcheck.lines.lined_front import line_up

        known = {person.name: person for person in struck_people()}
        study = motion(
            line_up(front, rules, ()),
            people=[known[name] for name in self.people],
            station=self.station,
            speed_km_h=self.speed_km_h,
            draws=self.draws,
            seed=self.seed,
        )
        cells: list[object] = []
        for one in study.people:
            if one.wad_mm is None:
                cells += [None, None, None, "not_available", one.reason]
            else:
                cells += [*(getattr(one.wad_mm, each) for each in INTERVAL), "ok", ""]
        return cells

    def cost(self, variants: int, workers: int) -> str:
        """Return what it takes, in words."""
        runs = variants * len(self.people) * self.draws
        seconds = runs / RUNS_A_SECOND / workers
        return (
            f"Heads: {variants} variants x {len(self.people)} people x {self.draws} draws = "
            f"{runs} runs; {seconds:.0f} s at {RUNS_A_SECOND} runs a second on each of {workers} "
            "at work. Variants that were made before are not made again."
        )


def no_target(
    line: str, file: str | None = None, key: str | None = None,
    kind: type[RefusedError] | None = None,
) -> RefusedError | None:  # fmt: skip
    """Return the refusal of a number of heads as something to aim at or to share out."""
    if "head" not in line:
        return None
    return refuse("study.no_target", file, key=key, kind=kind, line=line)
