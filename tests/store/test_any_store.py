"""What one may rely on from every store: verdicts, lists, cursors, quarantine.

Each test runs on the store in files and on the one in PostgreSQL.
"""

import hashlib
from collections.abc import Callable, Iterator, Sequence
from dataclasses import replace
from pathlib import Path
from threading import Thread

import pytest
from store_cases import OTHER_SID, SID, START, arrived, event, outline, ulid

from lowside.core.session.events import Event
from lowside.store import (
    BadEvent,
    EventStore,
    Outcome,
    Outline,
    StoreStoppedError,
    event_from_json,
    lists,
)
from lowside.store.check import check
from lowside.store.choosing import open_store
from lowside.store.outline import (
    CylinderRow,
    CylinderRules,
    Derived,
    RowRules,
    RuledOutliner,
    unit_key,
)
from lowside.store.photos import BadPhotoError
from lowside.store.postgres.checking import check_database
from lowside.store.selection import Selection

Opening = Callable[[], EventStore]
"""Opens the test's store, as often as it likes."""


@pytest.fixture
def opening(place: Path | str) -> Opening:
    return lambda: open_store(place, outline)


@pytest.fixture
def store(opening: Opening) -> Iterator[EventStore]:
    store = opening()
    yield store
    store.close()


def outcomes(store: EventStore, *events: Event | BadEvent) -> list[str]:
    return [str(verdict.outcome) for verdict in store.append(events)]


def test_events_are_there_in_the_order_they_came(store: EventStore) -> None:
    events = [event(1, text="118"), event(2, dev="tablet"), event(2)]
    assert outcomes(store, *events) == ["stored"] * 3
    assert store.events(SID) == events
    assert store.events(OTHER_SID) == []


def test_events_are_there_after_reopening(opening: Opening) -> None:
    events = [event(1, text="é “54,5” \u2028 \x00 \U0001f9ca"), event(2)]
    with opening() as store:
        store.append(events)
    with opening() as store:
        assert store.events(SID) == events
        assert store.problems() == []


def test_a_repeat_within_one_batch_is_stored_once(store: EventStore) -> None:
    assert outcomes(store, event(1), event(1)) == ["stored", "already"]
    assert store.events(SID) == [event(1)]


@pytest.mark.parametrize(
    "other",
    [event(1, text="b"), replace(event(1, text="a"), at=START), event(1, kind="x", text="a")],
)
def test_same_number_with_other_content_is_kept_aside(opening: Opening, other: Event) -> None:
    with opening() as store:
        store.append([event(1, text="a")])
        assert outcomes(store, other) == ["quarantined"]
    with opening() as store:
        assert store.events(SID) == [event(1, text="a")]
        assert [item.event for item in store.quarantined()] == [other]
        assert "other content" in store.quarantined()[0].reason


def test_one_tap_that_came_by_two_ways_is_already_stored_without_a_gap(
    store: EventStore,
) -> None:
    store.append([event(1, text="a")])
    same_tap = event(1, dev="server", eid=event(1).eid, text="a")
    assert outcomes(store, same_tap) == ["already"]
    assert store.next_seq(SID, "server") == 2
    assert [e.dev for e in arrived(store, "").events] == ["phone", "server"]


def test_an_event_id_used_for_something_else_is_kept_aside(store: EventStore) -> None:
    store.append([event(1, text="a")])
    assert outcomes(store, event(2, eid=event(1).eid, text="b")) == ["quarantined"]
    assert store.events(SID) == [event(1, text="a")]
    assert store.next_seq(SID, "phone") == 3


def test_the_same_event_id_in_two_sessions_is_two_events(store: EventStore) -> None:
    assert outcomes(store, event(1), event(1, sid=OTHER_SID, eid=event(1).eid)) == ["stored"] * 2


def test_one_bad_event_never_blocks_the_rest(store: EventStore) -> None:
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


