# ruff: noqa: F811  pytest finds a fixture by the name it was imported under
"""A device writes under its own name alone, so nobody's entry can be kept out by a forged one."""

import json
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest
from store_cases import event, ulid
from test_access import Shop, shop  # noqa: F401  a fixture
from website import DEVICE

from lowside.core.session.events import Event, hlc
from lowside.store import event_to_json
from lowside.web.access import writers
from lowside.web.access.pairing import TRIES_A_CODE, Pairing
from lowside.web.access.people import PeopleError, Role
from lowside.web.access.writers import SERVER
from lowside.web.clock import Clock

NOW = Clock().now().at
SID = ulid(1, NOW)
INA, OLE = "01KTESTPERS0N0000000000001", "01KTESTPERS0N0000000000002"


def written(seq: int, dev: str, **data: str) -> Event:
    return replace(event(seq, sid=SID, dev=dev, **data), at=NOW, hlc=hlc(NOW + seq, 0))


def sync(shop: Shop, cookie: str, *events: Event, **more: Any) -> dict[str, Any]:
    body = {"v": 1, "dev": "any", "cursor": "", "events": [event_to_json(e) for e in events]}
    headers = {"Content-Type": "application/json"}
    content = json.dumps(body | more).encode()
    if cookie:
        answer = shop.ask("POST", "/api/sync", cookie=cookie, headers=headers, content=content)
    else:
        answer = shop.owner("POST", "/api/sync", headers=headers, content=content)
    assert answer.status_code == 200, answer.text
    found: dict[str, Any] = answer.json()
    return found


def send(shop: Shop, cookie: str, *events: Event, **more: Any) -> list[str]:
    return [verdict["outcome"] for verdict in sync(shop, cookie, *events, **more)["verdicts"]]


def test_an_entry_under_another_device_s_name_is_refused_and_the_real_one_is_taken(
    shop: Shop,
) -> None:
    ina, ole = shop.token(person=INA), shop.token(person=OLE)
    assert send(shop, ina, written(1, "ina")) == ["stored"]
    assert send(shop, ole, written(2, "ina", text="forged"), written(1, "ole")) == [
        "refused",
        "stored",
    ]
    assert send(shop, ina, written(2, "ina", text="real")) == ["stored"]
    assert send(shop, "", written(3, "ina", text="forged here")) == ["refused"]


@pytest.mark.parametrize("run", ["", ".01KAV9ZZZZ123456", "."])
def test_an_entry_under_the_server_s_name_is_refused(shop: Shop, run: str) -> None:
    assert send(shop, shop.token(), written(1, DEVICE + run)) == ["refused"]
    assert send(shop, "", written(1, DEVICE + run)) == ["refused"]


def test_who_gives_back_another_s_entry_does_not_get_its_name(shop: Shop) -> None:
    ina, ole = shop.token(person=INA), shop.token(person=OLE)
    real = written(1, "ina")
    assert send(shop, ina, real) == ["stored"]
    pulled = sync(shop, ole, want=[SID])
    proof = pulled["proofs"][pulled["events"].index(event_to_json(real))]
    forged = written(2, "ina", text="forged")
    assert send(shop, ole, real, forged, proofs=[proof, proof]) == ["already", "refused"]
    assert send(shop, ole, forged, real, proofs=["", proof]) == ["refused", "already"]
    holder = shop.pairing.roll().writers["ina"]
    shop.pairing.revoke(holder, "lost")
    assert send(shop, ole, real, proofs=[proof]) == ["already"]
    assert shop.pairing.roll().writers["ina"] == holder
    ina = shop.token_again(INA)
    assert send(shop, ina, written(2, "ina")) == ["stored"]


def test_this_machine_s_own_browser_is_a_device_too(shop: Shop) -> None:
    assert send(shop, "", written(1, "here")) == ["stored"]
    assert send(shop, shop.token(), written(2, "here")) == ["refused"]
    assert send(shop, "", written(2, "here")) == ["stored"]


def test_a_phone_that_is_paired_again_sends_what_it_still_holds(shop: Shop) -> None:
    first = shop.token(person=INA)
    assert send(shop, first, written(1, "ina")) == ["stored"]
    again = shop.token_again(INA)
    assert send(shop, again, written(2, "ina")) == ["stored"], "the same person's"


def test_a_phone_that_changes_hands_sends_what_it_still_holds(shop: Shop) -> None:
    first = shop.token(person=INA)
    assert send(shop, first, written(1, "ina")) == ["stored"]
    device = next(iter(shop.pairing.roll().devices))
    ole = shop.token(person=OLE)
    assert send(shop, ole, written(2, "ina")) == ["refused"]
    shop.pairing.revoke(device, "handed on")
    assert send(shop, ole, written(2, "ina")) == ["stored"]


def test_names_are_remembered_after_a_restart(shop: Shop, tmp_path: Path) -> None:
    assert send(shop, shop.token(person=INA), written(1, "ina")) == ["stored"]
    writers = Pairing(tmp_path, lambda: NOW).roll().writers
    assert {name for name, device in writers.items() if device != SERVER} == {"ina"}


def test_wrong_tries_at_a_code_are_counted_over_a_restart(tmp_path: Path) -> None:
    def pairing() -> Pairing:
        return Pairing(tmp_path, lambda: NOW)

    pairing().add(INA, "Ina", Role.FIELD)
    code = pairing().make_code(INA)
    wrong = code[:-1] + ("0" if code[-1] != "0" else "1")
    for n in range(TRIES_A_CODE):
        with pytest.raises(PeopleError):
            pairing().pair(wrong, "Phone", f"10.0.0.{n}")
    with pytest.raises(PeopleError):
        pairing().pair(code, "Phone", "10.0.0.99")


def test_a_device_that_takes_ever_new_names_is_stopped(
    shop: Shop, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Each name is a line that every start reads. A phone has one, two when it was reset."""
    monkeypatch.setattr(writers, "MOST_NAMES", 2)
    ina, ole = shop.token(person=INA), shop.token(person=OLE)
    assert send(shop, ina, *(written(1, f"ina-{n}") for n in range(2))) == ["stored"] * 2
    assert send(shop, ina, *(written(1, f"more-{n}") for n in range(2))) == ["refused"] * 2
    assert send(shop, ina, written(2, "ina-1")) == ["stored"]
    verdicts = sync(shop, ina, written(1, "another"))["verdicts"]
    assert "too many names" in verdicts[0]["reason"]
    assert send(shop, ole, written(1, "ole")) == ["stored"]
