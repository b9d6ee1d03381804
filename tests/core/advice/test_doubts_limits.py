"""Each doubt on both sides of its limit; the limits are those of docs/advice.md."""

from collections.abc import Sequence
from dataclasses import replace

import pytest
from advice_cases import opening, orifice_unit, shoot, valve_unit
from outlook_cases import NOTHING, a_target, assessed, reassessed, seen, taken

from lowside.core.advice import doubts, sides
from lowside.core.advice.doubts import beside_the_target, doubt, starved_behind_liquid
from lowside.core.advice.response import Observation
from lowside.core.handbook.system import Reading
from lowside.core.judging.charge import Assessment
from lowside.core.judging.findings import REFUSE, Finding, Unknown
from lowside.core.judging.targets import APPROACH, SUPERHEAT, NoTarget, Target
from lowside.core.session.state import State, Taken

UNKNOWN = Unknown(NOTHING)
SUPERHEAT_TARGET = Target(SUPERHEAT, 7.0, 2.8, NOTHING)
FULL_KG = 4.0
"""A hundredth is 40 g."""
WRONG_WAY = "the wrong way"
SILENT = "hardly responds"
TOO_MUCH = "still ask for more"
STARVED = "Superheat is"
AIR = "The air cools"


def session(unit: str = "valve", *readings: Taken, coil: str = "tube_fin") -> State:
    """One shot was given, and these readings taken."""
    state = shoot(opening(valve_unit() if unit == "valve" else orifice_unit()), 10, 0.1)
    return replace(state, readings=readings, unit_texts={"coil": coil})


def ask(
    observations: Sequence[Observation],
    seen_last: Assessment | None = None,
    state: State | None = None,
    least_kg: float = 0.0,
) -> str:
    """The doubt, or ""."""
    basis = taken(9, assessed() if seen_last is None else seen_last)
    asked = session("valve", basis) if state is None else state
    return doubt(asked, basis, observations, FULL_KG, least_kg) or ""


def gaps(*pairs: tuple[float, float]) -> list[Observation]:
    """(charge in [kg], gap [K]) of each reading."""
    return [seen(added, gap) for added, gap in pairs]


def test_a_liquid_line_2_k_warmer_than_liquid_can_be_is_a_wrong_reading() -> None:
    one = gaps((0.0, 3.0))
    assert "warmer than this refrigerant can be" in ask(one, assessed(subcooling_k=-2.3))
    assert ask(one, assessed(subcooling_k=-2.1)) == ""
    assert ask(one, assessed(subcooling_k=UNKNOWN)) == ""
    assert ask(one, assessed(subcooling_k=-9.0, target=NoTarget(NOTHING))) == ""
    nothing = taken(0, None)
    assert doubt(session(), nothing, one, FULL_KG, 0.0) is None


