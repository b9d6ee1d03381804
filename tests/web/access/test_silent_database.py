"""A database that goes silent without a word: one question waits for it, and nobody else does.

A silent network needs a machine's own rights over its network, so it is no test here. These look at
what the connections were told, and put a question that is not answered in the database's place.
Sources: PostgreSQL's documentation of libpq, "Parameter Key Words"; the times are our choice.
"""

import threading
import time
from collections.abc import Callable, Iterator, Sequence
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

import pytest
from test_access import Shop
from waiting import until
from website import open_site

from lowside.core.handbook.handbook import Handbook
from lowside.outlining import outline
from lowside.store.choosing import open_database
from lowside.store.postgres.store import PostgresStore
from lowside.web.access import guard
from lowside.web.access.kept import SharedPeople
from lowside.web.access.people import line_of

GIVEN_UP = {
    "connect_timeout": "4",
    "keepalives_idle": "5",
    "keepalives_interval": "5",
    "keepalives_count": "2",
    "tcp_user_timeout": "15000",
}


def told(store: PostgresStore) -> dict[str, str]:
    """What each of the store's connections is told of a silent machine."""
    with store._database._connection() as connection:
        return {name: connection.info.get_parameters().get(name, "") for name in GIVEN_UP}


@pytest.mark.xdist_group("postgres")
def test_a_silent_machine_is_given_up_within_15_s_unless_the_address_says_else(
    new_shop: Callable[[], str],
) -> None:
    address = new_shop()
    with open_database(address, outline) as store:
        assert told(store) == GIVEN_UP
    with open_database(f"{address}&tcp_user_timeout=7000&keepalives_idle=60", outline) as store:
        assert told(store) == GIVEN_UP | {"tcp_user_timeout": "7000", "keepalives_idle": "60"}


class Lines:
    """The log of people as a database gives it; a question may stay without an answer."""

    def __init__(self) -> None:
        self.kept: list[str] = []
        self.is_back = threading.Event()
        self.waiting = 0
        self.is_silent = False

    def add(self, **happening: str | int) -> None:
        self.kept.append(line_of(dict(happening)).decode().rstrip("\n"))

    def lines(self, _log: str, after: int) -> list[tuple[int, str]]:
        found = list(enumerate(self.kept, start=1))[after:]
        if self.is_silent:
            self.is_silent = False  # a new connection works
            self.waiting += 1
            self.is_back.wait(60.0)
        return found

    def write(
        self, log: str, after: int, decide: Callable[[Sequence[tuple[int, str]]], Sequence[str]]
    ) -> None:
        self.kept += decide(self.lines(log, after))


@pytest.fixture
def lines() -> Iterator[Lines]:
    made = Lines()
    made.add(kind="person.added", at=1, person="P1", name="Ina", role="field")
    made.add(kind="device.paired", at=2, device="D1", person="P1", label="x", digest="d", code="1")
    yield made
    made.is_back.set()


def test_a_question_without_an_answer_keeps_no_other_waiting(lines: Lines) -> None:
    people = SharedPeople(lines)  # type: ignore[arg-type]
    assert people.roll().devices["D1"].revoked == ""
    with ThreadPoolExecutor(2) as pool:
        try:
            lines.is_silent = True
            early = pool.submit(people.roll)
            until(lambda: lines.waiting == 1, "the first question waits")
            lines.add(kind="device.revoked", at=3, device="D1", why="lost")
            later = pool.submit(people.roll)
            assert later.result(timeout=20.0).devices["D1"].revoked == "lost"
        finally:
            lines.is_back.set()
        assert early.result().devices["D1"].revoked == ""  # as it was when it asked
    assert people.roll().devices["D1"].revoked == "lost"  # and no late answer takes it back
    people.write(lambda roll: [{"kind": "person.removed", "person": "P1", "at": len(roll.people)}])
    assert people.roll().people["P1"].removed
    del lines.kept[2:]  # after a failover the database may have less
    assert people.roll().devices["D1"].revoked == ""
    assert not people.roll().people["P1"].removed


def test_whoever_asks_is_answered_while_nobody_says_who_it_is(
    tmp_path: Path,
    handbook: Handbook,
    monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
) -> None:
    monkeypatch.setattr(guard, "MOST_JUDGED", 2)
    with open_site(tmp_path / "data", handbook) as site:
        shop = Shop(site.app, site.app.state.pairing, tmp_path)
        token = shop.token()
        holder, is_back = shop.pairing.holder, threading.Event()
        asked_of: list[str] = []

        def silent(asked: str) -> object:
            asked_of.append(asked)
            is_back.wait(60.0)
            return holder(asked)

        with monkeypatch.context() as patch:
            patch.setattr(shop.pairing, "holder", silent)
            patch.setattr(guard, "LONGEST_JUDGING_S", 0.2)
            began = time.monotonic()
            try:
                answer = shop.ask("GET", "/", cookie=token)
                owner = shop.owner("GET", "/")
                more = [shop.ask("GET", "/", cookie=token).status_code for _ in range(4)]
                took = time.monotonic() - began
            finally:
                is_back.set()
        assert (answer.status_code, owner.status_code) == (503, 200)
        assert took < 30.0  # it would be 60
        assert more == [503] * 4
        assert asked_of == [token] * 2  # and no more threads wait
        assert guard.NOBODY in answer.text
        assert guard.SILENT in capsys.readouterr().err
        until(lambda: shop.ask("GET", "/", cookie=token).status_code == 200, "it is back")
