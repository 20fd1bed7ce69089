"""Small wrong changes of the program, one at a time: do the tests notice?

    .venv/bin/python tests/mutants.py --seed 1 --count 60

Draws changes (a turned comparison, a sign, swapped arguments, another word, a lost line) from the
rooms that work something out or say it, runs for each the test files that walk through the changed
line, quickest first, then what CI does with reports/, until one fails, and lists what none noticed.
Ends with 1 if under 95 % were noticed. Which test file walks through which line is measured once
(`--walk`, some 40 min on two cores) and kept in `.mutants/`; needs `coverage` (extra `dev`). Which
changes mean the same (equivalent ones) is for the reader of the list to tell.
"""

from __future__ import annotations

import argparse
import ast
import json
import os
import random
import re
import shutil
import subprocess
import sys
import time
from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent
KEPT = ROOT / ".mutants"
ROOMS = (
    "geometry", "surface", "lines", "zones", "findings", "people", "legs", "body", "sure",
    "comparison", "study", "outputs",
)  # fmt: skip
AIM = 0.95
REPORTS = ".ci/reports"
"""CI makes reports/ anew and compares them with what is committed: a test like others."""
COMPARED = {"<": "<=", "<=": "<", ">": ">=", ">=": ">", "==": "!=", "!=": "==", "is not": "is"}
OPERATORS = {
    ast.Lt: "<", ast.LtE: "<=", ast.Gt: ">", ast.GtE: ">=", ast.Eq: "==", ast.NotEq: "!=",
    ast.IsNot: "is not", ast.Add: "+", ast.Sub: "-", ast.Mult: "*", ast.Div: "/",
}  # fmt: skip
CALCULATED = {"+": "-", "-": "+", "*": "/", "/": "*"}
NAMES = {"min": "max", "max": "min", "any": "all", "all": "any", "argmin": "argmax",
         "argmax": "argmin", "minimum": "maximum", "maximum": "minimum", "x": "z", "z": "x",
         "low": "high", "high": "low", "first": "second", "second": "first"}  # fmt: skip
WORDS = (
    ("left", "right"), ("front", "rear"), ("higher", "lower"), ("upper", "lower"), ("in", "out"),
    ("above", "below"), ("at least", "at most"), ("rearward", "forward"), ("more", "less"),
    ("A", "B"), ("x", "z"), ("height", "setback"), ("not", ""), ("mm", "cm"), ("deg", "rad"),
    ("child", "adult"), ("up", "down"), ("before", "after"),
)  # fmt: skip
TIMED = {"tests/whole/test_processes.py"}
"""How fast a run ends fails beside other work, whatever was changed."""
COMMUTES = {"min", "max", "minimum", "maximum", "hypot", "dist", "union1d", "isclose"}
ALIKE = (ast.Name, ast.Attribute, ast.Subscript, ast.UnaryOp, ast.BinOp, ast.Call)
STYLE = re.compile(
    r"font|size|color|colour|alpha|width=|lw=|pad|zorder|marker|style|dash|space|inset|margin|dpi",
    re.IGNORECASE,
)


@dataclass(frozen=True)
class Mutant:
    """One change of one place."""

    file: str
    line: int
    start: int
    end: int
    text: str
    kind: str

    def __str__(self) -> str:
        source = (ROOT / self.file).read_text(encoding="utf-8")
        before = source[self.start : self.end]
        return f"{self.file}:{self.line} {self.kind}: {before!r} -> {self.text!r}"


