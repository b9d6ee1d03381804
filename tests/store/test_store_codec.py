"""Events as JSON: what is kept exactly, what is refused and why."""

import json
import re
import tracemalloc
from collections.abc import Callable
from dataclasses import replace
from datetime import UTC, date, datetime
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st
from store_cases import SID, event, log_path, opened

from lowside.core.session.events import Event
from lowside.core.session.ulids import CROCKFORD_32
from lowside.store.codec import (
    LARGEST_EVENT,
    LARGEST_INTEGER,
    BadEvent,
    BadLine,
    canonical,
    canonical_event,
    event_from_json,
    event_to_json,
    events_from_json,
    framed,
    line_of,
    read_events,
    read_line,
    read_lines,
    why_malformed,
)
from lowside.store.logs import session_path
from lowside.store.ulid import is_of_year, is_ulid, ulid_ms

YEAR_10000_MS = ((date(9999, 12, 31) - date(1970, 1, 1)).days + 1) * 86_400_000

names = st.from_regex(r"[A-Za-z0-9._-]{1,64}", fullmatch=True)
whole = st.integers(0, LARGEST_INTEGER)
events = st.builds(
    replace,
    st.just(event(1)),
    dev=names,
    run=names,
    kind=names,
    seq=st.integers(1, LARGEST_INTEGER),
    at=whole,
    mono=whole,
    tz=st.integers(-1440, 1440),
    schema=st.integers(1, LARGEST_INTEGER),
    hlc=st.from_regex(r"[0-9]{15}-[0-9]{6}", fullmatch=True),
    data=st.dictionaries(names, st.text(max_size=30), max_size=4),
)


@given(events)
def test_an_event_survives_json_and_a_line_exactly(one: Event) -> None:
    assert event_from_json(json.loads(json.dumps(event_to_json(one)))) == one
    line = line_of(one)
    assert line.count(b"\n") == 1
    assert read_line(line[:-1]) == one


@given(events, st.data())
def test_no_flipped_bit_in_a_line_goes_unseen(one: Event, data: st.DataObject) -> None:
    line = bytearray(line_of(one)[:-1])
    position = data.draw(st.integers(0, len(line) - 1))
    line[position] ^= 1 << data.draw(st.integers(0, 7))
    assert isinstance(read_line(bytes(line)), BadLine)


@given(st.binary(max_size=400))
def test_any_bytes_can_be_read_as_a_line(line: bytes) -> None:
    assert isinstance(read_line(line), BadLine)


def test_the_line_is_written_as_documented() -> None:
    assert line_of(event(1, text="54,5 °F", unit="°F")).decode("utf-8") == (
        '{"event":{"at":1764000000001,"data":{"text":"54,5 °F","unit":"°F"},"dev":"phone",'
        f'"eid":"{event(1).eid}","hlc":"001764000000001-000000","kind":"note.added","mono":10,'
        '"run":"run-1","schema":1,"seq":1,"sid":"01KAV9FT000000000000000001","tz":-360},'
        '"sum":"85854cabd3359289"}\n'
    )


BAD: dict[str, Callable[[dict[str, Any]], object]] = {
    "list": lambda _: [],
    "null": lambda _: None,
    "lacking seq": lambda o: {k: v for k, v in o.items() if k != "seq"},
    "unknown field": lambda o: o | {"colour": "red"},
    "sid path": lambda o: o | {"sid": "../../../../../../../etc/x"},
    "sid number": lambda o: o | {"sid": 5},
    "eid null": lambda o: o | {"eid": None},
    "eid lower case": lambda o: o | {"eid": o["eid"].lower()},
    "seq zero": lambda o: o | {"seq": 0},
    "seq true": lambda o: o | {"seq": True},
    "seq float": lambda o: o | {"seq": 1.0},
    "seq text": lambda o: o | {"seq": "1"},
    "seq too large": lambda o: o | {"seq": LARGEST_INTEGER + 1},
    "at negative": lambda o: o | {"at": -1},
    "tz beyond a day": lambda o: o | {"tz": 1441},
    "hlc short": lambda o: o | {"hlc": "1-0"},
    "hlc counter below zero": lambda o: o | {"hlc": o["hlc"][:16] + "-99999"},
    "hlc counter far below zero": lambda o: o | {"hlc": o["hlc"][:16] + "-999999"},
    "hlc counter of seven digits": lambda o: o | {"hlc": o["hlc"][:16] + "1000000"},
    "hlc other digits": lambda o: o | {"hlc": "٠" * 15 + "-" + "٠" * 6},
    "hlc with line feed": lambda o: o | {"hlc": o["hlc"] + "\n"},
    "kind empty": lambda o: o | {"kind": ""},
    "dev with slash": lambda o: o | {"dev": "a/b"},
    "run too long": lambda o: o | {"run": "r" * 65},
    "data list": lambda o: o | {"data": []},
    "data number": lambda o: o | {"data": {"suction": 118}},
    "data name": lambda o: o | {"data": {"a b": "x"}},
    "lone surrogate": lambda o: o | {"data": {"text": "\ud800"}},
    "too large": lambda o: o | {"data": {"text": "x" * LARGEST_EVENT}},
}


