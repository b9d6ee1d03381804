"""The one script that phones run: what makes it short changes nothing it says."""

import re
from collections.abc import Iterator
from pathlib import Path

import pytest
from phone_core import Node, answering, phone_modules, running_node

from lowside.rendering import STATIC
from lowside.translate.page_script import with_core
from lowside.translate.phone import (
    ENTRY,
    SCRIPTS,
    bundle,
    read_core,
    shortened,
)
from lowside.translate.templates import compile_templates
from lowside.web.own_files import without_comments


@pytest.fixture(scope="module")
def parser() -> Iterator[Node]:
    with running_node() as node:
        node.load("tree", answering("tree"))
        yield node


@pytest.fixture(scope="module")
def script() -> str:
    return bundle(read_core(), SCRIPTS, ENTRY, compile_templates(short=True))


def difference(parser: Node, folder: Path, one: str, other: str) -> str | None:
    paths = [folder / "one.js", folder / "other.js"]
    for path, text in zip(paths, (one, other), strict=True):
        path.write_text(text, encoding="utf-8")
    found: str | None = parser.ask("tree", {"compared": [str(path) for path in paths]})
    return found


def test_without_its_spaces_it_says_the_same(parser: Node, script: str, tmp_path: Path) -> None:
    short = shortened(script)
    assert len(short) < 0.95 * len(script)
    assert difference(parser, tmp_path, script, short) is None


@pytest.mark.parametrize("name", ["alarm", "page", "phone", "practice", "chart"])
def test_the_pages_own_scripts_say_the_same_as_they_are_sent(
    parser: Node, tmp_path: Path, name: str
) -> None:
    path = STATIC / "js" / f"{name}.js"
    whole, sent = with_core(path), without_comments(path)
    assert len(sent) < 0.9 * len(whole)
    assert difference(parser, tmp_path, whole, sent) is None


STRING = re.compile(r'"[^"]*"')
AT_PUNCTUATION = re.compile(r"(?<=[{};,:])\s+|\s+(?=[{};,])|\n")


@pytest.mark.parametrize("path", sorted((STATIC / "css").glob("*.css")), ids=lambda one: one.stem)
def test_style_sheets_lose_only_comments_and_space_at_punctuation(path: Path) -> None:
    text, sent = path.read_text(encoding="utf-8"), without_comments(path)
    assert "/*" in text
    assert "/*" not in sent
    without = "".join(part.split("*/")[-1] for part in text.split("/*"))
    assert STRING.findall(sent) == STRING.findall(without)
    assert AT_PUNCTUATION.sub("", sent) == AT_PUNCTUATION.sub("", without).replace(";}", "}")


@pytest.mark.parametrize(
    "text",
    ["const a = `in ${b ? `the  middle` : c}`;\n", "const a = 1;\nconst b = a - -1;\n"],
)
def test_a_difference_would_be_seen(parser: Node, tmp_path: Path, text: str) -> None:
    other = text.replace("  ", " ").replace("- -", "+ ")
    assert difference(parser, tmp_path, text, text) is None
    assert difference(parser, tmp_path, text, other) is not None


def test_it_says_no_text_that_the_modules_do_not_say(
    parser: Node, script: str, tmp_path: Path
) -> None:
    """Short names are words too: one must never get into a sentence."""
    (tmp_path / "script.js").write_text(script, encoding="utf-8")
    modules = [str(path) for path in phone_modules().rglob("*.js")]
    said = set(parser.ask("tree", {"texts": [str(tmp_path / "script.js")]}))
    known = set(parser.ask("tree", {"texts": modules}))
    assert len(said) > 2_000
    assert said - known == set()


def test_a_short_name_that_is_a_word_of_a_sentence_stays_out_of_it(tmp_path: Path) -> None:
    """The first constants are called A, B, C and so on."""
    names = [f"SHORT_{n}" for n in range(40)]
    text = _bundled(
        tmp_path,
        "".join(f"{name} = {n}\n" for n, name in enumerate(names, 100))
        + f"ASKED = {' + '.join(names)}\n\n\n"
        "def used(x: int) -> str:\n"
        '    return f"A cylinder at {x + SHORT_7} °F or 40 °C, {x} B, plan D. I see."\n',
    )
    assert "`A cylinder at ${" in text
    assert "+ 107} °F or 40 °C, ${" in text
    assert "} B, plan D. I see.`" in text