def mutants_of(path: Path) -> Iterator[Mutant]:
    """Yield every change of a file that the kinds above allow."""
    source = path.read_text(encoding="utf-8")
    name = path.relative_to(ROOT).as_posix()
    starts = [0]
    for line in source.splitlines(keepends=True):
        starts.append(starts[-1] + len(line.encode()))
    raw = source.encode()
    rows = source.splitlines()

    def place(node: ast.expr) -> tuple[int, int]:
        a = starts[node.lineno - 1] + node.col_offset
        b = starts[(node.end_lineno or node.lineno) - 1] + (node.end_col_offset or 0)
        return len(raw[:a].decode()), len(raw[:b].decode())

    def made(node: ast.expr, start: int, end: int, text: str, kind: str) -> Mutant:
        return Mutant(name, node.lineno, start, end, text, kind)

    def between(one: ast.expr, two: ast.expr, sign: str, text: str, kind: str) -> Iterator[Mutant]:
        a, b = place(one)[1], place(two)[0]
        at = source.find(sign, a, b)
        if at >= 0:
            yield made(one, at, at + len(sign), text, kind)

    drawn = "/outputs/" in name
    for node in _walked(ast.parse(source)):
        row = rows[getattr(node, "lineno", 1) - 1]
        if drawn and STYLE.search(row):
            continue
        if isinstance(node, ast.Compare) and len(node.ops) == 1:
            sign = OPERATORS.get(type(node.ops[0]), "")
            if sign in COMPARED:
                right = node.comparators[0]
                yield from between(node.left, right, sign, COMPARED[sign], "comparison")
        elif isinstance(node, ast.BinOp):
            sign = OPERATORS.get(type(node.op), "")
            text = isinstance(node.left, ast.Constant | ast.JoinedStr) and "str" in ast.dump(node)
            if sign in CALCULATED and not text:
                yield from between(node.left, node.right, sign, CALCULATED[sign], "sign")
        elif isinstance(node, ast.BoolOp):
            old, new = ("and", "or") if isinstance(node.op, ast.And) else ("or", "and")
            yield from between(node.values[0], node.values[1], old, new, "logic")
        elif isinstance(node, ast.UnaryOp) and isinstance(node.op, ast.Not | ast.USub):
            start, _ = place(node)
            yield made(node, start, place(node.operand)[0], "", "negation")
        elif isinstance(node, ast.Attribute) and node.attr in NAMES:
            end = place(node)[1]
            yield made(node, end - len(node.attr), end, NAMES[node.attr], "name")
        elif isinstance(node, ast.Name) and node.id in NAMES and isinstance(node.ctx, ast.Load):
            yield made(node, *place(node), NAMES[node.id], "name")
        elif isinstance(node, ast.Call | ast.Tuple):
            values = node.args if isinstance(node, ast.Call) else node.elts
            named = ast.unparse(node.func).rpartition(".")[2] if isinstance(node, ast.Call) else ""
            if (
                named not in COMMUTES
                and len(values) >= 2
                and all(isinstance(v, ALIKE) for v in values[:2])
            ):
                (a, b), (c, d) = place(values[0]), place(values[1])
                if source[a:b] != source[c:d]:
                    yield made(node, a, d, source[c:d] + source[b:c] + source[a:b], "order")
        elif isinstance(node, ast.Constant):
            yield from _constants(node, drawn, source, place(node), name)
        elif isinstance(node, ast.Expr) and isinstance(node.value, ast.Call):
            yield made(node.value, *place(node.value), "None", "lost line")


def _constants(
    node: ast.Constant, drawn: bool, source: str, at: tuple[int, int], name: str
) -> Iterator[Mutant]:
    value, (start, end) = node.value, at
    if isinstance(value, bool):
        yield Mutant(name, node.lineno, start, end, str(not value), "truth")
    elif isinstance(value, int | float) and not drawn:
        new = str(value + 1) if isinstance(value, int) else repr(value * 1.1 if value else 1.0)
        yield Mutant(name, node.lineno, start, end, new, "number")
    elif isinstance(value, str) and " " not in source[start - 1 : start]:
        for one, two in WORDS:
            for old, new in ((one, two), (two, one)):
                hit = old and re.search(rf"(?<![A-Za-z_]){re.escape(old)}(?![A-Za-z_])", value)
                found = source.find(old, start, end) if hit else -1
                if found >= 0:
                    yield Mutant(name, node.lineno, found, found + len(old), new, "word")


