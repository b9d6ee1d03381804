"""Every form understands what was typed, and says beside the field what it refuses."""

import pytest
from hypothesis import given
from hypothesis import strategies as st
from strategies import form_data

from lowside.core.handbook.fields import CHOICE, NUMBER, REFRIGERANT, read_fields
from lowside.core.handbook.forms import FORM_OF_KIND, FORMS
from lowside.core.numbers.unit_choice import UnitChoice, unit_for
from lowside.core.numbers.units import QUANTITIES, show
from lowside.core.pages.folded import CHART_FIELDS, MORE_FIELDS
from lowside.core.pages.wording import TITLES

US = UnitChoice()
NUMBERS = [
    pytest.param(form.name, field.name, id=f"{form.name}-{field.name}")
    for form in FORMS.values()
    for field in form.fields
    if field.kind == NUMBER
]
REQUIRED = [
    pytest.param(form.name, field.name, id=f"{form.name}-{field.name}")
    for form in FORMS.values()
    for field in form.fields
    if field.required
]
CHOICES = [
    pytest.param(form.name, field.name, id=f"{form.name}-{field.name}")
    for form in FORMS.values()
    for field in form.fields
    if field.kind == CHOICE
]


def problem(form: str, field: str, **typed: str) -> str:
    return read_fields(FORMS[form], typed).problems.get(field, "")


def test_every_form_becomes_its_own_kind_of_event_with_a_name_on_the_timeline() -> None:
    assert len(FORM_OF_KIND) == len(FORMS)
    assert [kind for kind in FORM_OF_KIND if kind not in TITLES] == []


def test_every_field_can_be_understood_and_is_named_once() -> None:
    for form in FORMS.values():
        names = [field.name for field in form.fields]
        assert len(set(names)) == len(names)
        for field in form.fields:
            assert field.label
            assert (field.kind == NUMBER) == (field.quantity in QUANTITIES)
            assert (field.kind == CHOICE) == bool(field.choices)
            assert not field.name.endswith(("_unit", "_oz"))


def test_folded_fields_are_fields_of_their_form() -> None:
    for name, folded in MORE_FIELDS.items():
        known = [field.name for field in FORMS[name].fields]
        assert set(folded) <= set(known)
    assert set(CHART_FIELDS) <= set(MORE_FIELDS["reading"])


@pytest.mark.parametrize(("form", "name"), NUMBERS)
@pytest.mark.parametrize("text", ["abc", "12a", "1e3", "1.2.3", "5,280"])
def test_letters_in_a_number_get_a_sentence_beside_it(form: str, name: str, text: str) -> None:
    field = next(f for f in FORMS[form].fields if f.name == name)
    unit = unit_for(field.quantity, US)
    said = problem(form, name, **{name: text, name + "_unit": unit})
    assert text in said
    assert said.endswith(".")


@pytest.mark.parametrize(("form", "name"), NUMBERS)
def test_a_number_without_its_unit_is_refused(form: str, name: str) -> None:
    assert problem(form, name, **{name: "12"}).startswith("Choose a unit: ")


@pytest.mark.parametrize(("form", "name"), NUMBERS)
def test_a_number_out_of_the_possible_range_names_the_range(form: str, name: str) -> None:
    field = next(f for f in FORMS[form].fields if f.name == name)
    unit = unit_for(field.quantity, US)
    for slip in ("-99999999", "99999999"):
        said = problem(form, name, **{name: slip, name + "_unit": unit})
        assert said.startswith("Outside the possible range: ")
        assert said.endswith(f"({unit}).")


@pytest.mark.parametrize(("form", "name"), REQUIRED)
@pytest.mark.parametrize("empty", ["", "   "])
def test_what_is_needed_and_left_empty_is_asked_for(form: str, name: str, empty: str) -> None:
    said = problem(form, name, **{name: empty, name + "_unit": "lb"})
    assert said.startswith(("Needed. ", "Choose one."))


@pytest.mark.parametrize(("form", "name"), CHOICES)
def test_an_answer_that_was_not_offered_is_refused(form: str, name: str) -> None:
    assert problem(form, name, **{name: "maybe"}) == "Choose one of the answers."
    field = next(f for f in FORMS[form].fields if f.name == name)
    for code, _ in field.choices:
        assert problem(form, name, **{name: code}) == ""


def test_a_text_that_is_too_long_says_by_how_much() -> None:
    said = problem("job", "site", site="x" * 121)
    assert said == "Too long: 121 characters. Shorten it to 120."


def test_limits_are_inclusive() -> None:
    for text, understood in (("2", True), ("100", True), ("100.1", False), ("1.9", False)):
        said = problem("reading", "return_humidity", return_humidity=text, return_humidity_unit="%")
        assert (said == "") is understood


@pytest.mark.parametrize(
    ("form", "name", "text", "unit", "least"),
    [
        ("reading", "return_humidity", "0.5", "%", "2%"),
        ("unit", "nameplate_charge", "0", "kg", "0.010 kg"),
    ],
)
def test_a_share_for_a_percent_and_a_nought_on_a_plate_are_slips(
    form: str, name: str, text: str, unit: str, least: str
) -> None:
    said = problem(form, name, **{name: text, name + "_unit": unit})
    assert said.startswith(f"Outside the possible range: at least {least}.")


@given(st.sampled_from(sorted(FORMS)).flatmap(lambda n: st.tuples(st.just(n), form_data(FORMS[n]))))
def test_each_field_is_understood_or_refused_or_empty_never_two_of_these(
    case: tuple[str, dict[str, str]],
) -> None:
    name, typed = case
    fields = read_fields(FORMS[name], typed)
    for field in FORMS[name].fields:
        places = [field.name in part for part in (fields.numbers, fields.texts, fields.problems)]
        empty = not (typed.get(field.name, "") + typed.get(field.name + "_oz", "")).strip()
        assert sum(places) == (1 if field.required or not empty else 0)
        if field.name in fields.numbers:
            assert field.lowest <= fields.numbers[field.name] <= field.highest


@given(st.sampled_from(sorted(FORMS)).flatmap(lambda n: st.tuples(st.just(n), form_data(FORMS[n]))))
def test_a_number_shown_in_its_unit_is_understood_as_the_same_number(
    case: tuple[str, dict[str, str]],
) -> None:
    name, typed = case
    understood = read_fields(FORMS[name], typed).numbers
    for field in FORMS[name].fields:
        if field.name not in understood or field.kind == REFRIGERANT:
            continue
        unit = unit_for(field.quantity, UnitChoice(mass="kg"))
        again = show(field.quantity, understood[field.name], unit).replace("−", "-")
        said = read_fields(FORMS[name], {field.name: again, field.name + "_unit": unit})
        step = 10.0 ** -QUANTITIES[field.quantity][unit].decimals
        step = step * QUANTITIES[field.quantity][unit].factor
        if field.name in said.numbers:
            assert abs(said.numbers[field.name] - understood[field.name]) <= 0.5000001 * step