class TestTheWrongWay:
    @pytest.mark.parametrize(
        ("fed_kg", "grown_k", "told"),
        [
            (0.0, 1.4, False),
            (0.0, 1.6, True),
            (0.07, 1.4, False),
            (0.09, 1.1, False),
            (0.09, 1.3, True),
            (-0.1, 3.0, False),
        ],
    )
    def test_1_2_k_of_subcooling_once_a_fiftieth_went_in_else_1_5_k(
        self, fed_kg: float, grown_k: float, told: bool
    ) -> None:
        """A fiftieth of 4 kg is 80 g. Charge that was taken out explains any rise."""
        found = ask(gaps((0.2, 2.5), (0.2 + fed_kg, 2.5 + grown_k)))
        assert (WRONG_WAY in found) == told
        assert ask(gaps((0.2, 2.5))) == ""

    def test_superheat_may_rise_by_1_5_k_in_any_case(self) -> None:
        target = assessed(target=SUPERHEAT_TARGET)
        assert ask(gaps((0.0, 3.0), (0.1, 4.4)), target) == ""
        found = ask(gaps((0.0, 3.0), (0.1, 4.6)), target)
        assert WRONG_WAY in found
        assert "2.9 °F" in found

    @pytest.mark.parametrize(
        ("fed_kg", "before_k", "after_k", "told"),
        [
            (0.1, 8.0, 10.4, False),
            (0.1, 8.0, 10.6, True),
            (0.02, 8.0, 10.6, False),
            (0.1, None, 10.6, False),
            (0.1, 8.0, None, False),
        ],
    )
    def test_a_valve_s_superheat_rises_by_2_5_k(
        self, fed_kg: float, before_k: float | None, after_k: float | None, told: bool
    ) -> None:
        found = ask([seen(0.0, 3.0, None, before_k), seen(fed_kg, 3.0, None, after_k)])
        assert (WRONG_WAY in found) == told

    def test_a_valve_hunts_so_its_superheat_is_the_mean_since_the_shot(self) -> None:
        before = seen(0.0, 3.0, None, 8.0)
        high, low = seen(0.1, 3.0, None, 12.0), seen(0.1, 3.0, None, 8.5)
        unseen = seen(0.1, 3.0)
        assert ask([before, low, high]) == ""
        assert WRONG_WAY in ask([before, unseen, high])

    @pytest.mark.parametrize(
        ("earlier", "told"),
        [
            ((1.0, 3.0), True),
            ((1.0, 3.0, 3.0), False),
            ((1.0, 1.0, 3.0), True),
            ((1.0, 1.0, 3.0, 3.0), True),
            ((1.0, 3.0, 3.0, 3.0), False),
        ],
    )
    def test_of_more_than_two_earlier_readings_half_must_say_so(
        self, earlier: tuple[float, ...], told: bool
    ) -> None:
        found = ask(gaps(*[(0.0, gap) for gap in earlier], (0.0, 3.0)))
        assert (WRONG_WAY in found) == told

    def test_it_says_by_how_much(self) -> None:
        """3 K less 1 K are 3.6 °F: the last of those that agree."""
        assert "3.6 °F the wrong way" in ask(gaps((0.0, 0.5), (0.0, 1.0), (0.0, 3.0)))
        valve = [seen(0.0, 3.0, None, 8.0), seen(0.1, 3.0, None, 11.0)]
        assert "5.4 °F the wrong way" in ask(valve)


