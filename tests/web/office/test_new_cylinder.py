"""A cylinder nobody has used yet is registered, counts as stock and is no session."""

import json
from collections.abc import Iterator
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest
from office_cases import events, visit
from store_cases import arrived
from website import Page, Site, open_site

from lowside.core.handbook.handbook import Handbook
from lowside.outlining import outline
from lowside.store import Store
from lowside.store.answers import Answers
from lowside.store.commands import export

NEW = "/office/cylinder/new"
FULL = {
    "kind": "charging",
    "label": "C-77",
    "refrigerant": "R-410A",
    "tare": "8 lb",
    "gross": "33 lb",
    "van": "Van 2",
}


@pytest.fixture
def site(place: Path | str, handbook: Handbook) -> Iterator[Site]:
    with open_site(place, handbook) as site:
        yield site


def typed(site: Site, **more: str) -> Page:
    """The answer to the form filled in with this."""
    form = site.get(NEW).form(NEW)
    return site.post(NEW, form.values | FULL | more)


def test_a_new_cylinder_is_stock_of_its_van_and_no_session(site: Site) -> None:
    assert "autofocus" not in site.get(NEW).response.text
    assert typed(site).status == 303
    page = site.get("/office/cylinders")
    assert "C-77" in page.text
    assert "25 lb 0.0 oz" in page.text
    assert "Van 2" in page.text
    assert site.store.sessions() == []
    assert "No session yet" in site.get("/office?show=all").text
    assert arrived(site.store, "").events == ()
    one = site.get("/office/cylinder?label=C-77")
    assert "Registered" in one.text
    form = one.form("/office/cylinder?label=C-77&kind=charging")
    assert form.values["van"] == "Van 2"
    assert site.post(form.action, form.values | {"van": "Shop"}).status == 303
    assert "Shop" in site.get("/office/cylinders").text


def test_its_first_session_is_compared_with_what_it_weighed(site: Site) -> None:
    typed(site, label="C-1", tare="7 lb", gross="131 lb")
    later = datetime.fromtimestamp(site.desk.clock.now().at / 1000.0, UTC) + timedelta(days=2)
    site.store.append(events(visit(1, later.date().isoformat(), 1.0)))
    assert "1 lb" in site.get("/office/cylinder?label=C-1").text
    assert "C-1" in site.get("/office/cylinders?show=lost").text
    assert len(site.store.sessions()) == 1


def test_an_empty_recovery_cylinder_has_a_fill_limit_and_room(site: Site) -> None:
    more = {"kind": "recovery", "label": "RC-9", "refrigerant": "", "gross": "8 lb"}
    assert "fill limit" in typed(site, **more).problem("water")
    assert typed(site, **more, water="47.7 lb").status == 303
    page = site.get("/office/cylinder?label=RC-9&kind=recovery")
    assert "Fill limit, net" in page.text
    assert "0.0 oz" in page.text


@pytest.mark.parametrize(
    ("more", "field"),
    [
        ({"label": ""}, "label"),
        ({"gross": "7 lb"}, "gross"),
        ({"refrigerant": ""}, "refrigerant"),
        ({"kind": ""}, "kind"),
        ({"rc_date": "06/2024"}, "rc_date_means"),
    ],
)
def test_what_cannot_be_is_refused_and_kept(site: Site, more: dict[str, str], field: str) -> None:
    answer = typed(site, **more)
    assert answer.status == 422
    assert answer.problem(field) != ""
    assert answer.form(NEW).values["van"] == "Van 2"
    assert "No cylinder" in site.get("/office/cylinders").text


def test_a_number_is_registered_once_also_when_the_form_comes_twice(site: Site) -> None:
    form = site.get(NEW).form(NEW)
    for _ in range(2):
        assert site.post(NEW, form.values | FULL).status == 303
    assert "already" in typed(site, label=" c-77 ").problem("label")
    assert typed(site, eid="none").status in (404, 422)


def test_a_rebuilt_index_knows_it_too(site: Site) -> None:
    typed(site)
    before = site.store.ask(Answers.contents)
    site.store.rebuild_index()
    assert site.store.ask(Answers.contents) == before
    if isinstance(site.store, Store):  # files can be read beside the writer
        with Store.open(site.store.root, outline, write=False) as reader:
            assert reader.ask(Answers.contents) == before


def test_an_export_has_the_cylinder_too(
    site: Site, place: Path | str, capsys: pytest.CaptureFixture[str]
) -> None:
    typed(site)
    store = site.store
    (sid,) = store.ask(lambda answers: answers.sids_of_arrivals())
    for sids in ((), (sid,)):
        assert export(place, outline, sids) == 0
        (line,) = capsys.readouterr().out.splitlines()
        assert json.loads(line)["kind"] == "office.cylinder_new"
    assert export(place, outline, as_csv=True) == 0
    assert len(capsys.readouterr().out.splitlines()) == 1
