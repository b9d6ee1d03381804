"""This server's name as a writer of events: made once, with a checksum beside it.

Each run of the server writes under the name with an ending of its own. After a restore from a copy
nobody can say which numbers phones know already under the name of an earlier run. Under a new one
no number is used twice.
"""

from collections.abc import Callable
from contextlib import suppress
from pathlib import Path

from lowside.store import durable
from lowside.store.codec import checksum
from lowside.store.ulid import is_ulid

FILE = "device"
RUN_LENGTH = 16


def device_name(data: Path, new_name: Callable[[], str]) -> str:
    """The name kept in the data folder.

    An empty or damaged file, as a full disk can leave one, gets a new name. Under a wrong one the
    numbers of this server's entries would not follow each other. When it cannot be written, the
    name holds for this run.
    """
    known = known_name(data)
    if known != "":
        return known
    name = new_name()
    with suppress(OSError):  # whoever cannot write this can write no entry either, and says so
        keep_name(data, name)
    return name


def keep_name(data: Path, name: str) -> None:
    """Put the name in the data folder, whole or not at all.

    Raises
        OSError: the disk refused.
    """
    durable.put(data / FILE, _line(name))


def known_name(data: Path) -> str:
    """The name in the data folder, "" when there is none that can be trusted."""
    return _name_in(data / FILE)


def run_name(server: str, now: str) -> str:
    """The name under which one run writes.

    Args:
        server: the name kept in the data folder.
        now: a new ULID. Its beginning is the time and 30 random bits.
    """
    return f"{server}.{now[:RUN_LENGTH]}"


def why_damaged(data: Path) -> str:
    """What is wrong with the file, as a sentence; empty when nothing is, or when there is none."""
    path = data / FILE
    if not path.exists() or _name_in(path) != "":
        return ""
    return f"{path} is damaged. The next start gives this server a new name as a writer."


def _line(name: str) -> bytes:
    return name.encode("ascii") + b" " + checksum(name.encode("ascii")) + b"\n"


def _name_in(path: Path) -> str:
    """The name, "" when there is none that can be trusted."""
    try:
        content = path.read_bytes()
    except FileNotFoundError:
        return ""
    name = content.decode("ascii", "replace").partition(" ")[0].strip()
    if not is_ulid(name):
        return ""
    # The bare name is how it was written before it had a checksum.
    return name if content in (_line(name), name.encode("ascii") + b"\n") else ""
