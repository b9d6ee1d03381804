"""Phones' questions that are answered together: each gets its own answer, whatever another's is."""

import json
from collections.abc import Callable, Iterator, Sequence
from concurrent.futures import Future, ThreadPoolExecutor
from contextlib import contextmanager
from pathlib import Path
from threading import Event as Signal
from typing import TYPE_CHECKING, Any

import pytest
from store_cases import event, ulid
from waiting import until
from website import Site, open_site

from lowside.store import EventStore, NotNowError, Store, durable, event_to_json
from lowside.store.postgres.store import PostgresStore
from lowside.web.phone import straight, sync
from lowside.web.phone.straight import Straight

if TYPE_CHECKING:
    from lowside.core.handbook.handbook import Handbook

SIDS = [ulid(n) for n in range(10, 16)]
TOGETHER = 5


@pytest.fixture
def site(place: Path | str, handbook: "Handbook") -> Iterator[Site]:
    with open_site(place, handbook) as site:
        yield site


def body(number: int, **more: Any) -> bytes:
    """A question of the phone with this number, with one entry of a session of its own."""
    one = event_to_json(event(1, sid=SIDS[number], dev=f"phone-{number}"))
    asked = {"v": 1, "dev": f"phone-{number}", "cursor": "", "events": [one], **more}
    return json.dumps(asked).encode()


def hold_saves(site: Site, patch: pytest.MonkeyPatch, hold: Callable[[], None]) -> None:
    """In the middle of each save it does this."""
    where: tuple[object, str] = (PostgresStore, "_write")
    if isinstance(site.store, Store):
        where = (durable, "grow")
    goes_on = getattr(*where)

    def slow(*told: Any) -> object:
        hold()
        return goes_on(*told)

    patch.setattr(*where, slow)


def ask(site: Site, asked: bytes) -> tuple[int, dict[str, Any]]:
    headers = {"Content-Type": "application/json"}
    response = site.send("POST", "/api/sync", content=asked, headers=headers)
    return response.status_code, response.json()


@contextmanager
def asked_together(
    site: Site, monkeypatch: pytest.MonkeyPatch, asked: Sequence[bytes]
) -> Iterator[list[Future[tuple[int, dict[str, Any]]]]]:
    """These questions are answered in one go, when the block begins."""
    monkeypatch.setattr(straight, "THREADS", 1)
    reached, goes_on = Signal(), Signal()

    def hold() -> None:
        if not reached.is_set():
            reached.set()
            assert goes_on.wait(60)

    taken: list[int] = []
    answered = straight._answered

    def counted(some: Any, needed: Any) -> Any:
        taken.append(len(some))
        return answered(some, needed)

    way: list[Straight] = []
    begin = Straight.__call__

    async def noted(self: Straight, *told: Any) -> None:
        way.append(self)
        await begin(self, *told)

    hold_saves(site, monkeypatch, hold)
    monkeypatch.setattr(straight, "_answered", counted)
    monkeypatch.setattr(Straight, "__call__", noted)
    with ThreadPoolExecutor(10) as pool:
        first = pool.submit(ask, site, body(0))
        assert reached.wait(60)
        waiting = [pool.submit(ask, site, one) for one in asked]
        until(lambda: way[0]._waiting.qsize() == len(asked), "all wait")
        goes_on.set()
        assert first.result(60)[0] == 200
        for one in waiting:
            one.result(60)
        assert taken[:2] == [1, len(asked)]
        yield waiting


def outcomes(found: Future[tuple[int, dict[str, Any]]]) -> list[str]:
    status, answer = found.result(60)
    assert status == 200, answer
    return [verdict["outcome"] for verdict in answer["verdicts"]]