def test_an_unknown_kind_and_schema_are_kept_verbatim(store: EventStore) -> None:
    future = replace(event(1, kind="hologram.shown", angle="12 “°”"), schema=7)
    assert outcomes(store, future) == ["stored"]
    assert store.events(SID) == [future]


def test_numbers_go_on_for_each_device_and_session(store: EventStore) -> None:
    assert store.next_seq(SID, "phone") == 1
    store.append([event(1), event(2), event(1, dev="tablet"), event(1, sid=OTHER_SID)])
    assert store.next_seq(SID, "phone") == 3
    assert store.next_seq(SID, "tablet") == 2
    assert store.next_seq(OTHER_SID, "phone") == 2


def test_the_latest_clock_value_survives_reopening(opening: Opening) -> None:
    with opening() as store:
        assert store.last_hlc() == ""
        store.append([event(9), event(2), event(4, sid=OTHER_SID)])
        assert store.last_hlc() == event(9).hlc
    with opening() as store:
        assert store.last_hlc() == event(9).hlc


def test_sessions_are_listed_newest_first_and_searched_by_words(store: EventStore) -> None:
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


def of_unit(store: EventStore, other_than: str = "", limit: int = 9) -> list[str]:
    key = unit_key("Gym", "Roof")
    return store.ask(lambda tables: tables.sids_of_unit(key, other_than, limit))


def test_a_unit_s_sessions_are_found_newest_first(store: EventStore) -> None:
    store.append(
        [
            event(9, cylinder="C-12", site="Gym", unit_label="Roof"),
            event(1, sid=OTHER_SID, cylinder=" c-12 ", site="gym", unit_label="roof "),
            event(1, sid=ulid(3), cylinder="C-1", site="Gym", unit_label="Cellar"),
        ]
    )
    assert of_unit(store) == [SID, OTHER_SID]
    assert of_unit(store, limit=1) == [SID]
    assert of_unit(store, other_than=SID, limit=1) == [OTHER_SID]


def test_practice_is_listed_only_where_it_is_asked_for(store: EventStore) -> None:
    store.append(
        [
            event(1, cylinder="C-12", site="Gym", unit_label="Roof"),
            event(1, sid=OTHER_SID, cylinder="C-12", site="Gym", unit_label="Roof", practice="yes"),
        ]
    )
    assert {item.sid for item in store.sessions()} == {SID, OTHER_SID}
    assert [item.sid for item in store.sessions(practice=False)] == [SID]
    assert [item.sid for item in store.sessions(practice=True)] == [OTHER_SID]
    assert of_unit(store) == [SID]


def test_a_cursor_yields_everything_once_in_order_of_arrival(store: EventStore) -> None:
    events = [event(n, sid=(SID, OTHER_SID)[n % 2]) for n in range(1, 12)]
    store.append(events[:7])
    seen: list[Event] = []
    cursor = ""
    for _ in range(3):
        batch = arrived(store, cursor, limit=3)
        seen.extend(batch.events)
        cursor = batch.cursor
        assert not batch.restarted
    assert not batch.more
    store.append(events[7:])
    batch = arrived(store, cursor)
    assert [*seen, *batch.events] == [
        *(e for e in events[:7] if e.sid == OTHER_SID),
        *(e for e in events[:7] if e.sid == SID),
        *(e for e in events[7:] if e.sid == SID),
        *(e for e in events[7:] if e.sid == OTHER_SID),
    ]
    assert arrived(store, batch.cursor).events == ()


def test_a_follower_skips_practice(store: EventStore) -> None:
    lesson = [event(n, sid=OTHER_SID, practice="yes") for n in range(1, 1200)]
    store.append(lesson)
    store.append([event(1), event(2)])
    batch = arrived(store, "", limit=1)
    assert (batch.events, batch.more) == ((event(1),), True)
    batch = arrived(store, batch.cursor, limit=1)
    assert (batch.events, batch.more) == ((event(2),), False)
    store.append([event(1200, sid=OTHER_SID)])
    batch = arrived(store, batch.cursor)
    assert (batch.events, batch.more, batch.restarted) == ((), False, False)


