"""A template is compiled once: the first who asks for a page need not wait for it."""

from pathlib import Path

import pytest

from lowside.cache import CACHE_VARIABLE
from lowside.rendering import FieldTemplates, KeptTemplates

NAME = "page.html"


@pytest.fixture
def kept(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.setenv(CACHE_VARIABLE, str(tmp_path / "cache"))
    (tmp_path / NAME).write_text("{{ word }}, one\n", "utf-8")
    return tmp_path / "cache" / "templates"


def printed(folder: Path) -> tuple[str, int]:
    """The page as a new process prints it, and how many templates were compiled for it."""
    templates = FieldTemplates(folder)
    templates.bytecode_cache = KeptTemplates()
    compiled = []
    usual = templates.compile
    templates.compile = lambda *given: compiled.append(given) or usual(*given)  # type: ignore[method-assign]
    return templates.get_template(NAME).render({"word": "Page"}), len(compiled)


def test_a_template_is_compiled_once_until_it_changes(tmp_path: Path, kept: Path) -> None:
    assert printed(tmp_path) == ("Page, one", 1)
    assert printed(tmp_path) == ("Page, one", 0)
    (tmp_path / NAME).write_text("{{ word }}, two\n", "utf-8")
    assert printed(tmp_path) == ("Page, two", 1)
    assert printed(tmp_path) == ("Page, two", 0)
    assert len([*kept.iterdir()]) == 1


def test_another_compiler_compiles_it_again(
    tmp_path: Path, kept: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    printed(tmp_path)
    monkeypatch.setattr("lowside.rendering._compiler", lambda: "another")
    assert printed(tmp_path) == ("Page, one", 1)


@pytest.mark.parametrize("content", [b"", b"damaged", None])
def test_what_cannot_be_read_is_compiled(tmp_path: Path, kept: Path, content: bytes | None) -> None:
    printed(tmp_path)
    (file,) = kept.iterdir()
    file.write_bytes(file.read_bytes()[:-9] if content is None else content)
    assert printed(tmp_path) == ("Page, one", 1)
    assert printed(tmp_path) == ("Page, one", 0)


def test_a_folder_that_cannot_be_written_keeps_no_page_away(tmp_path: Path, kept: Path) -> None:
    kept.parent.write_text("not a folder", "utf-8")
    assert printed(tmp_path) == printed(tmp_path) == ("Page, one", 1)
