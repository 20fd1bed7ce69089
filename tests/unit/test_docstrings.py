"""Every exported name is documented in full, with an example that runs; internals in one line.

Checked of exported names (numpydoc layout): documented parameters are those of the signature, in
order; Returns or Yields where something comes back; Raises names the frontcheck errors that the
body raises itself; the example gives what it says. The checkers are tested on planted faults.
"""

from __future__ import annotations

import ast
import inspect
import itertools
import re
import subprocess
import sys
from importlib import import_module
from pathlib import Path
from typing import Any

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
            if name == "refuse" and isinstance(node.exc, ast.Call):
                names.add(refused(node.exc))
            names.add(makers.get(name, name))
    return names & ERRORS


def refused(call: ast.Call) -> str:
    """Name of the error that `refuse` makes: of its kind, else of the section of its code."""
    for word in call.keywords:
        if word.arg == "kind":
            return ast.unparse(word.value)
    code = ast.unparse(call.args[0]).strip("f'\"")
    return errors._KINDS.get(code.partition(".")[0], errors.InputError).__name__


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


def is_a(said: str, name: str) -> bool:
    """Whether an error that Raises names is the one raised, or a kind of it."""
    kinds = (getattr(errors, each, None) for each in (said, name))
    one, base = kinds
    return said == name or (
        isinstance(one, type) and isinstance(base, type) and issubclass(one, base)
    )


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

    def of(self, name: str) -> list[str]:
        """Faults of one class or function alone, an example among what it must have."""
        for node in self.tree.body:
            if getattr(node, "name", "") != name:
                continue
            if isinstance(node, ast.ClassDef):
                self.class_(node)
            elif isinstance(node, (ast.FunctionDef, ast.AsyncFunctionDef)):
                self.function(node, name, method=False)
            said = "\n".join(sections(ast.get_docstring(node) or "").get("Examples", []))
            if ">>>" not in said:
                self.say(name, "no example")
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
        if "dataclass" not in decorators(node) and not {"NamedTuple", "Entry"} & set(bases):
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
        said = set(entries(found.get("Raises", [])))
        # A function that makes errors of several kinds tells their base: one of them is named.
        missing = {name for name in names if not any(is_a(each, name) for each in said)}
        if missing:
            self.say(where, f"raises {sorted(missing)} but Raises does not say so")


def modules() -> dict[str, Path]:
    found = {}
    for path in sorted(PACKAGE.rglob("*.py")):
        parts = path.relative_to(PACKAGE.parent).with_suffix("").parts
        parts = parts[:-1] if parts[-1] == "__init__" else parts
        found[".".join(parts)] = path
    return found


# Exported names: the public door. Everything else is internal.


def homes() -> dict[str, tuple[str, str]]:
    """Module and name there of every exported name; those of `frontcheck.profile` too."""
    found = {}
    for name, home in frontcheck._HOMES.items():
        module, _, own = home.partition(":")
        found[name] = (f"frontcheck.{module}", own or name)
    return found | {f"profile.{n}": ("frontcheck.profile", n) for n in ("Profile", "of", "read")}


HOMES = homes()
EXPORTED = set(HOMES.values())


def thing(name: str) -> Any:
    module, own = HOMES[name]
    return getattr(import_module(module), own)


DOCUMENTED = [name for name in HOMES if callable(thing(name))]
CONSTANTS = [name for name in HOMES if name not in DOCUMENTED]


def bases() -> dict[str, tuple[str, str]]:
    """Internal classes whose methods are public, since exported classes inherit them."""
    found = {}
    for name in DOCUMENTED:
        kinds = inspect.getmro(thing(name))[1:] if inspect.isclass(thing(name)) else ()
        for kind in kinds:
            home = (kind.__module__, kind.__name__)
            if home[0].startswith("frontcheck.") and home not in EXPORTED:
                found[kind.__name__] = home
    return found


BASES = bases()


@pytest.mark.parametrize("name", BASES)
def test_methods_that_exported_classes_inherit_are_documented_in_full(name) -> None:
    module, own = BASES[name]
    checker = Checker(module, modules()[module].read_text(encoding="utf-8"))
    for method in checker.classes[own].body:
        if isinstance(method, ast.FunctionDef) and is_public(method.name):
            checker.function(method, f"{own}.{method.name}", method=True)
    assert checker.faults == []


def test_every_public_name_has_a_home() -> None:
    assert set(frontcheck.__all__) == {*frontcheck._HOMES, "__version__"}


def test_no_public_name_is_hidden_by_a_module() -> None:
    """Importing every module sets submodules on the package; public names must outlive that."""
    code = (
        "import importlib, pkgutil, types, frontcheck\n"
        "for m in pkgutil.walk_packages(frontcheck.__path__, 'frontcheck.'):\n"
        "    if not m.name.endswith('__main__'): importlib.import_module(m.name)\n"
        "for n in frontcheck.__all__:\n"
        "    assert not isinstance(getattr(frontcheck, n), types.ModuleType), n\n"
        "assert callable(frontcheck.profile.of)\n"
    )
    subprocess.run([sys.executable, "-c", code], check=True)
    assert (
        set(frontcheck.__all__) & {name.split(".")[1] for name in modules() if "." in name} == set()
    )


