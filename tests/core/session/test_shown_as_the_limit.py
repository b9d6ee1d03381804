"""What shows as the limit is within it; a vacuum is said in inches of mercury too; no figure of
another unit passes for one of ours.

Sources: 1 inHg = 3386.389 Pa (NIST SP 811, appendix B, recalled; and 29.92 inHg = 14.696 psi, the
standard atmosphere, arithmetic). US compound gauges show inHg below zero (common practice, no
source). 1 mbar = 100 Pa = 750 microns (arithmetic of the definitions). The limits themselves have
their sources beside them in the core.
"""

from dataclasses import replace

import pytest
from charge_cases import VALVE_UNIT, codes, reading_of, summer
from expert import Bench
from walked import RECOVERY_CYLINDER, TEST, VACUUM, did, evacuated, refused

from lowside.core.handbook.fields import NUMBER, Fields, read_fields
from lowside.core.handbook.forms import FORMS
from lowside.core.handbook.handbook import Handbook
from lowside.core.judging.charge import assess
from lowside.core.numbers.arithmetic import BadNumber
from lowside.core.numbers.unit_choice import UnitChoice, unit_for
from lowside.core.numbers.units import OUNCE_KG, POUND_KG, QUANTITIES, label, parse
from lowside.core.session import weighing
from lowside.core.session.recovering import limit_now

CELSIUS = 273.15


@pytest.mark.parametrize(
    ("where", "shown", "code", "beyond"),
    [
        # 70, 80, 84, 55 and 120 °F are 21.11, 26.67, 28.89, 12.78 and 48.89 °C.
        ("return_dry_bulb_k", 21.1, "indoor_cold", 21.0),
        ("return_dry_bulb_k", 28.9, "indoor_hot", 29.0),
        ("return_dry_bulb_k", 26.7, "indoor_warm", 26.8),
        ("outdoor_dry_bulb_k", 12.8, "outdoor_cold", 12.7),
        ("outdoor_dry_bulb_k", 48.9, "outdoor_hot", 49.0),
    ],
)
def test_air_that_shows_as_the_limit_is_within_it(
    handbook: Handbook, where: str, shown: float, code: str, beyond: float
) -> None:
    sound = reading_of(handbook, VALVE_UNIT, 10.0, 10.0, 118.0, 380.0, **summer(90.0))
    at_limit = assess(VALVE_UNIT, replace(sound, **{where: shown + CELSIUS}), handbook)
    assert code not in codes(list(at_limit.findings))
    past = assess(VALVE_UNIT, replace(sound, **{where: beyond + CELSIUS}), handbook)
    assert code in codes(list(past.findings))
    # In °F nothing changes: a tenth beyond is beyond.
    tenth = {"indoor_cold": 69.9, "indoor_hot": 84.1, "indoor_warm": 80.1}
    tenth |= {"outdoor_cold": 54.9, "outdoor_hot": 120.1}
    kelvin = (tenth[code] + 459.67) * 5.0 / 9.0
    in_fahrenheit = assess(VALVE_UNIT, replace(sound, **{where: kelvin}), handbook)
    assert code in codes(list(in_fahrenheit.findings))


@pytest.mark.parametrize("unit", ["lb oz", "lb", "kg", "oz"])
def test_the_least_to_start_with_is_enough_as_it_is_shown(handbook: Handbook, unit: str) -> None:
    """Half of 5.917 lb is 47.34 oz, shown as 2 lb 15.3 oz, 2.96 lb, 1.342 kg or 47.3 oz."""
    bench = evacuated(handbook, "5.917 lb")
    total = weighing.whole_charge(bench.state()).total_kg
    assert total is not None
    told = label("mass", total / 2.0, unit)
    bench.book.write(
        "weighing.off", {"charged_off": told.removesuffix(" " + unit), "charged_off_unit": unit}
    )
    assert weighing.charged_kg(bench.state()) != pytest.approx(total / 2.0, rel=1e-6)
    assert weighing.too_little(bench.state()) == ""


def test_two_tenths_of_an_ounce_less_is_too_little(handbook: Handbook) -> None:
    """The control."""
    bench = evacuated(handbook, "6 lb")
    did(bench, "charge_off", charged_off="47.8 oz")
    assert weighing.too_little(bench.state()) != ""


def test_a_small_charge_in_pounds_can_be_typed_as_it_is_shown() -> None:
    """152 g is 0.3351 lb; the slack over a charge that burns is 2 g."""
    assert label("mass", 0.152, "lb") == "0.335 lb"
    typed = parse("mass", "0.335", "lb")
    assert not isinstance(typed, BadNumber)
    assert typed - 0.152 < weighing.SLACK_KG
    assert label("mass", 23.456 * POUND_KG, "lb") == "23.46 lb"