@pytest.mark.parametrize("spoil", BAD.values(), ids=BAD.keys())
def test_what_cannot_be_an_event_is_refused_with_a_sentence(
    spoil: Callable[[dict[str, Any]], object],
) -> None:
    bad = event_from_json(spoil(event_to_json(event(1))))
    assert isinstance(bad, BadEvent)
    assert bad.reason.endswith((".", "shorten it."))
    assert bad.reason.encode("utf-8").decode("utf-8").isprintable()
    assert len(bad.reason) < 200


ODD = (
    '"at":-0',
    '"at":1e3',
    '"at":1000.0',
    '"at":1e400',
    '"at":NaN',
    '"at":18446744073709551615',
    '"at":18446744073709551616',
    '"at":01',
    '"at":1,"at":2',
    '"\\u0061t":1',
    '"at" : 1',
    '"at":true',
    '"at":1,"more":1',
    '"at":1},{"at":1',
    '"at":1,"data":{"text":"\\ud800"}',
    '"at":1,"data":{"text":"\\ud83d\\ude00\\u0000\x7f"}',
    '"at":1,"data":{"text":"\x01"}',
    '"at":1,"data":{"text":1}',
    '"at":1,"data":{"text":"a","text":"b"}',
    '"at":1,"data":{"text":' + "[" * 1100 + "]" * 1100 + "}",
)
"""What an entry's time may be in a line, with what follows it."""


@given(st.lists(events, min_size=1, max_size=4), st.sampled_from(ODD), st.data())
def test_lines_at_once_are_read_as_line_by_line(
    some: list[Event], odd: str, data: st.DataObject
) -> None:
    lines = [line_of(one)[:-1] for one in some]
    assert read_lines(lines) == some
    body = re.sub('"at":[0-9]+', lambda _: odd, canonical_event(some[0]).decode(), count=1)
    kept = bytearray(framed(body.encode())[:-1])
    if data.draw(st.booleans()):
        kept[data.draw(st.integers(0, len(kept) - 1))] ^= 1
    lines.insert(data.draw(st.integers(0, len(lines))), bytes(kept))
    assert [*map(repr, read_lines(lines))] == [repr(read_line(line)) for line in lines]


@given(st.lists(events, max_size=4), st.sampled_from(ODD), st.integers(0, 4))
def test_entries_at_once_are_read_as_one_by_one(some: list[Event], odd: str, place: int) -> None:
    bodies = [canonical_event(one).decode() for one in some]
    assert events_from_json(json.loads(f"[{','.join(bodies)}]")) == some
    odd_body = re.sub('"at":[0-9]+', lambda _: odd, bodies[0] if bodies else "{}", count=1)
    bodies.insert(place, odd_body)
    try:
        sent = json.loads(f"[{','.join(bodies)}]")
    except ValueError:
        return
    one_by_one = [event_from_json(each) for each in sent]
    assert [*map(repr, events_from_json(sent))] == [*map(repr, one_by_one)]


@pytest.mark.parametrize("odd", [None, [], {}, "x", 1, {"sid": SID}, [[]]])
def test_what_is_no_entry_is_none_among_entries_either(odd: object) -> None:
    good = event_to_json(event(1))
    found = events_from_json([good, odd, good])
    assert found == [event(1), event_from_json(odd), event(1)]


def test_an_entry_that_is_too_large_is_refused_among_others() -> None:
    large = event_to_json(event(1, text="x" * LARGEST_EVENT))
    good, bad = events_from_json([event_to_json(event(2)), large])
    assert good == event(2)
    assert isinstance(bad, BadEvent)
    assert "shorten" in bad.reason


@given(events, st.text(), st.sampled_from([0, -1, 2**53, 2**63, 2**64, -(2**63) - 1]))
def test_entries_are_written_as_pythons_json_writes_them(one: Event, text: str, at: int) -> None:
    odd = replace(one, at=at, data={"text": text, text: "name"})
    assert canonical_event(odd) == canonical(event_to_json(odd))


def test_every_character_is_written_as_pythons_json_writes_it() -> None:
    every = "".join(chr(code) for code in range(0x110000) if not 0xD800 <= code <= 0xDFFF)
    one = replace(event(1), data={"text": every, every: "name"})
    assert canonical_event(one) == canonical(event_to_json(one))


def test_two_entries_in_one_line_are_not_read() -> None:
    two = framed(canonical_event(event(1)) + b"," + canonical_event(event(2)))[:-1]
    assert [type(one) for one in read_lines([two, line_of(event(3))[:-1]])] == [BadLine, Event]


def test_the_largest_event_is_just_taken() -> None:
    size = len(canonical_event(event(1, text="")))
    assert why_malformed(event(1, text="x" * (LARGEST_EVENT - size))) == ""
    assert "shorten" in why_malformed(event(1, text="x" * (LARGEST_EVENT - size + 1)))


