"""Forms that share a page are saved by one tap, each as an entry of its own, and lose nothing."""

from collections.abc import Iterator
from itertools import pairwise
from pathlib import Path

import pytest
from website import Page, Site, open_site

from lowside.core.handbook.fields import typed_names
from lowside.core.handbook.forms import FORMS
from lowside.core.handbook.handbook import Handbook
from lowside.core.pages.sheet import SHEETS
from lowside.demo import scenarios

JOB = {"site": "Yard", "unit_label": "AC-1", "technician": "Ann", "elevation": "0"}
UNIT = {
    "refrigerant": "R-410A",
    "metering": "txv",
    "coil": "tube_fin",
    "receiver": "no",
    "capacity": "3",
}
MACHINE = {"mode": "cooling", "compressor": "full", "kind": "split"}
TARGET = {"method": "subcooling", "maker_subcooling": "10"}
KINDS = ("unit.set", "machine.set", "target.set")


@pytest.fixture
def site(tmp_path: Path, handbook: Handbook) -> Iterator[Site]:
    with open_site(tmp_path, handbook) as site:
        yield site


@pytest.fixture
def sid(site: Site) -> str:
    sid = site.start()
    assert site.fill(f"/s/{sid}/step/job", "job", JOB).status == 303
    return sid


def kinds(site: Site, sid: str) -> list[str]:
    return [event.kind for event in site.events(sid) if event.kind in KINDS]


def filled(site: Site, sid: str, typed: dict[str, str]) -> tuple[str, dict[str, str]]:
    """The page of the unit as it would be sent: address and fields."""
    form = site.get(f"/s/{sid}").form("/form/unit")
    return form.action, form.values | typed


def sent(site: Site, sid: str, typed: dict[str, str]) -> Page:
    return site.post(*filled(site, sid, typed))


def test_no_two_forms_of_a_page_have_a_field_of_the_same_name() -> None:
    for forms in SHEETS.values():
        names = [name for form in forms for name in typed_names(FORMS[form])]
        assert len(names) == len(set(names)), forms


def test_one_tap_saves_every_form_of_the_page_as_an_entry_of_its_own(site: Site, sid: str) -> None:
    answer = sent(site, sid, UNIT | MACHINE | TARGET)
    assert answer.status == 303
    written = [event for event in site.events(sid) if event.kind in KINDS]
    assert [event.kind for event in written] == list(KINDS)
    assert [event.data["step"] for event in written] == ["unit", "machine", "target"]
    assert "mode" not in written[0].data
    assert "refrigerant" not in written[1].data
    assert len({event.eid for event in written}) == 3
    assert "Before any gauge goes on" in site.get(answer.response.headers["location"]).text


def test_the_same_page_sent_twice_is_the_same_entries(site: Site, sid: str) -> None:
    action, values = filled(site, sid, UNIT | MACHINE | TARGET)
    for _ in range(2):
        assert site.post(action, values).status == 303
    assert kinds(site, sid) == list(KINDS)


def test_a_page_of_which_only_the_first_entry_was_kept_is_completed(site: Site, sid: str) -> None:
    action, values = filled(site, sid, UNIT | MACHINE | TARGET)
    assert site.post(action, values | {"with": ""}).status == 303
    assert kinds(site, sid) == ["unit.set"]
    assert site.post(action, values).status == 303
    assert kinds(site, sid) == list(KINDS)


def test_a_part_with_nothing_typed_is_asked_next_without_a_complaint(site: Site, sid: str) -> None:
    answer = sent(site, sid, UNIT)
    assert answer.status == 303
    assert kinds(site, sid) == ["unit.set"]
    page = site.get(answer.response.headers["location"])
    assert page.form("/form/machine").values["with"] == "target"
    assert not page.read.problems


def test_a_wrong_part_keeps_what_is_above_and_shows_what_was_typed_below(
    site: Site, sid: str
) -> None:
    answer = sent(site, sid, UNIT | MACHINE | TARGET | {"mode": "", "maker_subcooling": "1O"})
    assert answer.status == 422
    assert kinds(site, sid) == ["unit.set"]
    shown = answer.form("/form/machine").values
    assert shown["compressor"] == "full"
    assert shown["maker_subcooling"] == "1O"
    assert answer.problem("mode") == "Choose one."
    assert answer.problem("maker_subcooling") != ""
    assert sent_again(site, answer, {"mode": "cooling", "maker_subcooling": "10"}).status == 303
    assert kinds(site, sid) == list(KINDS)


