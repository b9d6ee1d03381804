"""A form whose entry was voided is not answered as saved when it is sent once more, as after Back.

Our choice, no source.
"""

from collections.abc import Iterator
from pathlib import Path

import pytest
from office_cases import visit
from website import Site, open_site

from lowside.core.handbook.handbook import Handbook
from lowside.core.office.review import review_of
from lowside.core.pages.recording import SAVED_BEFORE
from lowside.core.session.events import Event


@pytest.fixture
def site(tmp_path: Path, handbook: Handbook) -> Iterator[Site]:
    with open_site(tmp_path, handbook) as site:
        yield site


def void(site: Site, page: str, event: Event) -> None:
    forms = site.get(page).read.forms
    form = next(one for one in forms if one.values.get("target") == event.eid)
    assert site.post(form.action, form.values | {"reason": "wrong"}).status == 303


def test_a_sign_off_that_was_voided_is_saved_by_one_more_tap(site: Site) -> None:
    book = visit(2, "2026-05-10", 3.0)
    site.store.append(book.events)
    page = f"/office/session/{book.sid}"
    form = site.get(page).form("/sign-off")
    typed = {"signed": "B. Chief"}
    for _ in range(2):
        assert site.post(form.action, form.values | typed).status == 303
    assert len(site.events(book.sid)) == len(book.events) + 1
    void(site, page, site.events(book.sid)[-1])
    answer = site.post(form.action, form.values | typed)
    assert answer.status == 422
    assert SAVED_BEFORE in answer.text
    again = answer.form("/sign-off")
    assert site.post(again.action, again.values | typed).status == 303
    assert review_of(site.state(book.sid)).is_signed
