"""Between two readings the machine or its air changed by itself: the compressor's stage, a fan, the
filter. No charge does that, so nothing is added, finished or recovered on it. Limits and what sound
units show: docs/advice.md. Sources of the readings: made up around them.
"""

from dataclasses import replace

import pytest
from advice_cases import at
from expert import YES, Bench
from outlook_cases import an_outlook, assessed, ready, seen, taken
from strategies import PROCEDURE

from lowside.core.advice import advice as advising
from lowside.core.advice.moved import moved
from lowside.core.advice.plan import fed_since_short_kg
from lowside.core.advice.response import Observation
from lowside.core.handbook.handbook import Handbook
from lowside.core.handbook.saturation import OutOfRange, bubble_pressure, dew_pressure
from lowside.core.handbook.system import Reading
from lowside.core.numbers.units import OUNCE_KG
from lowside.core.session.flammability import FLAMMABLE_QUESTIONS
from lowside.core.session.state import Recovered, State

PSI = 6894.757
SEA_LEVEL = 101325.0
HELD = {"mode": "cooling", "compressor": "part", "kind": "split", "held": "yes"}
FULL = {"mode": "cooling", "compressor": "full", "kind": "split"}
CHART = {"method": "chart"}
BY_SUBCOOLING = {"method": "subcooling", "maker_subcooling": "10 °F"}
OUNCE_LB = 1.0 / 16.0

STAGE = "Check which stage or speed the compressor runs at"
CONDENSER = "Then check the outdoor coil and fan"
BLOWER = "Check filter, blower and registers"

At = tuple[float, float, float, float]
"""Dew point of the low side, superheat, condensing, subcooling [°F]."""


def gauge(found: float | OutOfRange) -> str:
    assert isinstance(found, float)
    return f"{(found - SEA_LEVEL) / PSI:.1f} psig"


class Session(Bench):
    """3 ton of R-410A with 8 lb, 95 °F outdoors, 78/66 °F indoors; 10 ± 3 °F of subcooling."""

    def __init__(
        self,
        handbook: Handbook,
        metering: str = "txv",
        target: dict[str, str] = BY_SUBCOOLING,
        machine: dict[str, str] = FULL,
    ) -> None:
        super().__init__(handbook)
        self.book.write("session.started", {"procedure": PROCEDURE})
        unit = {"refrigerant": "R-410A", "metering": metering, "capacity": "3 ton"}
        unit = {**unit, "nameplate_charge": "8 lb", "coil": "tube_fin", "receiver": "no"}
        checks = {name: YES[name] for name in YES if name not in FLAMMABLE_QUESTIONS}
        bottle = {"cylinder_label": "C", "cylinder_refrigerant": "R-410A", "cylinder_tare": "7 lb"}
        scale = {"scale_mode": "gross", "scale_reading": "27.5 lb", "scale_resolution": "0.25 oz"}
        self.ok("job", {"site": "S", "unit_label": "U", "technician": "T", "elevation": "0 ft"})
        self.ok("unit", {**unit, "rated_amps": "15 A"})
        self.ok("machine", machine)
        self.ok("target", target)
        self.ok("preconditions", checks)
        self.ok("cylinder", {**bottle, "withdrawal": "dip_tube"})
        self.ok("start_weight", {"gross": "27 lb"})
        self.ok("tare", scale)

    def ok(self, name: str, typed: dict[str, str]) -> None:
        assert self.form(name, typed), (name, self.refused)

    def read(self, shown: At, wait_s: int = 600, **more: str) -> str:
        """Take a settled reading; the advice on it."""
        dew, superheat, condensing, subcooling = shown
        table = self.handbook.tables["R-410A"]
        self.book.wait(wait_s)
        typed = {
            "suction_pressure": gauge(dew_pressure(table, (dew - 32.0) / 1.8 + 273.15)),
            "suction_line": f"{dew + superheat:.1f} °F",
            "liquid_pressure": gauge(bubble_pressure(table, (condensing - 32.0) / 1.8 + 273.15)),
            "liquid_line": f"{condensing - subcooling:.1f} °F",
            "outdoor_dry_bulb": "95 °F",
            "return_dry_bulb": "78 °F",
            "return_wet_bulb": "66 °F",
        }
        self.ok("reading", {**typed, **more})
        if self.state().decision == "":
            self.ok("decide", {"decision": "add"})
        return self.advice().action

    def feed(self, ounces: float = 0.75) -> None:
        """One shot of 12 s."""
        self.wait_as_advised()
        self.ok("shot_open", {})
        self.taken_lb += ounces * OUNCE_LB
        self.book.wait(2)
        self.ok("shot_close", {})
        self.ok("shot_weigh", {"scale_after": f"{27.5 - self.taken_lb:.4f} lb"})

    def told(self) -> str:
        return " ".join(self.advice().reasons)