def sent_again(site: Site, page: Page, typed: dict[str, str]) -> Page:
    form = page.form("/form/machine")
    return site.post(form.action, form.values | typed)


def test_a_first_part_that_is_wrong_writes_nothing_and_loses_nothing(site: Site, sid: str) -> None:
    answer = sent(site, sid, UNIT | MACHINE | TARGET | {"capacity": "three"})
    assert answer.status == 422
    assert kinds(site, sid) == []
    assert answer.problem("capacity") != ""
    shown = answer.form("/form/unit").values
    for name, text in (UNIT | MACHINE | TARGET | {"capacity": "three"}).items():
        assert shown[name] == text


def test_a_step_that_is_done_is_corrected_alone(site: Site, sid: str) -> None:
    sent(site, sid, UNIT | MACHINE | TARGET)
    page = site.get(f"/s/{sid}/step/unit")
    assert "with" not in page.form("/form/unit").values
    assert site.fill(f"/s/{sid}/step/unit", "unit", {"capacity": "4"}).status == 303
    assert kinds(site, sid) == [*KINDS, "unit.set"]


@pytest.mark.parametrize("others", ["nothing", "machine machine machine machine", "purge_low", " "])
@pytest.mark.parametrize("part", ["", "3", "x", "²"])
def test_forged_parts_write_no_more_than_their_forms_allow(
    site: Site, sid: str, others: str, part: str
) -> None:
    action, values = filled(site, sid, UNIT | MACHINE)
    assert site.post(action, values | {"with": others, "part": part}).status in (303, 422)
    assert kinds(site, sid).count("machine.set") <= 3


def test_what_the_cylinder_says_is_also_said_where_its_page_led(site: Site, sid: str) -> None:
    """The page is left before anyone could read it."""
    sent(site, sid, UNIT | MACHINE | TARGET)
    checks = site.get(f"/s/{sid}").form("/form/preconditions")
    assert site.post(checks.action, checks.values | {"all_good": "yes"}).status == 303
    cylinder = {
        "cylinder_label": "C-9",
        "cylinder_refrigerant": "R-410A",
        "cylinder_tare": "7 lb 8 oz",
        "withdrawal": "invert",
        "cylinder_pressure": "60",
        "cylinder_temperature": "90",
        "gross": "27 lb",
    }
    form = site.get(f"/s/{sid}").form("/form/cylinder")
    answer = site.post(form.action, form.values | cylinder)
    assert answer.status == 303, answer.read.problems
    state = site.state(sid)
    assert state.cylinder is not None
    assert state.start_weight is not None
    assert state.cylinder_findings
    page = site.get(answer.response.headers["location"])
    assert "finding-" in page.response.text


def test_weights_that_agree_need_no_page_of_their_own(site: Site) -> None:
    roof = next(one for one in scenarios() if one.name == "roof-unit-r410a")
    sid = site.play(roof, until="end_weight")
    form = site.get(f"/s/{sid}").form("/form/end_weight")
    assert form.values["with"] == "reconcile"
    end = next(move.typed for move in roof.moves if move.form == "end_weight")
    assert site.post(form.action, form.values | dict(end)).status == 303
    assert [event.kind for event in site.events(sid)][-2:] == ["weight.end", "weights.explained"]


def test_weights_that_disagree_are_asked_about(site: Site) -> None:
    roof = next(one for one in scenarios() if one.name == "roof-unit-r410a")
    sid = site.play(roof, until="end_weight")
    form = site.get(f"/s/{sid}").form("/form/end_weight")
    answer = site.post(form.action, form.values | {"gross": "24 lb"})
    assert answer.status == 303
    assert site.events(sid)[-1].kind == "weight.end"
    page = site.get(answer.response.headers["location"])
    assert page.form("/form/reconcile")
    assert "finding-" in page.response.text


def test_the_parts_of_a_page_are_neighbors_in_every_procedure(handbook: Handbook) -> None:
    for procedure in handbook.procedures.values():
        forms = [step.form for step in procedure.steps]
        for sheet in SHEETS.values():
            for first, second in pairwise(sheet):
                assert forms.index(second) == forms.index(first) + 1, (procedure.id, sheet)
