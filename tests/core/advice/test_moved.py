"""Between two readings the machine or its air changed by itself: the compressor's stage, a fan, the
filter. No charge does that, so nothing is added, finished or recovered on it. Limits and what sound
units show: docs/advice.md. Sources of the readings: made up around them.
"""

from dataclasses import replace

import pytest
from moved_sessions import HELD, At, Session, begun
from outlook_cases import an_outlook, assessed, ready, reassessed, seen, taken

from lowside.core.advice import advice as advising
from lowside.core.advice.moved import load_moved, moved, seen_in_batch
from lowside.core.advice.plan import fed_since_short_kg
from lowside.core.advice.response import Observation
from lowside.core.handbook.handbook import Handbook
from lowside.core.handbook.system import Reading
from lowside.core.numbers.units import OUNCE_KG
from lowside.core.session.state import State

STAGE = "Check which stage or speed the compressor runs at"
CONDENSER = "Then check the outdoor coil and fan"
BLOWER = "Check filter, blower and registers"
SHADE = "See that the outdoor thermometer is in the shade and the outdoor coil is dry"
BULB = "Then check the expansion valve and its bulb"


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
        ("condensing", "outdoor"), [(107, "95 °F"), (112.5, "103 °F"), (88, "80 °F")]
    )
    def test_once_condensing_comes_nearer_to_outdoor_air(
        self, handbook: Handbook, condensing: float, outdoor: str
    ) -> None:
        """A wet coil, the thermometer in the sun, rain; low side as before. Before, 3 to 3.5 oz
        more were asked for."""
        session = begun(handbook, (40, 12, 112, 4))
        for action in ("read", "do_not_add"):
            assert session.read((40, 12, condensing, 3.5), outdoor_dry_bulb=outdoor) == action
            assert SHADE in session.told()
            assert STAGE in session.told()
            assert "nearer to return air" not in session.told()

    @pytest.mark.parametrize(("drier", "metering"), [("", "txv"), ("same", "txv"), ("", "eev")])
    def test_once_a_valve_starves_by_itself(
        self, handbook: Handbook, drier: str, metering: str
    ) -> None:
        """Superheat 12 and 30 °F, subcooling as before: ice in the valve, a bulb that lost its
        charge. Before, 3 oz more were asked for, more than at the first reading."""
        session = begun(handbook, (40, 12, 112, 4), metering=metering, held="yes")
        for action in ("read", "do_not_add"):
            assert session.read((37, 30, 112, 4), drier=drier) == action
            assert "Superheat rose by 18" in session.told()
            assert BULB in session.told()

    def test_once_the_current_falls_by_more_than_a_fifth(self, handbook: Handbook) -> None:
        """Low and high side just under their limits."""
        session = Session(handbook)
        assert session.read((40, 12, 112, 4), 900, compressor_amps="12 A") == "add"
        session.feed()
        for action in ("read", "do_not_add"):
            assert session.read((40.9, 12, 109.8, 4.1), compressor_amps="7 A") == action
            assert "current fell by more than a fifth" in session.told()

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


class TestTheLoad:
    """What rests counts again: the unit is judged at the load it has."""

    @pytest.mark.parametrize("degrees", [72, 84])
    def test_return_air_that_moves_by_6_degrees_is_read_again_once_it_rests(
        self, handbook: Handbook, degrees: int
    ) -> None:
        session = begun(handbook, (40, 12, 112, 4))
        air = {"return_dry_bulb": f"{degrees} °F", "return_wet_bulb": f"{degrees - 12} °F"}
        at = (36.0 + (degrees - 72) / 2, 12, 111, 4)
        assert session.read(at, **air) == "wait"
        assert "Return air moved by 6" in session.told()
        assert not session.form("shot_open", {})
        session.book.wait(200)
        assert session.advice().action == "read"
        assert session.read(at, 10, **air) == "add"

    @pytest.mark.parametrize("metering", ["txv", "fixed"])
    def test_superheat_that_falls_by_16_degrees_on_three_quarters_of_an_ounce(
        self, handbook: Handbook, metering: str
    ) -> None:
        """Before, the page asked for 2.5 oz more behind a valve."""
        session = begun(handbook, (40, 26, 112, 4), metering=metering)
        assert session.read((40, 10, 112, 4)) == "wait"
        assert "Superheat fell by 16" in session.told()
        assert not session.form("shot_open", {})
        session.read((40, 10, 112, 4), 200)
        assert "Superheat fell" not in session.told()

    def test_on_target_it_is_not_finished(self, handbook: Handbook) -> None:
        session = begun(handbook, (40, 12, 112, 4))
        air = {"return_dry_bulb": "72 °F", "return_wet_bulb": "60 °F"}
        assert session.read((37, 12, 112, 10), **air) == "wait"
        assert "Return air moved" in session.told()


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
    superheat_k: float | None = None,
    current_a: float | None = None,
    warmer_k: float = 0.0,
) -> Observation:
    """One reading, a minute after the one before it; behind a valve where it has superheat."""
    outdoor = None if lift_k is None else 308.0 + warmer_k
    condensing = None if lift_k is None else 308.0 + warmer_k + lift_k
    coil = None if depression_k is None else 299.0 - depression_k
    assessment = assessed(coil_k=coil, condensing_k=condensing)
    if superheat_k is not None:
        assessment = reassessed(assessment, superheat_k=superheat_k)
    reading = Reading(outdoor_dry_bulb_k=outdoor, return_dry_bulb_k=299.0, compressor_a=current_a)
    one = taken(number, assessment, reading)
    return Observation(added_kg, 3.0, since_s, superheat_k, one)


