"""A session of very many entries opens page by page, and no tap works it out twice."""

import json
import re
from collections.abc import Iterator, Sequence
from pathlib import Path
from typing import Any

import pytest
from store_cases import event, ulid
from website import Page, Site, open_site

from lowside.core.handbook.handbook import Handbook
from lowside.core.pages.timeline import PER_PAGE, page_of
from lowside.core.session.events import Event
from lowside.core.session.fold import fold
from lowside.store import event_to_json, late_rows
from lowside.web import folding
from lowside.web.clock import Clock
from lowside.web.phone.sync import MOST_AT_ONCE, MOST_EVENTS

COUNT = 730
"""Notes. Enough for eight pages."""
NOW = Clock().now().at
SID = ulid(1, NOW - 1_000_000)


def entries() -> list[Event]:
    start = event(1, sid=SID, kind="session.started", procedure="hand-valved-three-port")
    return [start, *(event(n, sid=SID, text=f"note {n}.") for n in range(2, COUNT + 2))]


@pytest.fixture
def site(tmp_path: Path, handbook: Handbook) -> Iterator[Site]:
    with open_site(tmp_path / "data", handbook) as opened:
        made = entries()
        for first in range(0, len(made), 5 * MOST_EVENTS):
            opened.store.append(made[first : first + 5 * MOST_EVENTS])
        yield opened


@pytest.fixture
def folds(monkeypatch: pytest.MonkeyPatch) -> list[int]:
    """How many entries each fold from now on had."""
    folded: list[int] = []

    def counting(events: Sequence[Event], *more: Any) -> Any:
        folded.append(len(events))
        return fold(events, *more)

    monkeypatch.setattr(folding, "fold", counting)
    return folded


def notes_on(page: Page) -> list[int]:
    """Those in the timeline; the office's page names them in the record too."""
    timeline = page.response.text.partition('<ol class="entries">')[2].partition("</ol>")[0]
    return [int(n) for n in re.findall(r"note (\d+)\.", timeline)]


def followed(site: Site, page: Page, part: str) -> list[list[int]]:
    """The notes of each page on the way to the oldest."""
    found = []
    while True:
        found.append(notes_on(page))
        seen = found[-1]
        older = [
            link for link in page.read.links if part in link and _number(link) == min(seen) - 1
        ]
        if older == []:
            return found
        page = site.get(older[0])


def _number(link: str) -> int:
    """The number of the entry up to which a link leads; 0 for the newest."""
    digits = re.search(r"(\d+)(#.*)?$", link)
    return int(digits.group(1)) if digits else 0


def test_the_phone_s_timeline_pages_through_every_entry_once(site: Site) -> None:
    pages = followed(site, site.get(f"/s/{SID}/timeline"), "/timeline/")
    assert [n for page in pages for n in page] == list(range(COUNT + 1, 1, -1))
    assert max(map(len, pages)) == PER_PAGE


def test_the_office_s_timeline_pages_through_every_entry_once(site: Site) -> None:
    pages = followed(site, site.get(f"/office/session/{SID}"), "?entries=")
    assert [n for page in reversed(pages) for n in page] == list(range(2, COUNT + 2))
    assert max(map(len, pages)) == PER_PAGE


def test_an_old_entry_is_voided_on_its_page_and_that_page_comes_back(site: Site) -> None:
    page = site.get(f"/s/{SID}/timeline/250")
    assert notes_on(page)[0] == 250
    form = next(f for f in page.read.forms if f.values.get("target") == entries()[199].eid)
    answer = site.post(form.action, form.values | {"reason": "a slip"})
    assert answer.status == 303
    assert answer.response.headers["location"] == f"/s/{SID}/timeline/250"
    newest = site.get(f"/s/{SID}/timeline")
    assert "About: Note of" in newest.text
    assert "Why: a slip" in newest.text


def test_every_form_of_a_page_has_an_id_of_its_own(site: Site) -> None:
    page = site.get(f"/s/{SID}/timeline/400")
    eids = [form.values["eid"] for form in page.read.forms if "target" in form.values]
    assert len(eids) == len(set(eids)) == PER_PAGE


