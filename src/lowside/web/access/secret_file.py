"""Files that only this server's user may read: keys."""

import os
from pathlib import Path

from lowside.store import durable

OTHERS = 0o077
"""Permission bits of everyone but the owner."""


class SecretError(Exception):
    """A secret file cannot be used; the message is the sentence the user reads."""


def write_secret(path: Path, content: bytes) -> None:
    """Put `content` at `path`, whole or not at all, and wait for the disk.

    Raises
        OSError: the disk refused; what was there before is still there.
    """
    durable.make_directories(path.parent)
    fresh = path.with_name(path.name + ".new")
    fresh.unlink(missing_ok=True)
    file = os.open(fresh, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600)
    with os.fdopen(file, "wb") as writing:
        writing.write(content)
        writing.flush()
        os.fsync(writing.fileno())
    os.replace(fresh, path)
    durable.sync_directory(path.parent)


def read_secret(path: Path) -> bytes:
    """What is at `path`.

    Raises
        SecretError: other users of this machine may read it, so it is no secret any more.
        OSError: it is not there or cannot be read.
    """
    with path.open("rb") as file:
        if os.fstat(file.fileno()).st_mode & OTHERS:
            raise SecretError(
                f"Other users of this computer can read {path}. If nobody did, run "
                f"chmod 600 {path}. Otherwise remove the file and pair every device again."
            )
        return file.read()