class TestNoAnswer:
    """From the third reading on. 6 % of 4 kg are 240 g: 0.3 K and 8 K (superheat 10 K) for a whole
    charge are 0.8 K (0.93 K) with 250 g."""

    @pytest.mark.parametrize(
        ("fed_kg", "last_k", "told"),
        [(0.25, 2.65, True), (0.25, 2.55, False), (0.23, 3.2, False)],
    )
    def test_after_6_percent_near_the_target(
        self, fed_kg: float, last_k: float, told: bool
    ) -> None:
        """Nearer than 0.4 of 8 K; 3.4 K at first."""
        target = assessed(target=a_target(value_k=8.0))
        found = ask(gaps((0.0, 3.4), (0.0, 3.4), (fed_kg, last_k)), target)
        assert (SILENT in found) == told

    def test_says_how_much_went_in_and_how_little_it_moved(self) -> None:
        """250 g are 8.8 oz, 0.5 K are 0.9 °F."""
        target = assessed(target=a_target(value_k=8.0))
        found = ask(gaps((0.1, 3.4), (0.1, 3.4), (0.35, 2.9)), target)
        assert "8.8 oz went in" in found
        assert "moved by 0.9 °F" in found

    def test_only_from_the_third_reading_and_the_first_shot_on(self) -> None:
        target = assessed(target=a_target(value_k=8.0))
        silent = gaps((0.0, 3.0), (0.1, 3.0), (0.3, 3.0))
        assert SILENT in ask(silent, target)
        assert ask([silent[0], silent[2]], target) == ""
        assert ask(silent, target, replace(session(), shots=())) == ""

    @pytest.mark.parametrize(("last_k", "told"), [(2.15, True), (2.05, False)])
    def test_an_orifice_by_10_k_for_a_whole_charge(self, last_k: float, told: bool) -> None:
        """250 g: 0.625 K and 0.3 K."""
        found = ask(gaps((0.0, 3.0), (0.0, 3.0), (0.25, last_k)), assessed(target=SUPERHEAT_TARGET))
        assert (SILENT in found) == told

    @pytest.mark.parametrize(
        ("coil", "fed_kg", "last_k", "told"),
        [
            ("tube_fin", 0.78, 4.9, False),
            ("tube_fin", 0.82, 3.9, True),
            ("tube_fin", 0.82, 3.7, False),
            ("microchannel", 1.30, 4.9, False),
            ("microchannel", 1.34, 3.9, True),
        ],
    )
    def test_subcooling_far_off_may_hide_a_fifth_of_the_charge_or_a_third(
        self, coil: str, fed_kg: float, last_k: float, told: bool
    ) -> None:
        """Short of 8 K by more than 0.4 of it; 5 K at first, and then 1.2 K are asked for."""
        target = assessed(target=a_target(value_k=8.0))
        readings = gaps((0.0, 5.0), (0.1, 5.0), (fed_kg, last_k))
        found = ask(readings, target, session(coil=coil))
        assert (SILENT in found) == told

    @pytest.mark.parametrize(
        ("fed_kg", "moved_k", "first_k", "told"),
        [
            (0.38, 0.0, 12.0, False),
            (0.44, 0.6, 12.0, True),
            (0.44, 0.7, 12.0, False),
            (0.44, 0.6, 9.0, False),
        ],
    )
    def test_a_valve_that_starves_all_along_hides_nothing(
        self, fed_kg: float, moved_k: float, first_k: float, told: bool
    ) -> None:
        """More than 9.5 K of superheat: asked from a tenth on. 0.44 kg are 11 %: 0.66 K."""
        target = assessed(target=a_target(value_k=8.0), superheat_k=12.0, subcooling_k=2.0)
        readings = [
            seen(0.0, 5.0, None, first_k),
            seen(0.1, 5.0, None, 12.0),
            seen(fed_kg, 5.0 - moved_k, None, 12.0),
        ]
        found = ask(readings, target)
        assert (SILENT in found) == told

    def test_superheat_that_came_down_is_an_answer_too(self) -> None:
        target = assessed(target=a_target(value_k=8.0))
        still = [seen(0.0, 3.0, None, 8.0), seen(0.1, 3.0, None, 8.0), seen(0.3, 3.0, None, 8.0)]
        assert SILENT in ask(still, target)
        came = [*still[:2], seen(0.3, 3.0, None, 7.0)]
        assert ask(came, target) == ""
        risen = [*still[:2], seen(0.3, 2.0, None, 9.5)]
        assert ask(risen, target) == ""
        unseen = [seen(0.0, 3.0), *came[1:]]
        assert SILENT in ask(unseen, target)

    @pytest.mark.parametrize(
        ("first_k", "last_k", "fed_kg", "told"),
        [
            (9.0, 8.5, 0.5, False),
            (9.0, 8.5, 0.82, True),
            (9.9, 8.5, 0.82, False),
            (8.5, 7.9, 0.5, False),
            (8.5, 7.9, 0.82, True),
            (7.9, 8.3, 0.5, True),
        ],
    )
    def test_an_orifice_more_than_8_k_off_hides_a_fifth_of_the_charge(
        self, first_k: float, last_k: float, fed_kg: float, told: bool
    ) -> None:
        readings = gaps((0.0, first_k), (0.1, first_k), (fed_kg, last_k))
        found = ask(readings, assessed(target=SUPERHEAT_TARGET), session("orifice"))
        assert (SILENT in found) == told

    @pytest.mark.parametrize(("last_k", "told"), [(7.1, True), (6.7, False)])
    def test_from_where_it_shows_an_answer_is_asked_for_as_usual(
        self, last_k: float, told: bool
    ) -> None:
        """7.5 % of the charge since 7.9 K must bring 0.75 K and the scatter of 0.3 K."""
        readings = gaps((0.0, 9.5), (0.4, 7.9), (0.7, last_k))
        found = ask(readings, assessed(target=SUPERHEAT_TARGET), session("orifice"))
        assert (SILENT in found) == told

    @pytest.mark.parametrize(("superheat_k", "told"), [(21.5, True), (22.5, False)])
    def test_an_orifice_as_warm_as_gas_gets_hides_it_however_near_its_target(
        self, superheat_k: float, told: bool
    ) -> None:
        """7 K above its target all along, 12.5 % fed; from 40 °F of superheat on that is hidden."""
        warm = replace(SUPERHEAT_TARGET, value_k=superheat_k - 7.0)
        found = ask(
            gaps((0.0, 7.0), (0.1, 7.0), (0.5, 7.0)), assessed(target=warm), session("orifice")
        )
        assert (SILENT in found) == told


