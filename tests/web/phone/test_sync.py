"""What a phone may rely on when it hands over its events: `POST /api/sync`."""

import json
from collections.abc import Iterator, Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import replace
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import TYPE_CHECKING, Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from store_cases import START, event, ulid
from website import Site, open_site

from lowside.core.session.events import Event, hlc, in_order, next_hlc
from lowside.store import event_to_json
from lowside.web.clock import Clock
from lowside.web.phone.needed import DAY_MS, KEPT_ON_PHONES_MS, MOST_RECENT, needed_sessions
from lowside.web.phone.sync import (
    LARGEST_BODY,
    LONGEST_CURSOR,
    MOST_AT_ONCE,
    MOST_EVENTS,
    MOST_WANTED,
)

if TYPE_CHECKING:
    from lowside.core.handbook.handbook import Handbook

NOW = Clock().now().at
SID = ulid(1, NOW)


@pytest.fixture
def site(place: Path | str, handbook: "Handbook") -> Iterator[Site]:
    with open_site(place, handbook) as site:
        yield site


def ask(
    site: Site,
    events: Sequence[Any] = (),
    cursor: str = "",
    dev: str = "phone",
    status: int = 200,
    **more: Any,
) -> dict[str, Any]:
    """One round; events may be `Event`s or any JSON."""
    sent = [event_to_json(e) if isinstance(e, Event) else e for e in events]
    asked = {"v": 1, "dev": dev, "cursor": cursor, "events": sent, **more}
    return raw(site, json.dumps(asked).encode(), status)


def raw(site: Site, body: bytes, status: int) -> dict[str, Any]:
    headers = {"Content-Type": "application/json"}
    response = site.send("POST", "/api/sync", content=body, headers=headers)
    assert response.status_code == status, response.text
    answer: dict[str, Any] = response.json()
    return answer


def outcomes(answer: dict[str, Any]) -> list[str]:
    return [verdict["outcome"] for verdict in answer["verdicts"]]


def mine(seq: int = 1, sid: str = SID, **named: Any) -> Event:
    return event(seq, sid=sid, **named)


def test_what_is_sent_is_stored_and_comes_to_others(site: Site) -> None:
    sent = [mine(1, text="one"), mine(2, text="two ß")]
    answer = ask(site, sent)
    assert outcomes(answer) == ["stored", "stored"]
    assert answer["events"] == []
    assert site.store.events(SID) == sent
    others = ask(site, dev="other")
    assert others["events"] == [event_to_json(e) for e in sent]
    again = ask(site, cursor=answer["cursor"], dev="other")
    assert again["events"] == []
    assert again["more"] is False


def test_who_did_not_hear_the_answer_is_sent_its_own_entries_too(site: Site) -> None:
    before = ask(site)["cursor"]
    ask(site, [mine(1)], before)
    answer = ask(site, [mine(1), mine(2)], before)
    assert outcomes(answer) == ["already", "stored"]
    assert answer["events"] == [event_to_json(mine(1))]


def test_what_a_phone_sent_is_in_the_list_that_is_asked_for_next(site: Site) -> None:
    for seq, name in ((1, "Gym"), (2, "Mill"), (3, "Shed")):
        told = {"site": name, "unit_label": "AC", "technician": "Ines", "elevation": "0"}
        job = mine(seq, kind="job.set", **told, elevation_unit="ft")
        assert outcomes(ask(site, [job])) == ["stored"]
        assert [one.outline.site for one in site.store.sessions()] == [name]


def test_the_same_post_five_times_stores_each_event_once(site: Site) -> None:
    sent = [mine(seq) for seq in range(1, 6)]
    answers = [ask(site, sent) for _ in range(5)]
    assert outcomes(answers[0]) == ["stored"] * 5
    assert [outcomes(answer) for answer in answers[1:]] == [["already"] * 5] * 4
    assert site.store.events(SID) == sent


def test_the_same_post_five_times_at_once_stores_each_event_once(site: Site) -> None:
    sent = [mine(seq) for seq in range(1, 6)]
    with ThreadPoolExecutor(5) as pool:
        answers = list(pool.map(lambda _: ask(site, sent), range(5)))
    for place in range(5):
        found = sorted(outcomes(answer)[place] for answer in answers)
        assert found == ["already"] * 4 + ["stored"]
    assert site.store.events(SID) == sent


