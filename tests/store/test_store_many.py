"""A start without an index reads the logs in several processes and comes to the same."""

import os
import signal
import subprocess
from pathlib import Path

import pytest
from store_cases import arrived, event, log_path, outline, ulid

from lowside.core.session.events import Event
from lowside.store import Outline, Store, reader
from lowside.store.check import check
from lowside.store.codec import line_of
from lowside.store.index import Index
from lowside.store.shop_logs import ShopLogs

COUNT = 130


@pytest.fixture(autouse=True)
def few_are_many(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(reader, "MANY", 20)
    monkeypatch.setattr(reader, "PIECE", 7)
    monkeypatch.setattr(os, "cpu_count", lambda: 2)


@pytest.fixture
def root(tmp_path: Path) -> Path:
    """Logs. One has a damaged line, one a torn end, and one is empty; no index."""
    root = tmp_path / "data"
    for n in range(COUNT):
        path = log_path(root, ulid(n))
        path.parent.mkdir(parents=True, exist_ok=True)
        made = [event(seq, sid=ulid(n), dev=f"d{seq % 2}", site=f"Site {n}") for seq in range(1, 5)]
        path.write_bytes(b"".join(map(line_of, made)))
    damaged = log_path(root, ulid(40))
    damaged.write_bytes(damaged.read_bytes().replace(b"Site 40", b"Site 41", 1))
    with log_path(root, ulid(80)).open("ab") as log:
        log.write(b'{"event":{"at"')
    log_path(root, ulid(90)).write_bytes(b"")
    return root


def opened(root: Path, write: bool = True) -> Store:
    return Store.open(root, outline, write)


def arrivals(store: Store) -> list[tuple[int, str, str, int]]:
    return store.ask(lambda index: index.arrivals(0, 10_000, None))


def serially(root: Path, monkeypatch: pytest.MonkeyPatch) -> tuple[object, ...]:
    with monkeypatch.context() as patched:
        patched.setattr(reader, "MANY", 1_000_000)
        with opened(root, write=False) as store:
            return store.ask(Index.contents), arrivals(store), sorted(store.problems())


def started_processes(monkeypatch: pytest.MonkeyPatch) -> list["subprocess.Popen[bytes]"]:
    started: list[subprocess.Popen[bytes]] = []
    make = reader._Pool._process

    def counted(pool: "reader._Pool") -> "subprocess.Popen[bytes]":
        started.append(make(pool))
        return started[-1]

    monkeypatch.setattr(reader._Pool, "_process", counted)
    return started


def test_the_index_is_the_same_as_when_one_process_reads(
    root: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    right = serially(root, monkeypatch)
    started = started_processes(monkeypatch)
    with opened(root, write=False) as store:
        found = store.ask(Index.contents), arrivals(store), sorted(store.problems())
    assert found == right
    assert len(started) == 2
    assert all(process.poll() is not None for process in started), "none is left behind"
    assert len(found[1]) == 4 * (COUNT - 1) - 1
    assert any("line 1 was left out" in problem for problem in found[2])


def test_most_logs_are_not_read_here(root: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    here: list[str] = []
    read_here = ShopLogs.of

    def noted(logs: ShopLogs, sid: str) -> object:
        here.append(sid)
        return read_here(logs, sid)

    monkeypatch.setattr(ShopLogs, "of", noted)
    with opened(root):
        pass
    assert set(here) == {ulid(40), ulid(80)}, "only those with which something is wrong"


def test_the_next_start_reads_what_changed_only(
    root: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    with opened(root) as store:
        cursor = arrived(store, "").cursor
    started = started_processes(monkeypatch)
    with log_path(root, ulid(5)).open("ab") as log:
        log.write(line_of(event(5, sid=ulid(5))))
    with opened(root) as store:
        assert started == []
        batch = arrived(store, cursor)
        while batch.more:
            batch = arrived(store, batch.cursor)
        assert batch.events[-1] == event(5, sid=ulid(5))


@pytest.mark.parametrize("after", [0, 1, 5])
def test_processes_that_are_killed_lose_nothing(
    root: Path, monkeypatch: pytest.MonkeyPatch, after: int
) -> None:
    right = serially(root, monkeypatch)
    started = started_processes(monkeypatch)
    answered = 0
    hear = reader._heard

    def heard(from_: object) -> bytes:
        nonlocal answered
        if answered == after:
            for process in started:
                os.kill(process.pid, signal.SIGKILL)
        answered += 1
        return hear(from_)  # type: ignore[arg-type]

    monkeypatch.setattr(reader, "_heard", heard)
    with opened(root, write=False) as store:
        assert (store.ask(Index.contents), arrivals(store), sorted(store.problems())) == right


def test_an_outline_that_no_other_process_can_make_is_made_here(
    root: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    right = serially(root, monkeypatch)

    def own(events: list[Event]) -> Outline:
        return outline(events)

    with Store.open(root, own, write=False) as store:
        assert (store.ask(Index.contents), arrivals(store), sorted(store.problems())) == right


def test_a_rebuild_with_many_logs_lets_everybody_go_on(root: Path) -> None:
    with opened(root) as store:
        first = arrived(store, "", limit=100)
        store.append([event(5, sid=ulid(7), dev="d9")])
        store.rebuild_index()
        batch = arrived(store, first.cursor)
        assert not batch.restarted
        got = {(e.sid, e.dev, e.seq) for e in (*first.events, *batch.events)}
        while batch.more:
            batch = arrived(store, batch.cursor)
            assert not batch.restarted
            got |= {(e.sid, e.dev, e.seq) for e in batch.events}
        assert got == {tuple(row[1:]) for row in arrivals(store)}
        assert batch.events[-1] == event(5, sid=ulid(7), dev="d9")


def test_who_waits_is_told_how_far_it_is(root: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("lowside.store.filling.TOLD_EVERY_S", -1.0)
    told: list[tuple[int, int]] = []
    Store.open(root, outline, progress=lambda done, of: told.append((done, of))).close()
    assert told == [(n, COUNT) for n in range(1, COUNT + 1)]


def test_a_check_of_many_logs_finds_the_same(root: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    opened(root).close()
    found = check(root, outline)
    with monkeypatch.context() as patched:
        patched.setattr(reader, "MANY", 1_000_000)
        assert check(root, outline) == found
    assert found.sessions == COUNT
    assert found.events == 4 * (COUNT - 1) - 1
    assert any("line 1 was left out" in problem for problem in found.problems)
    assert any("1 entries of device d1 are missing" in problem for problem in found.problems)
