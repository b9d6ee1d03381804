"""The office's first page: what needs a look, found by any filter, signed off, exported."""

import csv
import io
import json
import re
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

import pytest
from office_cases import events, visit
from strategies import Book
from website import Page, Site, open_site

from lowside.core.handbook.handbook import Handbook
from lowside.core.session.events import Event, Moment
from lowside.outlining import ANY, LOOK, SUMMARY, outline
from lowside.store import EventStore, Store, lists
from lowside.store.selection import SORTS, Selection
from lowside.web.office.exporting import columns, site_time
from lowside.web.office.list_content import ROWS


def stopped(number: int, day: str, **more: str) -> Book:
    """A visit whose unit stopped on the way."""
    book = visit(number, day, **more)  # type: ignore[arg-type]
    closing = book.events.pop()
    book.form("system_stopped", 1)
    book.write(closing.kind, closing.data, 1)
    return book


@pytest.fixture
def site(place: Path | str, handbook: Handbook) -> Iterator[Site]:
    with open_site(place, handbook) as site:
        site.store.append(
            events(
                visit(1, "2026-01-10", 2.0),
                stopped(2, "2026-05-10", unit="AC-2", technician="T. Odell"),
                stopped(3, "2026-06-20", site="=Harbor", refrigerant="R-22"),
            )
        )
        yield site


def names(page: Page) -> list[str]:
    """The tickets on the page, in order."""
    return [
        link.removeprefix("/office/session/")[-1]
        for link in page.read.links
        if link.startswith("/office/session/")
    ]


FOUND = (
    ("/office", ["3", "2"]),
    ("/office?show=all", ["3", "2", "1"]),
    ("/office?flag=stopped", ["3", "2"]),
    ("/office?flag=early", []),
    ("/office?show=all&sort=old", ["1", "2", "3"]),
    ("/office?show=all&sort=added", ["1", "3", "2"]),
    ("/office?show=all&sort=site", ["3", "2", "1"]),
    ("/office?show=all&technician=t.%20odell", ["2"]),
    ("/office?show=all&site=mill%20lane", ["2", "1"]),
    ("/office?show=all&site=mill%20lane&unit=ch-1", ["1"]),
    ("/office?show=all&unit=ac-2", ["2"]),
    ("/office?show=all&refrigerant=r-22", ["3"]),
    ("/office?show=all&state=open", []),
    ("/office?show=all&state=closed&from=2026-05-01&to=2026-05-31", ["2"]),
    ("/office?show=all&from=2026-06-21", []),
    ("/office?q=odell", ["2"]),
    ("/office?show=seen", []),
    ("/office?show=nonsense&sort=nonsense&flag=nonsense", ["3", "2"]),
)


@pytest.mark.parametrize(("path", "wanted"), FOUND)
def test_every_filter_finds_what_it_says(site: Site, path: str, wanted: list[str]) -> None:
    page = site.get(path)
    assert page.status == 200
    assert sorted(set(names(page))) == sorted(wanted)
    if "sort" in path and "nonsense" not in path and "site" not in path.split("sort=")[1]:
        assert names(page) == wanted


def test_a_date_that_is_none_is_said_and_left_out(site: Site) -> None:
    page = site.get("/office?show=all&from=yesterday")
    assert "Type the date as 2026-05-31. It was left out." in page.text
    assert len(names(page)) == 3
    files = [link for link in page.read.links if "/sessions." in link]
    assert [site.get(link).status for link in files] == [200, 200, 200]


@pytest.mark.parametrize("name", ["sessions.csv", "sessions.json"])
@pytest.mark.parametrize("bound", ["from=11/01/2026", "to=2026-11-31"])
def test_no_file_is_made_with_a_date_left_out(site: Site, name: str, bound: str) -> None:
    page = site.get(f"/office/{name}?show=all&{bound}")
    assert page.status == 422
    assert page.response.text == "Type the date as 2026-05-31."


def test_times_are_those_of_the_site(site: Site) -> None:
    assert "2026-05-10 12:00" in site.get("/office").text