@pytest.mark.parametrize("place", ["0", "999999", "x", "-1", "1.5", "٣", "9" * 40, "1e3"])
def test_a_place_that_is_none_shows_the_newest(site: Site, place: str) -> None:
    assert notes_on(site.get(f"/s/{SID}/timeline/{place}"))[0] == COUNT + 1
    assert site.get(f"/office/session/{SID}?entries={place}").status in (200, 422)


@pytest.mark.parametrize("count", [0, 1, 99, 100, 101, 1000])
def test_pages_lie_side_by_side(count: int) -> None:
    first, last = page_of(count, "")
    shown = list(range(first, last))
    while first > 0:
        first, last = page_of(count, str(first))
        shown = [*range(first, last), *shown]
    assert shown == list(range(count))


def test_a_short_session_has_no_links_to_pages(site: Site) -> None:
    sid = site.start()
    page = site.get(f"/s/{sid}/timeline")
    assert "Older entries" not in page.text
    assert "Newest entries" not in page.text
    assert "Older entries" not in site.get(f"/office/session/{sid}").text


def test_no_page_and_no_tap_works_a_long_session_out_twice(site: Site, folds: list[int]) -> None:
    site.desk._folded = folding.Folded()
    for path in (
        f"/s/{SID}",
        f"/s/{SID}/timeline",
        f"/s/{SID}/form/note",
        f"/office/session/{SID}",
    ):
        assert site.get(path).status == 200
    assert folds == [COUNT + 1], "the pages of one session share one"
    folds.clear()
    form = site.get(f"/s/{SID}/form/note").form("/form/note")
    answer = site.post(form.action, form.values | {"text": "one more"})
    assert answer.status == 303
    assert site.get(answer.response.headers["location"]).status == 200
    assert folds == [COUNT + 2], "a tap has a new state, worked out once"
    folds.clear()
    assert site.post(form.action, form.values | {"text": "one more"}).status == 303
    assert folds == [], "the same tap again changes nothing"


def test_entries_that_arrive_together_are_worked_out_once(site: Site, folds: list[int]) -> None:
    sent = [event(n, sid=SID, dev="other", text="late") for n in range(1, MOST_EVENTS + 1)]
    site.store.append(sent)
    assert folds == [COUNT + 1 + MOST_EVENTS]


MANY = 20_000


def test_twenty_thousand_entries_are_stored_shown_and_sent_on(
    tmp_path: Path, handbook: Handbook, folds: list[int], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(late_rows, "LATER_S", 1000.0)  # however slow the machine is
    made = [*entries()[:1], *(event(n, sid=SID, text=f"note {n}.") for n in range(2, MANY + 1))]
    with open_site(tmp_path / "data", handbook) as site:
        for first in range(0, MANY, 5_000):
            site.store.append(made[first : first + 5_000], rows_later=True)
        assert folds == [], "nobody asked for a list yet"
        assert [one.events for one in site.store.sessions()] == [MANY]
        assert folds == [MANY]
        for place, newest in (("", MANY), ("/10000", 10_000), ("/100", 100)):
            page = site.get(f"/s/{SID}/timeline{place}")
            assert notes_on(page)[0] == newest
            assert len(page.text) < 150_000
        office = site.get(f"/office/session/{SID}?entries=10000")
        assert (len(notes_on(office)), max(notes_on(office))) == (PER_PAGE, 10_000)
        assert f"{MANY - 51} earlier notes are on the timeline" in office.text
        assert len(office.text) < 200_000
        assert folds == [MANY, MANY], "all pages share one, judged"
        late = event_to_json(event(MANY + 1, sid=SID))
        asked = {"v": 1, "dev": "phone", "cursor": "", "events": [late]}
        sent, answer = set(), {"more": True}
        while answer["more"]:
            response = site.send("POST", "/api/sync", content=json.dumps(asked).encode())
            answer = response.json()
            assert len(answer["events"]) <= MOST_AT_ONCE
            sent |= {each["seq"] for each in answer["events"]}
            asked |= {"cursor": answer["cursor"], "events": []}
        assert sent >= set(range(1, MANY + 1)), "all but what this phone wrote itself"
