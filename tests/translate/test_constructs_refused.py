"""What the translator does not know, or would get wrong, it refuses: where, and what to write."""

from pathlib import Path
from textwrap import indent

import pytest
from tiny_core import refusal

from lowside.translate.kinds import TranslationError
from lowside.translate.phone import read_core
from lowside.translate.reach import reached

EXPRESSIONS = {
    # snippet of `return …` with a few annotated parameters -> words of the advice
    "a ** 2": "use + - * / // and % only",
    "a << 1": "use + - * / // and % only",
    "~a": "use - and not only",
    "+a": "use - and not only",
    "x // 2.0": "take whole numbers",
    "x % a": "take whole numbers",
    "a * text": "annotate its parts",
    "rows * 2": "annotate its parts",
    "flag + 1": "annotate its parts",
    "unknown.x + 1": "annotate its parts",
    "text % a": "annotate its parts",
    "-text": "takes a number",
    "9007199254740993": "beyond 2**53",
    "1e999": "use text, a number",
    "b'abc'": "use text, a number",
    "...": "use text, a number",
    "f'{x}'": "format_decimal",
    "f'{x:.2f}'": "only whole numbers are padded",
    "f'{a:3d}'": "only whole numbers are padded",
    "f'{a:0{a}d}'": "only whole numbers are padded",
    "f'{text:05d}'": "only whole numbers are padded",
    "f'{a!r}'": "without !",
    "f'{a=}'": "without !",
    "f'{rows}'": "say others in words",
    "f'{flag}' + str(x)": "format_decimal",
    "str(rows)": "say others in words",
    "str(mixed)": "format_decimal",
    "str()": "number of arguments",
    "(y := a)": "on a line of its own",
    "{a, 2}": "write set([...])",
    "(one for one in rows)": "make a list or a tuple",
    "lambda: 1": "as an argument",
    "sorted(rows, key=lambda one=1: one)": "without defaults",
    "sorted(rows, key=lambda: 1)": "what it will be given",
    "[*rows, *names][::2]": "no step",
    "anything[1:]": "annotate it",
    "thing[0]": "no list, text or dict: annotate it",
    "text + thing": "annotate its parts",
    "names | thing": "annotate its parts",
    "names[a:].step": "annotate what it is asked of",
    "text.nothing": "annotate what it is asked of",
    "Plain().m + 1": "annotate its parts",
    "a or 5": "write an `if`",
    "text and rows": "write an `if`",
    "0 < len(rows + [1]) < 3": "give it a name",
    "a == flag": "compare true and false with each other",
    "flag in rows": "compare true and false with each other",
    "[flag] == rows": "compare true and false with each other",
    "rows == (1, 2)": "a list never equals a tuple",
    "text is not text": "compare with ==",
    "rows is rows": "compare with ==",
    "text < text": "only numbers have an order",
    "rows < rows": "only numbers have an order",
    "pair < thing": "only numbers have an order",
    "thing < thing": "only numbers have an order",
    "names < names": "only numbers have an order",
    "a in 5": "looks into a list",
    "{(a, 1): 2}": "a key must be",
    "{x: 2}": "a key must be",
    "{flag: 2}": "a key must be",
    "names[pair]": "a key must be",
    "names.get(flag)": "a key must be",
    "other(d=ints)": "a set where a list goes",
    "other(1, 1, 1, names)": "a dict where a list goes",
    "counted(text)": "a str where a list goes",
    "{one for one in rows}": "write set([...])",
    "[one for row in [rows] for one in row]": "has one `for`",
    "{pair: 1 for _ in rows}": "a key must be",
    "names.get(pair)": "a key must be",
    "pair in names": "a key must be",
    "set([pair])": "a set holds",
    "set([x])": "a set holds",
    "dict([(text, 1)])": "{k: v for ...}",
    "dict(a=1)": "takes no names",
    "[one for one in set(rows)]": "a loop runs over",
    "list(set(rows))": "a loop runs over",
    "sorted(set(rows))": "a loop runs over",
    "[one for one in 5]": "a loop runs over",
    "[i for i, one in rows]": "only a tuple annotated with each part",
    "[i for i, one in [pair, (1, 2, 3)]]": "only a tuple annotated with each part",
    "[i for i, *one in [pair]]": "give each value a name",
    "enumerate(rows)": "none the translator knows",
    "list(enumerate(rows, 1))": "none the translator knows",
    "list(zip(rows, rows))": "strict=True",
    "list(zip(rows, rows, rows, strict=True))": "strict=True",
    "reversed(rows)": "none the translator knows",
    "names.items()": "no method",
    "any(rows)": "take a comprehension",
    "all(x for x in rows for y in rows)": "has one `for`",
    "max(text, text)": "takes numbers only",
    "max(rows, key=abs)": "takes no names",
    "max(rows, default=1)": "takes no names",
    "max(pair)": "takes numbers only",
    "sum(rows)": "none the translator knows",
    "round(x)": "none the translator knows",
    "pow(x, x)": "none the translator knows",
    "map(abs, rows)": "none the translator knows",
    "print(a)": "none the translator knows",
    "open(text)": "none the translator knows",
    "abs(text)": "annotate it so",
    "abs(a, a)": "1 arguments",
    "int(rows)": "annotate it so",
    "int('7', 8)": "1 arguments",
    "float(text)": "parse_decimal",
    "range(a, a, 2)": "number of arguments",
    "range(x)": "annotate it so",
    "sorted(rows, reverse=True)": "by a key only",
    "sorted([thing])": "give a key",
    "sorted(mixed_rows)": "give a key",
    "sorted(rows, key=lambda one: thing)": "give a key",
    "isinstance(text, str)": "classes of the core only",
    "isinstance(thing, Thing | Plain)": "classes of the core only",
    "isinstance(text, (Thing, str))": "classes of the core only",
    "isinstance(text, type(text))": "classes of the core only",
    "replace(thing, nothing=1)": "fields of a dataclass",
    "replace(thing, **names)": "fields of a dataclass",
    "Thing(n=1, nothing=2)": "name each argument",
    "Thing(*rows)": "spread into a list",
    "Thing(**names)": "name each argument",
    "other(d=[1], c=len(rows), b=len(text))": "in the function's order",
    "text.title()": "no method",
    "text.lstrip()": "no method",
    "text.index('a')": "no method",
    "text.find('a')": "no method",
    "text.format(a)": "no method",
    "text.split('a', 1)": "other arguments",
    "text.split()": "at a text in quotes",
    "ord(text)": "none the translator knows",
    "text.split('')": "at a text in quotes",
    "text.split(text)": "at a text in quotes",
    "text.startswith(('a', 'b'))": "annotate it so",
    "text.strip(None)": "annotate it so",
    "text.replace('a', 'b', 1)": "2 arguments",
    "text.join(rows)": "takes texts only",
    "rows.pop(0)": "the last of a list",
    "names.pop()": "the last of a list",
    "rows.count(1)": "no method",
    "rows.append(1)": "on a line of its own",
    "names.update(names)": "no method",
    "names.copy()": "no method",
    "anything.strip()": "no method",
    "thing.move": "call the method here",
    "thing.moved()": "no method",
    "rows[0](a)": "by their names",
    "a(1)": "annotated Callable",
    "nowhere": "no value of this name",
    "__name__": "no value of this name",
    "int": "no value of this name",
    "Alias": "no value of this name",
    "await a": "does not know this",
}