def test_a_flag_leaves_the_list_when_it_is_signed_off_and_comes_back_with_a_new_entry(
    site: Site,
) -> None:
    sid = next(one.sid for one in site.store.sessions() if one.sid.endswith("2"))
    form = site.get(f"/office/session/{sid}").form("/sign-off")
    assert site.post(form.action, form.values | {"signed": "B. Chief"}).status == 303
    assert names(site.get("/office")) == ["3"]
    assert names(site.get("/office?show=seen")) == ["2"]
    shown = site.get(f"/office/session/{sid}").text
    assert "Signed off by B. Chief" in shown
    assert "As judged then" in shown
    site.desk.append(sid, "01K0000000000000000000000A", "note.added", {"text": "Late"})
    assert names(site.get("/office")) == ["3", "2"]
    assert "Changed since" in site.get(f"/office/session/{sid}").text


def test_a_comment_is_kept_with_its_writer(site: Site) -> None:
    sid = site.store.sessions()[0].sid
    form = site.get(f"/office/session/{sid}").form("/comment")
    assert site.post(form.action, form.values | {"comment": ""}).status == 422
    assert site.post(form.action, form.values | {"comment": "Call <them>"}).status == 303
    assert "Call <them>" in site.get(f"/office/session/{sid}").text
    assert "1 comment" in site.get("/office").text


def test_an_open_session_is_not_signed_off(site: Site) -> None:
    sid = site.start()
    typed = {"eid": "01K0000000000000000000000B", "signed": "B. Chief"}
    answer = site.post(f"/office/session/{sid}/sign-off", typed)
    assert answer.status == 422
    assert "office.signed_off" not in [event.kind for event in site.events(sid)]


@pytest.mark.parametrize("sort", SORTS)
def test_pages_hold_every_session_once_whatever_the_order(
    tmp_path: Path, handbook: Handbook, sort: str
) -> None:
    count = 2 * ROWS + 7
    with open_site(tmp_path / "many", handbook) as site:
        books = [
            visit(n, f"2026-05-{n % 9 + 10}", float(n % 4), unit=f"U{n % 5}") for n in range(count)
        ]
        site.store.append(events(*books))
        seen: list[str] = []
        path = f"/office?show=all&sort={sort}"
        while path:
            page = site.get(path)
            seen += [link for link in page.read.links if link.startswith("/office/session/")]
            path = next((link for link in page.read.links if "after=" in link), "")
        assert len(seen) == len(set(seen)) == count


def test_exports_hold_the_selection_in_site_time_and_chosen_units(site: Site) -> None:
    text = site.get("/office/sessions.csv?show=all").response.text
    rows = list(csv.DictReader(io.StringIO(text.removeprefix("\ufeff"))))
    assert len(rows) == 3
    assert rows[2]["started"] == "2026-01-10T12:00:10-06:00"
    assert rows[2]["added_lb"] == "2.0"
    assert rows[0]["site"] == "'=Harbor"
    assert list(rows[0]) == [column.name for column in columns(False)]
    in_si = site.get("/office/sessions.csv?show=all&units=si").response.text
    assert "added_kg" in in_si
    assert "0.9072" in in_si
    one = json.loads(site.get("/office/sessions.json?show=all&technician=T.+Odell").response.text)
    assert [row["unit"] for row in one["sessions"]] == ["AC-2"]
    assert set(one["columns"]) == set(one["sessions"][0])
    empty = json.loads(site.get("/office/sessions.json?q=nobody").response.text)
    assert empty["sessions"] == []


@pytest.mark.parametrize(
    ("tz", "at", "wanted"),
    [
        (1439, 0, "1970-01-01T23:59:00+23:59"),
        (1440, 0, "1970-01-01T23:59:00+23:59"),
        (-1440, 86_400_000, "1970-01-01T00:01:00-23:59"),
        (-90, 1_500, "1969-12-31T22:30:01-01:30"),
        (0, 2**53 - 1, "287396-10-12T08:59:00+00:00"),
    ],
)
def test_no_time_an_entry_can_have_keeps_a_file_from_being_made(
    site: Site, tz: int, at: int, wanted: str
) -> None:
    assert site_time(Moment("run", 0, at, tz)) == wanted
    site.store.append([replace(event, tz=tz, at=at) for event in visit(7, "2026-05-01").events])
    assert wanted in site.get("/office/sessions.csv?show=all").response.text
    rows = json.loads(site.get("/office/sessions.json?show=all").response.text)["sessions"]
    assert wanted in [row["started"] for row in rows]


