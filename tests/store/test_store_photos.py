"""A photo on disk is whole and is what its name says, and a check finds one that is not."""

import hashlib
import os
import stat
from pathlib import Path

import pytest
from office_cases import events, visit
from store_cases import SID, event

from lowside.outlining import outline
from lowside.store import Store
from lowside.store import photos as on_disk
from lowside.store.archive import backup, restore
from lowside.store.check import check
from lowside.store.photos import BadPhotoError, has_photo, keep_photo, photo_path, read_photo

CONTENT = b"\xff\xd8 some picture \xff\xd9"
NAME = hashlib.sha256(CONTENT).hexdigest()


def named(name: str = NAME) -> dict[str, str]:
    return {
        "photo": name,
        "photo_kind": "nameplate",
        "photo_bytes": str(len(CONTENT)),
        "photo_width": "16",
        "photo_height": "12",
    }


def test_a_photo_is_kept_once_for_its_owner_only(tmp_path: Path) -> None:
    assert keep_photo(tmp_path, SID, NAME, CONTENT)
    assert not keep_photo(tmp_path, SID, NAME, CONTENT)
    path = tmp_path / "photos" / "2025" / SID / f"{NAME}.jpg"
    assert path == photo_path(tmp_path, SID, NAME)
    assert read_photo(tmp_path, SID, NAME) == CONTENT == path.read_bytes()
    assert stat.S_IMODE(path.stat().st_mode) == 0o600
    assert {stat.S_IMODE(folder.stat().st_mode) for folder in path.parents[:3]} == {0o700}


def test_bytes_under_another_name_are_refused(tmp_path: Path) -> None:
    with pytest.raises(BadPhotoError, match="changed on its way"):
        keep_photo(tmp_path, SID, NAME, CONTENT + b"x")
    assert list(tmp_path.iterdir()) == []


@pytest.mark.parametrize(
    ("sid", "name"),
    [
        (SID, "../" * 21 + "x"),
        (SID, NAME.upper()),
        (SID, NAME[:-1]),
        (SID, NAME + "\n"),
        (SID, ""),
        ("../sessions", NAME),
        (SID.lower(), NAME),
        ("", NAME),
    ],
)
def test_no_name_leads_elsewhere(tmp_path: Path, sid: str, name: str) -> None:
    for act in (has_photo, read_photo, photo_path):
        with pytest.raises(ValueError, match="not a "):
            act(tmp_path, sid, name)
    with pytest.raises(ValueError, match="not a "):
        keep_photo(tmp_path, sid, name, CONTENT)


def test_a_write_that_was_cut_short_or_refused_leaves_no_half_photo(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    path = photo_path(tmp_path, SID, NAME)
    path.parent.mkdir(parents=True)
    path.with_name(path.name + ".part").write_bytes(CONTENT[:4])
    with monkeypatch.context() as patch:

        def full(_one: object, _other: object) -> None:
            raise OSError(28, "No space left on device")

        patch.setattr(on_disk.os, "replace", full)
        with pytest.raises(OSError, match="No space"):
            keep_photo(tmp_path, SID, NAME, CONTENT)
    assert list(path.parent.iterdir()) == []
    assert keep_photo(tmp_path, SID, NAME, CONTENT)
    assert os.listdir(path.parent) == [path.name]


def test_a_damaged_photo_is_not_shown_and_can_be_sent_again(tmp_path: Path) -> None:
    keep_photo(tmp_path, SID, NAME, CONTENT)
    photo_path(tmp_path, SID, NAME).write_bytes(CONTENT[:-1] + b"x")
    assert read_photo(tmp_path, SID, NAME) is None
    assert keep_photo(tmp_path, SID, NAME, CONTENT)
    assert read_photo(tmp_path, SID, NAME) == CONTENT


def test_a_check_finds_what_is_damaged_stray_or_not_here(tmp_path: Path) -> None:
    root = tmp_path / "data"
    with Store.open(root, outline) as store:
        store.append(events(visit(1, "2026-01-10", 2.0)))
        sid = store.sessions()[0].sid
        store.append([event(1, sid=sid, dev="camera", kind="photo.taken", **named())])
    found = check(root, outline)
    assert found.problems == ()
    assert [note for note in found.notes if "1 photos are not here" in note and sid in note]

    keep_photo(root, sid, NAME, CONTENT)
    found = check(root, outline)
    assert (found.problems, found.notes) == ((), ())

    stray = hashlib.sha256(b"stray").hexdigest()
    keep_photo(root, sid, stray, b"stray")
    photo_path(root, sid, NAME).write_bytes(b"damaged")
    (root / "photos" / "2001").mkdir()
    (root / "photos" / "2001" / "note.txt").write_text("x")
    problems = "\n".join(check(root, outline).problems)
    assert f"{NAME}.jpg is damaged" in problems
    assert f"{stray}.jpg is a photo that no entry names" in problems
    assert "note.txt is a photo that no entry names" in problems
    assert problems.count("\n") == 2


def test_a_backup_gives_photos_back(tmp_path: Path) -> None:
    root = tmp_path / "data"
    with Store.open(root, outline) as store:
        store.append(events(visit(1, "2026-01-10", 2.0)))
        sid = store.sessions()[0].sid
        store.append([event(1, sid=sid, dev="camera", kind="photo.taken", **named())])
    keep_photo(root, sid, NAME, CONTENT)
    backup(root, tmp_path / "copy")
    restore(tmp_path / "copy", tmp_path / "again")
    assert read_photo(tmp_path / "again", sid, NAME) == CONTENT
    path = photo_path(tmp_path / "again", sid, NAME)
    assert stat.S_IMODE(path.stat().st_mode) == 0o600
    # The index is not in a backup.
    with Store.open(tmp_path / "again", outline):
        pass
    assert check(tmp_path / "again", outline).problems == ()
