"""Backup and restore: the whole data folder as one file, checked when it is written and read.

The index, the journal and the lock are left out: the index is made from the logs again, and the
logs have what the journal holds. Each file's checksum is in the archive, so a copy that went bad
is found before it is needed.
"""

import hashlib
import io
import json
import os
import tarfile
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path, PurePosixPath

from lowside.store import durable
from lowside.store.errors import StoreError
from lowside.store.index import INDEX_FILE
from lowside.store.journal import why_lacking
from lowside.store.lock import LOCK_FILE
from lowside.store.logs import JOURNAL, is_journal
from lowside.store.opening import DAMAGED

MANIFEST = "lowside-backup.json"
FORMAT = 1
COMPRESSION = 6
"""A sixth of the time of the highest, for a file 6 % larger. Our choice."""
LEFT_OUT = (
    INDEX_FILE,
    INDEX_FILE + "-wal",
    INDEX_FILE + "-shm",
    INDEX_FILE + "-journal",
    INDEX_FILE + DAMAGED,
    LOCK_FILE,
)


@dataclass(frozen=True)
class Archived:
    """What a backup holds."""

    files: int
    size: int
    """[bytes]"""


class BadArchiveError(StoreError):
    """The file is no backup, or is damaged. Nothing was restored."""


def backup(root: Path, out: Path) -> Archived:
    """Write the data folder into one file, whole or not at all.

    A server may run: logs only grow, and each is read once up to its size at that moment. A line
    cut there is found as a torn one, which was not acknowledged before the backup began.

    Args:
        root: the data folder.
        out: the file; replaced whole.

    Raises
        StoreError: there is no such folder, it holds a link or another thing that is no file, or
            logs lack what only the journal has.
        OSError: it cannot be read or written.
    """
    if not root.is_dir():
        raise StoreError(f"There is no data folder {root}.")
    trouble = why_lacking(root)
    if trouble != "":
        raise StoreError(trouble)
    part = out.with_name(out.name + ".part")
    sums: dict[str, str] = {}
    size = 0
    try:
        with part.open("wb") as file:
            os.chmod(part, durable.OWNER_ONLY)
            with tarfile.open(
                fileobj=file, mode="w:gz", format=tarfile.PAX_FORMAT, compresslevel=COMPRESSION
            ) as archive:
                for path in _files(root, (out, part)):
                    data = path.read_bytes()
                    name = path.relative_to(root).as_posix()
                    sums[name] = hashlib.sha256(data).hexdigest()
                    size += len(data)
                    _add(archive, name, data)
                listing = {"format": FORMAT, "files": sums}
                _add(archive, MANIFEST, json.dumps(listing, sort_keys=True).encode())
            file.flush()
            os.fsync(file.fileno())
        part.replace(out)
        durable.sync_directory(out.parent)
    finally:
        part.unlink(missing_ok=True)
    return Archived(len(sums), size)


def restore(archive_file: Path, root: Path) -> Archived:
    """Fill an empty or missing data folder from a backup.

    Every checksum is compared first: a damaged backup changes nothing.

    Raises
        BadArchiveError: it is no backup, is damaged, or names a place outside the folder.
        StoreError: the folder is not empty.
        OSError: something cannot be read or written.
    """
    if root.exists() and (not root.is_dir() or any(root.iterdir())):
        raise StoreError(
            f"{root} is not empty. Restore into an empty folder, so that nothing is overwritten."
        )
    try:
        found = _checked(archive_file)
        _fill(archive_file, root)
    except (tarfile.TarError, EOFError, ValueError, KeyError, TypeError) as error:
        raise BadArchiveError(f"{archive_file} is no sound backup: {error}.") from error
    return found


def _fill(archive_file: Path, root: Path) -> None:
    """Beside the folder first, so that a full disk leaves no half of one."""
    beside = root.with_name(root.name + ".restoring")
    if beside.exists():
        raise StoreError(f"{beside} is left from a restore that was cut short. Remove it first.")
    durable.make_directories(beside)
    with tarfile.open(archive_file, mode="r:gz") as archive:
        for member in archive:
            if member.name != MANIFEST:
                _write(beside / PurePosixPath(member.name), _content(archive, member))
    durable.sync_tree(beside)
    if root.exists():
        root.rmdir()
    beside.rename(root)
    durable.sync_directory(root.parent)


def _checked(archive_file: Path) -> Archived:
    sums: dict[str, str] = {}
    listing: dict[str, object] = {}
    size = 0
    with tarfile.open(archive_file, mode="r:gz") as archive:
        for member in archive:
            data = _content(archive, member)
            if member.name == MANIFEST:
                listing = json.loads(data)
                continue
            if not _inside(member.name) or member.name in sums:
                raise ValueError(f"it names {member.name}")
            sums[member.name] = hashlib.sha256(data).hexdigest()
            size += len(data)
    if listing.get("format") != FORMAT:
        raise ValueError("it has no list of files that this version knows")
    wanted = listing["files"]
    if not isinstance(wanted, dict) or wanted != sums:
        known = wanted if isinstance(wanted, dict) else {}
        wrong = [one for one in {*known, *sums} if known.get(one) != sums.get(one)]
        raise ValueError(f"{len(wrong)} of its files differ from its list, as {min(wrong)}")
    return Archived(len(sums), size)


def _files(root: Path, but: tuple[Path, ...]) -> Iterator[Path]:
    skipped = {path.resolve() for path in but}
    for path in sorted(root.rglob("*")):
        if path.is_symlink():
            raise StoreError(f"{path} is a link. A backup holds only files. Remove it first.")
        if path.is_dir() or path.resolve() in skipped or _is_left_out(path, root):
            continue
        if not path.is_file():
            raise StoreError(f"{path} is no file. A backup holds only files. Remove it first.")
        yield path


def _is_left_out(path: Path, root: Path) -> bool:
    if path.parent == root / JOURNAL:
        return is_journal(path.name)
    return path.parent == root and path.name in LEFT_OUT


def _add(archive: tarfile.TarFile, name: str, data: bytes) -> None:
    member = tarfile.TarInfo(name)
    member.size = len(data)
    member.mode = durable.OWNER_ONLY
    archive.addfile(member, io.BytesIO(data))


def _content(archive: tarfile.TarFile, member: tarfile.TarInfo) -> bytes:
    opened = archive.extractfile(member) if member.isreg() else None
    if opened is None:
        raise ValueError(f"{member.name} is no file")
    return opened.read()


def _inside(name: str) -> bool:
    path = PurePosixPath(name)
    return not path.is_absolute() and ".." not in path.parts and "\\" not in name and name != ""


def _write(path: Path, data: bytes) -> None:
    path.parent.mkdir(parents=True, exist_ok=True, mode=durable.OWNER_ONLY_FOLDER)
    with open(
        os.open(path, os.O_WRONLY | os.O_CREAT | os.O_EXCL, durable.OWNER_ONLY), "wb"
    ) as file:
        file.write(data)
