"""Events and outlines for the store's tests. The store knows no rules, so these need none."""

from collections.abc import Sequence
from pathlib import Path

from lowside.core.session.events import Event, hlc
from lowside.core.session.ulids import CROCKFORD_32
from lowside.store import EventStore, Outline, Store
from lowside.store.following import Batch

START = 1_764_000_000_000
"""2025-11-24 [ms since 1970-01-01 UTC]."""


def ulid(number: int, ms: int = START) -> str:
    """The ULID of a number."""
    value = (ms << 80) | number
    characters = []
    for _ in range(26):
        characters.append(CROCKFORD_32[value & 31])
        value >>= 5
    return "".join(reversed(characters))


SID = ulid(1)
OTHER_SID = ulid(2)


def event(
    seq: int = 1,
    *,
    sid: str = SID,
    dev: str = "phone",
    eid: str = "",
    kind: str = "note.added",
    **data: str,
) -> Event:
    """An event numbered `seq`; its eid follows from (dev, seq) unless given."""
    number = int.from_bytes(f"{sid[-3:]}{dev}".encode(), "big") % (1 << 60) * 1_000_000 + seq
    return Event(
        sid=sid,
        dev=dev,
        seq=seq,
        eid=eid or ulid(number % (1 << 80)),
        hlc=hlc(START + seq, 0),
        at=START + seq,
        tz=-360,
        mono=seq * 10,
        run="run-1",
        kind=kind,
        data=data,
    )


def outline(events: Sequence[Event]) -> Outline:
    """What the events' data names of an outline; the last word counts."""
    texts: dict[str, str] = {}
    for item in sorted(events, key=lambda e: (e.hlc, e.dev, e.seq)):
        texts |= item.data
    return Outline(
        site=texts.get("site", ""),
        unit_label=texts.get("unit_label", ""),
        technician=texts.get("technician", ""),
        refrigerant=texts.get("refrigerant", ""),
        cylinder=texts.get("cylinder", ""),
        started=min((e.at for e in events), default=None),
        closed=max((e.at for e in events if e.kind == "session.closed"), default=None),
        added_kg=0.125 * len(events),
        practice=texts.get("practice", "") == "yes",
    )


def arrived(store: EventStore, cursor: str = "", limit: int = 100) -> Batch:
    """What arrived since, to someone who is sent no whole sessions first."""
    return store.follow(cursor, limit, lambda _lately_ms: (0, ()))


def opened(root: Path, write: bool = True) -> Store:
    return Store.open(root, outline, write)


def log_path(root: Path, sid: str = SID) -> Path:
    return root / "sessions" / "2025" / f"{sid}.jsonl"
