"""Events as JSON and as the lines of a log. docs/store-format.md describes the format."""

import hashlib
import json
import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import lru_cache
from itertools import chain
from operator import itemgetter
from pathlib import Path
from typing import Any, cast

import orjson

from lowside.core.session.events import Event
from lowside.store.ulid import are_ulids, is_ulid

LARGEST_EVENT = 65_536
"""Largest canonical event [bytes]. The longest text a form takes is 2000 characters."""

LARGEST_INTEGER = 9_007_199_254_740_991
"""2^53 - 1: the largest integer that every JSON reader keeps exact."""

SUM_LENGTH = 16
"""Hex digits of SHA-256 in a line's checksum: 64 bits, against damage, not against malice."""

_HEAD = b'{"event":'
_MIDDLE = b',"sum":"'
_TAIL = b'"}'
_LINE = _HEAD + b"%b" + _MIDDLE + b"%b" + _TAIL + b"\n"
_AT_SUM = -(SUM_LENGTH + len(_TAIL))
_AT_MIDDLE = _AT_SUM - len(_MIDDLE)
"""Where these begin in a line, from its end."""

_HLC = re.compile(r"[0-9]{15}-[0-9]{6}", re.ASCII)
_NAME = re.compile(r"[A-Za-z0-9._-]{1,64}", re.ASCII)
_NAMES = re.compile(f"[^\n]*\n[^\n]*\n{_HLC.pattern}" + f"\n{_NAME.pattern}" * 3, re.ASCII)
"""The fields above, one in each line; the first two are ULIDs."""
_HLC_LENGTH = 22
_HLCS = re.compile(f"({_HLC.pattern}\n)*", re.ASCII)
_FIELDS = (
    "sid", "dev", "seq", "eid", "hlc", "at", "tz", "mono", "run", "kind", "data", "schema",
)  # fmt: skip
_WHOLE = (
    ("seq", 1, LARGEST_INTEGER),
    ("at", 0, LARGEST_INTEGER),
    ("tz", -1440, 1440),
    ("mono", 0, LARGEST_INTEGER),
    ("schema", 1, LARGEST_INTEGER),
)
"""Fields that are whole numbers, with the lowest and the highest of each."""
_ALL_FIELDS = frozenset(_FIELDS)
_in_columns = itemgetter(*_FIELDS)
_BODY = "_canonical"
_SOUND = "_sound"
"""Beside an event's fields: its canonical bytes, and that it was checked. An event never changes,
so neither is worked out twice on its way from a request to the disk and to other phones."""


@dataclass(frozen=True)
class BadEvent:
    """Something that cannot be an event; `reason` is a sentence that says why."""

    reason: str


@dataclass(frozen=True)
class BadLine:
    """A line of a log that cannot be trusted; `reason` is a sentence that says why."""

    reason: str


def event_to_json(event: Event) -> dict[str, object]:
    """The event as the object that is stored, sent and exported."""
    return {
        "sid": event.sid,
        "dev": event.dev,
        "seq": event.seq,
        "eid": event.eid,
        "hlc": event.hlc,
        "at": event.at,
        "tz": event.tz,
        "mono": event.mono,
        "run": event.run,
        "kind": event.kind,
        "data": dict(event.data),
        "schema": event.schema,
    }


def event_from_json(obj: object) -> Event | BadEvent:
    """Check one parsed JSON value and make it an event.

    A kind or schema unknown to this version is kept as it is. An event with an unknown top-level
    field is refused and stays with its sender: an `Event` has no place for the field, and storing
    the rest would change what the device wrote.
    """
    event = _shaped(obj)
    if isinstance(event, BadEvent):
        return event
    reason = why_malformed(event)
    return event if reason == "" else BadEvent(reason)


def events_from_json(objects: Sequence[object]) -> list[Event | BadEvent]:
    """As `event_from_json` for each. When all are sound it takes a fifth of the time.

    Args:
        objects: freshly parsed and used by nobody else: sound ones become the events' own.
    """
    sound = cast("Sequence[dict[str, Any]]", objects)
    if not _are_plain(sound, longest=0):
        return list(map(event_from_json, objects))
    bodies = list(map(_canonical_object, sound))
    if max(map(len, bodies)) > LARGEST_EVENT:
        return list(map(event_from_json, objects))
    for obj, body in zip(sound, bodies, strict=True):
        obj[_BODY], obj[_SOUND] = body, True
    return list(map(_unchecked, sound))