def test_each_is_told_what_became_of_its_own_entries(
    site: Site, monkeypatch: pytest.MonkeyPatch
) -> None:
    asked = [body(n) for n in range(1, TOGETHER)]
    with asked_together(site, monkeypatch, [*asked, b"{", body(1)]) as found:
        first, *others, wrong, again = found
        assert [outcomes(one) for one in others] == [["stored"]] * (TOGETHER - 2)
        assert wrong.result()[0] == 400
        # Their threads do not say which of the two came first.
        assert sorted([*outcomes(first), *outcomes(again)]) == ["already", "stored"]
    for number in range(TOGETHER):
        assert len(site.store.events(SIDS[number])) == 1


def test_whoever_asks_together_is_sent_what_the_others_brought(
    site: Site, monkeypatch: pytest.MonkeyPatch
) -> None:
    cursor = ask(site, b'{"v": 1, "dev": "phone-0", "cursor": "", "events": []}')[1]["cursor"]
    asked = [body(n, cursor=cursor) for n in range(1, TOGETHER)]
    with asked_together(site, monkeypatch, asked) as found:
        for number, one in enumerate(found, start=1):
            sent = {entry["sid"] for entry in one.result()[1]["events"]}
            assert sent == set(SIDS[:TOGETHER]) - {SIDS[number]}


def test_a_mistake_with_one_keeps_no_other_out(site: Site, monkeypatch: pytest.MonkeyPatch) -> None:
    near = sync.near

    def fails_for_the_second(store: EventStore, events: Sequence[Any]) -> list[str]:
        if any(one.sid == SIDS[2] for one in events):
            raise ValueError("a mistake of ours")
        return near(store, events)

    monkeypatch.setattr(sync, "near", fails_for_the_second)
    with asked_together(site, monkeypatch, [body(n) for n in range(1, TOGETHER)]) as found:
        assert [one.result()[0] for one in found] == [200, 500, 200, 200]
    for number in range(TOGETHER):
        assert len(site.store.events(SIDS[number])) == 1


def test_when_the_disk_refuses_one_the_others_are_saved(
    site: Site, monkeypatch: pytest.MonkeyPatch
) -> None:
    save = Store._save_at_once
    write = PostgresStore._write

    def refuses_the_second(store: Store, group: Sequence[Any]) -> None:
        if any(one.sid == SIDS[2] for each in group for one in each.events):
            raise NotNowError("The disk is full.")
        save(store, group)

    def rolls_the_second_back(store: PostgresStore, session: Any, pending: Any, views: Any) -> None:
        write(store, session, pending, views)
        if SIDS[2] in views:
            raise NotNowError("The disk is full.")

    monkeypatch.setattr(Store, "_save_at_once", refuses_the_second)
    monkeypatch.setattr(PostgresStore, "_write", rolls_the_second_back)
    with asked_together(site, monkeypatch, [body(n) for n in range(1, TOGETHER)]) as found:
        assert [one.result()[0] for one in found] == [200, 503, 200, 200]
        assert found[1].result()[1] == {"error": "The disk is full."}
    assert [len(site.store.events(sid)) for sid in SIDS[:TOGETHER]] == [1, 1, 0, 1, 1]


def test_a_question_that_takes_too_long_is_answered_all_the_same(
    site: Site, monkeypatch: pytest.MonkeyPatch
) -> None:
    goes_on = Signal()

    def hold() -> None:
        assert goes_on.wait(60)

    begin = Straight.__call__

    async def soon_over(self: Straight, *told: Any) -> None:
        patch.setattr(self, "_seconds", 0.1)  # until the context ends, not for the next request
        await begin(self, *told)

    with monkeypatch.context() as patch:
        hold_saves(site, patch, hold)
        patch.setattr(Straight, "__call__", soon_over)
        headers = {"Content-Type": "application/json"}
        response = site.send("POST", "/api/sync", content=body(1), headers=headers)
        assert (response.status_code, "given up" in response.text) == (503, True)
        goes_on.set()
    until(lambda: len(site.store.events(SIDS[1])) == 1, "it is saved all the same")
    assert ask(site, body(1))[1]["verdicts"][0]["outcome"] == "already"
