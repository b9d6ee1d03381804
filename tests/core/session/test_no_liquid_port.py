"""Without a liquid port only a fixed orifice may be judged; everything else is weighed in."""

import pytest
from strategies import CIRCUIT, MACHINE, READING, Book

from lowside.core.advice.advice import advise
from lowside.core.handbook.handbook import Handbook
from lowside.core.session.block import WEIGH_IN
from lowside.core.session.entry import Refused, accept
from lowside.core.session.fold import fold
from lowside.core.session.gate import blocks
from lowside.core.session.state import State
from lowside.practice.technician import CHECKED_ALWAYS


def ready(handbook: Handbook, procedure: str, metering: str) -> State:
    """By a method that reads the suction side only, decided to add."""
    book = Book()
    book.write("session.started", {"procedure": procedure})
    book.form("job", site="Mill Lane", unit_label="AC-1", technician="I. Varga", elevation="0 ft")
    book.form("unit", refrigerant="R-410A", metering=metering, capacity="3 ton", **CIRCUIT)
    book.form("machine", **MACHINE)
    book.form("target", method="superheat", maker_superheat="10 °F")
    book.form("preconditions", **CHECKED_ALWAYS)
    cylinder = {"cylinder_label": "C-1", "cylinder_refrigerant": "R-410A"}
    book.form("cylinder", cylinder_tare="7 lb", withdrawal="invert", **cylinder)
    book.form("start_weight", gross="27 lb")
    book.form("tare", scale_mode="gross", scale_reading="27.5 lb", scale_resolution="0.5 oz")
    low_side = {name: text for name, text in READING.items() if not name.startswith("liquid")}
    book.form("reading", **(low_side | {"suction_line": "75 °F"}))
    book.form("decide", decision="add")
    return fold(book.events, handbook)


@pytest.mark.parametrize("metering", ["txv", "eev"])
def test_an_expansion_valve_without_a_liquid_port_is_weighed_in(
    handbook: Handbook, metering: str
) -> None:
    state = ready(handbook, "no-liquid-port-two-hose", metering)
    assert "no_liquid_port" in [block.code for block in blocks(state)]
    assert advise(state, state.entries[-1].moment).action == WEIGH_IN
    assert isinstance(accept(state, "shot_open", {"eid": "x"}, handbook), Refused)


@pytest.mark.parametrize(
    ("procedure", "metering"),
    [("no-liquid-port-two-hose", "fixed"), ("hand-valved-three-port", "txv")],
)
def test_it_is_only_that_combination(handbook: Handbook, procedure: str, metering: str) -> None:
    state = ready(handbook, procedure, metering)
    assert "no_liquid_port" not in [block.code for block in blocks(state)]
