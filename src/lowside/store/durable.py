"""Writing that survives a power cut: a function returns when the disk has it, or says otherwise."""

import os
from collections.abc import Iterable
from pathlib import Path
from typing import Self

OWNER_ONLY = 0o600
OWNER_ONLY_FOLDER = 0o700
"""A shop's records are for the user the server runs as. Our choice."""
LEAST_FREE = 1_000_000
"""A disk with less is as good as full: a save of a hundred entries takes 0.1 MB [bytes]. Our
choice."""


class UnsureError(OSError):
    """What the disk holds now is unknown: only reading everything again can tell.

    A failed `fsync` is one: Linux may then count the pages as written, so a second `fsync`
    that succeeds proves nothing. Another program that writes to the same file is the other.
    """


class Grown:
    """A file that was written to. Nothing of it is safe before it is confirmed."""

    def __init__(self, path: Path, file: int) -> None:
        self.path = path
        self.status = os.fstat(file)
        self._file = file

    def confirm(self) -> None:
        """Wait for the disk. Raises UnsureError."""
        _sync(self._file)

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *_error: object) -> None:
        os.close(self._file)


def append(path: Path, data: bytes, expected_size: int) -> os.stat_result:
    """Append to a file and wait for the disk. The file is made when `expected_size` is 0.

    Returns
        The file's status then.

    Raises
        UnsureError: the disk did not confirm, or see `grow`.
        OSError: see `grow`.
    """
    with grow(path, data, expected_size) as grown:
        grown.confirm()
    if expected_size == 0:
        sync_directory(path.parent)
    return grown.status


def grow(path: Path, data: bytes, expected_size: int) -> Grown:
    """Append to a file, which is made when `expected_size` is 0, without waiting for the disk.

    Raises
        UnsureError: the disk did not confirm a folder, or the file is not `expected_size` bytes
            long: another program writes to it.
        OSError: the disk refused. `cut` to `expected_size` takes back what reached it.
    """
    if expected_size == 0:
        make_directories(path.parent)
    file = os.open(path, os.O_WRONLY | os.O_APPEND | os.O_CREAT, OWNER_ONLY)
    try:
        size = os.fstat(file).st_size
        if size != expected_size:
            raise UnsureError(
                f"{path} has {size} bytes where {expected_size} were written: another program "
                "changes it"
            )
        _write_all(file, data)
        return Grown(path, file)
    except BaseException:
        os.close(file)
        raise


def overwrite(path: Path, data: bytes, at: int) -> None:
    """Write over what a file has from this place on, without waiting for the disk. It is made when
    it is missing.

    Raises
        OSError: the disk refused.
    """
    file = os.open(path, os.O_WRONLY | os.O_CREAT, OWNER_ONLY)
    try:
        os.lseek(file, at, os.SEEK_SET)
        _write_all(file, data)
    finally:
        os.close(file)


def put(path: Path, data: bytes) -> None:
    """Put a small file in place, whole or not at all, for its owner only, and wait for the disk.

    Raises
        OSError: the disk refused; what was there before is still there, or all of the new.
    """
    fresh = path.with_name(path.name + ".new")
    fresh.unlink(missing_ok=True)
    append(fresh, data, 0)
    os.replace(fresh, path)
    sync_directory(path.parent)


def cut(path: Path, size: int) -> None:
    """Shorten a file to `size` bytes and wait for the disk.

    Raises
        UnsureError: the disk did not confirm.
        OSError: the disk refused, nothing changed.
    """
    file = os.open(path, os.O_WRONLY)
    try:
        os.ftruncate(file, size)
        _sync(file)
    finally:
        os.close(file)


def cut_back(path: Path, size: int) -> None:
    """Make a file as it was when it had `size` bytes; with 0 it was not there.

    Raises
        UnsureError: the disk did not confirm.
        OSError: the disk refused.
    """
    if not path.exists():
        return
    if path.stat().st_size > size:
        cut(path, size)
    if size == 0:
        remove(path)


def why_shut(folder: Path) -> str:
    """A sentence when its disk has no room to speak of, or can only be read; "" otherwise."""
    try:
        disk = os.statvfs(folder)
    except OSError as error:
        return f"{folder} cannot be reached ({error})."
    if disk.f_flag & os.ST_RDONLY:
        return f"The disk of {folder} can only be read, as after a fault. Check it."
    is_full = disk.f_bavail * disk.f_frsize < LEAST_FREE
    return f"The disk of {folder} is full. Free some space." if is_full else ""


def remove(path: Path) -> None:
    """Remove a file, if it is there, and wait until the disk has lost its name.

    Raises
        UnsureError: the disk did not confirm.
        OSError: the disk refused.
    """
    path.unlink(missing_ok=True)
    sync_directory(path.parent)


def make_directories(path: Path) -> None:
    """Make a directory with its parents so that the disk knows each of them."""
    if path.is_dir():
        return
    make_directories(path.parent)
    path.mkdir(exist_ok=True, mode=OWNER_ONLY_FOLDER)
    sync_directory(path.parent)


def sync_directory(path: Path) -> None:
    """Wait until the disk has the directory's names."""
    _sync_path(path)


def sync_files(paths: Iterable[Path]) -> None:
    """Wait until the disk has these files and their names."""
    files = list(paths)
    for path in (*files, *sorted({path.parent for path in files})):
        _sync_path(path)


def sync_everything() -> None:
    """Let the disk have whatever was written. It does not say what failed."""
    os.sync()


def sync_tree(folder: Path) -> None:
    """Wait until the disk has every file and directory below, and the folder itself.

    The disk is asked for all of them first: to wait for 100,000 one after the other takes minutes.
    """
    os.sync()
    for where, _, names in os.walk(folder):
        for path in (*(os.path.join(where, name) for name in names), where):
            _sync_path(path)


def _sync_path(path: str | Path) -> None:
    opened = os.open(path, os.O_RDONLY)
    try:
        _sync(opened)
    finally:
        os.close(opened)


def _sync(file: int) -> None:
    try:
        os.fsync(file)
    except OSError as error:
        raise UnsureError(*error.args) from error


def _write_all(file: int, data: bytes) -> None:
    view = memoryview(data)
    while len(view) > 0:
        view = view[os.write(file, view) :]