HEAD = """\
from collections.abc import Sequence
from dataclasses import dataclass, replace

Alias = dict[str, int]

@dataclass(frozen=True)
class Thing:
    n: int
    def move(self) -> int:
        return self.n

class Plain:
    def __init__(self) -> None:
        self.n = 1

def other(a: int = 1, b: int = 1, c: int = 1, d: list[int] | None = None) -> int:
    return a

def real(y: float) -> float:
    return y

def nothing(a: int) -> None:
    return

def counted(a: Sequence[str]) -> int:
    return len(a)

def f(a: int, x: float, text: str, flag: bool, rows: list[int], names: dict[str, int],
      pair: tuple[int, str], thing: Thing, anything: object, mixed: int | float, plain: Plain,
      sequence: Sequence[int], mixed_rows: list[int | None], ints: set[int]) -> object:
"""


@pytest.mark.parametrize("expression", EXPRESSIONS)
def test_refused_expressions(expression: str, tmp_path: Path) -> None:
    said = refusal(tmp_path, f"{HEAD}    return {expression}\n")
    assert said.startswith(f"room/tiny.py:{HEAD.count(chr(10)) + 1}: `"), said
    assert EXPRESSIONS[expression] in said


STATEMENTS = {
    "try:\n    a = 1\nexcept ValueError:\n    a = 2": "ask beforehand",
    "with open(text) as file:\n    a = 2": "opens nothing",
    "match a:\n    case 1:\n        a = 2": "if and elif",
    "def g() -> int:\n    return 1": "in the module",
    "class G:\n    pass": "in the module",
    "global a": "return the value",
    "nonlocal a": "return the value",
    "del names['a']": ".pop(key)",
    "assert a": "raise ValueError",
    "import math": "at the top",
    "from math import sqrt": "at the top",
    "a = b = 1": "one name at a time",
    "a, names['a'] = pair": "a name of its own",
    "a, *b = rows": "a name of its own",
    "a, b = text": "annotated with each part",
    "a, b = nowhere": "no value of this name",
    "b: int": "its value where it is annotated",
    "rows += [1]": "extend a list",
    "names |= names": "merge dicts into a new name",
    "rows[other()] += 1": "give it a name",
    "text[0] = 'a'": "a list or a dict",
    "pair[0] = 1": "a list or a dict",
    "names[pair] = 1": "a key must be",
    "rows[1:2] = rows": "a list or a dict",
    "ints.add(pair)": "a key must be",
    "while a:\n    a = 0\nelse:\n    a = 1": "no else",
    "for one in rows:\n    a = 0\nelse:\n    a = 1": "no else",
    "for names['a'] in rows:\n    pass": "a name of its own",
    "for one in ints:\n    pass": "a loop runs over",
    "for i in range(a):\n    i = 2": "not assigned",
    "for i in range(a):\n    pass\nx = i": "belongs to its loop",
    "for i in range(1, 5, a):\n    pass": "written out",
    "for i in range(1, 5, 0):\n    pass": "written out",
    "for i in range(x):\n    pass": "annotate it so",
    "for i in range():\n    pass": "arguments",
    "async for one in rows:\n    pass": "does not know",
    "yield a": "return a list",
    "yield from rows": "return a list",
    "a + 1": "does nothing",
    "raise ValueError": "with one sentence",
    "raise ValueError(a)": "with one sentence",
    "raise KeyError('a')": "with one sentence",
    "raise ValueError('a') from None": "with one sentence",
    "y: float = 0": "write 0.0",
    "y = real(a)": "write 0.0",
    "y = real(y=len(text))": "write 0.0",
    "a = nothing(1)": "on a line of its own",
    "a = plain == plain": "no dataclass",
    "a = plain in [plain]": "no dataclass",
    "rows = [rows]": "grows without end",
}


