"""Weights of cylinders, scales, recovery and weigh-in, worked out by hand on both sides of each
limit."""

from dataclasses import replace

import pytest
from advice_cases import at, opening, shoot, valve_unit
from outlook_cases import fields

from lowside.core.handbook.fields import Fields
from lowside.core.handbook.handbook import Handbook
from lowside.core.handbook.machine import COOLING, FULL_STAGE, HEATING, PACKAGE, SPLIT, Machine
from lowside.core.handbook.refrigerants import BY_WEIGHT_ONLY
from lowside.core.handbook.saturation import bubble_pressure, dew_pressure, liquid_density
from lowside.core.handbook.system import Reading
from lowside.core.handbook.walk_forms import OVERFILLED
from lowside.core.numbers.units import OUNCE_KG, PSI_PA
from lowside.core.session import cylinder, recovering, scale_entry, weighing
from lowside.core.session.cylinder import reconcile_session
from lowside.core.session.events import Moment
from lowside.core.session.flammability import FLAMMABLE_QUESTIONS
from lowside.core.session.heavy_shot import far_from_plan
from lowside.core.session.other_cylinder import is_another
from lowside.core.session.state import (
    GROSS,
    STANDS,
    ZEROED,
    Cylinder,
    Entry,
    Lot,
    Recovered,
    ScaleSetting,
    Shot,
    State,
    Taken,
    UsedCylinder,
    Weight,
    added_kg,
    scale_after,
    shots_of_cylinder,
    taken_out,
)
from lowside.core.session.steady import recovered_blocks
from lowside.core.session.weighing import Tightness

STEP_KG = 0.010
STANDARD_PA = 101325.0


def at_work(**changes: object) -> State:
    """A cylinder of 5 kg tare that weighed 15 kg, on a gross scale with steps of 10 g."""
    state = replace(opening(valve_unit()), scale=ScaleSetting(GROSS, 15.0, STEP_KG))
    return replace(state, **changes)  # type: ignore[arg-type]


def weighed(
    *kilograms: float, end_kg: float | None, last_kg: float | None, **rest: object
) -> State:
    """Shots of these weights, then an end weight, then what the scale showed last."""
    state = at_work(**rest)
    for i, each in enumerate(kilograms):
        state = shoot(state, 100.0 * (i + 1), each)
    end = None if end_kg is None else Weight("e", at(9000), end_kg)
    return replace(state, end_weight=end, last_scale_kg=last_kg)


class TestReconciling:
    """Two shots of 0.5 kg. Start and end may differ by two steps and one for each shot, 40 g, and
    by 60 g in the hoses on one side."""

    @pytest.mark.parametrize(
        ("end_kg", "apart"),
        [(14.0, False), (14.039, False), (14.041, True), (13.901, False), (13.899, True)],
    )
    def test_start_minus_end_against_the_shots(self, end_kg: float, apart: bool) -> None:
        found = reconcile_session(weighed(0.5, 0.5, end_kg=end_kg, last_kg=None))
        assert found.disagrees == apart
        assert dict(found.lines)["Start minus end"] == pytest.approx(15.0 - end_kg)
        assert dict(found.lines)["Sum of shots"] == pytest.approx(1.0)
        if apart:
            only = found.disagreements[0]
            assert only.difference_kg == pytest.approx(14.0 - end_kg)
            assert only.allowed_kg == pytest.approx(0.040 if end_kg > 14.0 else 0.100)

    @pytest.mark.parametrize(
        ("last_kg", "apart"),
        [(14.0, 0), (13.971, 0), (13.969, 1), (14.029, 0), (14.031, 1)],
    )
    def test_the_scale_s_total_against_the_shots(self, last_kg: float, apart: int) -> None:
        """One step and one for each shot, 30 g either way: both were read with the hoses on."""
        found = reconcile_session(weighed(0.5, 0.5, end_kg=None, last_kg=last_kg))
        assert len(found.disagreements) == apart
        assert dict(found.lines)["Scale’s running total"] == pytest.approx(15.0 - last_kg)

    @pytest.mark.parametrize(
        ("end_kg", "apart"), [(14.029, 0), (14.031, 1), (13.911, 0), (13.909, 1)]
    )
    def test_start_minus_end_against_the_scale_s_total(self, end_kg: float, apart: int) -> None:
        """Three steps, and 60 g in the hoses on one side."""
        found = reconcile_session(weighed(0.5, 0.5, end_kg=end_kg, last_kg=14.0))
        against = [each for each in found.disagreements if "running" in each.second]
        assert len(against) == apart

    def test_twice_what_the_hose_model_says_where_that_is_more(self) -> None:
        full = {"end_kg": 13.87, "last_kg": None, "hoses_from_cylinder_kg": 0.05}
        assert not reconcile_session(weighed(0.5, 0.5, **full)).disagrees  # type: ignore[arg-type]
        full = {"end_kg": 13.85, "last_kg": None, "hoses_from_cylinder_kg": 0.05}
        assert reconcile_session(weighed(0.5, 0.5, **full)).disagrees  # type: ignore[arg-type]
        full = {"end_kg": 13.89, "last_kg": None, "hoses_from_cylinder_kg": 0.02}
        assert reconcile_session(weighed(0.5, 0.5, **full)).disagrees  # type: ignore[arg-type]

    def test_with_a_shot_not_weighed_the_sum_is_a_lower_limit(self) -> None:
        state = weighed(0.5, end_kg=13.0, last_kg=13.0)
        odd = Shot("u", at(900), at(910), 10.0, doubtful_time=False, amount_kg=None)
        found = reconcile_session(replace(state, shots=(*state.shots, odd)))
        assert not found.disagrees
        assert [each.code for each in found.findings] == ["one_unweighed_shot"]
        twice = reconcile_session(replace(state, shots=(*state.shots, odd, odd)))
        assert [each.code for each in twice.findings] == ["unweighed_shots"]
        assert twice.findings[0].facts[0].text == "2"
        lost = replace(state, end_weight=Weight("e", at(9000), 14.6))
        lost = replace(lost, last_scale_kg=None, shots=(*state.shots, odd))
        assert reconcile_session(lost).disagrees

    def test_what_is_missing_is_named(self) -> None:
        nothing = weighed(end_kg=None, last_kg=None, start_weight=None, scale=None)
        found = reconcile_session(nothing)
        told = [each.code for each in found.findings]
        assert told == ["no_start_weight", "no_end_weight", "no_scale_step"]
        assert found.lines == ()
        agreed = reconcile_session(weighed(0.5, 0.5, end_kg=14.0, last_kg=14.0))
        assert [each.code for each in agreed.findings] == ["weights_agree"]
        dead = reconcile_session(weighed(0.5, 0.5, end_kg=14.0, last_kg=None))
        assert [each.code for each in dead.findings] == ["scale_lost"]

    def test_the_lines_add_up(self) -> None:
        state = weighed(0.5, 0.5, end_kg=13.94, last_kg=13.97)
        known = replace(state, hoses_from_cylinder_kg=0.04, hoses_brought_kg=0.03)
        lines = dict(reconcile_session(known).lines)
        assert lines == pytest.approx(
            {
                "Start weight": 15.0,
                "End weight": 13.94,
                "Start minus end": 1.06,
                "Sum of shots": 1.0,
                "Scale’s running total": 1.03,
                "Hoses, cleared into the unit": 0.03,
                "Hoses, filled from the cylinder": 0.04,
                "Difference to shots and hoses": 0.02,
            }
        )
        plain = dict(reconcile_session(state).lines)
        assert plain["Difference to the shots"] == pytest.approx(0.06)
        assert "Hoses, filled from the cylinder" not in plain
        unopened = dict(reconcile_session(replace(state, hoses_from_cylinder_kg=0.04)).lines)
        assert "Hoses, filled from the cylinder" not in unopened
        assert unopened["Difference to the shots"] == pytest.approx(0.06)
        kept = replace(state, hoses_recovered_kg=0.05)
        assert "Hoses, recovered, estimate" not in dict(reconcile_session(kept).lines)
        done = replace(kept, done={"off_recover": "x"})
        assert dict(reconcile_session(done).lines)["Hoses, recovered, estimate"] == 0.05
        on_scale = replace(done, hoses_weighed_kg=0.06)
        lines = dict(reconcile_session(on_scale).lines)
        assert lines["Hoses, recovered, weighed"] == 0.06
        assert "Hoses, recovered, estimate" not in lines


