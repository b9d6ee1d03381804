"""A data folder whose shop went into a database says so: what is done in it counts nowhere."""

from datetime import UTC, datetime
from pathlib import Path

from lowside.store import durable

FILE = "moved"


def note_moved(data: Path, where: str) -> None:
    """Let the folder say that its shop is at `where` now. What it says already stays.

    Raises
        OSError: the disk refused.
    """
    path = data / FILE
    if not path.exists():
        durable.put(path, f"{where} since {datetime.now(UTC):%Y-%m-%d}\n".encode())


def why_moved(data: Path) -> str:
    """That the folder's shop is elsewhere, as a sentence; empty when nothing says so."""
    path = data / FILE
    try:
        where = path.read_text(encoding="utf-8", errors="replace").strip()
    except FileNotFoundError:
        return ""
    return (
        f"The shop of {data} is in the database {where}. Give its address. "
        f"To go on in this folder anyway, remove {path}."
    )
