"""The pages about cylinders: found, narrowed, and what the office keeps of one."""

import re
from collections.abc import Callable, Iterator
from pathlib import Path

import psycopg
import pytest
from office_cases import events, visit
from strategies import START, Book, ready_to_charge, ulid
from website import Site, open_site

from lowside.core.handbook.handbook import Handbook
from lowside.core.office.cylinders import IN_USE
from lowside.outlining import CYLINDER, LOOK, TOP_UP, USE, outline
from lowside.store import lists
from lowside.store.check import check
from lowside.store.postgres.checking import check_database
from lowside.store.postgres.store import PostgresStore
from lowside.web.office import cylinder_pages

RC = "/office/cylinder?label=RC-1&kind=recovery"


@pytest.fixture
def site(place: Path | str, handbook: Handbook) -> Iterator[Site]:
    book = ready_to_charge(Book())
    book.form(
        "recovery_cylinder",
        rc_water="47.7 lb",
        rc_tare="27 lb",
        rc_service="400 psig",
        rc_date="06/2020",
        rc_date_means="tested",
        rc_label="RC-1",
    )
    book.form("recovery_contents", rc_before="37 lb", rc_inside="one", rc_refrigerant="R-410A")
    book.form(
        "recovery_after", rc_after="43 lb", rc_left="0 psig", rc_what="part", rc_next="readings"
    )
    with open_site(place, handbook) as site:
        site.store.append(events(book, visit(2, "2026-05-10", 3.0)))
        yield site


def test_the_register_names_every_cylinder_and_the_stock(site: Site) -> None:
    page = site.get("/office/cylinders")
    assert "RC-1" in page.text
    assert "16 lb 0.0 oz" in page.text
    assert "Test overdue" in page.text
    assert "With I. Varga" in page.text
    assert RC in page.read.links


@pytest.mark.parametrize(
    ("show", "number"), [("due", "RC-1"), ("recovery", "RC-1"), ("nonsense", "C-1")]
)
def test_the_list_is_narrowed_to_what_is_asked(site: Site, show: str, number: str) -> None:
    assert f">{number}</a>" in site.get(f"/office/cylinders?show={show}").response.text


def test_a_list_of_none_says_so(site: Site) -> None:
    page = site.get("/office/cylinders?show=gone")
    assert "There are none." in page.text
    assert page.status == 200


def test_a_recovery_cylinder_shows_all_rules_and_the_one_that_holds(site: Site) -> None:
    page = site.get(RC).text
    for words in ("0.80 × water capacity:", "specific gravity at 77 °F", "This one holds."):
        assert words in page
    assert "On the scale at most" in page


def test_what_the_office_keeps_is_saved_and_shown(site: Site) -> None:
    form = site.get(RC).form(RC)
    typed = form.values | {"van": "Van 2", "low": "5", "low_oz": "8"}
    assert site.post(form.action, typed).status == 303
    page = site.get(RC)
    assert page.form(RC).values["van"] == "Van 2"
    assert "Van 2" in site.get("/office/cylinders").text


def test_a_date_that_is_none_is_refused_and_what_was_typed_stays(site: Site) -> None:
    form = site.get(RC).form(RC)
    answer = site.post(form.action, form.values | {"rc_date": "soon", "van": "Van 9"})
    assert answer.status == 422
    assert "06/2024" in answer.problem("rc_date")
    assert answer.problem("rc_date_means") != ""
    assert answer.form(RC).values["van"] == "Van 9"


def test_a_number_nobody_used_is_not_found(site: Site) -> None:
    assert site.get("/office/cylinder?label=none").status == 404
    assert site.post("/office/cylinder?label=none", {"eid": "x"}).status == 404


