"""The address phones use, remembered: a phone's records belong to the address it opened."""

from pathlib import Path

from lowside.web.access.secret_file import write_secret

ADDRESS_FILE = "address"


def note_address(data: Path, address: str) -> str:
    """Remember the address phones use; the one they used before, "" when it is the same or new."""
    before = known_address(data)
    if before != address:
        write_secret(data / ADDRESS_FILE, address.encode("ascii") + b"\n")
    return before if before != address else ""


def known_address(data: Path) -> str:
    """The address phones used last, "" when there never was one."""
    path = data / ADDRESS_FILE
    return path.read_text(encoding="ascii").strip() if path.exists() else ""
