"""Every public docstring says what the signature says (numpydoc layout).

Checked: a docstring is there; documented parameters are those of the signature, in
order; Returns or Yields where something comes back; Raises names the frontcheck errors
that the body raises itself. The checker is tested on planted faults below.
"""

from __future__ import annotations

import ast
import re
from pathlib import Path

import pytest

import frontcheck
from frontcheck import errors

PACKAGE = Path(frontcheck.__file__).parent
ERRORS = {
    name
    for name, thing in vars(errors).items()
    if isinstance(thing, type) and issubclass(thing, errors.FrontcheckError)
}

Function = ast.FunctionDef | ast.AsyncFunctionDef


def sections(docstring: str) -> dict[str, list[str]]:
    """Lines of every numpydoc section, by heading."""
    lines = docstring.expandtabs().splitlines()
    found: dict[str, list[str]] = {}
    current: list[str] = []
    for i, line in enumerate(lines):
        if i + 1 < len(lines) and line.strip() and re.fullmatch(r"-{3,}", lines[i + 1].strip()):
            current = found.setdefault(line.strip(), [])
        elif not re.fullmatch(r"-{3,}", line.strip()):
            current.append(line)
    return found


def entries(lines: list[str]) -> list[str]:
    """Names documented in one section: ``a, b : type`` gives two."""
    heads = [line for line in lines if line.strip() and not line.startswith(" ")]
    names = [name.strip() for head in heads for name in re.split(r"\s:|:\s", head)[0].split(",")]
    return [name.lstrip("*") for name in names if name]


def decorators(node: Function | ast.ClassDef) -> list[str]:
    return [
        ast.unparse(d.func if isinstance(d, ast.Call) else d).split(".")[-1]
        for d in node.decorator_list
    ]


def parameters(function: Function, method: bool) -> list[str]:
    a = function.args
    names = [arg.arg for arg in (*a.posonlyargs, *a.args)]
    if method and "staticmethod" not in decorators(function):
        names = names[1:]
    if a.vararg:
        names.append(a.vararg.arg)
    names.extend(arg.arg for arg in a.kwonlyargs)
    if a.kwarg:
        names.append(a.kwarg.arg)
    return [name for name in names if not name.startswith("_")]


def own_nodes(function: Function) -> list[ast.AST]:
    """Nodes of the body, without functions and classes nested in it."""
    found: list[ast.AST] = []
    todo: list[ast.AST] = list(function.body)
    while todo:
        node = todo.pop()
        found.append(node)
        if not isinstance(node, (ast.FunctionDef, ast.AsyncFunctionDef, ast.ClassDef, ast.Lambda)):
            todo.extend(ast.iter_child_nodes(node))
    return found


def raised(function: Function, makers: dict[str, str]) -> set[str]:
    """Frontcheck errors raised in the body, also through a function that makes one."""
    names = set()
    for node in own_nodes(function):
        if isinstance(node, ast.Raise) and node.exc is not None:
            called = node.exc.func if isinstance(node.exc, ast.Call) else node.exc
            name = ast.unparse(called).split(".")[-1]
            names.add(makers.get(name, name))
    return names & ERRORS


def error_makers(tree: ast.Module) -> dict[str, str]:
    """Functions of the module that return an error, and which."""
    return {
        node.name: ast.unparse(node.returns)
        for node in ast.walk(tree)
        if isinstance(node, (ast.FunctionDef, ast.AsyncFunctionDef))
        and node.returns is not None
        and ast.unparse(node.returns) in ERRORS
    }


def returns_something(function: Function) -> bool:
    if any(isinstance(node, (ast.Yield, ast.YieldFrom)) for node in own_nodes(function)):
        return True
    if function.returns is not None:
        return ast.unparse(function.returns) not in ("None", "NoReturn", "Never")
    return any(isinstance(n, ast.Return) and n.value is not None for n in own_nodes(function))


def is_public(name: str) -> bool:
    return not name.startswith("_")


