"""`lowside check-store` on a database: every entry read, every row made again and compared."""

from collections.abc import Iterator, Sequence
from contextlib import suppress

from lowside.core.session.events import Event
from lowside.store.check import PHOTO_ROW, Findings, not_here, photos_named
from lowside.store.codec import BadLine, unframed
from lowside.store.cursor import START, Run, link
from lowside.store.cylinder_rows import COLUMNS, PUT, NotMadeError, row_of
from lowside.store.filling import Progress
from lowside.store.outline import Outliner, RowRules, rules_of
from lowside.store.photo_shelf import SharedPhotos
from lowside.store.photos import PHOTOS, SUFFIX, why_no_name
from lowside.store.postgres.database import Database, Session
from lowside.store.postgres.dialect import values_for
from lowside.store.postgres.papers import Papers
from lowside.store.postgres.read_logs import ReadLogs, aside_log
from lowside.store.postgres.tables import Tables
from lowside.store.sealed import why_unsound
from lowside.store.verdicts import why_aside

AT_ONCE = 10_000
"""Arrivals read in one piece."""
_LINE = "SELECT * FROM sessions WHERE sid = ?"
_ROWS = "SELECT place, kind, key, begun, value FROM derived WHERE sid = ? ORDER BY place"


class _UndoneError(Exception):
    """Rolls back what was only made to be compared."""


def check_database(
    address: str, outline: Outliner, progress: Progress = lambda _done, _of: None
) -> Findings:
    """Read everything of the shop at this address. It changes nothing, and servers may go on.

    Checks each entry's checksum, whether each device's numbers count from 1 without a gap, what
    was set aside, the order of arrival with its chain, and every session's line and rows. Then the
    lines of people, the shop's own procedures and the photos.

    Args:
        outline: as for the store.
        progress: hears how many sessions of how many are read.

    Raises
        StoreError: the database cannot be read.
    """
    database = Database(address)
    try:
        with database.reading() as session:
            session.take_time()
            sids = [
                sid for (sid,) in session.execute("SELECT DISTINCT sid FROM events ORDER BY sid")
            ]
        problems: list[str] = []
        events = aside = 0
        rules = rules_of(outline)
        for count, sid in enumerate(sids, start=1):
            found = _Checked(database, sid, outline, rules)
            events += found.events
            aside += found.aside
            problems += found.problems
            progress(count, len(sids))
        problems += _cylinders(database, rules)
        problems += _arrivals(database)
        papers = Papers(database)
        problems += _people(papers)
        problems += _procedures(papers)
        problems += _photos(papers)
        return Findings(len(sids), events, aside, tuple(problems), tuple(_away(database, rules)))
    finally:
        database.close()


class _Checked:
    """What was found of one session."""

    def __init__(self, database: Database, sid: str, outline: Outliner, rules: RowRules) -> None:
        self.events = self.aside = 0
        self.problems: list[str] = []
        with suppress(_UndoneError), database.writing() as session:
            session.hold_sessions(database.shop, [sid])
            view = ReadLogs().view(session, sid)
            set_aside = aside_log(session, sid)
            self.events, self.aside = len(view.events), len(set_aside.events)
            self.problems += [*view.log.damaged, *set_aside.damaged]
            self.problems += [
                f"Session {sid}: entry {event.eid} of device {event.dev} is set aside. "
                f"{why_aside(event, view.log)}"
                for event in set_aside.events
            ]
            if not view.log.damaged:
                self.problems += _gaps(sid, [*view.events, *set_aside.events])
            before = _rows(session, sid)
            tables = Tables(session, rules)
            tables.hold_shop()
            tables.put(sid, view.events, len(view.log.damaged), outline(view.events))
            tables.note_aside(sid, self.aside)
            if _rows(session, sid) != before:
                self.problems.append(
                    f"The lists say something else than the entries of session {sid}. "
                    "--rebuild makes them again."
                )
            raise _UndoneError


def _rows(session: Session, sid: str) -> list[object]:
    return [*session.execute(_LINE, (sid,)), *session.execute(_ROWS, (sid,))]


