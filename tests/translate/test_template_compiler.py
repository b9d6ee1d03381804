"""Compiled templates give the very bytes Jinja2 gives, and refuse what they do not know."""

from collections.abc import Iterator
from itertools import count
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st
from jinja2 import UndefinedError
from markupsafe import escape
from phone_core import Node, PhoneCoreError, running_node

from lowside.rendering import TEMPLATES, FieldTemplates, UnprintableError
from lowside.translate.templates import (
    TemplateBuildError,
    compile_named,
    compile_templates,
)

_numbers = count(1)


@pytest.fixture(scope="module")
def node() -> Iterator[Node]:
    with running_node() as running:
        yield running


class Both:
    """A few templates, rendered by Jinja2 and by what the compiler made of them."""

    def __init__(self, folder: Path, node: Node, files: dict[str, str]) -> None:
        for name, source in files.items():
            (folder / name).parent.mkdir(parents=True, exist_ok=True)
            (folder / name).write_text(source, encoding="utf-8")
        self.environment = FieldTemplates(folder)
        self.node = node
        self.module = f"templates{next(_numbers)}"
        text = compile_named(self.environment, sorted(files))
        (folder / "made.mjs").write_text(text, encoding="utf-8")
        node.load(self.module, folder / "made.mjs")

    def by_python(self, context: dict[str, Any], name: str = "page.html") -> str:
        return self.environment.get_template(name).render(context)

    def by_node(self, context: dict[str, Any], name: str = "page.html") -> str:
        return self.node.render(self.module, name, context)

    def same(self, context: dict[str, Any], name: str = "page.html") -> str:
        page = self.by_python(context, name)
        assert self.by_node(context, name) == page
        return page

    def both_refuse(self, context: dict[str, Any]) -> None:
        with pytest.raises((UndefinedError, UnprintableError, TypeError)):
            self.by_python(context)
        with pytest.raises(PhoneCoreError, match=r"undefined|printed|looped"):
            self.by_node(context)


PARTS = """
{% macro pair(a, b) %}
<p>{{ a }} and {{ b }}</p>
{% endmacro %}

{% macro list(items) %}
{% for item in items %}
{{ pair(item.name, 'x') }}
{% endfor %}
{% endmacro %}
"""

CONSTRUCTS: dict[str, tuple[str, list[dict[str, Any]]]] = {
    "text": ("<p title='x'>\\ \"quoted\" `${x}` \u2028 é 🔧</p>\n", [{}]),
    "name": ("<{{ a }}>", [{"a": "<x> & 'y' \"z\" &amp;"}, {"a": 12}, {"a": -3}, {"a": ""}]),
    "attribute": ("{{ a.b.c }}", [{"a": {"b": {"c": "deep"}}}]),
    "keys that are methods in Python": (
        "{{ a.items }}{{ a.get }}{{ a.keys }}",
        [{"a": {"items": "1", "get": "2", "keys": "3"}}],
    ),
    "keys that are special in JavaScript": (
        "{{ a.constructor }}{{ a.toString }}",
        [{"a": {"constructor": "1", "toString": "2"}}],
    ),
    "if": (
        "{% if a %}\nyes\n{% elif b %}\nelse\n{% else %}\nno\n{% endif %}\nend\n",
        [
            {"a": a, "b": b}
            for a in ("", "x", [], ["x"], {}, {"k": ""}, None, 0, 1, True, False, 0.0, 0.5)
            for b in (False, True)
        ],
    ),
    "for": (
        "<ul>\n{% for s in all.of %}\n  <li>{{ s.n }} {{ all.x }}</li>\n{% endfor %}\n</ul>",
        [{"all": {"x": "<", "of": [{"n": str(i)} for i in range(n)]}} for n in (0, 1, 3)],
    ),
    "for shadows the page's name": (
        "{{ a }}{% for a in list %}{{ a }}{% for a in list %}{{ a }}{% endfor %}{{ a }}"
        "{% endfor %}{{ a }}",
        [{"a": "o", "list": ["x", "y"]}],
    ),
    "and, or, not": (
        "{{ a or b }} {{ a and b }} {% if not a and (b or not c) %}T{% endif %}",
        [{"a": a, "b": b, "c": c} for a in ("", "a") for b in ("", "b") for c in ("", "c")],
    ),
    "== and !=": (
        "{% if a == 'x' %}1{% endif %}{% if 'x' != a %}2{% endif %}",
        [{"a": a} for a in ("x", "y", "", None, 0, 1, True, [], ["x"], {})],
    ),
    "~": ("{{ a ~ '<' ~ b }}", [{"a": "<", "b": b} for b in ("&", 1, True, False, None)]),
    "blank lines and indentation": (
        "  {% if a %}\n    {{ a }}\n  {% endif %}\n\n\n  {# gone #}\n"
        " x {%- if a %} y{% endif -%}  z\n",
        [{"a": "x"}, {"a": ""}],
    ),
    "macros": (
        "{% from '_parts.html' import pair, list %}\n{{ pair(a, '<b>') }}\n{{ list(all) }}\n",
        [{"a": "<", "all": [{"name": "n"}, {"name": "&"}]}, {"a": "", "all": []}],
    ),
    "a missing name given to a macro that does not use it": (
        "{% from '_parts.html' import list %}{% if a %}{{ list(nothing) }}{% endif %}",
        [{"a": ""}],
    ),
    "extends": (
        "{% extends 'base.html' %}\n{% from '_parts.html' import pair %}\n\n"
        "{% block body %}\n{{ pair(title, a) }}{% endblock %}\n",
        [{"title": "<T>", "a": "x"}],
    ),
    "raw": ("{% raw %}{{ a }}{% endraw %}", [{}]),
}