def test_other_content_under_a_stored_number_is_set_aside(site: Site) -> None:
    first = mine(1, text="118")
    ask(site, [first])
    other = replace(first, data={"text": "181"})
    answer = ask(site, [other, mine(2)])
    assert outcomes(answer) == ["quarantined", "stored"]
    assert answer["verdicts"][0]["reason"] != ""
    assert site.store.events(SID)[0] == first
    assert [aside.event for aside in site.store.quarantined()] == [other]
    assert "181" in site.get("/office/set-aside").text


def test_a_kind_of_a_later_version_is_kept_to_the_letter(site: Site) -> None:
    odd = replace(mine(1), kind="valve.photographed", schema=7, data={"of": "höse", "x.y": ""})
    assert outcomes(ask(site, [odd])) == ["stored"]
    assert ask(site, dev="other")["events"] == [event_to_json(odd)]


def test_a_device_more_than_a_day_ahead_of_the_server_is_refused(site: Site) -> None:
    at = NOW + DAY_MS + DAY_MS // 4  # so far that the tests may run for hours before this one
    late = replace(mine(1), hlc=hlc(at, 0), at=at)
    fine = replace(mine(2), hlc=hlc(NOW + DAY_MS - 600_000, 0))
    wall = replace(mine(3), hlc=hlc(NOW, 0), at=253_402_300_800_000)  # the year 10000
    answer = ask(site, [late, fine, wall])
    assert outcomes(answer) == ["refused", "stored", "refused"]
    assert "clock" in answer["verdicts"][0]["reason"]
    assert "clock" in answer["verdicts"][2]["reason"]
    assert site.store.events(SID) == [fine]


@pytest.mark.parametrize(
    "kind", ["office.signed_off", "office.commented", "office.recorded", "office.cylinder"]
)
def test_no_phone_hands_over_what_the_office_writes(site: Site, kind: str) -> None:
    answer = ask(site, [mine(1), mine(2, kind=kind, by="Somebody Else")])
    assert outcomes(answer) == ["stored", "refused"]
    assert "office" in answer["verdicts"][1]["reason"]
    assert [event.seq for event in site.store.events(SID)] == [1]


def test_after_a_server_clock_was_ahead_a_phone_with_the_right_time_is_still_taken(
    site: Site,
) -> None:
    ahead = NOW + 30 * DAY_MS
    site.store.append([replace(mine(1, dev="server"), hlc=hlc(ahead, 7), at=ahead)])
    last = ask(site)["events"][-1]["hlc"]
    sent = []
    for seq in range(1, 4):
        last = next_hlc(last, NOW + seq)
        sent.append(replace(mine(seq), hlc=last, at=NOW + seq))
    assert outcomes(ask(site, sent)) == ["stored"] * 3


def test_no_entry_pulls_the_clock_of_all_more_than_a_day_ahead(site: Site) -> None:
    far = replace(mine(1), hlc=hlc(NOW + 2 * DAY_MS, 0), at=NOW)
    answer = ask(site, [far])
    assert outcomes(answer) == ["refused"]
    assert "clock" in answer["verdicts"][0]["reason"]


def test_a_clock_value_whose_counter_is_full_stops_nobody(site: Site) -> None:
    full = replace(mine(1), hlc=hlc(NOW + DAY_MS - 600_000, 999_999), at=NOW)
    assert outcomes(ask(site, [full])) == ["stored"]
    sid = site.start()
    for number in range(3):
        answer = site.fill(f"/s/{sid}/form/note", "note", {"text": f"note {number}"})
        assert answer.status == 303
    sent = replace(mine(2), hlc=next_hlc(site.store.last_hlc(), NOW), at=NOW)
    assert outcomes(ask(site, [sent])) == ["stored"]
    # The entries stay in the order in which they were written, on every side.
    written = [e for e in site.events(sid) if e.kind == "note.added"]
    assert [e.data["text"] for e in in_order(written)] == ["note 0", "note 1", "note 2"]


BAD: list[Any] = [
    None,
    [],
    "event",
    {},
    {**event_to_json(mine(9)), "sid": "../../etc/passwd"},
    {**event_to_json(mine(9)), "seq": 0},
    {**event_to_json(mine(9)), "seq": 1e300},
    {**event_to_json(mine(9)), "seq": True},
    {**event_to_json(mine(9)), "hlc": "tomorrow"},
    {**event_to_json(mine(9)), "hlc": 7},
    {**event_to_json(mine(9)), "data": {"text": 118}},
    {**event_to_json(mine(9)), "data": {"text": "x" * 70_000}},
    {**event_to_json(mine(9)), "data": {"text": "\ud800"}},
    {**event_to_json(mine(9)), "kind": "\ud800"},
    {**event_to_json(mine(9)), "extra": "field"},
]


