"""What only a database can get wrong: overlapping writers, shops side by side, rights, damage."""

import hashlib
from collections.abc import Callable, Iterator, Mapping, Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import replace
from importlib import resources
from pathlib import Path
from threading import Event as Flag

import psycopg
import pytest
from postgres_cluster import Cluster
from psycopg import sql
from store_cases import OTHER_SID, SID, arrived, event, outline, ulid
from test_chained_rows import ruled

from lowside.core.session.events import Event
from lowside.store import NotNowError, Outcome, StoreError, StoreStoppedError, lists
from lowside.store.engine import Found
from lowside.store.postgres.checking import check_database
from lowside.store.postgres.database import Session
from lowside.store.postgres.migrating import SCHEMA_VERSION, prepare
from lowside.store.postgres.store import PostgresStore
from lowside.store.postgres.tables import Tables
from lowside.store.selection import Selection

pytestmark = pytest.mark.xdist_group("postgres")

SHOPS_TABLES = (
    "shops", "events", "set_aside", "arrivals", "sessions", "derived", "aside", "units", "marks",
    "cylinders", "happenings", "papers", "tries",
)  # fmt: skip
UNCHANGING = ("events", "set_aside", "arrivals", "happenings", "papers")


@pytest.fixture
def address(new_shop: Callable[[], str]) -> str:
    return new_shop()


@pytest.fixture
def servers(address: str) -> Iterator[tuple[PostgresStore, PostgresStore]]:
    """Two servers of one shop."""
    with PostgresStore.open(address, outline) as one, PostgresStore.open(address, outline) as two:
        yield one, two


def role_of(address: str) -> str:
    return address.removeprefix("postgresql://").partition("@")[0]


def everything_since(store: PostgresStore, cursor: str) -> tuple[set[str], str]:
    batch = arrived(store, cursor)
    assert not batch.restarted
    return {one.sid for one in batch.events}, batch.cursor


# Overlapping writers


def test_a_bare_sequence_skips_what_is_committed_late(cluster: Cluster) -> None:
    """Why arrivals are not numbered by one: a follower that asks in between never sees the 1."""
    with (
        psycopg.connect(cluster.address("lowside")) as early,
        psycopg.connect(cluster.address("lowside"), autocommit=True) as late,
    ):
        late.execute("CREATE TABLE bare (n bigserial, name text)")
        try:
            put = "INSERT INTO bare (name) VALUES (%s)"
            early.execute(put, ("numbered 1, committed last",))
            late.execute(put, ("numbered 2, committed first",))
            (cursor,) = late.execute("SELECT max(n) FROM bare").fetchone() or (0,)
            early.commit()
            found = late.execute("SELECT name FROM bare WHERE n > %s", (cursor,)).fetchall()
            assert cursor == 2
            assert found == []
        finally:
            late.execute("DROP TABLE bare")


def test_a_follower_skips_nothing_while_writers_overlap(
    servers: tuple[PostgresStore, PostgresStore], monkeypatch: pytest.MonkeyPatch
) -> None:
    one, two = servers
    numbered, go_on = Flag(), Flag()
    put = Tables.put

    def held(self: Tables, sid: str, *more: object) -> Mapping[str, bool]:
        if sid == SID:
            numbered.set()
            assert go_on.wait(30)
        return put(self, sid, *more)  # type: ignore[arg-type]

    monkeypatch.setattr(Tables, "put", held)
    with ThreadPoolExecutor(2) as pool:
        early = pool.submit(one.append, [event(1)])
        assert numbered.wait(30)
        late = pool.submit(two.append, [event(1, sid=OTHER_SID)])
        seen, cursor = everything_since(two, "")
        assert not late.done()
        go_on.set()
        assert [r.outcome for r in (*early.result(), *late.result())] == [Outcome.STORED] * 2
    more, _ = everything_since(two, cursor)
    assert seen == set()
    assert more == {SID, OTHER_SID}