@pytest.mark.parametrize("typed", ["1 000 oz", "1 005 oz", "2 000.5 oz"])
def test_thousands_with_a_blank_are_not_read_as_pounds_and_ounces(typed: str) -> None:
    assert isinstance(parse("mass", typed, "lb oz"), BadNumber)


@pytest.mark.parametrize(
    ("typed", "ounces"),
    [
        ("1-0 oz", 16.0),
        ("1 0.5 oz", 16.5),
        ("1 lb 05 oz", 21.0),
        ("23-4.6", 372.6),
        ("1000 oz", 1000),
    ],
)
def test_pounds_and_ounces_are_read_as_before(typed: str, ounces: float) -> None:
    """The control."""
    assert parse("mass", typed, "lb oz") == pytest.approx(ounces * OUNCE_KG)


@pytest.mark.parametrize(
    ("pascal", "unit", "told"),
    [
        (-10.0 * 3386.389, "psig", "−5 psig (10 inHg)"),
        (-101325.0, "psig", "−15 psig (30 inHg)"),
        (-10.0 * 3386.389, "bar", "−0.34 bar"),
        (0.0, "psig", "0 psig"),
        (118.0 * 6894.757293168, "psig", "118 psig"),
    ],
)
def test_a_vacuum_is_told_in_inches_of_mercury_too(pascal: float, unit: str, told: str) -> None:
    assert label("gauge_pressure", pascal, unit) == told


def recovering(handbook: Handbook, elevation: str) -> Bench:
    bench = evacuated(handbook, "6 lb", "R-134a")
    did(bench, "job", site="S", unit_label="U", technician="T", elevation=elevation)
    ready = dict.fromkeys(("locked", "hoses_off", "qualified", "protected"), "yes")
    did(bench, "recovery_ready", **ready)
    did(bench, "recovery_cylinder", **RECOVERY_CYLINDER)
    did(bench, "recovery_contents", rc_before="27 lb", rc_inside="empty")
    return bench


@pytest.mark.parametrize(
    ("elevation", "left", "possible"),
    # The standard atmosphere at 5280 ft is 12.1 psi (ICAO, recalled), at sea level 14.7.
    [
        ("0 ft", "-14.7 psig", True),
        ("0 ft", "-15 psig", False),
        ("5280 ft", "-12 psig", True),
        ("5280 ft", "-14 psig", False),
    ],
)
def test_no_vacuum_is_below_nothing(
    handbook: Handbook, elevation: str, left: str, possible: bool
) -> None:
    bench = recovering(handbook, elevation)
    entry = {"rc_after": "32 lb", "rc_left": left, "rc_what": "whole", "rc_next": "weigh_in"}
    assert bench.form("recovery_after", entry) == possible
    if not possible:
        assert "Lower than any vacuum at this elevation" in bench.refused


def test_a_gauge_in_another_unit_does_not_pass_for_microns(handbook: Handbook) -> None:
    """2 and 4 mbar are 1500 and 3000 microns: no vacuum at all."""
    bench = evacuated(handbook)
    did(bench, "pressure_test", **TEST)
    told = refused(bench, "vacuum_held", **(VACUUM | {"vacuum_reached": "2 microns"}))
    assert "At least 10 microns" in told
    assert bench.form("vacuum_held", VACUUM | {"vacuum_reached": "15 microns"})


UNITS_OF_WEIGHT = ("lb oz", "lb", "kg", "oz")


def recovery_of(handbook: Handbook, refrigerant: str, water: str = "26.2 lb") -> Bench:
    bench = evacuated(handbook, "6 lb", refrigerant)
    ready = dict.fromkeys(("locked", "hoses_off", "qualified", "protected"), "yes")
    did(bench, "recovery_ready", **ready)
    did(bench, "recovery_cylinder", **(SMALL_CYLINDER | {"rc_water": water}))
    did(bench, "recovery_contents", rc_before="17 lb", rc_inside="empty")
    return bench


def as_typed(shown: str, unit: str) -> str:
    kilograms = parse("mass", shown if unit == "lb oz" else shown.removesuffix(" " + unit), unit)
    assert not isinstance(kilograms, BadNumber)
    return f"{kilograms:.9f} kg"


SMALL_CYLINDER = RECOVERY_CYLINDER | {"rc_tare": "17 lb", "rc_service": "400 psig"}


