"""Connections to the database, and its faults as sentences."""

import hashlib
import threading
import time
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from typing import Any

import psycopg
from psycopg.conninfo import conninfo_to_dict, make_conninfo
from psycopg_pool import ConnectionPool, PoolClosed, PoolTimeout

from lowside.store.engine import Found
from lowside.store.errors import NotNowError, StoreError, StoreStoppedError
from lowside.store.postgres.dialect import narrowed, translated, values_for
from lowside.store.postgres.migrating import SCHEMA_VERSION

MOST_CONNECTIONS = 8
"""Of one server. Requests beyond that wait for one. Our choice."""
PATIENCE_S = 3.0
"""How long a request waits for a connection. Our choice."""
REST_S = 1.0
"""So long after one waited in vain, the others are told at once. Our choice."""
SILENCE = {
    "connect_timeout": int(PATIENCE_S) + 1,
    "keepalives_idle": 5,
    "keepalives_interval": 5,
    "keepalives_count": 2,
    "tcp_user_timeout": 15_000,
}
"""A machine that says nothing any more, not even that it is gone, is given up after 15 s: the first
four in s, the last in ms. An address that names one of them wins. Our choice."""
_READING = "BEGIN ISOLATION LEVEL REPEATABLE READ READ ONLY"
"""One answer is about one moment, whatever is stored meanwhile."""
_WRITING = "BEGIN ISOLATION LEVEL READ COMMITTED"
"""Each statement sees what was committed before it, as the locks make one wait for it."""
_WHO = (
    "SELECT session_user, own_shop(), rolsuper OR rolbypassrls, "
    "pg_has_role(session_user, relowner, 'MEMBER'), (SELECT max(number) FROM migrations), "
    "EXISTS (SELECT FROM pg_inherits JOIN pg_class AS part ON part.oid = inhrelid "
    "WHERE inhparent = 'events'::regclass AND part.relkind = 'f') "
    "FROM pg_roles, pg_class "
    "WHERE rolname = session_user AND pg_class.oid = 'events'::regclass"
)
PREPARE = "lowside prepare-store"

CLOSED = "The store is closed."
NOT_REACHED = (
    "The database cannot be reached just now ({error}). What you sent is not acknowledged. Send it "
    "again later: nothing is stored twice."
)
NOT_NOW = (
    "The database could not save or answer this just now ({error}). What you sent is not "
    "acknowledged. Send it again later: nothing is stored twice."
)
"""Its disk is full, it has no room for another connection, or it took too long."""
NOT_DONE = "The database did not do this ({error})."
_REACHED = ("53", "54", "55", "57014")
"""Beginnings of the codes by which a database that was reached says that it cannot now. From memory
of PostgreSQL's list; the tests meet 53100 and 57014."""


class Session:
    """One transaction."""

    def __init__(self, connection: "psycopg.Connection[Any]", is_spread: bool) -> None:
        self._connection = connection
        self.is_spread = is_spread
        """Over shards: see `lowside.store.postgres.spreading`."""

    def execute(self, text: str, values: Sequence[object] = (), /) -> Found:
        """Ask in the SQL of both engines; see `lowside.store.engine`."""
        if self.is_spread:
            text = narrowed(text)
        return self._connection.execute(translated(text).encode(), values_for(text, values))

    def executemany(self, text: str, values: Sequence[Sequence[object]], /) -> None:
        if values:
            with self._connection.cursor() as cursor:
                cursor.executemany(
                    translated(text).encode(), [values_for(text, each) for each in values]
                )

    def take_time(self) -> None:
        """What this transaction asks is about a whole shop: it may take as long as it takes."""
        self._connection.execute("SET LOCAL statement_timeout = 0")

    def hold_sessions(self, shop: str, sids: Sequence[str]) -> None:
        """Let nobody else write to these sessions before this transaction ends.

        A shard shows what was committed when this transaction first asked it. So a store that is
        spread holds the whole shop before that: what is beside the sessions must not be old.
        """
        if self.is_spread:
            self.execute("SELECT arrived FROM shops FOR UPDATE")
        self.lock(shop, sids)

    def lock(self, shop: str, names: Sequence[str]) -> None:
        """Wait until no other transaction holds these names, and hold them to the end of this."""
        keys = sorted({_number(shop, name) for name in names})  # one order, so nobody waits in turn
        self._connection.execute(
            "SELECT pg_advisory_xact_lock(key) FROM unnest(%s::bigint[]) AS key", (keys,)
        )


