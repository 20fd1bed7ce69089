"""Imports run one way, downwards; heavy packages load only where they are used.

The order is the layout in DEVELOPERS.md. The checker itself is tested on planted faults.
"""

from __future__ import annotations

import ast
import json
import subprocess
import sys
from pathlib import Path

import pytest

import frontcheck

PACKAGE = Path(frontcheck.__file__).parent

# Low to high. A module, or a package as a whole, may import only what stands on a lower line.
ORDER = (
    ("errors", "caution"),
    ("files", "serializer"),
    ("documents",),
    ("geometry",),
    ("surface",),
    ("front",),
    ("reading",),
    ("rules",),
    ("lines",),
    ("zones",),
    ("sure",),
    ("people",),
    ("legs",),
    ("body",),
    ("findings",),
    ("screening", "profile"),
    ("comparison",),
    ("study",),
    ("outputs",),
    ("bench",),
    ("cli",),
    ("__main__",),
)
LAYER = {name: number for number, names in enumerate(ORDER) for name in names}
FACADE = "frontcheck"  # frontcheck/__init__.py: above all, so nobody below may lean on it
PRESENTATION = {"matplotlib", "click", "rich", "bokeh"}
PRESENTING = {"cli", "outputs", "bench"}
HEAVY = {
    "pandas",
    "matplotlib",
    "shapely",
    "scipy",
    "trimesh",
    "ezdxf",
    "typst",
    "distributed",
    "cascadio",
}
STDLIB = sys.stdlib_module_names


def modules() -> dict[str, Path]:
    """Every module of the package, by dotted name."""
    found = {}
    for path in sorted(PACKAGE.rglob("*.py")):
        parts = path.relative_to(PACKAGE.parent).with_suffix("").parts
        found[".".join(parts[:-1] if parts[-1] == "__init__" else parts)] = path
    return found


def group(module: str) -> str:
    """The name that stands in ORDER: first part below the package."""
    parts = module.split(".")
    return parts[1] if len(parts) > 1 else FACADE


def _is_type_checking(node: ast.AST) -> bool:
    return isinstance(node, ast.If) and ast.unparse(node.test) in (
        "TYPE_CHECKING",
        "typing.TYPE_CHECKING",
    )


def imports(tree: ast.Module) -> list[tuple[str, str, bool]]:
    """(module, name or "", runs at import time) of each import, functions included."""
    found: list[tuple[str, str, bool]] = []

    def walk(node: ast.AST, top: bool) -> None:
        if isinstance(node, ast.Import):
            found.extend((alias.name, "", top) for alias in node.names)
        elif isinstance(node, ast.ImportFrom):
            module = "." * node.level + (node.module or "")
            found.extend((module, alias.name, top) for alias in node.names)
        if _is_type_checking(node):
            assert isinstance(node, ast.If)
            for child in node.body:
                walk(child, False)
            for child in node.orelse:
                walk(child, top)
            return
        inside = isinstance(node, (ast.FunctionDef, ast.AsyncFunctionDef, ast.Lambda))
        for child in ast.iter_child_nodes(node):
            walk(child, top and not inside)

    walk(tree, True)
    return found


def target_group(module: str, name: str) -> str:
    """Which group of ORDER an import of the package reaches."""
    if module == FACADE:
        return name if name in LAYER else FACADE
    return group(module)


def faults(module: str, source: str) -> list[str]:
    """What is wrong with the imports and prints of one module."""
    here = group(module)
    out: list[str] = []
    if here != FACADE and here not in LAYER:
        return [f"{module} has no layer; put it into ORDER and into DEVELOPERS.md"]
    tree = ast.parse(source)
    for target, name, at_top in imports(tree):
        shown = f"{target}.{name}" if name else target
        top_package = target.split(".")[0]
        if target.startswith("."):
            out.append(f"{module} imports {shown} by a relative name")
        elif top_package == FACADE:
            out.extend(_order_faults(module, here, target, name, shown))
        else:
            if here == "geometry" and top_package not in STDLIB and top_package != "numpy":
                out.append(f"{module} imports {shown}; geometry knows arrays only")
            if top_package in PRESENTATION and here not in PRESENTING:
                out.append(f"{module} imports {shown}; only cli and outputs present things")
            if top_package in HEAVY and at_top:
                out.append(f"{module} imports {shown} at the top; import it where it is used")
        if "pyplot" in shown.split("."):
            out.append(f"{module} imports pyplot")
    for node in ast.walk(tree):
        if isinstance(node, ast.Attribute) and node.attr == "pyplot":
            out.append(f"{module} uses pyplot")
        if isinstance(node, ast.Call) and ast.unparse(node.func) in ("print", "builtins.print"):
            out.append(f"{module} calls print on line {node.lineno}")
    return out


def _order_faults(module: str, here: str, target: str, name: str, shown: str) -> list[str]:
    if here == FACADE or (target == FACADE and name == "__version__"):
        return []
    there = target_group(target, name)
    if here == "geometry" and there != "geometry":
        return [f"{module} imports {shown}; geometry knows arrays only"]
    if there == FACADE:
        return [f"{module} imports {shown}; import from the module that defines it"]
    if there not in LAYER:
        return [f"{module} imports {shown}, which has no layer"]
    siblings = here == there and (PACKAGE / here).is_dir()
    if LAYER[there] < LAYER[here] or siblings:
        return []
    return [f"{module} imports {shown}, which is not below it"]


