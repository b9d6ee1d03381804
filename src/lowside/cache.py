"""What is made once and kept: files that can always be made again from their sources."""

import os
import sys
import tempfile
from pathlib import Path

CACHE_VARIABLE = "LOWSIDE_CACHE"
"""Names the folder of the cache; without it the platform's own."""


def cache_folder() -> Path:
    """`$LOWSIDE_CACHE`, else the platform's cache folder for this user."""
    named = os.environ.get(CACHE_VARIABLE)
    if named:
        return Path(named)
    if sys.platform == "win32":
        base = os.environ.get("LOCALAPPDATA") or str(Path.home() / "AppData" / "Local")
    elif sys.platform == "darwin":
        base = str(Path.home() / "Library" / "Caches")
    else:
        base = os.environ.get("XDG_CACHE_HOME") or str(Path.home() / ".cache")
    return Path(base) / "lowside"


def write_whole(path: Path, body: bytes) -> None:
    """All or nothing, so that a second process never reads half a file.

    Raises
        OSError: the folder cannot be written.
    """
    path.parent.mkdir(parents=True, exist_ok=True)
    handle, name = tempfile.mkstemp(dir=path.parent, prefix=path.stem, suffix=".part")
    try:
        with os.fdopen(handle, "wb") as file:
            file.write(body)
        Path(name).replace(path)
    except BaseException:
        Path(name).unlink(missing_ok=True)
        raise