def _number(shop: str, name: str) -> int:
    digest = hashlib.sha256(f"{shop}\n{name}".encode()).digest()
    return int.from_bytes(digest[:8], "big", signed=True)


class Database:
    """A pool of connections. A thread that asks inside a transaction asks in that one."""

    def __init__(self, address: str) -> None:
        """
        Raises
            StoreError: there is no such database, it is not ready, or the role may not serve.
        """
        self._here = threading.local()
        self._is_closed = False
        self._resting_until = 0.0
        with _told():
            given = conninfo_to_dict(address)
            rest = {name: value for name, value in SILENCE.items() if name not in given}
            address = make_conninfo(address, **rest)
            with psycopg.connect(address) as connection:
                self.shop, self._is_spread = _shop_of(connection)
            self._pool = ConnectionPool(
                address,
                min_size=1,
                max_size=MOST_CONNECTIONS,
                reconnect_timeout=REST_S / 2,  # whoever asks next tries again
                kwargs={"autocommit": True},
                check=ConnectionPool.check_connection,
                open=True,
            )

    def close(self) -> None:
        self._is_closed = True
        self._pool.close()

    @contextmanager
    def reading(self) -> Iterator[Session]:
        """One moment of the database."""
        with self._transaction(_READING) as session:
            yield session

    @contextmanager
    def writing(self) -> Iterator[Session]:
        """A transaction: all of it is kept, or nothing."""
        with self._transaction(_WRITING) as session:
            yield session

    @contextmanager
    def _transaction(self, begin: str) -> Iterator[Session]:
        open_one: Session | None = getattr(self._here, "session", None)
        if open_one is not None:
            yield open_one
            return
        if self._is_closed:
            raise StoreStoppedError(CLOSED)
        if time.monotonic() < self._resting_until:
            raise NotNowError(NOT_REACHED.format(error="it did not answer a moment ago"))
        with _told(), self._connection() as connection:
            self._here.session = Session(connection, self._is_spread)
            try:
                try:
                    # What is not asked for an answer is sent without waiting for the one before.
                    with connection.pipeline():
                        connection.execute(begin)
                        yield self._here.session
                        connection.execute("COMMIT")
                except BaseException:
                    if not connection.broken:
                        connection.execute("ROLLBACK")
                    raise
            finally:
                self._here.session = None

    @contextmanager
    def _connection(self) -> "Iterator[psycopg.Connection[Any]]":
        try:
            connection = self._pool.getconn(PATIENCE_S)
        except PoolTimeout:
            self._resting_until = time.monotonic() + REST_S
            raise
        try:
            yield connection
        finally:
            self._pool.putconn(connection)


@contextmanager
def _told() -> Iterator[None]:
    try:
        yield
    except PoolClosed as error:
        raise StoreStoppedError(CLOSED) from error
    except (psycopg.OperationalError, psycopg.InterfaceError, PoolTimeout) as error:
        code = getattr(error, "sqlstate", None) or ""
        sentence = NOT_NOW if code.startswith(_REACHED) else NOT_REACHED
        raise NotNowError(sentence.format(error=_first_line(error))) from error
    except psycopg.Error as error:
        raise StoreError(NOT_DONE.format(error=_first_line(error))) from error


def _first_line(error: Exception) -> str:
    return (str(error).strip().splitlines() or [type(error).__name__])[0].rstrip(".")


def _shop_of(connection: "psycopg.Connection[Any]") -> tuple[str, bool]:
    """The shop that the role serves, and whether it is spread over shards."""
    try:
        row = connection.execute(_WHO).fetchone()
    except (psycopg.errors.UndefinedTable, psycopg.errors.UndefinedFunction) as error:
        raise StoreError(f"This database is not ready for Lowside. Run {PREPARE} first.") from error
    except psycopg.errors.InsufficientPrivilege as error:
        raise StoreError(f"This role serves no shop. Run {PREPARE} for it first.") from error
    role, shop, is_above, owns, version, is_spread = row or ("", None, False, False, 0, False)
    if is_above or owns:
        raise StoreError(
            f"The role {role} is above row-level security or owns the tables, so it could see "
            f"every shop. Serve with a role that {PREPARE} made."
        )
    if shop is None:
        raise StoreError(f"The role {role} serves no shop. Run {PREPARE} for it first.")
    if version != SCHEMA_VERSION:
        raise StoreError(
            f"The database’s schema is at {version}, and this version of Lowside needs "
            f"{SCHEMA_VERSION}. Run {PREPARE} with the newer one of the two."
        )
    return str(shop), bool(is_spread)
