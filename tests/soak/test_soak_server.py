"""The server under random trouble: kills while phones sync, odd requests, mutated entries.

Each is short and seeded here; `make soak` runs them long.
"""

import http.client
import json
import random
from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from contextlib import closing, suppress
from dataclasses import dataclass, field
from pathlib import Path
from threading import Timer
from typing import Any

import nursery
import pytest
from ports import free_port
from soaking import NASTY, SEED, times
from store_cases import arrived, event, ulid
from waiting import until
from website import Site, open_site

from lowside.core.handbook.handbook import Handbook
from lowside.core.session.events import Event, hlc
from lowside.demo import play, scenarios
from lowside.outlining import outline
from lowside.store import Store, event_to_json
from lowside.store.check import check
from lowside.web.app import SECURITY_HEADERS
from lowside.web.clock import Clock

PHONES = 8
NOW = Clock().now().at


def launch(data: Path, port: int, log: Path) -> nursery.Served:
    process = nursery.serve(["--no-qr", "--port", str(port), "--data", str(data)], log)

    def is_up() -> bool:
        assert process.poll() is None, log.read_text("utf-8", "replace")[-2000:]
        with suppress(OSError), closing(http.client.HTTPConnection("127.0.0.1", port)) as asked:
            asked.request("GET", "/health")
            return asked.getresponse().status == 200
        return False

    until(is_up, "the server answers")
    return process


@dataclass
class Phone:
    """A phone that sends its entries until each is acknowledged, and follows what others write."""

    name: str
    sid: str
    seq: int = 0
    cursor: str = ""
    unsent: list[Event] = field(default_factory=list)
    acknowledged: set[tuple[str, int]] = field(default_factory=set)
    received: set[tuple[str, int]] = field(default_factory=set)

    def sync_until_it_dies(self, port: int) -> None:
        with (
            suppress(OSError, http.client.HTTPException),
            closing(http.client.HTTPConnection("127.0.0.1", port, timeout=30)) as asking,
        ):
            while True:
                self._sync(asking)

    def _sync(self, asking: http.client.HTTPConnection) -> None:
        for _ in range(3):
            self.seq += 1
            made = event(self.seq, sid=self.sid, dev=self.name, text=f"{self.name} {self.seq}")
            self.unsent.append(made)
        batch = self.unsent[:100]
        question = {"v": 1, "dev": self.name, "cursor": self.cursor}
        body = json.dumps(question | {"events": [event_to_json(e) for e in batch]})
        asking.request("POST", "/api/sync", body, {"Content-Type": "application/json"})
        response = asking.getresponse()
        answer = json.loads(response.read())
        assert response.status == 200, answer
        for sent, verdict in zip(batch, answer["verdicts"], strict=True):
            assert verdict["outcome"] in ("stored", "already"), verdict
            self.acknowledged.add((sent.dev, sent.seq))
            self.received.add((sent.dev, sent.seq))  # it is not sent back
        self.unsent = self.unsent[len(batch) :]
        self.cursor = answer["cursor"]
        self.received |= {(e["dev"], e["seq"]) for e in answer["events"]}


@pytest.mark.xdist_group("browser")
def test_kills_under_eight_phones_lose_and_double_nothing(tmp_path: Path) -> None:
    data, log, port = tmp_path / "data", tmp_path / "log", free_port()
    chance = random.Random(SEED)
    phones = [Phone(f"phone-{n}", ulid(n % 3 + 1, NOW)) for n in range(PHONES)]
    kills = times(3, 200)
    for n in range(kills):
        process = launch(data, port, log)

        def kill(process: nursery.Served = process, least: int = n + 1) -> None:
            """A slow machine has acknowledged nothing by then."""
            try:
                until(
                    lambda: sum(len(phone.acknowledged) for phone in phones) > least,
                    "something is acknowledged",
                )
            finally:
                process.kill()

        end = Timer(chance.uniform(0.05, 0.8), kill)
        end.start()
        try:
            with ThreadPoolExecutor(PHONES) as pool:
                list(pool.map(lambda phone: phone.sync_until_it_dies(port), phones))
        finally:
            end.join()
            process.kill()
            process.wait()
    with Store.open(data, outline) as store:
        found = [e for n in (1, 2, 3) for e in store.events(ulid(n, NOW))]
        keys = [(e.dev, e.seq) for e in found]
        assert len(keys) == len(set(keys)), "nothing twice"
        acknowledged = {key for phone in phones for key in phone.acknowledged}
        assert set(keys) >= acknowledged, "nothing acknowledged is lost"
        assert len(acknowledged) > kills
        for phone in phones:
            cursor, more = phone.cursor, True
            while more:
                batch = arrived(store, cursor)
                phone.received |= {(e.dev, e.seq) for e in batch.events}
                cursor, more = batch.cursor, batch.more
            assert phone.received >= set(keys), "everybody gets everything"
    torn = [p for p in check(data, outline).problems if "cut short" not in p]
    assert torn == []
    print(f"{kills} kills, {len(acknowledged)} acknowledged entries, none lost, none doubled")