class TestMoreThanAUnitCanLack:
    """45 % of 4 kg are 1.8 kg, 60 % are 2.4 kg."""

    @pytest.mark.parametrize(
        ("fed_kg", "least_kg", "known", "told"),
        [
            (1.5, 0.29, True, False),
            (1.5, 0.31, True, True),
            (1.79, -0.5, True, False),
            (1.81, -0.5, True, True),
            (1.5, 0.89, False, False),
            (1.5, 0.91, False, True),
        ],
    )
    def test_what_went_in_and_is_still_missing(
        self, fed_kg: float, least_kg: float, known: bool, told: bool
    ) -> None:
        state = session()
        if not known:
            state = replace(state, system=valve_unit(nameplate_charge_kg=None))
        readings = gaps((0.1, 6.0), (0.4, 3.0), (0.1 + fed_kg, 1.5))
        found = ask(readings, None, state, least_kg)
        assert (TOO_MUCH in found) == told


class TestStarvedBehindLiquid:
    """A valve: more than 9.5 K of superheat, or 2.8 K above its manufacturer's, with 3.9 K of
    subcooling."""

    @pytest.mark.parametrize(
        ("superheat_k", "subcooling_k", "told"),
        [(9.6, 4.0, True), (9.4, 4.0, False), (9.6, 3.8, False)],
    )
    def test_a_valve(self, superheat_k: float, subcooling_k: float, told: bool) -> None:
        basis = taken(0, assessed(superheat_k=superheat_k, subcooling_k=subcooling_k))
        found = starved_behind_liquid(session("valve", basis), basis) or ""
        assert (STARVED in found) == told

    @pytest.mark.parametrize(("superheat_k", "told"), [(7.7, False), (7.9, True)])
    def test_a_valve_by_its_maker(self, superheat_k: float, told: bool) -> None:
        basis = taken(0, assessed(superheat_k=superheat_k, subcooling_k=5.0))
        state = replace(session("valve", basis), system=valve_unit(maker_superheat_k=5.0))
        assert (starved_behind_liquid(state, basis) is not None) == told

    @pytest.mark.parametrize(
        ("before_k", "last_gap_k", "told"),
        [(12.7, 3.0, False), (12.3, 3.0, True), (12.7, 1.5, True)],
    )
    def test_a_valve_that_comes_down_while_still_short_does_not_stay(
        self, before_k: float, last_gap_k: float, told: bool
    ) -> None:
        """10 K now with 5 K of subcooling, and 2.5 K more before the last charge. On target it
        counts whatever came before."""
        basis = taken(9, assessed(superheat_k=10.0, subcooling_k=5.0))
        readings = [
            seen(0.0, 8.0, None, 15.0),
            seen(0.1, 6.0, None, before_k),
            seen(0.2, last_gap_k, None, 10.0),
        ]
        found = doubt(session("valve", basis), basis, readings, FULL_KG, 0.0) or ""
        assert (STARVED in found) == told

    @pytest.mark.parametrize(
        ("superheat_k", "subcooling_k", "told"),
        [
            (9.9, 9.0, False),
            (10.1, 7.1, True),
            (10.1, 6.9, False),
            (16.0, 6.2, True),
            (16.0, 6.0, False),
        ],
    )
    def test_an_orifice_by_what_it_should_show(
        self, superheat_k: float, subcooling_k: float, told: bool
    ) -> None:
        """It should show 4 to 10 K. 7 K of subcooling, less 0.15 of what it is above."""
        last = assessed(
            superheat_k=superheat_k,
            subcooling_k=subcooling_k,
            target=SUPERHEAT_TARGET,
            expected_superheat_k=(4.0, 10.0),
        )
        basis = taken(9, last)
        state = session("orifice", basis)
        readings = gaps((0.0, 6.0), (0.1, 4.0), (0.2, 3.0))
        found = doubt(state, basis, readings, FULL_KG, 0.0) or ""
        assert (STARVED in found) == told
        unexpected = taken(9, replace(last, expected_superheat_k=None))
        assert doubt(replace(state, readings=(unexpected,)), unexpected, readings, 4.0, 0.0) is None

    def test_a_valve_charged_by_approach_is_a_valve(self) -> None:
        """And an orifice charged by it is held against what it should show."""
        last = assessed(
            superheat_k=9.6,
            subcooling_k=4.0,
            target=Target(APPROACH, 3.0, 0.6, NOTHING),
            expected_superheat_k=(4.0, 10.0),
        )
        basis = taken(9, last)
        readings = gaps((0.0, 3.0), (0.1, 2.0), (0.2, 0.5))
        valve = session("valve", basis)
        assert STARVED in (doubt(valve, basis, readings, FULL_KG, 0.0) or "")
        assert doubt(session("orifice", basis), basis, readings, FULL_KG, 0.0) is None
        assert starved_behind_liquid(valve, basis) is None

    def test_needs_both_figures_and_a_target(self) -> None:
        good = assessed(superheat_k=12.0, subcooling_k=6.0)
        for lacking in (
            reassessed(good, superheat_k=UNKNOWN),
            reassessed(good, subcooling_k=UNKNOWN),
            replace(good, target=NoTarget(NOTHING)),
            None,
        ):
            basis = taken(0, lacking)
            assert starved_behind_liquid(session("valve", basis), basis) is None

    def test_a_valve_hunts_so_the_mean_since_the_last_shot_counts(self) -> None:
        """14 K before the shot says nothing. 12 and 6 K are 9 K: not starved."""

        def here(number: int, superheat_k: float | Unknown, **changes: object) -> Taken:
            return taken(number, assessed(superheat_k=superheat_k), shots_before=1, **changes)

        before = taken(0, assessed(superheat_k=1.0))
        rest = (taken(3, None, shots_before=1), here(4, UNKNOWN), here(5, 99.0, running=False))
        high, low, later = here(1, 14.0), here(2, 6.0), here(7, 99.0)
        assert STARVED in (starved_behind_liquid(session("valve", before, high), high) or "")
        last = here(6, 12.0)
        told = starved_behind_liquid(session("valve", before, *rest, low, last, later), last)
        assert told is None
        told = starved_behind_liquid(session("valve", before, *rest, high, low, last), last)
        assert told is not None
        assert "19.2 °F, the mean of 3 readings, with 9.0 °F of subcooling" in told

    def test_a_reading_that_cannot_be_does_not_count_in_the_mean(self) -> None:
        """The page shows 20 °F beside 15.7; a clamp in the sun before it is no part of it."""
        sun = (Finding("line_above_air", REFUSE),)
        wrong = taken(1, assessed(superheat_k=19.0, findings=sun), shots_before=1)
        fed = taken(2, assessed(superheat_k=8.7), shots_before=1)
        assert starved_behind_liquid(session("valve", wrong, fed), fed) is None
        starved = taken(2, assessed(superheat_k=12.0), shots_before=1)
        told = starved_behind_liquid(session("valve", wrong, starved), starved) or ""
        assert told.startswith("Superheat is 21.6 °F with 9.0 °F of subcooling")