def _gaps(sid: str, events: Sequence[Event]) -> Iterator[str]:
    numbers: dict[str, set[int]] = {}
    for event in events:
        numbers.setdefault(event.dev, set()).add(event.seq)
    for dev, found in sorted(numbers.items()):
        lacking = max(found) - len(found)
        if lacking > 0:
            yield (
                f"Session {sid}: {lacking} entries of device {dev} are missing. The device may "
                "still have them."
            )


def _cylinders(database: Database, rules: RowRules) -> Iterator[str]:
    """Whether the list of cylinders says what their sessions say."""
    if rules.cylinders is None:
        return
    with database.reading() as session:
        session.take_time()
        rows = Tables(session, rules).rows
        right = set()
        for key in rows.keys(rules.cylinders.uses, "", None):
            try:
                row = row_of(rows, rules.cylinders, key)
            except NotMadeError as error:
                yield str(error)
            else:
                right |= {tuple(values_for(PUT, (key, *row)))} if row is not None else set()
        kept = session.execute(f"SELECT {', '.join(COLUMNS)} FROM cylinders").fetchall()
    wrong = {row[0] for row in right.symmetric_difference(kept)}
    if wrong:
        yield (
            f"The lists say something else of {len(wrong)} cylinders than their sessions. "
            "--rebuild makes them again."
        )


def _arrivals(database: Database) -> Iterator[str]:
    """Whether each entry arrived once, in an unbroken chain."""
    after, chain = 0, START
    while True:
        with database.reading() as session:
            rows = session.execute(
                "SELECT n, sid, dev, seq, chain FROM arrivals WHERE n > ? ORDER BY n LIMIT ?",
                (after, AT_ONCE),
            ).fetchall()
        for n, sid, dev, seq, kept in rows:
            chain = link(chain, Run(sid, dev, seq, 1))
            if n != after + 1 or chain != kept:
                yield f"The order of arrival is broken at number {n}."
                return
            after = n
        if len(rows) < AT_ONCE:
            break
    with database.reading() as session:
        session.take_time()
        for one, other, sentence in (
            ("events", "arrivals", "entries are in no order of arrival, so no phone is sent them"),
            ("arrivals", "events", "entries arrived and are gone"),
        ):
            (count,) = session.execute(
                f"SELECT count(*) FROM (SELECT sid, dev, seq FROM {one} EXCEPT "
                f"SELECT sid, dev, seq FROM {other}) AS lacking"
            ).fetchone()
            if count > 0:
                yield f"{count} {sentence}."


def _people(papers: Papers) -> Iterator[str]:
    """Whether each line about people and their devices is there and can be read."""
    for number, (n, line) in enumerate(papers.lines("people", 0), start=1):
        if n != number:
            gone = f"Line {number} of the people in the database is gone"
            yield f"{gone}. It may have blocked a lost phone."
            return
        read = unframed(line.encode())
        if isinstance(read, BadLine):
            yield f"Line {n} of the people in the database: {read.reason}. No device can sign in."


def _procedures(papers: Papers) -> Iterator[str]:
    for name, content in papers.papers("procedures/").items():
        unsound = why_unsound(content)
        if unsound != "":
            yield f"{name} in the database {unsound}. Put it back from a copy, as the owner."


def _photos(papers: Papers) -> Iterator[str]:
    """A photo's name is the digest of its bytes."""
    shelf = SharedPhotos(papers)
    kept = {each.partition(SUFFIX)[0] for each in papers.names(PHOTOS + "/")}
    for each in sorted(kept):
        sid, _, name = each.removeprefix(PHOTOS + "/").partition("/")
        if why_no_name(sid, name) != "" or shelf.read(sid, name) is None:
            yield (
                f"The photo {name} of session {sid} is damaged. It is not shown. A phone that "
                "still has it can send it again."
            )


def _away(database: Database, rules: RowRules) -> Iterator[str]:
    with database.reading() as session:
        session.take_time()
        rows = Tables(session, rules).rows.values(PHOTO_ROW, "", None, "", None)
        here = set(Papers(database).names(PHOTOS + "/"))
    return not_here(photos_named(rows), lambda sid, name: f"{PHOTOS}/{sid}/{name}{SUFFIX}" in here)
