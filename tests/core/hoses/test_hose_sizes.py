"""Length and bore of the hoses are asked once; what is trapped is worked out for them."""

import pytest
from hose_cases import panel
from strategies import READING, Book, set_up, with_units

from lowside.core.handbook.fields import read_fields
from lowside.core.handbook.forms import FORMS
from lowside.core.handbook.handbook import Handbook
from lowside.core.hoses.contents import HOSE_BORE_M, HOSE_LENGTH_M
from lowside.core.pages.hoses import size_words
from lowside.core.session.fold import fold
from lowside.core.session.hose_charge import conditions_of
from lowside.core.session.state import State

CYLINDER = {
    "cylinder_label": "C-1",
    "cylinder_refrigerant": "R-410A",
    "cylinder_tare": "7 lb",
    "withdrawal": "invert",
}


def session(handbook: Handbook, sizes: dict[str, str], read: bool = False) -> State:
    book = set_up(Book())
    book.write("cylinder.set", {**with_units("cylinder", CYLINDER), **sizes})
    if read:
        book.write("reading.taken", with_units("reading", READING))
    return fold(book.events, handbook)


LENGTH = {"hose_length": "3", "hose_length_unit": "ft"}
BORE = {"hose_bore": "6.35", "hose_bore_unit": "mm"}


@pytest.mark.parametrize("read", [False, True])
def test_typed_sizes_are_worked_with_and_the_others_are_the_usual_ones(
    handbook: Handbook, read: bool
) -> None:
    for sizes, length, bore in (
        ({}, HOSE_LENGTH_M, HOSE_BORE_M),
        (LENGTH, 0.9144, HOSE_BORE_M),
        (BORE, HOSE_LENGTH_M, 0.00635),
        ({**LENGTH, **BORE}, 0.9144, 0.00635),
    ):
        found = conditions_of(session(handbook, sizes, read), handbook)
        assert found is not None
        assert found.hose_length_m == pytest.approx(length, rel=1e-12)
        assert found.hose_bore_m == pytest.approx(bore, rel=1e-12)


def test_the_panel_says_which_sizes_it_worked_with(handbook: Handbook) -> None:
    procedure = handbook.procedures["hand-valved-three-port"]
    step = next(step for step in procedure.steps if step.id == "shots")
    words = []
    for sizes in ({}, LENGTH, BORE, {**LENGTH, **BORE}):
        state = session(handbook, sizes)
        conditions = conditions_of(state, handbook)
        assert conditions is not None
        shown = panel(procedure, conditions, step, size_words(state))
        assert shown is not None
        assert shown["grams"].endswith(size_words(state))
        words.append(shown["grams"].split(" oz. For ")[1])
    assert words == [
        "hoses 5.0 ft long, bore 0.188 in, the usual size. If yours differ, enter them with the "
        "cylinder.",
        "hoses 3.0 ft long, bore 0.188 in: you typed the length with the cylinder, the bore is the "
        "usual one.",
        "hoses 5.0 ft long, bore 0.250 in: you typed the bore with the cylinder, the length is the "
        "usual one.",
        "hoses 3.0 ft long, bore 0.250 in, as you typed with the cylinder.",
    ]


def test_a_wider_hose_holds_more_by_the_square_of_its_bore(handbook: Handbook) -> None:
    procedure = handbook.procedures["hand-valved-three-port"]
    step = next(step for step in procedure.steps if step.id == "shots")
    trapped = []
    for sizes in ({}, {"hose_bore": "0.375", "hose_bore_unit": "in"}):
        conditions = conditions_of(session(handbook, sizes), handbook)
        assert conditions is not None
        shown = panel(procedure, conditions, step)
        assert shown is not None
        after = shown["grams"].split("In the hoses after this step: ")[1]
        trapped.append(float(after.split(" oz")[0]))
    assert 3.5 < trapped[1] / trapped[0] < 4.05
    assert trapped[0] > 0.7


@pytest.mark.parametrize(
    ("typed", "field", "sentence"),
    [
        ({"hose_bore": "3", "hose_bore_unit": "in"}, "hose_bore", "at most 0.787 in"),
        ({"hose_length": "60", "hose_length_unit": "m"}, "hose_length", "at most 20.00 m"),
        ({"hose_bore": "3/16", "hose_bore_unit": "in"}, "hose_bore", "number"),
        ({"hose_length": "5", "hose_length_unit": "in"}, "hose_length", "Choose a unit: ft, m."),
    ],
)
def test_slips_of_the_thumb_are_refused(typed: dict[str, str], field: str, sentence: str) -> None:
    typed = {**with_units("cylinder", CYLINDER), **typed}
    problems = read_fields(FORMS["cylinder"], typed).problems
    assert list(problems) == [field]
    assert sentence in problems[field]
