"""One writer for a store: the system releases the lock even when the process is killed."""

import errno
import fcntl
import os
from contextlib import suppress
from pathlib import Path

from lowside.store.durable import OWNER_ONLY
from lowside.store.errors import StoreBusyError

LOCK_FILE = "lock"


class WriterLock:
    """The right to write to the store at `root`, held until `release`.

    Raises
        StoreBusyError: another process, or another open store of this one, holds it.
    """

    def __init__(self, root: Path) -> None:
        self._file = _open(root / LOCK_FILE)
        try:
            fcntl.flock(self._file, fcntl.LOCK_EX | fcntl.LOCK_NB)
        except BlockingIOError:
            pid = _pid_in(self._file)
            os.close(self._file)
            who = f"process {pid}" if pid > 0 else "another process"
            raise StoreBusyError(
                f"{root} is in use: {who} writes to it. Only one can. Stop that one first, or "
                "choose another data folder.",
                pid,
            ) from None
        self.was_killed = os.fstat(self._file).st_size > 0
        """Whether the last one that held it ended without `release`: its number is still there."""
        with suppress(OSError):  # a full disk does not take the number; the lock holds without it
            os.ftruncate(self._file, 0)
            os.pwrite(self._file, f"{os.getpid()}\n".encode("ascii"), 0)

    def release(self) -> None:
        """Let another process write. The file stays: without it two processes could hold a lock."""
        with suppress(OSError):
            os.ftruncate(self._file, 0)
        os.close(self._file)


def _open(path: Path) -> int:
    try:
        return os.open(path, os.O_RDWR | os.O_CREAT, OWNER_ONLY)
    except OSError as error:
        if error.errno != errno.EROFS:
            raise
        return os.open(path, os.O_RDONLY)  # a lock needs no right to write


def writer_pid(root: Path) -> int | None:
    """Process that writes to the store now (0: unknown), `None` when none does."""
    try:
        file = os.open(root / LOCK_FILE, os.O_RDONLY)
    except FileNotFoundError:
        return None
    try:
        fcntl.flock(file, fcntl.LOCK_SH | fcntl.LOCK_NB)
    except BlockingIOError:
        return _pid_in(file)
    finally:
        os.close(file)
    return None


def _pid_in(file: int) -> int:
    text = os.pread(file, 32, 0).strip()
    return int(text) if text.isdigit() else 0