class TestCylinder:
    def test_what_is_left_is_by_weight_less_its_shots_and_hoses(self) -> None:
        state = shoot(shoot(at_work(), 100, 0.5), 200, 0.3)
        assert cylinder.left_in_cylinder(state) == pytest.approx(9.2)
        assert cylinder.left_beside_hoses(
            replace(state, hoses_from_cylinder_kg=0.2)
        ) == pytest.approx(9.0)
        assert cylinder.left_beside_hoses(replace(state, hoses_from_cylinder_kg=99.0)) == 0.0
        assert cylinder.left_in_cylinder(replace(state, start_weight=None)) is None
        assert cylinder.left_in_cylinder(replace(state, cylinder=None)) is None
        assert cylinder.left_beside_hoses(replace(state, cylinder=None)) is None

    def test_shots_of_the_cylinder_before_are_not_its_own(self) -> None:
        state = shoot(shoot(shoot(at_work(), 100, 0.5), 200, 0.3), 300, 0.2)
        assert state.cylinder is not None
        used = UsedCylinder(state.cylinder, None, None, None, 2)
        second = replace(state, used_before=(used,))
        assert [shot.amount_kg for shot in shots_of_cylinder(second)] == [0.2]
        assert cylinder.left_in_cylinder(second) == pytest.approx(9.8)
        assert added_kg(second) == pytest.approx(1.0)

    @pytest.mark.parametrize(
        ("left_kg", "code"),
        [
            (0.0, "cylinder_empty"),
            (0.1, "not_enough"),
            (0.2, "barely_enough"),
            (0.49, "barely_enough"),
            (0.5, None),
        ],
    )
    def test_whether_it_holds_enough(self, left_kg: float, code: str | None) -> None:
        found = cylinder.enough(left_kg, 0.2, 0.5)
        assert (None if found is None else found.code) == code

    @pytest.mark.parametrize(("fahrenheit", "hot"), [(124.9, False), (125.1, True)])
    def test_it_is_hot_above_125_f(self, handbook: Handbook, fahrenheit: float, hot: bool) -> None:
        kelvin = (fahrenheit + 459.67) / 1.8
        state = at_work(cylinder=Cylinder("4", "R-410A", 5.0, "dip_tube", None, kelvin))
        told = [
            each.code
            for each in cylinder.contents_findings(state.cylinder, state.system, None, handbook)
        ]
        assert ("cylinder_hot" in told) == hot
        assert "contents_half" in told
        assert cylinder.contents_findings(None, state.system, None, handbook) == ()

    @pytest.mark.parametrize(
        ("off_psi", "code"),
        [
            (-7.5, "contents_low"),
            (-6.5, "contents_agree"),
            (6.5, "contents_agree"),
            (7.5, "contents_high"),
        ],
    )
    def test_its_pressure_is_saturation_within_gauge_and_thermometer(
        self, handbook: Handbook, off_psi: float, code: str
    ) -> None:
        """R-407C at 77 °F: dew point at 77 − 1.377 °F less 7 psi, bubble point at 77 + 1.377 °F
        and 7 psi."""
        table = handbook.tables["R-407C"]
        error = (1.3 + 0.077) / 1.8
        middle = (77.0 + 459.67) / 1.8
        edge = dew_pressure(table, middle - error)
        if off_psi > 0.0:
            edge = bubble_pressure(table, middle + error)
        assert isinstance(edge, float)
        gauge = edge + off_psi * PSI_PA - STANDARD_PA
        found = cylinder.resting_pressure(table, gauge, middle, STANDARD_PA)
        assert found.code == code
        assert found.level == ("shows" if code == "contents_agree" else "refuse")
        facts = {each.name: each.value for each in found.facts}
        assert facts["pressure"] == gauge
        assert facts["lowest"] < facts["highest"]

    def test_the_high_side_is_above_it_only_past_its_pressure(self) -> None:
        assert cylinder.high_side_above(1.0e6, 1.0e6, STANDARD_PA) is None
        assert cylinder.high_side_above(1.0e6, None, STANDARD_PA) is None
        found = cylinder.high_side_above(1.0e6, 1.1e6, STANDARD_PA)
        assert found is not None
        facts = {each.name: each.value for each in found.facts}
        assert facts == pytest.approx({"liquid": 1.1e6 - 101325.0, "cylinder": 1.0e6 - 101325.0})

    def test_it_is_cold_where_it_is_not_above_the_suction(self, handbook: Handbook) -> None:
        """By its gauge, else by its temperature, else by the outdoor air."""
        table = handbook.tables["R-410A"]
        saturated = bubble_pressure(table, 280.0)
        assert isinstance(saturated, float)

        def cold(
            suction_pa: float | None,
            gauge: float | None,
            kelvin: float | None,
            air_k: float | None = None,
        ) -> bool:
            one = Cylinder("4", "R-410A", 5.0, "invert", gauge, kelvin)
            read = Reading(suction_pressure_pa=suction_pa, outdoor_dry_bulb_k=air_k)
            return cylinder._colder_than_suction(one, table, read, STANDARD_PA) is not None

        gauge = 0.8e6
        assert cold(gauge + STANDARD_PA + 1.0, gauge, None)
        assert not cold(gauge + STANDARD_PA - 1.0, gauge, None)
        assert not cold(gauge + STANDARD_PA - 1.0, gauge, 200.0)
        assert cold(saturated + 1.0, None, 280.0)
        assert not cold(saturated - 1.0, None, 280.0)
        assert not cold(saturated + 1.0, None, None)
        assert not cold(None, gauge, None)
        assert not cold(saturated + 1.0, None, 500.0)
        assert cold(saturated + 1.0, None, None, 280.0)
        assert not cold(saturated - 1.0, None, None, 280.0)
        assert not cold(saturated + 1.0, None, 290.0, 280.0)
        assert not cold(saturated + 1.0, 1.1e6, None, 280.0)

    @pytest.mark.parametrize(
        ("label", "tare_kg", "another"),
        [
            ("4", 5.0, False),
            (" 4 ", 5.0, False),
            ("5", 5.0, True),
            ("4", 5.0029, False),
            ("4", 5.0031, True),
            ("4", 4.9969, True),
        ],
    )
    def test_another_label_or_tare_is_another(
        self, label: str, tare_kg: float, another: bool
    ) -> None:
        before = Cylinder("4", "R-410A", 5.0, "invert", None, None)
        now = replace(before, label=label, tare_kg=tare_kg)
        assert is_another(before, now) == another
        assert not is_another(None, now)


