"""The rules of the folders, enforced: what the core may do, and which way imports point.

Each rule is a plain function from source text to sentences, so a bad sample can show that it bites.
"""

import ast
import re
from collections.abc import Iterator, Mapping
from pathlib import Path

import pytest

SOURCE = Path(__file__).parents[1] / "src"
PACKAGE = SOURCE / "lowside"

CORE = "lowside.core"
STANDARD_LIBRARY_IN_CORE = ("dataclasses", "enum", "typing", "collections.abc")
ARITHMETIC = "lowside.core.numbers.arithmetic"
MATH_NAMES = ("sqrt", "floor")

BANNED_CALLS = {
    "open": "reads or writes files",
    "print": "writes to the terminal",
    "input": "reads the terminal",
    "eval": "runs text",
    "exec": "runs text",
    "compile": "runs text",
    "__import__": "hides an import",
    "globals": "reaches for global state",
    "round": "rounds halves differently in JavaScript",
    "pow": "differs in the last bit in JavaScript",
    "sum": "adds floats with compensation from Python 3.12 on, without it before and in JavaScript",
    "format": "writes floats differently in JavaScript",
    "hash": "differs from run to run",
    "id": "differs from run to run",
}
INTEGER_SPEC = re.compile(r"0?\d*d")
"""An integer padded with zeros is the same on both sides; a float spec is not."""

LAYERS_BELOW_WEB = ("core", "thermo", "store", "practice", "procedures", "library")
FRAMEWORKS = ("fastapi", "starlette")

LONGEST_MODULE = 450
LONGER_WITH_REASON = {
    "lowside.core.handbook.forms": "the table of every form, with its one parser at the end",
}
LONGEST_EXCEPTION = 600


def module_name(path: Path) -> str:
    parts = path.relative_to(SOURCE).with_suffix("").parts
    return ".".join(parts[:-1] if parts[-1] == "__init__" else parts)


def modules() -> dict[str, str]:
    """Source text of every module of the package by dotted name."""
    return {module_name(path): path.read_text("utf-8") for path in sorted(PACKAGE.rglob("*.py"))}


MODULES = modules()


def in_package(module: str, package: str) -> bool:
    return module == package or module.startswith(package + ".")


CORE_MODULES = {name: text for name, text in MODULES.items() if in_package(name, CORE)}


def imports(source: str) -> Iterator[tuple[int, str, str]]:
    """(line, module imported from, name imported or "") of every import, wherever it stands.

    A relative import keeps its dots, which no rule here lets pass: written out, a reader and a
    search both see which way it points.
    """
    for node in ast.walk(ast.parse(source)):
        if isinstance(node, ast.Import):
            for alias in node.names:
                yield node.lineno, alias.name, ""
        elif isinstance(node, ast.ImportFrom):
            base = "." * node.level + (node.module or "")
            for alias in node.names:
                yield node.lineno, base, alias.name


def impure_imports(source: str, module: str) -> list[str]:
    """Imports the core may not have."""
    wrong = []
    for line, base, name in imports(source):
        if in_package(base, CORE) or base in STANDARD_LIBRARY_IN_CORE:
            continue
        if base == "lowside" and name == "core":
            continue
        if base == "math" and module == ARITHMETIC and name in MATH_NAMES:
            continue
        wrong.append(f"{module}:{line} imports {base} {name}".rstrip())
    return wrong


def impure_code(source: str, module: str) -> list[str]:
    """Expressions and statements the core may not have."""
    wrong = []
    for node in ast.walk(ast.parse(source)):
        reason = _impurity(node)
        if reason != "":
            wrong.append(f"{module}:{getattr(node, 'lineno', 0)} {reason}")
    return wrong


