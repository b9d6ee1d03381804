"""Words to search by: which sessions can hold them, found without reading the sessions.

Each text of a session's line in lists is a derived row too. Its ticket number is one as well. How
many sessions have each text is counted where rows without a value are (`marks`). So a word is first
looked for among the shop's texts, which are far fewer than its sessions. A word that is in none of
them is nowhere. One that is in few sessions leads to these. Two that are each in some thousands
lead to those that have both, unless these are many too. The sessions that are found so are looked
at themselves.
"""

from collections.abc import Sequence
from dataclasses import dataclass

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
MANY_SESSIONS = 25_000
"""Two words in up to so many sessions each lead to those that have both, if these are few. Our
choice: half a tenth of a second or so."""
LONGEST = 200
"""Bytes of a text that is a key. PostgreSQL's indexes take no entry above 2.7 kB."""
LONG = "\n"
"""In place of each longer text: sessions with one are looked at for every word."""
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
    texts = dict.fromkeys(_key(text) for text in texts_of(outline) if text != "")
    ticket = Derived(TICKET, sid[-TICKET_LENGTH:], "1")
    return (*(Derived(TEXT, text, "") for text in texts), ticket)


def _key(text: str) -> str:
    return text if len(text.encode("utf-8")) <= LONGEST else LONG


def search(db: Database, words: Sequence[str]) -> Search:
    """Where sessions with all these words are. A word may also be a ticket number or a whole
    identifier."""
    few: set[str] | None = None
    many: list[tuple[int, list[str], str]] = []
    conditions: list[str] = []
    values: list[object] = []
    for word in dict.fromkeys(words):
        rows = db.execute(
            "SELECT key, sum(n) FROM marks WHERE kind = ? AND n > 0 "
            "AND (instr(key, ?) > 0 OR key = ?) GROUP BY key LIMIT ?",
            (TEXT, word, LONG, FEW_TEXTS + 1),
        ).fetchall()
        texts, sessions = [text for text, _ in rows], sum(n for _, n in rows)
        name = word.upper()
        conditions.append("(instr(s.words, ?) > 0 OR s.sid = ? OR substr(s.sid, ?) = ?)")
        values += [word, name, SID_LENGTH - TICKET_LENGTH + 1, name]
        if len(texts) <= FEW_TEXTS and sessions <= FEW_SESSIONS:
            sids = _sids(db, texts, word)
            few = sids if few is None else few & sids
            if not few:
                return Search((NOWHERE,), ())
        elif len(texts) <= FEW_TEXTS and sessions <= MANY_SESSIONS:
            many.append((sessions, texts, word))
    if few is None and len(many) > 1:
        one, other = (_sids(db, texts, word) for _, texts, word in sorted(many)[:2])
        both = one & other
        few = both if len(both) <= FEW_SESSIONS else None
    if few is None:
        return Search(tuple(conditions), tuple(values))
    if not few:
        return Search((NOWHERE,), ())
    conditions.append(f"s.sid IN ({', '.join('?' * len(few))})")
    return Search(tuple(conditions), (*values, *sorted(few)), is_narrow=True)


def _sids(db: Database, texts: Sequence[str], word: str) -> set[str]:
    """Sessions with one of these texts, or whose ticket number or identifier the word is."""
    found: set[str] = set()
    if texts:
        marks = ", ".join("?" * len(texts))
        query = f"SELECT sid FROM derived WHERE kind = ? AND key IN ({marks})"
        found.update(sid for (sid,) in db.execute(query, (TEXT, *texts)))
    name = word.upper()
    if len(word) == TICKET_LENGTH:
        query = "SELECT sid FROM derived WHERE kind = ? AND key = ?"
        found.update(sid for (sid,) in db.execute(query, (TICKET, name)))
    if len(word) == SID_LENGTH:
        found.update(
            sid for (sid,) in db.execute("SELECT sid FROM sessions WHERE sid = ?", (name,))
        )
    return found
