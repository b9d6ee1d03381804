"""Equalized pressures are first of all those of a unit that is off (common practice, no source).
The first question is whether it runs, then the compressor and the reversing valve."""

from dataclasses import replace

from charge_cases import VALVE_UNIT, kelvin, lines_read, pascal

from lowside.core.handbook.handbook import Handbook
from lowside.core.judging.charge import assess, reason
from lowside.core.numbers.unit_choice import UnitChoice


def test_whether_it_runs_comes_before_what_is_broken(handbook: Handbook) -> None:
    equalized = replace(
        lines_read(),
        suction_pressure_pa=pascal(195.0),
        suction_line_k=kelvin(80.0),
        liquid_pressure_pa=pascal(200.0),
        liquid_line_k=kelvin(80.0),
        outdoor_dry_bulb_k=kelvin(95.0),
        return_dry_bulb_k=kelvin(78.0),
        return_wet_bulb_k=kelvin(66.0),
    )
    judged = assess(VALVE_UNIT, equalized, handbook)
    assert judged.verdict == "do_not_add"
    told = reason(judged, UnitChoice())
    assert told.startswith("Check that the unit runs. It looks like a compressor")
    assert "reversing valve" in told
