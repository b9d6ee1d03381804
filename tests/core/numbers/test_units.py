"""Numbers with their units: read as typed, converted exactly, shown as an instrument shows them.

Factors are from NIST Special Publication 811 (2008), appendix B (B.8 and the exact definitions
there): 1 lb = 0.453 592 37 kg exactly, 1 ft = 0.3048 m exactly, 1 psi = 6894.757 Pa, 1 ton of
refrigeration = 3516.853 W, t/°F = 1.8 t/°C + 32.
"""

from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from lowside.core.numbers import units
from lowside.core.numbers.arithmetic import BadNumber
from lowside.core.numbers.unit_choice import UnitChoice, label, small_mass_unit, unit_for
from lowside.core.numbers.units import QUANTITIES, parse, show

POUND = Fraction("0.45359237")
INCH = Fraction("0.0254")
STANDARD_GRAVITY = Fraction("9.80665")


def si(quantity: str, text: str, unit: str, ounces: str = "") -> float:
    value = parse(quantity, text, unit, ounces)
    assert isinstance(value, float)
    return value


def refused(quantity: str, text: str, unit: str, ounces: str = "") -> str:
    value = parse(quantity, text, unit, ounces)
    assert isinstance(value, BadNumber)
    return value.reason


@pytest.mark.parametrize(
    ("quantity", "text", "unit", "expected"),
    [
        ("gauge_pressure", "118", "psig", float(118 * POUND * STANDARD_GRAVITY / INCH / INCH)),
        ("gauge_pressure", "850", "kPa", 850_000.0),
        ("gauge_pressure", "8,5", "bar", 850_000.0),
        ("temperature", "32", "°F", 273.15),
        ("temperature", "212", "°F", 373.15),
        ("temperature", "-40", "°F", 233.15),
        ("temperature", "-40", "°C", 233.15),
        ("temperature_difference", "9", "°F", 5.0),
        ("temperature_difference", "5", "°C", 5.0),
        ("mass", "1", "lb", 0.45359237),
        ("mass", "16", "oz", 0.45359237),
        ("mass", "2.1", "kg", 2.1),
        ("mass", "2100", "g", 2.1),
        ("length", "5280", "ft", 1609.344),
        ("length", "240", "m", 240.0),
        ("line_adder", "1", "oz/ft", float(POUND / 16 / Fraction("0.3048"))),
        ("line_adder", "60", "g/m", 0.06),
        ("capacity", "1", "kW", 1000.0),
        ("relative_humidity", "45", "%", 0.45),
        ("duration", "15", "min", 900.0),
    ],
)
def test_a_typed_quantity_becomes_its_exact_si_value(
    quantity: str, text: str, unit: str, expected: float
) -> None:
    assert si(quantity, text, unit) == pytest.approx(expected, rel=1e-13)


def test_psi_and_ton_agree_with_nist_sp_811_to_its_last_digit() -> None:
    # NIST SP 811, B.8: psi 6.894 757 E+03 Pa; ton of refrigeration (12 000 Btu_IT/h) 3.516 853 E+03
    assert si("gauge_pressure", "1", "psig") == pytest.approx(6894.757, abs=0.0005)
    assert si("capacity", "1", "ton") == pytest.approx(3516.853, abs=0.0005)


def test_pounds_and_ounces_are_two_boxes() -> None:
    assert si("mass", "7", "lb+oz", "8") == pytest.approx(7.5 * 0.45359237, rel=1e-15)
    assert si("mass", "", "lb+oz", "8") == pytest.approx(0.5 * 0.45359237, rel=1e-15)
    assert si("mass", "7.5", "lb+oz") == pytest.approx(7.5 * 0.45359237, rel=1e-15)
    assert si("mass", "7", "lb+oz", "3,5") == si("mass", "7", "lb+oz", "3.5")


@pytest.mark.parametrize(
    ("pounds", "ounces", "word"),
    [
        ("7.5", "8", "whole pounds"),
        ("7", "16", "Carry the rest"),
        ("-7", "8", "negative"),
        ("7", "-1", "negative"),
        ("7", "x", "not a number"),
        ("x", "8", "not a number"),
        ("", "", "Nothing entered"),
    ],
)
def test_pounds_and_ounces_that_could_mean_two_things_are_refused(
    pounds: str, ounces: str, word: str
) -> None:
    assert word in refused("mass", pounds, "lb+oz", ounces)


@pytest.mark.parametrize("unit", ["", "psi", "PSIG", "°F", "Pa"])
def test_a_unit_is_never_guessed(unit: str) -> None:
    assert refused("gauge_pressure", "118", unit) == "Choose a unit: psig, kPa, bar."


@pytest.mark.parametrize(
    ("quantity", "value", "unit", "text"),
    [
        ("mass", 21 * 0.45359237 + 4.5 * 0.45359237 / 16, "lb+oz", "21 lb 4.5 oz"),
        ("mass", 15.96 * 0.45359237 / 16, "lb+oz", "1 lb 0.0 oz"),
        ("mass", 0.2, "lb+oz", "7.1 oz"),
        ("mass", -0.2, "lb+oz", "−7.1 oz"),
        ("mass", -0.0001, "lb+oz", "0.0 oz"),
        ("mass", 2.1, "kg", "2.100 kg"),
        ("gauge_pressure", 118 * 6894.757293168, "psig", "118 psig"),
        ("gauge_pressure", -20_000.0, "bar", "−0.20 bar"),
        ("temperature", 273.15, "°F", "32.0 °F"),
        ("temperature_difference", -2.0, "°F", "−3.6 °F"),
        ("relative_humidity", 0.45, "%", "45%"),
    ],
)
def test_a_value_is_written_with_its_unit(
    quantity: str, value: float, unit: str, text: str
) -> None:
    assert units.label(quantity, value, unit) == text