@pytest.mark.parametrize("name", DOCUMENTED)
def test_an_exported_name_is_documented_in_full(name) -> None:
    module, own = HOMES[name]
    assert Checker(module, modules()[module].read_text(encoding="utf-8")).of(own) == []


FIGURES = [name for name in DOCUMENTED if HOMES[name][0].startswith("frontcheck.outputs.figures.")]


@pytest.mark.parametrize("name", [name for name in FIGURES if name != "save_figure"])
def test_every_figure_draws_where_it_is_told(name) -> None:
    given = inspect.signature(thing(name)).parameters
    assert [given[key].default for key in ("ax", "figure") if key in given] == [None]


@pytest.mark.parametrize("name", CONSTANTS)
def test_an_exported_constant_says_what_it_is(name) -> None:
    module, own = HOMES[name]
    tree = ast.parse(modules()[module].read_text(encoding="utf-8"))
    assert said_of_constant(tree, own)


def said_of_constant(tree: ast.Module, name: str) -> str:
    """The string below the assignment of a constant."""
    for node, after in itertools.pairwise(tree.body):
        target = node.target if isinstance(node, ast.AnnAssign) else None
        if isinstance(target, ast.Name) and target.id == name:
            text = after.value if isinstance(after, ast.Expr) else None
            if isinstance(text, ast.Constant) and isinstance(text.value, str):
                return text.value
    return ""


@pytest.mark.parametrize("module", modules())
def test_internals_say_why_in_one_line(module) -> None:
    source = modules()[module].read_text(encoding="utf-8")
    assert long_words(module, source) == []


def long_words(module: str, source: str) -> list[str]:
    """Internal functions and classes with no docstring, or one of several lines."""
    tree = ast.parse(source)
    faults = [] if ast.get_docstring(tree) else [f"{module}: no docstring"]
    for node in tree.body:
        if not isinstance(node, (ast.FunctionDef, ast.AsyncFunctionDef, ast.ClassDef)):
            continue
        if (module, node.name) in EXPORTED:
            continue
        public = (module, node.name) in BASES.values()
        inner = node.body if isinstance(node, ast.ClassDef) and not public else []
        for each in (node, *inner):
            if not isinstance(each, (ast.FunctionDef, ast.AsyncFunctionDef, ast.ClassDef)):
                continue
            if {"command", "group", "overload"} & set(decorators(each)):
                continue  # a command's docstring is its help text
            where = each.name if each is node else f"{node.name}.{each.name}"
            said = ast.get_docstring(each)
            if said is None:
                hidden = where.startswith("_") or each.name.startswith("_")
                faults += [] if hidden else [f"{module}.{where}: no docstring"]
            elif len(said.splitlines()) > 1:
                faults.append(f"{module}.{where}: a docstring of {len(said.splitlines())} lines")
    return faults


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
    "refusal unsaid": (
        '        """Twice the length [mm]."""\n',
        '        """Twice the length [mm]."""\n        raise refuse("study.none")\n',
        "StudyError",
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


@pytest.mark.parametrize("gone", [">>>", "Examples"])
def test_checker_misses_an_example(gone) -> None:
    whole = GOOD.replace(
        "        Always.\n", "        Always.\n\n    Examples\n    --------\n    >>> f(1)\n"
    )
    assert Checker("m", whole).of("f") == []
    assert Checker("m", whole.replace(gone, "x")).of("f") == ["m.f: no example"]


INTERNAL = '''"""Module."""


class Thing:
    """A thing."""

    def length(self):
        """Return its length."""

    def _hidden(self):
        return 1


@main.command()
def screen():
    """Help text.

    Of several lines.
    """
'''
SAID_TOO_MUCH = {
    "module": ('"""Module."""\n', "", "m: no docstring"),
    "class": ('"""A thing."""', '"""A thing.\n\n    Of note.\n    """', "m.Thing: a docstring"),
    "method": ("its length.", "its\n        length.", "m.Thing.length: a docstring"),
    "no class docstring": ('    """A thing."""\n', "", "m.Thing: no docstring"),
    "no method docstring": ('"""Return its length."""', "...", "m.Thing.length: no docstring"),
    "not a command": ("@main.command()\n", "", "m.screen: a docstring"),
}


def test_short_internals_pass() -> None:
    assert long_words("m", INTERNAL) == []


@pytest.mark.parametrize("case", SAID_TOO_MUCH)
def test_a_long_word_of_an_internal_is_found(case) -> None:
    old, new, found = SAID_TOO_MUCH[case]
    assert INTERNAL.count(old) == 1
    faults = long_words("m", INTERNAL.replace(old, new))
    assert len(faults) == 1
    assert faults[0].startswith(found)