class TestScale:
    @pytest.mark.parametrize(
        ("mode", "before", "after", "amount"),
        [
            (GROSS, 15.0, 14.9, 0.1),
            (ZEROED, -0.1, -0.3, 0.2),
            (ZEROED, 0.1, 0.3, 0.2),
            (ZEROED, 0.0, -0.3, 0.3),
        ],
    )
    def test_what_left_the_cylinder(
        self, mode: str, before: float, after: float, amount: float
    ) -> None:
        assert taken_out(mode, before, after) == pytest.approx(amount)  # type: ignore[arg-type]
        shown = scale_after(mode, before, amount)  # type: ignore[arg-type]
        assert shown == pytest.approx(after if before != 0.0 else 0.3)

    def test_a_gross_scale_never_shows_less_than_nothing(self) -> None:
        assert scale_after(GROSS, 0.1, 0.1) == 0.0
        assert scale_after(GROSS, 0.1, 0.2) is None

    @pytest.mark.parametrize(
        ("after", "told"),
        [(15.009, False), (15.011, True), (4.981, False), (4.979, True), (-0.1, True)],
    )
    def test_after_a_shot_it_neither_gained_nor_lost_more_than_was_inside(
        self, after: float, told: bool
    ) -> None:
        """15 kg before it: a step more at most. 10 kg inside and two steps."""
        problems: dict[str, str] = {}
        scale_entry.check_after(at_work(), 15.0, fields({"scale_after": after}), problems)
        assert ("scale_after" in problems) == told

    def test_without_scale_or_reading_nothing_is_said(self) -> None:
        problems: dict[str, str] = {}
        far = fields({"scale_after": 99.0})
        scale_entry.check_after(at_work(scale=None), 15.0, far, problems)
        scale_entry.check_after(at_work(), None, far, problems)
        scale_entry.check_after(at_work(), 15.0, fields(), problems)
        assert problems == {}

    @pytest.mark.parametrize(
        ("shown", "last", "told"),
        [
            (-0.02, 0.02, True),
            (0.02, -0.02, True),
            (-0.02, 0.009, False),
            (-0.009, 0.02, False),
            (0.02, -0.009, False),
            (0.009, -0.02, False),
            (-0.02, None, False),
        ],
    )
    def test_a_zeroed_scale_does_not_cross_zero(
        self, shown: float, last: float | None, told: bool
    ) -> None:
        """By more than a step on both sides."""
        zeroed = at_work(scale=ScaleSetting(ZEROED, 0.0, STEP_KG))
        for name, known in (("scale_before", "last_scale_kg"), ("scale_after", "shot_before_kg")):
            problems: dict[str, str] = {}
            state = replace(zeroed, **{known: last})  # type: ignore[arg-type]
            scale_entry.check_sign(state, fields({name: shown}), name, problems)
            assert (name in problems) == told

    @pytest.mark.parametrize(
        ("numbers", "mode", "told"),
        [
            ({"scale_resolution": 0.0}, GROSS, ["scale_resolution"]),
            ({"scale_resolution": 0.001}, GROSS, []),
            ({"scale_reading": -0.1}, GROSS, ["scale_reading"]),
            ({"scale_reading": 0.0}, GROSS, []),
            ({"scale_reading": -0.1}, ZEROED, []),
        ],
    )
    def test_its_setting(self, numbers: dict[str, float], mode: str, told: list[str]) -> None:
        problems: dict[str, str] = {}
        scale_entry.check_setting(at_work(), fields(numbers, scale_mode=mode), problems)
        assert list(problems) == told