def test_a_line_that_is_too_large_is_not_read() -> None:
    size = len(canonical_event(event(1, text="")))
    largest = line_of(event(1, text="x" * (LARGEST_EVENT - size)))
    assert isinstance(read_line(largest[:-1]), Event)
    larger = read_line(line_of(event(1, text="x" * (LARGEST_EVENT - size + 1)))[:-1])
    assert isinstance(larger, BadLine)
    assert "shorten" in larger.reason


@given(events, st.booleans(), st.sampled_from([None, 1]))
def test_no_other_way_to_write_an_event_is_shorter(
    one: Event, escaped: bool, indent: int | None
) -> None:
    """So a line that is short enough need not be written again to be measured."""
    text = json.dumps(event_to_json(one), ensure_ascii=escaped, indent=indent)
    assert len(canonical_event(one)) <= len(text.encode("utf-8"))


def test_a_ulid_tells_its_time() -> None:
    # The ULID specification's example, 2016-07-30T23:54:10.259Z.
    assert ulid_ms("01ARZ3NDEKTSV4RRFFQ69G5FAV") == 1469922850259
    assert ulid_ms(SID) == 1_764_000_000_000
    assert ulid_ms("0" * 26) == 0
    for wrong in ("", "01ARZ3NDEKTSV4RRFFQ69G5FAI", "01arz3ndektsv4rrffq69g5fav", "7" + "Z" * 25):
        assert ulid_ms(wrong) is None


def test_a_log_and_an_export_are_both_read(tmp_path: Path) -> None:
    one, two = event(1), event(2, text="\u2028")
    log = tmp_path / "log.jsonl"
    log.write_bytes(line_of(one) + b"garbage\n" + line_of(two)[:-1])
    assert read_events(log) == ([one, two], [f"{log}, line 2: it is not JSON."])
    plain = tmp_path / "plain.jsonl"
    plain.write_bytes(canonical_event(one) + b"\n\n" + canonical_event(two) + b"\n")
    assert read_events(plain) == ([one, two], [])


def test_the_documented_program_reads_a_store(
    root: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    page = (root / "docs" / "store-format.md").read_text("utf-8")
    program = page.split("```python\n")[1].split("```")[0]
    texts = ["118", 'é “54,5” \u2028 \\ " \x00']
    with opened(tmp_path / "data") as store:
        store.append([event(2, text=texts[1]), event(1, text=texts[0]), event(3)])
    log = log_path(tmp_path / "data")
    log.write_bytes(log.read_bytes().replace(b'"mono":30', b'"mono":31') + b"torn")
    monkeypatch.chdir(tmp_path)
    exec(compile(program, "docs/store-format.md", "exec"), {"__name__": "shown"})
    assert capsys.readouterr().out.splitlines() == [
        f"damaged line in {log.relative_to(tmp_path)}",
        f"{SID} note.added { ({'text': texts[0]}) }",
        f"{SID} note.added { ({'text': texts[1]}) }",
    ]


def begins(ms: int) -> str:
    return "".join(CROCKFORD_32[ms >> 5 * place & 31] for place in reversed(range(10)))


@given(st.integers(1970, 9999), st.integers(-3, 3), st.sampled_from("0Z"))
def test_a_log_is_in_the_folder_of_its_year(year: int, apart: int, rest: str) -> None:
    start = (datetime(year, 1, 1, tzinfo=UTC) - datetime(1970, 1, 1, tzinfo=UTC)).days * 86_400_000
    ms = max(start + apart, 0)
    text = begins(ms) + rest * 16
    own = str(datetime.fromtimestamp(ms // 1000, UTC).year)
    assert [one for one in range(year - 1, year + 2) if is_of_year(text, str(one))] == [int(own)]
    assert session_path(Path(), text).parent.name == own
    for wrong in ("", f"0{own}", f" {own}", own[:3], "٢٠٢٥", f"-{own}"):
        assert not is_of_year(text, wrong)
    for other in (text.lower() if text != text.lower() else "", text[:-1], text + "0", "U" * 26):
        assert not is_of_year(other, own)


@given(st.integers(-3, 3) | st.integers(0, 2**48 - 1).map(lambda ms: ms - YEAR_10000_MS))
def test_a_time_past_the_year_9999_names_no_log(apart: int) -> None:
    ms = YEAR_10000_MS + apart
    text = begins(ms) + "Z" * 16
    assert is_ulid(text) == (apart < 0)
    assert ulid_ms(text) == (ms if apart < 0 else None)


def test_the_bytes_an_entry_keeps_take_no_more_room_than_they_must() -> None:
    objects = [event_to_json(event(n, text="118")) for n in range(1, 201)]
    tracemalloc.start()
    try:
        before, _ = tracemalloc.get_traced_memory()
        events = events_from_json(objects)
        after, _ = tracemalloc.get_traced_memory()
    finally:
        tracemalloc.stop()
    size = sum(len(canonical_event(one)) for one in events if isinstance(one, Event))
    assert size > 40_000
    assert after - before < 5 * size  # with the events themselves
