"""What differs between the SQL that both engines read and PostgreSQL's own."""

import hashlib
import re
from collections.abc import Iterator, Sequence
from functools import lru_cache
from itertools import count

from lowside.store.searching import LONGEST

KEY_BYTES = LONGEST
"""Of each line of a key. A longer line is kept by its beginning and a digest: PostgreSQL's indexes
take no entry above 2.7 kB."""
DIGEST_LENGTH = 32
NUL = "\x00"
SHOWN_NUL = "\u2400"
"""PostgreSQL's text has no NUL. Entries keep theirs, as `\\u0000` in JSON; lists show this sign."""

NAME_LENGTH = 200
"""Characters of a name that count in a filter: see `migrations/0002-names.sql`."""

_NAMED = re.compile(r"lower\(trim\(s\.(technician|refrigerant)\)\) = (\?\d*)")
_ROWS = re.compile(r"\(([\w.]+(?:, [\w.]+)+)\) ([<>]) \((\?\d+(?:, \?\d+)+)\)")
"""A comparison of rows."""
_MARK = re.compile(r"\?(\d*)")
_KEYED = re.compile(r"\b(?:key|unit_key|cylinder_key) (?:=|<|>|<=|>=) \?(\d*)")
_INSERTED = re.compile(r"INSERT INTO \w+ \(([^)]*)\) VALUES")
_KEYS = ("key", "unit_key", "cylinder_key")


@lru_cache(maxsize=512)
def translated(text: str) -> str:
    """The statement with psycopg's placeholders."""
    text = text.replace("%", "%%").replace("instr(", "strpos(").replace("CROSS JOIN", "JOIN")
    text = _NAMED.sub(lambda name: f"s.{name[1]}_name = left({name[2]}, {NAME_LENGTH})", text)
    return _MARK.sub(lambda mark: f"%(p{mark[1]})s" if mark[1] else "%s", text)


@lru_cache(maxsize=512)
def narrowed(text: str) -> str:
    """The statement for a store that is spread over shards.

    PostgreSQL does not send a comparison of rows to a foreign server, so columns are compared one
    by one.
    """
    numbers = count(1)
    if "?1" not in text:
        text = _MARK.sub(lambda _mark: f"?{next(numbers)}", text)
    return _ROWS.sub(
        lambda rows: _one_by_one(rows[1].split(", "), rows[2], rows[3].split(", ")), text
    )


def _one_by_one(columns: Sequence[str], sign: str, values: Sequence[str]) -> str:
    first = f"{columns[0]} {sign} {values[0]}"
    if len(columns) == 1:
        return first
    rest = _one_by_one(columns[1:], sign, values[1:])
    # The first condition says nothing new, but an index can begin there.
    return f"({columns[0]} {sign}= {values[0]} AND ({first} OR {rest}))"


@lru_cache(maxsize=512)
def _keys_among(text: str) -> frozenset[int]:
    """Which of a statement's values are keys, counted from 0."""
    inserted = _INSERTED.match(text)
    if inserted is not None:
        columns = [name.strip() for name in inserted[1].split(",")]
        return frozenset(n for n, name in enumerate(columns) if name in _KEYS)
    return frozenset(_positions(text))


def _positions(text: str) -> Iterator[int]:
    places = [mark.start() for mark in _MARK.finditer(text)]
    for keyed in _KEYED.finditer(text):
        yield int(keyed[1]) - 1 if keyed[1] else places.index(text.index("?", keyed.start()))


def values_for(text: str, values: Sequence[object]) -> Sequence[object] | dict[str, object]:
    """The values as PostgreSQL takes them."""
    keys = _keys_among(text)
    kept = [_kept(value, n in keys) for n, value in enumerate(values)]
    if re.search(r"\?\d", text):
        return {f"p{n}": value for n, value in enumerate(kept, start=1)}
    return kept


def _kept(value: object, is_key: bool) -> object:
    if not isinstance(value, str):
        return value
    text = value.replace(NUL, SHOWN_NUL)
    return "\n".join(map(_short, text.split("\n"))) if is_key else text


def _short(line: str) -> str:
    content = line.encode("utf-8")
    if len(content) <= KEY_BYTES:
        return line
    digest = hashlib.sha256(content).hexdigest()[:DIGEST_LENGTH]
    return content[: KEY_BYTES - DIGEST_LENGTH].decode("utf-8", "ignore") + digest