OTHER_FILES = {
    "_parts.html": PARTS,
    "base.html": "<title>{{ title }}</title>\n{% block head %}<h>{{ title }}</h>\n{% endblock %}\n"
    "<main>{% block body %}none{% endblock %}</main>\n",
}


@pytest.mark.parametrize("construct", CONSTRUCTS)
def test_construct_gives_the_same_bytes(construct: str, tmp_path: Path, node: Node) -> None:
    source, contexts = CONSTRUCTS[construct]
    assert contexts
    both = Both(tmp_path, node, {**OTHER_FILES, "page.html": source})
    for context in contexts:
        both.same(context)


MISUSED = {
    "printing a missing name": ("{{ a }}", {}),
    "a key of a missing name": ("{{ a.b }}", {}),
    "a key of a missing key": ("{{ a.b.c }}", {"a": {}}),
    "a key of a text": ("{{ a.upper }}", {"a": "text"}),
    "a missing name as a condition": ("{% if a %}{% endif %}", {}),
    "a missing name behind or": ("{% if a or b %}{% endif %}", {"a": ""}),
    "a missing name behind not": ("{% if not a %}{% endif %}", {}),
    "a missing name compared": ("{% if 'x' == a %}{% endif %}", {}),
    "looping over a missing name": ("{% for x in a %}{% endfor %}", {}),
    "looping over nothing": ("{% for x in a %}{% endfor %}", {"a": None}),
    "joining a missing name": ("{{ 'x' ~ a }}", {}),
    "printing none": ("{{ a }}", {"a": None}),
    "printing a truth": ("{{ a }}", {"a": True}),
    "printing a fraction": ("{{ a }}", {"a": 1.5}),
    "printing a list": ("{{ a }}", {"a": []}),
    "printing a mapping": ("{{ a }}", {"a": {}}),
    "printing a number JavaScript cannot hold": ("{{ a }}", {"a": 2**53}),
    "a missing name used inside a macro": (
        "{% from '_parts.html' import pair %}{{ pair(a, 'x') }}",
        {},
    ),
}


@pytest.mark.parametrize("misuse", MISUSED)
def test_both_refuse_a_misuse(misuse: str, tmp_path: Path, node: Node) -> None:
    source, context = MISUSED[misuse]
    Both(tmp_path, node, {**OTHER_FILES, "page.html": source}).both_refuse(context)


