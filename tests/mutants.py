"""Small wrong changes of the program, one at a time: do the tests notice?

    .venv/bin/python tests/mutants.py --seed 1 --count 60

Draws changes (a turned comparison, a sign, swapped arguments, another word, a lost line) from the
rooms that work something out or say it. One run of all tests tells which of them come by the places
of these changes, and how long each takes; it is kept in `.mutants/`. Then each change is made in a
copy: the tests that came by run, quickest first, then the whole files they stand in, until one
fails; what CI does with reports/ counts as a file. Lists what none noticed, and ends with 1 if
under 95 % were noticed. Which changes mean the same (equivalent ones) is for the reader to tell.
"""

from __future__ import annotations

import argparse
import ast
import hashlib
import json
import math
import os
import random
import re
import shutil
import subprocess
import sys
import time
from collections.abc import Iterable, Iterator
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from itertools import accumulate
from pathlib import Path
from typing import Any

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
QUICK_S = 60.0
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


def tested(names: Iterable[str], *options: str) -> list[str]:
    """What Python is to run for some tests or files of them, or for the reports."""
    if REPORTS not in names:
        return ["-m", "pytest", "-q", "-n", "0", "-p", "no:cacheprovider", *options, *names]
    return ["tests/mutants.py", "--reports", str(ROOT / "reports")]


def same_reports(committed: str) -> int:
    """Make reports/ anew where one stands, and compare them."""
    if subprocess.run([REPORTS], capture_output=True, check=False).returncode:
        return 1
    check = [sys.executable, ".ci/report_check.py", committed, "reports"]
    return subprocess.run(check, capture_output=True, check=False).returncode


PROBE = '''"""Put in by tests/mutants.py: which test comes by which place."""
import json
import os
SEEN = set()
def told(kind, *what):
    with open(f"{os.environ['MUTANTS_TOLD']}/{kind}-{os.getpid()}", "a") as file:
        file.write(json.dumps(what) + "\\n")
def by(*numbers):
    test = os.environ.get("PYTEST_CURRENT_TEST", "").rpartition(" (")[0]
    for number in numbers:
        if (number, test) not in SEEN:
            SEEN.add((number, test))
            told("by", number, test)
def pytest_runtest_logreport(report):
    if "PYTEST_XDIST_WORKER" not in os.environ:
        told("took", report.nodeid, report.duration, report.failed)
'''


def probed(source: str, changes: dict[int, Mutant], named: dict[str, int]) -> str:
    """Return a file that tells when a run comes by the changes in it, or by what they name."""
    rows = source.splitlines(keepends=True)
    places: dict[tuple[int, int], set[int]] = {}
    functions = [n for n in ast.walk(ast.parse(source)) if isinstance(n, ast.FunctionDef)]

    def around(line: int) -> list[ast.FunctionDef]:
        return [f for f in functions if f.lineno <= line <= (f.end_lineno or 0)]

    def before(node: ast.stmt, number: int) -> None:
        first = min([node.lineno, *(d.lineno for d in getattr(node, "decorator_list", ()))])
        places.setdefault((first, node.col_offset), set()).add(number)

    def inside(function: ast.FunctionDef, number: int) -> None:
        body = function.body[ast.get_docstring(function) is not None :]
        if body and body[0].lineno > function.lineno:
            before(body[0], number)

    for number, change in changes.items():
        for function in functions if not around(change.line) else ():
            inside(function, number)  # worked out at import: whoever uses the file
        for function in around(change.line)[-1:]:
            nearest: ast.stmt = function
            for node in ast.walk(function):
                if isinstance(node, ast.stmt) and node.lineno <= change.line <= (
                    node.end_lineno or 0
                ):
                    elif_ = rows[node.lineno - 1].lstrip().startswith("elif")
                    nearest = nearest if elif_ else node
            if isinstance(nearest, ast.FunctionDef):
                inside(nearest, number)
            else:
                before(nearest, number)
    for function in functions if named else ():
        for name in {n.id for n in ast.walk(function) if isinstance(n, ast.Name)} & set(named):
            inside(function, named[name])
    for (row, column), numbers in sorted(places.items(), reverse=True):
        told = ", ".join(map(str, sorted(numbers)))
        rows.insert(row - 1, f"{' ' * column}__import__('mutants_probe').by({told})\n")
    return "".join(rows)


def named_by(change: Mutant) -> set[str]:
    """The names that a change outside functions gives a value to."""
    found = set()
    for node in ast.parse((ROOT / change.file).read_text(encoding="utf-8")).body:
        here = node.lineno <= change.line <= (node.end_lineno or 0)
        if here and isinstance(node, ast.Assign | ast.AnnAssign):
            targets = node.targets if isinstance(node, ast.Assign) else [node.target]
            found |= {t.id for t in targets if isinstance(t, ast.Name)}
    return found


