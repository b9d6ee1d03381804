"""A power cut at any moment loses nothing that was acknowledged.

A real server takes forms as fast as a client can send them and is killed (SIGKILL) at a random
moment, again and again on the same data; in the end every event that was answered with a redirect
is in the store, and the store finds nothing wrong with itself.
"""

import http.client
import random
import time
from collections.abc import Callable, Mapping
from pathlib import Path
from threading import Timer
from urllib.parse import urlencode

import nursery
import pytest
from ports import free_port

from lowside.core.session.ulids import CROCKFORD_32
from lowside.outlining import outline
from lowside.store import Store
from lowside.store.commands import check_store

KILLS = 20
AFTER_SO_MANY = 20
"""A cut comes a moment after fewer acknowledgements than these."""
READY_WITHIN_S = 60.0
"""Patience, not a promise."""


def ulid(number: int) -> str:
    value = (1_795_620_000_000 << 80) | number
    return "".join(CROCKFORD_32[value >> (5 * i) & 31] for i in reversed(range(26)))


def launch(data: Path, port: int, log: Path) -> nursery.Served:
    process = nursery.serve(["--no-qr", "--port", str(port), "--data", str(data)], log)
    give_up = time.monotonic() + READY_WITHIN_S
    while time.monotonic() < give_up and process.poll() is None:
        try:
            if get(port, "/health") == 200:
                return process
        except OSError:
            time.sleep(0.02)
    process.kill()
    process.wait()
    pytest.fail("the server did not come up:\n" + log.read_text("utf-8", errors="replace"))


def get(port: int, path: str) -> int:
    connection = http.client.HTTPConnection("localhost", port, timeout=60)
    try:
        connection.request("GET", path)
        return connection.getresponse().status
    finally:
        connection.close()


def post(connection: http.client.HTTPConnection, path: str, typed: Mapping[str, str]) -> int:
    headers = {"Content-Type": "application/x-www-form-urlencoded"}
    connection.request("POST", path, urlencode(typed), headers)
    response = connection.getresponse()
    response.read()
    return response.status


def send_until_it_dies(
    port: int, first: int, told: Callable[[int], object]
) -> tuple[list[str], list[str]]:
    """Notes in one session as fast as they are taken: eids tried, and eids acknowledged. `told`
    hears how many were acknowledged, from 0 on."""
    sid = ulid(first)
    tried: list[str] = []
    acknowledged: list[str] = []
    connection = http.client.HTTPConnection("localhost", port, timeout=60)
    try:
        number = first + 1
        while True:
            eid = ulid(number)
            tried.append(eid)
            told(len(acknowledged))
            if number == first + 1:
                start = {"sid": sid, "eid": eid, "procedure": "hand-valved-three-port"}
                status = post(connection, "/start", start)
            else:
                note = {"eid": eid, "step": "", "back": "", "text": f"note {number}"}
                status = post(connection, f"/s/{sid}/form/note", note)
            assert status == 303
            acknowledged.append(eid)
            number += 1
    except (OSError, http.client.HTTPException):
        return tried, acknowledged
    finally:
        connection.close()


@pytest.mark.xdist_group("browser")
def test_twenty_power_cuts_lose_nothing_that_was_acknowledged(tmp_path: Path) -> None:
    data = tmp_path / "data"
    log = tmp_path / "server.log"
    port = free_port()
    chance = random.Random(20)
    tried: list[str] = []
    acknowledged: list[str] = []
    for cut in range(KILLS):
        process = launch(data, port, log)
        end = Timer(chance.uniform(0.0, 0.1), process.kill)
        after = chance.randrange(AFTER_SO_MANY)

        def cut_later(acknowledged: int, end: Timer = end, after: int = after) -> None:
            if acknowledged == after:
                end.start()

        try:
            sent, kept = send_until_it_dies(port, (cut + 1) * 1_000_000, cut_later)
        finally:
            process.kill()
            process.wait()
        tried += sent
        acknowledged += kept
        assert stored_eids(data) >= set(acknowledged)
    assert len(acknowledged) > KILLS
    assert stored_eids(data) <= set(tried)

    again = launch(data, port, log)
    try:
        assert get(port, "/office") == 200
    finally:
        again.terminate()
        again.wait(60)
    assert check_store(data, outline, rebuild=False, as_json=False) == 0


def stored_eids(data: Path) -> set[str]:
    """Every event of the store, each once; each session's numbers without a gap."""
    store = Store.open(data, outline)
    try:
        eids: list[str] = []
        for listed in store.sessions():
            events = store.events(listed.sid)
            assert [event.seq for event in events] == list(range(1, len(events) + 1))
            eids += [event.eid for event in events]
        assert len(set(eids)) == len(eids)
        return set(eids)
    finally:
        store.close()