def test_pages_hold_every_cylinder_once(site: Site, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(cylinder_pages, "ROWS", 1)
    seen = []
    path = "/office/cylinders"
    while path:
        page = site.get(path)
        seen += [link for link in page.read.links if "/office/cylinder?" in link]
        path = next((link for link in page.read.links if "page=" in link), "")
        if "First page" in page.text and "Next page" not in page.text:
            break
    assert len(seen) == len(set(seen)) == 2
    assert site.get("/office/cylinders?page=none").status == 200
    assert site.get("/office/cylinders?page=99").status == 200


def test_the_list_counts_orders_and_sums_as_its_cylinders_say(site: Site) -> None:
    for label, gross, van in (("C-7", "33 lb", "Van 2"), ("C-8", "20 lb", "Van 2")):
        form = site.get("/office/cylinder/new").form("/office/cylinder/new")
        new = {"kind": "charging", "label": label, "refrigerant": "R-410A", "tare": "8 lb"}
        assert (
            site.post(form.action, form.values | new | {"gross": gross, "van": van}).status == 303
        )
    page = site.get("/office/cylinders")
    labels = re.findall(r'<tr><td><a href="[^"]*">([^<]+)</a>', page.response.text)
    assert [label for label in labels if not label.startswith("RC")] == ["C-8", "C-7", "C-1"]
    stock = page.response.text.partition("by refrigerant and van")[2]
    rows = [re.findall(r"<td[^>]*>([^<]*)</td>", row) for row in stock.split("<tr>")]
    assert ["R-410A", "To charge from", "Van 2", "37 lb 0.0 oz", "2"] in rows
    for link in [link for link in page.read.links if link.startswith("/office/cylinders")]:
        text = site.get(link).response.text
        (name, count), *more = re.findall(r'aria-current="true">([^<]+) <b>(\d+)</b>', text)
        assert not more
        assert text.count("<tr><td><a href=") == int(count), name
    sent = {"fate": "scrapped"}
    form = site.get("/office/cylinder?label=C-8&kind=charging").form(
        "/office/cylinder?label=C-8&kind=charging"
    )
    assert site.post(form.action, form.values | sent).status == 303
    assert "C-8" not in site.get("/office/cylinders").text
    assert "C-8" in site.get("/office/cylinders?show=gone").text


def recovered(number: int, begun_h: float, at_h: float, before: str, after: str) -> Book:
    """A session that recovers into RC-2 some hours after it began."""
    book = ready_to_charge(Book(sid=ulid(number), at=START + int(begun_h * 3_600_000)))
    book.dev = f"phone-{number}"
    book.wait((at_h - begun_h) * 3600.0 - (book.at - START) / 1000.0 + begun_h * 3600.0)
    book.form(
        "recovery_cylinder",
        rc_water="47.7 lb",
        rc_tare="27 lb",
        rc_service="400 psig",
        rc_date="06/2024",
        rc_date_means="tested",
        rc_label="RC-2",
    )
    book.form("recovery_contents", rc_before=before, rc_inside="one", rc_refrigerant="R-410A")
    book.form(
        "recovery_after", rc_after=after, rc_left="0 psig", rc_what="part", rc_next="readings"
    )
    return book


def test_the_list_says_what_the_page_says_of_a_job_that_weighs_last_and_began_first(
    site: Site,
) -> None:
    """A full recovery cylinder that is called empty can burst."""
    for book in (
        recovered(11, 0, 50, "40 lb", "66 lb"),
        recovered(12, 20, 21, "30 lb", "34 lb"),
        recovered(13, 30, 31, "34 lb", "40 lb"),
    ):
        site.store.append(book.events)
    page = site.get("/office/cylinder?label=RC-2&kind=recovery").text
    assert "No room left" in page
    assert "39 lb 0.0 oz" in page
    (row,) = re.findall(
        r'<tr><td><a href="[^"]*">RC-2</a>.*', site.get("/office/cylinders").response.text
    )
    assert "No room left" in row
    assert "39 lb 0.0 oz" in row
    assert "RC-2" in site.get("/office/cylinders?show=full").text


def test_a_nul_in_what_the_office_writes_is_nothing_wrong(site: Site, place: Path | str) -> None:
    form = site.get(RC).form(RC)
    assert site.post(form.action, form.values | {"van": "Van\0 2"}).status == 303
    assert "RC-1" in site.get("/office/cylinders").text
    if isinstance(place, str):
        assert check_database(place, outline).problems == ()
    else:
        site.store.close()
        assert check(place, outline).problems == ()


def test_rows_of_an_older_version_are_made_again_one_session_after_the_other(
    new_shop: Callable[[], str],
) -> None:
    """While the first is, the others still have theirs, which may have other fields."""
    address = new_shop()
    with PostgresStore.open(address, outline) as store:
        for day in (1, 2, 3):
            store.append(events(visit(day, f"2026-05-1{day}", 1.0)))
        right = lists.cylinders(store, IN_USE, 0, 1, 9)
        flags = lists.counts(store, LOOK)
    with psycopg.connect(address, autocommit=True) as role:
        for kind, name in ((CYLINDER, "moved_kg"), (USE, "tare_kg"), (TOP_UP, "at")):
            role.execute(
                "UPDATE derived SET value = replace(value, %s, %s) WHERE kind = %s",
                (f'"{name}"', '"older"', kind),
            )
        role.execute("UPDATE shops SET rules = 'older'")
    assert "something else" in " ".join(check_database(address, outline).problems)
    with PostgresStore.open(address, outline) as store:
        assert lists.cylinders(store, IN_USE, 0, 1, 9) == right
        assert lists.counts(store, LOOK) == flags
    assert check_database(address, outline).problems == ()


def test_shots_that_were_not_weighed_left_the_cylinder(
    place: Path | str, handbook: Handbook
) -> None:
    """123 lb were inside before: after them it holds at most that, until it is weighed."""
    with open_site(place, handbook) as site:
        book = visit(2, "2026-06-01", 2.0, weighed=False)
        site.store.append(book.events)
        for path in ("/office/cylinders", "/office/cylinder?label=C-1&kind=charging"):
            assert "At most 123 lb 0.0 oz" in site.get(path).text
        assert "1 not weighed" in site.get("/office/cylinder?label=C-1&kind=charging").text
        later = visit(3, "2026-06-03", 2.0, weighed=False)
        later.form("end_weight", gross="127.5 lb")
        site.store.append(later.events)
        page = site.get("/office/cylinder?label=C-1&kind=charging").text
        assert "Net on hand 120 lb 8.0 oz" in page
        assert "At most" not in page
