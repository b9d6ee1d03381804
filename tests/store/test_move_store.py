"""`lowside move-store`: what it copies, that it goes on where it stopped, and what it refuses."""

from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import pytest
from office_cases import events, visit
from photo_cases import facts_of, photo
from store_cases import OTHER_SID, SID, event, log_path
from website import PROCEDURE, Site, open_site

from lowside.cli import main
from lowside.core.handbook.handbook import Handbook
from lowside.core.session.photos import PHOTO_KIND
from lowside.moving import move
from lowside.outlining import outline
from lowside.store import EventStore, Outcome, StoreError
from lowside.store.answers import Answers
from lowside.store.choosing import open_store
from lowside.web.access.people import Role

pytestmark = pytest.mark.xdist_group("postgres")

PERSON = "01K0000000000000000000PERS"


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
