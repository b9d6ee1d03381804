"""The phone's own answers, where no session is open, are the server's to the letter."""

import json
import re
import time
import urllib.error
import urllib.parse
import urllib.request
from collections.abc import Mapping
from typing import TYPE_CHECKING, Any

import pytest
from pocket_phone import PocketPhone, eid_of
from strategies import ulid

from lowside.core.session.listed import ABANDONED_MS, CLOSED_ON_HOME

if TYPE_CHECKING:
    from conftest import NewPhone, Server, StartServer

HOUR_MS = 3_600_000
PROCEDURE = "hand-valved-three-port"
FETCHED = """async ([path, fields]) => {
    const post = fields && { method: "POST", body: new URLSearchParams(fields) };
    const answer = await fetch(path, post ?? undefined);
    return [answer.status, await answer.text()];
}"""


@pytest.fixture
def server(start_server: "StartServer") -> "Server":
    return start_server(offline=True)


@pytest.fixture
def phone(server: "Server", new_phone: "NewPhone") -> PocketPhone:
    phone = new_phone(server.url)
    phone.open_ready()
    return phone


def by_server(
    server: "Server", path: str, fields: Mapping[str, str] | None = None
) -> tuple[int, str]:
    body = None if fields is None else urllib.parse.urlencode(fields).encode()
    try:
        with urllib.request.urlopen(server.url + path, body, timeout=30) as answer:
            return answer.status, answer.read().decode()
    except urllib.error.HTTPError as error:
        return error.code, error.read().decode()


def by_phone(
    phone: PocketPhone, path: str, fields: Mapping[str, str] | None = None
) -> tuple[int, str]:
    status, text = phone.page.evaluate(FETCHED, [path, fields and dict(fields)])
    return status, text


def without_fresh_ids(page: tuple[int, str]) -> tuple[int, str]:
    return page[0], re.sub(r'value="[0-9A-Z]{26}"', 'value="?"', page[1])


def log(number: int, at: int, closed: bool = False) -> list[dict[str, Any]]:
    """A session that was begun, and perhaps closed, and nothing else."""
    kinds = {"session.started": {"procedure": PROCEDURE}}
    if closed:
        kinds["session.closed"] = {"signed_by": "I. Varga", "caps_checked": "yes"}
    return [
        {
            **{"sid": ulid(number, at), "dev": "another", "seq": seq, "kind": kind, "data": data},
            **{"eid": ulid(100 + 10 * number + seq, at), "hlc": f"{at:015d}-{seq:06d}"},
            **{"at": at, "tz": 0, "mono": seq, "run": "R", "schema": 1},
        }
        for seq, (kind, data) in enumerate(kinds.items(), 1)
    ]


def test_the_first_page_lists_the_same_sessions(server: "Server", phone: PocketPhone) -> None:
    now = int(time.time() * 1000)
    abandoned = log(1, now - ABANDONED_MS - HOUR_MS)
    begun = log(2, now - ABANDONED_MS + HOUR_MS)
    closed = [log(3 + n, now - n * HOUR_MS, closed=True) for n in range(CLOSED_ON_HOME + 2)]
    events = [one for each in (abandoned, begun, *closed) for one in each]
    asked = {"v": 1, "dev": "another", "cursor": "", "events": events}
    request = urllib.request.Request(
        server.url + "/api/sync", json.dumps(asked).encode(), {"Content-Type": "application/json"}
    )
    with urllib.request.urlopen(request, timeout=30) as answer:
        verdicts = json.load(answer)["verdicts"]
    assert {one["outcome"] for one in verdicts} == {"stored"}, verdicts
    phone.open()
    phone.until(lambda: len(phone.stored("events")) == len(events), "all came to the phone")
    theirs = without_fresh_ids(by_phone(phone, "/"))
    assert theirs == without_fresh_ids(by_server(server, "/"))
    assert abandoned[0]["sid"] not in theirs[1]
    assert begun[0]["sid"] in theirs[1]
    shown = [each[0]["sid"] for each in closed if each[0]["sid"] in theirs[1]]
    assert shown == [each[0]["sid"] for each in closed[:CLOSED_ON_HOME]]


def test_where_there_is_no_page_both_say_so_alike(server: "Server", phone: PocketPhone) -> None:
    sid = phone.begin()
    phone.until_sent()
    nobody = ulid(77)
    form = {"eid": eid_of(5), "text": "x"}
    asked: list[tuple[str, dict[str, str] | None]] = [
        (f"/s/{sid}/nowhere", None),
        (f"/s/{sid}/step/nowhere", None),
        (f"/s/{nobody}", None),
        ("/s/", None),
        (f"/s/{nobody}/form/note", form),
        (f"/s/{sid}/timeline", form),
        (f"/s/{sid}/form/note", {"text": "x"}),
        (f"/s/{sid}/form/note", {"eid": eid_of(5)[:-1] + "u", "text": "x"}),
        ("/start", {"procedure": PROCEDURE, "sid": "1", "eid": eid_of(6)}),
        ("/start", {"procedure": PROCEDURE, "sid": ulid(8), "eid": "é"}),
        ("/start", {"procedure": "nobody's", "sid": ulid(8), "eid": eid_of(6)}),
    ]
    before = phone.stored("events")
    for path, fields in asked:
        theirs = without_fresh_ids(by_phone(phone, path, fields))
        assert theirs == without_fresh_ids(by_server(server, path, fields)), path
        assert theirs[0] == (422 if path == "/start" else 404)
    assert phone.stored("events") == before