@pytest.mark.parametrize("statement", STATEMENTS)
def test_refused_statements(statement: str, tmp_path: Path) -> None:
    said = refusal(tmp_path, HEAD + indent(statement, "    ") + "\n    return 1\n")
    line = int(said.split(":")[1])
    first = HEAD.count("\n") + 1
    assert said.startswith("room/tiny.py:")
    assert first <= line <= first + 4 or "grows" in said, said
    assert STATEMENTS[statement] in said


DEFINITIONS = {
    "def f(*a: int) -> int:\n    return 1": "no * and no **",
    "def f(**a: int) -> int:\n    return 1": "no * and no **",
    "def f(*, a: int) -> int:\n    return 1": "no * and no **",
    "def f(a: int, /) -> int:\n    return 1": "no * and no **",
    "def f(a) -> int:\n    return 1": "annotate the parameter `a`",
    "def f(a: int):\n    return 1": "annotate what it returns",
    "def f(a: nothing) -> int:\n    return 1": "not defined in the core",
    "def f(a: int.real) -> int:\n    return 1": "not an annotation",
    "def f(a: frozen[int]) -> int:\n    return 1": "not an annotation",
    "def f(a: frozenset[int]) -> int:\n    return 1": "not an annotation",
    "def f(a: Iterator[int]) -> int:\n    return 1": "not an annotation",
    "def f(a: list[int]) -> list[int]:\n    b: list[str] = 'abc'\n    return a": "a str where",
    "def f(a: set[int]) -> list[int]:\n    return a": "a set where a list goes",
    "def f(a: int) -> int:\n    if a > 0:\n        return 1": "on each way through",
    "def f(a: int) -> int:\n    while a > 0:\n        return 1": "on each way through",
    "def f(a: int) -> int:\n    while True:\n        break": "on each way through",
    "def f(a: list[int] = []) -> int:\n    return 1": "makes a default once",
    "def f(a: object = len('a')) -> int:\n    return 1": "makes a default once",
    "def f(a: float = 0) -> int:\n    return 1": "write 0.0",
    "def f() -> float:\n    return 0": "write 0.0",
    "@dataclass\nclass A:\n    x: float = 0": "write 0.0",
    "def f(self: int) -> int:\n    return 1": "`self` is the first parameter",
    "@cache\ndef f(a: int) -> int:\n    return 1": "only decorator of a function",
    "async def f(a: int) -> int:\n    return 1": "functions, classes and constants only",
    "for a in []:\n    pass": "functions, classes and constants only",
    "A = 1\nA = 2": "one meaning",
    "def A() -> int:\n    return 1\ndef A() -> int:\n    return 2": "one meaning",
    "A, B = 1, 2": "one name one value",
    "A: int": "one name one value",
    "A = B": "no value of this name",
    "from lowside.core.room.other import *": "import each name by itself",
    "class A(B):\n    pass": "inherit nothing",
    "class A(metaclass=B):\n    pass": "inherit nothing",
    "class A:\n    pass": "a dataclass or has an __init__",
    "@dataclass\nclass A:\n    x = 1": "annotated fields and methods",
    "@dataclass(order=True)\nclass A:\n    x: int": "@dataclass(frozen=True)",
    "@total_ordering\nclass A:\n    x: int": "@dataclass(frozen=True)",
    "@dataclass\nclass A:\n    x: list[int] = field(default_factory=list, hash=True)": "field(",
    "@dataclass\nclass A:\n    x: int = len('a')": "field(default_factory=dict)",
    "@dataclass\nclass A:\n    x: list[int] = field(default_factory=lambda: [1])": "by their names",
    "@dataclass\nclass A:\n    constructor: int": "rename it",
    "@dataclass\nclass A:\n    __proto__: int": "rename it",
    "@dataclass\nclass A:\n    def __len__(self) -> int:\n        return 1": "rename",
    "@dataclass\nclass A:\n    def constructor(self) -> int:\n        return 1": "rename it",
    "@dataclass\nclass A:\n    @cache\n    def g(self) -> int:\n        return 1": "only deco",
    "@dataclass\nclass A:\n    def g(this) -> int:\n        return 1": "`self` is the first",
}


