"""After a restore from a copy nobody misses an entry, and who holds more is asked for it again."""

import shutil
from pathlib import Path

import pytest
from store_cases import OTHER_SID, SID, arrived, event, log_path, opened, ulid

from lowside.store import Batch, Store


@pytest.fixture
def root(tmp_path: Path) -> Path:
    return tmp_path / "data"


def read_all(store: Store, cursor: str) -> tuple[set[tuple[str, int]], list[Batch]]:
    """Everything from a cursor on, in pieces of two."""
    got: set[tuple[str, int]] = set()
    batches = []
    while True:
        batch = arrived(store, cursor, limit=2)
        batches.append(batch)
        got |= {(e.sid, e.seq) for e in batch.events}
        cursor = batch.cursor
        if not batch.more:
            return got, batches


def save(root: Path, name: str) -> Path:
    copy = root.with_name(name)
    shutil.copytree(root, copy)
    return copy


def restore(copy: Path, root: Path) -> None:
    shutil.rmtree(root)
    shutil.copytree(copy, root)


def test_with_an_index_older_than_the_logs_nobody_misses_an_entry(root: Path) -> None:
    with opened(root) as store:
        store.append([event(1)])
    old = (root / "index.sqlite").read_bytes()
    with opened(root) as store:
        store.append([event(1, sid=OTHER_SID)])
        cursor = arrived(store, "").cursor  # has these two
        store.append([event(2)])
    (root / "index.sqlite").write_bytes(old)
    with opened(root) as store:
        got, _ = read_all(store, cursor)
        assert (SID, 2) in got


def test_after_a_restore_of_everything_nobody_misses_what_came_later(root: Path) -> None:
    with opened(root) as store:
        store.append([event(1)])
    copy = save(root, "copy")
    with opened(root) as store:
        store.append([event(2), event(3)])
        cursor = arrived(store, "").cursor
    restore(copy, root)
    with opened(root) as store:
        store.append([event(n, sid=OTHER_SID) for n in range(1, 5)])
        got, batches = read_all(store, cursor)
        assert got >= {(OTHER_SID, n) for n in range(1, 5)}
        assert batches[0].restarted, "who asks has more than this store, and must hear of it"


def test_who_was_acknowledged_more_than_it_has_read_hears_of_a_restore_too(root: Path) -> None:
    with opened(root) as store:
        store.append([event(n) for n in range(1, 6)])
    copy = save(root, "copy")
    with opened(root) as store:
        store.append([event(n) for n in range(6, 9)])
        cursor = arrived(store, "", limit=2).cursor
    restore(copy, root)
    with opened(root) as store:
        assert arrived(store, cursor).restarted


def test_who_has_only_what_was_restored_goes_on_as_before(root: Path) -> None:
    with opened(root) as store:
        store.append([event(1), event(2)])
        cursor = arrived(store, "").cursor
    copy = save(root, "copy")
    with opened(root) as store:
        store.append([event(3)])
    restore(copy, root)
    with opened(root) as store:
        store.append([event(1, sid=OTHER_SID)])
        batch = arrived(store, cursor)
        assert (batch.events, batch.restarted) == ((event(1, sid=OTHER_SID),), False)


def test_with_logs_older_than_the_index_everybody_begins_again(root: Path) -> None:
    with opened(root) as store:
        store.append([event(1), event(1, sid=OTHER_SID)])
    log = log_path(root).read_bytes()
    with opened(root) as store:
        store.append([event(2), event(2, sid=OTHER_SID)])
        cursor = arrived(store, "").cursor
    log_path(root).write_bytes(log)
    with opened(root) as store:
        assert arrived(store, cursor).restarted
        got, _ = read_all(store, cursor)
        assert got == {(SID, 1), (OTHER_SID, 1), (OTHER_SID, 2)}
        after = arrived(store, "").cursor
    with opened(root) as store:
        assert not arrived(store, after).restarted, "once is enough"


def test_a_session_whose_log_is_gone_lets_everybody_begin_again(root: Path) -> None:
    with opened(root) as store:
        store.append([event(1), event(1, sid=OTHER_SID)])
        cursor = arrived(store, "").cursor
    log_path(root).unlink()
    with opened(root) as store:
        assert arrived(store, cursor).restarted


def test_a_rebuilt_index_lets_everybody_go_on(root: Path) -> None:
    with opened(root) as store:
        store.append([event(1), event(1, sid=OTHER_SID)])
        store.append([event(2)])
        cursor = arrived(store, "", limit=1).cursor
        store.rebuild_index()
        batch = arrived(store, cursor)
        assert (batch.events, batch.restarted) == ((event(1, sid=OTHER_SID), event(2)), False)


def test_a_lost_index_lets_everybody_begin_again(root: Path) -> None:
    with opened(root) as store:
        store.append([event(1)])
        cursor = arrived(store, "").cursor
    (root / "index.sqlite").unlink()
    with opened(root) as store:
        batch = arrived(store, cursor)
        assert (batch.events, batch.restarted) == ((event(1),), True)


@pytest.mark.parametrize("place", range(1, 12))
def test_restores_at_any_moment_lose_nothing_for_anybody(root: Path, place: int) -> None:
    """Two followers, a copy taken at one moment and put back at another."""
    cursors = {"a": "", "b": ""}
    held: dict[str, set[tuple[str, int]]] = {"a": set(), "b": set()}
    copy = None
    store = opened(root)
    try:
        for turn in range(1, 12):
            store.append([event(turn, sid=ulid(1 + turn % 3), dev=f"d{turn % 2}")])
            who = "ab"[turn % 2]
            batch = arrived(store, cursors[who], limit=1 + turn % 4)
            held[who] |= {(e.sid, e.seq) for e in batch.events}
            cursors[who] = batch.cursor
            if turn == max(place - 2, 1):
                store.close()
                copy = save(root, "copy")
                store = opened(root)
            if turn == place and copy is not None:
                store.close()
                restore(copy, root)
                store = opened(root)
        stored = {(e.sid, e.seq) for n in (1, 2, 3) for e in store.events(ulid(n))}
        for who, cursor in cursors.items():
            got, _ = read_all(store, cursor)
            assert held[who] | got >= stored
    finally:
        store.close()