@pytest.mark.parametrize("cursor", ["x", ":", "0123456789abcdef:2", "²:²", "a:b:c"])
def test_a_foreign_cursor_begins_anew(store: EventStore, cursor: str) -> None:
    store.append([event(1)])
    batch = arrived(store, cursor)
    assert (batch.events, batch.restarted) == ((event(1),), True)


def test_a_cursor_survives_reopening(opening: Opening) -> None:
    with opening() as store:
        store.append([event(1), event(2)])
        cursor = arrived(store, "", limit=1).cursor
    with opening() as store:
        assert arrived(store, cursor).events == (event(2),)


def test_a_closed_store_takes_nothing(opening: Opening) -> None:
    store = opening()
    store.close()
    store.close()
    with pytest.raises(StoreStoppedError, match="closed"):
        store.append([event(1)])


def test_threads_may_append_to_one_session_at_once(store: EventStore) -> None:
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
    assert len(arrived(store, "", limit=1000).events) == 120
    for dev in ("a", "b", "c"):
        assert [e.seq for e in store.events(SID) if e.dev == dev] == list(range(1, 41))


def test_a_filter_by_name_does_not_mind_capitals(store: EventStore) -> None:
    store.append([event(1, technician=" Ines"), event(1, sid=OTHER_SID, technician="Inesa")])
    for typed in ("INES", "ines "):
        found = lists.selected(store, Selection(technician=typed), "")
        assert [one.sid for one, _ in found] == [SID]


def test_a_photo_is_kept_once_under_the_name_of_its_bytes(opening: Opening) -> None:
    content = b"\xff\xd8 some picture \xff\xd9"
    name = hashlib.sha256(content).hexdigest()
    with opening() as store:
        assert not store.photos.has(SID, name)
        assert store.photos.read(SID, name) is None
        with pytest.raises(BadPhotoError, match="changed on its way"):
            store.photos.keep(SID, name, content + b"x")
        assert store.photos.keep(SID, name, content)
        assert not store.photos.keep(SID, name, content)
    with opening() as store:
        assert store.photos.has(SID, name)
        assert store.photos.read(SID, name) == content
        assert not store.photos.has(OTHER_SID, name)
        for sid, other in ((SID, "../x"), ("../" + SID, name), (SID, name.upper())):
            with pytest.raises(ValueError, match="not a"):
                store.photos.keep(sid, other, content)


def test_a_cylinder_that_cannot_be_made_keeps_no_record_from_being_kept(
    place: Path | str,
) -> None:
    """It is in no list then, and somebody is told."""

    def using(events: Sequence[Event]) -> Outline:
        used = [Derived("use", one.data["text"], one.data["text"]) for one in events]
        return replace(outline(events), derived=tuple(used))

    def make(uses: Sequence[str], _told: Sequence[str]) -> CylinderRow | None:
        if not uses:
            return None
        return CylinderRow(1, "", "", "", None, None, "all", str(int(uses[-1])))

    rules = RowRules(version="1", cylinders=CylinderRules("use", 9, "told", make))
    with open_store(place, RuledOutliner(using, lambda: rules)) as store:
        sent = [event(1, text="7"), event(2, text="odd"), event(3, text="8")]
        assert [each.outcome for each in store.append(sent)] == [Outcome.STORED] * 3
        assert lists.cylinders(store, "all", 0, 1, 9).values == ["8", "7"]
        (problem,) = store.problems()
        assert "Cylinder odd is in no list" in problem
        assert len(store.events(SID)) == 3
        store.rebuild_index()
        assert lists.cylinders(store, "all", 0, 1, 9).values == ["8", "7"]
    checked = check_database if isinstance(place, str) else check
    (problem,) = checked(place, RuledOutliner(using, lambda: rules)).problems  # type: ignore[operator]
    assert "Cylinder odd is in no list" in problem
