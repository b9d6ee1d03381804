"""A shop's sessions on three PostgreSQL servers, behind a fourth that has what they share."""

import re
import signal
from collections.abc import Callable, Iterator, Sequence
from concurrent.futures import ThreadPoolExecutor
from contextlib import ExitStack, contextmanager
from itertools import count

import psycopg
import pytest
from hypothesis import HealthCheck, Phase, example, given, settings
from postgres_cluster import Cluster, running_cluster, short_patience, wait_until_answers
from psycopg import sql
from store_cases import arrived, event, outline, ulid
from test_both_stores import FULL, SIDS, batches, courses, rows, shown
from test_chained_rows import ruled

from lowside.cli import main
from lowside.store import NotNowError, Outcome, StoreError, lists
from lowside.store.engine import Found
from lowside.store.postgres.checking import check_database
from lowside.store.postgres.database import Session
from lowside.store.postgres.dialect import narrowed, translated, values_for
from lowside.store.postgres.spreading import BY_SESSION, spread
from lowside.store.postgres.store import PostgresStore
from lowside.store.selection import SORTS, Selection

pytestmark = pytest.mark.xdist_group("postgres")

QUICKLY = (Phase.explicit, Phase.generate)
NUMBERS = count(1)
VISIT = {"site": "Gym", "unit_label": "A", "cylinder": "C-1", "key": "a"}
OTHER = {"site": "Mill", "unit_label": "B", "cylinder": "C-2", "key": "b"}


@pytest.fixture(scope="module")
def shards() -> Iterator[list[Cluster]]:
    with ExitStack() as stack:
        yield [stack.enter_context(running_cluster()) for _ in range(3)]


@pytest.fixture(scope="module")
def places(shards: list[Cluster]) -> list[str]:
    return [shard.address("lowside") for shard in shards]


@pytest.fixture(scope="module")
def front(cluster: Cluster) -> Iterator[str]:
    """A database for the front; its owner's address."""
    cluster.copy("template0", "front")
    yield cluster.address("front")
    cluster.drop("front")


@pytest.fixture
def spread_shop(cluster: Cluster, front: str, places: list[str]) -> str:
    """A new shop on the front and its shards; the address of its role."""
    name = f"spread_{next(NUMBERS)}"
    spread(front, places, name, name)
    return cluster.address("front", name)


def role_of(address: str) -> str:
    return address.removeprefix("postgresql://").partition("@")[0]


def shard_of(places: Sequence[str], shop: str, sid: str) -> list[int]:
    """The shards that have an entry of this session."""
    found = []
    for number, place in enumerate(places):
        with psycopg.connect(place) as shard:
            ask = "SELECT EXISTS (SELECT FROM events WHERE shop = %s AND sid = %s)"
            if shard.execute(ask, (shop, sid)).fetchone() == (True,):
                found.append(number)
    return found


def test_it_says_what_one_database_says(
    cluster: Cluster, front: str, places: list[str], new_shop: Callable[[], str]
) -> None:
    @settings(max_examples=1, phases=QUICKLY, suppress_health_check=list(HealthCheck))
    @example([(n, "new", FULL | {"begun": str(1_764_000_000_000 + n)}) for n in (2, 0, 3, 1)])
    @given(courses)
    def compare(course: list[tuple[int, str, dict[str, str]]]) -> None:
        shop = f"spread_{next(NUMBERS)}"
        spread(front, places, shop, shop)
        with (
            PostgresStore.open(new_shop(), ruled()) as one,
            PostgresStore.open(cluster.address("front", shop), ruled()) as over,
        ):
            for sent in batches(course):
                assert over.append(sent) == one.append(sent)
            assert shown(over) == shown(one)
            before = rows(over)
            over.rebuild_index()
            assert rows(over) == before
            assert over.problems() == []

    compare()


def test_each_session_is_on_one_shard_with_its_line_and_rows(
    spread_shop: str, places: list[str]
) -> None:
    shop = role_of(spread_shop)
    with PostgresStore.open(spread_shop, ruled()) as store:
        for sid in SIDS:
            store.append([event(1, sid=sid, **VISIT), event(1, sid=sid, text="rival")])
    homes = [shard_of(places, shop, sid) for sid in SIDS]
    assert [len(home) for home in homes] == [1] * len(SIDS)
    assert len({home[0] for home in homes}) > 1  # or this shows nothing
    for table in BY_SESSION:
        found = set()
        for number, place in enumerate(places):
            with psycopg.connect(place) as shard:
                ask = sql.SQL("SELECT DISTINCT sid FROM {} WHERE shop = %s")
                rows = shard.execute(ask.format(sql.Identifier(table)), (shop,))
                found |= {(sid, number) for (sid,) in rows}
        assert found == {(sid, home[0]) for sid, home in zip(SIDS, homes, strict=True)}, table


