"""What the office wrote is the office's: no phone changes it, no old page covers what arrived, and
nothing that was typed is dropped. All of it is our choice, no source."""

import json
from collections.abc import Iterator, Sequence
from dataclasses import replace
from pathlib import Path

import pytest
from office_cases import visit
from strategies import Book
from website import Page, Site, open_site

from lowside.core.handbook.handbook import Handbook
from lowside.core.numbers.units import POUND_KG
from lowside.core.office.review import review_of
from lowside.core.session.events import Event, hlc
from lowside.outlining import SUMMARY, summary_from
from lowside.store import lists
from lowside.store.codec import event_to_json

RECORD = {
    "owner": "Mill Lane",
    "use": "comfort_cooling",
    "light": "no",
    "method": "annualizing",
    "full_charge": "60",
    "full_charge_unit": "lb",
    "full_charge_how": "weighed",
    "ruling": "applies",
    "ruling_why": "over 50 lb",
    "responsible": "B. Chief",
}
SAVED_BEFORE = "This was saved before, with other values or void since."


@pytest.fixture
def book() -> Book:
    return visit(2, "2026-05-10", 3.0)


@pytest.fixture
def site(place: Path | str, handbook: Handbook, book: Book) -> Iterator[Site]:
    with open_site(place, handbook) as site:
        site.store.append(book.events)
        yield site


def session(book: Book) -> str:
    return f"/office/session/{book.sid}"


def save(site: Site, page: str, form: str, **typed: str) -> Page:
    shown = site.get(page).form(form)
    return site.post(shown.action, shown.values | typed)


def by_a_phone(book: Book, number: int, kind: str, data: dict[str, str]) -> Event:
    """Written by another phone half a second before the session was closed."""
    at = book.events[-1].at - 500
    return replace(
        book.events[0],
        dev="phone-x",
        seq=number,
        eid=f"01K0000000000000000000{number:04d}",
        hlc=hlc(at, number),
        at=at,
        mono=number,
        kind=kind,
        data=data,
    )


def send(site: Site, sent: Sequence[Event]) -> None:
    """As phones hand over; all of it is stored."""
    asked = {
        "v": 1,
        "dev": "phone-x",
        "cursor": "",
        "events": [event_to_json(event) for event in sent],
        "want": [],
        "proofs": [""] * len(sent),
    }
    answer = site.send("POST", "/api/sync", json.dumps(asked).encode()).json()
    assert [verdict["outcome"] for verdict in answer["verdicts"]] == ["stored"] * len(sent)


def written(site: Site, book: Book, kind: str) -> list[Event]:
    return [event for event in site.events(book.sid) if event.kind == kind]


def signed_off(site: Site, book: Book) -> str:
    """Who, by the row that lists and files are made from."""
    return summary_from(lists.of_session(site.store, SUMMARY, book.sid)).signed_off


def office_writes(site: Site, book: Book) -> list[Event]:
    page = session(book)
    assert save(site, page + "/record", "/record", **RECORD).status == 303
    assert save(site, page, "/comment", comment="Call them").status == 303
    assert save(site, page, "/sign-off", signed="B. Chief").status == 303
    kinds = ("office.recorded", "office.commented", "office.signed_off")
    return [written(site, book, kind)[0] for kind in kinds]


@pytest.mark.parametrize("kind", ["event.amended", "event.voided"])
def test_a_phone_changes_nothing_that_the_office_wrote(site: Site, book: Book, kind: str) -> None:
    entries = office_writes(site, book)
    before = site.get(session(book)).text
    for words in ("Call them", "The rule applies", "5.00 % a year", "Signed off by B. Chief"):
        assert words in before
    forged = {"full_charge": "600", "ruling": "not", "comment": "All fine", "signed": "A. Owner"}
    data = forged if kind == "event.amended" else {}
    send(
        site,
        [
            by_a_phone(book, n, kind, {**entry.data, **data, "target": entry.eid})
            for n, entry in enumerate(entries, start=1)
        ],
    )
    after = site.get(session(book)).text
    for words in ("Call them", "The rule applies", "5.00 % a year", "Signed off by B. Chief"):
        assert words in after
    for words in ("All fine", "A. Owner", "does not apply. over", "0.50 %"):
        assert words not in after
    assert summary_from(lists.of_session(site.store, SUMMARY, book.sid)).comments == 1
    # The tries are on the timeline.
    assert len(written(site, book, kind)) == 3