@pytest.mark.parametrize("definition", DEFINITIONS)
def test_refused_definitions(definition: str, tmp_path: Path) -> None:
    said = refusal(tmp_path, f"X = 1\n\n{definition}\n")
    assert said.startswith("room/tiny.py:"), said
    assert 3 <= int(said.split(":")[1]) <= 7
    assert DEFINITIONS[definition] in said


def test_modules_that_need_each_other_are_refused(tmp_path: Path) -> None:
    (tmp_path / "room").mkdir()
    text = "from lowside.core.room.tiny import f\n\ndef g() -> int:\n    return f()\n"
    (tmp_path / "room" / "other.py").write_text(text, encoding="utf-8")
    text = "from lowside.core.room import other\n\ndef f() -> int:\n    return other.g()\n"
    said = refusal(tmp_path, text)
    assert said.startswith("room/other.py:4: `f`: ")
    assert "import each other: room/tiny → room/other: move what both need to a third" in said


def test_a_module_that_is_not_there_is_refused(tmp_path: Path) -> None:
    text = "from lowside.core.room import nowhere\n\ndef f() -> int:\n    return nowhere.g()\n"
    said = refusal(tmp_path, text)
    assert said.startswith("room/tiny.py:4: `nowhere.g`: there is no room/nowhere.py in the core: ")


def reached_from(folder: Path, source: str) -> str:
    """What is said when a script asks for the function of this module."""
    (folder / "room" / "tiny.py").write_text(source, encoding="utf-8")
    with pytest.raises(TranslationError) as refused:
        reached(read_core(folder), {("room/tiny", "f")})
    return str(refused.value)


def test_a_name_that_is_not_there_is_refused(tmp_path: Path) -> None:
    (tmp_path / "room").mkdir()
    (tmp_path / "room" / "other.py").write_text("A = 1\n", encoding="utf-8")
    text = "from lowside.core.room import other\n\ndef f() -> int:\n    return other.B\n"
    said = reached_from(tmp_path, text)
    assert said.startswith("room/tiny.py:4: `other.B`: room/other.py does not define it: ")