@contextmanager
def heard(monkeypatch: pytest.MonkeyPatch) -> Iterator[list[tuple[str, Sequence[object]]]]:
    """Each statement that is sent meanwhile, with its values."""
    sent: list[tuple[str, Sequence[object]]] = []
    execute, many = Session.execute, Session.executemany

    def hear(self: Session, text: str, values: Sequence[object] = (), /) -> Found:
        sent.append((text, values))
        return execute(self, text, values)

    def hear_many(self: Session, text: str, values: Sequence[Sequence[object]], /) -> None:
        sent.extend((text, each) for each in values)
        many(self, text, values)

    with monkeypatch.context() as patch:
        patch.setattr(Session, "execute", hear)
        patch.setattr(Session, "executemany", hear_many)
        yield sent


def plans(address: str, asked: Sequence[tuple[str, Sequence[object]]]) -> Iterator[list[str]]:
    """How the front goes about each statement."""
    with psycopg.connect(address, autocommit=True) as asking:
        for text, values in asked:
            numbered = narrowed(text)
            plan = "EXPLAIN (VERBOSE, COSTS OFF) " + translated(numbered)
            found = asking.execute(plan.encode(), values_for(numbered, values))
            yield [line for (line,) in found]


ACROSS = re.compile(r"WHERE (kind|unit_key) = \?")
"""What a save asks about a session's neighbors: whose cylinder or unit it is too."""


