"""Photos on disk: `photos/<year>/<sid>/<sha256>.jpg`, each whole or not there at all.

A session's entries name its photos. The store does not look into a picture; it knows a photo by the
SHA-256 of its bytes, which is the file's name, and it never changes one.
"""

import hashlib
import os
import re
from collections.abc import Collection, Iterator, Mapping
from contextlib import suppress
from pathlib import Path

from lowside.store import durable
from lowside.store.logs import SUFFIX as LOG_SUFFIX
from lowside.store.logs import session_path
from lowside.store.ulid import is_ulid

PHOTOS = "photos"
SUFFIX = ".jpg"
UNFINISHED = ".part"
_NAME = re.compile(r"[0-9a-f]{64}", re.ASCII)


class BadPhotoError(ValueError):
    """These bytes are not what their name says; the message is a sentence."""


def photo_path(root: Path, sid: str, name: str) -> Path:
    """Where a session's photo is: in the folder that has the name of the session's log.

    Raises
        ValueError: `sid` is not a ULID or `name` no SHA-256, so no file may have that name.
    """
    reason = why_no_name(sid, name)
    if reason != "":
        raise ValueError(reason)
    return _folder(root, sid) / (name + SUFFIX)


def why_no_name(sid: str, name: str) -> str:
    """Why nothing may be kept under these names; empty when it may."""
    if not is_ulid(sid):
        return "not a ULID"
    return "" if _NAME.fullmatch(name) is not None else "not a SHA-256"


def is_named(name: str, content: bytes) -> bool:
    """Whether this is the name of these bytes."""
    return hashlib.sha256(content).hexdigest() == name


def proven_photo(name: str, content: bytes) -> bytes:
    """The same bytes.

    Raises
        BadPhotoError: they are not what their name says.
    """
    if not is_named(name, content):
        raise BadPhotoError("The photo changed on its way here. Send it again.")
    return content


def keep_photo(root: Path, sid: str, name: str, content: bytes) -> bool:
    """Write a photo; when this returns, it is on the disk. `False` when it was there already.

    Raises
        ValueError: as for `photo_path`.
        BadPhotoError: the name is not that of these bytes.
        OSError: the disk refused, or did not confirm. Sending it again is right.
    """
    path = photo_path(root, sid, name)
    proven_photo(name, content)
    if _sound(path, name) is not None:
        return False
    part = path.with_name(path.name + UNFINISHED)
    try:
        durable.make_directories(path.parent)
        part.unlink(missing_ok=True)  # from a write that was cut short
        durable.append(part, content, 0)
        os.replace(part, path)
        durable.sync_directory(path.parent)
    except OSError:
        with suppress(OSError):
            part.unlink(missing_ok=True)
        raise
    return True


def read_photo(root: Path, sid: str, name: str) -> bytes | None:
    """The photo, `None` when it is not here or is damaged.

    Raises
        ValueError: as for `photo_path`.
        OSError: it cannot be read.
    """
    return _sound(photo_path(root, sid, name), name)


def has_photo(root: Path, sid: str, name: str) -> bool:
    """Whether there is a file for it; quicker than reading it."""
    return photo_path(root, sid, name).is_file()


def problems_of_photos(root: Path, named: Mapping[str, Collection[str]]) -> Iterator[str]:
    """Photos that are damaged, and files that no session names.

    Args:
        named: what each session's entries name.
    """
    for path in sorted((root / PHOTOS).rglob("*")):
        if path.is_dir():
            continue
        name = path.name.removesuffix(SUFFIX)
        if path.name != name + SUFFIX or name not in named.get(path.parent.name, ()):
            yield (
                f"{path} is a photo that no entry names, or the rest of a write that was cut "
                "short. Nothing shows it; remove the file when you have looked at it."
            )
        elif not _is_folder_of(root, path.parent):
            yield f"{path} is not where a photo is looked for. Nothing shows it."
        elif _sound(path, name) is None:
            yield (
                f"{path} is damaged: it is not the photo its name says. It is not shown. Put it "
                "back from a copy."
            )


def _sound(path: Path, name: str) -> bytes | None:
    try:
        content = path.read_bytes()
    except FileNotFoundError:
        return None
    return content if is_named(name, content) else None


def _folder(root: Path, sid: str) -> Path:
    log = session_path(root, sid)
    return root / PHOTOS / log.parent.name / log.name.removesuffix(LOG_SUFFIX)


def _is_folder_of(root: Path, folder: Path) -> bool:
    with suppress(ValueError):
        return folder == _folder(root, folder.name)
    return False