class TestHeavyShot:
    """0.1 kg in 20 s were planned; two steps of 10 g are not sure."""

    @pytest.mark.parametrize(
        ("amount_kg", "open_s", "told", "quick"),
        [
            (0.199, 40.0, False, False),
            (0.201, 40.0, True, False),
            (0.119, 10.0, False, False),
            (0.121, 10.0, True, True),
            (0.201, 8.0, True, True),
        ],
    )
    def test_is_twice_the_amount_or_twice_the_flow(
        self, amount_kg: float, open_s: float, told: bool, quick: bool
    ) -> None:
        shot = Shot(
            "s",
            at(0),
            at(20),
            open_s,
            doubtful_time=False,
            amount_kg=amount_kg,
            planned_kg=0.1,
            planned_s=20.0,
            step_kg=STEP_KG,
        )
        found = far_from_plan(shot)
        assert (found is not None) == told
        if found is not None:
            assert found.quick == quick
            assert (found.kg, found.planned_kg) == (amount_kg, 0.1)
        for unknown in ({"planned_kg": None}, {"step_kg": None}, {"amount_kg": None}):
            assert far_from_plan(replace(shot, **unknown)) is None  # type: ignore[arg-type]
        doubtful = far_from_plan(replace(shot, doubtful_time=True))
        assert (doubtful is not None) == (amount_kg > 0.2)
        assert doubtful is None or doubtful.open_s is None
        for lacking in ({"open_s": 0.0}, {"open_s": None}, {"planned_s": None}, {"planned_s": 0.0}):
            by_weight = far_from_plan(replace(shot, **lacking))  # type: ignore[arg-type]
            assert (by_weight is not None) == (amount_kg > 0.2)

    def test_must_be_sure_by_the_scale(self) -> None:
        """A coarse scale: 25 g with steps of 10 g are not sure to be more than 10 g."""
        shot = Shot(
            "s",
            at(0),
            at(20),
            None,
            doubtful_time=False,
            amount_kg=0.025,
            planned_kg=0.010,
            step_kg=STEP_KG,
        )
        assert far_from_plan(shot) is None
        assert far_from_plan(replace(shot, amount_kg=0.031)) is not None


class TestRecoveryCylinder:
    def test_each_rule_s_limit_for_20_kg_of_water(self, handbook: Handbook) -> None:
        """0.80 × water; the same by density at 77 °F over water's 997 kg/m³; 0.74 of liquid at
        130 °F over 999; 1.05 for R-22 alone."""
        for name in ("R-410A", "R-22"):
            table = handbook.tables[name]
            densities = []
            for fahrenheit in (77.0, 130.0):
                pressure = bubble_pressure(table, (fahrenheit + 459.67) / 1.8)
                assert isinstance(pressure, float)
                density = liquid_density(table, pressure)
                assert isinstance(density, float)
                densities.append(density)
            limits = [each.kg for each in recovering.fill_limits(20.0, table)]
            expected = [16.0, 16.0 * densities[0] / 997.0, 14.8 * densities[1] / 999.0]
            if name == "R-22":
                expected.append(21.0)
            assert limits == pytest.approx(expected)
            best = recovering.fill_limit(20.0, table)
            assert best is not None
            assert best.kg == pytest.approx(min(expected))

    def test_an_unknown_content_gets_the_lightest_refrigerant_s(self, handbook: Handbook) -> None:
        unknown = recovering.strictest_limit(20.0, "", handbook)
        assert unknown is not None
        for name, refrigerant in handbook.refrigerants.items():
            known = recovering.strictest_limit(20.0, name, handbook)
            if known is not None and refrigerant.use != BY_WEIGHT_ONLY:
                assert unknown.kg <= known.kg
        assert recovering.strictest_limit(20.0, "R-1", handbook) is None

    @pytest.mark.parametrize(
        ("text", "month"),
        [
            ("06/2024", 2024 * 12 + 5),
            ("6-24", 2024 * 12 + 5),
            ("1/1950", 1950 * 12),
            ("12/2200", 2200 * 12 + 11),
            ("12/1949", None),
            ("1/2201", None),
            ("0/2024", None),
            ("13/2024", None),
            ("6.5/2024", None),
            ("6/2024.5", None),
            ("6/99", 2099 * 12 + 5),
            ("6/100", None),
            ("2024", None),
            ("1/2/2024", None),
            ("x/2024", None),
            ("6/x", None),
        ],
    )
    def test_a_stamped_month(self, text: str, month: int | None) -> None:
        assert recovering.stamped_month(text) == month

    def test_is_due_five_years_after_its_test_or_as_stamped(self) -> None:
        tested = {"rc_date": "06/2024", "rc_date_means": "tested"}
        assert recovering.due_month(tested) == 2029 * 12 + 5
        assert recovering.due_month(tested | {"rc_date_means": "due"}) == 2024 * 12 + 5
        assert recovering.due_month({}) is None

    @pytest.mark.parametrize(
        ("refrigerant", "level_inhg"), [("R-410A", 0.0), ("R-22", 0.0), ("R-134a", -10.0)]
    )
    def test_a_whole_charge_is_pulled_to_10_inches_or_none(
        self, handbook: Handbook, refrigerant: str, level_inhg: float
    ) -> None:
        """From 155 psig at 104 °F on it is high pressure: R-134a has about 133 psig, R-22 208."""
        state = at_work(unit_texts={"refrigerant": refrigerant})
        assert recovering.level_pa(state, handbook) == pytest.approx(level_inhg * 3386.389)
        mixed = replace(state, checks={"same_refrigerant": "no"})
        assert recovering.level_pa(mixed, handbook) == pytest.approx(-33863.89)
        unknown = replace(state, unit_texts={"refrigerant": "R-1"})
        assert recovering.level_pa(unknown, handbook) == pytest.approx(-33863.89)


