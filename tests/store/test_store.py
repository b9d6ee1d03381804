"""What one may rely on from the store: verdicts, lists, cursors, quarantine, one writer."""

from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path
from threading import Thread

import pytest
from store_cases import OTHER_SID, SID, START, event, log_path, opened, outline, ulid

from lowside.core.session.events import Event
from lowside.store import (
    BadEvent,
    Outcome,
    Outline,
    ReadOnlyError,
    Store,
    StoreBusyError,
    StoreError,
    StoreStoppedError,
    event_from_json,
)
from lowside.store.index import Index


@pytest.fixture
def root(tmp_path: Path) -> Path:
    return tmp_path / "data"


@pytest.fixture
def store(root: Path) -> Iterator[Store]:
    with opened(root) as store:
        yield store


def outcomes(store: Store, *events: Event | BadEvent) -> list[str]:
    return [str(verdict.outcome) for verdict in store.append(events)]


def test_events_are_there_in_the_order_they_came(store: Store) -> None:
    events = [event(1, text="118"), event(2, dev="tablet"), event(2)]
    assert outcomes(store, *events) == ["stored"] * 3
    assert store.events(SID) == events
    assert store.events(OTHER_SID) == []


def test_events_are_there_after_reopening(root: Path) -> None:
    events = [event(1, text="é “54,5” \u2028 \x00 \U0001f9ca"), event(2)]
    with opened(root) as store:
        store.append(events)
    with opened(root) as store:
        assert store.events(SID) == events
        assert store.problems() == []


def test_the_same_event_again_is_already_stored(store: Store, root: Path) -> None:
    store.append([event(1, text="a")])
    size = log_path(root).stat().st_size
    assert outcomes(store, event(1, text="a"), event(1, text="a")) == ["already", "already"]
    assert log_path(root).stat().st_size == size


def test_a_repeat_within_one_batch_is_stored_once(store: Store) -> None:
    assert outcomes(store, event(1), event(1)) == ["stored", "already"]
    assert store.events(SID) == [event(1)]


@pytest.mark.parametrize(
    "other",
    [event(1, text="b"), replace(event(1, text="a"), at=START), event(1, kind="x", text="a")],
)
def test_same_number_with_other_content_is_kept_aside(root: Path, other: Event) -> None:
    with opened(root) as store:
        store.append([event(1, text="a")])
        assert outcomes(store, other) == ["quarantined"]
    with opened(root) as store:
        assert store.events(SID) == [event(1, text="a")]
        assert [item.event for item in store.quarantined()] == [other]
        assert "other content" in store.quarantined()[0].reason


def test_the_same_contradiction_again_is_kept_aside_once(store: Store, root: Path) -> None:
    store.append([event(1, text="a")])
    rival = event(1, text="b")
    assert outcomes(store, rival, rival) == ["quarantined"] * 2
    assert outcomes(store, rival, event(1, text="c")) == ["quarantined"] * 2
    assert [item.event.data["text"] for item in store.quarantined()] == ["b", "c"]
    store.close()
    with opened(root) as reopened:
        assert [item.event.data["text"] for item in reopened.quarantined()] == ["b", "c"]
        assert reopened.problems() == []


def test_one_tap_that_came_by_two_ways_is_already_stored_and_leaves_no_gap(store: Store) -> None:
    store.append([event(1, text="a")])
    same_tap = event(1, dev="server", eid=event(1).eid, text="a")
    assert outcomes(store, same_tap) == ["already"]
    assert store.next_seq(SID, "server") == 2
    assert [e.dev for e in store.events_since("").events] == ["phone", "server"]


def test_an_event_id_used_for_something_else_is_kept_aside(store: Store) -> None:
    store.append([event(1, text="a")])
    assert outcomes(store, event(2, eid=event(1).eid, text="b")) == ["quarantined"]
    assert store.events(SID) == [event(1, text="a")]
    assert store.next_seq(SID, "phone") == 3


def test_the_same_event_id_in_two_sessions_is_two_events(store: Store) -> None:
    assert outcomes(store, event(1), event(1, sid=OTHER_SID, eid=event(1).eid)) == ["stored"] * 2


