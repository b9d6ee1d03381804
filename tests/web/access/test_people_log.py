"""The log of people after a full disk or an edit by hand: a blocked phone stays out."""

from collections.abc import Callable
from pathlib import Path

import pytest
from store_cases import outline

from lowside.store import Store, durable
from lowside.store.archive import backup
from lowside.store.check import check
from lowside.store.commands import bring_back
from lowside.web.access.pairing import Pairing
from lowside.web.access.people import FILE, PeopleError, PeopleLog, Role

INA = "01KTESTPERS0N0000000000001"
TIM = "01KTESTPERS0N0000000000002"


@pytest.fixture
def data(tmp_path: Path) -> Path:
    root = tmp_path / "data"
    Store.open(root, outline).close()
    return root


def paired(pairing: Pairing) -> str:
    """The token of Ina's phone."""
    pairing.add(INA, "Ina", Role.FIELD)
    return pairing.pair(pairing.make_code(INA), "Red phone", "192.168.1.50")


def blocked(data: Path) -> tuple[Pairing, str]:
    """The last line blocks Ina's phone; its token."""
    pairing = Pairing(data, lambda: 0)
    token = paired(pairing)
    assert pairing.holder(token) is not None
    pairing.revoke(token.partition(".")[0], "lost")
    return pairing, token


def no_line_feed(content: bytes) -> bytes:
    return content[:-1]


def another_byte(content: bytes) -> bytes:
    return content[:-1] + b"\x0b"


@pytest.mark.parametrize("spoil", [no_line_feed, another_byte])
def test_a_phone_stays_blocked_without_the_last_line_feed(
    data: Path, spoil: Callable[[bytes], bytes]
) -> None:
    """An editor leaves it out; one flipped bit makes another byte of it."""
    pairing, token = blocked(data)
    path = data / FILE
    whole = path.read_bytes()
    path.write_bytes(spoil(whole))
    assert pairing.holder(token) is None
    assert Pairing(data, lambda: 0).holder(token) is None
    assert check(data, outline).problems == ()
    pairing.add(TIM, "Tim", Role.FIELD)
    assert path.read_bytes().startswith(whole)
    assert path.read_bytes().count(b"\n") == whole.count(b"\n") + 1
    assert not path.with_name(FILE + ".torn").exists()
    assert Pairing(data, lambda: 0).holder(token) is None


def test_a_torn_change_is_named_by_the_check(data: Path) -> None:
    pairing, _ = blocked(data)
    path = data / FILE
    path.write_bytes(path.read_bytes()[:-20])
    (torn,) = check(data, outline).problems
    assert "in the middle of a change" in torn
    pairing.add(TIM, "Tim", Role.FIELD)
    (aside,) = check(data, outline).problems
    assert "people.jsonl.torn" in aside
    assert "blocked a phone" in aside


def test_after_a_full_disk_a_phone_is_blocked_without_a_restart(
    data: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    pairing = Pairing(data, lambda: 0)
    token = paired(pairing)
    before = (data / FILE).read_bytes()
    real = durable._write_all

    def nearly_full(file: int, content: bytes) -> None:
        real(file, content[:-1])
        raise OSError(28, "No space left on device")

    with monkeypatch.context() as full:
        full.setattr(durable, "_write_all", nearly_full)
        with pytest.raises(PeopleError, match=r"No space left.*Nothing was changed"):
            pairing.revoke(token.partition(".")[0], "lost")
    assert (data / FILE).read_bytes() == before
    assert pairing.holder(token) is not None
    pairing.revoke(token.partition(".")[0], "lost")
    assert pairing.holder(token) is None


@pytest.mark.parametrize("fails", ["sync", "cut"])
def test_when_nobody_knows_what_the_disk_holds_saving_stops(
    data: Path, monkeypatch: pytest.MonkeyPatch, fails: str
) -> None:
    log = PeopleLog(data)
    added = {"kind": "person.added", "at": 1, "person": INA, "name": "Ina", "role": "field"}
    log.write(lambda _: [added | {"person": TIM}])

    def refuse(*_: object) -> None:
        raise OSError(5, "Input/output error")

    with monkeypatch.context() as broken:
        if fails == "sync":
            broken.setattr(durable.os, "fsync", refuse)
        else:
            broken.setattr(durable, "_write_all", refuse)
            broken.setattr(durable, "cut", refuse)
        with pytest.raises(PeopleError, match="until you restart"):
            log.write(lambda _: [added])
    with pytest.raises(PeopleError, match="until you restart"):
        log.write(lambda _: [added])


def test_a_restore_says_that_blocked_phones_are_let_in_again(
    tmp_path: Path, data: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    pairing = Pairing(data, lambda: 0)
    token = paired(pairing)
    backup(data, tmp_path / "b")
    pairing.revoke(token.partition(".")[0], "lost")
    again = tmp_path / "again"
    assert bring_back(tmp_path / "b", again, outline) == 0
    assert "block them again" in capsys.readouterr().out
    assert Pairing(again, lambda: 0).holder(token) is not None
