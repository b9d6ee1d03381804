"""The phone's modules say where each of their functions comes from, and are always the same."""

import ast
import re
from pathlib import Path

import pytest
from phone_core import phone_modules

from lowside.cli import main
from lowside.translate.kinds import TranslationError
from lowside.translate.phone import CORE, modules, read_core, write_modules

_TRACE = re.compile(r"// (?P<path>[\w/]+)\.py:(?P<line>\d+)")
_IMPORT = re.compile(r"import (?:\* as \w+|\{(?P<names>[^}]*)\}) from \"(?P<source>\..*)\";")
_DEFINES = re.compile(r"(?:function |class |get |static )?(?P<name>[\w$]+)(?:\(| \{)")


def core_modules() -> list[Path]:
    return sorted((phone_modules() / "core").rglob("*.js"))


def test_every_function_names_the_line_that_defines_it() -> None:
    traced = 0
    for file in core_modules():
        traces: list[re.Match[str]] = []
        for line in map(str.strip, file.read_text(encoding="utf-8").splitlines()):
            trace = _TRACE.fullmatch(line)
            made = _DEFINES.match(line)
            if trace is not None:
                traces.append(trace)
            elif traces and made is not None:
                _check_trace(traces.pop(), made["name"])
                traced += 1
        assert not traces
    assert traced > 500


def _check_trace(trace: re.Match[str], name: str) -> None:
    source = (CORE / f"{trace['path']}.py").read_text(encoding="utf-8").splitlines()
    name = name.removesuffix("$").replace("constructor", "__init__")
    assert re.match(rf"\s*(?:def|class) {name}\b", source[int(trace["line"]) - 1]), trace


def test_every_function_of_a_translated_module_is_there() -> None:
    for file in core_modules():
        path = file.relative_to(phone_modules() / "core").with_suffix("").as_posix()
        if path == "python":
            continue
        found = {m["line"] for m in _TRACE.finditer(file.read_text(encoding="utf-8"))}
        tree = ast.parse((CORE / f"{path}.py").read_text(encoding="utf-8"))
        wanted = {
            str(node.lineno)
            for node in ast.walk(tree)
            if isinstance(node, ast.FunctionDef | ast.ClassDef)
        }
        assert found == wanted, path


def test_every_module_the_phone_needs_is_translated() -> None:
    """Whatever a script imports, made or written by hand, is there and has every name asked for."""
    asked = 0
    for file in phone_modules().rglob("*.js"):
        for match in _IMPORT.finditer(file.read_text(encoding="utf-8")):
            target = (file.parent / match["source"]).resolve()
            assert target.is_file(), (file, match["source"])
            text = target.read_text(encoding="utf-8")
            for name in (match["names"] or "").split(","):
                there = re.escape(name.strip().split(" as ")[0])
                assert re.search(rf"export (?:.* |\{{[^}}]*\b){there}\b", text), (file, name)
                asked += 1
    assert asked > 300
    assert len(core_modules()) > 40


def test_the_same_source_gives_the_same_text(tmp_path: Path) -> None:
    write_modules(tmp_path)
    for file in core_modules():
        again = tmp_path / "core" / file.relative_to(phone_modules() / "core")
        assert again.read_bytes() == file.read_bytes()
    assert modules(read_core(), ["session/fold"]) == modules(read_core(), ["session/fold"])


def test_a_command_writes_them(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["worker", "--out", str(tmp_path / "out")]) == 0
    assert str(tmp_path / "out") in capsys.readouterr().out
    for file in core_modules():
        again = tmp_path / "out" / "core" / file.relative_to(phone_modules() / "core")
        assert again.read_bytes() == file.read_bytes()


def test_a_command_says_why_it_cannot(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    def refuses(_out: Path) -> None:
        raise TranslationError("some.py:3: a lambda is not known here")

    monkeypatch.setattr("lowside.translate.phone.write_modules", refuses)
    assert main(["worker", "--out", str(tmp_path)]) == 1
    assert "some.py:3: a lambda" in capsys.readouterr().err


def test_the_runtime_has_only_what_is_called() -> None:
    """What nothing calls any more is to be deleted, with the construct that wrote it."""
    runtime = (phone_modules() / "core" / "python.js").read_text(encoding="utf-8")
    has = set(re.findall(r"^export function (\w+)", runtime, re.MULTILINE))
    texts = [file.read_text(encoding="utf-8") for file in phone_modules().rglob("*.js")]
    called = {name for text in texts for name in re.findall(r"\bpy\.(\w+)", text)}
    for names in re.findall(r'import \{([^}]*)\} from "[./]*/core/python.js"', "".join(texts)):
        called |= {name.strip() for name in names.split(",")}
    assert len(has) > 30
    assert has == called
