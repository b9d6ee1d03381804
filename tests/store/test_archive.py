"""A backup holds the whole store; a restore gives it back or changes nothing."""

import gzip
import io
import tarfile
from pathlib import Path

import pytest
from office_cases import events, visit
from website import open_site

from lowside.core.handbook.handbook import Handbook
from lowside.outlining import outline
from lowside.store import Store, StoreError
from lowside.store.archive import BadArchiveError, backup, restore
from lowside.store.index import Index


@pytest.fixture
def store(tmp_path: Path) -> Path:
    root = tmp_path / "data"
    with Store.open(root, outline) as store:
        store.append(events(visit(1, "2026-01-10", 2.0), visit(2, "2026-05-10", 3.0)))
    (root / "device").write_text("01KDEVICE\n", "ascii")
    (root / "people.jsonl").write_bytes(b"")
    (root / "quarantine").mkdir()
    return root


def files(root: Path) -> dict[str, bytes]:
    return {
        str(path.relative_to(root)): path.read_bytes()
        for path in root.rglob("*")
        if path.is_file() and not path.name.startswith("index.sqlite") and path.name != "lock"
    }


def test_a_round_trip_gives_back_every_byte_and_every_page(
    tmp_path: Path, store: Path, handbook: Handbook
) -> None:
    archive = tmp_path / "shop.backup"
    backup(store, archive)
    again = tmp_path / "again"
    assert restore(archive, again).files == len(files(store))
    assert files(again) == files(store)
    pages = []
    for root in (store, again):
        with open_site(root, handbook) as site:
            sid = site.store.sessions()[0].sid
            shown = [
                site.get(path).text
                for path in (
                    "/office?show=all",
                    "/office/units",
                    "/office/cylinders",
                    f"/office/session/{sid}",
                    "/office/sessions.csv?show=all",
                )
            ]
            pages.append((shown, site.store.ask(Index.contents)))
    assert pages[0] == pages[1]


def test_a_backup_beside_a_writer_holds_what_was_acknowledged(tmp_path: Path, store: Path) -> None:
    with Store.open(store, outline) as writer:
        book = visit(3, "2026-06-10", 1.0)
        writer.append(book.events)
        backup(store, tmp_path / "b")
    restore(tmp_path / "b", tmp_path / "again")
    with Store.open(tmp_path / "again", outline, write=False) as reader:
        assert len(reader.events(book.sid)) == len(book.events)
        assert reader.problems() == []


def test_a_folder_with_something_in_it_is_never_overwritten(tmp_path: Path, store: Path) -> None:
    backup(store, tmp_path / "b")
    before = files(store)
    with pytest.raises(StoreError, match="not empty"):
        restore(tmp_path / "b", store)
    assert files(store) == before


def test_an_empty_folder_is_filled(tmp_path: Path, store: Path) -> None:
    backup(store, tmp_path / "b")
    (tmp_path / "empty").mkdir()
    restore(tmp_path / "b", tmp_path / "empty")
    assert files(tmp_path / "empty") == files(store)


def test_a_flipped_byte_anywhere_is_found_and_nothing_is_restored(
    tmp_path: Path, store: Path
) -> None:
    backup(store, tmp_path / "b")
    plain = bytearray(gzip.decompress((tmp_path / "b").read_bytes()))
    place = plain.index(b"Mill Lane")
    plain[place] ^= 1
    (tmp_path / "bad").write_bytes(gzip.compress(bytes(plain)))
    with pytest.raises(BadArchiveError, match="differ"):
        restore(tmp_path / "bad", tmp_path / "again")
    assert not (tmp_path / "again").exists()


@pytest.mark.parametrize("keep", [0.0, 0.3, 0.9])
def test_half_a_file_is_no_backup(tmp_path: Path, store: Path, keep: float) -> None:
    backup(store, tmp_path / "b")
    whole = (tmp_path / "b").read_bytes()
    (tmp_path / "half").write_bytes(whole[: int(len(whole) * keep)])
    with pytest.raises(BadArchiveError):
        restore(tmp_path / "half", tmp_path / "again")
    assert not (tmp_path / "again").exists()


@pytest.mark.parametrize("name", ["../outside", "/etc/outside", "sessions/../../outside"])
def test_a_backup_that_names_a_place_outside_is_refused(tmp_path: Path, name: str) -> None:
    with tarfile.open(tmp_path / "evil", "w:gz") as archive:
        member = tarfile.TarInfo(name)
        member.size = 1
        archive.addfile(member, io.BytesIO(b"x"))
    with pytest.raises(BadArchiveError):
        restore(tmp_path / "evil", tmp_path / "again")
    assert not (tmp_path / "again").exists()


def test_a_link_is_not_followed(tmp_path: Path, store: Path) -> None:
    (store / "link").symlink_to("/etc/hostname")
    with pytest.raises(StoreError, match="link"):
        backup(store, tmp_path / "b")
    assert not (tmp_path / "b").exists()


def test_a_backup_is_for_its_owner_only(tmp_path: Path, store: Path) -> None:
    backup(store, tmp_path / "b")
    assert (tmp_path / "b").stat().st_mode & 0o077 == 0


def test_a_backup_into_the_folder_itself_is_refused(store: Path) -> None:
    """Each would be in the next one."""
    before = files(store)
    for out in (store / "own.backup", store / "sessions" / "own.backup"):
        with pytest.raises(StoreError, match="elsewhere"):
            backup(store, out)
    assert files(store) == before


def test_what_a_server_still_writes_is_left_out(tmp_path: Path, store: Path) -> None:
    whole = files(store)
    for name in ("photos/a/b.jpg.part", "device.new", "procedures/p.json.7.new"):
        (store / name).parent.mkdir(parents=True, exist_ok=True)
        (store / name).write_bytes(b"half")
    (store / "index.sqlite.new-wal").write_bytes(b"half")
    backup(store, tmp_path / "b")
    restore(tmp_path / "b", tmp_path / "again")
    assert files(tmp_path / "again") == whole


@pytest.mark.parametrize("where", ["link", "inside"])
def test_a_restore_through_a_link_or_from_inside(
    tmp_path: Path, store: Path, monkeypatch: pytest.MonkeyPatch, where: str
) -> None:
    backup(store, tmp_path / "b")
    empty = tmp_path / "empty"
    empty.mkdir()
    (tmp_path / "link").symlink_to(empty)
    monkeypatch.chdir(empty if where == "inside" else tmp_path)
    restore(tmp_path / "b", Path("." if where == "inside" else "link"))
    assert files(empty) == files(store)
    assert where == "link" or files(Path(".")) == files(store)
    assert sorted(path.name for path in tmp_path.iterdir()) == ["b", "data", "empty", "link"]


def test_a_restore_that_the_disk_refuses_leaves_nothing(
    tmp_path: Path, store: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    backup(store, tmp_path / "b")

    def full(_folder: Path) -> None:
        raise OSError(28, "No space left on device")

    with monkeypatch.context() as patched:
        patched.setattr("lowside.store.archive.durable.sync_tree", full)
        with pytest.raises(OSError, match="No space"):
            restore(tmp_path / "b", tmp_path / "again")
    assert sorted(path.name for path in tmp_path.iterdir()) == ["b", "data"]
    restore(tmp_path / "b", tmp_path / "again")
    assert files(tmp_path / "again") == files(store)