def _shaped(obj: object) -> Event | BadEvent:
    """An event with these fields and no others, whatever is in them."""
    if not isinstance(obj, dict):
        return BadEvent("An entry must be a JSON object.")
    if obj.keys() != _ALL_FIELDS:
        for name in obj:
            if name not in _ALL_FIELDS:
                shown = _shown(name)
                return BadEvent(f"This version does not know the field “{shown}” of an entry.")
        name = next(name for name in _FIELDS if name not in obj)
        return BadEvent(f"The entry lacks its field “{name}”.")
    return _unchecked(obj.copy())


def _unchecked(obj: dict[str, Any]) -> Event:
    """The event with these fields, which belong to it from now on. `Event(**obj)` takes five times
    as long, most of it to freeze."""
    event = object.__new__(Event)
    object.__setattr__(event, "__dict__", obj)
    return event


def _are_plain(objects: Sequence[dict[str, Any]], longest: int) -> bool:
    """Whether all are sound events, without saying why not. Field by field for all of them takes
    a third of the time that event by event does."""
    try:
        sids, devs, seqs, eids, hlcs, ats, tzs, monos, runs, kinds, datas, schemas = zip(
            *map(_in_columns, objects), strict=True
        )
        return (
            longest <= LARGEST_EVENT
            and set(map(len, objects)) == {len(_FIELDS)}
            and set(map(type, seqs + ats + tzs + monos + schemas)) == {int}
            and min(seqs) > 0
            and min(*ats, *monos) >= 0
            and -1440 <= min(tzs) <= max(tzs) <= 1440
            and min(schemas) > 0
            and max(*seqs, *ats, *monos, *schemas) <= LARGEST_INTEGER
            and are_ulids(tuple(set(sids)))
            and are_ulids(eids)
            and set(map(len, hlcs)) == {_HLC_LENGTH}
            and _HLCS.fullmatch("\n".join(hlcs) + "\n") is not None
            and all(map(_is_name, {*devs, *runs, *kinds}))
            and set(map(type, datas)) == {dict}
            and all(map(_are_names, set(map(tuple, datas))))
            and _is_unicode("".join(chain.from_iterable(map(dict.values, datas))))
        )
    except (TypeError, KeyError, ValueError):  # not texts, a field that is missing, or no events
        return False


def are_sound(events: Sequence[Event]) -> bool:
    """Whether the store can keep each of these; most were checked before."""
    return all(_SOUND in event.__dict__ or why_malformed(event) == "" for event in events)


def why_malformed(event: Event) -> str:
    """Why the store cannot keep this event, as a sentence; empty when it can."""
    if _SOUND in event.__dict__:
        return ""
    reason = _why_fields_malformed(event) or _why_too_large(event)
    if reason == "":
        event.__dict__[_SOUND] = True
    return reason


def _why_fields_malformed(event: Event) -> str:
    if _has_plain_fields(event):
        return _why_data_malformed(event.data)
    value: object
    for name, value in (("sid", event.sid), ("eid", event.eid)):
        if not isinstance(value, str) or not is_ulid(value):
            return f"“{_shown(value)}” is not a ULID, so it cannot be the entry’s {name}."
    for name, value in (("dev", event.dev), ("run", event.run), ("kind", event.kind)):
        if not isinstance(value, str) or not _is_name(value):
            return (
                f"The entry’s {name} must be 1 to 64 letters, digits, dots, dashes or "
                f"underscores, not “{_shown(value)}”."
            )
    if not isinstance(event.hlc, str) or _HLC.fullmatch(event.hlc) is None:
        return f"“{_shown(event.hlc)}” is not a clock value the order of entries can rest on."
    for name, lowest, highest in _WHOLE:
        value = getattr(event, name)
        if type(value) is not int or not lowest <= value <= highest:
            return (
                f"The entry’s {name} must be a whole number from {lowest} to {highest}, "
                f"not “{_shown(value)}”."
            )
    return _why_data_malformed(event.data)