def walk(chosen: list[Mutant], kept: Path) -> None:
    """Run every test once and keep which come by the places of changes, and how long each takes."""
    tree = copied(KEPT / "walk")
    (tree / "mutants_probe.py").write_text(PROBE)
    named = {name: i for i, each in enumerate(chosen) for name in named_by(each)}
    for path in sorted((tree / "frontcheck").rglob("*.py")):
        file = path.relative_to(tree).as_posix()
        here = {i: each for i, each in enumerate(chosen) if each.file == file}
        source = path.read_text(encoding="utf-8")
        path.write_text(probed(source, here, named), encoding="utf-8")
    told = tree / "told"
    told.mkdir()
    env = environment(tree) | {"MUTANTS_TOLD": str(told)}
    run = [sys.executable, "-m", "pytest", "-q", "-p", "no:cacheprovider", "-p", "mutants_probe"]
    subprocess.run(run, cwd=tree, env=env, check=False)
    start = time.monotonic()
    env["PYTEST_CURRENT_TEST"] = f"{REPORTS} ()"
    subprocess.run([sys.executable, *tested([REPORTS])], cwd=tree, env=env, check=False)
    took = {REPORTS: time.monotonic() - start}
    failed, came = set(), {}
    for path in sorted(told.iterdir()):
        for row in map(json.loads, path.read_text(encoding="utf-8").splitlines()):
            if path.name.startswith("by-"):
                came.setdefault(str(row[0]), set()).add(row[1])
            else:
                took[row[0]] = took.get(row[0], 0) + row[1]
                failed |= {row[0]} if row[2] else set()
    for number, tests in came.items():
        if "" in tests:  # at import: whatever names the file may notice it
            module = chosen[int(number)].file.removesuffix(".py").replace("/", ".")
            named_in = {f for f in {t.partition("::")[0] for t in took} if f != REPORTS
                        and module in (ROOT / f).read_text(encoding="utf-8")}  # fmt: skip
            came[number] = tests - {""} | {t for t in took if t.partition("::")[0] in named_in}
    kept.write_text(json.dumps({
        "took": took, "failed": sorted(failed), "came": {k: sorted(v) for k, v in came.items()},
    }))  # fmt: skip


def noticed_by(
    mutant: Mutant, tree: Path, came: list[str], walked: dict[str, Any], most_s: float
) -> str | None:
    """The first test, or file of tests, that fails; None if none does within the time."""
    took, failed = walked["took"], set(walked["failed"])
    tests = [each for each in came if each not in failed and each.partition("::")[0] not in TIMED]
    tests.sort(key=lambda each: took.get(each, 0.0))
    files = list(dict.fromkeys(each.partition("::")[0] for each in tests))
    lasts = {f: sum(v for k, v in took.items() if k.partition("::")[0] == f) for f in files}
    left = [f"--deselect={each}" for each in sorted(failed)]
    few = [each for each in tests if each != REPORTS]
    quick = few[: sum(each < QUICK_S for each in accumulate(took.get(e, 0.0) for e in few))]
    wide = [each for each in few if each.startswith("tests/regression/")]  # they notice the most
    order = list(dict.fromkeys([*quick, *wide, *few]))
    runs, spent, those, seconds = [], 0.0, [], 0.0
    for each in order:  # fifty at once, but a slow one by itself: it may not fit any more
        if those and (len(those) == 50 or seconds + took.get(each, 0.0) > QUICK_S):
            runs.append((those, seconds))
            those, seconds = [], 0.0
        those.append(each)
        seconds += took.get(each, 0.0)
    runs += [(those, seconds)] if those else []
    # What is made once for a file is seen by its other tests too.
    runs += [([f], lasts[f]) for f in sorted(files, key=lasts.__getitem__)]
    target = tree / mutant.file
    source = (ROOT / mutant.file).read_text(encoding="utf-8")
    target.write_text(source[: mutant.start] + mutant.text + source[mutant.end :], encoding="utf-8")
    try:
        for those, seconds in runs:
            if spent + seconds > most_s:
                continue
            spent += seconds
            try:
                done = subprocess.run(
                    [sys.executable, *tested(those, "-x", *left)], cwd=tree,
                    env=environment(tree), capture_output=True, timeout=120 + 5 * seconds,
                    check=False, text=True,
                )  # fmt: skip
            except subprocess.TimeoutExpired:
                return f"{those[-1]} (does not end)"
            if done.returncode not in {0, 5}:
                said = re.findall(r"^(?:FAILED|ERROR) (\S+)", done.stdout, re.MULTILINE)
                return said[0] if said else those[-1]
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
    ask.add_argument("--most", type=float, default=math.inf, help="seconds of tests for a change")
    ask.add_argument("--list", action="store_true", help="only list the changes")
    ask.add_argument("--reports", help=argparse.SUPPRESS)  # what a mutant's reports are held to
    said = ask.parse_args()
    if said.reports:
        return same_reports(said.reports)
    chosen = drawn(said.seed, said.count, tuple(said.rooms.split(",")))
    if said.list:
        print(*chosen, sep="\n")  # noqa: T201
        return 0
    mark = hashlib.sha256("\n".join(map(str, chosen)).encode()).hexdigest()[:12]
    KEPT.mkdir(exist_ok=True)
    kept = KEPT / f"came-{mark}.json"
    if not kept.exists():
        walk(chosen, kept)
    walked = json.loads(kept.read_text())
    free = [copied(KEPT / f"tree-{i}") for i in range(said.jobs)]

    def one(number: int) -> str | None:
        tree = free.pop()
        try:
            return noticed_by(
                chosen[number], tree, walked["came"].get(str(number), []), walked, said.most
            )
        finally:
            free.append(tree)

    with ThreadPoolExecutor(said.jobs) as pool:
        passed = []
        for mutant, by in zip(chosen, pool.map(one, range(len(chosen))), strict=True):
            print(f"{'noticed' if by else 'PASSED UNSEEN'}  {mutant}  {by or ''}", flush=True)  # noqa: T201
            passed += [] if by else [mutant]
    share = 1 - len(passed) / len(chosen)
    print(f"\n{len(chosen)} changes, {share:.0%} noticed; unseen:", *passed, sep="\n")  # noqa: T201
    return int(share < AIM)


if __name__ == "__main__":
    raise SystemExit(main())
