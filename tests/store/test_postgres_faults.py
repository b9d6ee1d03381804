"""A server killed, a database that goes and comes back: nothing acknowledged is lost."""

import json
import signal
import subprocess
import sys
import time
from collections.abc import Callable, Iterator
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

import psycopg
import pytest
from httpx import Response
from postgres_cluster import Cluster, running_cluster, short_patience, wait_until_answers
from store_cases import OTHER_SID, SID, arrived, event, outline
from website import Site, open_site

from lowside.core.handbook.handbook import Handbook
from lowside.store import NotNowError, Outcome, event_to_json, in_progress
from lowside.store.postgres.checking import check_database
from lowside.store.postgres.migrating import prepare
from lowside.store.postgres.store import PostgresStore
from lowside.store.postgres.tables import Tables

pytestmark = pytest.mark.xdist_group("postgres")

WRITER = """
import sys
sys.path[:0] = [{support!r}]
from store_cases import arrived, event, outline
from lowside.store.postgres.store import PostgresStore
store = PostgresStore.open({address!r}, outline)
for n in range(1, 10_000):
    store.append([event(2 * n - 1, site="Gym", cylinder="C-1"), event(2 * n, unit_label="AC")])
    print(2 * n, flush=True)
"""


def test_a_server_killed_in_the_middle_loses_nothing_acknowledged(
    new_shop: Callable[[], str],
) -> None:
    address = new_shop()
    support = str(Path(__file__).parents[1] / "support")
    for round_ in range(2):
        code = WRITER.format(support=support, address=address)
        if round_ > 0:
            code = code.replace("event(2", 'event(dev="again", seq=2')
        writer = subprocess.Popen(
            [sys.executable, "-c", code], stdout=subprocess.PIPE, stderr=subprocess.DEVNULL
        )
        assert writer.stdout is not None
        acknowledged = [int(writer.stdout.readline()) for _ in range(20)]
        writer.kill()
        acknowledged += [int(line) for line in writer.stdout.read().split()]
        writer.stdout.close()
        writer.wait()
        dev = "again" if round_ > 0 else "phone"
        with PostgresStore.open(address, outline) as store:
            stored = [e.seq for e in store.events(SID) if e.dev == dev]
            assert stored == list(range(1, len(stored) + 1))
            assert len(stored) % 2 == 0  # what was sent together is there together
            assert len(stored) >= acknowledged[-1]
            grown = store.ask(lambda tables: tables.contents())
            assert store.sessions()[0].events == len(store.events(SID))
            assert len(grown[1]) == len(store.events(SID))
            assert not arrived(store, arrived(store, "").cursor).restarted


KILLED = """
import os, signal, sys
sys.path[:0] = [{support!r}]
import psycopg
from store_cases import arrived, OTHER_SID, event, outline
from lowside.store.postgres.store import PostgresStore
store = PostgresStore.open({address!r}, outline)
store.append([event(1), event(2)])
print("acknowledged", flush=True)
execute = psycopg.Connection.execute
def last(self, query, *more):
    if query != "COMMIT":
        return execute(self, query, *more)
    if {is_after}:
        execute(self, query)
    # The database answers this when it has done all that was sent before.
    print(execute(self, "SELECT count(*) FROM events").fetchone()[0], flush=True)
    os.kill(os.getpid(), signal.SIGKILL)
psycopg.Connection.execute = last
store.append([event(3), event(4), event(1, sid=OTHER_SID)])
print("acknowledged", flush=True)
"""


@pytest.mark.parametrize("is_after", [False, True])
def test_a_server_killed_beside_its_commit_leaves_all_of_a_save_or_nothing(
    new_shop: Callable[[], str], is_after: bool
) -> None:
    """Between the last write and COMMIT, and between COMMIT and the word that it is done."""
    address = new_shop()
    support = str(Path(__file__).parents[1] / "support")
    code = KILLED.format(support=support, address=address, is_after=is_after)
    killed = subprocess.run([sys.executable, "-c", code], stdout=subprocess.PIPE, check=False)
    assert killed.returncode == -signal.SIGKILL
    assert killed.stdout.split() == [b"acknowledged", b"5"]
    first, sent = [event(1), event(2)], [event(3), event(4), event(1, sid=OTHER_SID)]
    with PostgresStore.open(address, outline) as store:
        assert store.events(SID) == (first + sent[:2] if is_after else first)
        assert store.events(OTHER_SID) == (sent[2:] if is_after else [])
        assert sum(one.events for one in store.sessions()) == (5 if is_after else 2)
        outcome = Outcome.ALREADY if is_after else Outcome.STORED
        assert [each.outcome for each in store.append(sent)] == [outcome] * 3
        assert store.events(SID) + store.events(OTHER_SID) == first + sent
        assert len(arrived(store, "").events) == 5
    assert check_database(address, outline).problems == ()


def hand_over(site: Site, asked: object) -> Response:
    headers = {"Content-Type": "application/json"}
    return site.send("POST", "/api/sync", content=json.dumps(asked).encode(), headers=headers)