def begun(handbook: Handbook, first: At, **unit: str) -> Session:
    """Read and fed once."""
    fixed = unit.get("metering") == "fixed"
    machine = HELD if unit.get("held") else FULL
    target = CHART if fixed else BY_SUBCOOLING
    session = Session(handbook, unit.get("metering", "txv"), target, machine)
    assert session.read(first, 900) == "add"
    session.feed()
    return session


class TestNothingIsAdded:
    @pytest.mark.parametrize(
        ("first", "second", "unit"),
        [
            ((38, 22, 112, 3), (46, 13, 108, 4), {"held": "yes"}),
            ((38, 16, 115, 4), (47, 12, 105, 4), {"held": "yes"}),
            ((38, 14, 115, 4), (45, 12, 107, 4.5), {"held": "yes", "metering": "eev"}),
            ((40, 24, 113, 4), (46, 21, 108, 4), {"held": "yes", "metering": "fixed"}),
            ((40, 14, 112, 3), (49, 12, 109.5, 3.5), {}),
        ],
    )
    def test_once_the_compressor_moves_less(
        self, handbook: Handbook, first: At, second: At, unit: dict[str, str]
    ) -> None:
        """The stage drops, an inverter slows, a reversing valve begins to leak: suction up, head
        down. Before, the page asked for a shot of 3 oz."""
        session = begun(handbook, first, **unit)
        assert session.read(second) == "read"
        assert STAGE in session.told()
        assert "nearer to outdoor air" in session.told()
        assert "read again. Add nothing before" in session.told()
        assert not session.form("shot_open", {})
        assert session.read(second) == "do_not_add"
        assert STAGE in session.told()

    def test_nor_where_the_current_fell_and_supply_air_warmed_with_it(
        self, handbook: Handbook
    ) -> None:
        session = Session(handbook)
        typed = {"compressor_amps": "12 A", "supply_dry_bulb": "58 °F"}
        assert session.read((40, 14, 112, 3), 900, **typed) == "add"
        session.feed()
        typed = {"compressor_amps": "7 A", "supply_dry_bulb": "66 °F"}
        assert session.read((46, 13, 107, 3.5), **typed) == "read"
        assert "its current against before" in session.told()

    @pytest.mark.parametrize(
        ("first", "second", "check", "unit"),
        [
            ((40, 14, 110, 4), (42, 12, 125, 4), CONDENSER, {}),
            ((40, 26, 110, 4), (42, 24, 125, 4), CONDENSER, {"metering": "fixed"}),
            ((44, 12, 114, 4), (36, 9, 111, 4), BLOWER, {}),
        ],
    )
    def test_once_a_fan_slows(
        self, handbook: Handbook, first: At, second: At, check: str, unit: dict[str, str]
    ) -> None:
        session = begun(handbook, first, **unit)
        assert session.read(second) == "read"
        assert check in session.told()
        assert not session.form("shot_open", {})
        assert session.read(second) == "do_not_add"

    def test_outdoor_air_typed_10_degrees_colder_on_the_same_gauges(
        self, handbook: Handbook
    ) -> None:
        session = begun(handbook, (40, 14, 112, 3))
        assert session.read((40, 14, 112, 3.5), outdoor_dry_bulb="85 °F") == "read"
        assert "Read outdoor air again, in the shade" in session.told()


