"""What people read: the trade's American English, wherever a sentence can come from."""

import ast
import json
import re
from collections.abc import Iterator
from functools import cache
from html.parser import HTMLParser
from pathlib import Path

import pytest

from lowside.core.handbook.forms import FORMS
from lowside.core.hoses.hazard_words import TEXTS
from lowside.core.judging.sentences import SENTENCES

ROOT = Path(__file__).parents[3]
SOURCE = ROOT / "src" / "lowside"
PYTHON = [SOURCE / "cli.py", SOURCE / "demo.py"] + [
    path
    for folder in ("core", "web", "practice", "store", "procedures")
    for path in sorted((SOURCE / folder).rglob("*.py"))
]
PROCEDURES = sorted((SOURCE / "procedures").glob("*.json"))
TEMPLATES = sorted((ROOT / "templates").rglob("*.html"))
SCRIPTS = sorted((ROOT / "static" / "js").rglob("*.js"))

SHOWN_KEYS = ("title", "hardware", "do", "why", "done_when", "text", "source", "stage")
SHOWN_ATTRIBUTES = ("aria-label", "placeholder", "title", "alt")

BANNED = {
    r"\bmakers?\b": "manufacturer",
    r"\bshut(s|ting)?\b": "closed",
    r"vapour": "vapor",
    r"licence": "license",
    r"colour": "color",
    r"\bgrey\b": "gray",
    r"\bjudgement": "judgment",
    r"aluminium": "aluminum",
    r"\b(strike|strikes|struck)\b": "void",
    r"^Mind\.|\. Mind\.": "Caution.",
    r"^Reading\.": "what the reading says",
    r"\breckon": "count, expect",
    r"\bwhilst\b": "while",
    r"\bof which\b": "two sentences",
    r"\b(stands?|stood) (still|above|below|between)\b": "is; until stable",
    r"\b[Ll]eak search\b": "leak check",
    r"\ball the same\b": "still, anyway",
    r"\blacks? (a little )?charge\b": "is undercharged",
    r"too (little|much) charge": "undercharged, overcharged",
    r"short of charge": "undercharged",
}
"""Pattern → what is said instead."""

WANTED = (
    "Normal range",
    "Overcharged: recover",
    "Suction line − saturation (dew)",
    "low indoor airflow, not low charge",
    "Ventilate",
    "Clear the high-side hose to suction",
    "Hook up hoses, all valves closed",
    "Expected end weight",
    "until stable",
    "Leak-check",
    "Void",
    "Undercharged",
)

LITERAL = re.compile(r'"((?:[^"\\\n]|\\.)*)"|`((?:[^`\\]|\\.)*)`')


def docstrings(tree: ast.AST) -> set[int]:
    """Constants that are a statement of their own: docstrings and the words below a name."""
    return {
        id(node.value)
        for node in ast.walk(tree)
        if isinstance(node, ast.Expr) and isinstance(node.value, ast.Constant)
    }


def python_texts(path: Path) -> Iterator[str]:
    """Texts of more than one word, or with a capital: the rest may be a code, never shown."""
    tree = ast.parse(path.read_text("utf-8"))
    silent = docstrings(tree)
    for node in ast.walk(tree):
        if not isinstance(node, ast.Constant) or not isinstance(node.value, str):
            continue
        is_shown = " " in node.value.strip() or node.value[:1].isupper()
        if is_shown and id(node) not in silent:
            yield node.value


def json_texts(value: object, shown: bool = False) -> Iterator[str]:
    if isinstance(value, str) and shown:
        yield value
    elif isinstance(value, list):
        for item in value:
            yield from json_texts(item, shown)
    elif isinstance(value, dict):
        for key, item in value.items():
            yield from json_texts(item, key in SHOWN_KEYS)


class _Page(HTMLParser):
    def __init__(self) -> None:
        super().__init__()
        self.texts: list[str] = []

    def handle_data(self, data: str) -> None:
        self.texts.append(data)

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.texts += [text or "" for name, text in attrs if name in SHOWN_ATTRIBUTES]


def template_texts(path: Path) -> Iterator[str]:
    page = _Page()
    page.feed(re.sub(r"\{%.*?%\}|\{\{.*?\}\}", " ", path.read_text("utf-8"), flags=re.DOTALL))
    yield from page.texts


def script_texts(path: Path) -> Iterator[str]:
    code = re.sub(r"/\*.*?\*/|^\s*//[^\n]*$", "", path.read_text("utf-8"), flags=re.DOTALL | re.M)
    for match in LITERAL.finditer(code):
        text = next(group for group in match.groups() if group is not None)
        if " " in text.strip():
            yield text


@cache
def all_texts() -> list[tuple[str, str]]:
    """Where a text is, and the text."""
    found: list[tuple[str, str]] = []
    for paths, read in (
        (PYTHON, python_texts),
        (PROCEDURES, lambda path: json_texts(json.loads(path.read_text("utf-8")))),
        (TEMPLATES, template_texts),
        (SCRIPTS, script_texts),
    ):
        for path in paths:
            name = str(path.relative_to(ROOT))
            found += [(name, text) for text in read(path)]
    return found


def banned_in(text: str) -> list[str]:
    return [
        f"“{text}”: say {instead}"
        for p, instead in BANNED.items()
        if re.search(p, text, re.IGNORECASE)
    ]


def test_no_screen_uses_a_word_the_trade_does_not_use() -> None:
    found = [f"{name}: {each}" for name, text in all_texts() for each in banned_in(text)]
    assert not found, "\n".join(found)


@pytest.mark.parametrize("phrase", WANTED)
def test_the_trade_s_own_phrases_are_on_a_screen(phrase: str) -> None:
    assert any(phrase in text for _, text in all_texts())


def test_the_collection_reaches_every_kind_of_sentence() -> None:
    texts = {text for _, text in all_texts()}
    assert set(SENTENCES.values()) <= texts
    assert {text for pair in TEXTS.values() for text in pair} <= texts
    labels = {field.label for form in FORMS.values() for field in form.fields}
    parts = {  # “First point: outdoor air” is put together from both of its halves
        half for label in labels - texts for half in re.split("(?=: )", label, maxsplit=1)
    }
    assert {part for part in parts if " " in part} <= texts
    everywhere = " ".join(texts)
    assert "Never loosen a nut at 0 psig or below." in everywhere  # cautions
    assert "The picture in words" in everywhere  # templates
    assert "What you typed is still here" in everywhere  # scripts


@pytest.mark.parametrize(
    "text",
    [
        "The maker’s figure is better.",
        "Shut it. A valve that is shut holds.",
        "hotter than vapour can be",
        "Strike it out, or what was struck out comes back",
        "Mind. It is hot",
        "5 oz, of which 2 oz are left",
        "once they stand still",
    ],
)
def test_a_banned_word_is_found(text: str) -> None:
    assert banned_in(text)
