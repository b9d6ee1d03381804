"""The database's disk is really full, or stops: nothing acknowledged is lost."""

import os
import signal
import threading
from collections.abc import Callable, Iterator
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass

import psycopg
import pytest
from postgres_cluster import (
    PORT,
    QUICK,
    SMALL,
    Cluster,
    fresh_data,
    make_in,
    new_folder,
    remove,
    running_cluster,
    short_patience,
    wait_until_answers,
)
from small_disk import SmallDisk, small_disk
from store_cases import OTHER_SID, SID, arrived, event, outline

from lowside.store import NotNowError, Outcome, StoreError
from lowside.store.postgres.migrating import prepare
from lowside.store.postgres.store import PostgresStore
from lowside.store.postgres.tables import Tables

pytestmark = pytest.mark.xdist_group("postgres")

LARGE = "".join(chr(0x4E00 + n % 20_000) for n in range(20_000))
"""An entry that takes room: it is not to be compressed."""


@dataclass(frozen=True)
class OnSmallDisk:
    """A PostgreSQL with part of its files on a small disk."""

    cluster: Cluster
    disk: SmallDisk

    @property
    def address(self) -> str:
        return self.cluster.address("lowside", "mill")

    def log(self) -> str:
        return (self.cluster.folder / "log").read_text()


@pytest.fixture
def small(request: pytest.FixtureRequest) -> Iterator[OnSmallDisk]:
    """On the disk is what the test names: "tables" or "log"."""
    folder = new_folder()
    make_in(folder, "cp", "-a", fresh_data(), folder / "data")
    make_in(folder, "mkdir", "small")
    settings = (*QUICK, *SMALL, "listen_addresses=", f"port={PORT}", "fsync=on")
    with small_disk(folder / "small", 24) as disk:
        cluster = Cluster(folder, settings, inside=disk.inside)
        try:
            if request.param == "log":
                log = folder / "data" / "pg_wal"
                make_in(folder, *disk.inside(["cp", "-a", log, disk.folder]))
                make_in(folder, "rm", "-r", log)
                make_in(folder, "ln", "-s", disk.folder / "pg_wal", log)
            else:
                make_in(folder, *disk.inside(["mkdir", disk.folder / "tables"]))
            cluster.start()
            if request.param == "tables":
                with psycopg.connect(cluster.address("postgres"), autocommit=True) as owner:
                    owner.execute(f"CREATE TABLESPACE small LOCATION '{folder}/small/tables'")
                    owner.execute("ALTER DATABASE lowside SET TABLESPACE small")
            prepare(cluster.address("lowside"), "mill", "mill")
            yield OnSmallDisk(cluster, disk)
        finally:
            cluster.stop(signal.SIGQUIT)
            remove(folder)


def saves_until_refused(store: PostgresStore) -> tuple[list[int], StoreError]:
    """Numbers that were acknowledged, and what was said instead of the next one."""
    acknowledged: list[int] = []
    for n in range(1, 10_000):
        try:
            assert store.append([event(n, text=LARGE)])[0].outcome is Outcome.STORED
        except StoreError as error:
            return acknowledged, error
        acknowledged.append(n)
    raise AssertionError("the disk is not full")


@pytest.mark.parametrize("small", ["tables"], indirect=True)
def test_a_full_disk_refuses_and_goes_on_when_there_is_room(small: OnSmallDisk) -> None:
    with PostgresStore.open(small.address, outline) as store:
        store.append([event(1, sid=OTHER_SID)])
        small.disk.fill()
        acknowledged, error = saves_until_refused(store)
        assert isinstance(error, NotNowError)
        assert "No space left on device" in str(error)
        assert "not acknowledged. Send it again later" in str(error)
        # It is read as before, and says the same to whoever tries again.
        assert [one.seq for one in store.events(SID)] == acknowledged
        assert len(store.sessions()) == 1 + bool(acknowledged)
        refused = event(len(acknowledged) + 1, text=LARGE)
        with pytest.raises(NotNowError):
            store.append([refused])
        small.disk.make_room()
        assert store.append([refused])[0].outcome is Outcome.STORED
        assert len(arrived(store, "", limit=1000).events) == len(acknowledged) + 2