def test_one_bad_event_never_blocks_the_rest(store: Store) -> None:
    bad = event_from_json({"sid": SID})
    assert isinstance(bad, BadEvent)
    verdicts = store.append([event(1), bad, replace(event(2), eid="no"), event(3)])
    assert [v.outcome for v in verdicts] == [
        Outcome.STORED,
        Outcome.REFUSED,
        Outcome.REFUSED,
        Outcome.STORED,
    ]
    assert verdicts[1].reason == "The entry lacks its field “dev”."
    assert "ULID" in verdicts[2].reason
    assert store.events(SID) == [event(1), event(3)]


@pytest.mark.parametrize(
    "sid", ["../../etc/passwd", "", SID.lower(), SID[:-1], SID + "0", SID[:-1] + "U", "Z" * 26]
)
def test_a_name_that_is_no_ulid_never_becomes_a_file(store: Store, root: Path, sid: str) -> None:
    before = sorted(root.rglob("*"))
    assert outcomes(store, replace(event(1), sid=sid)) == ["refused"]
    assert store.events(sid) == []
    assert store.next_seq(sid, "phone") == 1
    assert sorted(root.rglob("*")) == before


def test_an_unknown_kind_and_schema_are_kept_verbatim(store: Store) -> None:
    future = replace(event(1, kind="hologram.shown", angle="12 “°”"), schema=7)
    assert outcomes(store, future) == ["stored"]
    assert store.events(SID) == [future]


def test_logs_lie_in_the_year_of_their_session(root: Path) -> None:
    new_year = ulid(5, 1_767_225_600_000)  # 2026-01-01T00:00:00Z
    old_year = ulid(5, 1_767_225_599_999)
    with opened(root) as store:
        store.append([event(1, sid=new_year), event(1, sid=old_year)])
    assert (root / "sessions" / "2026" / f"{new_year}.jsonl").exists()
    assert (root / "sessions" / "2025" / f"{old_year}.jsonl").exists()


def test_numbers_go_on_for_each_device_and_session(store: Store) -> None:
    assert store.next_seq(SID, "phone") == 1
    store.append([event(1), event(2), event(1, dev="tablet"), event(1, sid=OTHER_SID)])
    assert store.next_seq(SID, "phone") == 3
    assert store.next_seq(SID, "tablet") == 2
    assert store.next_seq(OTHER_SID, "phone") == 2


def test_the_latest_clock_value_survives_reopening(root: Path) -> None:
    with opened(root) as store:
        assert store.last_hlc() == ""
        store.append([event(9), event(2), event(4, sid=OTHER_SID)])
        assert store.last_hlc() == event(9).hlc
    with opened(root) as store:
        assert store.last_hlc() == event(9).hlc


def test_sessions_are_listed_newest_first_and_searched_by_words(store: Store) -> None:
    store.append(
        [
            event(1, site="Mill Lane Bakery", unit_label="AC 2", technician="Ines"),
            event(50, sid=OTHER_SID, site="Gym", unit_label="AC 2", refrigerant="R-410A"),
            event(51, sid=OTHER_SID, kind="session.closed"),
        ]
    )
    assert [item.sid for item in store.sessions()] == [OTHER_SID, SID]
    assert [item.sid for item in store.sessions("  lane BAKERY ")] == [SID]
    assert [item.sid for item in store.sessions("ac 2", limit=1)] == [OTHER_SID]
    assert [item.sid for item in store.sessions("r-410a gym")] == [OTHER_SID]
    assert store.sessions("bakery gym") == []
    assert store.sessions("%") == []
    assert [item.sid for item in store.sessions(SID[-6:].lower())] == [SID]
    assert [item.sid for item in store.sessions(open_only=True)] == [SID]
    assert [item.sid for item in store.sessions(closed_only=True)] == [OTHER_SID]
    assert store.sessions()[0].events == 2
    assert store.sessions()[1].outline == outline(store.events(SID))


def test_a_cylinder_s_and_a_unit_s_sessions_are_found_newest_first(store: Store) -> None:
    store.append(
        [
            event(9, cylinder="C-12", site="Gym", unit_label="Roof"),
            event(1, sid=OTHER_SID, cylinder=" c-12 ", site="gym", unit_label="roof "),
            event(1, sid=ulid(3), cylinder="C-1", site="Gym", unit_label="Cellar"),
        ]
    )
    assert [item.sid for item in store.sessions_with_cylinder("C-12")] == [SID, OTHER_SID]
    assert [item.sid for item in store.sessions_with_unit("Gym", "Roof", limit=2)] == [
        SID,
        OTHER_SID,
    ]
    assert store.sessions_with_unit("Gym", "Roof", other_than=SID, limit=1)[0].sid == OTHER_SID
    assert store.sessions_with_cylinder("C-2") == []