def test_each_statement_of_a_session_goes_to_one_shard(
    spread_shop: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    """By PostgreSQL's own plans of what was really sent."""
    with PostgresStore.open(spread_shop, ruled()) as store:
        store.append([event(1, sid=SIDS[0], **VISIT)])
        with heard(monkeypatch) as sent:
            store.append([event(1, sid=SIDS[1], **VISIT), event(1, sid=SIDS[1], text="rival")])
            store.append([event(2, sid=SIDS[1], kind="session.closed")])
            store.events(SIDS[1])
            store.next_seq(SIDS[1], "phone")
            lists.one(store, SIDS[1])
    touched: dict[str, set[str]] = {}
    with psycopg.connect(spread_shop, autocommit=True) as asking:
        for text, values in sent:
            numbered = narrowed(text)
            plan = "EXPLAIN (VERBOSE, COSTS OFF) " + translated(numbered)
            lines = asking.execute(plan.encode(), values_for(numbered, values)).fetchall()
            servers = set(re.findall(r"public\.\w+_on_(\d)", "\n".join(line for (line,) in lines)))
            touched.setdefault(text, set()).update(servers)
    of_session = {text: on for text, on in touched.items() if on and not ACROSS.search(text)}
    assert {len(on) for on in of_session.values()} == {1}
    tables = {table for table in BY_SESSION for text in of_session if f" {table} " in text}
    assert tables == set(BY_SESSION)  # the test above says where rows are put
    # Neighbors may be anywhere. They are only looked for.
    across = [text for text, on in touched.items() if len(on) > 1]
    assert across
    assert all(ACROSS.search(text) for text in across)


def test_a_list_is_merged_from_what_each_shard_sends_in_order(spread_shop: str) -> None:
    """No shard sends more than the page needs, and none is asked row by row."""
    with PostgresStore.open(spread_shop, ruled()) as store:
        for n in range(1, 13):
            store.append([event(1, sid=ulid(n), **VISIT | {"begun": str(n)})])
        pages = {
            sort: [
                one.sid for one, _ in lists.selected(store, Selection(sort=sort), "told", None, 5)
            ]
            for sort in SORTS
        }
        assert pages["new"] == [ulid(n) for n in range(12, 7, -1)]
        assert pages["old"] == [ulid(n) for n in range(1, 6)]
        assert lists.counts(store, "mark") == {"a": 12}


def test_a_list_is_asked_in_order_of_each_shard(
    spread_shop: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    """So that it sends a page, and the front merges."""
    with PostgresStore.open(spread_shop, ruled()) as store:
        store.append([event(1, sid=SIDS[0], **VISIT)])
        place = lists.place_named(store, SIDS[0])
        chosen = [*(Selection(sort=sort) for sort in SORTS), Selection(kind="mark", key="a")]
        with heard(monkeypatch) as asked:
            for each in chosen:
                lists.selected(store, each, "told", place, 5)
            store.sessions(limit=5)
            store.ask(lambda tables: tables.sids_of_unit("a", "", 5))
            store.derived("own", "a", limit=2)
            store.last_hlc()
            store.ask(lambda tables: tables.rows.keys("own", "", None))
    assert len(asked) == 10
    for (text, _), lines in zip(asked, plans(spread_shop, asked), strict=True):
        plan = "\n".join(lines)
        assert plan.count("Merge Append") == 1, text
        assert plan.count("Remote SQL: ") == plan.count(" ORDER BY ") == 3, text
        # The front neither sorts nor joins nor leaves out what it was sent.
        assert not re.search(r"Filter: \(ROW|Join|Nested Loop|-> +Sort", plan), text


def test_writers_on_two_servers_leave_no_gap_and_see_each_other_s_neighbors(
    spread_shop: str,
) -> None:
    """A shard shows a transaction what was committed when it was first asked: the shop is held."""
    with (
        PostgresStore.open(spread_shop, ruled()) as one,
        PostgresStore.open(spread_shop, ruled()) as two,
    ):

        def write(dev: int) -> None:
            for n in range(1, 5):
                sid = SIDS[(dev + n) % 4]
                sent = [event(n, sid=sid, dev=f"d{dev}", **VISIT | {"begun": str(10 * n + dev)})]
                assert (one, two)[dev % 2].append(sent)[0].outcome is Outcome.STORED

        with ThreadPoolExecutor(4) as pool:
            for done in [pool.submit(write, dev) for dev in range(4)]:
                done.result()
        assert len(arrived(one, "").events) == 16
        grown = rows(two)
        one.rebuild_index()
        assert rows(two) == grown


# What fails


@contextmanager
def the_front_dies(cluster: Cluster, shop: str) -> Iterator[None]:
    """What is saved inside is on its shard; the front has nothing of it."""
    kept = ("shops", "arrivals", "units", "cylinders")
    with psycopg.connect(cluster.address("front"), autocommit=True) as owner:
        for table in kept:
            owner.execute(
                f"CREATE TABLE before_{table} AS SELECT * FROM {table} WHERE shop = %s".encode(),
                (shop,),
            )
        yield
        for table in kept[1:]:
            owner.execute(f"DELETE FROM {table} WHERE shop = %s".encode(), (shop,))
            owner.execute(f"INSERT INTO {table} SELECT * FROM before_{table}".encode())
        owner.execute(
            "UPDATE shops SET arrived = before.arrived, chain = before.chain "
            "FROM before_shops AS before WHERE shops.shop = before.shop"
        )
        for table in kept:
            owner.execute(f"DROP TABLE before_{table}".encode())


@pytest.fixture
def interrupted(cluster: Cluster, spread_shop: str) -> Iterator[PostgresStore]:
    """As when the front dies after a session's shard committed and before itself.

    The second session's first save is whole. Its second one, which names another cylinder and
    unit, is on the shard; the front has nothing of it.
    """
    with PostgresStore.open(spread_shop, ruled()) as store:
        for sid in SIDS[:3]:
            store.append([event(1, sid=sid, **VISIT)])
        with the_front_dies(cluster, role_of(spread_shop)):
            store.append([event(2, sid=SIDS[1], **OTHER)])
        yield store


def test_a_new_session_that_only_a_shard_has_is_in_every_list_when_it_is_sent_again(
    cluster: Cluster, spread_shop: str
) -> None:
    with PostgresStore.open(spread_shop, ruled()) as store:
        store.append([event(1, sid=SIDS[0], **OTHER)])
        with the_front_dies(cluster, role_of(spread_shop)):
            store.append([event(1, sid=SIDS[1], **VISIT)])
        assert store.append([event(1, sid=SIDS[1], **VISIT)])[0].outcome is Outcome.ALREADY
        grown = rows(store)
        assert lists.cylinders(store, "all", 0, 1, 9).counts["all"] == 2
        assert check_database(spread_shop, ruled()).problems == ()
        store.rebuild_index()
        assert rows(store) == grown


def test_what_only_a_shard_has_arrives_when_it_is_sent_again(
    interrupted: PostgresStore, spread_shop: str
) -> None:
    store = interrupted
    cursor = arrived(store, "").cursor
    assert len(arrived(store, "").events) == 3
    found = check_database(spread_shop, ruled())
    assert "1 entries are in no order of arrival, so no phone is sent them." in found.problems
    # It was not acknowledged, so the phone sends it again.
    assert store.append([event(2, sid=SIDS[1], **OTHER)])[0].outcome is Outcome.ALREADY
    batch = arrived(store, cursor)
    assert (batch.restarted, [one.seq for one in batch.events]) == (False, [2])
    assert check_database(spread_shop, ruled()).problems == ()
    grown = rows(store)
    store.rebuild_index()
    assert rows(store) == grown
    assert [unit[3] for unit in lists.units(store, "", 9)] == [2, 1]


def test_what_only_a_shard_has_arrives_when_the_lists_are_made_again(
    interrupted: PostgresStore, spread_shop: str
) -> None:
    store = interrupted
    store.rebuild_index()
    assert check_database(spread_shop, ruled()).problems == ()
    assert len(arrived(store, "").events) == 4
    assert [unit[3] for unit in lists.units(store, "", 9)] == [2, 1]


def test_a_shard_that_goes_and_comes_back(
    shards: list[Cluster], places: list[str], spread_shop: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    shop = role_of(spread_shop)
    with PostgresStore.open(spread_shop, outline) as store:
        for sid in SIDS:
            store.append([event(1, sid=sid, **VISIT)])
        (gone,) = shard_of(places, shop, SIDS[0])
        other = next(sid for sid in SIDS if shard_of(places, shop, sid) != [gone])
        shards[gone].stop(signal.SIGQUIT)
        try:
            with short_patience(monkeypatch):
                for ask in (
                    lambda: store.append([event(2, sid=SIDS[0])]),
                    lambda: store.events(SIDS[0]),
                    store.sessions,
                ):
                    with pytest.raises(NotNowError, match="Send it again later"):
                        ask()
                assert [one.seq for one in store.events(other)] == [1]
        finally:
            shards[gone].start()
        wait_until_answers(store.sessions)
        assert store.append([event(2, sid=SIDS[0])])[0].outcome is Outcome.STORED
        assert len(arrived(store, "").events) == len(SIDS) + 1


# Shops and rights


def test_a_shop_sees_nothing_of_another_s_on_any_shard(
    cluster: Cluster, front: str, places: list[str], spread_shop: str
) -> None:
    with PostgresStore.open(spread_shop, ruled()) as store:
        for sid in SIDS:
            store.append([event(1, sid=sid, **VISIT), event(1, sid=sid, text="rival")])
    spread(front, places, "forger", "forger")
    with psycopg.connect(cluster.address("front", "forger"), autocommit=True) as forger:
        for table in (*BY_SESSION, "marks", "marks_0", "marks_1", "marks_2"):
            text = sql.SQL("SELECT FROM {} WHERE shop = %s").format(sql.Identifier(table))
            assert forger.execute(text, (role_of(spread_shop),)).fetchall() == []
        for statement in (
            "INSERT INTO events VALUES (%s, 'S', 'd', 9, 9, '{}', 'x')",
            "INSERT INTO derived VALUES (%s, 'k', 'k', 1, 'S', 0, 'x')",
            "SELECT * FROM events_on_0 WHERE shop = %s",
            "UPDATE events SET shop = %s",
            "DELETE FROM events WHERE shop = %s",
        ):
            with pytest.raises(psycopg.errors.InsufficientPrivilege):
                forger.execute(statement.encode(), (role_of(spread_shop),))


def test_a_front_keeps_its_shards(
    cluster: Cluster,
    front: str,
    places: list[str],
    new_shop: Callable[[], str],
    capsys: pytest.CaptureFixture[str],
) -> None:
    given = [part for place in places for part in ("--shard", place)]
    command = ["prepare-store", front, *given, "--shop", "again", "--role", "again"]
    for said in ("The role again serves the shop again.", "Nothing was to be done."):
        assert main(command) == 0
        assert said in capsys.readouterr().out
    with pytest.raises(StoreError, match="spread over 3 shards, and their number cannot change"):
        spread(front, places[:2], "again", "again")
    with PostgresStore.open(new_shop(), outline) as store:
        store.append([event(1)])
    with pytest.raises(StoreError, match="sessions of its own"):
        spread(cluster.address("lowside"), places, "late", "late")