class TestTheWayOut:
    def test_back_at_the_stage_it_was_held_at_it_is_charged_on(self, handbook: Handbook) -> None:
        """The odd reading in between is no measure of the next one."""
        session = begun(handbook, (38, 16, 115, 4), held="yes")
        assert session.read((47, 12, 105, 4)) == "read"
        assert session.read((38, 16, 115, 4.5)) == "add"

    def test_a_first_reading_that_was_wrong_is_voided(self, handbook: Handbook) -> None:
        """The outdoor thermometer was in the sun at first."""
        session = Session(handbook)
        assert session.read((40, 14, 112, 3), 900, outdoor_dry_bulb="103 °F") == "add"
        session.feed()
        wrong = session.state().readings[0].eid
        assert session.read((40, 14, 112, 3.5)) == "read"
        assert session.read((40, 14, 112, 3.5)) == "do_not_add"
        assert "correct or void it on the timeline" in session.told()
        session.book.write("event.voided", {"target": wrong, "reason": "in the sun"})
        session.read((40, 14, 112, 3.5))
        assert "above outdoor air" not in session.told()

    def test_held_once_more_the_readings_before_do_not_count(self, handbook: Handbook) -> None:
        session = begun(handbook, (38, 16, 115, 4), held="yes")
        assert session.read((47, 12, 105, 4)) == "read"
        session.ok("machine", HELD)
        session.read((47, 12, 105, 4), 1200)
        assert STAGE not in session.told()


class TestNeitherFinishedNorRecovered:
    def test_a_low_stage_that_happens_to_be_on_target(self, handbook: Handbook) -> None:
        session = begun(handbook, (38, 14, 115, 4), held="yes")
        assert session.read((46, 11, 107, 9)) == "read"
        assert STAGE in session.told()
        assert session.read((46, 11, 107, 9.2)) == "do_not_add"
        assert STAGE in session.told()

    def test_a_slow_condenser_fan_is_no_overcharge(self, handbook: Handbook) -> None:
        """Subcooling 4 °F, and 14 °F after three quarters of an ounce."""
        session = begun(handbook, (38, 14, 115, 4))
        for action in ("read", "do_not_add"):
            assert session.read((42, 12, 125, 14)) == action
            assert CONDENSER in session.told()
            assert session.advice().amount_kg is None

    def test_no_more_is_recovered_than_went_in_since_it_read_short(
        self, handbook: Handbook
    ) -> None:
        session = begun(handbook, (40, 14, 112, 4))
        assert session.read((41, 12, 113, 14.5)) == "recover"
        amount = session.advice().amount_kg
        assert amount == pytest.approx(0.75 * OUNCE_KG, abs=0.1 * OUNCE_KG)
        assert "It still read short before the last 0.8 oz went in" in session.told()

    def test_nothing_is_recovered_when_nothing_went_in_since(self, handbook: Handbook) -> None:
        session = Session(handbook)
        assert session.read((40, 14, 112, 4), 900) == "add"
        assert session.read((40, 14, 112, 14.5)) == "do_not_add"
        assert "nothing went in since" in session.told()


def shown(
    number: int,
    lift_k: float | None,
    depression_k: float | None,
    added_kg: float = 0.0,
    since_s: float | None = None,
) -> Observation:
    """One reading, a minute after the one before it."""
    outdoor = None if lift_k is None else 308.0
    condensing = None if lift_k is None else 308.0 + lift_k
    coil = None if depression_k is None else 299.0 - depression_k
    assessment = assessed(coil_k=coil, condensing_k=condensing)
    reading = Reading(outdoor_dry_bulb_k=outdoor, return_dry_bulb_k=299.0)
    one = taken(number, assessment, reading)
    return Observation(added_kg, 3.0, since_s, None, one)


def told(*observations: Observation, state: State | None = None) -> str:
    """What is said of a unit of 4 kg, or ""."""
    return moved(ready() if state is None else state, observations, 4.0) or ""