class TestRecovering:
    """20 kg of water, tare 10 kg, 12 kg before: 2 kg inside."""

    @staticmethod
    def state(**changes: object) -> State:
        walk = {
            "recovery.cylinder": fields({"rc_water": 20.0, "rc_tare": 10.0}),
            "recovery.contents": fields({"rc_before": 12.0}),
        }
        base = at_work(unit_texts={"refrigerant": "R-410A"}, walk=walk)
        return replace(base, **changes)  # type: ignore[arg-type]

    def test_room_is_the_limit_less_what_is_inside(self, handbook: Handbook) -> None:
        limit = recovering.limit_now(self.state(), handbook)
        assert limit is not None
        assert recovering.room_kg(self.state(), handbook, 12.0) == pytest.approx(limit.kg - 2.0)
        assert recovering.limit_now(self.state(walk={}), handbook) is None
        assert recovering.room_kg(self.state(walk={}), handbook, 12.0) is None
        assert recovering.limit_now(self.state(unit_texts={}), handbook) is None
        mixed = self.state(unit_texts={}, checks={"same_refrigerant": "no"})
        assert recovering.limit_now(mixed, handbook) is not None

    @pytest.mark.parametrize(
        ("over_kg", "told"), [(-0.001, False), (0.0022, False), (0.0024, True)]
    )
    def test_after_it_no_more_than_the_limit(
        self, handbook: Handbook, over_kg: float, told: bool
    ) -> None:
        limit = recovering.limit_now(self.state(), handbook)
        assert limit is not None
        problems: dict[str, str] = {}
        entered = fields({"rc_after": 10.0 + limit.kg + over_kg})
        assert recovering.check_after(self.state(), entered, handbook, problems) == ""
        assert ("rc_after" in problems) == told

    @pytest.mark.parametrize(("after_kg", "told"), [(12.0, False), (11.999, True)])
    def test_after_it_no_less_than_before(
        self, handbook: Handbook, after_kg: float, told: bool
    ) -> None:
        problems: dict[str, str] = {}
        recovering.check_after(self.state(), fields({"rc_after": after_kg}), handbook, problems)
        assert ("rc_after" in problems) == told
        assert recovering.check_after(self.state(walk={}), fields(), handbook, {}) != ""

    @pytest.mark.parametrize(
        ("left_pa", "what", "told"),
        [(900.0, "whole", False), (1100.0, "whole", True), (9e5, "part", False)],
    )
    def test_a_whole_charge_is_down_to_its_level(
        self, handbook: Handbook, left_pa: float, what: str, told: bool
    ) -> None:
        """R-410A to 0 psig, within 1000 Pa."""
        problems: dict[str, str] = {}
        entered = fields({"rc_after": 13.0, "rc_left": left_pa}, rc_what=what)
        recovering.check_after(self.state(), entered, handbook, problems)
        assert ("rc_left" in problems) == told

    @pytest.mark.parametrize(
        ("what", "then", "told"),
        [
            ("whole", "readings", ["rc_next"]),
            ("whole", "weigh_in", []),
            ("part", "weigh_in", ["rc_what"]),
            ("part", "readings", []),
        ],
    )
    def test_what_follows_fits(
        self, handbook: Handbook, what: str, then: str, told: list[str]
    ) -> None:
        problems: dict[str, str] = {}
        entered = fields({"rc_after": 13.0}, rc_what=what, rc_next=then)
        recovering.check_after(self.state(), entered, handbook, problems)
        assert list(problems) == told

    @pytest.mark.parametrize(
        ("inside", "before_kg", "told"),
        [
            ("empty", 10.059, []),
            ("empty", 10.061, ["rc_before"]),
            ("empty", 9.941, []),
            ("empty", 9.939, ["rc_before"]),
            ("one", 12.0, []),
            ("one", 9.939, ["rc_before"]),
            ("mixed", 12.0, ["rc_inside"]),
        ],
    )
    def test_what_is_inside_fits_its_weight(
        self, handbook: Handbook, inside: str, before_kg: float, told: list[str]
    ) -> None:
        problems: dict[str, str] = {}
        entered = fields({"rc_before": before_kg}, rc_inside=inside, rc_refrigerant="R-410A")
        assert recovering.check_contents(self.state(), entered, handbook, problems) == ""
        assert list(problems) == told

    def test_a_full_one_is_refused(self, handbook: Handbook) -> None:
        limit = recovering.limit_now(self.state(), handbook)
        assert limit is not None
        for room, told in ((0.0024, False), (0.0, True), (-0.1, True)):
            problems: dict[str, str] = {}
            entered = fields(
                {"rc_before": 10.0 + limit.kg - room}, rc_inside="one", rc_refrigerant="R-410A"
            )
            recovering.check_contents(self.state(), entered, handbook, problems)
            assert ("rc_before" in problems) == told

    @pytest.mark.parametrize(("share", "told"), [(1.01, False), (0.99, True)])
    def test_a_weak_one_is_refused(self, handbook: Handbook, share: float, told: bool) -> None:
        """At 131 °F not over 5/4 of its service pressure (49 CFR 173.304a)."""
        hottest = bubble_pressure(handbook.tables["R-410A"], (131.0 + 459.67) / 1.8)
        assert isinstance(hottest, float)
        problems: dict[str, str] = {}
        service = share * (hottest - STANDARD_PA) / 1.25
        entered = fields({"rc_service": service}, rc_date="06/2024")
        recovering.check_cylinder(self.state(), entered, handbook, problems)
        assert ("rc_service" in problems) == told

    def test_an_emptied_unit_is_weighed_in_and_an_unread_one_waits(self) -> None:
        assert recovered_blocks(self.state()) == []
        part, whole = Recovered(at(0), 1.0, False), Recovered(at(0), 3.0, True)
        for taken, code in (
            ((part,), "recovered"),
            ((whole,), "emptied"),
            ((whole, part), "emptied"),
        ):
            found = recovered_blocks(self.state(recovered=taken))
            assert [each.code for each in found] == [code]
        for seconds, told in ((899.0, True), (901.0, False)):
            read = Taken(
                "r",
                at(seconds),
                None,
                False,
                0,
                0.0,
                None,
                True,
                None,  # type: ignore[arg-type]
            )
            found = recovered_blocks(self.state(recovered=(part,), readings=(read,)))
            assert (found != []) == told


