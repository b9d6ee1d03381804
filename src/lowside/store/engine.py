"""What the tables' code asks of a connection, whichever engine is behind it."""

from collections.abc import Iterator
from typing import Any, Protocol

ALL = 1 << 62
"""More rows than there are: both engines take it as a limit."""


class Found(Protocol):
    """The rows of an answer."""

    def fetchone(self) -> Any: ...
    def fetchall(self) -> list[Any]: ...
    def __iter__(self) -> Iterator[Any]: ...


class Database(Protocol):
    """A connection to SQLite or PostgreSQL. The SQL is what both read, with `?` for a value."""

    def execute(self, text: str, values: Any = ..., /) -> Found: ...
    def executemany(self, text: str, values: Any, /) -> object: ...
