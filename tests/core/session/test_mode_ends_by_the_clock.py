"""A manufacturer's charge mode ends after 60 minutes, also when nothing was entered since.

Source: NS22HM, 508311G01 p. 19 (read). That the start of a shot asks the clock: our choice.
"""

import pytest
from expert import YES, Bench
from strategies import PROCEDURE

from lowside.core.handbook.handbook import Handbook

READING = {
    "suction_pressure": "125 psig",
    "suction_line": "58 °F",
    "liquid_pressure": "375 psig",
    "liquid_line": "111 °F",
    "outdoor_dry_bulb": "95 °F",
    "return_dry_bulb": "78 °F",
    "return_wet_bulb": "66 °F",
}
HELD = {"mode": "cooling", "compressor": "inverter", "kind": "split", "held": "yes"}
FULL = {"mode": "cooling", "compressor": "full", "kind": "split"}


def did(bench: Bench, form: str, **typed: str) -> None:
    assert bench.form(form, typed), bench.refused


def decided(handbook: Handbook, machine: dict[str, str]) -> tuple[Bench, int]:
    """Decided to add on a reading 55 min after the machine's answers, and when these were [ms]."""
    bench = Bench(handbook)
    bench.book.write("session.started", {"procedure": PROCEDURE})
    did(bench, "job", site="S", unit_label="U", technician="T", elevation="0 ft")
    circuit = {"metering": "txv", "coil": "tube_fin", "receiver": "no"}
    did(bench, "unit", refrigerant="R-410A", nameplate_charge="8 lb", capacity="3 ton", **circuit)
    did(bench, "machine", **machine)
    since = bench.book.at
    did(bench, "target", method="subcooling", maker_subcooling="10 °F")
    did(bench, "preconditions", **YES)
    cylinder = {"cylinder_label": "C", "cylinder_tare": "7 lb", "withdrawal": "dip_tube"}
    did(bench, "cylinder", cylinder_refrigerant="R-410A", **cylinder)
    did(bench, "start_weight", gross="27 lb")
    did(bench, "tare", scale_mode="gross", scale_reading="27.5 lb", scale_resolution="0.25 oz")
    until(bench, since, 54)
    did(bench, "reading", **READING)
    did(bench, "decide", decision="add")
    return bench, since


def until(bench: Bench, since: int, minutes: float) -> None:
    bench.book.wait(minutes * 60 - (bench.book.at - since) / 1000)


@pytest.mark.parametrize(("minutes", "starts"), [(58.0, True), (59.8, True), (68.0, False)])
def test_no_shot_starts_after_the_mode_has_ended(
    handbook: Handbook, minutes: float, starts: bool
) -> None:
    bench, since = decided(handbook, HELD)
    until(bench, since, minutes)
    assert bench.form("shot_open", {}) is starts, bench.refused
    if not starts:
        assert "more than 60 minutes ago" in bench.refused
        assert "Start the mode again" in bench.refused


def test_a_unit_that_no_mode_holds_may_go_on(handbook: Handbook) -> None:
    bench, since = decided(handbook, FULL)
    until(bench, since, 68)
    did(bench, "shot_open")
