"""Writing that survives a power cut: a function returns only when the disk has it."""

import os
from pathlib import Path


def append(path: Path, data: bytes, expected_size: int) -> os.stat_result:
    """Append to a file and wait for the disk. The file is made when `expected_size` is 0.

    Returns
        The file's status afterwards.

    Raises
        OSError: the disk refused, or the file is not `expected_size` bytes long: another
            program writes to it. How much reached the disk is then unknown.
    """
    created = not path.exists()
    if created:
        make_directories(path.parent)
    file = os.open(path, os.O_WRONLY | os.O_APPEND | os.O_CREAT, 0o644)
    try:
        size = os.fstat(file).st_size
        if size != expected_size:
            raise OSError(
                f"{path} has {size} bytes where {expected_size} were written: another program "
                "changes it"
            )
        _write_all(file, data)
        os.fsync(file)
        status = os.fstat(file)
    finally:
        os.close(file)
    if created:
        sync_directory(path.parent)
    return status


def cut(path: Path, size: int) -> None:
    """Shorten a file to `size` bytes and wait for the disk."""
    file = os.open(path, os.O_WRONLY)
    try:
        os.ftruncate(file, size)
        os.fsync(file)
    finally:
        os.close(file)


def make_directories(path: Path) -> None:
    """Make a directory with its parents so that the disk knows each of them."""
    if path.is_dir():
        return
    make_directories(path.parent)
    path.mkdir(exist_ok=True)
    sync_directory(path.parent)


def sync_directory(path: Path) -> None:
    """Wait until the disk has the directory's names."""
    directory = os.open(path, os.O_RDONLY | os.O_DIRECTORY)
    try:
        os.fsync(directory)
    finally:
        os.close(directory)


def _write_all(file: int, data: bytes) -> None:
    view = memoryview(data)
    while len(view) > 0:
        view = view[os.write(file, view) :]
