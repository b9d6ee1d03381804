"""The rules of the folders, enforced: what the core may do, and which way imports point.

Which way imports point is in `pyproject.toml`, for import-linter; `make lint` runs it, and each of
its contracts is shown here to bite. The other rules are plain functions from source text to
sentences, so a bad sample can show that they bite.
"""

import ast
import json
import re
import tomllib
from collections import Counter
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from importlinter.cli import lint_imports

SOURCE = Path(__file__).parents[1] / "src"
PACKAGE = SOURCE / "lowside"
TESTS = Path(__file__).parent

CORE = "lowside.core"
STANDARD_LIBRARY_IN_CORE = ("dataclasses", "typing", "collections.abc")
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

MOST_WORDS = 5
"""For a room's job."""
LONGEST_MODULE = 450
LONGER_WITH_REASON: dict[str, str] = {}
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
    """(line, module imported from, name imported or "") of every import, wherever it is.

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


def defined(source: str) -> Iterator[str]:
    """Names of the types and constants that a module defines for others."""
    for node in ast.parse(source).body:
        names: list[ast.expr] = []
        if isinstance(node, ast.ClassDef):
            names = [ast.Name(node.name)]
        elif isinstance(node, ast.Assign):
            names = node.targets
        elif isinstance(node, ast.AnnAssign):
            names = [node.target]
        for name in names:
            if isinstance(name, ast.Name) and not name.id.startswith("_"):
                yield name.id


def impure_imports(source: str, module: str) -> list[str]:
    """Imports from outside Lowside that the core may not have."""
    wrong = []
    for line, base, name in imports(source):
        if in_package(base, "lowside") or base in STANDARD_LIBRARY_IN_CORE:
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
                return f"has the decorator {ast.unparse(name)}, which the phone does not have"
    if isinstance(node, ast.AsyncFunctionDef | ast.Await | ast.Yield | ast.YieldFrom):
        return "is asynchronous or a generator, which the phone's core does not have"
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


@pytest.mark.parametrize("module", CORE_MODULES)
def test_core_module_is_pure(module: str) -> None:
    source = CORE_MODULES[module]
    assert impure_imports(source, module) + impure_code(source, module) == []


def test_the_core_readme_states_the_rules_tested_here() -> None:
    readme = (PACKAGE / "core" / "README.md").read_text("utf-8")
    text = " ".join(readme.split())
    for name in (*STANDARD_LIBRARY_IN_CORE, *(f"math.{name}" for name in MATH_NAMES)):
        assert f"`{name}`" in text
    rooms = re.findall(r"^\| `(\w+)` \| (.+) \|$", readme, re.MULTILINE)
    assert [room for room, _job in rooms] == list(reversed(CONTRACTS["rooms"]["layers"]))
    assert [job for _room, job in rooms if len(job.split()) > MOST_WORDS] == []


def test_a_type_and_a_constant_have_a_name_of_their_own_in_the_core() -> None:
    """One word, one meaning: a name that two modules define is two rules, or one rule twice."""
    names = Counter(name for source in CORE_MODULES.values() for name in defined(source))
    assert [name for name, count in names.items() if count > 1] == []


def test_a_name_that_is_defined_twice_is_seen() -> None:
    first = 'Level = Literal["stop"]\nLEAST_S: float = 4.0\n_own = 1\ndef told() -> None: ...'
    assert list(defined(first)) == ["Level", "LEAST_S"]
    assert list(defined("class Level:\n    x: int")) == ["Level"]


@pytest.mark.parametrize("module", MODULES)
def test_module_is_short_enough_to_read(module: str) -> None:
    longest = LONGEST_EXCEPTION if module in LONGER_WITH_REASON else LONGEST_MODULE
    assert len(MODULES[module].splitlines()) <= longest


def test_no_two_test_files_have_one_name() -> None:
    """pytest imports them by their names alone: together they could not be collected."""
    names = Counter(path.name for path in TESTS.rglob("*.py") if path.name != "conftest.py")
    assert [name for name, count in names.items() if count > 1] == []


def test_every_length_exception_is_still_needed() -> None:
    for module in LONGER_WITH_REASON:
        assert len(MODULES[module].splitlines()) > LONGEST_MODULE


BAD_IMPORTS = (
    "import os",
    "import math",
    "import random",
    "import time",
    "import re",
    "from enum import Enum",
    "from datetime import datetime",
    "from pathlib import Path",
    "from math import sqrt",
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


CONTRACTS: dict[str, dict[str, Any]] = {
    contract["id"]: contract
    for contract in tomllib.loads((SOURCE.parent / "pyproject.toml").read_text("utf-8"))["tool"][
        "importlinter"
    ]["contracts"]
}

BAD_SAMPLES = (
    ("parts", {"store/files.py": "from lowside.web import desk"}),
    ("parts", {"thermo/tables.py": "def late():\n    import lowside.web"}),
    ("parts", {"translate/core.py": "from lowside.web import rendering"}),
    ("parts", {"store/files.py": "from lowside.cli import main"}),
    ("parts", {"newcomer.py": ""}),
    ("rooms", {"core/session/fold.py": "from lowside.core.advice import advise"}),
    ("rooms", {"core/numbers/units.py": "from lowside.core.pages import view"}),
    ("rooms", {"core/newcomer.py": ""}),
    ("core-alone", {"core/judging/charge.py": "from lowside.store import Store"}),
    ("core-alone", {"core/judging/charge.py": "from lowside import library"}),
    ("coolprop", {"thermo/tables.py": "from CoolProp.CoolProp import PropsSI"}),
    ("coolprop", {"web/desk.py": "def late():\n    import CoolProp"}),
    ("psycopg", {"store/files.py": "import psycopg"}),
    ("psycopg", {"web/desk.py": "def late():\n    from psycopg_pool import ConnectionPool"}),
    ("frameworks", {"store/files.py": "from starlette.requests import Request"}),
    ("frameworks", {"cli/run.py": "from fastapi import FastAPI"}),
    (
        "cycles",
        {
            "core/session/a.py": "from lowside.core.session import b",
            "core/session/b.py": "def late():\n    from lowside.core.session.c import g",
            "core/session/c.py": "from lowside.core.session.a import h",
        },
    ),
)
"""Contract, and files that break it."""

GOOD_SAMPLE = {
    "thermo/coolprop.py": "from CoolProp.CoolProp import PropsSI",
    "web/app.py": "import fastapi\nimport starlette\nfrom lowside.store import Store",
    "core/session/fold.py": "from lowside.core.numbers import units",
    "store/postgres/database.py": "import psycopg\nfrom psycopg_pool import ConnectionPool",
}


def linted(
    folder: Path, files: dict[str, str], contract: str, monkeypatch: pytest.MonkeyPatch
) -> int:
    """The exit code for one contract over a package `sample` with one folder for each layer."""
    names = ["", "core"]
    names += [name for line in CONTRACTS["parts"]["layers"] for name in re.split("[|: ]+", line)]
    names += [f"core/{room}" for room in CONTRACTS["rooms"]["layers"]] + ["store/postgres"]
    for name in names:
        (folder / "sample" / name).mkdir(parents=True, exist_ok=True)
        (folder / "sample" / name / "__init__.py").touch()
    for path, source in files.items():
        (folder / "sample" / path).write_text(source.replace("lowside", "sample"), "utf-8")
    lines = ["[tool.importlinter]", 'root_package = "sample"', "include_external_packages = true"]
    lines.append("[[tool.importlinter.contracts]]")
    for key, value in CONTRACTS[contract].items():
        if key != "ignore_imports":
            lines.append(f"{key} = {json.dumps(value).replace('lowside', 'sample')}")
    config = folder / "sample.toml"
    config.write_text("\n".join(lines), "utf-8")
    monkeypatch.syspath_prepend(folder)
    return lint_imports(config_filename=str(config), no_cache=True, no_logo=True)


@pytest.mark.parametrize("contract", CONTRACTS)
def test_a_contract_is_kept_by_a_good_sample(
    contract: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    assert linted(tmp_path, GOOD_SAMPLE, contract, monkeypatch) == 0


@pytest.mark.parametrize(("contract", "files"), BAD_SAMPLES)
def test_a_contract_is_broken_by_a_bad_sample(
    contract: str,
    files: dict[str, str],
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
) -> None:
    assert linted(tmp_path, {**GOOD_SAMPLE, **files}, contract, monkeypatch) == 1
    assert "0 kept, 1 broken" in capsys.readouterr().out


def test_every_contract_has_a_bad_sample() -> None:
    assert {contract for contract, _ in BAD_SAMPLES} == set(CONTRACTS)


def test_make_lint_checks_the_contracts() -> None:
    makefile = (SOURCE.parent / "Makefile").read_text("utf-8")
    assert re.search(r"^lint:.*\n(?:\t.*\n)*\t\$\(BIN\)/lint-imports ", makefile, re.MULTILINE)