PAIRS = [
    (quantity, unit)
    for quantity, scales in QUANTITIES.items()
    for unit in scales
    if unit != "lb+oz"
]


@given(st.sampled_from(PAIRS), st.integers(-99_999, 999_999))
def test_what_is_shown_reads_back_as_the_same_value(pair: tuple[str, str], steps: int) -> None:
    quantity, unit = pair
    scale = QUANTITIES[quantity][unit]
    value = steps / 10.0**scale.decimals * scale.factor + scale.offset
    text = show(quantity, value, unit)
    assert si(quantity, text, unit) == pytest.approx(value, rel=1e-9, abs=1e-9)
    assert show(quantity, si(quantity, text, unit), unit) == text


@given(st.integers(0, 200 * 160))
def test_pounds_and_ounces_shown_read_back_as_the_same_weight(tenths: int) -> None:
    ounce = 0.45359237 / 16
    text = show("mass", tenths / 10 * ounce, "lb+oz")
    pounds, _, ounces = text.rpartition(" lb ")
    assert ounces.endswith(" oz")
    again = si("mass", pounds, "lb+oz", ounces.removesuffix(" oz"))
    assert again == pytest.approx(tenths / 10 * ounce, abs=1e-12)
    assert float(ounces.removesuffix(" oz")) < 16


@given(st.sampled_from(sorted(QUANTITIES)), st.text(max_size=8), st.text(max_size=4))
def test_any_text_gives_a_finite_number_or_a_sentence(
    quantity: str, text: str, ounces: str
) -> None:
    for unit in (*QUANTITIES[quantity], "", "furlong"):
        value = parse(quantity, text, unit, ounces)
        if isinstance(value, BadNumber):
            assert value.reason.endswith(".")
        else:
            assert abs(value) < 1e25


def test_the_choice_of_units_names_a_unit_of_every_quantity() -> None:
    for pressure in ("psig", "kPa", "bar"):
        for mass in ("lb+oz", "lb", "kg", "g"):
            for length, degree in (("ft", "°F"), ("m", "°C")):
                choice = UnitChoice(pressure, degree, mass, length)
                for quantity, scales in QUANTITIES.items():
                    assert unit_for(quantity, choice) in scales
                assert small_mass_unit(choice) == ("oz" if mass.startswith("lb") else "g")


def test_a_session_in_bar_and_celsius_says_so_in_its_sentences() -> None:
    metric = UnitChoice("bar", "°C", "kg", "m")
    assert label("gauge_pressure", 850_000.0, metric) == "8.50 bar"
    assert label("temperature", 300.0, metric) == "26.9 °C"
    assert label("mass", 2.1, metric) == "2.100 kg"
    assert label("length", 240.0, metric) == "240.0 m"


@pytest.mark.parametrize(
    ("text", "ounces"),
    [
        ("23 lb 4.6 oz", "372.6"),
        ("23lb4.6oz", "372.6"),
        ("23-4.6", "372.6"),
        ("23 4.6", "372.6"),
        ("23 lb 4,6", "372.6"),
        ("23 LBS 4.6 OZ", "372.6"),
        ("371.2 oz", "371.2"),
        ("23 lb", "368"),
        ("23.5 lb", "376"),
        ("-2.5 oz", "-2.5"),
        ("\u22122.5 oz", "-2.5"),
        ("-1 lb 2.5 oz", "-18.5"),
        ("-1-2.5", "-18.5"),
        ("0", "0"),
    ],
)
def test_a_weight_is_read_from_one_box_as_people_write_it(text: str, ounces: str) -> None:
    assert si("mass", text, "lb oz") == pytest.approx(float(Fraction(ounces) * POUND / 16))


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("371.2", "Pounds or ounces?"),
        ("23", "Pounds or ounces?"),
        ("-2.5", "Pounds or ounces?"),
        ("23 kg", "Pounds or ounces?"),
        ("23 lb 4 oz 2", "Pounds or ounces?"),
        ("4 oz 23 lb", "Pounds or ounces?"),
        ("23 lb 19 oz", "Carry the rest into pounds"),
        ("23.5 lb 4 oz", "whole pounds"),
        ("lb 4", "not a number"),
        ("5,280 oz", "two ways"),
        ("", "Nothing entered"),
    ],
)
def test_a_weight_that_could_be_two_things_is_not_guessed(text: str, words: str) -> None:
    assert words in refused("mass", text, "lb oz")


@given(st.floats(-40.0, 40.0))
def test_a_weight_shown_in_pounds_and_ounces_is_read_back(kilograms: float) -> None:
    again = si("mass", show("mass", kilograms, "lb oz"), "lb oz")
    assert again == pytest.approx(kilograms, abs=float(POUND / 16) * 0.051)
