"""A disk that takes nothing lets the store be read, and saving goes on when it takes something."""

import os
import resource
import subprocess
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import pytest
from store_cases import OTHER_SID, SID, event, log_path, opened

from lowside.store import NotNowError
from lowside.store.codec import line_of
from lowside.store.device import device_name
from lowside.store.index import Index


@pytest.fixture
def root(tmp_path: Path) -> Path:
    with opened(tmp_path / "data") as store:
        store.append([event(1, site="Gym"), event(1, sid=OTHER_SID)])
    return tmp_path / "data"


@contextmanager
def full_disk() -> Iterator[None]:
    """No file can grow. That is how a full disk and one that is mounted for reading look to us."""
    soft, hard = resource.getrlimit(resource.RLIMIT_FSIZE)
    resource.setrlimit(resource.RLIMIT_FSIZE, (0, hard))
    try:
        yield
    finally:
        resource.setrlimit(resource.RLIMIT_FSIZE, (soft, hard))


@pytest.mark.parametrize("index", ["there", "missing", "old"])
def test_a_store_on_a_full_disk_opens_for_reading_and_saves_when_there_is_room(
    root: Path, index: str
) -> None:
    if index == "missing":
        (root / "index.sqlite").unlink()
    if index == "old":
        with log_path(root).open("ab") as log:
            log.write(line_of(event(2)))
    with full_disk():
        store = opened(root)
    try:
        with full_disk():
            assert event(1, site="Gym") in store.events(SID)
            assert {item.sid for item in store.sessions()} == {SID, OTHER_SID}
            assert [item.sid for item in store.sessions("gym")] == [SID]
            with pytest.raises(NotNowError):
                store.append([event(5)])
        assert [v.outcome for v in store.append([event(5)])] == ["stored"]
        contents = store.ask(Index.contents)
    finally:
        store.close()
    with opened(root) as store:
        assert event(5) in store.events(SID)
        assert store.ask(Index.contents) == contents
        assert store.problems() == []


def test_a_torn_end_on_a_full_disk_is_mended_when_there_is_room(root: Path) -> None:
    with log_path(root).open("ab") as log:
        log.write(line_of(event(2))[:60])
    with full_disk():
        store = opened(root)
        assert [e.seq for e in store.events(SID)] == [1]
        with pytest.raises(NotNowError):
            store.append([event(2)])
    try:
        assert [v.outcome for v in store.append([event(2)])] == ["stored"]
    finally:
        store.close()
    with opened(root) as store:
        assert [e.seq for e in store.events(SID)] == [1, 2]


def test_a_server_without_a_name_on_a_full_disk_has_one_for_this_run(root: Path) -> None:
    name = "01KTESTDEV00000000000000AA"
    with full_disk():
        assert device_name(root, lambda: name) == name
    assert device_name(root, lambda: name[:-1] + "B") == name[:-1] + "B"


@pytest.mark.skipif(os.geteuid() != 0, reason="only root can mount a disk for reading")
def test_a_disk_that_is_mounted_for_reading_is_read(root: Path, tmp_path: Path) -> None:
    disk = tmp_path / "disk"
    disk.mkdir()
    made = subprocess.run(["mount", "--bind", root, disk], check=False, capture_output=True)
    if made.returncode != 0:
        pytest.skip(f"this machine lets nobody mount: {made.stderr!r}")
    try:
        subprocess.run(["mount", "-o", "remount,ro,bind", disk], check=True)
        code = (
            "import sys; from pathlib import Path; from store_cases import opened, SID\n"
            "store = opened(Path(sys.argv[1])); print(len(store.events(SID)))"
        )
        paths = os.environ | {"PYTHONPATH": os.pathsep.join(sys.path)}
        done = subprocess.run(
            [sys.executable, "-c", code, disk], check=False, capture_output=True, env=paths
        )
        assert done.stdout == b"1\n", done.stderr
    finally:
        subprocess.run(["umount", disk], check=True)
