"""The types of everything written in JavaScript by hand hold, and of the compiled templates."""

import subprocess
from pathlib import Path

import pytest
from phone_core import SCRIPTS, phone_modules

from lowside.translate.templates import compile_templates

TSC = SCRIPTS / "node_modules" / "typescript" / "bin" / "tsc"
CHECK = ("--allowJs", "--checkJs", "--noEmit", "--strict", "--skipLibCheck", "--target", "es2022")
"""Options for a file outside the projects. The types that come with TypeScript and with Node are
not checked against each other: none is ours."""


def tsc(*arguments: str) -> None:
    if not TSC.exists():
        pytest.fail("TypeScript is missing: run `npm ci` in tests/js, or `make test`.")
    run = subprocess.run(
        ["node", str(TSC), *arguments], capture_output=True, text=True, check=False
    )
    assert run.returncode == 0, run.stdout + run.stderr


@pytest.mark.parametrize("project", ["tsconfig", "tsconfig.worker", "tsconfig.page"])
def test_types_of_the_hand_written_scripts_hold(project: str) -> None:
    tsc("--project", str(phone_modules() / "tests" / f"{project}.json"))


def test_types_of_the_compiled_templates_hold(tmp_path: Path) -> None:
    (tmp_path / "templates.mjs").write_text(compile_templates(), encoding="utf-8")
    tsc(*CHECK, str(tmp_path / "templates.mjs"))


def test_a_wrong_type_is_found(tmp_path: Path) -> None:
    wrong = tmp_path / "wrong.mjs"
    wrong.write_text("/** @param {number} n */\nfunction f(n) {}\nf('1');\n", encoding="utf-8")
    with pytest.raises(AssertionError, match="TS2345"):
        tsc(*CHECK, str(wrong))
