"""The small files beside the logs: damage is found, and an empty one heals."""

import json
import os
from pathlib import Path

import pytest
from store_cases import SID, event, log_path, opened, outline

from lowside.store.check import check
from lowside.store.device import device_name
from lowside.store.sealed import is_sound, sealed

NAME = "01KTESTDEV00000000000000AA"
OTHER = "01KTESTDEV00000000000000BB"


@pytest.fixture
def root(tmp_path: Path) -> Path:
    with opened(tmp_path / "data") as store:
        store.append([event(1)])
    return tmp_path / "data"


def found(root: Path) -> list[str]:
    return list(check(root, outline).problems)


def test_a_name_is_made_once_and_kept(root: Path) -> None:
    assert device_name(root, lambda: NAME) == NAME
    assert device_name(root, lambda: OTHER) == NAME
    assert found(root) == []


def test_a_name_from_before_names_had_checksums_is_kept(root: Path) -> None:
    (root / "device").write_text(NAME + "\n")
    assert device_name(root, lambda: OTHER) == NAME
    assert found(root) == []


@pytest.mark.parametrize("content", [b"", b"\n", b"\x00" * 30, b"\xff\xfe", b"two words\n"])
def test_an_empty_or_broken_name_heals_to_a_new_one(root: Path, content: bytes) -> None:
    (root / "device").write_bytes(content)
    assert device_name(root, lambda: NAME) == NAME
    assert device_name(root, lambda: OTHER) == NAME


def test_a_changed_name_is_found_and_never_written_under(root: Path) -> None:
    device_name(root, lambda: NAME)
    path = root / "device"
    path.write_bytes(path.read_bytes().replace(b"AA", b"AB"))
    assert ["device" in problem for problem in found(root)] == [True]
    assert device_name(root, lambda: OTHER) == OTHER
    assert found(root) == []


def test_a_sealed_object_shows_every_change() -> None:
    made = sealed({"id": "shop-1", "steps": [{"do": "Wait 15 minutes"}]})
    assert is_sound(made)
    assert is_sound(json.loads(json.dumps(made)))
    assert not is_sound({**made, "steps": [{"do": "Wait 14 minutes"}]})
    assert not is_sound({**made, "more": 1})


def test_check_store_finds_a_changed_procedure_and_a_changed_list_of_people(root: Path) -> None:
    folder = root / "procedures"
    folder.mkdir()
    path = folder / "shop-x-1.json"
    path.write_text(json.dumps(sealed({"do": "Wait 15 minutes"})))
    (root / "people.jsonl").write_bytes(b"")
    assert found(root) == []
    path.write_text(path.read_text().replace("15", "14"))
    (root / "people.jsonl").write_bytes(b'{"event":{},"sum":"0000000000000000"}\n')
    problems = found(root)
    assert sum("shop-x-1.json" in problem for problem in problems) == 1
    assert sum("people.jsonl" in problem for problem in problems) == 1


def test_a_procedure_that_is_not_json_is_found(root: Path) -> None:
    (root / "procedures").mkdir()
    (root / "procedures" / "shop-x-1.json").write_bytes(b"\xff{")
    assert ["shop-x-1.json" in problem for problem in found(root)] == [True]


def test_only_the_owner_may_read_logs_and_index(tmp_path: Path) -> None:
    before = os.umask(0)
    try:
        (tmp_path / "data").mkdir()  # as a person makes it, for everybody to read
        with opened(tmp_path / "data") as store:
            store.append([event(1), event(1, text="rival")])
    finally:
        os.umask(before)
    for path in (tmp_path / "data", *(tmp_path / "data").rglob("*")):
        assert path.stat().st_mode & 0o077 == 0, path


def test_a_flipped_last_line_feed_throws_no_acknowledged_entry_away(root: Path) -> None:
    path = log_path(root)
    content = path.read_bytes()
    for flipped in (b"\x0b", b"\x4a", b"\x00", b"\x8a"):
        path.write_bytes(content[:-1] + flipped)
        with opened(root) as store:
            assert store.events(SID) == [event(1)]
            assert [v.outcome for v in store.append([event(1)])] == ["already"]
    assert not list(path.parent.glob("*.torn"))


def test_a_folder_in_place_of_the_index_is_put_aside(root: Path) -> None:
    (root / "index.sqlite").unlink()
    (root / "index.sqlite").mkdir()
    (root / "index.sqlite" / "mine").write_text("kept")
    with opened(root) as store:
        assert [item.sid for item in store.sessions()] == [SID]
    assert [path.read_text() for path in root.glob("index.sqlite.aside-*/mine")] == ["kept"]
