"""A first reading that is in every box what the last visit's was is asked for again."""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import replace
from typing import Never

import pytest
from cylinder_cases import use_of
from strategies import READING, Book, ready_to_charge, set_up, ulid, with_units

from lowside.core.handbook.forms import FORMS
from lowside.core.handbook.handbook import Handbook
from lowside.core.numbers.unit_choice import label
from lowside.core.pages.addresses import FORM, STEP, Address
from lowside.core.pages.page import Page
from lowside.core.pages.recording import (
    READ_AGAIN,
    AlreadyRecorded,
    Record,
    Refusal,
    held_against_visits,
    record_form,
)
from lowside.core.pages.screen import Screen
from lowside.core.pages.ticket import ticket_context
from lowside.core.pages.view import view
from lowside.core.session.events import Moment, moment_of
from lowside.core.session.fold import fold
from lowside.core.session.last_end import ALIKE, all_as_then
from lowside.core.session.last_visit import LastVisit, visit_of
from lowside.core.session.ledger import CylinderUse
from lowside.core.session.state import State

NO_LIQUID = {"liquid_pressure": "", "liquid_line": ""}
YES = {ALIKE: "yes"}


def before(handbook: Handbook) -> LastVisit:
    book = ready_to_charge(Book(sid=ulid(7), at=Book().at - 86_400_000 * 13))
    visit = visit_of(fold(book.events, handbook))
    assert visit is not None
    return visit


def typed(**changed: str) -> dict[str, str]:
    return with_units("reading", {n: v for n, v in (READING | changed).items() if v != ""})


def send(
    book: Book, sent: Mapping[str, str], handbook: Handbook, visit: LastVisit | None, form: str
) -> Record | AlreadyRecorded | Refusal:
    book.wait(3600)
    now = Moment(book.run, book.mono, book.at, 0)
    address = Address(FORM, book.sid, form)
    sent = {**sent, "eid": ulid(900), "step": "baseline" if form == "reading" else ""}
    visits = [] if visit is None else [visit]
    return record_form(fold(book.events, handbook), address, sent, handbook, now, visits)


def asked(
    handbook: Handbook, sent: Mapping[str, str], visit: LastVisit | None, book: Book | None = None
) -> bool:
    outcome = send(book or set_up(Book()), sent, handbook, visit, "reading")
    if isinstance(outcome, Refusal):
        assert outcome.attempt.problems == {ALIKE: READ_AGAIN}
        assert outcome.attempt.typed["suction_pressure"] == sent["suction_pressure"]
        return True
    assert isinstance(outcome, Record)
    return False


@pytest.mark.parametrize(
    ("changed", "alike"),
    [
        ({}, True),
        ({"suction_pressure": "124.0 psig"}, True),
        ({"suction_pressure": "124.1 psig"}, False),
        ({"return_dry_bulb": "78 °F"}, False),
        ({"outdoor_dry_bulb": "", "return_dry_bulb": "", "liquid_line": ""}, True),
        ({"outdoor_dry_bulb": "", "return_dry_bulb": "", "liquid_line": "105 °F"}, False),
        # Two boxes can be alike by chance.
        ({"outdoor_dry_bulb": "", "return_dry_bulb": "", **NO_LIQUID}, False),
        # What was not measured then was measured now.
        ({"supply_dry_bulb": "58 °F"}, False),
        # As the key beside the box would enter it.
        ({"suction_pressure": "8.55 bar", "liquid_pressure": "23.99 bar"}, True),
        ({"suction_pressure": "8.6 bar"}, False),
    ],
)
def test_every_box_to_the_last_digit(
    handbook: Handbook, changed: dict[str, str], alike: bool
) -> None:
    assert all_as_then(before(handbook).reading, typed(**changed)) is alike
    assert asked(handbook, typed(**changed), before(handbook)) is alike


def test_an_empty_box_in_a_unit_that_is_none_is_no_box(handbook: Handbook) -> None:
    sent = typed(liquid_line="") | {"liquid_line": "", "liquid_line_unit": "furlong"}
    assert asked(handbook, sent, before(handbook))