REFUSED = {
    "set": "{% set a = 1 %}",
    "include": "{% include '_parts.html' %}",
    "is none": "{% if a is none %}{% endif %}",
    "is defined": "{% if a is defined %}{% endif %}",
    "length": "{{ a|length }}",
    "import": "{% import '_parts.html' as p %}",
    "import as": "{% from '_parts.html' import pair as p %}",
    "import with context": "{% from '_parts.html' import pair with context %}",
    "import of what is not there": "{% from '_parts.html' import triple %}",
    "import in the middle": "{% if a %}{% from '_parts.html' import pair %}{% endif %}",
    "a filter": "{{ a|upper }}",
    "safe": "{{ a|safe }}",
    "a test": "{% if a is odd %}{% endif %}",
    "a subscript": "{{ a['b'] }}",
    "a method call": "{{ a.b() }}",
    "a call of a name": "{{ a() }}",
    "a macro with too few arguments": "{% from '_parts.html' import pair %}{{ pair(a) }}",
    "a macro with a named argument": "{% from '_parts.html' import pair %}{{ pair(a, b=a) }}",
    "a macro as a condition": "{% from '_parts.html' import list %}{% if list(a) %}{% endif %}",
    "a macro as a value": "{% from '_parts.html' import list %}{{ list }}",
    "a macro here": "{% macro m() %}{% endmacro %}",
    "a caller": "{% from '_parts.html' import list %}{% call list(a) %}{% endcall %}",
    "less than": "{% if a < 'b' %}{% endif %}",
    "in": "{% if a in b %}{% endif %}",
    "comparing two names": "{% if a == b %}{% endif %}",
    "comparing twice": "{% if 'a' == b == 'c' %}{% endif %}",
    "a number": "{{ 1 }}",
    "none": "{{ none }}",
    "a list": "{% for x in ['a'] %}{% endfor %}",
    "arithmetic": "{{ a + b }}",
    "an if inside an output": "{{ a if b else c }}",
    "for with else": "{% for x in a %}{% else %}none{% endfor %}",
    "for with if": "{% for x in a if x %}{% endfor %}",
    "for over pairs": "{% for x, y in a %}{% endfor %}",
    "recursive for": "{% for x in a recursive %}{% endfor %}",
    "for over a filter": "{% for x in a|length %}{% endfor %}",
    "loop": "{% for x in a %}{{ loop }}{% endfor %}",
    "with": "{% with %}{% endwith %}",
    "filter block": "{% filter upper %}{% endfilter %}",
    "autoescape off": "{% autoescape false %}{% endautoescape %}",
    "block in a loop": "{% for x in a %}{% block b %}{% endblock %}{% endfor %}",
    "scoped block": "{% block b scoped %}{% endblock %}",
    "extends a name": "{% extends a %}",
    "extends nothing": "{% extends 'nowhere.html' %}",
    "extends in the middle": "x{% extends 'base.html' %}",
    "extends two levels": "{% extends 'middle.html' %}",
    "text outside blocks": "{% extends 'base.html' %}x",
    "a block the base lacks": "{% extends 'base.html' %}{% block nowhere %}{% endblock %}",
    "super": "{% extends 'base.html' %}{% block body %}{{ super() }}{% endblock %}",
    "a mistake in the syntax": "{% if a %}",
}


@pytest.mark.parametrize("construct", REFUSED)
def test_anything_else_is_an_error_with_file_and_line(construct: str, tmp_path: Path) -> None:
    files = {
        **OTHER_FILES,
        "middle.html": "{% extends 'base.html' %}",
        "page.html": REFUSED[construct],
    }
    for name, source in files.items():
        (tmp_path / name).write_text(source, encoding="utf-8")
    with pytest.raises(TemplateBuildError, match=r"^templates/[a-z]+\.html:1: "):
        compile_named(FieldTemplates(tmp_path), ["page.html"])


@pytest.mark.parametrize(
    ("macro", "line"),
    [
        ("\n{% macro m(a='1') %}{% endmacro %}", 2),
        ("\n\n{% macro m(a) %}{{ b }}{% endmacro %}", 3),
        ("{% macro m(loop) %}{% endmacro %}", 1),
    ],
)
def test_macros_see_their_arguments_only(macro: str, line: int, tmp_path: Path) -> None:
    (tmp_path / "_m.html").write_text(macro, encoding="utf-8")
    with pytest.raises(TemplateBuildError, match=rf"^templates/_m\.html:{line}: "):
        compile_named(FieldTemplates(tmp_path), ["_m.html"])