class TestWeighIn:
    """Nameplate 3 kg, 15 m of line at 20 g a meter with 5 m covered, 50 g for the coil and
    30 g for the drier."""

    NUMBERS = (
        ("nameplate_charge", 3.0),
        ("line_length", 15.0),
        ("line_included", 5.0),
        ("line_adder", 0.02),
    )

    @staticmethod
    def state(numbers: dict[str, float] | None = None, **changes: object) -> State:
        walk = {"weighing.total": fields({"coil_adder": 0.05, "drier_adder": 0.03})}
        known = dict(TestWeighIn.NUMBERS) if numbers is None else numbers
        base = at_work(unit_numbers=known, unit_texts={"refrigerant": "R-410A"}, walk=walk)
        return replace(base, **changes)  # type: ignore[arg-type]

    def test_the_whole_charge_is_the_sum_of_its_parts(self) -> None:
        whole = weighing.whole_charge(self.state())
        assert whole.total_kg == pytest.approx(3.28)
        assert dict(whole.parts) == pytest.approx(
            {"Nameplate": 3.0, "Line set": 0.2, "Indoor coil": 0.05, "Drier": 0.03}
        )
        assert whole.missing == ""
        no_line = self.state({"nameplate_charge": 3.0})
        assert weighing.whole_charge(no_line).total_kg is None
        assert weighing.whole_charge(no_line).missing != ""
        package = replace(no_line, machine=Machine(COOLING, FULL_STAGE, PACKAGE))
        assert weighing.whole_charge(package).total_kg == pytest.approx(3.08)
        unasked = replace(no_line, machine=None)
        assert weighing.whole_charge(unasked).total_kg is None
        assert weighing.whole_charge(self.state(walk={})).total_kg is None
        assert weighing.whole_charge(self.state({})).total_kg is None

    @staticmethod
    def after_test(**numbers: float) -> Tightness:
        held = {"test_pressure": 1.0e6, "test_end": 1.0e6, "test_held": 900.0, "test_asked": 1.0e6}
        return weighing.verdict_of_test(fields(held | numbers, leak="none_found"))

    @pytest.mark.parametrize(
        ("numbers", "passed"),
        [
            ({}, True),
            ({"test_end": 0.981e6}, True),
            ({"test_end": 0.979e6}, False),
            ({"test_pressure": 0.981e6, "test_end": 0.981e6}, True),
            ({"test_pressure": 0.979e6, "test_end": 0.979e6}, False),
            ({"test_held": 899.0}, False),
            ({"test_held": 899.0, "test_asked_held": 600.0}, True),
            ({"test_held": 900.0, "test_asked_held": 1200.0}, False),
        ],
    )
    def test_the_nitrogen_is_held_within_2_percent_for_15_minutes(
        self, numbers: dict[str, float], passed: bool
    ) -> None:
        found = self.after_test(**numbers)
        assert found.passed == passed
        assert (found.sentence == "The nitrogen test passed.") == passed

    def test_without_the_papers_it_is_150_psig(self) -> None:
        for psig, passed in ((147.1, True), (146.9, False)):
            pressure = psig * PSI_PA
            numbers = {"test_pressure": pressure, "test_end": pressure, "test_held": 900.0}
            found = weighing.verdict_of_test(fields(numbers, leak="none_found"))
            assert found.passed == passed
            assert not weighing.verdict_of_test(fields(numbers, leak="found")).passed
        assert not weighing.pressure_verdict(self.state()).passed

    @pytest.mark.parametrize(
        ("start", "end", "numbers", "plate", "told"),
        [
            (1.01e6, 1.01e6, {"test_asked": 1.0e6}, None, []),
            (1.03e6, 1.03e6, {"test_asked": 1.0e6}, None, ["test_pressure"]),
            (1.0e6, 1.01e6, {"test_asked": 1.0e6}, None, []),
            (1.0e6, 1.03e6, {"test_asked": 1.0e6}, None, ["test_end"]),
            (152.0 * PSI_PA, 1.0e6, {}, None, []),
            (154.0 * PSI_PA, 1.0e6, {}, None, ["test_pressure"]),
            (1.0e6, 1.0e6, {"test_asked": 1.0e6}, 1.0e6, []),
            (0.9e6, 0.9e6, {"test_asked": 1.0e6}, 0.99e6, ["test_asked"]),
        ],
    )
    def test_no_more_than_the_test_pressure_nor_the_plate(
        self,
        start: float,
        end: float,
        numbers: dict[str, float],
        plate: float | None,
        told: list[str],
    ) -> None:
        problems: dict[str, str] = {}
        unit = {} if plate is None else {"high_side_limit": plate}
        entered = fields({"test_pressure": start, "test_end": end} | numbers)
        weighing.check_test(self.state(unit), entered, problems)
        assert list(problems) == told
        weighing.check_test(self.state(unit), fields({"test_end": 9e9}), {})

    @pytest.mark.parametrize(
        ("microns", "seconds", "numbers", "passed"),
        [
            (499.0, 1200.0, {}, True),
            (501.0, 1200.0, {}, False),
            (499.0, 1199.0, {}, False),
            (699.0, 900.0, {"vacuum_limit": 700.0, "vacuum_limit_time": 900.0}, True),
            (701.0, 900.0, {"vacuum_limit": 700.0, "vacuum_limit_time": 900.0}, False),
            (699.0, 899.0, {"vacuum_limit": 700.0, "vacuum_limit_time": 900.0}, False),
        ],
    )
    def test_the_vacuum_stays_below_500_microns_for_20_minutes(
        self, microns: float, seconds: float, numbers: dict[str, float], passed: bool
    ) -> None:
        """A micron of mercury is 0.1333 Pa."""
        known = {"vacuum_end": microns * 0.133322, "vacuum_time": seconds}
        if "vacuum_limit" in numbers:
            numbers = numbers | {"vacuum_limit": numbers["vacuum_limit"] * 0.133322}
        state = self.state(walk={"vacuum.held": fields(known | numbers)})
        assert weighing.vacuum_verdict(state).passed == passed
        assert not weighing.vacuum_verdict(self.state()).passed

    def test_what_went_in_and_what_left_the_cylinder(self) -> None:
        lots = (Lot("weighing.off", 2.0, "w", at(0)), Lot("weighing.rest", 1.0, "w", at(0)))
        state = shoot(shoot(self.state(lots=lots), 100, 0.5), 200, 0.3)
        assert weighing.charged_kg(state) == pytest.approx(3.0)
        assert weighing.charged_kg(replace(state, lots_recovered=1)) == pytest.approx(1.0)
        assert weighing.charged_kg(self.state()) == 0.0
        start = replace(state.start_weight or Weight("w", at(0), 15.0), shots=1)
        ended = replace(state, end_weight=Weight("e", at(9000), 11.0), start_weight=start)
        assert weighing.by_weights_kg(ended) == pytest.approx(3.7)
        assert weighing.by_weights_kg(state) is None
        assert weighing.by_weights_kg(replace(ended, start_weight=None)) is None

    @pytest.mark.parametrize(
        ("charged_kg", "left_kg", "agrees"),
        [
            (3.28, 3.28, True),
            (3.28 + 0.9 * OUNCE_KG, 3.28 + 0.9 * OUNCE_KG, True),
            (3.28 - 1.1 * OUNCE_KG, 3.28, False),
            (3.28 + 1.1 * OUNCE_KG, 3.28, False),
            (3.28, 3.28 - 1.9 * OUNCE_KG, True),
            (3.28, 3.28 - 2.1 * OUNCE_KG, False),
            (3.28, 3.28 + 1.9 * OUNCE_KG + 0.06, True),
            (3.28, 3.28 + 2.1 * OUNCE_KG + 0.06, False),
        ],
    )
    def test_a_difference_of_more_than_the_scales_is_told(
        self, charged_kg: float, left_kg: float, agrees: bool
    ) -> None:
        """An ounce against the whole charge; two weighings of an ounce, and 60 g in the hoses, by
        the cylinder."""
        lots = (Lot("weighing.off", charged_kg, "w", at(0)),)
        state = self.state(lots=lots, end_weight=Weight("e", at(9000), 15.0 - left_kg))
        assert (weighing.difference(state) == "") == agrees
        problems: dict[str, str] = {}
        weighing.check_result(state, fields(), problems)
        assert (problems == {}) == agrees
        explained: dict[str, str] = {}
        weighing.check_result(state, fields(explanation="unknown"), explained)
        assert explained == {}
        assert weighing.difference(replace(state, end_weight=None)) != ""

    @pytest.mark.parametrize(
        ("mode", "port", "safety", "runs", "refused"),
        [
            (COOLING, "", "A1", "yes", ""),
            (HEATING, "large_line", "A1", "yes", "In heating"),
            (HEATING, "suction_port", "A1", "yes", ""),
            (COOLING, "", "A2L", "yes", ""),
            (COOLING, "", "A3", "yes", "goes in with the unit off only"),
            (COOLING, "", "A1", "no", "runs properly"),
            (COOLING, "", "A1", None, "runs properly"),
        ],
    )
    def test_the_rest_goes_into_a_sound_running_unit_only(
        self,
        handbook: Handbook,
        mode: str,
        port: str,
        safety: str,
        runs: str | None,
        refused: str,
    ) -> None:
        refrigerant = replace(handbook.refrigerants["R-410A"], safety_class=safety)
        walk = {} if runs is None else {"weighing.run": fields(runs_well=runs)}
        machine = replace(Machine(COOLING, FULL_STAGE, SPLIT), mode=mode, port=port)  # type: ignore[arg-type]
        state = self.state(walk=walk, machine=machine, refrigerant=refrigerant)
        found = weighing.rest_refused(state)
        assert (found == "") == (refused == "")
        assert refused in found


