"""A suction below 20 psig that is not an empty unit: a restriction, and a sound freezer."""

from dataclasses import replace

import pytest
from charge_cases import (
    US,
    VALVE_UNIT,
    codes,
    kelvin,
    pascal,
    reading_of,
    summer,
)

from lowside.core.handbook.handbook import Handbook
from lowside.core.handbook.system import Reading
from lowside.core.judging.charge import (
    NEARLY_EMPTY,
    POINTS_ELSEWHERE,
    Assessment,
    assess,
    reason,
)
from lowside.core.judging.findings import REFUSE, sentence
from lowside.core.judging.starvation import LOW_SUCTION, STARVED, starved_findings
from lowside.core.numbers.unit_choice import UnitChoice


def judged(
    handbook: Handbook, psig: float, subcooling: float, refrigerant: str = "R-410A"
) -> Assessment:
    unit = replace(VALVE_UNIT, refrigerant=refrigerant)
    reading = reading_of(handbook, unit, 40.0, subcooling, psig, 380.0, **summer(90.0))
    return assess(unit, reading, handbook)


@pytest.mark.parametrize(("psig", "told"), [(18.0, True), (19.9, True), (20.1, False)])
def test_a_restriction_below_20_psig_is_switched_off_first(
    handbook: Handbook, psig: float, told: bool
) -> None:
    # READ: damage below 20 psig (condensing unit and heat pump manual, p. 5).
    found = judged(handbook, psig, 25.0)
    assert found.verdict == POINTS_ELSEWHERE
    assert ("switch an air conditioner" in reason(found, US).lower()) == told
    assert (LOW_SUCTION in codes(list(found.findings))) == told
    assert "restriction" in codes(list(found.findings))


def test_with_little_subcooling_it_is_nearly_empty_as_before(handbook: Handbook) -> None:
    """The control."""
    found = judged(handbook, 18.0, 1.0)
    assert (found.verdict, found.reason_finding.code) == (NEARLY_EMPTY, STARVED)
    assert "nearly empty" in reason(found, US)
    assert "or the restriction" in reason(found, US)
    assert "°" not in reason(found, US)


def freezer(handbook: Handbook, refrigerant: str = "R-404A", psig: float = 14.0) -> Assessment:
    """A sound one: coil about −24 °F in a box at −8 °F, 8 °F of subcooling, no receiver."""
    unit = replace(VALVE_UNIT, refrigerant=refrigerant)
    cold = summer(85.0, -8.0)
    cold.pop("return_wet_bulb_k")
    reading = replace(
        reading_of(handbook, unit, 10.0, 8.0, psig, 235.0, **cold), suction_line_k=kelvin(-5.0)
    )
    return assess(unit, reading, handbook)


def test_a_sound_freezer_is_not_called_nearly_empty_and_not_added_to(handbook: Handbook) -> None:
    # READ: low-temperature coils run at −10 to −20 °F and lower (a trade article on refrigeration
    # against comfort cooling). The 20 psig are from manuals of air conditioners.
    found = freezer(handbook)
    assert found.verdict == POINTS_ELSEWHERE
    assert STARVED not in codes(list(found.findings))
    low = [one for one in found.findings if one.code == LOW_SUCTION]
    assert [one.level for one in low] == [REFUSE]
    assert "nearly empty" not in reason(found, US)


@pytest.mark.parametrize(
    ("refrigerant", "psig", "head_psig", "box_f"),
    # A cooler at 35 °F runs its coil at about 20 °F (common practice, no source), where R-134a is
    # at 18.4 psig; at −10 °F R-22 is at 16.5 psig (pressure charts, from memory).
    [("R-134a", 18.0, 135.0, 35.0), ("R-134a", 18.0, 135.0, 49.0), ("R-22", 16.5, 210.0, 0.0)],
)
def test_a_cooler_of_any_refrigerant_is_not_called_nearly_empty(
    handbook: Handbook, refrigerant: str, psig: float, head_psig: float, box_f: float
) -> None:
    unit = replace(VALVE_UNIT, refrigerant=refrigerant)
    air = summer(85.0, box_f)
    air.pop("return_wet_bulb_k")
    reading = reading_of(handbook, unit, 8.0, 6.0, psig, head_psig, **air)
    found = assess(unit, reading, handbook)
    assert found.verdict == POINTS_ELSEWHERE
    assert STARVED not in codes(list(found.findings))
    assert LOW_SUCTION in codes([one for one in found.findings if one.level == REFUSE])
    # The control: the same suction in a room is that of a nearly empty air conditioner.
    room = assess(unit, replace(reading, return_dry_bulb_k=kelvin(51.0)), handbook)
    assert (room.verdict, room.reason_finding.code) == (NEARLY_EMPTY, STARVED)


def test_a_freezer_in_a_vacuum_still_stops(handbook: Handbook) -> None:
    """The control. READ: never in a vacuum (AE-1318 R1 p. 9)."""
    found = freezer(handbook, psig=-2.0)
    assert (found.verdict, found.reason_finding.code) == (NEARLY_EMPTY, "vacuum")


def test_nothing_but_the_low_suction_refuses_too(handbook: Handbook) -> None:
    """In weather that every method allows the finding alone keeps charge out of R-404A."""
    unit = replace(VALVE_UNIT, refrigerant="R-404A")
    reading = reading_of(handbook, unit, 10.0, 4.0, 19.0, 235.0, **summer(85.0))
    found = assess(unit, reading, handbook)
    assert found.verdict == POINTS_ELSEWHERE
    assert LOW_SUCTION in codes([one for one in found.findings if one.level == REFUSE])


def test_the_finding_has_the_code_it_is_asked_for() -> None:
    seen = Reading(pascal(10.0), None, None, None)
    assert codes(starved_findings(VALVE_UNIT, seen, None)) == [STARVED]
    assert codes(starved_findings(VALVE_UNIT, seen, None, LOW_SUCTION)) == [LOW_SUCTION]


def test_its_words_name_no_pressure_that_it_is_not_below(handbook: Handbook) -> None:
    """26 psig of R-22 is refused by its thin gas: 20 psig has no part in it."""
    unit = replace(VALVE_UNIT, refrigerant="R-22")
    reading = reading_of(handbook, unit, 60.0, 0.0, 25.7, 220.0, **summer(95.0))
    words = sentence(assess(unit, reading, handbook).reason_finding, UnitChoice())
    assert words.startswith("Switch an air conditioner or heat pump off: it is nearly empty.")
    assert words.count("psig") == 1
