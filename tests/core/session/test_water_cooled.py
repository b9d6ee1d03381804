"""A unit whose condenser is cooled by water is not judged by outdoor air: it is weighed in."""

import pytest
from overcharged import SHORT, charging
from walked import did

from lowside.core.handbook.handbook import Handbook
from lowside.core.judging.charge import CALLS_FOR_CHARGE, ON_TARGET, OVER
from lowside.core.session import gate
from lowside.core.session.state import latest_reading

UNIT = {
    "refrigerant": "R-410A",
    "metering": "txv",
    "receiver": "no",
    "capacity": "3 ton",
    "nameplate_charge": "6 lb",
}


@pytest.mark.parametrize("coil", ["water", "not_known", "tube_fin"])
def test_it_is_charged_by_weight_whatever_its_target_says(handbook: Handbook, coil: str) -> None:
    bench = charging(handbook)
    did(bench, "unit", **UNIT, coil=coil)
    assert bench.form("decide", {"decision": "add"}) == (coil != "water")
    did(bench, "reading", **SHORT)
    advice = bench.advice()
    assert advice.action == ("weigh_in" if coil == "water" else "add")
    if coil != "water":
        return
    assert "A water-cooled or water-source unit is charged by weight." in advice.reasons[0]
    assert not bench.form("shot_open", {})
    latest = latest_reading(bench.state())
    assert latest is not None
    assert latest.assessment is not None
    assert latest.assessment.verdict not in (CALLS_FOR_CHARGE, OVER, ON_TARGET)


def test_it_is_said_before_a_target_is_saved(handbook: Handbook) -> None:
    bench = charging(handbook)
    target = next(e for e in bench.state().entries if e.kind == "target.set")
    bench.book.write("event.voided", {"target": target.eid})
    did(bench, "unit", **UNIT, coil="water")
    assert "by_weight" in [block.code for block in gate.blocks(bench.state())]
