"""The twin is laid out as the Python core is: same files, same names, same order, checked types."""

import ast
import re
import subprocess
from pathlib import Path

import pytest

from lowside.web.template_compiler import compile_templates
from twin import CORE, PYTHON_CORE, ROOT

SERVER_ONLY = {
    "procedure_edit": "an office page",
    "procedure_verdict": "an office page",
    "unit_history": "an office page",
}
"""Core modules the phone does without, and why."""

PYTHONS_OWN = {"python"}
"""What Python has built in and JavaScript lacks."""

TSC = ROOT / "tests" / "js" / "node_modules" / "typescript" / "bin" / "tsc"

MODULES = sorted(
    path.stem
    for path in PYTHON_CORE.glob("*.py")
    if path.stem not in SERVER_ONLY and path.stem != "__init__"
)


def test_every_core_module_has_its_twin() -> None:
    twins = {path.stem for path in CORE.glob("*.js")}
    assert twins == set(MODULES) | PYTHONS_OWN


def test_what_has_no_twin_is_not_needed_by_what_has() -> None:
    assert {path.stem for path in PYTHON_CORE.glob("*.py")} >= set(SERVER_ONLY)
    for module in MODULES:
        source = (PYTHON_CORE / f"{module}.py").read_text(encoding="utf-8")
        imported = set(re.findall(r"from lowside\.core\.(\w+) import", source))
        assert not imported & set(SERVER_ONLY), module


@pytest.mark.parametrize("module", MODULES)
def test_names_stand_in_the_same_order(module: str) -> None:
    python = (PYTHON_CORE / f"{module}.py").read_text(encoding="utf-8")
    javascript = (CORE / f"{module}.js").read_text(encoding="utf-8")
    theirs = re.findall(r"^(?:export )?(?:const|let|function|class) (\w+)", javascript, re.M)
    assert theirs == _names(python)


def _names(source: str) -> list[str]:
    """Functions, classes and constants of a module in order; names of types are JSDoc there."""
    names: list[str] = []
    for node in ast.parse(source).body:
        if isinstance(node, ast.FunctionDef | ast.ClassDef):
            names.append(node.name)
        elif isinstance(node, ast.Assign) and isinstance(node.targets[0], ast.Name):
            names.append(node.targets[0].id)
        elif isinstance(node, ast.AnnAssign) and isinstance(node.target, ast.Name):
            names.append(node.target.id)
    return [name for name in names if name.lstrip("_")[0].islower() or not _is_type(name)]


def _is_type(name: str) -> bool:
    """`Problems`: a name for a type, as against `Finding`, a class, which JavaScript has too."""
    return name in {"Problems", "Context"}


def tsc(*arguments: str) -> None:
    if not TSC.exists():
        pytest.fail("TypeScript is missing: run `npm ci` in tests/js, or `make test`.")
    run = subprocess.run(
        ["node", str(TSC), *arguments], capture_output=True, text=True, check=False, cwd=ROOT
    )
    assert run.returncode == 0, run.stdout + run.stderr


def test_types_of_the_twin_hold() -> None:
    tsc("--project", "tests/js")


CHECK = ("--allowJs", "--checkJs", "--noEmit", "--strict", "--target", "es2022")
"""Options for a file outside the project."""


def test_types_of_the_compiled_templates_hold(tmp_path: Path) -> None:
    (tmp_path / "templates.mjs").write_text(compile_templates(), encoding="utf-8")
    tsc(*CHECK, str(tmp_path / "templates.mjs"))


def test_a_wrong_type_is_found(tmp_path: Path) -> None:
    wrong = tmp_path / "wrong.mjs"
    wrong.write_text("/** @param {number} n */\nfunction f(n) {}\nf('1');\n", encoding="utf-8")
    with pytest.raises(AssertionError, match="TS2345"):
        tsc(*CHECK, str(wrong))
