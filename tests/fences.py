"""What stands in fences of a Markdown page, run as typed; what the page quotes is compared.

```sh     each line is run by bash in a scratch folder in which `geometries/` and `.venv/` are
          linked and `frontcheck` is this one; it ends with 0, or as its comment says:
          `# exits with 1`.
```text   directly after an ```sh block: its words stand one after the other in what those commands
          printed, lines wrapped or not; a line `...` leaves any number out.
```python run from top to bottom of the page in one namespace; numbers in a comment at the end of a
          line are compared: `x, y  # 556.0, 274.6...`. With `picture=NAME` after `python` what its
          last line gives (a figure or axes) is the picture of that name.
Other fences are parts of files and are not run.
"""

from __future__ import annotations

import ast
import os
import re
import shlex
import subprocess
import sys
import tomllib
from collections.abc import Iterator
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from markdown_it import MarkdownIt

from frontcheck.cli import main
from frontcheck.outputs.pages.book_pages import PICTURE, anchors, tokens

ROOT = Path(__file__).resolve().parents[1]
# How a command begins that is not run here, and why; options of ours are looked at all the same.
NOT_RUN = {
    "frontcheck bench": "serves until it is stopped; tests/whole/test_bench_server.py starts it",
    "python3 -m venv": "makes an environment; .ci/run runs the line of the README",
    "pip install": "installs; that the extras it names are there is looked at",
    "pytest": "runs all tests; .ci/run runs the line of the README",
    "dask": "starts a scheduler or a worker that runs until it is stopped",
}
SECONDS = 300


@dataclass(frozen=True)
class Fence:
    """A fenced block: language, what is said after it, content, line of the page."""

    language: str
    more: str
    content: str
    line: int

    @property
    def picture(self) -> str | None:
        """Name of the picture that it makes."""
        return self.more.removeprefix(PICTURE) if self.more.startswith(PICTURE) else None


@dataclass
class Ran:
    """What was run, how much of it was compared, and the pictures made."""

    commands: int = 0
    quoted: int = 0
    numbers: int = 0
    pictures: dict[str, Any] = field(default_factory=dict)


def fences(text: str) -> list[Fence]:
    """Every fenced block of a page."""
    found = []
    for token in tokens(text):
        if token.type == "fence":
            language, _, more = token.info.strip().partition(" ")
            assert token.map is not None
            found.append(Fence(language, more.strip(), token.content, token.map[0] + 1))
    return found


def run_page(text: str, folder: Path, *, only: str | None = None) -> Ran:
    """Run the fences of a page, or those of one language, in a folder; raise where one is wrong."""
    for name, there in (("geometries", ROOT / "geometries"), (".venv", Path(sys.prefix))):
        if not (folder / name).exists():
            (folder / name).symlink_to(there)
    ran, names, before = Ran(), {"__name__": "handbook"}, (None, "")
    came_from = Path.cwd()
    os.chdir(folder)
    try:
        for fence in fences(text):
            if only not in (None, fence.language):
                continue
            place = f"line {fence.line}"
            if fence.language == "sh":
                printed = [run_line(line, folder) for line in command_lines(fence.content)]
                ran.commands += len(printed)
                before = ("sh", "".join(printed))
                continue
            if fence.language == "text" and before[0] == "sh":
                ran.quoted += check_quoted(fence.content, before[1], place)
            elif fence.language == "python":
                numbers, last = run_python(fence.content, names)
                ran.numbers += numbers
                if fence.picture:
                    ran.pictures[fence.picture] = figure_of(last, place)
            before = (None, "")
    finally:
        os.chdir(came_from)
    return ran


# --- commands


def command_lines(content: str) -> list[str]:
    """Lines of a block of commands; one that ends in a backslash goes on in the next."""
    joined = content.replace("\\\n", " ")
    return [line for each in joined.splitlines() if (line := each.strip()) and line[0] != "#"]


def not_run(command: str) -> str | None:
    """Why a command is not run, or None."""
    plain = command.removeprefix(".venv/bin/")
    return next((why for start, why in NOT_RUN.items() if plain.startswith(start)), None)


def run_line(line: str, folder: Path) -> str:
    """Run a line of commands; what they print."""
    expected = int(found[1]) if (found := re.search(r"# exits with (\d+)", line)) else 0
    said = ""
    for command in line.split(" && "):
        if not_run(command):
            check_not_run(command)
            continue
        done = subprocess.run(
            ["bash", "-o", "pipefail", "-c", command], cwd=folder, env=surroundings(folder),
            stdout=subprocess.PIPE, stderr=subprocess.STDOUT, stdin=subprocess.DEVNULL,
            text=True, timeout=SECONDS, check=False,
        )  # fmt: skip
        assert "Traceback" not in done.stdout, f"{command}\n{done.stdout}"
        assert done.returncode == expected, (
            f"`{command}` ends with {done.returncode}, not {expected}:\n{done.stdout}"
        )
        said += done.stdout
    return said


