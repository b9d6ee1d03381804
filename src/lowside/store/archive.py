"""Backup and restore: the whole data folder as one file, checked when it is written and read.

The index, the journal and the lock are left out: the index is made from the logs again, and the
logs have what the journal holds. Each file's checksum is in the archive, so a copy that went bad
is found before it is needed.
"""

import hashlib
import io
import json
import os
import shutil
import tarfile
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path, PurePosixPath

from lowside.store import durable
from lowside.store.errors import StoreError
from lowside.store.index import INDEX_FILE
from lowside.store.journal import why_lacking
from lowside.store.lock import LOCK_FILE
from lowside.store.logs import JOURNAL, SESSIONS, is_journal

MANIFEST = "lowside-backup.json"
FORMAT = 1
COMPRESSION = 6
"""A sixth of the time of the highest, for a file 6 % larger. Our choice."""
UNFINISHED = (".part", ".new")
"""How the name of a file ends while a server writes it. It gets its own name when it is whole."""
RESTORING = ".restoring"


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
    cut there is found as a torn one, which was not acknowledged before the backup began. A file
    that it is still writing is left out.

    Args:
        root: the data folder.
        out: the file, outside the data folder; replaced whole.

    Raises
        StoreError: there is no such folder, `out` is in it, it holds a link or another thing that
            is no file, or logs lack what only the journal has.
        OSError: it cannot be read or written, or a log went away meanwhile.
    """
    if not root.is_dir():
        raise StoreError(f"There is no data folder {root}.")
    if root.resolve() in out.resolve().parents:
        raise StoreError(
            f"{out} is in the data folder, so each backup would be in the next one. Name a file "
            "elsewhere, best on another disk."
        )
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
                for name, data in _contents(root):
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

    Every checksum is compared first: a damaged backup changes nothing. The folder may be a link to
    an empty one, or an empty disk.

    Raises
        BadArchiveError: it is no backup, is damaged, or names a place outside the folder.
        StoreError: the folder is not empty.
        OSError: something cannot be read or written.
    """
    root = root.resolve()
    if root.exists() and (not root.is_dir() or any(root.iterdir())):
        raise StoreError(
            f"{root} is not empty. Restore into an empty folder, so that nothing is overwritten."
        )
    try:
        found = _checked(archive_file)
    except (tarfile.TarError, EOFError, ValueError, KeyError, TypeError) as error:
        raise BadArchiveError(f"{archive_file} is no sound backup: {error}.") from error
    _fill(archive_file, root)
    return found


def _fill(archive_file: Path, root: Path) -> None:
    """Into a folder of its own first, on the same disk: a full one leaves no half of a shop."""
    # A disk of its own cannot be replaced, and a shell that is in the folder would lose it.
    stays = root.is_mount() or root == Path.cwd()
    own = root / RESTORING if stays else root.with_name(root.name + RESTORING)
    if own.exists():
        raise StoreError(f"{own} is left from a restore that was cut short. Remove it first.")
    durable.make_directories(own)
    try:
        with tarfile.open(archive_file, mode="r:gz") as archive:
            for member in archive:
                if member.name != MANIFEST:
                    _write(own / PurePosixPath(member.name), _content(archive, member))
        durable.sync_tree(own)
        if root.exists() and not stays:
            root.rmdir()
    except BaseException:
        shutil.rmtree(own)
        raise
    if stays:
        # The sessions first: without the rest nobody is let in, without them the shop looks new.
        for path in sorted(own.iterdir(), key=lambda path: path.name != SESSIONS):
            path.rename(root / path.name)
        own.rmdir()
        durable.sync_directory(root)
    else:
        own.rename(root)
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


def _contents(root: Path) -> Iterator[tuple[str, bytes]]:
    """The name of each file and what is in it."""
    for path in sorted(root.rglob("*")):
        if path.is_symlink():
            raise StoreError(f"{path} is a link. A backup holds only files. Remove it first.")
        if path.is_dir() or _is_left_out(path, root):
            continue
        if path.exists() and not path.is_file():
            raise StoreError(f"{path} is no file. A backup holds only files. Remove it first.")
        yield path.relative_to(root).as_posix(), path.read_bytes()


def _is_left_out(path: Path, root: Path) -> bool:
    if path.parent == root / JOURNAL:
        return is_journal(path.name)
    if path.name.endswith(UNFINISHED):
        return True
    return path.parent == root and (path.name == LOCK_FILE or path.name.startswith(INDEX_FILE))


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
