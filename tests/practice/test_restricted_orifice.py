"""A plugged orifice or strainer: nothing at the filter drier tells it, and the charge is right."""

from collections.abc import Callable
from dataclasses import replace

import pytest

from lowside.core.handbook.handbook import Handbook
from lowside.core.handbook.system import FIXED, SAME, Reading
from lowside.practice.design import RESTRICTION
from lowside.practice.once import learned_once
from lowside.practice.policies import by_advice
from lowside.practice.sites import TUNING, cycle_site, number_of
from lowside.practice.technician import EXACT, Site, charge

UNITS = 6
BY_THE_HOSES = 0.02
"""Share of the charge: what is cleared from the hoses is less."""
SETTLES = 80
"""Steps of 15 s after which the unit has settled at its charge."""


def restricted() -> list[Site]:
    """The first such units of the solved cycle, each with the right charge."""
    found: list[Site] = []
    count = 0
    while len(found) < UNITS:
        count += 1
        site = cycle_site(number_of(TUNING, 931, count), RESTRICTION)
        if site.system.metering != FIXED:
            continue
        site.unit.charge_kg = site.right_kg
        for _ in range(SETTLES):
            site.unit.step(15.0, 0.0)
        found.append(replace(site, drier=SAME))
    return found


def without_high_side(reads: Callable[[], Reading]) -> Callable[[], Reading]:
    return lambda: replace(reads(), liquid_pressure_pa=None)


@pytest.mark.parametrize("port", [True, False])
def test_a_restricted_orifice_is_not_fed_on_and_on(
    handbook: Handbook, port: bool, monkeypatch: pytest.MonkeyPatch
) -> None:
    fed: list[float] = []
    with learned_once():
        for site in restricted():
            if not port:
                monkeypatch.setattr(site.unit, "reading", without_high_side(site.unit.reading))
            charge(site, by_advice, handbook, EXACT)
            fed.append(site.unit.charge_kg / site.right_kg - 1.0)
    assert max(fed) < 0.12, fed
    assert len([one for one in fed if one > BY_THE_HOSES]) <= UNITS // 3, fed