METHODS = ["GET", "GET", "GET", "POST", "POST", "POST", "HEAD", "PUT", "DELETE", "OPTIONS", "TRACE"]
HEADERS = ["Origin", "Cookie", "Content-Type", "Content-Length", "Accept-Encoding", "HX-Request",
           "X-Forwarded-For", "Sec-Fetch-Site", "Range", "If-None-Match", "Expect"]  # fmt: skip


@pytest.fixture
def site(tmp_path: Path, handbook: Handbook) -> Iterator[Site]:
    with open_site(tmp_path / "site", handbook) as opened:
        for scenario in scenarios()[:2]:
            opened.play(scenario)
        yield opened


def _path(chance: random.Random, sids: list[str]) -> str:
    sid = chance.choice([*sids, ulid(chance.randrange(99)), "x", ".."])
    form = chance.choice(["reading", "note", "job", "shot", "amend", "weigh_end", "nope"])
    path = chance.choice(
        ["/", "/start", f"/s/{sid}", f"/s/{sid}/form/{form}", f"/s/{sid}/step/{form}", "/office",
         f"/s/{sid}/timeline", f"/s/{sid}/ticket", f"/office/session/{sid}", "/office/cylinders",
         "/office/units", "/office/people", "/office/people/add", "/office/procedures", "/pair",
         "/practice", "/practice/start", f"/practice/s/{sid}", "/api/sync", "/sw.js", "/trust",
         "/device", "/sign-out", "/static/js/page.js", "/static/../x", "//", f"/unsent/{sid}.jsonl"]
    )  # fmt: skip
    if chance.random() < 0.3:
        path += "?" + chance.choice(["q=", "before=", "code=", "x="])
        path += "".join(f"%{byte:02X}" for byte in chance.choice(NASTY).encode()[:60])
    return path


def test_no_request_is_a_server_error(site: Site) -> None:
    chance = random.Random(SEED)
    sids = [listed.sid for listed in site.store.sessions()]
    names = ["sid", "eid", "step", "back", "text", "site", "procedure", "suction_pressure", "name"]
    count = times(150, 30_000)
    for _ in range(count):
        headers = {}
        if chance.random() < 0.3:
            value = chance.choice([*NASTY, "http://[", "multipart/form-data; charset=hex"])
            ascii_only = value.encode("ascii", "replace").decode().replace("\r\n", "")
            headers[chance.choice(HEADERS)] = ascii_only.replace("\x00", "")
        typed = {chance.choice(names): chance.choice(NASTY) for _ in range(chance.randrange(5))}
        method, path = chance.choice(METHODS), _path(chance, sids)
        answer = site.send(method, path, headers=headers, data=typed if method == "POST" else None)
        assert answer.status_code < 500, (method, path, headers, typed, answer.text[:300])
        for name, value in SECURITY_HEADERS.items():
            assert answer.headers[name] == value, (method, path)
    assert site.get("/").status == 200
    print(f"{count} requests, none a server error, all sealed")


def _mutated(chance: random.Random, sent: list[dict[str, Any]]) -> list[Any]:
    batch: list[Any] = json.loads(json.dumps(chance.sample(sent, chance.randrange(1, 12))))
    for each in batch:
        if chance.random() < 0.7:
            name = chance.choice(sorted(each))
            each[name] = chance.choice(
                [None, -1, 0, 1, 2**53 - 1, 2**60, 1.5, True, [], {}, *NASTY, hlc(NOW, 999_999),
                 ulid(chance.randrange(50)), NOW, {"text": chance.choice(NASTY)}]
            )  # fmt: skip
        if chance.random() < 0.5 and isinstance(each.get("data"), dict) and each["data"]:
            name = chance.choice(sorted(each["data"]))
            each["data"][name] = chance.choice(NASTY)
        if chance.random() < 0.4:
            each["dev"], each["seq"] = f"d{chance.randrange(5)}", chance.randrange(1, 40)
    return batch


def test_after_any_mutated_entries_every_page_still_opens(site: Site, handbook: Handbook) -> None:
    chance = random.Random(SEED)
    sent = [
        event_to_json(e) | {"at": NOW, "dev": "phone"}
        for scenario in scenarios()
        for e in play(scenario, handbook)
    ]
    count = times(80, 5_000)
    for _ in range(count):
        body = {"v": 1, "dev": "phone", "cursor": "", "events": _mutated(chance, sent)}
        headers = {"Content-Type": "application/json"}
        answer = site.send("POST", "/api/sync", json.dumps(body).encode(), headers)
        assert answer.status_code == 200, answer.text[:300]
    sids = [listed.sid for listed in site.store.sessions()]
    for path in ("/", "/office", "/office/cylinders", "/office/units", "/office/set-aside"):
        assert site.get(path).status == 200, path
    for sid in sids:
        for path in (
            f"/s/{sid}",
            f"/s/{sid}/timeline",
            f"/s/{sid}/ticket",
            f"/office/session/{sid}",
        ):
            assert site.send("GET", path).status_code < 500, path
    print(f"{count} mutated batches, {len(sids)} sessions, every page opens")
