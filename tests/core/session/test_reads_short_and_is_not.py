"""What reads short and is not: a wet outdoor coil, hot gas on, outdoor air on the indoor coil.

No reading tells these from missing charge, so the questions before the first one name them, and
each answer that admits one blocks. READ: no charge is tested or set while the condenser coil is
wet, pressures are low then (a training article on charging in the rain); a hot-gas bypass valve
holds suction up at its own setting (C13-Series 10.20-IM p. 22), in reheat hot gas goes to a coil
indoors (LCM092U p. 27); a manufacturer's chart is for 70 to 80 °F indoors (4TTR3018). That bypass
and economizer are closed for charging: common practice, no source. A manufacturer starts no cooling
below 40 °F without an accessory (50HX p. 20); that a 0 is meant as “none” is ours.
"""

import pytest
from expert import YES, Bench
from strategies import PROCEDURE

from lowside.core.advice.advice import ADD
from lowside.core.handbook.forms import FORMS
from lowside.core.handbook.handbook import Handbook
from lowside.core.session.gate import blocks

UNIT = {
    "refrigerant": "R-410A",
    "metering": "txv",
    "capacity": "3 ton",
    "nameplate_charge": "8 lb",
    "coil": "tube_fin",
    "receiver": "no",
}
BY_SUBCOOLING = {"method": "subcooling", "maker_subcooling": "10 °F"}
FULL = {"mode": "cooling", "compressor": "full", "kind": "package"}
BYPASS = {**FULL, "compressor": "bypass"}
CHECKS = {name: YES[name] for name in YES}

BYPASSED = {
    "suction_pressure": "135 psig",
    "suction_line": "62 °F",
    "liquid_pressure": "329 psig",
    "liquid_line": "102 °F",
    "outdoor_dry_bulb": "95 °F",
    "return_dry_bulb": "76 °F",
    "return_wet_bulb": "64 °F",
}
"""A full unit whose bypass holds suction up: 8 °F short by its subcooling, and nothing else odd."""
WET = {
    "suction_pressure": "110 psig",
    "suction_line": "60 °F",
    "liquid_pressure": "283 psig",
    "liquid_line": "88 °F",
    "outdoor_dry_bulb": "85 °F",
    "return_dry_bulb": "76 °F",
    "return_wet_bulb": "65 °F",
}
"""Behind a piston: the head is low, so less goes through, and superheat is high."""
MIXED = {
    "suction_pressure": "104 psig",
    "suction_line": "43 °F",
    "liquid_pressure": "250 psig",
    "liquid_line": "82 °F",
    "outdoor_dry_bulb": "60 °F",
    "return_dry_bulb": "74 °F",
    "return_wet_bulb": "62 °F",
}
"""Outdoor air of 60 °F on the coil, return air of 74 °F in the duct."""
COLD = {
    "suction_pressure": "111 psig",
    "suction_line": "48 °F",
    "liquid_pressure": "176 psig",
    "liquid_line": "60 °F",
    "outdoor_dry_bulb": "45 °F",
    "return_dry_bulb": "72 °F",
    "return_wet_bulb": "60 °F",
}


def judged(
    handbook: Handbook,
    reading: dict[str, str],
    machine: dict[str, str] = FULL,
    checks: dict[str, str] = CHECKS,
    **changes: dict[str, str],
) -> Bench:
    bench = Bench(handbook)
    bench.book.write("session.started", {"procedure": PROCEDURE})
    cylinder = {"cylinder_label": "C", "cylinder_refrigerant": "R-410A", "cylinder_tare": "7 lb"}
    for form, typed in (
        ("job", {"site": "S", "unit_label": "U", "technician": "T", "elevation": "0 ft"}),
        ("unit", UNIT | changes.get("unit", {})),
        ("machine", machine),
        ("target", changes.get("target", BY_SUBCOOLING)),
        ("preconditions", checks),
        ("cylinder", {**cylinder, "withdrawal": "dip_tube"}),
        ("start_weight", {"gross": "27 lb"}),
        ("tare", {"scale_mode": "gross", "scale_reading": "27.5 lb", "scale_resolution": "1 oz"}),
    ):
        assert bench.form(form, typed), bench.refused
    read_and_decide(bench, reading)
    return bench


def read_and_decide(bench: Bench, reading: dict[str, str]) -> None:
    bench.book.wait(960)
    assert bench.form("reading", reading), bench.refused
    bench.form("decide", {"decision": "add"})


def test_the_questions_name_what_no_reading_shows() -> None:
    labels = {field.name: field.label for field in FORMS["preconditions"].fields}
    assert "dry" in labels["outdoor_coil"]
    assert "economizer closed" in labels["airflow"]
    choices = {field.name: dict(field.choices) for field in FORMS["machine"].fields}
    for gas in ("hot-gas bypass", "reheat", "liquid injection"):
        assert gas in choices["compressor"]["bypass"]


@pytest.mark.parametrize(
    ("reading", "changes", "machine", "no", "told"),
    [
        (BYPASSED, {}, BYPASS, {}, "way"),
        (
            WET,
            {"unit": {"metering": "fixed"}, "target": {"method": "chart"}},
            FULL,
            {"outdoor_coil": "no"},
            "dry",
        ),
        (MIXED, {}, FULL, {"airflow": "no"}, "economizer"),
    ],
)
def test_each_blocks_until_it_is_mended_and_read_again(
    handbook: Handbook,
    reading: dict[str, str],
    changes: dict[str, dict[str, str]],
    machine: dict[str, str],
    no: dict[str, str],
    told: str,
) -> None:
    """The control is the same reading of a unit without it: that one is short."""
    assert judged(handbook, reading, **changes).advice().action == ADD
    bench = judged(handbook, reading, machine, CHECKS | no, **changes)
    assert bench.advice().action != ADD
    assert not bench.form("shot_open", {})
    assert told in " ".join(each.sentence + each.cure for each in blocks(bench.state()))
    assert bench.form("machine", FULL), bench.refused
    assert bench.form("preconditions", CHECKS), bench.refused
    assert not bench.form("shot_open", {}), "the old reading is of the other state"
    read_and_decide(bench, reading)
    assert bench.advice().action == ADD


@pytest.mark.parametrize("zero", ["0 °F", "0 °C"])
def test_a_zero_is_no_coldest_outdoor_air(handbook: Handbook, zero: str) -> None:
    bench = judged(handbook, COLD)
    assert bench.advice().action != ADD
    assert not bench.form("target", BY_SUBCOOLING | {"papers_outdoor_lowest": zero})
    assert "at least" in bench.refused
    read_and_decide(bench, COLD)
    assert bench.advice().action != ADD
    by_papers = BY_SUBCOOLING | {"papers_outdoor_lowest": "40 °F"}
    assert judged(handbook, COLD, target=by_papers).advice().action == ADD
