"""No path to an open valve on which a question that decides was not asked.

Three valves: the first shot of a top-up, the liquid of a weigh-in, the recovery machine. Sessions
are written event by event, as an old phone or a lost entry could leave them, with any answers gone
and any others changed. Whatever the forms would have let through, a valve opens only when all that
decides is on record.
"""

from collections.abc import Mapping

import pytest
from hypothesis import given
from hypothesis import strategies as st
from strategies import CIRCUIT, MACHINE, READING, Book, with_units

from lowside.core.advice.advice import ADD, advise
from lowside.core.handbook.forms import FORMS
from lowside.core.handbook.handbook import Handbook
from lowside.core.handbook.procedure import step_by_id
from lowside.core.pages.screen import Screen
from lowside.core.pages.step import step_context
from lowside.core.session.entry import Accepted, accept
from lowside.core.session.events import Moment
from lowside.core.session.flammability import FLAMMABLE_QUESTIONS
from lowside.core.session.fold import fold
from lowside.core.session.state import DECIDED_TO_ADD, State
from lowside.practice.technician import CHECKED

Asked = dict[str, dict[str, str]]
"""Form by form, every answer that decides."""

JOB = {"site": "S", "unit_label": "U", "technician": "T", "elevation": "0 ft"}
BURNS = dict.fromkeys(FLAMMABLE_QUESTIONS, "yes")
CYLINDER = {
    "cylinder_label": "C",
    "cylinder_refrigerant": "R-454B",
    "cylinder_tare": "7 lb",
    "withdrawal": "invert",
}
UNIT = {"refrigerant": "R-454B", "metering": "txv", **CIRCUIT}
TOP_UP: Asked = {
    "job": JOB,
    "unit": UNIT,
    "machine": MACHINE,
    "target": {"method": "subcooling", "maker_subcooling": "10 °F"},
    "preconditions": {**CHECKED, **BURNS},
    "cylinder": CYLINDER,
    "start_weight": {"gross": "27 lb"},
    "reading": {**READING, "suction_pressure": "112 psig", "liquid_pressure": "320 psig"},
    "decide": {"decision": "add"},
}
READY = ("locked", "emptied", "hoses_off", "qualified", "protected")
WEIGH_IN: Asked = {
    "job": JOB,
    "unit": {
        **UNIT,
        "nameplate_charge": "6 lb",
        "line_length": "15 ft",
        "line_included": "15 ft",
        "line_adder": "0.6 oz/ft",
    },
    "machine": MACHINE,
    "weigh_ready": {**dict.fromkeys(READY, "yes"), **BURNS},
    "pressure_test": {
        "test_pressure": "150 psig",
        "test_end": "150 psig",
        "test_held": "15 min",
        "leak": "none_found",
    },
    "vacuum_held": {
        "vacuum_reached": "300 microns",
        "vacuum_end": "450 microns",
        "vacuum_time": "20 min",
    },
    "weigh_total": {"coil_adder": "0 lb", "drier_adder": "0 lb"},
    "cylinder": CYLINDER,
    "start_weight": {"gross": "27 lb"},
}
RECOVERY: Asked = {
    "job": JOB,
    "unit": UNIT,
    "recovery_ready": {
        **dict.fromkeys(("locked", "hoses_off", "qualified", "protected"), "yes"),
        **BURNS,
    },
    "recovery_cylinder": {
        "rc_water": "47.7 lb",
        "rc_tare": "27 lb",
        "rc_service": "400 psig",
        "rc_date": "06/2024",
        "rc_date_means": "tested",
        "rc_label": "RC-1",
    },
    "recovery_contents": {"rc_before": "27 lb", "rc_inside": "empty", "rc_flammable": "yes"},
}
BRANCHES = {"top_up": TOP_UP, "weigh_in": WEIGH_IN, "recovery": RECOVERY}
NOT_DECIDING = {
    ("unit", "metering", "weigh_in"),
    ("unit", "metering", "recovery"),
    ("unit", "coil", "weigh_in"),
    ("unit", "coil", "recovery"),
    ("unit", "receiver", "weigh_in"),
    ("unit", "receiver", "recovery"),
}
"""What a branch does not ask: behind an emptied unit neither coil nor valve decides anything."""


def deciding(branch: str) -> list[tuple[str, str]]:
    """Every question of a branch."""
    return [
        (form, field)
        for form, fields in BRANCHES[branch].items()
        for field in fields
        if form != "job" and (form, field, branch) not in NOT_DECIDING
    ]


