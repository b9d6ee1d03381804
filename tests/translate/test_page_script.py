"""A page's own script has the core's functions it needs in it, and no rule of its own."""

import re
from pathlib import Path

import pytest

from lowside.rendering import STATIC
from lowside.translate.kinds import TranslationError
from lowside.translate.page_script import with_core


def script(folder: Path, text: str) -> Path:
    path = folder / "own.js"
    path.write_text(text, encoding="utf-8")
    return path


def test_what_it_imports_of_the_core_is_in_it(tmp_path: Path) -> None:
    text = 'import { is_over } from "./core/pages/running.js";\nis_over(1, 2);\n'
    sent = with_core(script(tmp_path, text))
    assert sent.startswith("function is_over(a, b) {\nreturn a >= b;\n}\n")
    assert sent.endswith("is_over(1, 2);\n")
    assert "import" not in sent


def test_what_that_needs_is_in_it_too_and_nothing_else() -> None:
    sent = with_core(STATIC / "js" / "page.js")
    for name in ("clock_face", "timer", "is_over", "too_soon"):
        assert sent.count(f"function {name}(") == 1
    assert "READ_S = 1;" in sent
    assert "function tapped_again" not in sent
    assert "./core/" not in sent


def test_what_it_imports_of_another_script_is_in_it_too(tmp_path: Path) -> None:
    (tmp_path / "other.js").write_text(
        'import { is_over } from "./core/pages/running.js";\n'
        "export function a() {\n  return is_over(1, 2);\n}\n",
        encoding="utf-8",
    )
    text = (
        'import { a } from "./other.js";\nimport { is_over } from "./core/pages/running.js";\n'
        "a(is_over);\n"
    )
    sent = with_core(script(tmp_path, text))
    assert sent.count("function is_over(") == 1
    assert sent.endswith("function a() {\n  return is_over(1, 2);\n}\na(is_over);\n")
    assert not re.search(r"^(im|ex)port", sent, re.M)


def test_a_script_that_two_others_import_is_in_it_once(tmp_path: Path) -> None:
    (tmp_path / "one.js").write_text("export const ONE = 1;\n", encoding="utf-8")
    for name in ("a", "b"):
        text = f'import {{ ONE }} from "./one.js";\nexport const {name} = ONE;\n'
        (tmp_path / f"{name}.js").write_text(text, encoding="utf-8")
    text = 'import { a } from "./a.js";\nimport { b } from "./b.js";\na + b;\n'
    assert (
        with_core(script(tmp_path, text))
        == "const ONE = 1;\nconst a = ONE;\nconst b = ONE;\na + b;\n"
    )


def test_what_it_calls_otherwise_has_both_names(tmp_path: Path) -> None:
    text = 'import { is_over as done } from "./core/pages/running.js";\ndone(1, 2);\n'
    sent = with_core(script(tmp_path, text))
    assert sent.endswith("const done = is_over;\ndone(1, 2);\n")


def test_a_script_that_imports_nothing_is_sent_alone(tmp_path: Path) -> None:
    assert with_core(script(tmp_path, "globalThis.alert(1);\n")) == "globalThis.alert(1);\n"


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ('import { nobody } from "./core/pages/running.js";\n', "nobody"),
        ('import { duration } from "./core/pages/wording.js";\n', "runtime"),
        ('import * as r from "./core/pages/running.js";\n', "write `import"),
    ],
)
def test_what_it_cannot_have_is_refused(tmp_path: Path, text: str, said: str) -> None:
    with pytest.raises(TranslationError, match=said):
        with_core(script(tmp_path, text))