def sibling_cycles(sources: dict[str, str]) -> list[str]:
    """Modules of one package that reach themselves by importing one another."""
    edges: dict[str, set[str]] = {}
    for module, source in sources.items():
        reached = set()
        for target, name, _ in imports(ast.parse(source)):
            full = f"{target}.{name}" if f"{target}.{name}" in sources else target
            if full in sources and group(full) == group(module) and full != module:
                reached.add(full)
        edges[module] = reached
    out = []
    for start in sources:
        seen: set[str] = set()
        todo = list(edges[start])
        while todo:
            here = todo.pop()
            if here not in seen:
                seen.add(here)
                todo.extend(edges[here])
        if start in seen and group(start) != FACADE:
            out.append(f"{start} imports itself by way of its siblings")
    return out


@pytest.mark.parametrize("module", modules())
def test_module_keeps_the_order(module: str) -> None:
    assert faults(module, modules()[module].read_text(encoding="utf-8")) == []


def test_siblings_do_not_import_in_circles() -> None:
    sources = {name: path.read_text(encoding="utf-8") for name, path in modules().items()}
    assert sibling_cycles(sources) == []


PLANTED = {
    "upward": ("frontcheck.surface.section", "from frontcheck.lines.section_lines import x"),
    "upward in a function": (
        "frontcheck.lines.section_lines",
        "def f():\n    from frontcheck import zones",
    ),
    "upward in a method": (
        "frontcheck.front.front",
        "class A:\n    def f(self):\n        import frontcheck.screening",
    ),
    "upward for types": (
        "frontcheck.rules.ruleset",
        "TYPE_CHECKING = 0\nif TYPE_CHECKING:\n    from frontcheck.lines.station import x",
    ),
    "sideways": ("frontcheck.sure", "from frontcheck.study import x"),
    "the facade": ("frontcheck.lines.section_lines", "from frontcheck import screen"),
    "no layer": ("frontcheck.helpers", "x = 1"),
    "imports what has no layer": ("frontcheck.lines.section_lines", "import frontcheck.helpers"),
    "relative": ("frontcheck.lines.section_lines", "from .front import Front"),
    "geometry knows errors": (
        "frontcheck.geometry.tape",
        "from frontcheck.errors import InputError",
    ),
    "geometry knows shapely": ("frontcheck.geometry.tape", "def f():\n    import shapely"),
    "plots below": ("frontcheck.screening", "def f():\n    from matplotlib.figure import Figure"),
    "rich below": ("frontcheck.study", "import rich"),
    "heavy at the top": ("frontcheck.outputs.documents.exports", "import pandas as pd"),
    "heavy in a class body": ("frontcheck.reading.mesh", "class A:\n    import trimesh"),
    "heavy under try": (
        "frontcheck.reading.drawing",
        "try:\n    import ezdxf\nexcept ImportError:\n    pass",
    ),
    "pyplot": (
        "frontcheck.outputs.figures.side_view",
        "def f():\n    from matplotlib import pyplot",
    ),
    "pyplot as a module": (
        "frontcheck.outputs.figures.side_view",
        "def f():\n    import matplotlib.pyplot",
    ),
    "pyplot as attribute": (
        "frontcheck.outputs.figures.side_view",
        "def f(matplotlib):\n    matplotlib.pyplot",
    ),
    "print": ("frontcheck.cli", "def f():\n    print('x')"),
}


@pytest.mark.parametrize("case", PLANTED)
def test_checker_finds_a_planted_fault(case: str) -> None:
    assert len(faults(*PLANTED[case])) >= 1


ALLOWED = {
    "downward": ("frontcheck.zones", "from frontcheck.lines.section_lines import x"),
    "siblings": ("frontcheck.geometry.tape_batch", "from frontcheck.geometry.tape import x"),
    "heavy in a function": ("frontcheck.zones", "def f():\n    import shapely"),
    "heavy for types": (
        "frontcheck.screening",
        "from typing import TYPE_CHECKING\nif TYPE_CHECKING:\n    import pandas as pd",
    ),
    "figures in report": (
        "frontcheck.outputs.figures.side_view",
        "def f():\n    from matplotlib.figure import Figure",
    ),
    "click in cli": ("frontcheck.cli", "import click"),
    "numpy in geometry": ("frontcheck.geometry.tape", "import math\nimport numpy as np"),
    "version": ("frontcheck.screening", "from frontcheck import __version__"),
    "facade": ("frontcheck", "from frontcheck.screening import screen"),
}


@pytest.mark.parametrize("case", ALLOWED)
def test_checker_lets_good_code_pass(case: str) -> None:
    assert faults(*ALLOWED[case]) == []


def test_checker_finds_a_planted_circle() -> None:
    sources = {
        "frontcheck.geometry.a": "from frontcheck.geometry import b",
        "frontcheck.geometry.b": "def f():\n    from frontcheck.geometry.c import x",
        "frontcheck.geometry.c": "import frontcheck.geometry.a",
        "frontcheck.geometry.d": "import frontcheck.geometry.a",
    }
    assert len(sibling_cycles(sources)) == 3


@pytest.mark.parametrize("module", ["frontcheck", "frontcheck.cli"])
def test_import_loads_nothing_heavy(module: str) -> None:
    code = f"import json, sys, {module}; print(json.dumps(sorted(sys.modules)))"
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    loaded = {name.split(".")[0] for name in json.loads(done.stdout)}
    assert loaded & HEAVY == set()
