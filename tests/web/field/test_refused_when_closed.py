"""A form whose session the other phone closed comes back with the reason and what was typed.

Our choice, no source.
"""

import re
from collections.abc import Iterator
from pathlib import Path

import pytest
from strategies import Book, ready_to_charge, ulid, with_units
from website import Site, open_site

from lowside.core.handbook.handbook import Handbook
from lowside.demo import Scenario, scenarios

CLOSED = "This session is closed. Add a note, or start a new session."
ROOF: Scenario = next(one for one in scenarios() if one.name == "roof-unit-r410a")


@pytest.fixture
def site(tmp_path: Path, handbook: Handbook) -> Iterator[Site]:
    with open_site(tmp_path, handbook) as site:
        yield site


def close(site: Site, sid: str) -> None:
    last = site.events(sid)[-1]
    other = Book(sid=sid, dev="phone-b", run="run-b", at=last.at + 1000, seen=last.hlc)
    other.form("record", signed_by="I. Varga", caps_checked="yes")
    site.store.append(other.events)


@pytest.mark.parametrize(
    ("step", "field", "text"),
    [
        ("unit", "nameplate_charge", "123.5"),
        ("job", "unit_label", "RTU 77"),
        ("preconditions", "checks_reason", "no room to work"),
    ],
)
def test_a_step_of_a_closed_session_comes_back(
    site: Site, step: str, field: str, text: str
) -> None:
    book = ready_to_charge(Book())
    site.store.append(book.events)
    page = site.get(f"/s/{book.sid}/step/{step}")
    form = page.form(f"/form/{step}")
    close(site, book.sid)
    answer = site.post(form.action, form.values | {field: text})
    assert answer.status == 422
    assert CLOSED in answer.text
    again = answer.form(f"/form/{step}")
    assert again.values[field] == text
    # By this the page knows that its draft is still wanted.
    drafts = [re.findall('data-draft="([^"]*)"', one.response.text) for one in (page, answer)]
    assert len(drafts[0]) == 1
    assert drafts[0] == drafts[1]


def test_a_shots_weight_is_taken_in_a_closed_session(site: Site) -> None:
    """The shot was over before the other phone signed. A second weight of it comes back."""
    sid = site.play(ROOF, until="shot_weigh")
    form = site.get(f"/s/{sid}").form("/form/shot_weigh")
    close(site, sid)
    assert site.get(f"/s/{sid}").form("/form/shot_weigh").values["shot"] == form.values["shot"]
    typed = with_units("shot_weigh", {"scale_after": "19.5 lb"})
    assert site.post(form.action, form.values | typed).status == 303
    assert site.events(sid)[-1].data["scale_after"] == "19.5"
    again = with_units("shot_weigh", {"scale_after": "19.4 lb"})
    answer = site.post(form.action, form.values | again | {"eid": ulid(7)})
    assert answer.status == 422
    assert "This shot has its scale entry." in answer.text
    assert answer.form("/form/shot_weigh").values["scale_after"] == "19.4"


def test_an_open_session_answers_with_the_step_as_before(site: Site) -> None:
    """Control."""
    book = ready_to_charge(Book())
    site.store.append(book.events)
    path = f"/s/{book.sid}/step/unit"
    form = site.get(path).form("/form/unit")
    answer = site.post(form.action, form.values | {"nameplate_charge": "much"})
    assert answer.status == 422
    again = answer.form("/form/unit")
    assert again.values["nameplate_charge"] == "much"
    assert again.values["step"] == form.values["step"]