@pytest.mark.parametrize("bad", BAD)
def test_one_bad_event_never_blocks_the_rest(site: Site, bad: Any) -> None:
    answer = ask(site, [mine(1), bad, mine(2)])
    assert outcomes(answer) == ["stored", "refused", "stored"]
    assert answer["verdicts"][1]["reason"] != ""
    assert site.store.events(SID) == [mine(1), mine(2)]


def question(**changes: Any) -> bytes:
    asked = {"v": 1, "dev": "phone", "cursor": "", "events": []} | changes
    return json.dumps(asked).encode()


@pytest.mark.parametrize(
    ("body", "status"),
    [
        (b"", 400),
        (b"{", 400),
        (b"[]", 400),
        (b"\xff\xfe", 400),
        (b"[" * 100_000, 400),
        (question(v=2), 400),
        (question(dev=""), 400),
        (question(dev="x" * 65), 400),
        (question(dev=1), 400),
        (question(cursor=None), 400),
        (question(cursor="x" * (LONGEST_CURSOR + 1)), 400),
        (question(events={}), 400),
        (question(events=[{}] * (MOST_EVENTS + 1)), 400),
        (question(want=["../x"]), 400),
        (question(want=[ulid(1)] * (MOST_WANTED + 1)), 400),
        (b" " * (LARGEST_BODY + 1), 413),
    ],
)
def test_a_question_that_is_none_stores_nothing_and_says_why(
    site: Site, body: bytes, status: int
) -> None:
    answer = raw(site, body, status)
    assert list(answer) == ["error"]
    assert answer["error"] != ""
    assert site.store.sessions() == []


def test_a_form_of_another_site_cannot_sync(site: Site) -> None:
    headers = {"Content-Type": "text/plain", "Origin": "https://elsewhere.example"}
    response = site.send("POST", "/api/sync", content=question(), headers=headers)
    assert response.status_code == 403


def test_a_store_that_stopped_acknowledges_nothing(site: Site) -> None:
    site.store.close()
    answer = ask(site, [mine(1)], status=503)
    assert list(answer) == ["error"]


def test_a_long_backlog_comes_in_pieces_each_once(site: Site) -> None:
    sent = [mine(seq, text=str(seq)) for seq in range(1, 2 * MOST_AT_ONCE + 51)]
    for start in range(0, len(sent), MOST_EVENTS):
        ask(site, sent[start : start + MOST_EVENTS], dev="phone")
    got = []
    cursor = ""
    for piece in range(3):
        answer = ask(site, cursor=cursor, dev="other")
        assert answer["more"] == (piece < 2)
        got += answer["events"]
        cursor = answer["cursor"]
    assert got == [event_to_json(e) for e in sent]
    assert ask(site, cursor=cursor, dev="other")["events"] == []


CLOSED = {"signed_by": "A. Tester", "caps_checked": "yes"}


def test_a_new_phone_is_not_sent_the_history_of_the_shop(site: Site) -> None:
    start = {"procedure": "hand-valved-three-port"}
    site.store.append(
        [
            entry
            for number in range(1, 301)
            for sid in (ulid(number, NOW - number * 1000),)
            for entry in (
                mine(1, sid=sid, kind="session.started", **start),
                mine(2, sid=sid, kind="session.closed"),
            )
        ]
    )
    got = ask(site)
    assert not got["more"]
    assert len({e["sid"] for e in got["events"]}) == MOST_RECENT
    # What is new still reaches it, and only that.
    site.store.append([mine(3, sid=ulid(300, NOW - 300_000))])
    later = ask(site, cursor=got["cursor"])["events"]
    assert [(e["sid"], e["seq"]) for e in later] == [(ulid(300, NOW - 300_000), 3)]


