"""Nothing a paired phone sends makes a practice lesson, or the server with it, hang or fail."""

import json
import signal
import subprocess
import sys
import urllib.request
from collections.abc import Iterator
from contextlib import suppress
from dataclasses import replace
from pathlib import Path
from threading import Thread

import pytest
from practice_lesson import Apprentice
from store_cases import event, ulid
from waiting import until
from website import Site, open_site

from lowside.core.handbook.handbook import Handbook
from lowside.core.session.events import Event, hlc
from lowside.practice.pace import LONGEST_LESSON_S, PACE, practice_s
from lowside.store import event_to_json
from lowside.store.codec import LARGEST_INTEGER
from lowside.web.clock import Clock

NOW = Clock().now().at
SID = ulid(5, NOW)
PAGES = ("", "/timeline")


@pytest.fixture
def site(tmp_path: Path, handbook: Handbook) -> Iterator[Site]:
    with open_site(tmp_path / "data", handbook) as opened:
        yield opened


def planted(seq: int, kind: str, mono: int = 0, sid: str = SID, **data: str) -> Event:
    made = event(seq, sid=sid, kind=kind, **data)
    return replace(made, run=sid, mono=mono, at=NOW + seq, hlc=hlc(NOW + seq, 0))


START = {
    "practice": "yes",
    "lesson": "first-shots",
    "seed": "1",
    "procedure": "hand-valved-three-port",
    "wall": str(NOW),
}

HOSTILE = {
    "a clock at its end": [
        planted(1, "session.started", **START),
        planted(2, "note.added", LARGEST_INTEGER, text="x"),
    ],
    "a wall clock that is none": [planted(1, "session.started", **(START | {"wall": "abc"}))],
    "an endless wall clock": [planted(1, "session.started", **(START | {"wall": "9" * 5000}))],
    "a wall clock of a later age": [
        planted(1, "session.started", **(START | {"wall": "9" * 15})),
        planted(2, "note.added", 9, text="x"),
    ],
    "a wall clock in other digits": [planted(1, "session.started", **(START | {"wall": "١٢"}))],
    "a pace that is none": [
        planted(1, "session.started", **START),
        planted(2, PACE, 5, wall=str(NOW), pace="x"),
    ],
    "a pace of nine digits": [
        planted(1, "session.started", **START),
        planted(2, PACE, 5, wall=str(NOW), pace="999999999"),
        planted(3, "note.added", 6, text="x"),
    ],
    "a seed of 5,000 digits": [planted(1, "session.started", **(START | {"seed": "9" * 5000}))],
    "a seed past the last": [planted(1, "session.started", **(START | {"seed": "10000000"}))],
    "no start": [planted(1, "practice.valve", 5, wall="5", valve="open")],
}


@pytest.mark.parametrize("events", HOSTILE.values(), ids=HOSTILE.keys())
def test_sync_takes_no_entry_of_a_practice_session(site: Site, events: list[Event]) -> None:
    body = {"v": 1, "dev": "phone", "cursor": "", "events": [event_to_json(e) for e in events]}
    headers = {"Content-Type": "application/json"}
    answer = site.send("POST", "/api/sync", json.dumps(body).encode(), headers)
    assert answer.status_code == 200
    verdicts = answer.json()["verdicts"]
    assert verdicts[0]["outcome"] == "refused"
    assert "ractice" in verdicts[0]["reason"]


def test_sync_adds_nothing_to_a_lesson_that_is_under_way(site: Site) -> None:
    apprentice = Apprentice(site, "first-shots")
    before = site.events(apprentice.sid)
    at = apprentice.clock.at
    late = replace(event(1, sid=apprentice.sid, dev="phone"), at=at, hlc=hlc(at, 0))
    body = {"v": 1, "dev": "phone", "cursor": "", "events": [event_to_json(late)]}
    headers = {"Content-Type": "application/json"}
    answer = site.send("POST", "/api/sync", json.dumps(body).encode(), headers).json()
    assert [verdict["outcome"] for verdict in answer["verdicts"]] == ["refused"]
    assert site.events(apprentice.sid) == before


@pytest.mark.parametrize("events", HOSTILE.values(), ids=HOSTILE.keys())
def test_pages_of_a_planted_lesson_answer(site: Site, events: list[Event]) -> None:
    """Stores from before sync refused them may hold such entries."""
    site.store.append(events)
    for page in PAGES:
        assert site.get(f"/practice/s/{SID}{page}").status in (200, 404, 503)
    for page in ("instruments", "debrief"):
        assert site.get(f"/practice/{SID}/{page}").status in (200, 404, 503)
    assert site.get("/practice").status == 200
    assert site.get("/office").status == 200


@pytest.mark.parametrize("seed", ["9" * 5000, "²", "-1", "1.5", "", "1000000"])
def test_a_unit_number_that_is_none_is_refused_with_a_sentence(site: Site, seed: str) -> None:
    form = site.get("/practice").form("/practice/start").values
    answer = site.post("/practice/start", form | {"seed": seed})
    assert answer.status == 422
    assert "Choose a lesson" in answer.text


def test_a_lessons_clock_stops_in_the_end() -> None:
    events = [planted(1, "session.started", **START)]
    events += [
        planted(n, "practice.valve", 5, wall=str(NOW + n * 10**9), valve="open")
        for n in range(2, 60)
    ]
    assert practice_s(events, NOW + 10**13) == LONGEST_LESSON_S


HANGING = """
import os, socket
from fastapi import FastAPI
from lowside.web import listening
listening.GRACE_S, listening.ENDS_WITHIN_S = 0.2, 2.0
app = FastAPI()
@app.get("/hang")
def hang():
    os.write(1, b"hanging\\n")  # in one piece: three threads write at a time
    while True:
        pass
listener = socket.create_server(("127.0.0.1", 0))
print(listener.getsockname()[1], flush=True)
listening.run(app, listener, [])
"""


@pytest.mark.parametrize("number", [signal.SIGTERM, signal.SIGINT])
def test_a_server_with_a_request_that_never_ends_still_ends_when_told(number: int) -> None:
    with subprocess.Popen([sys.executable, "-c", HANGING], stdout=subprocess.PIPE) as process:
        assert process.stdout is not None
        port = int(process.stdout.readline())

        def ask() -> None:
            with suppress(OSError):
                urllib.request.urlopen(f"http://127.0.0.1:{port}/hang", timeout=60).read()

        asking = [Thread(target=ask) for _ in range(3)]
        for thread in asking:
            thread.start()
        try:
            assert process.stdout.readline() == b"hanging\n"
            process.send_signal(number)
            process.wait(60)
        finally:
            process.kill()
        for thread in asking:
            thread.join()


def test_a_request_that_takes_too_long_is_answered_all_the_same() -> None:
    code = HANGING.replace(
        "app = FastAPI()",
        "from lowside.web.time_limit import TimeLimit\n"
        "app = FastAPI()\napp.add_middleware(TimeLimit, seconds=0.3)",
    )
    with subprocess.Popen([sys.executable, "-c", code], stdout=subprocess.PIPE) as process:
        assert process.stdout is not None
        port = int(process.stdout.readline())
        found: list[int] = []

        def answered() -> bool:
            try:
                urllib.request.urlopen(f"http://127.0.0.1:{port}/hang", timeout=60).read()
            except urllib.error.HTTPError as error:
                found.append(error.code)
            except OSError:
                return False
            return found != []

        try:
            until(answered, "the server answers")
        finally:
            process.kill()
        assert found == [503]