def test_a_phones_void_of_the_start_takes_no_session_out_of_the_lists(
    site: Site, book: Book
) -> None:
    send(site, [by_a_phone(book, 1, "event.voided", {"target": book.events[0].eid})])
    assert summary_from(lists.of_session(site.store, SUMMARY, book.sid)).started is not None
    assert "2026-05-10" in site.get("/office?show=all").text


def test_the_technicians_timeline_offers_no_void_of_the_offices_entries(
    site: Site, book: Book
) -> None:
    entries = office_writes(site, book)
    weight = written(site, book, "weight.start")[0]
    page = site.get(f"/s/{book.sid}/timeline")
    targets = [form.values["target"] for form in page.read.forms if "target" in form.values]
    assert weight.eid in targets
    assert book.events[0].eid not in targets
    for entry in entries:
        assert entry.eid not in targets
        typed = page.form("/form/void").values | {"target": entry.eid}
        refused = site.post(f"/s/{book.sid}/form/void", typed)
        assert refused.status == 422
        assert "cannot be voided here" in refused.text
    assert review_of(site.state(book.sid)).is_signed


def test_the_office_voids_and_restores_its_own_entry(site: Site, book: Book) -> None:
    _, comment, sign_off = office_writes(site, book)
    page = session(book)
    voids = {
        form.values["target"]: form
        for form in site.get(page).read.forms
        if form.action.endswith("/void")
    }
    assert set(voids) == {event.eid for event in office_writes_of(site, book)}
    form = voids[comment.eid]
    for _ in range(2):  # a double tap
        answer = site.post(form.action, form.values | {"reason": "Another unit"})
        assert answer.status == 303
        assert answer.response.headers["location"] == page + "#timeline"
    # Another page that is still open says the same once more.
    eid = form.values["eid"][:-1] + ("0" if form.values["eid"][-1] != "0" else "1")
    assert site.post(form.action, form.values | {"eid": eid}).status == 303
    (void,) = written(site, book, "event.voided")
    assert void.data["target"] == comment.eid
    review = review_of(site.state(book.sid))
    assert review.comments == ()
    assert review.is_signed
    assert signed_off(site, book) == "B. Chief"
    assert "Another unit" in site.get(page).text
    again = next(
        form for form in site.get(page).read.forms if form.values.get("target") == void.eid
    )
    assert site.post(again.action, again.values | {"reason": ""}).status == 303
    assert [one.text for one in review_of(site.state(book.sid)).comments] == ["Call them"]
    form = voids[sign_off.eid]
    assert site.post(form.action, form.values).status == 303
    assert signed_off(site, book) == ""


def office_writes_of(site: Site, book: Book) -> list[Event]:
    return [event for event in site.events(book.sid) if event.kind.startswith("office.")]


def test_the_office_voids_nothing_of_a_technicians_there(site: Site, book: Book) -> None:
    office_writes(site, book)
    form = site.get(session(book)).form("/void")
    weight = written(site, book, "weight.start")[0]
    for target in (weight.eid, book.events[0].eid, "nothing"):
        assert site.post(form.action, form.values | {"target": target}).status == 404
    comment = written(site, book, "office.commented")[0]
    no_form = {"target": comment.eid, "eid": "x"}
    assert site.post(form.action, no_form).status == 404
    assert written(site, book, "event.voided") == []


def corrected(book: Book) -> Event:
    shot = next(event for event in book.events if event.kind == "shot.closed")
    data = {"target": shot.eid, "scale_after": "128.5", "scale_after_unit": "lb"}
    return by_a_phone(book, 1, "event.amended", data)


def test_what_arrives_late_takes_a_sign_off_back(site: Site, book: Book) -> None:
    assert save(site, session(book), "/sign-off", signed="B. Chief").status == 303
    assert signed_off(site, book) == "B. Chief"
    assert "CH-1" not in site.get("/office").text
    send(site, [corrected(book)])
    assert signed_off(site, book) == ""
    assert "Changed since." in site.get(session(book)).text
    assert "Changed since it was signed off" in site.get("/office").text
    assert save(site, session(book), "/sign-off", signed="B. Chief").status == 303
    assert signed_off(site, book) == "B. Chief"
    assert "CH-1" not in site.get("/office").text