def test_every_column_is_documented(root: Path) -> None:
    text = (root / "docs" / "office.md").read_text("utf-8")
    for si in (False, True):
        for column in columns(si):
            assert f"| `{column.name}` | {column.meaning} |" in text


def test_a_rebuilt_index_has_the_same_rows(site: Site) -> None:
    def rows(store: EventStore) -> object:
        selection = Selection(kind=LOOK, key=ANY)
        return lists.selected(store, selection, SUMMARY), lists.counts(store, LOOK)

    before = rows(site.store)
    site.store.rebuild_index()
    assert rows(site.store) == before
    if isinstance(site.store, Store):  # files can be read beside the writer
        with Store.open(site.store.root, outline, write=False) as reader:
            assert rows(reader) == before


def test_the_months_report_has_its_sessions_and_no_others(site: Site) -> None:
    page = site.get("/office/month?month=2026-05")
    assert names(page) == ["2"]
    assert "May 2026" in page.text
    assert "/office/month?month=2026-06" in page.read.links
    files = [link for link in page.read.links if ".csv" in link]
    assert len(site.get(files[0]).response.text.splitlines()) == 2
    assert "No session began" in site.get("/office/month?month=2030-01").text
    assert "Type the month" in site.get("/office/month?month=May").text


def test_what_is_not_there_is_said_among_the_offices_pages(site: Site) -> None:
    page = site.get("/office/unit?site=x&unit=y")
    assert page.status == 404
    assert "There is no such unit" in page.text
    assert 'href="/office"' in page.response.text


def moved(book: Book, hours: int, tz: int) -> list[Event]:
    """A visit so much later than noon at UTC−6, where the clock has another offset [min]."""
    return [replace(event, at=event.at + hours * 3_600_000, tz=tz) for event in book.events]


@pytest.mark.parametrize("server_tz", [0, -600, 780])
def test_a_session_is_of_the_day_that_it_shows_whatever_clock_the_server_has(
    site: Site, monkeypatch: pytest.MonkeyPatch, server_tz: int
) -> None:
    now = replace(site.desk.clock.now(), tz=server_tz)
    monkeypatch.setattr(site.desk.clock, "now", lambda: now)
    site.store.append(
        [
            *moved(visit(4, "2026-04-30", 1.0, site="East"), 0, 420),  # 1:00 on 1 May
            *moved(visit(5, "2026-05-01", 1.0, site="West"), -16, -360),  # 20:00 on 30 April
        ]
    )
    april = "from=2026-04-01&to=2026-04-30"
    may_day = "from=2026-05-01&to=2026-05-01"
    for sort in SORTS:
        assert names(site.get(f"/office?show=all&sort={sort}&{april}")) == ["5"]
        assert names(site.get(f"/office?show=all&sort={sort}&{may_day}")) == ["4"]
    assert names(site.get("/office?show=all&to=2026-04-30")) == ["5", "1"]
    assert names(site.get("/office?q=east&from=2026-05-01")) == ["4"]
    assert names(site.get("/office?q=east&to=2026-04-30")) == []
    month = site.get("/office/month?month=2026-04")
    assert "West" in month.text
    assert "East" not in month.text
    rows = site.get(f"/office/sessions.csv?show=all&{may_day}").response.text.splitlines()
    assert len(rows) == 2
    assert "2026-05-01T01:00:10+07:00" in rows[1]
    units = site.get("/office/units").text
    assert re.search(r"East\W+1\W+1 lb 0.0 oz\W+2026-05-01", units)
    assert re.search(r"West\W+1\W+1 lb 0.0 oz\W+2026-04-30", units)
    for path in ("/office", "/office/month"):
        assert "server" not in site.get(path).text