def test_practice_is_listed_only_where_it_is_asked_for(store: Store) -> None:
    store.append(
        [
            event(1, cylinder="C-12", site="Gym", unit_label="Roof"),
            event(1, sid=OTHER_SID, cylinder="C-12", site="Gym", unit_label="Roof", practice="yes"),
        ]
    )
    assert {item.sid for item in store.sessions()} == {SID, OTHER_SID}
    assert [item.sid for item in store.sessions(practice=False)] == [SID]
    assert [item.sid for item in store.sessions(practice=True)] == [OTHER_SID]
    assert [item.sid for item in store.sessions_with_cylinder("C-12")] == [SID]
    assert [item.sid for item in store.sessions_with_unit("Gym", "Roof")] == [SID]


def test_a_cursor_yields_everything_once_in_order_of_arrival(store: Store) -> None:
    events = [event(n, sid=(SID, OTHER_SID)[n % 2]) for n in range(1, 12)]
    store.append(events[:7])
    seen: list[Event] = []
    cursor = ""
    for _ in range(3):
        batch = store.events_since(cursor, limit=3)
        seen.extend(batch.events)
        cursor = batch.cursor
        assert not batch.restarted
    assert not batch.more
    store.append(events[7:])
    batch = store.events_since(cursor)
    assert [*seen, *batch.events] == [
        *(e for e in events[:7] if e.sid == OTHER_SID),
        *(e for e in events[:7] if e.sid == SID),
        *(e for e in events[7:] if e.sid == SID),
        *(e for e in events[7:] if e.sid == OTHER_SID),
    ]
    assert store.events_since(batch.cursor).events == ()


def test_a_follower_skips_practice(store: Store) -> None:
    lesson = [event(n, sid=OTHER_SID, practice="yes") for n in range(1, 1200)]
    store.append(lesson)
    store.append([event(1), event(2)])
    batch = store.events_since("", limit=1, practice=False)
    assert (batch.events, batch.more) == ((event(1),), True)
    batch = store.events_since(batch.cursor, limit=1, practice=False)
    assert (batch.events, batch.more) == ((event(2),), False)
    store.append([event(1200, sid=OTHER_SID)])
    batch = store.events_since(batch.cursor, practice=False)
    assert (batch.events, batch.more, batch.restarted) == ((), False, False)


@pytest.mark.parametrize("cursor", ["x", ":", "0123456789abcdef:2", "²:²", "a:b:c"])
def test_a_foreign_cursor_begins_anew(store: Store, cursor: str) -> None:
    store.append([event(1)])
    batch = store.events_since(cursor)
    assert (batch.events, batch.restarted) == ((event(1),), True)


def test_a_cursor_survives_reopening(root: Path) -> None:
    with opened(root) as store:
        store.append([event(1), event(2)])
        cursor = store.events_since("", limit=1).cursor
    with opened(root) as store:
        assert store.events_since(cursor).events == (event(2),)


def test_reopening_reads_only_logs_that_changed(root: Path) -> None:
    with opened(root) as store:
        store.append([event(1), event(1, sid=OTHER_SID)])
    outlined: list[str] = []

    def noting(events: list[Event]) -> Outline:
        outlined.append(events[0].sid)
        return Outline()

    Store.open(root, noting).close()
    assert outlined == []
    with log_path(root).open("ab") as file:
        file.write(b"{}\n")
    Store.open(root, noting).close()
    assert outlined == [SID]


