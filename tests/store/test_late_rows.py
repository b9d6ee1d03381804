"""Rows that are made after the entries: whoever asks sees them, they never disagree with the line
in the lists, and a server killed in between makes them at its start."""

import os
import shutil
import signal
import sqlite3
import subprocess
import sys
from collections.abc import Iterator, Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import replace
from pathlib import Path
from threading import Barrier, Lock

import pytest
from store_cases import event, outline, ulid

from lowside.core.session.events import Event
from lowside.store import Derived, Outline, Store, late_rows
from lowside.store.derived_rows import DerivedRows
from lowside.store.index import Index
from lowside.store.outline import Stamp

SIDS = [ulid(n) for n in range(10, 22)]
SITES = "sites"
"""Kind of a row: what the line says of the site is its value."""


def with_row(events: Sequence[Event]) -> Outline:
    made = outline(events)
    return replace(made, derived=(Derived(SITES, "", f"{events[0].sid} {made.site}"),))


def told(tables: Index) -> tuple[dict[str, str], dict[str, str]]:
    """The site of each session: by its line in the lists, and by its row."""
    lines = tables.listed((), False, False, None, None)
    rows = [value.partition(" ") for value in tables.rows.values(SITES, "", None, "", None)]
    return {one.sid: one.outline.site for one in lines}, {sid: site for sid, _, site in rows}