def test_line_of_the_error_is_the_line_of_the_cause(tmp_path: Path) -> None:
    (tmp_path / "page.html").write_text("<p>\n{% if a %}\n\n{{ a|upper }}\n{% endif %}", "utf-8")
    with pytest.raises(TemplateBuildError, match=r"^templates/page\.html:4: “Filter”"):
        compile_named(FieldTemplates(tmp_path), ["page.html"])


TEXTS = st.text(max_size=12) | st.sampled_from(["<b>", "&", "'", '"', "&amp;", "x", ""])
VALUES: st.SearchStrategy[Any] = st.recursive(
    TEXTS | st.booleans() | st.none() | st.integers(-(2**53) + 1, 2**53 - 1),
    lambda inner: (
        st.lists(inner, max_size=3)
        | st.dictionaries(st.sampled_from(["a", "b", "name", "list"]), inner, max_size=4)
    ),
    max_leaves=12,
)
ANYTHING = (
    "{% from '_parts.html' import pair, list %}\n"
    "{% if a %}\n{{ a }}{% elif not b.a %}none{% else %}{{ b.name }}\n{% endif %}\n"
    "{% for x in b.list %}\n  {% if x == 'x' or not b.name %}{{ x }}{% endif %}\n{% endfor %}\n"
    "{{ pair(b.a, b.b) }}{% if b.name != '' %}{{ list(c) }}{% endif %}\n"
)


@pytest.fixture(scope="module")
def anything(tmp_path_factory: pytest.TempPathFactory, node: Node) -> Both:
    folder = tmp_path_factory.mktemp("anything")
    return Both(folder, node, {"_parts.html": PARTS, "page.html": ANYTHING})


@given(
    context=st.fixed_dictionaries(
        {},
        optional={
            "a": VALUES,
            "b": st.fixed_dictionaries(
                {},
                optional={
                    "a": TEXTS,
                    "b": TEXTS | VALUES,
                    "name": TEXTS,
                    "list": st.lists(TEXTS, max_size=3),
                },
            )
            | VALUES,
            "c": st.lists(st.fixed_dictionaries({"name": TEXTS}), max_size=3) | VALUES,
        },
    )
)
def test_any_context_gives_the_same_page_or_an_error_on_both(
    context: dict[str, Any], anything: Both
) -> None:
    try:
        page = anything.by_python(context)
    except (UndefinedError, UnprintableError, TypeError):
        with pytest.raises(PhoneCoreError):
            anything.by_node(context)
    else:
        if not _loops_over_a_text_or_mapping(context):
            assert anything.by_node(context) == page


def _loops_over_a_text_or_mapping(context: dict[str, Any]) -> bool:
    """Python loops over characters and keys too; the browser's side throws, and no page does it."""
    b = context.get("b")
    looped = [context.get("c"), b.get("list") if isinstance(b, dict) else None]
    return any(isinstance(value, str | dict) for value in looped)


@given(text=st.text())
def test_escapes_are_markupsafes(text: str, echo: Both) -> None:
    assert echo.by_node({"a": text}) == str(escape(text))


@pytest.fixture(scope="module")
def echo(tmp_path_factory: pytest.TempPathFactory, node: Node) -> Both:
    return Both(tmp_path_factory.mktemp("echo"), node, {"page.html": "{{ a }}"})


def test_every_field_template_compiles(tmp_path: Path, node: Node) -> None:
    (tmp_path / "templates.mjs").write_text(compile_templates(), encoding="utf-8")
    node.load("field", tmp_path / "templates.mjs")
    pages = [path.name for path in (TEMPLATES / "field").glob("*.html") if path.name[0] != "_"]
    assert len(pages) >= 8
    for page in pages:
        with pytest.raises(PhoneCoreError, match="is undefined"):
            node.render("field", f"field/{page}", {})


def test_the_page_for_nothing_here_is_the_same(tmp_path: Path, node: Node) -> None:
    (tmp_path / "templates.mjs").write_text(compile_templates(), encoding="utf-8")
    node.load("missing", tmp_path / "templates.mjs")
    context = {"title": "<None>", "page": "missing", "text": "It’s not “here”."}
    page = FieldTemplates().get_template("field/missing.html").render(context)
    assert node.render("missing", "field/missing.html", context) == page
    assert "&lt;None&gt;" in page