def _has_plain_fields(event: Event) -> bool:
    """Whether every field but the data is as it must be; found at once, without saying why not."""
    try:
        names = "\n".join((event.sid, event.eid, event.hlc, event.dev, event.run, event.kind))
    except TypeError:  # not texts
        return False
    seq, at, tz, mono, schema = event.seq, event.at, event.tz, event.mono, event.schema
    return (
        type(seq) is type(at) is type(tz) is type(mono) is type(schema) is int
        and 0 < seq <= LARGEST_INTEGER
        and 0 <= at <= LARGEST_INTEGER
        and -1440 <= tz <= 1440
        and 0 <= mono <= LARGEST_INTEGER
        and 0 < schema <= LARGEST_INTEGER
        and _NAMES.fullmatch(names) is not None
        and is_ulid(event.sid)
        and is_ulid(event.eid)
    )


def canonical(value: object) -> bytes:
    """The one way a JSON value is written: sorted names, no spaces, UTF-8 unescaped."""
    return _encode(value).encode("utf-8")


def _canonical_object(fields: Mapping[str, object]) -> bytes:
    """As `canonical`, of texts and whole numbers, in a tenth of the time: orjson writes those byte
    for byte as Python does. What it refuses goes by Python: half a character, which is an error
    there too, and whole numbers past 64 bits."""
    try:
        written = orjson.dumps(fields, option=orjson.OPT_SORT_KEYS)
    except TypeError:
        return canonical(fields)
    return memoryview(written).tobytes()  # what orjson returns keeps ten times the room


_encode = json.JSONEncoder(
    sort_keys=True, separators=(",", ":"), ensure_ascii=False, allow_nan=False
).encode


def canonical_event(event: Event) -> bytes:
    """The event's canonical bytes. Two events are the same when these are the same."""
    body: bytes | None = event.__dict__.get(_BODY)
    if body is None:
        body = event.__dict__[_BODY] = _canonical_object(event_to_json(event))
    return body


def canonical_events(events: Sequence[Event]) -> list[bytes]:
    """As `canonical_event` for each; most are known."""
    return [event.__dict__.get(_BODY) or canonical_event(event) for event in events]


def line_of(event: Event) -> bytes:
    """The event as a line of a log, with its checksum and its line feed."""
    return framed(canonical_event(event))


def lines_of(events: Sequence[Event]) -> bytes:
    """As `line_of` for each, together."""
    return b"".join(map(framed, canonical_events(events)))


def framed(body: bytes) -> bytes:
    """Canonical bytes as a line of a log, with their checksum and the line feed."""
    return _LINE % (body, checksum(body))


def line_with(body: bytes, kept_sum: bytes) -> bytes:
    """Canonical bytes and the checksum that was kept with them, as a line without line feed."""
    return _HEAD + body + _MIDDLE + kept_sum + _TAIL


def unframed(line: bytes) -> bytes | BadLine:
    """The canonical bytes of a line without its line feed, if its checksum fits."""
    if not (line.startswith(_HEAD) and line[_AT_MIDDLE:_AT_SUM] == _MIDDLE and line[-2:] == _TAIL):
        return BadLine("it is not an entry with its checksum")
    body = line[len(_HEAD) : _AT_MIDDLE]
    if checksum(body) != line[_AT_SUM:-2]:
        return BadLine("its checksum does not match, so it was changed or damaged")
    return body


def whole_lines(content: bytes) -> tuple[list[bytes], bytes]:
    """The lines of a log without their line feeds, and what is torn at its end. A last line is
    whole without a line feed too, or with another byte there: one flipped bit makes it."""
    *lines, rest = content.split(b"\n")
    for line in (rest, rest[:-1]):
        if not isinstance(unframed(line), BadLine):
            return [*lines, line], b""
    return lines, rest


def checksum(body: bytes) -> bytes:
    """The first hex digits of SHA-256 of an event's bytes."""
    return hashlib.sha256(body).hexdigest()[:SUM_LENGTH].encode("ascii")


def read_line(line: bytes) -> Event | BadLine:
    """Read a line of a log, without its line feed."""
    body = unframed(line)
    return body if isinstance(body, BadLine) else _event_from_bytes(body)


def read_lines(lines: Sequence[bytes]) -> list[Event | BadLine]:
    """Read lines of a log, without their line feeds. All at once takes half of the time."""
    return [*(_sound_events(lines) or map(read_line, lines))]