class TestLimits:
    @pytest.mark.parametrize(
        ("lift_k", "depression_k", "said"),
        [
            (8.61, 18.43, True),
            (8.63, 18.43, False),
            (8.61, 18.45, False),
            (8.61, None, False),
            (None, 18.43, False),
        ],
    )
    def test_both_sides_together_by_2_5_and_1_degree_f(
        self, lift_k: float | None, depression_k: float | None, said: bool
    ) -> None:
        first = shown(0, 10.0, 19.0)
        assert (STAGE in told(first, shown(1, lift_k, depression_k))) == said
        assert told(first) == ""

    @pytest.mark.parametrize(
        ("fed_kg", "lift_k", "said"),
        [(0.0, 12.1, False), (0.0, 12.3, True), (0.4, 13.8, False), (0.4, 14.0, True)],
    )
    def test_condensing_by_2_2_k_and_17_k_for_a_whole_charge(
        self, fed_kg: float, lift_k: float, said: bool
    ) -> None:
        """A tenth of 4 kg: 3.9 K."""
        found = told(shown(0, 10.0, 19.0), shown(1, lift_k, 19.0, fed_kg))
        assert (CONDENSER in found) == said

    @pytest.mark.parametrize(("depression_k", "said"), [(21.7, False), (21.9, True)])
    def test_the_coil_by_2_8_k(self, depression_k: float, said: bool) -> None:
        found = told(shown(0, 10.0, 19.0), shown(1, 10.0, depression_k, 0.4))
        assert (BLOWER in found) == said
        assert "5.2 °F colder" in found or not said

    def test_charge_taken_out_explains_it(self) -> None:
        low = shown(1, 8.0, 17.0)
        assert told(shown(0, 10.0, 19.0, 0.1), low) == ""
        first = shown(0, 10.0, 19.0)
        between = Recovered(at(30.0), 0.2, whole=False)
        assert told(first, low, state=ready(recovered=(between,))) == ""
        assert STAGE in told(
            first, low, state=ready(recovered=(replace(between, moment=at(90.0)),))
        )

    def test_a_reading_within_2_min_of_a_shot_is_no_measure(self) -> None:
        low = shown(1, 8.0, 17.0)
        assert told(shown(0, 10.0, 19.0, 0.0, 119.0), low) == ""
        assert STAGE in told(shown(0, 10.0, 19.0, 0.0, 120.0), low)

    def test_nor_is_one_that_asked_for_a_check_itself(self) -> None:
        """A lift of 17.2 K, a coil 14 K below return air: what was mended since moved them."""
        now = shown(1, 13.0, 17.5)
        assert STAGE in told(shown(0, 17.1, 19.0), now)
        assert told(shown(0, 17.3, 19.0), now) == ""
        assert BLOWER in told(shown(0, 13.0, 14.1), now)
        assert told(shown(0, 13.0, 13.9), now) == ""

    def test_every_earlier_reading_is_one_but_an_odd_one(self) -> None:
        first, same, odd = shown(0, 10.0, 19.0), shown(1, 9.9, 19.1), shown(2, 7.0, 16.0)
        assert told(first, same, odd, shown(3, 10.0, 19.0)) == ""
        assert STAGE in told(first, same, odd, shown(3, 7.0, 16.0))
        assert told(odd, shown(3, 7.0, 16.0)) == ""

    @pytest.mark.parametrize(
        ("since_s", "gap_k", "fed_kg"),
        [(None, 2.1, 0.1), (None, 1.9, None), (374.0, 2.1, 0.1), (370.0, 2.1, None)],
    )
    def test_what_went_in_since_the_last_settled_short_reading(
        self, since_s: float | None, gap_k: float, fed_kg: float | None
    ) -> None:
        """Tolerance 2 K, settled after 375 s."""
        outlook = an_outlook(observations=(seen(0.2, gap_k, since_s), seen(0.3, -2.5, 400.0)))
        found = fed_since_short_kg(outlook)
        assert found == (None if fed_kg is None else pytest.approx(fed_kg))
        earlier = (seen(0.0, 3.0), *outlook.observations)
        assert fed_since_short_kg(an_outlook(observations=earlier)) == pytest.approx(fed_kg or 0.3)

    def test_it_names_no_more_than_that(self) -> None:
        fed = an_outlook(
            gap_k=-4.0, missing_kg=-0.3, observations=(seen(0.0, 3.0), seen(0.1, -4.0, 400.0))
        )
        found = advising._over(ready(), fed, "why", None)
        assert (found.action, found.amount_kg) == ("recover", pytest.approx(0.1))
        more = replace(fed, observations=(seen(0.0, 3.0), seen(0.4, -4.0, 400.0)))
        found = advising._over(ready(), more, "why", None)
        assert found.amount_kg == pytest.approx(0.3)
        assert "still read short" not in " ".join(found.reasons)