def _impurity(node: ast.AST) -> str:
    if isinstance(node, ast.BinOp | ast.AugAssign):
        return _operator_impurity(node)
    if isinstance(node, ast.Call):
        return _call_impurity(node)
    if isinstance(node, ast.FormattedValue) and node.format_spec is not None:
        spec = ast.unparse(node.format_spec).strip("f'\"")
        if INTEGER_SPEC.fullmatch(spec) is None:
            return f"formats with “{spec}”, which JavaScript may write differently"
    if isinstance(node, ast.ClassDef | ast.FunctionDef):
        for decorator in node.decorator_list:
            name = decorator.func if isinstance(decorator, ast.Call) else decorator
            if ast.unparse(name) not in ("dataclass", "property"):
                return f"has the decorator {ast.unparse(name)}, which the twin cannot mirror"
    if isinstance(node, ast.AsyncFunctionDef | ast.Await | ast.Yield | ast.YieldFrom):
        return "is asynchronous or a generator, which the twin cannot mirror line by line"
    if isinstance(node, ast.Global | ast.Nonlocal):
        return "keeps state outside its arguments"
    return ""


def _operator_impurity(node: ast.BinOp | ast.AugAssign) -> str:
    if isinstance(node.op, ast.Pow):
        return "uses **, which differs in the last bit in JavaScript"
    left = node.left if isinstance(node, ast.BinOp) else node.target
    is_text = isinstance(left, ast.JoinedStr) or (
        isinstance(left, ast.Constant) and isinstance(left.value, str)
    )
    if isinstance(node.op, ast.Mod) and is_text:
        return "formats with %, which JavaScript may write differently"
    return ""


def _call_impurity(node: ast.Call) -> str:
    if isinstance(node.func, ast.Name) and node.func.id in BANNED_CALLS:
        return f"calls {node.func.id}, which {BANNED_CALLS[node.func.id]}"
    if isinstance(node.func, ast.Attribute) and node.func.attr in ("format", "format_map"):
        return f"calls .{node.func.attr}, which JavaScript may write differently"
    return ""


def outward_imports(source: str, module: str) -> list[str]:
    """Imports that point the wrong way: towards the web, or a framework outside it."""
    parts = module.split(".")
    layer = parts[1] if len(parts) > 1 else ""
    wrong = []
    for line, base, name in imports(source):
        target = f"{base}.{name}" if base == "lowside" else base
        if layer in LAYERS_BELOW_WEB and target.startswith(("lowside.web", "lowside.cli")):
            wrong.append(f"{module}:{line} imports {target}")
        if base.startswith("."):
            wrong.append(f"{module}:{line} imports {base}, which hides where it points")
        if layer != "web" and base.split(".")[0] in FRAMEWORKS:
            wrong.append(f"{module}:{line} imports {base}")
    return wrong


def imports_coolprop(source: str) -> bool:
    return any(base.split(".")[0] == "CoolProp" for _, base, _ in imports(source))


def graph(sources: Mapping[str, str]) -> dict[str, list[str]]:
    """Which of these modules each one imports."""
    edges: dict[str, list[str]] = {}
    for module, source in sources.items():
        found = []
        for _, base, name in imports(source):
            target = f"{base}.{name}" if f"{base}.{name}" in sources else base
            if target in sources and target not in found:
                found.append(target)
        edges[module] = found
    return edges


def cycle(edges: Mapping[str, list[str]]) -> list[str]:
    """One import cycle as a path that ends where it begins, or an empty list."""
    finished: set[str] = set()

    def visit(module: str, path: list[str]) -> list[str]:
        if module in path:
            return [*path[path.index(module) :], module]
        if module in finished:
            return []
        for target in edges[module]:
            found = visit(target, [*path, module])
            if found:
                return found
        finished.add(module)
        return []

    for module in edges:
        found = visit(module, [])
        if found:
            return found
    return []


@pytest.mark.parametrize("module", CORE_MODULES)
def test_core_module_is_pure(module: str) -> None:
    source = CORE_MODULES[module]
    assert impure_imports(source, module) + impure_code(source, module) == []


def test_the_core_readme_states_the_rules_tested_here() -> None:
    text = " ".join((PACKAGE / "core" / "README.md").read_text("utf-8").split())
    for name in (*STANDARD_LIBRARY_IN_CORE, *(f"math.{name}" for name in MATH_NAMES)):
        assert f"`{name}`" in text
    assert "`tests/test_architecture.py` enforces all three sentences" in text


@pytest.mark.parametrize("module", MODULES)
def test_imports_point_inward(module: str) -> None:
    assert outward_imports(MODULES[module], module) == []