def test_many_writers_on_two_servers_leave_no_gap_and_lose_nothing(
    servers: tuple[PostgresStore, PostgresStore],
) -> None:
    sids = [ulid(n) for n in range(1, 5)]

    def write(dev: int) -> None:
        for n in range(1, 9):
            sid = sids[(dev + n) % 4]
            sent = [event(n, sid=sid, dev=f"d{dev}", cylinder="C-1", site="Gym", unit_label="A")]
            assert servers[dev % 2].append(sent)[0].outcome is Outcome.STORED

    seen: list[Event] = []
    cursor = ""
    with ThreadPoolExecutor(4) as pool:
        writing = [pool.submit(write, dev) for dev in range(4)]
        while not all(one.done() for one in writing):
            batch = arrived(servers[0], cursor, limit=5)
            seen += batch.events
            cursor = batch.cursor
        for one in writing:
            one.result()
    seen += arrived(servers[1], cursor, limit=1000).events
    assert len(seen) == len({(e.sid, e.dev, e.seq) for e in seen}) == 32
    assert arrived(servers[0], "", limit=1000).events == tuple(seen)
    for sid in sids:
        assert servers[0].events(sid) == servers[1].events(sid)
    grown = servers[0].ask(lambda tables: tables.contents())
    servers[1].rebuild_index()
    assert servers[0].ask(lambda tables: tables.contents()) == grown
    assert servers[0].ask(lambda tables: tables.units("", 9, False))[0][3] == 4


