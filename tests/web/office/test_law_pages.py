"""The record for the law: written in the office, shown on session and unit, kept with a trace."""

from collections.abc import Iterator
from pathlib import Path

import pytest
from office_cases import events, visit
from website import Site, open_site

from lowside.core.handbook.handbook import Handbook
from lowside.demo import scenarios
from lowside.web.phone.offline import PRECACHED

TYPED = {
    "owner": "Mill Lane Offices <b>",
    "use": "comfort_cooling",
    "light": "no",
    "method": "annualizing",
    "certification": "Universal 0000",
}


@pytest.fixture
def site(place: Path | str, handbook: Handbook) -> Iterator[Site]:
    with open_site(place, handbook) as site:
        site.store.append(events(visit(1, "2026-01-10", 2.0), visit(2, "2026-05-10", 3.0)))
        yield site


def newest(site: Site) -> str:
    return site.store.sessions(limit=1)[0].sid


def write(site: Site, sid: str, **typed: str) -> None:
    form = site.get(f"/office/session/{sid}/record").form("/record")
    answer = site.post(form.action, form.values | TYPED | typed)
    assert answer.status == 303, answer.text


def test_a_session_asks_for_its_record_and_shows_it_once_written(site: Site) -> None:
    sid = newest(site)
    before = site.get(f"/office/session/{sid}").text
    assert "Not decided" in before
    assert "Check the current text" in before
    write(site, sid)
    after = site.get(f"/office/session/{sid}").text
    assert "15.21 % a year" in after
    assert "40 CFR 84.106" in after
    assert "Not verified. Check the text." in after
    assert "Universal 0000" in after
    assert "Mill Lane Offices <b>" in after


def test_a_record_changed_leaves_the_old_one_on_the_timeline(site: Site) -> None:
    sid = newest(site)
    write(site, sid)
    write(site, sid, owner="Somebody else")
    kinds = [event.kind for event in site.events(sid)]
    assert kinds.count("office.recorded") == 2
    page = site.get(f"/office/session/{sid}").text
    assert "Somebody else" in page
    assert "Mill Lane Offices" in page


def test_the_same_form_sent_twice_is_one_record(site: Site) -> None:
    sid = newest(site)
    form = site.get(f"/office/session/{sid}/record").form("/record")
    for _ in range(2):
        assert site.post(form.action, form.values | TYPED).status == 303
    kinds = [event.kind for event in site.events(sid)]
    assert kinds.count("office.recorded") == 1


def test_what_does_not_fit_is_said_beside_the_field_and_nothing_typed_is_lost(site: Site) -> None:
    sid = newest(site)
    form = site.get(f"/office/session/{sid}/record").form("/record")
    typed = TYPED | {"full_charge": "abc", "ruling": "not", "owner": "Kept typed"}
    answer = site.post(form.action, form.values | typed)
    assert answer.status == 422
    assert "not a number" in answer.problem("full_charge")
    assert "Who decided" in answer.problem("responsible")
    assert "Needed" in answer.problem("ruling_why")
    assert answer.form("/record").values["owner"] == "Kept typed"
    assert "office.recorded" not in [event.kind for event in site.events(sid)]


@pytest.mark.parametrize(("refrigerant", "covers"), [("R-22", True), ("R-410A", False)])
def test_a_section_that_does_not_cover_the_unit_asks_for_no_record(
    place: Path | str, handbook: Handbook, refrigerant: str, covers: bool
) -> None:
    """Before, 40 CFR 82.157 was above the record of every unit. It covers ozone-depleting
    refrigerant only."""
    with open_site(place, handbook) as site:
        site.store.append(events(visit(1, "2026-01-10", 2.0, refrigerant=refrigerant)))
        sid = newest(site)
        write(site, sid)
        pages = (f"/office/session/{sid}", "/office/unit?site=mill+lane&unit=ch-1")
        for page, part in zip(pages, ("82.157(l)(2)", "82.157(l)(1)"), strict=True):
            text = site.get(page).text
            assert "Record of the " in text
            assert (part in text) == covers


def test_the_units_page_has_every_addition_with_its_rates(site: Site) -> None:
    write(site, newest(site))
    page = site.get("/office/unit?site=mill+lane&unit=ch-1")
    assert page.status == 200
    assert "15.21 %" in page.text
    assert "Over 10 %" in page.text
    assert "2026-01-10" in page.text
    assert "/office/unit?site=Mill+Lane&unit=CH-1" in site.get("/office/units").read.links


@pytest.mark.parametrize(
    "path",
    [
        "/office/unit?site=nowhere&unit=none",
        "/office/unit",
        "/office/session/none/record",
        "/office/session/none",
    ],
)
def test_what_is_not_there_says_so(site: Site, path: str) -> None:
    assert site.get(path).status == 404


def test_a_form_without_an_id_is_refused(site: Site) -> None:
    sid = newest(site)
    assert site.post(f"/office/session/{sid}/record", TYPED).status == 404


def test_every_rule_kept_is_on_the_rules_page(site: Site) -> None:
    page = site.get("/office/rules").text
    for words in ("40 CFR 82.157(l)(2)", "89 FR 82717-82719", "Not verified. Check the text."):
        assert words in page


def undo_forms(site: Site, sid: str) -> list[str]:
    return [
        form.values["target"]
        for form in site.get(f"/s/{sid}").read.forms
        if "target" in form.values
    ]


def test_the_technician_sees_the_offices_entry_and_can_still_undo(
    tmp_path: Path, handbook: Handbook
) -> None:
    with open_site(tmp_path / "open", handbook) as site:
        (gym,) = (each for each in scenarios() if each.name == "gym-unit-r410a-open")
        sid = site.play(gym)
        form = site.get(f"/s/{sid}").form("/form/system_stopped")
        assert site.post(form.action, form.values).status == 303
        undo = undo_forms(site, sid)
        site.desk.write_once(sid, "01K0000000000000000000000A", "office.recorded", {"owner": "X"})
        assert undo == undo_forms(site, sid)
        assert len(undo) == 1
        assert "Office: service record" in site.get(f"/s/{sid}/timeline").text


def test_no_phone_downloads_the_offices_part() -> None:
    assert not any("office" in path for path in PRECACHED)
