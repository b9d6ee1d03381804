"""`lowside move-store`: what it copies, that it goes on where it stopped, and what it refuses."""

import json
from collections.abc import Callable, Sequence
from concurrent.futures import Future, ThreadPoolExecutor
from dataclasses import replace
from pathlib import Path

import psycopg
import pytest
from office_cases import events, visit
from photo_cases import facts_of, photo
from postgres_cluster import Cluster
from store_cases import OTHER_SID, SID, event, log_path, ulid
from waiting import until
from website import PROCEDURE, Site, open_site

from lowside.cli import main
from lowside.core.handbook.handbook import Handbook
from lowside.core.session.events import Event
from lowside.core.session.photos import PHOTO_KIND
from lowside.moving import move
from lowside.outlining import outline
from lowside.store import EventStore, Outcome, StoreError, event_to_json
from lowside.store.answers import Answers
from lowside.store.choosing import open_store
from lowside.store.photos import photo_path
from lowside.web.access.people import Role

pytestmark = pytest.mark.xdist_group("postgres")

PERSON = "01K0000000000000000000PERS"
PHONES = 3
COPIES = 3


def filled(site: Site) -> str:
    """Sessions, something set aside, a paired phone and a procedure; the phone's token."""
    site.store.append(events(visit(1, "2026-01-10", 2.0), visit(2, "2026-05-10", 1.0)))
    site.store.append([event(1, text="a\x00b"), event(2), event(1, text="rival")])
    form = site.get("/office/procedures").form("/copy")
    assert site.post(form.action, {"source": PROCEDURE, "title": "Our way"}).status == 303
    pairing = site.app.state.pairing
    pairing.add(PERSON, "Ina", Role.FIELD)
    return str(pairing.pair(pairing.make_code(PERSON), "Red phone", "192.0.2.7"))


def shown(store: EventStore) -> tuple[object, ...]:
    rivals = [item.event for item in store.quarantined()]
    sids = sorted(store.ask(Answers.sids_of_arrivals))
    return (sids, [store.events(sid) for sid in sids], rivals, store.last_hlc())


def test_a_shop_goes_into_a_database_and_back_and_its_phone_stays_paired(
    tmp_path: Path, new_shop: Callable[[], str], handbook: Handbook
) -> None:
    home, address, back = tmp_path / "data", new_shop(), tmp_path / "back"
    with open_site(home, handbook) as site:
        token = filled(site)
        named = facts_of(photo(), photo_kind="nameplate")
        attached = replace(event(3), kind=PHOTO_KIND, data=named)
        site.store.append([attached])
        site.store.photos.keep(SID, named["photo"], photo())
        before = shown(site.store)
        writer = site.app.state.pairing.key_for_proofs()
        first = move(home, address)  # beside the server, which goes on
        assert (first.problems, first.set_aside) == ((), 1)
        assert first.copied == first.entries > 20
        site.store.append([event(4), event(1, sid=OTHER_SID)])
        before = shown(site.store)
    again = move(home, address)
    assert (again.copied, again.problems) == (2, ())
    assert move(home, address).copied == 0
    assert main(["move-store", address, str(back)]) == 0
    for place in (address, back):
        with open_site(place, handbook) as site:
            assert site.store.photos.read(SID, named["photo"]) == photo()
            assert shown(site.store) == before
            assert site.app.state.pairing.holder(token).person.name == "Ina"
            assert site.app.state.pairing.key_for_proofs() == writer
            assert "Our way" in site.get("/office/procedures").text
            assert site.get("/office").text.count("Mill Lane") >= 1
    assert (back / "access.key").read_bytes() == (home / "access.key").read_bytes()
    assert (back / "people.jsonl").read_bytes() == (home / "people.jsonl").read_bytes()
    assert log_path(back).read_bytes() == log_path(home).read_bytes()


