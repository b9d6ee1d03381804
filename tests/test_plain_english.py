"""What people read who work on Lowside is plain American English: docs, docstrings, comments.

`tests/core/pages/test_words.py` does the same for what people read who use it. Code is not read
here: what is between backticks, in a fence of a page, or a type in JSDoc.
"""

import io
import re
import tokenize
from collections.abc import Iterator
from dataclasses import dataclass
from functools import cache
from itertools import chain
from pathlib import Path

import pytest

pytestmark = pytest.mark.xdist_group("plain english")
"""One process reads every file once."""

ROOT = Path(__file__).parents[1]
FOLDERS = ("bench", "demo", "docs", "scripts", "src", "static", "templates", "tests")
OTHERS = {"vendor", "node_modules"}

VERB = r"(?:is|are|was|were|has|have|had|does|do|did|can|cannot|could|may|must|will|would)"
BREAK = r"(?<=[,;:])\s+"

WORDS = {
    r"of\s+(?:which|whom)": "two sentences",
    r"makers?": "manufacturer",
    r"st(?:ands?|anding|ood)": "is; rests; stops",
    r"reckon\w*": "count, expect, work out",
    r"shut(?:s|ting)?": "close",
    r"whilst|amongst|upon|hence|thereof|thereby|whereby|wherein|hereby|lest": "an everyday word",
    r"all\s+the\s+same": "still, anyway",
    r"(?:struck|str(?:ike|ikes|iking))\s+(?:it\s+)?out": "void",
    r"bars?\s+(?:adding|nothing|it|a\s+shot)": "block",
    r"short\s+of\s+charge": "undercharged",
    rf"{BREAK}for\s+(?:they|there|here|nothing|nobody|none)": "because",
    rf"{BREAK}for\s+(?:it|he|she|we|you)\s+(?:{VERB}|\w+s)": "because",
    rf"{BREAK}for\s+(?:the|an?|each|every|its|their)\s+[\w’']+\s+(?:{VERB}|counts)": "because",
    rf"(?:Nor|Only\s+(?:then|so|thus|there))\s+{VERB}": "the subject before the verb",
    rf"So\s+{VERB}\s+(?:the|an?|one|it|they|its|their|what|who|each|every|all)": "the same",
    r"\w*vapour\w*": "vapor",
    r"\w*colour\w*": "color",
    r"\w*neighbour\w*": "neighbor",
    r"\w*behaviour\w*": "behavior",
    r"\w*judgement\w*": "judgment",
    r"(?:un)?(?:label|model|cancel|travel|signal)l(?:ed|ing)": "one l",
    r"grey\w*": "gray",
    r"(?:centi|milli|kilo)?metres?": "meter",
    r"(?:milli)?litres?": "liter",
    r"centres?|centred": "center",
    r"licences?|defences?|offences?": "-se",
    r"catalogues?": "catalog",
    r"practis(?:e|ed|es|ing)": "practice",
    r"programmes?": "program",
    r"aluminium|artefacts?|favour\w*|honour\w*|mould\w*|tyres?": "the American spelling",
    r"(?:summar|recogn|organ|normal|initial|serial)is(?:e|ed|es|ing)": "-ize",
    r"(?:optim|minim|maxim|real|author|prior)is(?:e|ed|es|ing)": "-ize",
    r"(?:to|after|back|for|up|down|in|out)wards": "without the s",
    r"learnt|spelt|burnt|fulfil": "learned, spelled, burned, fulfill",
}
"""Pattern → what is said instead. Each is looked for as a word of its own."""

RIGHT = (
    r"stands?\s+out",
    r"stand(?:s|ing)?[\s-]in[\s-]for\b",
)
"""Where a word of the list is the usual one."""

SPELLINGS = re.compile(
    r"vapour|colour|neighbour|behaviour|judgement|labelled|metre|litre|grey|centre|licence|catalogue",
    re.IGNORECASE,
)
KEPT_NAMES = {"colour"}
"""A key of a procedure's file. Shops have such files stored."""

NOT_YET: tuple[str, ...] = ()
"""Beginnings of paths that were not swept yet."""