def test_who_is_far_behind_is_sent_what_it_needs_and_not_everything_in_between(
    site: Site, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("lowside.store.following.FAR_BEHIND", 50)
    site.store.append([mine(1)])
    cursor = ask(site)["cursor"]
    old = ulid(7, START)
    site.store.append([mine(n, sid=old) for n in range(1, 100)])
    site.store.append([mine(100, sid=old, kind="session.closed", **CLOSED)])
    answer = ask(site, cursor=cursor)
    assert SID in {e["sid"] for e in answer["events"]}
    assert not answer["restarted"]


def test_a_phone_that_names_a_cylinder_or_a_unit_is_sent_their_last_sessions(site: Site) -> None:
    then = START
    start = {"procedure": "hand-valved-three-port"}
    cylinder = {
        "cylinder_label": "C-9",
        "cylinder_refrigerant": "R-410A",
        "cylinder_tare": "7",
        "cylinder_tare_unit": "lb",
        "withdrawal": "invert",
    }
    job = {"site": "Lane Bakery", "unit_label": "AC-2", "technician": "I. Varga"}
    job |= {"elevation": "0", "elevation_unit": "ft"}
    old = [ulid(n, then + n) for n in range(1, 4)]
    site.store.append([mine(1, sid=old[0], kind="session.started", **start)])
    site.store.append([mine(2, sid=old[0], kind="cylinder.set", **cylinder)])
    site.store.append([mine(1, sid=old[1], kind="session.started", **start)])
    site.store.append([mine(2, sid=old[1], kind="job.set", **job)])
    cursor = ask(site)["cursor"]
    answer = ask(site, [mine(1, kind="session.started", **start)], cursor)
    assert answer["events"] == []
    cursor = answer["cursor"]
    answer = ask(
        site, [mine(2, kind="cylinder.set", **cylinder), mine(3, kind="job.set", **job)], cursor
    )
    assert {e["sid"] for e in answer["events"]} == {old[0], old[1]}


def test_a_server_that_was_restored_says_so_to_a_phone_that_has_more(site: Site) -> None:
    first = ask(site, [mine(1)])
    assert not first["restarted"]
    assert not ask(site, [mine(2)], first["cursor"])["restarted"]
    assert ask(site, cursor=first["cursor"][::-1])["restarted"]


def test_after_many_entries_no_further_session_that_was_asked_for_is_begun(
    site: Site, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("lowside.web.phone.sync.MOST_WANTED_EVENTS", 5)
    sids = [ulid(n, START) for n in range(1, 5)]
    for sid in sids:
        site.store.append([mine(seq, sid=sid) for seq in range(1, 4)])
    cursor = ask(site)["cursor"]
    sent = ask(site, cursor=cursor, want=sids)["events"]
    assert [(e["sid"], e["seq"]) for e in sent] == [(s, n) for s in sids[:2] for n in (1, 2, 3)]


def test_a_phone_is_sent_a_few_of_each_kind_of_session_the_newest_first(
    site: Site, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Old ones: none is sent for being recent."""
    for name, most in (("OPEN", 2), ("OWN", 3), ("CYLINDERS", 2)):
        monkeypatch.setattr(f"lowside.web.phone.needed.MOST_{name}", most)
    start = {"procedure": "hand-valved-three-port"}
    job = {"site": "Gym", "unit_label": "AC-1", "elevation": "0", "elevation_unit": "ft"}
    cylinder = {
        "cylinder_refrigerant": "R-410A",
        "cylinder_tare": "7",
        "cylinder_tare_unit": "lb",
        "withdrawal": "invert",
    }

    def made(number: int, technician: str = "", label: str = "", closed: bool = False) -> str:
        sid = ulid(number, START + number)
        events = [replace(mine(1, sid=sid, kind="session.started", **start), at=START + number)]
        if technician:
            kind = {"kind": "job.set", "technician": technician}
            events.append(mine(len(events) + 1, sid=sid, **kind, **job))
        if label:
            kind = {"kind": "cylinder.set", "cylinder_label": label}
            events.append(mine(len(events) + 1, sid=sid, **kind, **cylinder))
        if closed:
            events.append(mine(len(events) + 1, sid=sid, kind="session.closed", **CLOSED))
        site.store.append(events)
        return sid

    own = [made(n, technician="Ina") for n in range(1, 6)]
    labeled = [made(n, label=f"C-{n % 4}", closed=True) for n in range(10, 18)]
    others = [made(n, technician="Ole") for n in range(20, 26)]
    right = {*own[-3:], *labeled[-2:], *others[-2:]}
    assert set(needed_sessions(site.store, NOW, " ina ")[1]) == right
    assert set(needed_sessions(site.store, NOW, "")[1]) == right - set(own)


def test_a_session_asked_for_twice_is_sent_once(site: Site) -> None:
    site.store.append([mine(1)])
    cursor = ask(site)["cursor"]
    assert len(ask(site, cursor=cursor, want=[SID, SID, SID])["events"]) == 1


def test_a_phone_gets_recent_open_and_last_of_a_cylinder_and_asks_for_others(site: Site) -> None:
    then = START  # more than the time sessions are kept on phones before now
    assert NOW - then > KEPT_ON_PHONES_MS
    old = {name: ulid(number, then + number) for number, name in enumerate(("a", "b", "c", "d"))}
    started = {"procedure": "hand-valved-three-port"}
    cylinder = {
        "cylinder_label": "C-1",
        "cylinder_refrigerant": "R-410A",
        "cylinder_tare": "7",
        "cylinder_tare_unit": "lb",
        "withdrawal": "invert",
    }
    closed = {"signed_by": "A. Tester", "caps_checked": "yes"}
    for name, sid in old.items():
        site.store.append([mine(1, sid=sid, kind="session.started", **started)])
        if name in ("a", "b"):
            site.store.append([mine(2, sid=sid, kind="cylinder.set", **cylinder)])
        if name != "d":
            site.store.append([mine(3, sid=sid, kind="session.closed", **closed)])
        else:  # a session that has only its start is put aside
            site.store.append([mine(3, sid=sid, text="Fan squeals")])
    recent = [mine(1, kind="session.started", **started), mine(2, kind="session.closed", **closed)]
    site.store.append(recent)
    named = {listed.sid: listed.outline.cylinder for listed in site.store.sessions()}
    assert named[old["a"]] == named[old["b"]] == "C-1"
    # A practice session of the same cylinder number is no newer weighing of the real one.
    lesson = old["b"][:10] + "Z" * 16
    site.store.append([mine(1, sid=lesson, kind="session.started", **started, practice="yes")])
    site.store.append([mine(2, sid=lesson, kind="cylinder.set", **cylinder)])
    # A practice session of today is not sent to a phone either.
    today = SID[:10] + "Y" * 16
    site.store.append([mine(1, sid=today, kind="session.started", **started, practice="yes")])
    got = {e["sid"] for e in ask(site)["events"]}
    assert got == {old["b"], old["d"], SID}
    wanted = ask(site, want=[old["c"]])["events"]
    assert [e["seq"] for e in wanted if e["sid"] == old["c"]] == [1, 3]


@st.composite
def rounds(draw: st.DrawFn) -> list[tuple[str, list[Event]]]:
    """Two phones' posts: slices of what each wrote, repeated, overlapping and out of order."""
    posts = []
    for dev in ("phone", "other"):
        written = [mine(seq, dev=dev, text=f"{dev} {seq}") for seq in range(1, 9)]
        slices = draw(st.lists(st.tuples(st.integers(0, 8), st.integers(0, 8)), max_size=5))
        posts += [(dev, written[start:end]) for start, end in slices]
        posts.append((dev, written))
    return draw(st.permutations(posts))


@settings(max_examples=30)
@given(rounds())
def test_however_posts_repeat_and_overlap_every_event_is_stored_once_and_reaches_everyone(
    handbook: "Handbook", posts: list[tuple[str, list[Event]]]
) -> None:
    with TemporaryDirectory() as folder, open_site(Path(folder), handbook) as site:
        got: dict[str, list[str]] = {"phone": [], "other": []}
        cursors = {"phone": "", "other": ""}
        for dev, events in posts:
            answer = ask(site, events, cursors[dev], dev)
            assert set(outcomes(answer)) <= {"stored", "already"}
            now = zip(events, outcomes(answer), strict=True)
            got[dev] += [event.eid for event, outcome in now if outcome == "stored"]
            got[dev] += [e["eid"] for e in answer["events"]]
            cursors[dev] = answer["cursor"]
        for dev in got:
            got[dev] += [e["eid"] for e in ask(site, (), cursors[dev], dev)["events"]]
        everything = {e.eid for _, events in posts for e in events}
        stored = [e.eid for e in site.store.events(SID)]
        assert len(stored) == len(set(stored)) == len(everything)
        for eids in got.values():
            assert len(eids) == len(set(eids))
            assert set(eids) == everything
