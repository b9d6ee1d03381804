"""Where a store keeps its photos: beside the logs of one server, or with the papers of many."""

from collections.abc import Callable
from pathlib import Path
from threading import Lock
from typing import Protocol, TypeVar

from lowside.store.errors import NotNowError
from lowside.store.photos import (
    SUFFIX,
    has_photo,
    is_named,
    keep_photo,
    proven_photo,
    read_photo,
    why_no_name,
)
from lowside.store.shared import Shared

T = TypeVar("T")


class Photos(Protocol):
    """A session's photos by the SHA-256 of their bytes. Each method may raise

    ValueError: the session's or the photo's name is none.
    StoreError: it cannot be done now; the message is the sentence the user reads.
    """

    def keep(self, sid: str, name: str, content: bytes) -> bool:
        """Keep a photo; when this returns, it is on the disk. `False` when it was there already.

        Raises
            BadPhotoError: the name is not that of these bytes.
        """
        ...

    def read(self, sid: str, name: str) -> bytes | None:
        """The photo, `None` when it is not here or is damaged."""
        ...

    def has(self, sid: str, name: str) -> bool:
        """Whether there is something for it; quicker than reading it."""
        ...


class FilePhotos:
    """In the data folder."""

    def __init__(self, root: Path) -> None:
        self._root = root
        self._one_at_a_time = Lock()
        """Two that write one photo would give each other's half its name."""

    def keep(self, sid: str, name: str, content: bytes) -> bool:
        with self._one_at_a_time:
            return _from_disk(lambda: keep_photo(self._root, sid, name, content))

    def read(self, sid: str, name: str) -> bytes | None:
        return _from_disk(lambda: read_photo(self._root, sid, name))

    def has(self, sid: str, name: str) -> bool:
        return has_photo(self._root, sid, name)


class SharedPhotos:
    """Among what the servers of a shop share. A paper never changes, so one that was damaged stays,
    and what is sent again is kept beside it."""

    def __init__(self, shared: Shared) -> None:
        self._shared = shared

    def keep(self, sid: str, name: str, content: bytes) -> bool:
        paper = _paper(sid, name)
        if self._shared.put(paper, proven_photo(name, content)):
            return True
        if self.read(sid, name) is not None:
            return False
        copies = len(self._shared.names(paper))
        if self._shared.put(f"{paper}.{copies + 1}", content):
            return True
        if self.read(sid, name) is None:  # as when another sent it at this moment
            raise NotNowError("The photo that was kept before is damaged. Send it again.")
        return False

    def read(self, sid: str, name: str) -> bytes | None:
        paper = _paper(sid, name)
        content = self._shared.paper(paper)
        if content is None or is_named(name, content):
            return content
        copies = (self._shared.paper(each) for each in self._shared.names(paper + "."))
        return next((each for each in copies if each and is_named(name, each)), None)

    def has(self, sid: str, name: str) -> bool:
        return bool(self._shared.names(_paper(sid, name)))


def _from_disk(act: Callable[[], T]) -> T:
    try:
        return act()
    except OSError as error:
        raise NotNowError(f"The disk did not take or give the photo ({error}).") from error


def _paper(sid: str, name: str) -> str:
    reason = why_no_name(sid, name)
    if reason != "":
        raise ValueError(reason)
    return f"photos/{sid}/{name}{SUFFIX}"
