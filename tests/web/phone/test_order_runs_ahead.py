"""A phone whose clock values run ahead moves the order of no session but those it writes to.

Our choice, no source.
"""

import json
from dataclasses import replace
from pathlib import Path

from office_cases import visit
from strategies import ulid
from website import open_site

from lowside.core.handbook.handbook import Handbook
from lowside.core.session.events import hlc
from lowside.store.codec import event_to_json

DAY_MS = 86_400_000
JSON = {"content-type": "application/json"}


def test_the_office_writes_at_its_own_time_in_another_session(
    tmp_path: Path, handbook: Handbook
) -> None:
    with open_site(tmp_path, handbook) as site:
        book = visit(2, "2026-05-10", 3.0)
        site.store.append(book.events)
        now = site.desk.clock.now().at
        crafted = replace(book.events[0], sid=ulid(900, now), dev="phone-x", at=now)
        for n in range(1, 6):
            ahead = hlc(now + n * (DAY_MS - 60_000), 0)
            one = replace(crafted, seq=n, eid=ulid(1000 + n, now), hlc=ahead)
            one = one if n == 1 else replace(one, kind="note.added", data={"text": "x"})
            question = {
                "v": 1,
                "dev": "phone-x",
                "cursor": "",
                "events": [event_to_json(one)],
                "want": [],
                "proofs": [""],
            }
            content = json.dumps(question).encode()
            answer = site.send("POST", "/api/sync", content=content, headers=JSON)
            assert answer.json()["verdicts"][0]["outcome"] == "stored"
        for sid, days in ((book.sid, 0), (crafted.sid, 4)):
            form = site.get(f"/office/session/{sid}").form("/comment")
            assert site.post(form.action, form.values | {"comment": "x"}).status == 303
            comment = site.events(sid)[-1]
            assert comment.kind == "office.commented"
            assert (int(comment.hlc[:15]) - now) // DAY_MS == days
            assert comment.hlc == max(event.hlc for event in site.events(sid))