@pytest.mark.parametrize("unit", UNITS_OF_WEIGHT)
@pytest.mark.parametrize("water", ["26.2 lb", "26.3 lb", "26.5 lb", "27 lb", "47.7 lb"])
def test_a_recovery_cylinder_may_weigh_what_it_is_to_stop_at(
    handbook: Handbook, water: str, unit: str
) -> None:
    bench = recovery_of(handbook, "R-410A", water)
    limit = limit_now(bench.state(), handbook)
    assert limit is not None
    shown = label("mass", 17.0 * POUND_KG + limit.kg, unit)
    typed = {"rc_left": "100 psig", "rc_what": "part", "rc_next": "another"}
    assert bench.form("recovery_after", {"rc_after": as_typed(shown, unit), **typed}), bench.refused


def test_a_fifth_of_an_ounce_more_is_overfilled(handbook: Handbook) -> None:
    """The control."""
    bench = recovery_of(handbook, "R-410A")
    limit = limit_now(bench.state(), handbook)
    assert limit is not None
    over = label("mass", 17.0 * POUND_KG + limit.kg + 0.2 * OUNCE_KG, "lb oz")
    typed = {"rc_left": "100 psig", "rc_what": "part", "rc_next": "another"}
    assert not bench.form("recovery_after", {"rc_after": as_typed(over, "lb oz"), **typed})
    assert "Overfilled by 0.2 oz" in bench.refused


@pytest.mark.parametrize("refrigerant", ["R-410A", "R-407C", "R-22", "R-134a"])
def test_the_service_pressure_it_needs_is_enough_as_it_is_shown(
    handbook: Handbook, refrigerant: str
) -> None:
    bench = recovery_of(handbook, refrigerant)
    told = refused(bench, "recovery_cylinder", **(SMALL_CYLINDER | {"rc_service": "100 psig"}))
    needed = told.partition("at least ")[2].partition(" psig")[0]
    typed = SMALL_CYLINDER | {"rc_service": f"{needed} psig"}
    assert bench.form("recovery_cylinder", typed), bench.refused
    weak = SMALL_CYLINDER | {"rc_service": f"{int(needed) - 1} psig"}
    assert "Too weak" in refused(bench, "recovery_cylinder", **weak)


MEASURED = [
    (form, field)
    for form in FORMS.values()
    for field in form.fields
    if field.kind == NUMBER and field.quantity != ""
]


@pytest.mark.parametrize("beyond", ["1000000", "-1000000"])
def test_the_limit_that_a_form_names_is_taken(beyond: str) -> None:
    """Before: “at most 14764 ft” refused 14764, and 151 more."""
    named = 0
    for form, field in MEASURED:
        assert field.quantity != ""
        alone = replace(form, fields=(field,))
        for unit in QUANTITIES[field.quantity]:
            typed = {field.name: beyond, field.name + "_unit": unit}
            told = read_fields(alone, typed).problems.get(field.name, "")
            limit = told.partition(" at least ")[2] or told.partition(" at most ")[2]
            if limit == "":
                continue
            named += 1
            figure = limit.partition(". Check")[0].partition(" (")[0].replace("−", "-")
            if field.quantity == "mass" and unit in ("lb+oz", "lb oz"):
                if figure.startswith("-"):
                    # Two boxes take no sign.
                    continue
                pounds, _, ounces = figure.removesuffix(" oz").rpartition(" lb ")
                typed = {field.name: pounds, field.name + "_oz": ounces}
                typed[field.name + "_unit"] = "lb+oz"
            else:
                typed[field.name] = figure.removesuffix(" " + unit).removesuffix("%")
            assert read_fields(alone, typed).problems == {}, (form.name, typed)
    assert named > 50


@pytest.mark.parametrize(
    "units", [UnitChoice(), UnitChoice("kPa", "°C", "kg", "m"), UnitChoice("bar")]
)
def test_the_limit_of_what_instructions_ask_is_taken(handbook: Handbook, units: UnitChoice) -> None:
    state = replace(evacuated(handbook).state(), units=units)
    for name, quantity, least, most in weighing.ASKED:
        unit = unit_for(quantity, units)
        for number in (least - 1e9, most + 1e9):
            problems: dict[str, str] = {}
            weighing.check_asked(state, Fields({name: number}, {}, {}), problems)
            figure = problems[name].split(" ")[2]
            found = parse(quantity, figure, unit)
            assert not isinstance(found, BadNumber)
            problems = {}
            weighing.check_asked(state, Fields({name: found}, {}, {}), problems)
            assert problems == {}