def test_a_follower_is_answered_without_asking_for_each_session(
    address: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    asked: list[str] = []
    execute = Session.execute

    def heard(self: Session, text: str, values: Sequence[object] = (), /) -> Found:
        asked.append(text)
        return execute(self, text, values)

    with PostgresStore.open(address, outline) as store:
        sent = [event(1, sid=ulid(n), text=str(n)) for n in range(1, 31)]
        store.append(sent)
        monkeypatch.setattr(Session, "execute", heard)
        assert arrived(store, "", limit=20).events == tuple(sent[:20])
    assert len(asked) < 10, asked


# Shops


def test_a_shop_never_sees_nor_touches_another_s_rows(new_shop: Callable[[], str]) -> None:
    mill, gym = new_shop(), new_shop()
    with PostgresStore.open(mill, ruled()) as store:
        store.append([event(1, site="Mill", unit_label="A", key="a"), event(1, text="rival")])
        store.papers.write("people", 0, lambda _known: ["a line"])
        store.papers.put("key", b"secret")
        store.papers.begin_try("::1", 1, 10, 9, 9)
    with psycopg.connect(mill, autocommit=True) as own:
        for table in SHOPS_TABLES:
            named = sql.Identifier(table)
            rows = own.execute(sql.SQL("SELECT DISTINCT shop FROM {}").format(named)).fetchall()
            assert rows == [(role_of(mill),)], table
    with psycopg.connect(gym, autocommit=True) as forger:
        for table in SHOPS_TABLES:
            named = sql.Identifier(table)
            found = forger.execute(sql.SQL("SELECT DISTINCT shop FROM {}").format(named)).fetchall()
            assert found == ([(role_of(gym),)] if table == "shops" else [])
            where = sql.SQL("SELECT 1 FROM {} WHERE shop = %s").format(named)
            assert forger.execute(where, (role_of(mill),)).fetchall() == []
        for statement in (
            "INSERT INTO events VALUES (%s, 'S', 'd', 9, 9, '{}', 'x')",
            "INSERT INTO arrivals VALUES (%s, 9, 'S', 'd', 9, 'x')",
            "INSERT INTO happenings VALUES (%s, 'people', 9, 'x')",
            "INSERT INTO papers VALUES (%s, 'key 2', 'x')",
            "INSERT INTO derived VALUES (%s, 'k', 'k', 1, 'S', 0, 'x')",
            "INSERT INTO shops (shop) VALUES (%s)",
            "INSERT INTO members VALUES (session_user, %s)",
            "UPDATE members SET shop = %s",
            "SELECT * FROM events_0 WHERE shop = %s",
        ):
            with pytest.raises(psycopg.errors.InsufficientPrivilege):
                forger.execute(statement, (role_of(mill),))
        with pytest.raises(psycopg.errors.InsufficientPrivilege):
            forger.execute(sql.SQL("SET ROLE {}").format(sql.Identifier(role_of(mill))))
        with pytest.raises(psycopg.errors.InsufficientPrivilege):
            forger.execute("SET row_security = off; SELECT * FROM events")
        changed = forger.execute("UPDATE sessions SET site = 'forged'")
        assert changed.rowcount == 0
    with PostgresStore.open(mill, outline) as store:
        assert [one.outline.site for one in store.sessions()] == ["Mill"]


def test_one_session_s_name_in_two_shops_is_two_sessions(new_shop: Callable[[], str]) -> None:
    with (
        PostgresStore.open(new_shop(), outline) as mill,
        PostgresStore.open(new_shop(), outline) as gym,
    ):
        assert mill.append([event(1, text="mill")])[0].outcome is Outcome.STORED
        assert gym.append([event(1, text="gym")])[0].outcome is Outcome.STORED
        assert [e.data["text"] for e in (*mill.events(SID), *gym.events(SID))] == ["mill", "gym"]
        cursor = arrived(mill, "").cursor
        assert arrived(gym, cursor).restarted is True


@pytest.mark.parametrize("table", UNCHANGING)
def test_what_is_recorded_can_neither_be_changed_nor_removed(address: str, table: str) -> None:
    with psycopg.connect(address, autocommit=True) as connection:
        for text in ("UPDATE {} SET shop = shop", "DELETE FROM {}", "TRUNCATE {}"):
            with pytest.raises(psycopg.errors.InsufficientPrivilege):
                connection.execute(sql.SQL(text).format(sql.Identifier(table)))


# Who may serve


def test_a_role_that_could_see_every_shop_may_not_serve(cluster: Cluster) -> None:
    with pytest.raises(StoreError, match="could see every shop"):
        PostgresStore.open(cluster.address("lowside"), outline)


def test_a_role_without_a_shop_is_told_what_to_do(cluster: Cluster) -> None:
    cluster.do(sql.SQL("CREATE ROLE stranger LOGIN").format())
    try:
        with pytest.raises(StoreError, match="serves no shop"):
            PostgresStore.open(cluster.address("lowside", "stranger"), outline)
    finally:
        cluster.do(sql.SQL("DROP ROLE stranger").format())


def test_a_database_that_is_not_ready_is_told_so(cluster: Cluster) -> None:
    with pytest.raises(StoreError, match="lowside prepare-store"):
        PostgresStore.open(cluster.address("postgres"), outline)


def test_a_database_that_is_not_there_says_so(cluster: Cluster) -> None:
    with pytest.raises(NotNowError, match="cannot be reached"):
        PostgresStore.open(cluster.address("nowhere"), outline)


def test_preparing_again_changes_nothing_and_a_role_serves_one_shop(
    cluster: Cluster, address: str
) -> None:
    role = role_of(address)
    assert prepare(cluster.address("lowside"), role, role) == []
    with pytest.raises(StoreError, match=f"serves the shop {role}"):
        prepare(cluster.address("lowside"), "another", role)
    with pytest.raises(StoreError, match="cannot be the name"):
        prepare(cluster.address("lowside"), "Bad; name", role)


# Faults


def as_owner(cluster: Cluster, address: str, text: str) -> None:
    """Do what nobody who serves may do."""
    with psycopg.connect(cluster.address("lowside"), autocommit=True) as owner:
        owner.execute(text.encode(), {"shop": role_of(address)})


def test_a_changed_entry_is_left_out_and_reported(cluster: Cluster, address: str) -> None:
    with PostgresStore.open(address, outline) as store:
        store.append([event(1, text="118"), event(2, text="119")])
    change = "UPDATE events SET body = replace(body, '118', '181') WHERE shop = %(shop)s"
    as_owner(cluster, address, change)
    with PostgresStore.open(address, outline) as store:
        assert store.events(SID) == [event(2, text="119")]
        assert ["checksum does not match" in problem for problem in store.problems()] == [True]
        assert store.next_seq(SID, "phone") == 4
        assert store.append([event(4)])[0].outcome is Outcome.STORED
        assert store.events(SID) == [event(2, text="119"), event(4)]
        assert arrived(store, "").events == (event(2, text="119"), event(4))


def test_a_changed_photo_is_not_given(cluster: Cluster, address: str) -> None:
    content = b"\xff\xd8 some picture \xff\xd9"
    name = hashlib.sha256(content).hexdigest()
    with PostgresStore.open(address, outline) as store:
        store.photos.keep(SID, name, content)
        assert store.photos.read(SID, name) == content
        as_owner(cluster, address, "UPDATE papers SET content = 'x' WHERE shop = %(shop)s")
        assert store.photos.read(SID, name) is None


def test_a_server_forgets_what_the_database_lost(cluster: Cluster, address: str) -> None:
    """As after a failover to a standby that was behind."""
    with PostgresStore.open(address, outline) as store:
        store.append([event(1), event(2)])
        cursor = arrived(store, "").cursor
        for table in ("events", "arrivals"):
            as_owner(cluster, address, f"DELETE FROM {table} WHERE shop = %(shop)s AND seq = 2")
        as_owner(cluster, address, "UPDATE shops SET arrived = 1 WHERE shop = %(shop)s")
        assert store.events(SID) == [event(1)]
        assert arrived(store, cursor).restarted is True
        other = replace(event(2), data={"text": "other"})
        assert store.append([other])[0].outcome is Outcome.STORED
        assert store.events(SID) == [event(1), other]
        assert arrived(store, cursor).restarted is True


def test_a_closed_store_answers_nothing(address: str) -> None:
    store = PostgresStore.open(address, outline)
    store.close()
    store.close()
    for ask in (lambda: store.events(SID), lambda: store.append([event(1)]), store.last_hlc):
        with pytest.raises(StoreStoppedError, match="closed"):
            ask()


def test_a_failure_in_the_middle_leaves_nothing_behind(
    address: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    def failing(self: Tables, *_more: object) -> Mapping[str, bool]:
        self._session.execute("SELECT 1 / 0")
        return {}

    with PostgresStore.open(address, outline) as store:
        with monkeypatch.context() as patch:
            patch.setattr(Tables, "put", failing)
            with pytest.raises(StoreError):
                store.append([event(1, site="Gym")])
        assert store.events(SID) == []
        assert arrived(store, "").events == ()
        assert store.append([event(1, site="Gym")])[0].outcome is Outcome.STORED
        assert [one.outline.site for one in store.sessions()] == ["Gym"]


def test_an_older_schema_is_brought_up_to_date_and_keeps_what_it_has(
    cluster: Cluster, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    first = resources.files("lowside.store.postgres") / "migrations" / "0001-first.sql"
    (tmp_path / "migrations").mkdir()
    (tmp_path / "migrations" / first.name).write_text(first.read_text())
    cluster.copy("template0", "older")
    try:
        owner, address = cluster.address("older"), cluster.address("older", "older")
        with monkeypatch.context() as patch:
            patch.setattr("lowside.store.postgres.migrating.files", lambda _package: tmp_path)
            assert prepare(owner, "older", "older")[0] == "The schema is at 1."
            patch.setattr("lowside.store.postgres.database.SCHEMA_VERSION", 1)
            with PostgresStore.open(address, outline) as store:
                store.append([event(1, technician="Ines")])
        with pytest.raises(StoreError, match="schema is at 1, and this version"):
            PostgresStore.open(address, outline)
        later = [f"The schema is at {number}." for number in range(2, SCHEMA_VERSION + 1)]
        assert prepare(owner, "older", "older") == later
        with PostgresStore.open(address, outline) as store:
            found = lists.selected(store, Selection(technician="INES"), "")
            assert [one.sid for one, _ in found] == [SID]
    finally:
        cluster.drop("older")


@pytest.mark.parametrize(
    "spoil",
    [
        "DELETE FROM cylinders WHERE key = 'a'",
        "UPDATE cylinders SET shows = ',none,'",
        "INSERT INTO cylinders (key, last, refrigerant, kind, place, shows, value) "
        "VALUES ('b', 0, '', '', '', ',all,', '')",
    ],
)
def test_a_check_sees_a_wrong_cylinder_and_a_rebuild_mends_it(address: str, spoil: str) -> None:
    with PostgresStore.open(address, ruled()) as store:
        store.append([event(1, key="a", text="xx"), event(1, sid=OTHER_SID, key="a", text="x")])
        right = lists.cylinders(store, "all", 2, 1, 9)
        assert len(right.values) == 1
        assert check_database(address, ruled()).problems == ()
        with psycopg.connect(address, autocommit=True) as role:
            role.execute(spoil.encode())
        (problem,) = check_database(address, ruled()).problems
        assert "something else of 1 cylinders than their sessions" in problem
        store.rebuild_index()
        assert lists.cylinders(store, "all", 2, 1, 9) == right
        assert check_database(address, ruled()).problems == ()