def test_a_sign_off_from_an_older_page_is_shown_what_arrived_and_keeps_what_was_typed(
    site: Site, book: Book
) -> None:
    form = site.get(session(book)).form("/sign-off")
    send(site, [corrected(book)])
    typed = form.values | {"signed": "B. Chief", "remark": "All well"}
    answer = site.post(form.action, typed)
    assert answer.status == 422
    assert "Entries arrived since. Look again, then sign off." in answer.text
    assert written(site, book, "office.signed_off") == []
    again = answer.form("/sign-off")
    assert (again.values["signed"], again.values["remark"]) == ("B. Chief", "All well")
    assert again.values["eid"] != form.values["eid"]
    assert site.post(again.action, again.values).status == 303
    state = site.state(book.sid)
    assert review_of(state).is_signed
    shot = next(shot for shot in state.shots)
    assert shot.amount_kg == pytest.approx(1.5 * POUND_KG)


def test_a_sign_off_whose_answer_was_lost_is_saved_once_whatever_arrived(
    site: Site, book: Book
) -> None:
    form = site.get(session(book)).form("/sign-off")
    typed = form.values | {"signed": "B. Chief"}
    assert site.post(form.action, typed).status == 303
    send(site, [corrected(book)])
    assert site.post(form.action, typed).status == 303
    assert len(written(site, book, "office.signed_off")) == 1
    assert signed_off(site, book) == ""


@pytest.mark.parametrize(
    ("page", "form", "first", "second", "kind"),
    [
        ("", "/comment", {"comment": "First"}, {"comment": "Second"}, "office.commented"),
        ("", "/sign-off", {"signed": "B. Chief"}, {"signed": "A. Owner"}, "office.signed_off"),
        ("/record", "/record", RECORD, RECORD | {"full_charge": "16"}, "office.recorded"),
    ],
)
def test_the_same_form_with_other_words_is_shown_again_and_drops_nothing(
    site: Site, book: Book, page: str, form: str, first: dict[str, str], second: dict[str, str],
    kind: str,
) -> None:  # fmt: skip
    shown = site.get(session(book) + page).form(form)
    for _ in range(2):  # the same words are one entry, as before
        assert site.post(shown.action, shown.values | first).status == 303
    answer = site.post(shown.action, shown.values | second)
    assert answer.status == 422
    assert SAVED_BEFORE in answer.text
    assert len(written(site, book, kind)) == 1
    again = answer.form(form)
    assert again.values["eid"] != shown.values["eid"]
    for name, text in second.items():
        assert again.values[name] == text
    assert site.post(again.action, again.values).status == 303
    last = written(site, book, kind)[-1]
    assert len(written(site, book, kind)) == 2
    for name, text in second.items():
        assert last.data[name] == text


def test_the_same_form_of_a_cylinder_with_other_words_is_shown_again(site: Site) -> None:
    page = "/office/cylinder?label=C-1"
    shown = site.get(page).form("kind=charging")
    assert site.post(shown.action, shown.values | {"van": "Van 1"}).status == 303
    answer = site.post(shown.action, shown.values | {"van": "Van 2"})
    assert answer.status == 422
    assert SAVED_BEFORE in answer.text
    again = answer.form("kind=charging")
    assert again.values["van"] == "Van 2"
    assert site.post(again.action, again.values).status == 303
    assert site.get(page).form("kind=charging").values["van"] == "Van 2"


def test_a_new_cylinders_form_with_another_number_is_shown_again(site: Site) -> None:
    new = "/office/cylinder/new"
    shown = site.get(new).form(new)
    typed = shown.values | {
        "kind": "charging",
        "label": "C-77",
        "refrigerant": "R-410A",
        "tare": "8 lb",
        "gross": "33 lb",
    }
    for _ in range(2):
        assert site.post(new, typed).status == 303
    answer = site.post(new, typed | {"label": "C-78"})
    assert answer.status == 422
    assert SAVED_BEFORE in answer.text
    again = answer.form(new)
    assert again.values["label"] == "C-78"
    assert site.post(new, again.values).status == 303
    assert site.get("/office/cylinder?label=C-78").status == 200