def surroundings(folder: Path) -> dict[str, str]:
    """Where `frontcheck` is this one."""
    programs = folder / ".programs"
    programs.mkdir(exist_ok=True)
    own = programs / "frontcheck"
    own.write_text(f'#!/bin/sh\nexec {shlex.quote(sys.executable)} -m frontcheck "$@"\n')
    own.chmod(0o755)
    path = [str(programs), str(Path(sys.executable).parent), os.environ["PATH"]]
    threads = {"OPENBLAS_NUM_THREADS": "1"}
    return {**os.environ, **threads, "PATH": ":".join(path)}


def check_not_run(command: str) -> None:
    """Look at what can be seen of a command without running it."""
    words = shlex.split(command, comments=True)
    if words[0].endswith("frontcheck"):
        known = main.get_command(None, words[1])  # type: ignore[arg-type]
        assert known is not None, f"no such command: {command}"
        known.make_context(words[1], words[2:])  # refuses options that are not there
    if "install" in words:
        extras = tomllib.loads((ROOT / "pyproject.toml").read_text("utf-8"))
        there = extras["project"]["optional-dependencies"]
        for word in words:
            for asked in re.findall(r"\[([\w,]+)\]", word):
                assert set(asked.split(",")) <= set(there), f"no such extra: {command}"


def check_quoted(quoted: str, printed: str, place: str = "") -> int:
    """Hold a quotation against what was printed; how many lines it says."""
    left, count = " ".join(printed.split()), 0
    for part in re.split(r"(?m)^\s*\.\.\.\s*$", quoted):
        if not (said := " ".join(part.split())):
            continue
        found = re.search(rf"(?<!\S){re.escape(said)}(?!\S)", left)
        assert found, f"{place}: not printed: {said!r}, but, from there on: {left!r}"
        left = left[found.end() :]
        count += sum(1 for line in part.splitlines() if line.strip())
    assert count, f"{place}: quotes nothing"
    return count


# --- Python


def numbers_said(line: str) -> list[str]:
    """Numbers at the end of a line: `x, y  # 556.0, 274.6...`; none where the comment is words."""
    comment = line.partition("  # ")[2].strip()
    parts = comment.split(", ")
    return parts if all(re.fullmatch(r"-?\d+(\.\d+)?(\.\.\.)?", p) for p in parts) else []


def is_said(number: str, value: float) -> bool:
    """Whether a value is what a number says; the digits before `...` are those of the value."""
    if number.endswith("..."):
        return repr(float(value)).startswith(number[:-3])
    return repr(float(value)) == repr(float(number))


def run_python(source: str, names: dict[str, Any]) -> tuple[int, Any]:
    """Run a block statement by statement: how many numbers it said, all right; its last value."""
    lines, said, found = source.splitlines(), 0, None
    for node in ast.parse(source).body:
        assert node.end_lineno is not None
        numbers = numbers_said(lines[node.end_lineno - 1])
        if not isinstance(node, ast.Expr):
            exec(compile(ast.Module([node], []), "page", "exec"), names)
            target = node.targets[0] if isinstance(node, ast.Assign) else None
            found = names.get(target.id) if isinstance(target, ast.Name) else names.get("figure")
            continue
        found = eval(compile(ast.Expression(node.value), "page", "eval"), names)
        if numbers:
            values = found if isinstance(found, tuple) else (found,)
            assert len(values) == len(numbers), ast.unparse(node)
            for number, value in zip(numbers, values, strict=True):
                assert is_said(number, value), f"{ast.unparse(node)} is {value}, not {number}"
        said += len(numbers)
    return said, found


def figure_of(value: Any, place: str) -> Any:
    """Return the figure that a block of a picture ends with."""
    from matplotlib.figure import Figure

    figure = value if isinstance(value, Figure) else getattr(value, "figure", None)
    assert isinstance(figure, Figure), f"{place}: ends with {type(value).__name__}, not a figure"
    return figure


# --- links


def links(text: str) -> Iterator[str]:
    """Targets of the links and pictures of a page."""
    for token in MarkdownIt("commonmark").enable("table").parse(text):
        for child in token.children or ():
            target = child.attrs.get("href") or child.attrs.get("src")
            if target is not None:
                yield str(target)


def broken_links(path: Path, *, within: Path | None = None) -> list[str]:
    """Links of a page to what is not there, or to what lies outside a folder."""
    broken = []
    for link in links(path.read_text("utf-8")):
        if re.match(r"[a-z]+:", link):
            if within is not None:
                broken.append(link)
            continue
        name, _, heading = link.partition("#")
        target = (path.parent / name).resolve() if name else path.resolve()
        lost = not target.exists() or (within and not target.is_relative_to(within.resolve()))
        if lost or (heading and heading not in anchors(target.read_text("utf-8"))):
            broken.append(link)
    return broken