PATTERN = re.compile(rf"(?<!\w)(?:{'|'.join(f'({word})' for word in WORDS)})(?!\w)", re.IGNORECASE)
WRITTEN = re.compile(r"[^\0]*[^\0\s][^\0]*")
EXCEPTION = re.compile("|".join(rf"\b(?:{phrase})" for phrase in RIGHT), re.IGNORECASE)
CODE_SPAN = re.compile(r"`[^`]*`")
FENCE = re.compile(r"^```.*?^```$", re.MULTILINE | re.DOTALL)
JSDOC_TYPE = re.compile(r"\{[^}\n]*\}+")
COMMENTS = {
    ".js": re.compile(r"/\*.*?\*/|(?<!:)//[^\n]*", re.DOTALL),
    ".mjs": re.compile(r"/\*.*?\*/|(?<!:)//[^\n]*", re.DOTALL),
    ".css": re.compile(r"/\*.*?\*/", re.DOTALL),
    ".html": re.compile(r"\{#.*?#\}", re.DOTALL),
    ".sql": re.compile(r"--[^\n]*"),
}


@dataclass(frozen=True)
class Found:
    """A word of the list, where it is, and what is said instead."""

    path: str
    line: int
    word: str
    instead: str

    def __str__(self) -> str:
        return f"{self.path}:{self.line}: {self.word!r}, say: {self.instead}"


def blank(text: str) -> str:
    """The same lines with a mark for each letter, so that a phrase never goes across."""
    return re.sub(r"\S", "\0", text)


def without(code: re.Pattern[str], text: str) -> str:
    return code.sub(lambda match: blank(match.group()), text)


def only(prose: re.Pattern[str], text: str) -> str:
    """The text with everything but the matches blanked; each line keeps its number."""
    parts, end = [], 0
    for match in prose.finditer(text):
        parts += [blank(text[end : match.start()]), match.group()]
        end = match.end()
    return "".join([*parts, blank(text[end:])])


def python_prose(source: str) -> str:
    """Comments, docstrings, and the strings below a name."""
    lines = [list(blank(line)) for line in source.splitlines(keepends=True)]
    before = tokenize.NEWLINE
    tokens = list(tokenize.generate_tokens(io.StringIO(source).readline))
    for i, token in enumerate(tokens):
        alone = before in (tokenize.NEWLINE, tokenize.INDENT, tokenize.DEDENT)
        ends = i + 1 < len(tokens) and tokens[i + 1].type == tokenize.NEWLINE
        if token.type == tokenize.COMMENT:
            row, column = token.start
            lines[row - 1][column : token.end[1]] = " " + token.string[1:]
        elif token.type == tokenize.STRING and alone and ends:
            (row, column), (last, until) = token.start, token.end
            for at, text in enumerate(token.string.splitlines(keepends=True), row):
                begin = column if at == row else 0
                lines[at - 1][begin : until if at == last else len(lines[at - 1])] = text
        if token.type not in (tokenize.COMMENT, tokenize.NL):
            before = token.type
    return "".join("".join(line) for line in lines)


def prose(name: str, text: str) -> str:
    """What a person reads in this file: as many lines as it has, all else blanked."""
    kind = Path(name).suffix
    if kind == ".md":
        return without(CODE_SPAN, without(FENCE, text))
    if kind == ".py":
        return without(CODE_SPAN, python_prose(text))
    return without(CODE_SPAN, without(JSDOC_TYPE, only(COMMENTS[kind], text)))


@cache
def prose_of(path: Path) -> str:
    return prose(path.name, path.read_text("utf-8"))


def found_in(name: str, read: str) -> Iterator[Found]:
    """In a file's prose."""
    right = [(match.start(), match.end()) for match in EXCEPTION.finditer(read)]
    sayings = list(WORDS.values())
    # No word or phrase has a mark in it, so what is between two marks is looked at by itself.
    parts = (PATTERN.finditer(read, *part.span()) for part in WRITTEN.finditer(read))
    for match in chain.from_iterable(parts):
        word = " ".join(match.group().split())
        begin = match.end() - len(match.group().lstrip())
        if match.lastindex is not None and not any(start <= begin < end for start, end in right):
            line = read.count("\n", 0, begin) + 1
            yield Found(name, line, word, sayings[match.lastindex - 1])