def _walked(tree: ast.AST) -> Iterator[ast.AST]:
    """Walk a tree without docstrings, annotations and what stands for the type checker alone."""
    for field, value in ast.iter_fields(tree):
        if field in {"annotation", "returns", "decorator_list", "type_params"}:
            continue
        values = value if isinstance(value, list) else [value]
        for child in values:
            if not isinstance(child, ast.AST) or isinstance(child, ast.Import | ast.ImportFrom):
                continue
            if isinstance(child, ast.Expr) and isinstance(child.value, ast.Constant):
                continue
            if isinstance(child, ast.keyword) and child.arg in {"strict", "repr"}:
                continue  # guards against what does not come; how a thing shows to developers
            if isinstance(child, ast.If) and "TYPE_CHECKING" in ast.dump(child.test):
                continue
            yield child
            yield from _walked(child)


def drawn(seed: int, count: int, rooms: tuple[str, ...]) -> list[Mutant]:
    """Draw changes, as many from every room and kind, files weighted by their length."""
    rng = random.Random(seed)
    out: list[Mutant] = []
    pools = {}
    for room in rooms:
        files = sorted((ROOT / "frontcheck" / room).rglob("*.py"))
        pools[room] = [each for path in files for each in mutants_of(path)]
    while len(out) < count:
        for room in rooms:
            kind = rng.choice(sorted({each.kind for each in pools[room]}))
            each = rng.choice([each for each in pools[room] if each.kind == kind])
            source = (ROOT / each.file).read_text(encoding="utf-8")
            try:
                compile(source[: each.start] + each.text + source[each.end :], each.file, "exec")
            except SyntaxError:
                continue
            if each not in out and len(out) < count:
                out.append(each)
    return out


def environment(tree: Path) -> dict[str, str]:
    """Where a run finds the package: in a copy, not in what is installed."""
    single = {f"{name}_NUM_THREADS": "1" for name in ("OPENBLAS", "OMP", "MKL")}
    return os.environ | single | {"PYTHONPATH": str(tree), "PYTHONDONTWRITEBYTECODE": "1"}


def copied(to: Path) -> Path:
    """Copy what tests need; links for what is never written."""
    if to.exists():
        shutil.rmtree(to)
    to.mkdir(parents=True)
    for name in ("frontcheck", "tests", "geometries", "reports", ".ci"):
        shutil.copytree(ROOT / name, to / name, ignore=shutil.ignore_patterns("__pycache__"))
    for name in ("pyproject.toml", "README.md", "DEVELOPERS.md", "LICENSE"):
        shutil.copy(ROOT / name, to / name)
    (to / ".venv").symlink_to(Path(sys.prefix))
    return to


def tested(name: str, *options: str) -> list[str]:
    """What Python is to run for one file of tests, or for the reports."""
    if name != REPORTS:
        return ["-m", "pytest", "-q", "-n", "0", "-p", "no:cacheprovider", *options, name]
    return ["tests/mutants.py", "--reports", str(ROOT / "reports")]


def same_reports(committed: str) -> int:
    """Make reports/ anew where one stands, and compare them."""
    if subprocess.run([REPORTS], capture_output=True, check=False).returncode:
        return 1
    check = [sys.executable, ".ci/report_check.py", committed, "reports"]
    return subprocess.run(check, capture_output=True, check=False).returncode


def walk(jobs: int, pattern: str) -> None:
    """Measure which lines each file of tests walks through, and how long it takes."""
    tree = copied(KEPT / "walk")
    (tree / ".coveragerc").write_text(
        f"[run]\nsource = {tree}/frontcheck\nparallel = true\npatch = subprocess\ncore = ctrace\n"
    )

    def one(path: Path) -> tuple[str, float, int, dict[str, list[int]]]:
        data = KEPT / "walked" / path.stem
        data.mkdir(parents=True, exist_ok=True)
        env = environment(tree) | {
            "COVERAGE_FILE": f"{data}/data", "COVERAGE_PROCESS_START": f"{tree}/.coveragerc",
        }  # fmt: skip
        start = time.monotonic()
        run = [sys.executable, "-m", "coverage", "run", *tested(path.as_posix())]
        done = subprocess.run(run, cwd=tree, env=env, capture_output=True, check=False)
        took = time.monotonic() - start
        from coverage import Coverage

        whole = Coverage(data_file=str(data / "data"), config_file=str(tree / ".coveragerc"))
        whole.combine([str(data)])
        lines = whole.get_data()
        prefix = f"{tree}/"
        return (
            path.as_posix(), took, done.returncode,
            {f.removeprefix(prefix): sorted(lines.lines(f) or ()) for f in lines.measured_files()},
        )  # fmt: skip

    file = KEPT / "walked.json"
    with ThreadPoolExecutor(jobs) as pool:
        found = []
        files = sorted(path.relative_to(ROOT) for path in (ROOT / "tests").glob(pattern))
        files += [Path(REPORTS)] if pattern in {"*/test_*.py", REPORTS} else []
        for name, took, ended, lines in pool.map(one, files):
            failed = f", FAILS UNCHANGED ({ended}): left out" if ended else ""
            print(f"{took:7.1f} s  {name}: {len(lines)} files{failed}", flush=True)  # noqa: T201
            found.append({"file": name, "took": took, "ended": ended, "lines": lines})
    before = json.loads(file.read_text()) if file.exists() else []
    anew = {each["file"] for each in found}
    file.write_text(json.dumps([each for each in before if each["file"] not in anew] + found))