def test_who_read_them_again_says_so_and_it_stays_on_the_record(handbook: Handbook) -> None:
    book = set_up(Book())
    outcome = send(book, typed() | YES, handbook, before(handbook), "reading")
    assert isinstance(outcome, Record)
    assert outcome.data[ALIKE] == "yes"
    book.write(outcome.kind, outcome.data)
    state = fold(book.events, handbook)
    assert state.readings[0].assessment is not None
    parts = {part["title"]: part["facts"] for part in ticket_context(state, handbook)["parts"]}
    told = {"name": "All gauges read again", "value": "They show the same"}
    assert told in parts["First reading"]


def test_only_a_first_reading_of_a_known_unit_is_asked(handbook: Handbook) -> None:
    assert not asked(handbook, typed(), None)
    assert not asked(handbook, typed(), before(handbook), ready_to_charge(Book()))
    final = send(set_up(Book()), typed(), handbook, before(handbook), "final_reading")
    assert isinstance(final, Record)


class NotRead(Sequence[LastVisit]):
    """Earlier visits that nobody may look at."""

    def __getitem__(self, at: object) -> Never:
        raise AssertionError("read, though this form is not held against them")

    def __len__(self) -> int:
        return self[0]


@pytest.mark.parametrize("begun", [set_up, ready_to_charge])
def test_visits_are_read_only_where_a_form_is_held_against_them(
    handbook: Handbook, begun: Callable[[Book], Book]
) -> None:
    book = begun(Book())
    book.wait(3600)
    state = fold(book.events, handbook)
    now = Moment(book.run, book.mono, book.at, 0)
    held = [name for name in FORMS if held_against_visits(state, name)]
    assert held == (["reading"] if begun is set_up else [])
    for name in FORMS:
        if name not in held:
            sent = with_units(name, READING if name.endswith("reading") else {})
            sent |= {"eid": ulid(900), "early_reason": "The site closes", "scale_after": "27"}
            record_form(state, Address(FORM, book.sid, name), sent, handbook, now, NotRead())


def boxes(
    handbook: Handbook, visit: LastVisit, sent: Mapping[str, str]
) -> dict[str, dict[str, str]]:
    """The boxes of the page, as it is or after this was refused."""
    book = set_up(Book())
    outcome = send(book, sent, handbook, visit, "reading") if sent else None
    attempt = outcome.attempt if isinstance(outcome, Refusal) else None
    now = Moment(book.run, book.mono, book.at, 0)
    screen = Screen(fold(book.events, handbook), handbook, now, ulid(9), (), attempt, (visit,))
    page = view(screen, Address(STEP, book.sid, "baseline"))
    assert isinstance(page, Page)
    form = page.context["form"]
    return {field["name"]: field for field in form["fields"] + form["more"]}


def test_each_empty_box_has_a_key_of_its_own_and_none_is_filled_in(handbook: Handbook) -> None:
    shown = boxes(handbook, before(handbook), {})
    assert {name: field["then"] for name, field in shown.items() if field["then"] != ""} == {
        name: text.split(" ")[0] for name, text in READING.items()
    }
    assert {field["value"] for field in shown.values()} == {""}
    assert ALIKE not in shown


def test_what_was_typed_stays_and_the_question_is_beside_the_boxes(handbook: Handbook) -> None:
    shown = boxes(handbook, before(handbook), typed())
    assert shown[ALIKE]["problem"] == READ_AGAIN
    assert shown["liquid_line"]["value"] == "104"
    assert shown["liquid_line"]["then"] == ""
    assert shown["supply_dry_bulb"]["then"] == ""


def test_the_start_weight_has_a_key_for_what_its_last_job_left(handbook: Handbook) -> None:
    events = set_up(Book()).events
    weighed = next(i for i, event in enumerate(events) if event.kind == "weight.start")
    state = fold(events[:weighed], handbook)
    assert state.cylinder is not None
    earlier = fold(set_up(Book(sid=ulid(7), at=Book().at - 86_400_000)).events, handbook)
    use = use_of(earlier)
    assert use is not None
    use = replace(use, end_kg=12.130)
    now = moment_of(events[weighed])

    def key(state: State, *uses: CylinderUse) -> str:
        page = view(
            Screen(state, handbook, now, ulid(9), uses, None),
            Address(STEP, Book().sid, "start_weight"),
        )
        assert isinstance(page, Page)
        box = next(one for one in page.context["form"]["fields"] if one["name"] == "gross")
        assert box["value"] == ""
        return str(box["then"])

    assert key(state, use) == label("mass", 12.130, state.units) == "26 lb 11.9 oz"
    assert key(state) == ""
    assert key(state, replace(use, label="another")) == ""
