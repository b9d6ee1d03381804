"""The database's machine is lost, and its standby takes over: nothing acknowledged is lost."""

import signal
import threading
from concurrent.futures import ThreadPoolExecutor

import psycopg
import pytest
from postgres_cluster import (
    NOT_ROOT,
    PORT,
    running_cluster,
    running_standby,
    short_patience,
    wait_until_answers,
)
from store_cases import SID, arrived, event, outline

from lowside.store import NotNowError, Outcome
from lowside.store.postgres.migrating import prepare
from lowside.store.postgres.store import PostgresStore

pytestmark = pytest.mark.xdist_group("postgres")

REPLICATED = ("wal_level=replica", "max_wal_senders=3", "hot_standby=on", "fsync=on")


def test_servers_go_on_with_the_standby(monkeypatch: pytest.MonkeyPatch) -> None:
    """A commit waits for the standby, as the documentation says to set it up."""
    with running_cluster(*REPLICATED) as first:
        prepare(first.address("lowside"), "mill", "mill")
        with running_standby(first) as second:
            with psycopg.connect(first.address("postgres"), autocommit=True) as owner:
                owner.execute("ALTER SYSTEM SET synchronous_standby_names = '*'")
                owner.execute("SELECT pg_reload_conf()")
            either = (
                f"postgresql://mill@/lowside?host={first.folder},{second.folder}"
                f"&port={PORT},{PORT}&target_session_attrs=read-write"
            )
            with PostgresStore.open(either, outline) as store:
                acknowledged: list[int] = []
                lost = threading.Event()

                def write() -> None:
                    for n in range(1, 10_000):
                        try:
                            assert store.append([event(n)])[0].outcome is Outcome.STORED
                        except NotNowError:
                            lost.set()
                            return
                        acknowledged.append(n)

                with ThreadPoolExecutor(1) as pool:
                    writing = pool.submit(write)
                    while len(acknowledged) < 8:
                        assert not writing.done()
                        threading.Event().wait(0.01)
                    cursor = arrived(store, "", limit=5).cursor
                    first.stop(signal.SIGQUIT)
                    writing.result()
                assert lost.is_set()
                with short_patience(monkeypatch), pytest.raises(NotNowError):
                    store.events(SID)
                with psycopg.connect(
                    second.address("postgres", NOT_ROOT), autocommit=True
                ) as owner:
                    owner.execute("ALTER SYSTEM SET synchronous_standby_names = ''")
                    owner.execute("SELECT pg_promote(true)")
                wait_until_answers(store.last_hlc)
                stored = [each.seq for each in store.events(SID)]
                assert stored == list(range(1, len(stored) + 1))
                assert len(stored) >= acknowledged[-1]
                assert not arrived(store, cursor).restarted
                again = [event(acknowledged[-1]), event(len(stored) + 1)]
                outcomes = [receipt.outcome for receipt in store.append(again)]
                assert outcomes == [Outcome.ALREADY, Outcome.STORED]