class TestAir:
    """2.4 K above the table's drop, as a mean of three readings or more."""

    @staticmethod
    def told(*above: float | None) -> str:
        readings = [taken(i, assessed(split_over_k=each)) for i, each in enumerate(above)]
        state = session("valve", *readings)
        seen_so_far = gaps((0.0, 4.0), (0.1, 3.0), (0.2, 2.5))
        return doubt(state, readings[-1], seen_so_far, FULL_KG, 0.0) or ""

    def test_reading_after_reading(self) -> None:
        assert AIR in self.told(2.0, 2.5, 2.8)
        assert "4.4 °F" in self.told(2.0, 2.5, 2.8)
        assert self.told(2.0, 2.4, 2.7) == ""
        assert self.told(9.0, 9.0) == ""
        assert self.told(9.0, 9.0, None) == ""
        assert AIR in self.told(None, 2.5, 2.5, 2.5)

    def test_of_a_running_unit_up_to_the_reading(self) -> None:
        readings = [taken(i, assessed(split_over_k=3.0)) for i in range(4)]
        seen_so_far = gaps((0.0, 4.0), (0.1, 3.0), (0.2, 2.5))
        stopped = [replace(each, running=False) for each in readings[:2]]
        state = session("valve", *stopped, *readings[2:])
        assert doubt(state, readings[3], seen_so_far, FULL_KG, 0.0) is None
        state = session("valve", *readings)
        assert doubt(state, readings[1], seen_so_far, FULL_KG, 0.0) is None
        assert doubt(state, readings[2], seen_so_far, FULL_KG, 0.0) is not None
        unjudged = session("valve", taken(8, None), *readings)
        assert doubt(unjudged, readings[2], seen_so_far, FULL_KG, 0.0) is not None