def written(asked: Mapping[str, Mapping[str, str]], handbook: Handbook) -> State:
    """The session, each form straight into the store."""
    book = Book()
    book.write("session.started", {"procedure": "hand-valved-three-port"})
    for form, fields in asked.items():
        if form == "reading":
            book.wait(900)
        book.write(FORMS[form].kind, with_units(form, fields))
    return fold(book.events, handbook)


def changed(branch: str, changes: Mapping[tuple[str, str], str]) -> Asked:
    """The branch with these answers instead; an empty one is gone."""
    asked = {form: dict(fields) for form, fields in BRANCHES[branch].items()}
    for (form, field), answer in changes.items():
        asked[form][field] = answer
        if answer == "":
            del asked[form][field]
    return asked


def valve_opens(branch: str, state: State, handbook: Handbook) -> bool:
    """Whether the valve of this branch may be opened: by the form, the words of the page or, once
    it was decided to add, the advice."""
    if branch == "top_up":
        shot = isinstance(accept(state, "shot_open", {"eid": "x"}, handbook), Accepted)
        return shot or (
            state.decision == DECIDED_TO_ADD
            and advise(state, state.entries[-1].moment).action == ADD
        )
    if branch == "weigh_in":
        typed = with_units("charge_off", {"charged_off": "5 lb"})
        taken = isinstance(accept(state, "charge_off", typed, handbook), Accepted)
        return taken or words(state, "wi_break", handbook)
    done = accept(state, "done", {"step": "rec_run"}, handbook)
    return isinstance(done, Accepted) or words(state, "rec_run", handbook)


def words(state: State, step_id: str, handbook: Handbook) -> bool:
    """Whether the step's page says what to do."""
    procedure = handbook.procedures[state.procedure]
    step = step_by_id(procedure, step_id)
    assert step is not None
    screen = Screen(state, handbook, Moment("r", 0, 0, 0), "0" * 26, (), None)
    return step_context(screen, procedure, step)["step"]["do"] != []


@pytest.mark.parametrize("branch", list(BRANCHES))
def test_with_everything_asked_the_valve_opens(branch: str, handbook: Handbook) -> None:
    assert valve_opens(branch, written(BRANCHES[branch], handbook), handbook)


@pytest.mark.parametrize(
    ("branch", "question"),
    [(branch, question) for branch in BRANCHES for question in deciding(branch)],
    ids=lambda part: part if isinstance(part, str) else "-".join(part),
)
def test_one_question_not_asked_and_the_valve_stays_closed(
    branch: str, question: tuple[str, str], handbook: Handbook
) -> None:
    state = written(changed(branch, {question: ""}), handbook)
    assert not valve_opens(branch, state, handbook)


@pytest.mark.parametrize(
    ("branch", "form"),
    [(branch, form) for branch, forms in BRANCHES.items() for form in forms if form != "job"],
)
def test_one_form_never_sent_and_the_valve_stays_closed(
    branch: str, form: str, handbook: Handbook
) -> None:
    asked = {name: fields for name, fields in BRANCHES[branch].items() if name != form}
    assert not valve_opens(branch, written(asked, handbook), handbook)


@st.composite
def answers(draw: st.DrawFn) -> tuple[str, dict[tuple[str, str], str]]:
    """A branch and some of its questions with another answer, or none."""
    branch = draw(st.sampled_from(list(BRANCHES)))
    picked = draw(st.lists(st.sampled_from(deciding(branch)), min_size=1, max_size=5, unique=True))
    found = {}
    for form, field in picked:
        (item,) = [one for one in FORMS[form].fields if one.name == field]
        others = [code for code, _ in item.choices]
        found[form, field] = draw(st.sampled_from(["", "", *others]))
    return branch, found


@given(drawn=answers())
def test_whatever_is_answered_nothing_opens_with_a_question_open_or_a_no(
    drawn: tuple[str, dict[tuple[str, str], str]], handbook: Handbook
) -> None:
    branch, changes = drawn
    state = written(changed(branch, changes), handbook)
    if valve_opens(branch, state, handbook):
        assert "" not in changes.values(), changes
        assert "no" not in [
            answer
            for (form, field), answer in changes.items()
            if form in ("preconditions", "weigh_ready", "recovery_ready")
        ], changes