def noticed_by(mutant: Mutant, tree: Path, walked: list[dict]) -> str | None:  # type: ignore[type-arg]
    """The first file of tests that fails; None if none does."""
    target = tree / mutant.file
    source = (ROOT / mutant.file).read_text(encoding="utf-8")
    target.write_text(source[: mutant.start] + mutant.text + source[mutant.end :], encoding="utf-8")
    try:
        those = (w for w in walked if w["file"] not in TIMED and not w["ended"])
        through = [
            w
            for w in those
            if (tree / w["file"]).exists() and mutant.line in w["lines"].get(mutant.file, ())
        ]
        for each in sorted(through, key=lambda w: w["took"]):
            try:
                done = subprocess.run(
                    [sys.executable, *tested(each["file"], "-x")], cwd=tree, env=environment(tree),
                    capture_output=True, timeout=60 + 5 * each["took"], check=False,
                )  # fmt: skip
            except subprocess.TimeoutExpired:
                return f"{each['file']} (does not end)"
            if done.returncode not in {0, 5}:
                return str(each["file"])
        return None
    finally:
        target.write_text(source, encoding="utf-8")


def main() -> int:
    """Run as a script."""
    ask = argparse.ArgumentParser(description=(__doc__ or "").split("\n\n", maxsplit=1)[0])
    ask.add_argument("--seed", type=int, default=1)
    ask.add_argument("--count", type=int, default=60)
    ask.add_argument("--rooms", default=",".join(ROOMS))
    ask.add_argument("--jobs", type=int, default=2)
    ask.add_argument("--walk", action="store_true", help="measure anew which test walks where")
    ask.add_argument("--tests", default="*/test_*.py", help="which files --walk takes")
    ask.add_argument("--list", action="store_true", help="only list the changes")
    ask.add_argument("--reports", help=argparse.SUPPRESS)  # what a mutant's reports are held to
    said = ask.parse_args()
    if said.reports:
        return same_reports(said.reports)
    chosen = drawn(said.seed, said.count, tuple(said.rooms.split(",")))
    if said.list:
        print(*chosen, sep="\n")  # noqa: T201
        return 0
    if said.walk or not (KEPT / "walked.json").exists():
        walk(said.jobs, said.tests)
    walked = json.loads((KEPT / "walked.json").read_text())
    trees = [copied(KEPT / f"tree-{i}") for i in range(said.jobs)]
    free = list(trees)

    def one(mutant: Mutant) -> str | None:
        tree = free.pop()
        try:
            return noticed_by(mutant, tree, walked)
        finally:
            free.append(tree)

    with ThreadPoolExecutor(said.jobs) as pool:
        passed = []
        for mutant, by in zip(chosen, pool.map(one, chosen), strict=True):
            print(f"{'noticed' if by else 'PASSED UNSEEN'}  {mutant}  {by or ''}", flush=True)  # noqa: T201
            passed += [] if by else [mutant]
    share = 1 - len(passed) / len(chosen)
    print(f"\n{len(chosen)} changes, {share:.0%} noticed; unseen:", *passed, sep="\n")  # noqa: T201
    return int(share < AIM)


if __name__ == "__main__":
    raise SystemExit(main())