class TestWhatMustBeDoneFirst:
    """A state that lets the next thing be done, and each part of it taken away."""

    WALK = (
        ("weighing.ready", fields()),
        ("weighing.total", fields({"coil_adder": 0.05, "drier_adder": 0.03})),
        (
            "pressure.tested",
            fields(
                {"test_pressure": 1.1e6, "test_end": 1.1e6, "test_held": 900.0}, leak="none_found"
            ),
        ),
        ("vacuum.held", fields({"vacuum_end": 50.0, "vacuum_time": 1200.0})),
    )

    @staticmethod
    def state(**changes: object) -> State:
        walk = dict(TestWhatMustBeDoneFirst.WALK)
        return TestWeighIn.state(**({"walk": walk} | changes))

    def without(self, kind: str, instead: Fields | None = None) -> str:
        walk = {name: each for name, each in self.WALK if name != kind}
        if instead is not None:
            walk[kind] = instead
        return weighing.why_not(self.state(walk=walk))

    def test_before_refrigerant_goes_into_an_evacuated_unit(self) -> None:
        assert weighing.why_not(self.state()) == ""
        assert "questions before weigh-in" in self.without("weighing.ready")
        assert "lock the disconnect" in self.without("weighing.ready", fields(locked="no"))
        assert "pressure test is not on record" in self.without("pressure.tested")
        assert "vacuum is not on record" in self.without("vacuum.held")
        assert "whole charge is not known" in self.without("weighing.total")
        for changes, sentence in (
            ({"unit_texts": {}}, "Save the unit first"),
            ({"unit_texts": {"refrigerant": "R-744"}}, "R-744 is not walked here"),
            ({"machine": None}, "Unit type and mode"),
            ({"cylinder": None}, "Save the cylinder first"),
            ({"unit_texts": {"refrigerant": "R-32"}}, "Never mix them"),
            ({"start_weight": None}, "has not been weighed"),
        ):
            assert sentence in weighing.why_not(self.state(**changes))
        assert weighing.why_not(self.state(decision="leave")) == ""

    def test_before_a_vacuum_counts(self) -> None:
        problems: dict[str, str] = {}
        untested = self.state(walk={})
        assert weighing.check_vacuum(untested, fields(), problems) != ""
        for end, told in ((50.0, False), (49.0, True)):
            problems = {}
            entered = fields({"vacuum_reached": 50.0, "vacuum_end": end})
            assert weighing.check_vacuum(self.state(), entered, problems) == ""
            assert ("vacuum_end" in problems) == told
        assert weighing.check_vacuum(self.state(), fields({"vacuum_end": 1.0}), problems) == ""

    @pytest.mark.parametrize(
        ("name", "amount_kg", "told"),
        [
            ("charged_off", 1.28 + 0.9 * OUNCE_KG, ""),
            ("charged_off", 1.28 + 1.1 * OUNCE_KG, "more than the whole charge"),
            ("charged_rest", 1.28 + 0.9 * OUNCE_KG, ""),
            ("charged_rest", 1.28 + 1.1 * OUNCE_KG, "more than the whole charge"),
        ],
    )
    def test_no_more_goes_in_than_the_whole_charge(
        self, name: str, amount_kg: float, told: str
    ) -> None:
        """3.28 kg and an ounce; 2 kg went in with the unit off."""
        walk = dict(self.WALK) | {"weighing.run": fields(runs_well="yes")}
        problems: dict[str, str] = {}
        state = self.state(walk=walk, lots=(Lot("weighing.off", 2.0, "w", at(0)),))
        assert weighing.check_charged(state, fields({name: amount_kg}), name, problems) == ""
        assert (OVERFILLED in problems) == (told != "")
        assert told in problems.get(OVERFILLED, "")

    def test_nor_than_the_cylinder_held(self) -> None:
        """2 kg are inside, and two ounces of the scale."""
        small = self.state(start_weight=Weight("w", at(0), 7.0))
        for amount_kg, told in ((2.0 + 1.9 * OUNCE_KG, False), (2.0 + 2.1 * OUNCE_KG, True)):
            problems: dict[str, str] = {}
            entered = fields({"charged_off": amount_kg})
            weighing.check_charged(small, entered, "charged_off", problems)
            assert ("the cylinder held" in problems.get("charged_off", "")) == told

    def test_the_rest_comes_after_the_unit_ran(self) -> None:
        entered = fields({"charged_rest": 0.5})
        assert "unit off first" in weighing.check_charged(self.state(), entered, "charged_rest", {})
        off = (Lot("weighing.off", 2.0, "w", at(0)),)
        problems: dict[str, str] = {}
        weighing.check_charged(self.state(lots=off), entered, "charged_rest", problems)
        assert "runs properly" in problems["charged_rest"]
        nothing: dict[str, str] = {}
        none = fields({"charged_rest": 0.0})
        weighing.check_charged(self.state(lots=off), none, "charged_rest", nothing)
        assert nothing == {}
        assert weighing.check_charged(self.state(walk={}), entered, "charged_off", {}) != ""
        assert weighing.check_charged(self.state(), fields(), "charged_off", {}) == ""

    def test_before_a_recovery_machine_is_started(self, handbook: Handbook) -> None:
        walk = dict(TestRecovering.state().walk) | {"recovery.ready": fields()}
        whole = TestRecovering.state(walk=walk)
        assert recovering.why_not(whole) == ""
        for kind, sentence in (
            ("recovery.ready", "questions before recovery"),
            ("recovery.cylinder", "Save the recovery cylinder"),
            ("recovery.contents", "Weigh the recovery cylinder"),
        ):
            less = {name: each for name, each in walk.items() if name != kind}
            assert sentence in recovering.why_not(replace(whole, walk=less))
        unready = walk | {"recovery.ready": fields(protected="no")}
        assert "Put them on" in recovering.why_not(replace(whole, walk=unready))
        unnamed = replace(whole, unit_texts={})
        assert "Save the unit first" in recovering.why_not(unnamed)
        assert recovering.why_not(replace(unnamed, checks={"same_refrigerant": "no"})) == ""
        burns = replace(whole, refrigerant=handbook.refrigerants["R-32"])
        assert "can burn" in recovering.why_not(burns)
        answered = dict.fromkeys(FLAMMABLE_QUESTIONS, "yes")
        asked = walk | {"recovery.ready": fields(**answered)}
        assert "R-32 burns" in recovering.why_not(replace(burns, walk=asked))
        fit = asked | {"recovery.contents": fields({"rc_before": 12.0}, rc_flammable="yes")}
        assert recovering.why_not(replace(burns, walk=fit)) == ""

    @pytest.mark.parametrize(
        ("stamp", "means", "told"),
        [
            ("11/2021", "tested", ""),
            ("10/2021", "tested", "overdue"),
            ("11/2026", "tested", ""),
            ("12/2026", "tested", "still to come"),
            ("11/2026", "due", ""),
            ("10/2026", "due", "overdue"),
            ("12/2030", "due", ""),
            ("soon", "due", "Type month and year"),
        ],
    )
    def test_a_recovery_cylinder_is_in_date(
        self, handbook: Handbook, stamp: str, means: str, told: str
    ) -> None:
        """In November 2026."""
        noon = Moment("run", 0, 1_794_744_000_000)
        assert recovering.month_of(noon) == 2026 * 12 + 10
        entry = Entry("a", "note", noon, "d", {}, {}, STANDS, amended=False, problems={})
        state = TestRecovering.state(entries=(entry,))
        problems: dict[str, str] = {}
        entered = fields(rc_date=stamp, rc_date_means=means)
        assert recovering.check_cylinder(state, entered, handbook, problems) == ""
        assert ("rc_date" in problems) == (told != "")
        assert told in problems.get("rc_date", "")
        unnamed = replace(state, unit_texts={})
        assert recovering.check_cylinder(unnamed, entered, handbook, {}) != ""