def test_a_move_that_was_stopped_goes_on(
    tmp_path: Path, new_shop: Callable[[], str], monkeypatch: pytest.MonkeyPatch
) -> None:
    home, address = tmp_path / "data", new_shop()
    with open_store(home, outline) as store:
        store.append(events(visit(1, "2026-01-10"), visit(2, "2026-02-10")))
        whole = shown(store)

    def stop(done: int, _of: int) -> None:
        if done == 1:
            raise KeyboardInterrupt

    with pytest.raises(KeyboardInterrupt):
        move(home, address, stop)
    with open_store(address, outline) as store:
        assert len(shown(store)[0]) == 1  # type: ignore[arg-type]
    found = move(home, address)
    assert (found.problems, found.copied) == ((), found.entries // 2)
    with open_store(address, outline) as store:
        assert shown(store) == whole


def test_a_difference_is_told_and_nothing_of_the_target_is_lost(
    tmp_path: Path, new_shop: Callable[[], str], capsys: pytest.CaptureFixture[str]
) -> None:
    home, address = tmp_path / "data", new_shop()
    with open_store(home, outline) as store:
        store.append([event(1, text="118")])
    with open_store(address, outline) as store:
        store.append([event(1, text="181"), event(1, sid=OTHER_SID)])
    assert main(["move-store", str(home), address]) == 1
    assert f"Session {SID} is not the same in both stores." in capsys.readouterr().err
    with open_store(address, outline) as store:
        assert store.events(SID) == [event(1, text="181")]
        assert [item.event for item in store.quarantined()] == [event(1, text="118")]
        assert store.append([event(2)])[0].outcome is Outcome.STORED


def test_another_shop_is_not_filled_into(
    tmp_path: Path, new_shop: Callable[[], str], handbook: Handbook
) -> None:
    home, address = tmp_path / "data", new_shop()
    for place in (home, address):
        with open_site(place, handbook) as site:
            site.app.state.pairing.add(PERSON, f"Of {type(site.store).__name__}", Role.FIELD)
    with open_store(home, outline) as store:
        store.append([event(1)])
    with pytest.raises(StoreError, match="belongs to another shop"):
        move(home, address)
    with open_store(address, outline) as store:
        assert store.events(SID) == []


@pytest.mark.parametrize("is_into_database", [True, False])
def test_a_shop_is_copied_while_its_phones_go_on(
    is_into_database: bool, tmp_path: Path, new_shop: Callable[[], str], handbook: Handbook
) -> None:
    """Each phone hands over entries of its own session and of one that all have; a copy waits for
    more of them after each session. What was acknowledged is in the target in the end, once."""
    folder, address = tmp_path / "data", new_shop()
    source, target = (folder, address) if is_into_database else (address, folder)
    acknowledged: list[list[Event]] = [[] for _ in range(PHONES)]
    is_over = False

    def hands_over(site: Site, number: int) -> None:
        dev = f"phone-{number}"
        seq = 0
        while not is_over:
            seq += 1
            sent = [event(seq, sid=sid, dev=dev) for sid in (SID, ulid(10 + number))]
            asked = {"v": 1, "dev": dev, "cursor": "", "events": [event_to_json(e) for e in sent]}
            headers = {"Content-Type": "application/json"}
            answer = site.send("POST", "/api/sync", json.dumps(asked).encode(), headers).json()
            assert [each["outcome"] for each in answer["verdicts"]] == ["stored"] * len(sent)
            acknowledged[number] += sent

    def goes_on(phones: Sequence["Future[None]"]) -> Callable[[], bool]:
        """Whether each phone has handed over more since this was asked."""
        before = list(map(len, acknowledged))

        def has_more() -> bool:
            assert not any(phone.done() for phone in phones)
            return all(len(a) > b for a, b in zip(acknowledged, before, strict=True))

        return has_more

    with open_site(source, handbook) as site, ThreadPoolExecutor(PHONES) as pool:
        phones = [pool.submit(hands_over, site, number) for number in range(PHONES)]
        try:
            until(goes_on(phones), "each phone handed over something")
            for _ in range(COPIES):
                found = move(source, target, lambda *_: until(goes_on(phones), "phones go on"))
                assert found.problems == ()
                assert found.copied > 0
        finally:
            is_over = True
        for phone in phones:
            phone.result()
    assert move(source, target).problems == ()
    assert move(source, target).copied == 0
    with open_store(source, outline) as one, open_store(target, outline) as other:
        assert shown(other) == shown(one)
        stored = [e for sid in other.ask(Answers.sids_of_arrivals) for e in other.events(sid)]
    expected = [one for phone in acknowledged for one in phone]
    assert sorted(e.eid for e in stored) == sorted(e.eid for e in expected)


def with_a_photo(home: Path) -> str:
    """A store with one photo; the photo's name."""
    named = facts_of(photo(), photo_kind="nameplate")
    with open_store(home, outline) as store:
        store.append([event(1), replace(event(2), kind=PHOTO_KIND, data=named)])
        store.photos.keep(SID, named["photo"], photo())
    return named["photo"]


def test_a_damaged_photo_is_told_and_the_rest_is_copied(
    tmp_path: Path, new_shop: Callable[[], str], capsys: pytest.CaptureFixture[str]
) -> None:
    home, address = tmp_path / "data", new_shop()
    name = with_a_photo(home)
    kept = photo_path(home, SID, name)
    kept.write_bytes(b"damaged")
    assert main(["move-store", str(home), address]) == 1
    told = capsys.readouterr()
    assert f"The photo {name} of session {SID} is damaged, so it was not copied." in told.err
    assert "2 entries were copied now" in told.out
    kept.unlink()  # it may be on a phone still
    assert main(["move-store", str(home), address]) == 0
    kept.write_bytes(photo())
    assert main(["move-store", str(home), address]) == 0
    kept.write_bytes(b"damaged")  # the target has it whole
    assert main(["move-store", str(home), address]) == 0
    with open_store(address, outline) as store:
        assert store.photos.read(SID, name) == photo()


def test_a_photo_that_is_damaged_in_the_target_is_copied_again(
    tmp_path: Path, new_shop: Callable[[], str], cluster: Cluster
) -> None:
    home, back, address = tmp_path / "data", tmp_path / "back", new_shop()
    name = with_a_photo(home)
    assert move(home, back).problems == move(home, address).problems == ()
    photo_path(back, SID, name).write_bytes(b"damaged")
    assert move(home, back).problems == ()
    assert photo_path(back, SID, name).read_bytes() == photo()
    with psycopg.connect(cluster.address("lowside")) as owner:
        owner.execute("UPDATE papers SET content = 'damaged' WHERE name LIKE %s", (f"%{name}%",))
    assert move(home, address).problems == ()
    with open_store(address, outline) as store:
        assert store.photos.read(SID, name) == photo()