def test_every_name_in_it_is_defined(parser: Node, script: str, tmp_path: Path) -> None:
    path = tmp_path / "script.js"
    path.write_text(shortened(script) + "const lost = nobody(render);\n", encoding="utf-8")
    assert parser.ask("tree", {"script": str(path)}) == ["nobody"]


def _bundled(tmp_path: Path, source: str) -> str:
    core = tmp_path / "core"
    core.mkdir()
    (core / "numbers.py").write_text(source, "utf-8")
    main = tmp_path / "main.js"
    main.write_text('import { used, ASKED } from "./core/numbers.js";\nused(ASKED);\n', "utf-8")
    return bundle(read_core(core), tmp_path, main, "export function render() {}\n")


def test_a_number_or_text_that_is_short_or_used_once_is_written_where_it_is_used(
    tmp_path: Path,
) -> None:
    text = _bundled(
        tmp_path,
        'ONCE = 4711\nWORDS = "only at one place"\nTWICE = 815\nASKED = 4242\nSUM = 40.0 + 2.0\n'
        'BELOW = -33\nNAMES = "A B C D E F G H"\nAGAIN = "said at two places"\n\n\n'
        "def used(x: int) -> int:\n"
        "    if x == TWICE or NAMES == WORDS or x == BELOW or x == ASKED or SUM < 1.0:\n"
        "        return TWICE\n"
        "    if WORDS_OF[0] == AGAIN:\n        return 3\n    return x + ONCE\n\n\n"
        "WORDS_OF = (AGAIN,)\n",
    )
    for value in ("4711", '"only at one place"', '"A B C D E F G H"', "4242", "-33"):
        assert text.count(value) == 1, value
    assert "+ 4711;" in text
    assert '"A B C D E F G H" === "only at one place"' in text
    assert "return 815" in text
    for value in ('"said at two places"', "4242", "-33"):
        assert re.search(rf"[A-Z]\w* = {value}[;,]", text), value
    assert not re.search(r"[A-Z]\w* = 815[;,]", text)


def test_what_nobody_needs_is_left_out(tmp_path: Path) -> None:
    core = tmp_path / "core"
    core.mkdir()
    (core / "numbers.py").write_text(
        "START = 1\nALONE = 99\n\n\n"
        "def used(x: int) -> int:\n    return x + START\n\n\n"
        "def unused(x: int) -> int:\n    return x + ALONE\n",
        "utf-8",
    )
    main = tmp_path / "main.js"
    main.write_text('import { used } from "./core/numbers.js";\nused(2);\n', "utf-8")
    text = bundle(read_core(core), tmp_path, main, "export function render() {}\n")
    assert "99" not in text
    assert "+ 1;" in text


MEMBERS = """\
from dataclasses import dataclass, replace


@dataclass
class Stored:
    kept_in_store: int


@dataclass(frozen=True)
class Inner:
    shortened_field: int
    read_by_hand: int

    def shortened_method(self) -> int:
        return self.shortened_field


ASKED = 4242


def used(x: int) -> Stored:
    one = replace(Inner(x, x), shortened_field=2)
    words = "shortened_field"
    stored = Stored(one.shortened_method() + one.read_by_hand)
    stored.kept_in_store += len(words)
    return stored
"""


def test_fields_have_short_names_where_nothing_else_knows_them(tmp_path: Path) -> None:
    """What is stored keeps them: the next version of the script reads it."""
    core = tmp_path / "core"
    core.mkdir()
    (core / "numbers.py").write_text(MEMBERS, "utf-8")
    main = tmp_path / "main.js"
    main.write_text(
        'import { used, ASKED, Stored } from "./core/numbers.js";\n'
        "if (used(ASKED) instanceof Stored) used(1).read_by_hand;\n",
        "utf-8",
    )
    text = bundle(read_core(core), tmp_path, main, "export function render() {}\n")
    assert text.count("shortened_field") == text.count('"shortened_field"') == 1
    assert "shortened_method" not in text
    for name in ("kept_in_store", "read_by_hand"):
        assert f"this.{name} = " in text, name