def load(*observations: Observation) -> str:
    """The same of the load, between the last two."""
    return load_moved(ready(), observations, 4.0) or ""


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
            (7.79, 19.0, True),
            (7.81, 19.0, False),
            (7.79, None, True),
        ],
    )
    def test_both_sides_together_by_2_5_and_1_degree_f_or_condensing_alone_by_2_2_k(
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

    @pytest.mark.parametrize(
        ("before_k", "now_k", "said"),
        [(6.0, 11.1, True), (6.0, 10.9, False), (4.0, 9.4, False), (4.4, 9.6, True)],
    )
    def test_a_valve_s_superheat_by_5_k_to_above_9_5_k(
        self, before_k: float, now_k: float, said: bool
    ) -> None:
        """However little was fed."""
        first = shown(0, 10.0, 19.0, superheat_k=before_k)
        last = shown(1, 10.0, 19.0, 0.001, superheat_k=now_k)
        assert (BULB in told(first, last)) == said
        assert told(replace(first, valve_superheat_k=None), last) == ""

    @pytest.mark.parametrize(
        ("current_a", "warmer_k", "said"),
        [
            (7.9, 0.0, True),
            (8.1, 0.0, False),
            (None, 0.0, False),
            (7.9, -4.9, True),
            (7.9, -5.1, False),
            (7.9, 6.0, True),
        ],
    )
    def test_the_current_below_0_8_in_air_no_more_than_5_k_cooler(
        self, current_a: float | None, warmer_k: float, said: bool
    ) -> None:
        first = shown(0, 10.0, 19.0, current_a=10.0)
        last = shown(1, 10.0, 19.0, 0.02, current_a=current_a, warmer_k=warmer_k)
        assert ("current fell" in told(first, last)) == said
        assert told(shown(0, 10.0, 19.0), last) == ""

    @pytest.mark.parametrize(
        ("fed_kg", "now_k", "said"),
        [(0.0, 10.1, False), (0.0, 9.9, True), (0.2, 1.6, False), (0.2, 1.4, True)],
    )
    def test_superheat_by_4_k_and_170_k_for_a_whole_charge(
        self, fed_kg: float, now_k: float, said: bool
    ) -> None:
        """A twentieth of 4 kg: 8.5 K."""
        first = shown(0, 10.0, 19.0, superheat_k=14.0)
        last = shown(1, 10.0, 19.0, fed_kg, superheat_k=now_k)
        assert ("Superheat fell" in load(first, last)) == said
        assert load(last) == ""
        assert load(first, last, last) == ""

    @pytest.mark.parametrize(("warmer_k", "said"), [(2.7, False), (2.9, True), (-2.9, True)])
    def test_return_air_by_2_8_k_since_the_reading_before(
        self, warmer_k: float, said: bool
    ) -> None:
        first = shown(0, 10.0, 19.0)
        assert first.taken is not None
        reading = replace(first.taken.reading, return_dry_bulb_k=299.0 + warmer_k)
        last = replace(first, taken=replace(first.taken, reading=reading))
        assert ("Return air moved" in load(first, last)) == said
        assert load(first, last, last) == ""

    def test_a_glance_is_held_against_the_reading_of_its_batch(self) -> None:
        """Only one that came after the last shot, and with what was fed since."""
        fed = ready(shots=(object(),))
        basis = shown(0, 10.0, 19.0)

        def ends(glanced: Observation, shots_before: int = 1, fed_kg: float = 0.04) -> bool:
            newest = replace(glanced.taken, shots_before=shots_before)  # type: ignore[type-var]
            state = replace(fed, readings=(basis.taken, newest))  # type: ignore[arg-type]
            return seen_in_batch(state, (shown(0, 5.0, 25.0), basis), fed_kg, 4.0) != ""

        assert ends(shown(1, 7.7, 19.0))
        assert not ends(shown(1, 7.7, 19.0), shots_before=0)
        assert not ends(shown(1, 10.0, 19.0))
        assert not ends(shown(1, 12.3, 19.0))
        assert ends(shown(1, 12.3, 19.0), fed_kg=0.0)

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