def test_coolprop_is_imported_in_one_place_under_thermo() -> None:
    users = [name for name, source in MODULES.items() if imports_coolprop(source)]
    assert len(users) == 1, users
    assert in_package(users[0], "lowside.thermo")


def test_core_has_no_import_cycle() -> None:
    assert cycle(graph(CORE_MODULES)) == []


@pytest.mark.parametrize("module", MODULES)
def test_module_is_short_enough_to_read(module: str) -> None:
    longest = LONGEST_EXCEPTION if module in LONGER_WITH_REASON else LONGEST_MODULE
    assert len(MODULES[module].splitlines()) <= longest


def test_every_length_exception_is_still_needed() -> None:
    for module in LONGER_WITH_REASON:
        assert len(MODULES[module].splitlines()) > LONGEST_MODULE


BAD_IMPORTS = (
    "import os",
    "import math",
    "import random",
    "import time",
    "import re",
    "from datetime import datetime",
    "from pathlib import Path",
    "from math import sqrt",
    "from lowside.web.clock import Clock",
    "from lowside import library",
    "from ..store import Store",
    "def late():\n    import json",
)


@pytest.mark.parametrize("source", BAD_IMPORTS)
def test_a_bad_import_in_the_core_is_seen(source: str) -> None:
    assert len(impure_imports(source, "lowside.core.sample")) == 1


def test_arithmetic_may_take_only_sqrt_and_floor_from_math() -> None:
    assert impure_imports("from math import floor, sqrt", ARITHMETIC) == []
    assert len(impure_imports("from math import exp", ARITHMETIC)) == 1
    assert len(impure_imports("import math", ARITHMETIC)) == 1


GOOD_CODE = (
    "from dataclasses import dataclass\n@dataclass(frozen=True)\nclass A:\n    x: float",
    "y = f'{n:015d}-{n:06d}'",
    "y = f'{text}'",
    "y = a * b / c - d + e // 2 % 3",
    "y = max(a, min(b, c))",
)


@pytest.mark.parametrize("source", GOOD_CODE)
def test_plain_code_is_allowed_in_the_core(source: str) -> None:
    assert impure_code(source, "lowside.core.sample") == []
    assert impure_imports(source, "lowside.core.sample") == []


BAD_CODE = (
    "y = x ** 2",
    "x **= 2",
    "y = f'{x:.1f}'",
    "y = f'{x:g}'",
    "y = f'{x:{width}}'",
    "y = '%.1f' % x",
    "y = '{:.1f}'.format(x)",
    *(f"y = {name}(x)" for name in BANNED_CALLS),
    "async def f():\n    pass",
    "def f():\n    yield 1",
    "def f():\n    global y\n    y = 1",
    "@cache\ndef f():\n    pass",
    "class A:\n    @staticmethod\n    def f():\n        return 1",
)


@pytest.mark.parametrize("source", BAD_CODE)
def test_bad_code_in_the_core_is_seen(source: str) -> None:
    assert len(impure_code(source, "lowside.core.sample")) == 1


@pytest.mark.parametrize(
    ("module", "source"),
    [
        ("lowside.store.files", "from lowside.web import desk"),
        ("lowside.thermo.tables", "import lowside.web.clock"),
        ("lowside.practice", "from lowside import web"),
        ("lowside.store", "from ..web.desk import Desk"),
        ("lowside.store", "from lowside.cli import main"),
        ("lowside.cli", "from fastapi import FastAPI"),
    ],
)
def test_an_arrow_pointing_outward_is_seen(module: str, source: str) -> None:
    assert len(outward_imports(source, module)) == 1


def test_a_second_coolprop_import_is_seen() -> None:
    assert imports_coolprop("from CoolProp.CoolProp import PropsSI")
    assert not imports_coolprop("from lowside.thermo import tables")


def test_an_import_cycle_is_seen() -> None:
    sources = {
        "lowside.core.a": "from lowside.core import b",
        "lowside.core.b": "def f():\n    from lowside.core.c import g",
        "lowside.core.c": "from lowside.core.a import h",
        "lowside.core.d": "from lowside.core.a import h",
    }
    assert cycle(graph(sources)) == [f"lowside.core.{name}" for name in "abca"]
    del sources["lowside.core.c"]
    assert cycle(graph(sources)) == []
