"""After a restore phones give back what they were sent, also what others and the server wrote."""

import hmac
import json
import shutil
from base64 import urlsafe_b64encode
from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest
from store_cases import event, ulid
from website import DEVICE, Site, open_site

from lowside.core.handbook.handbook import Handbook
from lowside.core.session.events import writer_of
from lowside.core.session.fold import fold
from lowside.moving import move
from lowside.outlining import outline
from lowside.store.check import check
from lowside.store.codec import canonical_event, event_to_json
from lowside.store.device import run_name
from lowside.web.clock import Clock, new_ulid
from lowside.web.phone.proofs import proofs_of
from lowside.web.phone.sync import PRACTICE

NOW = Clock().now().at
SID = ulid(1, NOW)
INA, OLE = "01KTESTPERS0N0000000000001", "01KTESTPERS0N0000000000002"


def ask(site: Site, events: Sequence[Any] = (), cursor: str = "", **more: Any) -> dict[str, Any]:
    asked = {"v": 1, "dev": "phone", "cursor": cursor, "events": list(events), **more}
    headers = {"Content-Type": "application/json"}
    response = site.send("POST", "/api/sync", json.dumps(asked).encode(), headers)
    assert response.status_code == 200, response.text
    answer: dict[str, Any] = response.json()
    return answer


def outcomes(answer: dict[str, Any]) -> list[str]:
    return [verdict["outcome"] for verdict in answer["verdicts"]]


def run_of(site: Site) -> Site:
    """As a start of the server makes it: with a name of its own for this run."""
    site.desk.device = run_name(DEVICE, new_ulid(NOW))
    return site


@pytest.fixture
def other_place(place: Path | str, tmp_path: Path, request: pytest.FixtureRequest) -> Path | str:
    """For another store of the same kind."""
    if isinstance(place, Path):
        return tmp_path / "other"
    return str(request.getfixturevalue("new_shop")())


def copy_back(copy: Path, data: Path) -> None:
    shutil.rmtree(data)
    shutil.copytree(copy, data)


def test_a_restored_server_gets_back_from_a_phone_what_its_own_pages_wrote(
    tmp_path: Path, handbook: Handbook
) -> None:
    data, copy = tmp_path / "data", tmp_path / "copy"
    with open_site(data, handbook) as first:
        sid = run_of(first).start()
        ask(first)  # the key is there now, as it is when a phone is paired
    shutil.copytree(data, copy)
    with open_site(data, handbook) as second:
        run_of(second).fill(f"/s/{sid}/form/note", "note", {"text": "Written on the server"})
        form = second.get(f"/office/session/{sid}").form("/comment")
        assert second.post(form.action, form.values | {"comment": "From the office"}).status == 303
        pulled = ask(second)
        before = second.events(sid)
        assert len(before) == 3
    copy_back(copy, data)
    with open_site(data, handbook) as third:
        run_of(third)
        assert len(third.events(sid)) == 1
        # Its own pages go on before the phone is back.
        third.fill(f"/s/{sid}/form/note", "note", {"text": "Written after the restore"})
        again = ask(third, cursor=pulled["cursor"])
        assert again["restarted"]
        given = ask(third, pulled["events"], again["cursor"], proofs=pulled["proofs"])
        assert sorted(outcomes(given)) == ["already", "stored", "stored"]
        assert {e.eid for e in third.events(sid)} > {e.eid for e in before}
        assert len(third.events(sid)) == 4
        assert third.store.quarantined() == []
        phone_has = {e["eid"] for e in (*pulled["events"], *again["events"], *given["events"])}
        assert phone_has == {e.eid for e in third.events(sid)}
    assert check(data, outline).problems == ()


def test_an_entry_that_was_changed_is_not_taken_back(
    place: Path | str, other_place: Path | str, handbook: Handbook
) -> None:
    with open_site(place, handbook) as site:
        ask(site)  # the key is there now
    assert move(place, other_place).problems == ()
    with open_site(place, handbook) as site:
        sid = run_of(site).start()
        pulled = ask(site)
        sent, proof = pulled["events"][0], pulled["proofs"][0]
    with open_site(other_place, handbook) as other:
        for change in (
            {"seq": 2},
            {"data": {"procedure": "other"}},
            {"kind": "office.signed_off"},
            {"sid": ulid(9)},
        ):
            answer = ask(other, [sent | change], proofs=[proof])
            assert outcomes(answer) == ["refused"], change
        for wrong in ("", "A" * 22, proof[:-1], "é" * 22):
            assert outcomes(ask(other, [sent], proofs=[wrong])) == ["refused"], wrong
        assert outcomes(ask(other, [sent])) == ["refused"], "nobody writes under the server's name"
        assert outcomes(ask(other, [sent], proofs=[proof, proof, proof])) == ["stored"]
        assert len(other.events(sid)) == 1


