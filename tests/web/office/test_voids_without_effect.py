"""What the office wrote: a void that does not count says so, and a name that the server had before
is kept from phones.

Our choice, no source.
"""

import json
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

import pytest
from office_cases import visit
from strategies import Book
from website import Site, open_site

from lowside.core.handbook.handbook import Handbook
from lowside.core.office.review import review_of
from lowside.core.session.events import Event, hlc, writer_of
from lowside.store.codec import event_to_json

JSON = {"content-type": "application/json"}
NOT_COUNTED = "Does not count"


@pytest.fixture
def site(tmp_path: Path, handbook: Handbook) -> Iterator[Site]:
    with open_site(tmp_path, handbook) as site:
        yield site


def signed(site: Site) -> tuple[Book, Event]:
    book = visit(2, "2026-05-10", 3.0)
    site.store.append(book.events)
    form = site.get(f"/office/session/{book.sid}").form("/sign-off")
    assert site.post(form.action, form.values | {"signed": "B. Chief"}).status == 303
    return book, site.events(book.sid)[-1]


def about(book: Book, target: Event, dev: str, kind: str = "event.voided") -> Event:
    at = target.at + 60_000
    return replace(
        book.events[0],
        dev=dev,
        seq=1,
        eid="01K0000000000000000000000V",
        hlc=hlc(at, 0),
        at=at,
        kind=kind,
        data={"target": target.eid, "reason": "not checked"},
    )


def sent(site: Site, event: Event) -> str:
    question = {
        "v": 1,
        "dev": "phone-x",
        "cursor": "",
        "events": [event_to_json(event)],
        "want": [],
        "proofs": [""],
    }
    answer = site.send("POST", "/api/sync", content=json.dumps(question).encode(), headers=JSON)
    return str(answer.json()["verdicts"])


@pytest.mark.parametrize("kind", ["event.voided", "event.amended"])
def test_a_phones_void_or_correction_of_a_sign_off_says_that_it_does_not_count(
    site: Site, kind: str
) -> None:
    book, sign_off = signed(site)
    page = f"/office/session/{book.sid}"
    assert NOT_COUNTED not in site.get(page).text
    site.store.append([about(book, sign_off, "phone-x", kind)])
    assert review_of(site.state(book.sid)).signed is not None
    assert site.get(page).text.count(NOT_COUNTED) == 1


def test_the_offices_own_void_counts(site: Site) -> None:
    book, sign_off = signed(site)
    page = f"/office/session/{book.sid}"
    shown = site.get(page)
    assert ">Why it is wrong</label>" in shown.response.text
    forms = shown.read.forms
    form = next(one for one in forms if one.values.get("target") == sign_off.eid)
    assert site.post(form.action, form.values | {"reason": "wrong"}).status == 303
    assert not review_of(site.state(book.sid)).is_signed
    shown = site.get(page)
    assert NOT_COUNTED not in shown.text
    assert "Restore it" in shown.response.text
    assert ">Why</label>" in shown.response.text


def test_no_phone_writes_under_a_name_that_the_server_had(
    tmp_path: Path, handbook: Handbook
) -> None:
    with open_site(tmp_path, handbook) as site:
        book, sign_off = signed(site)
        # Any question of a phone: the server notes its own name beside the phones'.
        assert "stored" in sent(
            site,
            replace(
                book.events[0],
                dev="phone-x",
                seq=1,
                eid=sign_off.eid[:-1] + "Z",
                kind="note.added",
                data={"text": "Hot"},
            ),
        )
    with open_site(tmp_path, handbook, device="01KNEWDEVICE000000000000AA.X") as site:
        forged = about(book, sign_off, writer_of(sign_off.dev) + ".Z")
        assert "refused" in sent(site, forged)
        assert review_of(site.state(book.sid)).signed is not None
        assert "stored" in sent(
            site, replace(forged, dev="phone-x", seq=2, eid=forged.eid[:-1] + "W")
        )
        assert review_of(site.state(book.sid)).signed is not None