def files() -> Iterator[Path]:
    yield from sorted(ROOT.glob("*.md"))
    for folder in FOLDERS:
        for path in sorted((ROOT / folder).rglob("*")):
            if path.suffix in (".md", ".py", *COMMENTS) and not OTHERS & set(path.parts):
                yield path


@cache
def all_found() -> list[Found]:
    return [
        found for path in files() for found in found_in(str(path.relative_to(ROOT)), prose_of(path))
    ]


def test_prose_has_none_of_these_words() -> None:
    wrong = [str(found) for found in all_found() if not found.path.startswith(NOT_YET)]
    assert not wrong, "\n".join(wrong)


def test_a_room_that_was_swept_is_off_the_list() -> None:
    assert [
        room for room in NOT_YET if not any(one.path.startswith(room) for one in all_found())
    ] == []


def test_each_exception_is_needed() -> None:
    texts = [prose_of(path) for path in files()]
    for phrase in RIGHT:
        assert any(re.search(rf"\b(?:{phrase})", text) for text in texts), phrase


def names_in(source: str) -> Iterator[tuple[int, str]]:
    """(line, name) of each name in the code; a code in quotes is none."""
    for token in tokenize.generate_tokens(io.StringIO(source).readline):
        if token.type == tokenize.NAME:
            yield token.start[0], token.string


def misspelled(source: str) -> list[tuple[int, str]]:
    if SPELLINGS.search(source) is None:
        return []
    return [
        (line, name)
        for line, name in names_in(source)
        if SPELLINGS.search(name) is not None and name not in KEPT_NAMES
    ]


def test_names_are_spelled_the_american_way() -> None:
    wrong = [
        f"{path.relative_to(ROOT)}:{line}: {name}"
        for path in files()
        if path.suffix == ".py"
        for line, name in misspelled(path.read_text("utf-8"))
    ]
    assert not wrong, "\n".join(wrong)


def test_a_name_is_seen_and_a_code_is_none() -> None:
    source = 'VAPOUR = "vapour_out"\nvolume.colour = neighbours(VAPOUR)  # grey\n'
    assert misspelled(source) == [(1, "VAPOUR"), (2, "neighbours"), (2, "VAPOUR")]


BAD = {
    "bad.md": (
        "Two of\nwhich are `vapour`.\n\n```\nA maker.\n```\nIt stands out. It stands.\n"
        "It stands in for one.\nWhat stands in one.\n",
        ["bad.md:1: 'of which'", "bad.md:7: 'stands'", "bad.md:9: 'stands'"],
    ),
    "bad.py": (
        '"""The\nColours."""\n\nmaker = "shut"\n"""Reckoned; nor is `maker`."""\n# Towards it,\n'
        '# for it is so.\ndef shut() -> None:\n    """It shuts."""\n    print(\'grey\')\n',
        [
            *("bad.py:2: 'Colours'", "bad.py:5: 'Reckoned'", "bad.py:5: 'nor is'"),
            *("bad.py:6: 'Towards'", "bad.py:7: 'for it is'", "bad.py:9: 'shuts'"),
        ],
    ),
    "bad.js": (
        "/** @param {grey} to the\n * centre */\nconst grey = 'https://grey'; // All the same.\n",
        ["bad.js:2: 'centre'", "bad.js:3: 'All the same'"],
    ),
    "bad.css": ("/* A licence.\n*/\n.grey { color: grey; }\n", ["bad.css:1: 'licence'"]),
    "bad.html": (
        "<p>grey</p>\n{# Hence\n grey. #}\n",
        ["bad.html:2: 'Hence'", "bad.html:3: 'grey'"],
    ),
    "bad.sql": ("select 'grey'\n  -- A cancelled one.\n", ["bad.sql:2: 'cancelled'"]),
}


@pytest.mark.parametrize("name", BAD)
def test_a_word_of_the_list_is_seen_where_it_is(name: str) -> None:
    text, expected = BAD[name]
    assert [str(found).split(", say")[0] for found in found_in(name, prose(name, text))] == expected