def test_an_entry_of_practice_is_not_taken_back(place: Path | str, handbook: Handbook) -> None:
    with open_site(place, handbook) as site:
        ask(site)  # the key is there now
        key = site.app.state.pairing.key_for_proofs()
        practice, plain = event(1, practice="yes"), event(1, sid=ulid(9))
        proofs = proofs_of([practice, plain], key)
        answer = ask(site, [event_to_json(practice), event_to_json(plain)], proofs=proofs)
        assert [one["reason"] for one in answer["verdicts"]] == [PRACTICE, ""]


def test_another_server_s_proof_says_nothing(
    place: Path | str, other_place: Path | str, handbook: Handbook
) -> None:
    with open_site(place, handbook) as one, open_site(other_place, handbook) as two:
        run_of(one).start()
        pulled = ask(one)
        ask(two)
        assert outcomes(ask(two, pulled["events"], proofs=pulled["proofs"])) == ["refused"]


def test_without_a_key_nothing_is_proven_and_sync_goes_on(
    tmp_path: Path, handbook: Handbook
) -> None:
    with open_site(tmp_path / "data", handbook) as site:
        (tmp_path / "data" / "access.key").write_bytes(b"x" * 32)
        (tmp_path / "data" / "access.key").chmod(0o644)
        sid = run_of(site).start()
        pulled = ask(site)
        assert (len(pulled["events"]), pulled["proofs"]) == (1, [""])
        sent = [pulled["events"][0] | {"seq": 2}]
        assert outcomes(ask(site, sent, proofs=[""])) == ["refused"]
        assert len(site.events(sid)) == 1


@pytest.mark.parametrize("proofs", ["x", [1], ["A" * 23], [""] * 101, None])
def test_proofs_that_cannot_be_are_refused(
    tmp_path: Path, handbook: Handbook, proofs: object
) -> None:
    with open_site(tmp_path / "data", handbook) as site:
        body = {"v": 1, "dev": "phone", "cursor": "", "events": [], "proofs": proofs}
        headers = {"Content-Type": "application/json"}
        answer = site.send("POST", "/api/sync", json.dumps(body).encode(), headers)
        assert answer.status_code == 400
        assert answer.json() == {"error": "A proof is not one this server gave."}


def test_each_run_of_the_server_writes_under_a_name_of_its_own() -> None:
    names = {run_name(DEVICE, new_ulid(NOW)) for _ in range(100)}
    assert len(names) == 100
    assert {writer_of(name) for name in names} == {DEVICE}
    assert all(len(name) <= 64 for name in names)


def test_two_runs_of_the_server_are_one_writer() -> None:
    """A job corrected after a restart is no contradiction between two phones."""
    job = {"site": "Gym", "unit_label": "RTU-1", "technician": "Ina", "elevation": "0"}
    job["elevation_unit"] = "ft"

    def flags(first: str, second: str) -> tuple[str, ...]:
        started = replace(event(1, dev=first, kind="session.started"), data={"procedure": "x"})
        one = replace(event(2, dev=first, kind="job.set"), data=job)
        two = replace(event(3, dev=second, kind="job.set"), data=job | {"site": "Hall"})
        return fold([started, one, two]).flags

    assert flags(DEVICE + ".RUN1", DEVICE + ".RUN2") == ()
    assert any("Two phones" in flag for flag in flags("phone-1", "phone-2"))


def test_a_proof_is_the_same_in_every_version() -> None:
    made = event(1, text="ß")
    digest = hmac.digest(b"k" * 32, b"entry 1\n" + canonical_event(made), "sha256")
    expected = urlsafe_b64encode(digest[:16]).rstrip(b"=").decode()
    assert proofs_of([made], b"k" * 32) == [expected]
