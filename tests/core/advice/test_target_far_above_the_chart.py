"""A typed superheat far above the chart’s is looked at before refrigerant is taken out by it.

Published charts of manufacturers agree with ours within 5 °F (`docs/permission.md`), so such a
number is perhaps a slip of the thumb, which would empty a sound unit. That it is asked for once
more is our choice.
"""

import pytest
from expert import YES, Bench
from strategies import CIRCUIT, MACHINE, PROCEDURE

from lowside.core.advice.advice import DO_NOT_ADD, RECOVER
from lowside.core.handbook.handbook import Handbook
from lowside.core.session import gate

GROSS = {"scale_mode": "gross", "scale_reading": "27.5 lb", "scale_resolution": "0.25 oz"}
AT_85_AND_66 = {
    "suction_pressure": "118 psig",
    "suction_line": "50 °F",
    "liquid_pressure": "340 psig",
    "liquid_line": "98 °F",
    "outdoor_dry_bulb": "85 °F",
    "return_dry_bulb": "78 °F",
    "return_wet_bulb": "66 °F",
}
"""R-410A behind an orifice; the chart gives 15.5 °F of superheat in this weather."""


def read(handbook: Handbook, superheat: str, line: str = "50 °F") -> Bench:
    bench = Bench(handbook)
    bench.book.write("session.started", {"procedure": PROCEDURE})
    for form, typed in (
        ("job", {"site": "S", "unit_label": "U", "technician": "T", "elevation": "0 ft"}),
        (
            "unit",
            {
                "refrigerant": "R-410A",
                "metering": "fixed",
                "capacity": "3 ton",
                "nameplate_charge": "8 lb",
                **CIRCUIT,
            },
        ),
        ("machine", MACHINE),
        ("target", {"method": "superheat", "maker_superheat": superheat}),
        ("preconditions", YES),
        (
            "cylinder",
            {
                "cylinder_label": "C",
                "cylinder_refrigerant": "R-410A",
                "cylinder_tare": "7 lb",
                "withdrawal": "dip_tube",
            },
        ),
        ("start_weight", {"gross": "27 lb"}),
        ("tare", GROSS),
    ):
        assert bench.form(form, typed), bench.refused
    bench.book.wait(900)
    assert bench.form("reading", AT_85_AND_66 | {"suction_line": line}), bench.refused
    return bench


def save(bench: Bench, superheat: str) -> None:
    typed = {"method": "superheat", "maker_superheat": superheat}
    assert bench.form("target", typed), bench.refused


def test_nothing_is_recovered_before_the_target_was_saved_once_more(handbook: Handbook) -> None:
    bench = read(handbook, "36 °F")
    told = bench.advice()
    assert told.action == DO_NOT_ADD
    assert told.amount_kg is None
    assert told.reasons == (
        "The chart gives 15.5 °F in this weather, far less than the target. Read the instructions "
        "again. If the target is right, save it once more before anything is recovered.",
    )
    save(bench, "36 °F")
    assert bench.advice().action == RECOVER
    assert "reading_refused" in [each.code for each in gate.blocks(bench.state())]


def test_another_number_is_asked_for_once_more_too(handbook: Handbook) -> None:
    bench = read(handbook, "36 °F")
    save(bench, "35 °F")
    assert bench.advice().action == DO_NOT_ADD
    save(bench, "35 °F")
    assert bench.advice().action == RECOVER


def test_the_right_number_ends_it(handbook: Handbook) -> None:
    bench = read(handbook, "36 °F")
    save(bench, "16 °F")
    assert bench.advice().action not in (DO_NOT_ADD, RECOVER)


@pytest.mark.parametrize("superheat", ["16 °F", "20 °F"])
def test_the_control_a_number_near_the_charts_is_recovered_by_at_once(
    handbook: Handbook, superheat: str
) -> None:
    bench = read(handbook, superheat, "44 °F")
    assert bench.advice().action == RECOVER
