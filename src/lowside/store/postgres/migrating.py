"""Makes a database ready, and lets a role serve a shop in it: numbered SQL files, each run once."""

import re
from collections.abc import Iterator
from importlib.resources import files

import psycopg
from psycopg import sql

from lowside.store.errors import StoreError

SCHEMA_VERSION = 3
"""Number of the last file in `migrations/`."""
_LOCK = 0x6C6F7773696465
"""Our choice; two that make ready at once wait for each other."""
_NAME = re.compile(r"[a-z0-9][a-z0-9_-]{0,39}", re.ASCII)
_DONE = (
    "CREATE TABLE IF NOT EXISTS migrations (number int PRIMARY KEY, "
    "done_at timestamptz NOT NULL DEFAULT now())"
)
TIMEOUTS = (("statement_timeout", "60s"), ("lock_timeout", "20s"))
"""Of a serving role: a request never hangs. Our choice."""
IDLE = ("idle_in_transaction_session_timeout", "60s")
"""A server that vanishes in the middle of a save holds nobody up for longer."""


def prepare(address: str, shop: str, role: str) -> list[str]:
    """Bring the schema up to date and let `role` serve `shop`. Doing it again changes nothing.

    Args:
        address: of the database, for a role that owns it and may make roles.
        shop: the shop's name in this database, made when missing.
        role: that servers of this shop log in with, made when missing.

    Returns
        Sentences about what was done.

    Raises
        StoreError: nothing was changed.
    """
    for name in (shop, role):
        if _NAME.fullmatch(name) is None:
            raise StoreError(
                f"“{name}” cannot be the name of a shop or a role: use 1 to 40 small letters, "
                "digits, dashes or underscores."
            )
    try:
        with psycopg.connect(address) as connection, connection.transaction():
            connection.execute("SELECT pg_advisory_xact_lock(%s)", (_LOCK,))
            return [*_migrated(connection), *_admitted(connection, shop, role)]
    except psycopg.Error as error:
        raise StoreError(f"The database was not made ready: {str(error).strip()}.") from error


def _migrated(connection: "psycopg.Connection[tuple[object, ...]]") -> Iterator[str]:
    encoding = connection.execute("SHOW server_encoding").fetchone()
    if encoding != ("UTF8",):
        raise StoreError(f"The database must be in UTF8, not {(encoding or ('',))[0]}.")
    connection.execute(_DONE)
    done = {number for (number,) in connection.execute("SELECT number FROM migrations")}
    for file in sorted(
        (each for each in (files(__package__) / "migrations").iterdir()), key=lambda one: one.name
    ):
        number = int(file.name[:4])
        if number in done:
            continue
        connection.execute(file.read_text(encoding="utf-8").encode())
        connection.execute("INSERT INTO migrations (number) VALUES (%s)", (number,))
        yield f"The schema is at {number}."
    connection.execute("GRANT SELECT ON migrations TO lowside_server")


def _admitted(
    connection: "psycopg.Connection[tuple[object, ...]]", shop: str, role: str
) -> Iterator[str]:
    named = sql.Identifier(role)
    if connection.execute("SELECT 1 FROM pg_roles WHERE rolname = %s", (role,)).fetchone() is None:
        connection.execute(sql.SQL("CREATE ROLE {} LOGIN").format(named))
        yield f"The role {role} was made. Give it a password or a certificate."
    connection.execute(sql.SQL("GRANT lowside_server TO {}").format(named))
    for setting, value in (*TIMEOUTS, IDLE):
        text = sql.SQL("ALTER ROLE {} SET {} = {}")
        connection.execute(text.format(named, sql.Identifier(setting), sql.Literal(value)))
    # The owner is under row-level security too, so it steps outside for this one row.
    connection.execute("ALTER TABLE shops NO FORCE ROW LEVEL SECURITY")
    connection.execute("INSERT INTO shops (shop) VALUES (%s) ON CONFLICT DO NOTHING", (shop,))
    connection.execute("ALTER TABLE shops FORCE ROW LEVEL SECURITY")
    found = connection.execute("SELECT shop FROM members WHERE role = %s", (role,)).fetchone()
    if found is None:
        connection.execute("INSERT INTO members (role, shop) VALUES (%s, %s)", (role, shop))
        yield f"The role {role} serves the shop {shop}."
    elif found != (shop,):
        raise StoreError(f"The role {role} serves the shop {found[0]}. Choose another role.")