def sides_of(short: bool = False, target: Target | None = None, **figures: float | None) -> str:
    """What both sides say at 5 K of superheat [K below return air, above outdoor air]."""
    at_rest: dict[str, float | None] = {"superheat": 5.0, "depression": 19.0, "lift": 12.0}
    known = at_rest | figures
    depression, lift = known["depression"], known["lift"]
    basis = taken(
        0,
        assessed(
            superheat_k=known["superheat"],
            subcooling_k=figures.get("subcooling", 5.0),
            dew_k=None if depression is None else 300.0 - depression,
            bubble_k=None if lift is None else 308.0 + lift,
        ),
        Reading(None, None, None, None, outdoor_dry_bulb_k=308.0, return_dry_bulb_k=300.0),
    )
    state = session("valve", basis)
    return sides.sides(state, basis, a_target() if target is None else target, short) or ""


class TestSides:
    @pytest.mark.parametrize(
        ("figures", "told"),
        [
            ({}, ""),
            ({"depression": 23.9}, ""),
            ({"depression": 24.1}, "The indoor coil averages"),
            ({"depression": 27.4, "superheat": 10.0}, ""),
            ({"depression": 27.6, "superheat": 10.0}, "The indoor coil averages"),
            ({"depression": 14.1}, ""),
            ({"depression": 13.9}, "The indoor coil averages only"),
            ({"depression": None}, ""),
            ({"lift": 17.1}, ""),
            ({"lift": 17.3}, "Condensing averages 31.1 °F"),
            ({"lift": 17.3, "depression": None}, "Condensing averages 31.1 °F"),
            ({"lift": None}, ""),
            ({"lift": None, "depression": 24.1}, "The indoor coil averages"),
            ({"lift": 7.9}, ""),
            ({"lift": 7.7}, "Condensing averages only"),
            ({"lift": 7.7, "depression": None}, "Condensing averages only"),
            ({"lift": 6.9, "superheat": 16.0}, ""),
            ({"lift": 6.8, "superheat": 16.0}, "Condensing averages only"),
            ({"depression": 16.4, "lift": 9.4}, "Condensing averages only"),
            ({"depression": 16.6, "lift": 9.4}, ""),
            ({"depression": 16.4, "lift": 9.6}, ""),
        ],
    )
    def test_on_target(self, figures: dict[str, float | None], told: str) -> None:
        """20.5 K and 0.7 of the superheat, or 14 K, below return air; 17.2 K or 7.8 K above outdoor
        air, the latter less an eighth of the superheat past 8 K; both small together."""
        found = sides_of(**figures)  # type: ignore[arg-type]
        assert found.startswith(told)
        assert (found == "") == (told == "")

    @pytest.mark.parametrize(
        ("figures", "told"),
        [
            ({"lift": 7.7}, False),
            ({"lift": 7.7, "depression": 14.6}, True),
            ({"lift": 7.9, "depression": 14.6}, False),
            ({"lift": 7.7, "depression": 14.8}, False),
            ({"lift": 7.7, "depression": 16.1, "superheat": 11.0}, True),
            ({"lift": 7.7, "depression": 16.3, "superheat": 11.0}, False),
            ({"lift": 7.7, "depression": 16.6, "superheat": 11.9}, True),
            ({"lift": 7.7, "depression": 16.6, "superheat": 12.1}, False),
            ({"lift": 7.7, "depression": None}, False),
        ],
    )
    def test_missing_charge_explains_a_low_lift_but_not_a_warm_coil(
        self, figures: dict[str, float | None], told: bool
    ) -> None:
        """14.7 K below return air, less half of the superheat past 8 K, and 7.8 K above outdoor
        air. A coil with more than 12 K of superheat says nothing of the compressor yet."""
        found = sides_of(short=True, **figures)  # type: ignore[arg-type]
        assert found.startswith("Condensing averages only") == told
        assert told or found == ""

    @pytest.mark.parametrize(("subcooling_k", "told"), [(8.2, False), (8.6, True)])
    def test_half_of_an_orifice_s_subcooling_adds_to_its_lift(
        self, subcooling_k: float, told: bool
    ) -> None:
        """13 K and half of 8.4 K are 17.2 K. With a target of subcooling it is the charge."""
        found = sides_of(target=SUPERHEAT_TARGET, lift=13.0, subcooling=subcooling_k)
        assert ("not an undercharged unit" in found) == told
        assert sides_of(lift=13.0, subcooling=subcooling_k) == ""

    def test_need_superheat_and_air(self) -> None:
        basis = taken(0, assessed(superheat_k=UNKNOWN, dew_k=250.0, bubble_k=350.0))
        assert beside_the_target(session("valve", basis), basis) is None
        assert beside_the_target(session("valve"), taken(0, None)) is None
        dry = taken(0, assessed(dew_k=250.0, bubble_k=350.0))
        assert beside_the_target(session("valve", dry), dry) is None
        cold = replace(dry, reading=replace(dry.reading, return_dry_bulb_k=300.0))
        assert beside_the_target(session("valve", cold), cold) is not None
        hot = replace(dry, reading=replace(dry.reading, outdoor_dry_bulb_k=308.0))
        assert beside_the_target(session("valve", hot), hot) is not None
        untargeted = taken(0, assessed(dew_k=250.0, target=NoTarget(NOTHING)), cold.reading)
        assert beside_the_target(session("valve", untargeted), untargeted) is None

    def test_unknown_subcooling_adds_nothing(self) -> None:
        basis = taken(
            0,
            assessed(subcooling_k=UNKNOWN, target=SUPERHEAT_TARGET, bubble_k=324.0),
            Reading(None, None, None, None, outdoor_dry_bulb_k=308.0),
        )
        assert beside_the_target(session("orifice", basis), basis) is None

    def test_end_the_adding_only_past_the_tolerance(self) -> None:
        """A hot condenser ends it while the reading is short by more than 2 K."""
        hot = Reading(None, None, None, None, outdoor_dry_bulb_k=308.0)
        basis = taken(9, assessed(bubble_k=330.0), hot)
        state = session("valve", basis)
        short = gaps((0.0, 4.0), (0.1, 3.0), (0.2, 2.1))
        assert "Condensing averages" in (doubt(state, basis, short, FULL_KG, 0.0) or "")
        right = gaps((0.0, 4.0), (0.1, 3.0), (0.2, 1.9))
        assert doubt(state, basis, right, FULL_KG, 0.0) is None
        assert doubts.last_gap_k(right) == 1.9