def test_a_save_that_takes_too_long_leaves_nothing_and_says_so(
    cluster: Cluster, new_shop: Callable[[], str], monkeypatch: pytest.MonkeyPatch
) -> None:
    """It is held up inside the database, at the last table that a save writes to."""
    put = Tables.put

    def put_soon(self: Tables, sid: str, *more: object) -> object:
        self._session.execute("SET LOCAL statement_timeout = '300ms'")
        return put(self, sid, *more)  # type: ignore[arg-type]

    said = "canceling statement due to statement timeout"
    address = new_shop()
    role = address.removeprefix("postgresql://").partition("@")[0]
    with psycopg.connect(cluster.address("lowside"), autocommit=True) as owner:
        owner.execute(
            "CREATE FUNCTION failing() RETURNS trigger LANGUAGE plpgsql AS $$ BEGIN "
            "PERFORM pg_sleep(30); RETURN NEW; END $$"
        )
        with PostgresStore.open(address, outline) as store:
            store.append([event(1)])
            owner.execute(
                "CREATE TRIGGER failing BEFORE INSERT ON units FOR EACH ROW "
                f"WHEN (new.shop = '{role}') EXECUTE FUNCTION failing()"
            )
            try:
                with monkeypatch.context() as patch:
                    patch.setattr(Tables, "put", put_soon)  # of this save alone: any may be slow
                    with pytest.raises(NotNowError, match=said) as caught:
                        store.append([event(2, site="Gym", unit_label="A")])
            finally:
                owner.execute("DROP FUNCTION failing CASCADE")
            assert "Send it again later" in str(caught.value)
            assert store.events(SID) == [event(1)]
            again = store.append([event(2, site="Gym", unit_label="A")])
            assert again[0].outcome is Outcome.STORED
            assert len(arrived(store, "").events) == 2


@pytest.fixture
def own() -> Iterator[Cluster]:
    """A PostgreSQL that the test may stop. It keeps what it acknowledged."""
    with running_cluster("fsync=on", "full_page_writes=on") as cluster:
        prepare(cluster.address("lowside"), "mill", "mill")
        yield cluster


def test_a_database_that_can_only_be_read_is_not_ready(own: Cluster, handbook: Handbook) -> None:
    """As an owner sets it while the disk is full, and as a standby is."""
    with (
        open_site(own.address("lowside", "mill"), handbook) as site,
        psycopg.connect(own.address("postgres"), autocommit=True) as owner,
    ):

        def set_to(value: str) -> None:
            owner.execute(f"ALTER SYSTEM SET default_transaction_read_only = {value}")
            owner.execute("SELECT pg_reload_conf()")
            give_up = time.monotonic() + 60.0  # each connection hears of it a moment later
            while (site.get("/ready").status == 503) != (value == "on"):
                assert time.monotonic() < give_up
                time.sleep(0.05)

        assert site.get("/ready").status == 200
        set_to("on")
        assert "can only be read" in site.get("/ready").text
        set_to("off")
        assert site.get("/ready").text == "ready"


def test_a_save_that_takes_long_is_told(
    own: Cluster, handbook: Handbook, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Others still get an answer from the database, so only the time tells it."""
    with (
        open_site(own.address("lowside", "mill"), handbook) as site,
        psycopg.connect(own.address("lowside")) as owner,
        ThreadPoolExecutor(1) as pool,
    ):
        owner.execute("LOCK TABLE events IN EXCLUSIVE MODE")
        asked = pool.submit(site.store.append, [event(1)])
        monkeypatch.setattr(in_progress, "LONG_S", 0.0)
        give_up = time.monotonic() + 60.0
        while site.get("/ready").status == 200 and time.monotonic() < give_up:
            time.sleep(0.02)
        assert "A save has gone on for" in site.get("/ready").text
        assert not asked.done()
        owner.rollback()
        assert asked.result()[0].outcome is Outcome.STORED
        assert site.get("/ready").status == 200


@pytest.mark.parametrize("how", [signal.SIGINT, signal.SIGQUIT], ids=["stopped", "crashed"])
def test_a_database_that_goes_and_comes_back(
    own: Cluster, handbook: Handbook, how: signal.Signals, monkeypatch: pytest.MonkeyPatch
) -> None:
    with open_site(own.address("lowside", "mill"), handbook) as site:
        store = site.store
        assert store.append([event(1)])[0].outcome is Outcome.STORED
        cursor = arrived(store, "").cursor
        sid = site.start()
        own.stop(how)
        with short_patience(monkeypatch):
            with pytest.raises(NotNowError, match="not acknowledged"):
                store.append([event(2)])
            asked = {"v": 1, "dev": "phone", "cursor": cursor, "events": [event_to_json(event(2))]}
            answer = hand_over(site, asked)
            assert answer.status_code == 503
            assert "Send it again later" in answer.json()["error"]
            assert (site.get("/health").status, site.get("/ready").status) == (200, 503)
            page = site.get(f"/s/{sid}")
            assert page.status == 503
            assert "cannot be reached just now" in page.text
        own.start()
        wait_until_answers(store.last_hlc)
        answer = hand_over(site, asked)
        assert answer.json()["verdicts"][0]["outcome"] == "stored"
        assert not answer.json()["restarted"]
        assert store.events(SID) == [event(1), event(2)]
        assert site.get(f"/s/{sid}").status == 200