@pytest.mark.parametrize("small", ["log"], indirect=True)
def test_a_full_disk_of_the_log_stops_the_database_and_loses_nothing(
    small: OnSmallDisk, monkeypatch: pytest.MonkeyPatch
) -> None:
    """PostgreSQL gives up when its log cannot grow, and does not start again without room."""
    with PostgresStore.open(small.address, outline) as store:
        small.disk.fill()
        acknowledged, error = saves_until_refused(store)
        assert isinstance(error, NotNowError)
        assert "PANIC" in small.log()
        assert "No space left on device" in small.log()
        with short_patience(monkeypatch), pytest.raises(NotNowError):
            store.append([event(len(acknowledged) + 1)])
        assert small.cluster.process is not None
        small.cluster.process.wait()
        small.disk.make_room()
        small.cluster.start()
        wait_until_answers(store.last_hlc)
        stored = [one.seq for one in store.events(SID)]
        assert stored == list(range(1, len(stored) + 1))
        assert len(stored) >= len(acknowledged)
        again = store.append([event(n, text=LARGE) for n in range(1, len(acknowledged) + 2)])
        assert {one.outcome for one in again[:-1]} == {Outcome.ALREADY}
        assert again[-1].outcome in (Outcome.STORED, Outcome.ALREADY)


def test_a_disk_that_stands_still_holds_up_a_save_and_others_are_told(
    cluster: Cluster, new_shop: Callable[[], str], monkeypatch: pytest.MonkeyPatch
) -> None:
    """A process that waits for a disk does nothing else. One that was told to stop is the same."""
    address = new_shop()
    role = address.removeprefix("postgresql://").partition("@")[0]
    with psycopg.connect(cluster.address("lowside"), autocommit=True) as owner:
        owner.execute(f"ALTER ROLE {role} SET lock_timeout = '300ms'".encode())
    waiting: list[int] = []
    stands_still = threading.Event()
    put = Tables.put

    def put_by_a_process_that_waits(self: Tables, sid: str, *more: object) -> object:
        if not waiting:
            (pid,) = self._session.execute("SELECT pg_backend_pid()").fetchone()
            waiting.append(pid)
            os.kill(pid, signal.SIGSTOP)
            stands_still.set()
        return put(self, sid, *more)  # type: ignore[arg-type]

    monkeypatch.setattr(Tables, "put", put_by_a_process_that_waits)
    with PostgresStore.open(address, outline) as store, ThreadPoolExecutor(1) as pool:
        saving = pool.submit(store.append, [event(1)])
        try:
            assert stands_still.wait(60)
            with pytest.raises(NotNowError, match=r"lock timeout.*Send it again later"):
                store.append([event(1, sid=OTHER_SID)])
            assert store.events(SID) == []
            assert store.sessions() == []
            assert not saving.done()
        finally:
            for pid in waiting:
                os.kill(pid, signal.SIGCONT)
        assert [one.outcome for one in saving.result()] == [Outcome.STORED]
        assert store.append([event(1, sid=OTHER_SID)])[0].outcome is Outcome.STORED
        assert [one.sid for one in arrived(store, "").events] == [SID, OTHER_SID]


def set_largest_file(cluster: Cluster, pids: list[int], size: str) -> None:
    """Each user may set it for their own programs."""
    for pid in pids:
        make_in(cluster.folder, "prlimit", f"--pid={pid}", f"--fsize={size}:")


def test_tables_that_may_not_grow_refuse_and_go_on_when_they_may() -> None:
    """A full disk on every machine, also where nobody may mount a small one."""
    with running_cluster() as cluster:
        prepare(cluster.address("lowside"), "mill", "mill")
        with PostgresStore.open(cluster.address("lowside", "mill"), outline) as store:
            store.append([event(1, sid=OTHER_SID)])
            with psycopg.connect(cluster.address("postgres")) as owner:
                found = owner.execute("SELECT pid FROM pg_stat_activity WHERE datname = 'lowside'")
                pids = [pid for (pid,) in found]
            set_largest_file(cluster, pids, "1048576")  # a piece of the log is as large
            acknowledged, error = saves_until_refused(store)
            assert "File too large" in str(error)
            assert [one.seq for one in store.events(SID)] == acknowledged
            refused = event(len(acknowledged) + 1, text=LARGE)
            with pytest.raises(StoreError, match="File too large"):
                store.append([refused])
            set_largest_file(cluster, pids, "unlimited")
            assert store.append([refused])[0].outcome is Outcome.STORED
            assert len(arrived(store, "", limit=1000).events) == len(acknowledged) + 2