@pytest.mark.parametrize(
    "spoil",
    [
        lambda path: path.unlink(),
        lambda path: path.write_bytes(b"not a database, but long enough to look like one" * 40),
        lambda path: path.write_bytes(b""),
        lambda path: path.write_bytes(path.read_bytes()[:5000]),
    ],
    ids=["missing", "something else", "empty", "cut short"],
)
def test_a_lost_or_damaged_index_is_made_anew(root: Path, spoil: "object") -> None:
    with opened(root) as store:
        store.append([event(1, site="Gym"), event(1, sid=OTHER_SID)])
        contents = store.ask(Index.contents)
    assert callable(spoil)
    spoil(root / "index.sqlite")
    with opened(root) as store:
        assert store.ask(Index.contents) == contents
        assert outcomes(store, event(2)) == ["stored"]


def test_an_index_behind_its_logs_catches_up(root: Path) -> None:
    with opened(root) as store:
        store.append([event(1)])
        cursor = store.events_since("").cursor
    old = (root / "index.sqlite").read_bytes()
    with opened(root) as store:
        store.append([event(2), event(1, sid=OTHER_SID, site="Gym")])
        contents = store.ask(Index.contents)
    (root / "index.sqlite").write_bytes(old)
    with opened(root) as store:
        assert store.ask(Index.contents) == contents
        assert len(store.events_since(cursor).events) == 2


def test_a_session_whose_log_is_gone_is_reported(root: Path) -> None:
    with opened(root) as store:
        store.append([event(1)])
    log_path(root).unlink()
    with opened(root) as store:
        assert store.sessions() == []
        assert [SID in problem for problem in store.problems()] == [True]


def test_an_outline_that_fails_keeps_nothing_from_being_stored(root: Path) -> None:
    def failing(_events: list[Event]) -> Outline:
        raise ValueError("cannot tell")

    with Store.open(root, failing) as store:
        assert outcomes(store, event(1)) == ["stored"]
        assert [item.sid for item in store.sessions()] == [SID]
        assert ["cannot tell" in problem for problem in store.problems()] == [True]


def test_only_one_may_write_and_the_message_names_it(root: Path) -> None:
    with opened(root):
        with pytest.raises(StoreBusyError, match=r"process \d+ writes to it") as caught:
            opened(root)
        assert f"process {caught.value.pid}" in str(caught.value)
    opened(root).close()


def test_reading_needs_no_lock_and_touches_nothing(root: Path) -> None:
    with opened(root) as writer:
        writer.append([event(1)])
        before = {path: path.stat().st_mtime_ns for path in root.rglob("*")}
        with opened(root, write=False) as reader:
            assert reader.events(SID) == [event(1)]
            assert [item.sid for item in reader.sessions()] == [SID]
            with pytest.raises(ReadOnlyError):
                reader.append([event(2)])
            with pytest.raises(ReadOnlyError):
                reader.rebuild_index()
        assert {path: path.stat().st_mtime_ns for path in root.rglob("*")} == before


def test_reading_a_store_that_is_not_there_says_so(tmp_path: Path) -> None:
    with pytest.raises(StoreError, match="There is no data folder"):
        opened(tmp_path / "nowhere", write=False)
    assert not (tmp_path / "nowhere").exists()


def test_a_closed_store_takes_nothing(root: Path) -> None:
    store = opened(root)
    store.close()
    store.close()
    with pytest.raises(StoreStoppedError, match="closed"):
        store.append([event(1)])


def test_threads_may_append_to_one_session_at_once(store: Store) -> None:
    failures: list[BaseException] = []

    def write(dev: str) -> None:
        try:
            for n in range(1, 41):
                assert outcomes(store, event(n, dev=dev)) == ["stored"]
                store.sessions("x")
                store.events(SID)
        except BaseException as error:  # noqa: BLE001  a thread's failure must reach the test
            failures.append(error)

    threads = [Thread(target=write, args=(dev,)) for dev in ("a", "b", "c")]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert failures == []
    assert len(store.events(SID)) == 120
    assert len(store.events_since("", limit=1000).events) == 120
    for dev in ("a", "b", "c"):
        assert [e.seq for e in store.events(SID) if e.dev == dev] == list(range(1, 41))


def test_more_sessions_than_are_kept_in_memory(root: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("lowside.store.store.KEPT_LOGS", 3)
    with opened(root) as store:
        for n in range(1, 9):
            store.append([event(1, sid=ulid(i)) for i in range(10, 10 + n)])
            store.append([event(2, sid=ulid(10 + n - 1))])
        assert all(len(store.events(ulid(i))) == 2 for i in range(10, 18))
