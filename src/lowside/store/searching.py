"""Words to search by: which sessions can hold them, found without reading the sessions.

Each text of a session's line in lists is a derived row too. Its ticket number is one as well. How
many sessions have each text is counted where rows without a value are (`marks`). So a word is first
looked for among the shop's texts, which are far fewer than its sessions. A word that is in none of
them is nowhere. One that is in few sessions leads to these. Two that are each in many sessions lead
to those that have both, unless these are many too.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import permutations
from typing import NamedTuple

from lowside.store.engine import Database
from lowside.store.outline import Derived, Outline, key_of

TEXT = "text"
"""Kind of a row without a value; its key is a text of the outline."""
TICKET = "ticket"
"""Kind of a row; its key is the ticket number."""
TICKET_LENGTH = 6
SID_LENGTH = 26
FEW_TEXTS = 300
FEW_SESSIONS = 2_000
"""Up to so many a word leads to its sessions. With more of them, the list's own order finds a page
of them soon. Our choice."""
PROBES = 50_000
"""So often it is looked up at most whether a session with one word has another one too, in less
than a tenth of a second. Our choice."""
NOWHERE = "FALSE"
"""The condition of a word that no session has."""


@dataclass(frozen=True)
class Search:
    """Conditions on the table of sessions, named `s`."""

    conditions: tuple[str, ...]
    values: tuple[object, ...]
    is_narrow: bool = False
    """They name the sessions, so these are better read first."""


def texts_of(outline: Outline) -> list[str]:
    """The texts that a word is looked for in, as they are compared."""
    texts = (
        outline.site,
        outline.unit_label,
        outline.technician,
        outline.refrigerant,
        outline.cylinder,
    )
    return [key_of(text) for text in texts]


def rows_for_search(sid: str, outline: Outline) -> tuple[Derived, ...]:
    """The rows by which a session is found."""
    texts = dict.fromkeys(text for text in texts_of(outline) if text != "")
    ticket = Derived(TICKET, sid[-TICKET_LENGTH:], "1")
    return (*(Derived(TEXT, text, "") for text in texts), ticket)


class _Frequent(NamedTuple):
    """A word that many sessions have."""

    word: str
    texts: Sequence[str]
    """That have it; empty when there are too many."""
    sessions: int


def search(db: Database, words: Sequence[str]) -> Search:
    """Where sessions with all these words are. A word may also be a ticket number or a whole
    identifier."""
    few: set[str] | None = None
    frequent: list[_Frequent] = []
    conditions: list[str] = []
    values: list[object] = []
    for word in dict.fromkeys(words):
        texts = db.execute(
            "SELECT key, sum(n) FROM marks WHERE kind = ? AND n > 0 AND instr(key, ?) > 0 "
            "GROUP BY key LIMIT ?",
            (TEXT, word, FEW_TEXTS + 1),
        ).fetchall()
        sessions = sum(n for _, n in texts)
        if len(texts) > FEW_TEXTS or sessions > FEW_SESSIONS:
            known = [text for text, _ in texts] if len(texts) <= FEW_TEXTS else []
            frequent.append(_Frequent(word, known, sessions))
            name = word.upper()
            conditions.append("(instr(s.words, ?) > 0 OR s.sid = ? OR substr(s.sid, ?) = ?)")
            values += [word, name, SID_LENGTH - TICKET_LENGTH + 1, name]
        else:
            sids = _sids(db, [text for text, _ in texts], word)
            few = sids if few is None else few & sids
            if not few:
                return Search((NOWHERE,), ())
    if few is None:
        few = _with_two(db, [one for one in frequent if one.texts])
    if few is None:
        return Search(tuple(conditions), tuple(values))
    if not few:
        return Search((NOWHERE,), ())
    conditions.append(f"s.sid IN ({', '.join('?' * len(few))})")
    return Search(tuple(conditions), (*values, *sorted(few)), is_narrow=True)


def _with_two(db: Database, words: Sequence[_Frequent]) -> set[str] | None:
    """All sessions that can have two of these words: those two that are looked up soonest. `None`
    when it takes too long to find them, or when they are many."""
    if len(words) < 2:
        return None
    one, other = min(permutations(words, 2), key=lambda two: two[0].sessions * len(two[1].texts))
    if one.sessions * len(other.texts) > PROBES:
        return None
    with_one, with_other = _among("a.key", one.texts), _among("b.key", other.texts)
    rows = db.execute(
        f"SELECT a.sid FROM derived a CROSS JOIN derived b ON b.kind = ? AND {with_other} "
        f"AND b.begun = a.begun AND b.sid = a.sid WHERE a.kind = ? AND {with_one} LIMIT ?",
        (TEXT, *other.texts, TEXT, *one.texts, FEW_SESSIONS + 1),
    ).fetchall()
    if len(rows) > FEW_SESSIONS:
        return None
    return {sid for (sid,) in rows} | _by_number(db, one.word) | _by_number(db, other.word)


def _sids(db: Database, texts: Sequence[str], word: str) -> set[str]:
    found = _by_number(db, word)
    if texts:
        query = f"SELECT sid FROM derived WHERE kind = ? AND {_among('key', texts)}"
        found.update(sid for (sid,) in db.execute(query, (TEXT, *texts)))
    return found


def _among(column: str, texts: Sequence[str]) -> str:
    return f"{column} IN ({', '.join('?' * len(texts))})"


def _by_number(db: Database, word: str) -> set[str]:
    """Sessions whose ticket number or identifier it is."""
    found: set[str] = set()
    name = word.upper()
    if len(word) == TICKET_LENGTH:
        query = "SELECT sid FROM derived WHERE kind = ? AND key = ?"
        found.update(sid for (sid,) in db.execute(query, (TICKET, name)))
    if len(word) == SID_LENGTH:
        found.update(
            sid for (sid,) in db.execute("SELECT sid FROM sessions WHERE sid = ?", (name,))
        )
    return found