def _sound_events(lines: Sequence[bytes]) -> list[Event]:
    """The events of these lines; none when something is, or may be, wrong with one of them.

    orjson reads texts and whole numbers of 64 bits as Python does. Of the rest it refuses some, and
    makes floats of some, which are in no sound event.
    """
    bodies = [line[len(_HEAD) : _AT_MIDDLE] for line in lines]
    sums = [hashlib.sha256(body).hexdigest()[:SUM_LENGTH] for body in bodies]
    are_framed = {line[: len(_HEAD)] for line in lines} == {_HEAD} and b"\n".join(
        [line[_AT_MIDDLE:] for line in lines]
    ) == "\n".join([f',"sum":"{kept_sum}"}}' for kept_sum in sums]).encode()
    if not are_framed:
        return []
    try:
        objects = orjson.loads(b"[" + b",".join(bodies) + b"]")
    except ValueError:
        return []
    is_sound = len(objects) == len(bodies) and _are_plain(objects, max(map(len, bodies)))
    return [_unchecked(obj) for obj in objects] if is_sound else []


def read_events(path: Path) -> tuple[list[Event], list[str]]:
    """Events of a log or of an exported file (plain events), in the file's order.

    Returns
        The events that can be read, and a sentence for each line that cannot.

    Raises
        OSError: the file cannot be read.
    """
    events: list[Event] = []
    problems: list[str] = []
    for number, line in enumerate(path.read_bytes().split(b"\n"), start=1):
        if line.strip() == b"":
            continue
        read = read_line(line) if line.startswith(_HEAD) else _event_from_bytes(line)
        if isinstance(read, BadLine):
            problems.append(f"{path}, line {number}: {read.reason}.")
        else:
            events.append(read)
    return events, problems


def _event_from_bytes(body: bytes) -> Event | BadLine:
    try:
        obj = json.loads(body.decode("utf-8"))
    except (ValueError, RecursionError):
        return BadLine("it is not JSON")
    return _event_from_value(obj, len(body))


def _event_from_value(obj: object, size: int) -> Event | BadLine:
    event = _shaped(obj)
    # Canonical bytes are the fewest, so those of a short body need not be made to be counted.
    is_short = size <= LARGEST_EVENT
    if isinstance(event, BadEvent):
        reason = event.reason
    else:
        reason = _why_fields_malformed(event) or ("" if is_short else _why_too_large(event))
    if isinstance(event, BadEvent) or reason != "":
        return BadLine(f"it is not an entry this version can read ({reason})")
    return event


def _why_data_malformed(data: object) -> str:
    if type(data) is dict and _is_plain(data):
        return ""
    if not isinstance(data, Mapping):
        return "The entry’s data must be an object of texts."
    for name, text in data.items():
        if not isinstance(name, str) or not _is_name(name):
            return f"“{_shown(name)}” cannot be the name of a value in an entry."
        if not isinstance(text, str):
            return f"The entry’s value “{name}” must be text, as it was typed."
        if not _is_unicode(text):
            return f"The entry’s value “{name}” is not valid Unicode text."
    return ""


def _is_plain(data: Mapping[str, str]) -> bool:
    """Whether it has good names and valid texts, as nearly every entry; found at once."""
    try:
        return _are_names(tuple(data)) and _is_unicode("".join(data.values()))
    except TypeError:  # not texts
        return False


def _is_unicode(text: str) -> bool:
    """Whether it has no lone surrogates."""
    try:
        text.encode()
    except UnicodeEncodeError:
        return False
    return True


@lru_cache(maxsize=256)  # entries of a kind have the same names
def _are_names(names: tuple[str, ...]) -> bool:
    return all(_NAME.fullmatch(name) is not None for name in names)


@lru_cache(maxsize=4096)  # the same few names are in every entry
def _is_name(text: str) -> bool:
    return _NAME.fullmatch(text) is not None


def _why_too_large(event: Event) -> str:
    size = len(canonical_event(event))
    if size <= LARGEST_EVENT:
        return ""
    return f"The entry has {size} bytes. The store takes at most {LARGEST_EVENT}; shorten it."


def _shown(value: object) -> str:
    """A foreign value for a sentence: short, printable, valid Unicode."""
    text = str(value)[:40]
    return "".join(character if character.isprintable() else "?" for character in text)