class Checker:
    """Collects what is wrong with the docstrings of one module."""

    def __init__(self, module: str, source: str) -> None:
        self.module = module
        self.tree = ast.parse(source)
        self.makers = error_makers(self.tree)
        self.classes = {n.name: n for n in self.tree.body if isinstance(n, ast.ClassDef)}
        self.faults: list[str] = []

    def run(self) -> list[str]:
        if not ast.get_docstring(self.tree):
            self.faults.append(f"{self.module}: no docstring")
        for node in self.tree.body:
            if isinstance(node, (ast.FunctionDef, ast.AsyncFunctionDef)) and is_public(node.name):
                self.function(node, node.name, method=False)
            elif isinstance(node, ast.ClassDef) and is_public(node.name):
                self.class_(node)
        return self.faults

    def say(self, where: str, what: str) -> None:
        self.faults.append(f"{self.module}.{where}: {what}")

    def class_(self, node: ast.ClassDef) -> None:
        methods = [n for n in node.body if isinstance(n, (ast.FunctionDef, ast.AsyncFunctionDef))]
        makers = [m for m in methods if m.name in ("__init__", "__post_init__", "__new__")]
        docstring = ast.get_docstring(node)
        if not docstring:
            self.say(node.name, "no docstring")
        else:
            found = sections(docstring)
            documented = entries(found.get("Parameters", found.get("Attributes", [])))
            init = next((m for m in makers if m.name == "__init__"), None)
            expected = self.fields(node) if init is None else parameters(init, method=True)
            self.compare(node.name, documented, expected)
            errors_raised = set().union(*(raised(m, self.makers) for m in makers))
            self.check_raises(node.name, found, errors_raised)
        for method in methods:
            if is_public(method.name):
                self.function(method, f"{node.name}.{method.name}", method=True)

    def fields(self, node: ast.ClassDef) -> list[str]:
        """Constructor parameters of a class without `__init__`: its fields, base first."""
        bases = [ast.unparse(base) for base in node.bases]
        names: list[str] = []
        for base in bases:
            if base in self.classes:
                names.extend(self.fields(self.classes[base]))
        if "dataclass" not in decorators(node) and "NamedTuple" not in bases:
            return names
        for item in node.body:
            if isinstance(item, ast.AnnAssign) and isinstance(item.target, ast.Name):
                hidden = "ClassVar" in ast.unparse(item.annotation) or (
                    item.value is not None and "init=False" in ast.unparse(item.value)
                )
                if not hidden and is_public(item.target.id) and item.target.id not in names:
                    names.append(item.target.id)
        return names

    def function(self, node: Function, where: str, *, method: bool) -> None:
        marks = decorators(node)
        if {"overload", "setter", "deleter", "override"} & set(marks):
            return
        docstring = ast.get_docstring(node)
        if not docstring:
            self.say(where, "no docstring")
            return
        found = sections(docstring)
        self.check_raises(where, found, raised(node, self.makers))
        # A property is documented as the value it is; a command's docstring is its help text.
        if {"property", "cached_property", "command", "group"} & set(marks):
            return
        self.compare(where, entries(found.get("Parameters", [])), parameters(node, method))
        if returns_something(node) and not {"Returns", "Yields"} & set(found):
            self.say(where, "returns something but has no Returns section")

    def compare(self, where: str, documented: list[str], expected: list[str]) -> None:
        if documented != expected:
            self.say(where, f"documents parameters {documented}; the signature has {expected}")

    def check_raises(self, where: str, found: dict[str, list[str]], names: set[str]) -> None:
        missing = names - set(entries(found.get("Raises", [])))
        if missing:
            self.say(where, f"raises {sorted(missing)} but Raises does not say so")


def public_modules() -> dict[str, Path]:
    found = {}
    for path in sorted(PACKAGE.rglob("*.py")):
        parts = path.relative_to(PACKAGE.parent).with_suffix("").parts
        parts = parts[:-1] if parts[-1] == "__init__" else parts
        if all(is_public(part) for part in parts):
            found[".".join(parts)] = path
    return found


@pytest.mark.parametrize("module", public_modules())
def test_docstrings_match_signatures(module: str) -> None:
    source = public_modules()[module].read_text(encoding="utf-8")
    assert Checker(module, source).run() == []


GOOD = '''"""Module."""
from dataclasses import dataclass


@dataclass(frozen=True)
class Thing:
    """A thing.

    Parameters
    ----------
    a : float
        Length [mm].
    b, c : str, optional
        Names.

    Raises
    ------
    InputError
        If a is negative.
    """

    a: float
    b: str = ""
    c: str = ""

    def __post_init__(self):
        if self.a < 0:
            raise InputError("a")

    @property
    def double(self) -> float:
        """Twice the length [mm]."""
        return 2 * self.a


def f(x, *rest, key: float = 1.0, **more) -> int:
    """Do.

    Parameters
    ----------
    x : int
        One.
    *rest : int
        More.
    key : float, optional
        Key: any.
    **more : int
        Others.

    Returns
    -------
    int
        The sum.

    Raises
    ------
    OutputError
        Always.
    """
    raise _make("x")


def _make(text) -> OutputError:
    return OutputError(text)
'''

# Each takes a piece out of the good module, or swaps it, and must be noticed by this word.
PLANTED = {
    "no module docstring": ('"""Module."""\n', "", "no docstring"),
    "no class docstring": ('    """A thing.', '    x = """A thing.', "no docstring"),
    "no function docstring": ('    """Do.', '    x = """Do.', "no docstring"),
    "no property docstring": ('        """Twice the length [mm]."""\n', "", "no docstring"),
    "parameter left out": ("    key : float, optional\n        Key: any.\n", "", "documents"),
    "parameter invented": ("    x : int\n", "    x : int\n    y : int\n", "documents"),
    "parameter renamed": ("    x : int\n", "    z : int\n", "documents"),
    "parameters out of order": ("    b, c : str", "    c, b : str", "documents"),
    "field left out": ("    b, c : str", "    b : str", "documents"),
    "no parameters section": ("    Parameters\n    ----------\n    x", "    x", "documents"),
    "no returns": ("    Returns\n    -------\n    int\n        The sum.\n", "", "Returns"),
    "constructor error unsaid": (
        "    InputError\n        If",
        "    ValueError\n        If",
        "raises",
    ),
    "made error unsaid": (
        "    OutputError\n        Always",
        "    OSError\n        Always",
        "raises",
    ),
}


def test_checker_lets_a_good_module_pass() -> None:
    assert Checker("m", GOOD).run() == []


@pytest.mark.parametrize("case", PLANTED)
def test_checker_finds_a_planted_fault(case: str) -> None:
    old, new, word = PLANTED[case]
    assert GOOD.count(old) == 1
    found = Checker("m", GOOD.replace(old, new)).run()
    assert len(found) == 1
    assert word in found[0]
