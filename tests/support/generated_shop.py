"""A shop of any size: the demo's sessions again and again, under other names and days.

`filled` writes 100,000 logs in about a minute: names and days are put into lines that were encoded
once.
"""

import dataclasses
from collections.abc import Iterator, Sequence
from functools import cache
from pathlib import Path

from lowside.core.session.events import Event, hlc
from lowside.core.session.ulids import CROCKFORD_32
from lowside.demo import play, scenarios
from lowside.library import load_handbook
from lowside.store.codec import canonical_event, framed, lines_of
from lowside.store.logs import session_path

ENTRIES = 40
"""Of each session."""
YEAR_MS = 365 * 86_400_000
FIRST_MS = 1_735_689_600_000
"""2025-01-01."""
COMPARED = 12
"""Sessions whose lines are also made the usual way, to compare."""
_TWO = [one + other for one in CROCKFORD_32 for other in CROCKFORD_32]
_TEXTS = ("sid", "dev", "eid", "hlc", "site", "unit_label", "technician", "cylinder_label")
_AT = 8_123_456_789_012_345
"""In place of the time, where a line is encoded once for all sessions."""


def ulid(number: int, ms: int) -> str:
    value = (ms << 80) | number
    return "".join([_TWO[(value >> place) & 1023] for place in range(120, -1, -10)])


def began(n: int, count: int) -> int:
    """When the session at place `n` of so many began [ms since 1970-01-01 UTC]."""
    return FIRST_MS + int(n * 2 * YEAR_MS / count)


def generated(count: int) -> Iterator[list[Event]]:
    """So many sessions over two years; units come again and cylinders are shared."""
    for n in range(count):
        yield session_at(n, count)


def session_at(n: int, count: int) -> list[Event]:
    """The session at place `n` of so many."""
    model = _models()[n % len(_models())]
    shift = began(n, count) - model[0].at
    sid, dev, names = ulid(n + 1, began(n, count)), f"phone-{n % 12}", _names(n, count)
    return [
        dataclasses.replace(
            event,
            sid=sid,
            dev=dev,
            seq=place + 1,
            eid=ulid((n << 20) + place + 1, event.at + shift),
            hlc=hlc(event.at + shift, place),
            at=event.at + shift,
            data=_named(event, names),
        )
        for place, event in enumerate(model)
    ]


def filled(root: Path, count: int) -> None:
    """Write the logs themselves, if they are not there: a store waits for the disk after each."""
    if root.exists():
        return
    making = root.with_name(root.name + ".making")
    templates = [(model[0].at, _encoded(model)) for model in _models()]
    for n in range(count):
        at = began(n, count)
        sid = ulid(n + 1, at)
        first, lines = templates[n % len(templates)]
        texts = {"sid": sid, "dev": f"phone-{n % 12}", **_names(n, count)}
        values = {name.encode(): text.encode() for name, text in texts.items()}
        written = []
        for place, (moved, line) in enumerate(lines):
            now = moved - first + at
            values[b"at"] = b"%d" % now
            values[b"eid"] = ulid((n << 20) + place + 1, now).encode()
            values[b"hlc"] = b"%015d-%06d" % (now, place)
            written.append(framed(line % values))
        if n < COMPARED:
            assert written == [lines_of([event]) for event in session_at(n, count)]
        path = session_path(making, sid)
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_bytes(b"".join(written))
    if count > 0:
        making.rename(root)


@cache
def _models() -> list[list[Event]]:
    """The demo's sessions, each with its first reading, and a note, taken again and again."""
    handbook = load_handbook()
    models = []
    for scenario in scenarios():
        events = play(scenario, handbook)
        place = next(i for i, event in enumerate(events) if event.kind == "reading.taken")
        reading = events[place]
        note = dataclasses.replace(reading, kind="note.added", data={"text": "Looked at it again."})
        more = [(reading, note)[n % 2] for n in range(ENTRIES - len(events))]
        models.append([*events[:place], *more, *events[place:]])
    return models


def _names(n: int, count: int) -> dict[str, str]:
    return {
        "site": f"Site {n % (count // 20 + 1)}",
        "unit_label": f"Unit {n % 3}",
        "technician": f"Tech {n % 12}",
        "cylinder_label": f"C-{n % (count // 200 + 20)}",
    }


def _named(event: Event, names: dict[str, str]) -> dict[str, str]:
    return {name: names.get(name, text) for name, text in event.data.items()}


def _encoded(model: Sequence[Event]) -> list[tuple[int, bytes]]:
    """For each event its time, and its canonical bytes with a name for what differs."""
    signs = {name: f"\x7f{name}\x7f" for name in _TEXTS}
    lines = []
    for place, event in enumerate(model):
        own = {name: signs[name] for name in ("sid", "dev", "eid", "hlc")}
        marked = dataclasses.replace(event, **own, seq=place + 1, at=_AT, data=_named(event, signs))
        line = canonical_event(marked).replace(b"%", b"%%").replace(b"%d" % _AT, b"%(at)b")
        for name, sign in signs.items():
            line = line.replace(sign.encode(), b"%%(%b)b" % name.encode())
        lines.append((event.at, line))
    return lines
