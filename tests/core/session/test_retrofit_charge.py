"""The whole charge by weight of a unit with a retrofit label is the label's, not the old plate's.

READ: R-407C takes about 90 to 95 % of the weight of R-22, and the label names the amount of
refrigerant in the system (a distributor's R-22 retrofit brochure, steps 8 and 11): line set
included. No figure rather than the old one: our choice.
"""

import pytest
from expert import YES, Bench
from strategies import PROCEDURE

from lowside.core.advice.advice import WEIGH_IN
from lowside.core.handbook.fields import Fields
from lowside.core.handbook.forms import FORMS
from lowside.core.handbook.handbook import Handbook
from lowside.core.numbers.units import POUND_KG
from lowside.core.office.service_record import FullCharge, full_charge
from lowside.core.session.weighing import whole_charge

R_22 = {
    "refrigerant": "R-22",
    "metering": "txv",
    "capacity": "3 ton",
    "nameplate_charge": "8 lb",
    "coil": "tube_fin",
    "receiver": "no",
}
CYLINDER = {"cylinder_label": "C", "cylinder_tare": "7 lb", "withdrawal": "dip_tube"}
LINE = {"line_length": "40 ft", "line_included": "15 ft", "line_adder": "0.6 oz/ft"}
RETROFIT = {"retrofit_refrigerant": "R-407C"}
LABELED = {**RETROFIT, "retrofit_charge": "7.4 lb"}
NOTHING_ELSE = Fields({}, {}, {})


def by_weight(handbook: Handbook, unit: dict[str, str], kind: str = "package") -> Bench:
    """A session at this unit, to be weighed in."""
    bench = Bench(handbook)
    inside = unit.get("retrofit_refrigerant", "R-22")
    bench.book.write("session.started", {"procedure": PROCEDURE})
    for form, typed in (
        ("job", {"site": "S", "unit_label": "U", "technician": "T", "elevation": "0 ft"}),
        ("unit", {**R_22, **unit}),
        ("machine", {"mode": "cooling", "compressor": "full", "kind": kind}),
        ("target", {"method": "weigh_in"}),
        ("preconditions", YES),
        ("cylinder", {**CYLINDER, "cylinder_refrigerant": inside}),
        ("start_weight", {"gross": "27 lb"}),
        ("tare", {"scale_mode": "gross", "scale_reading": "27.5 lb", "scale_resolution": "1 oz"}),
        ("weigh_total", {"coil_adder": "0 lb", "drier_adder": "0 lb"}),
    ):
        assert bench.form(form, typed), bench.refused
    return bench


def pounds(bench: Bench) -> float | None:
    total = whole_charge(bench.state()).total_kg
    return None if total is None else round(total / POUND_KG, 4)


@pytest.mark.parametrize("line", [{}, LINE])
def test_the_old_plate_is_no_charge_of_the_new_refrigerant(
    handbook: Handbook, line: dict[str, str]
) -> None:
    bench = by_weight(handbook, RETROFIT | line)
    whole = whole_charge(bench.state())
    assert (whole.total_kg, whole.missing) == (
        None,
        "Still missing: the whole charge on the retrofit label.",
    )
    assert "Nameplate" not in dict(whole.parts)
    advice = bench.advice()
    assert advice.action == WEIGH_IN
    assert not any("8 lb" in why for why in advice.reasons)
    assert whole.missing in advice.reasons
    assert full_charge(bench.state(), NOTHING_ELSE) == FullCharge(None, "", "")


@pytest.mark.parametrize("kind", ["package", "split"])
@pytest.mark.parametrize("line", [{}, LINE])
def test_the_charge_of_the_label_is_the_whole_one(
    handbook: Handbook, line: dict[str, str], kind: str
) -> None:
    bench = by_weight(handbook, LABELED | line, kind)
    assert pounds(bench) == 7.4
    assert "Retrofit label" in dict(whole_charge(bench.state()).parts)
    assert "The whole charge by weight: 7 lb 6.4 oz, line set included." in bench.advice().reasons
    full = full_charge(bench.state(), NOTHING_ELSE)
    assert full.kg == pytest.approx(7.4 * POUND_KG)
    assert full.how == "Retrofit label"


def test_a_unit_without_a_retrofit_is_weighed_in_by_its_plate_as_before(handbook: Handbook) -> None:
    bench = by_weight(handbook, {})
    assert pounds(bench) == 8.0
    assert "8 lb 0.0 oz by the nameplate" in bench.advice().reasons[-1]
    same = by_weight(handbook, {"retrofit_refrigerant": "R-22", **LINE}, "split")
    assert pounds(same) == 8.9375
    assert full_charge(same.state(), NOTHING_ELSE).how == "Nameplate, line set and adders"


def test_a_slip_in_the_charge_of_the_label_is_asked_back(handbook: Handbook) -> None:
    bench = by_weight(handbook, RETROFIT)
    assert not bench.form("unit", {**R_22, **LABELED, "retrofit_charge": "74 lb"})
    assert "74 lb 0.0 oz does not go with 3.0 ton" in bench.refused
    assert bench.form("unit", {**R_22, **LABELED})


def test_capacity_and_charge_are_asked_of_one_circuit() -> None:
    """A rooftop unit's plate may give the sum of two circuits. Common practice, no source."""
    hints = {field.name: field.hint for field in FORMS["unit"].fields}
    assert hints["capacity"] == hints["nameplate_charge"] == "Of this circuit alone"
