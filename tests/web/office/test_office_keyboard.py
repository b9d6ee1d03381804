"""The office's pages by keyboard alone: every control is reached in the order of the page, has a
name, and after a form the focus is where the work goes on."""

from collections.abc import Iterator
from html.parser import HTMLParser
from pathlib import Path

import pytest
from office_cases import events, visit
from website import Site, open_site

from lowside.core.handbook.handbook import Handbook

FORMS = ("input", "select", "textarea")


class Controls(HTMLParser):
    """What the keyboard meets on a page, in order."""

    def __init__(self, html: str) -> None:
        super().__init__(convert_charrefs=True)
        self.ids: list[str] = []
        self.first = ""
        self.named: set[str] = set()
        """Targets of labels."""
        self.unnamed: list[str] = []
        self.boxes: list[tuple[str, str, bool]] = []
        """Tag, id, and whether it is inside a label."""
        self.wrong: list[str] = []
        self.fragments: list[str] = []
        self.autofocus: list[str] = []
        self._label = 0
        self._in: list[tuple[str, str, str]] = []
        self.feed(html)
        self.close()

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        told = {name: value or "" for name, value in attrs}
        if "id" in told:
            self.ids.append(told["id"])
        if tag == "label":
            self._label += 1
            self.named.add(told.get("for", ""))
        if "autofocus" in told:
            self.autofocus.append(tag)
        if int(told.get("tabindex", "0")) > 0:
            self.wrong.append(f"{tag} has a place of its own in the order")
        if any(name.startswith("on") for name in told):
            self.wrong.append(f"{tag} hears a mouse alone")
        if tag == "a" and told.get("href", "").startswith("#"):
            self.fragments.append(told["href"][1:])
        if tag in FORMS and told.get("type") != "hidden":
            self.boxes.append((tag, told.get("id", ""), self._label > 0))
        if tag in ("a", "button", "summary"):
            self._in.append((tag, told.get("href", tag), told.get("aria-label", "")))

    def handle_data(self, data: str) -> None:
        self._in = [(tag, where, name + data.strip()) for tag, where, name in self._in]

    def handle_endtag(self, tag: str) -> None:
        if tag == "label":
            self._label -= 1
        if self._in and self._in[-1][0] == tag:
            _, where, name = self._in.pop()
            self.first = self.first or where
            if name == "":
                self.unnamed.append(where)

    def faults(self) -> list[str]:
        found = list(self.wrong)
        found += [f"{where} has no words" for where in self.unnamed]
        found += [
            f"{tag} {one} has no label"
            for tag, one, inside in self.boxes
            if not inside and one not in self.named
        ]
        found += [f"#{one} leads nowhere" for one in self.fragments if one not in self.ids]
        found += [f"{one} is there twice" for one in set(self.ids) if self.ids.count(one) > 1]
        if self.first != "#main" or "main" not in self.ids:
            found.append("the first thing does not skip to the page")
        return found


@pytest.fixture
def site(tmp_path: Path, handbook: Handbook) -> Iterator[Site]:
    with open_site(tmp_path / "data", handbook) as site:
        yield site


def test_every_office_page_is_all_there_for_the_keyboard(site: Site) -> None:
    books = [visit(n, f"2026-03-{n:02d}", 2.0 * n) for n in (1, 2)]
    site.store.append(events(*books))
    sid = books[0].sid
    typed = {"source": "hand-valved-three-port", "title": "Ours"}
    ours = site.post("/office/procedures/copy", typed).response.headers["location"]
    pages = (
        *("/office", "/office?show=seen", "/office?show=all&q=mill&from=2026-99-99", "/office?q=x"),
        *("/office/units", "/office/unit?site=Mill+Lane&unit=CH-1", "/office/cylinders"),
        *("/office/cylinder?label=C-1", "/office/cylinder/new", "/office/month?month=2026-03"),
        *("/office/month?month=x", "/office/procedures", ours, ours + "/step/caps"),
        *("/office/people", "/office/rules", "/office/set-aside", f"/office/session/{sid}"),
        *(f"/office/session/{sid}/record", "/office/session/nobody"),
    )
    for page in pages:
        found = Controls(site.send("GET", page).text)
        assert found.faults() == [], page
        assert found.autofocus == [], page


def test_a_form_that_was_refused_has_the_focus_and_says_what_to_look_at(site: Site) -> None:
    book = visit(1, "2026-03-01", 2.0)
    still_open = visit(2, "2026-03-02", 2.0)
    still_open.events.pop()
    site.store.append(events(book, still_open))
    typed = {"source": "hand-valved-three-port", "title": "Ours"}
    ours = site.post("/office/procedures/copy", typed).response.headers["location"]
    session = f"/office/session/{book.sid}"
    for address, wrong, said in (
        (session + "/comment", {}, "Comment"),
        (session + "/sign-off", {}, "Signed off by"),
        (f"/office/session/{still_open.sid}/sign-off", {"signed": "B. Chief"}, "still open"),
        (session + "/record", {"full_charge_how": "range"}, "If a range: lowest"),
        ("/office/cylinder/new", {}, "Cylinder number"),
        ("/office/cylinder?label=C-1", {"rc_date": "June"}, "Month and year stamped"),
        ("/office/procedures/copy", typed | {"title": ""}, "name"),
        (ours + "/name", {"title": "", "base": "1"}, "name"),
        (ours + "/step/caps", {"title": "", "base": "1"}, "Not saved"),
    ):
        answer = site.send("POST", address, data=wrong)
        found = Controls(answer.text)
        assert answer.status_code in (409, 422), address
        assert found.faults() == [], address
        assert found.autofocus == ["p"], address
        focused = answer.text.partition("autofocus>")[2].partition("</p>")[0]
        assert said in focused, (address, focused)
        # A fold around it is open.
        before = answer.text.partition("autofocus>")[0]
        _, folded, fold = before.rpartition("<details")
        is_inside = folded != "" and "</details>" not in fold
        assert not is_inside or " open" in fold.partition(">")[0], address


def test_after_a_form_was_saved_the_page_goes_on_where_it_was(site: Site) -> None:
    book = visit(1, "2026-03-01", 2.0)
    site.store.append(events(book))
    session = f"/office/session/{book.sid}"
    page = site.get(session)
    for form, typed, place in (
        (page.form("/comment"), {"comment": "Looked at it."}, "#review"),
        (page.form("/sign-off"), {"signed": "B. Chief"}, "#review"),
        (site.get(session + "/record").form("/record"), {}, "#law-head"),
    ):
        saved = site.post(form.action, form.values | typed).response
        assert saved.headers["location"] == session + place
        assert place[1:] in Controls(site.send("GET", session).text).ids