@pytest.fixture
def store(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[Store]:
    """One whose rows are made when they are asked for, and not by themselves."""
    monkeypatch.setattr(late_rows, "LATER_S", 1000.0)
    with Store.open(tmp_path / "data", with_row) as store:
        yield store


def test_two_readers_at_once_both_see_everything_saved_before(
    store: Store, monkeypatch: pytest.MonkeyPatch
) -> None:
    store.append([event(1, sid=sid, site="old") for sid in SIDS], rows_later=True)
    both = Barrier(2)
    put = DerivedRows.put

    def slow(*row: object, **named: object) -> object:
        os.sched_yield()
        return put(*row, **named)  # type: ignore[arg-type]

    monkeypatch.setattr(DerivedRows, "put", slow)

    def read() -> list[tuple[dict[str, str], dict[str, str]]]:
        both.wait(60)
        return [store.ask(told) for _ in range(3)]

    with ThreadPoolExecutor(3) as pool:
        readers = [pool.submit(read) for _ in range(2)]
        both_read = [one.result(60) for one in readers]
    everything = dict.fromkeys(SIDS, "old")
    assert both_read == [[(everything, everything)] * 3] * 2


def test_readers_beside_a_writer_never_see_less_than_was_acknowledged(store: Store) -> None:
    saved: list[str] = []

    def write() -> None:
        for sid in SIDS:
            store.append([event(1, sid=sid, site="Gym")], rows_later=True)
            saved.append(sid)

    def read() -> list[tuple[set[str], dict[str, str], dict[str, str]]]:
        found = []
        while len(saved) < len(SIDS) or not found:
            before = set(saved)
            lines, rows = store.ask(told)
            found.append((before, lines, rows))
        return found

    with ThreadPoolExecutor(3) as pool:
        readers = [pool.submit(read) for _ in range(2)]
        pool.submit(write).result(60)
        for reader in readers:
            for before, lines, rows in reader.result(60):
                assert before <= lines.keys()
                assert lines == rows


def test_a_line_and_its_rows_come_together_or_not_at_all(
    store: Store, monkeypatch: pytest.MonkeyPatch
) -> None:
    store.append([event(1, sid=sid, site="old") for sid in SIDS[:2]])
    old = dict.fromkeys(SIDS[:2], "old")
    store.append([event(2, sid=sid, site="new") for sid in SIDS[:2]], rows_later=True)
    assert store.glance(told) == (old, old)
    put = DerivedRows.put
    full = [True]

    def fails_for_the_second(rows: DerivedRows, sid: str, *more: object, **named: object) -> object:
        if full[0] and sid == SIDS[1]:
            raise sqlite3.OperationalError("database or disk is full")
        return put(rows, sid, *more, **named)  # type: ignore[arg-type]

    monkeypatch.setattr(DerivedRows, "put", fails_for_the_second)
    mixed = {SIDS[0]: "new", SIDS[1]: "old"}
    assert store.ask(told) == (mixed, mixed)
    full[0] = False
    new = dict.fromkeys(SIDS[:2], "new")
    assert store.ask(told) == (new, new)


def test_lists_show_everything_up_to_the_settled_arrival(
    store: Store, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(late_rows, "FEW", 1)
    store.append([event(1, sid=SIDS[0], site="Gym")])
    assert store.settled() == 1
    store.append([event(1, sid=SIDS[1], site="Gym")], rows_later=True)
    store.append([event(2, sid=SIDS[0], site="Mill"), event(2, sid=SIDS[1])], rows_later=True)
    assert store.settled() == 1
    assert store.glance(told)[0] == {SIDS[0]: "Gym"}
    assert store.ask(told)[0] == {SIDS[0]: "Mill", SIDS[1]: "Gym"}
    assert store.settled() == 4
    store.append([event(3, sid=SIDS[0], site="Shed")], rows_later=True)
    assert store.settled() == 5, "the rows of a few are made"
    assert store.glance(told)[0] == {SIDS[0]: "Shed", SIDS[1]: "Gym"}


def test_rows_that_were_not_made_before_the_end_are_made_at_the_next_start(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(late_rows, "LATER_S", 1000.0)
    monkeypatch.setattr(late_rows, "STOPS_WITHIN_S", 0.0)
    everything = dict.fromkeys(SIDS, "new")
    with Store.open(tmp_path / "data", with_row) as store:
        store.append([event(1, sid=sid, site="new") for sid in SIDS], rows_later=True)
    with Store.open(tmp_path / "data", with_row) as store:
        assert store.glance(told) == (everything, everything)
        assert store.settled() == len(SIDS)


KILLED = """
import sys
from pathlib import Path
sys.path[:0] = sys.argv[2:]
from test_late_rows import SIDS, event, late_rows, with_row
from lowside.store import Store
late_rows.LATER_S = 1000.0
store = Store.open(Path(sys.argv[1]), with_row)
store.append([event(1, sid=SIDS[0], site="old")])
store.append([event(2, sid=SIDS[0], site="new"), event(1, sid=SIDS[1], site="new")], True)
print("saved", flush=True)
sys.stdin.read()
"""


def test_a_process_killed_between_entries_and_rows_is_mended_at_the_next_start(
    tmp_path: Path,
) -> None:
    root = tmp_path / "data"
    paths = [str(Path(__file__).parent), *sys.path]
    with subprocess.Popen(
        [sys.executable, "-c", KILLED, str(root), *paths],
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
    ) as process:
        assert process.stdout is not None
        assert process.stdout.readline() == b"saved\n"
        process.send_signal(signal.SIGKILL)
    seen = tmp_path / "seen"
    shutil.copytree(root, seen)
    index = sqlite3.connect(seen / "index.sqlite")
    assert index.execute("SELECT site FROM sessions").fetchall() == [("old",)]
    index.close()
    with Store.open(root, with_row) as store:
        new = dict.fromkeys(SIDS[:2], "new")
        assert store.glance(told) == (new, new)


def test_rows_rest_while_entries_come_in(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(late_rows, "AT_ONCE", 1)
    made: list[str] = []

    def put(some: Sequence[late_rows.Late]) -> None:
        made.extend(sid for sid, _ in some)

    late = late_rows.LateRows(Lock(), put, {})
    late._is_wanted = True  # its thread is not started
    rests: list[bool] = []

    def rest(seconds: float) -> None:
        rests.append(seconds > 0.0)
        if len(rests) == 1:  # entries come in while it rests, and while it makes no rows
            late.note(SIDS[4], Stamp(1, 1), 0)

    monkeypatch.setattr(late, "_rest", rest)
    for sid in SIDS[:4]:
        late.note(sid, Stamp(1, 1), 0)
    late._make_all()
    assert made == SIDS[:5]
    assert rests == [False, True, False, False]
