"""What the hose model says of the shipped procedures, of slips, and of any random turning."""

from functools import cache

import pytest
from hose_cases import REFRIGERANTS, liquid_by_hose, panel, shipped, through, usual
from hypothesis import given, settings
from hypothesis import strategies as st

from lowside.core.handbook.procedure import (
    CHARGE_PAGE,
    CYLINDER,
    LIQUID_LINE,
    OUTSIDE,
    SETTINGS_OF_KIND,
    SUCTION,
    Action,
    Procedure,
    step_by_id,
    valve_by_id,
)
from lowside.core.handbook.saturation import (
    OutOfRange,
    bubble_pressure,
    dew_pressure,
    vapor_density,
)
from lowside.core.handbook.system import DIP_TUBE, INVERT, Withdrawal
from lowside.core.hoses import hazard_words as hz
from lowside.core.hoses.contents import (
    AIR,
    HOSE_BORE_M,
    HOSE_LENGTH_M,
    LIQUID,
    VAPOR,
    Conditions,
    bare,
    conditions_from,
    filling_of,
    held_kg,
    liquid_at,
    usual_conditions,
    vapor_at,
    volumes_of,
)
from lowside.core.hoses.run import (
    StepRun,
    Turn,
    actions_of,
    grams,
    hazards_of,
    in_the_way,
    run,
    turn,
)
from lowside.procedures import SHIPPED
from lowside.thermo.tables import load_properties

FAHRENHEIT_95 = 308.15


@cache
def done_right(name: str, refrigerant: str = "R-410A") -> tuple[StepRun, ...]:
    return run(shipped(name), usual(refrigerant))


@pytest.mark.parametrize("withdrawal", [INVERT, DIP_TUBE])
@pytest.mark.parametrize("refrigerant", REFRIGERANTS)
@pytest.mark.parametrize("name", SHIPPED)
def test_a_shipped_procedure_meets_no_hazard_from_start_to_end(
    name: str, refrigerant: str, withdrawal: Withdrawal
) -> None:
    runs = run(shipped(name), usual(refrigerant, withdrawal))
    assert hazards_of(runs) == ()


@pytest.mark.parametrize("name", SHIPPED)
def test_a_shot_feeds_liquid_from_the_cylinder_into_the_suction(name: str) -> None:
    shot = next(made for made in done_right(name) if made.step_id == "shots")
    steady = [flow for flow in shot.turns[0].flows if flow.steady]
    assert [(f.start, f.end, f.phase) for f in steady] == [(CYLINDER, SUCTION, LIQUID)]


@pytest.mark.parametrize("name", SHIPPED)
def test_both_gauges_read_while_readings_are_taken(name: str) -> None:
    for made in done_right(name):
        if made.step_id in ("baseline", "final_reading"):
            blue = made.after.contents["blue"]
            assert blue.pressure_pa == usual().suction_pa
            assert filling_of(blue) == VAPOR
            if "red" in made.after.contents:
                assert made.after.contents["red"].pressure_pa == usual().liquid_pa


@pytest.mark.parametrize("name", SHIPPED)
def test_at_the_end_every_hose_holds_low_side_vapor_or_air_only(name: str) -> None:
    # Common practice, no source: after clearing, every hose holds low-side vapor only.
    runs = done_right(name)
    for made in runs:
        if made.step_id == "clear_high" or (
            made.step_id == "clear_hoses" and "red" not in made.after.contents
        ):
            for contents in made.after.contents.values():
                assert filling_of(contents) == VAPOR
                assert contents.pressure_pa == usual().suction_pa
    assert all(contents.liquid_kg == 0.0 for contents in runs[-1].after.contents.values())
    assert grams(runs).released_liquid_kg == 0.0


def _close_out(name: str, refrigerant: str = "R-410A") -> tuple[StepRun, ...]:
    runs = done_right(name, refrigerant)
    at = [made.step_id for made in runs].index("close_cylinder")
    return runs[at:]


@pytest.mark.parametrize("refrigerant", REFRIGERANTS)
def test_plain_hoses_release_vapor_density_times_volume_at_close_out(refrigerant: str) -> None:
    conditions = usual(refrigerant)
    table = load_properties().tables[refrigerant]
    density = vapor_density(table, conditions.suction_pa)
    assert isinstance(density, float)
    inner = 3.141592653589793 / 4.0 * HOSE_BORE_M * HOSE_BORE_M * HOSE_LENGTH_M
    expected = density * (3.0 * inner + 4.0e-6)
    released = grams(_close_out("plain-three-port", refrigerant)).released_kg
    assert released == pytest.approx(expected, rel=1e-9)
    assert released < 0.005


@pytest.mark.parametrize(
    "name", [name for name in SHIPPED if not name.startswith(("plain", "one"))]
)
def test_hoses_that_shut_keep_that_vapor_in_and_release_nothing_at_close_out(name: str) -> None:
    found = grams(_close_out(name))
    sizes = volumes_of(shipped(name), usual())
    expected = vapor_at(usual().densities, usual().suction_pa) * sum(sizes.values())
    assert found.released_kg == 0.0
    assert found.trapped_kg == pytest.approx(expected, rel=1e-9)
    assert found.trapped_kg < 0.005


def test_trapped_liquid_per_foot_is_the_density_times_the_bore() -> None:
    # /ft at 3/16 in bore, R-410A liquid at 100 °F 0.189 oz: computed with CoolProp.
    table = load_properties().tables["R-410A"]
    pressure = bubble_pressure(table, 310.928)
    assert isinstance(pressure, float)
    made = conditions_from(table, 9.0e5, pressure, 1.7e6, 101325.0, hose_length_m=0.3048)
    assert not isinstance(made, OutOfRange)
    procedure = shipped("hand-valved-three-port")
    found = through(procedure, made, "purge_high")[-1]
    assert found.after.contents["red"].liquid_kg / 0.0283495 == pytest.approx(0.189, abs=0.0006)


def test_conditions_outside_the_table_are_said_to_be_so() -> None:
    found = usual_conditions(load_properties().tables["R-744"], 101325.0)
    assert isinstance(found, OutOfRange)


def _after(name: str, step_id: str) -> StepRun:
    found = through(shipped(name), usual(), step_id)[-1]
    assert found.step_id == step_id
    return found


def _codes(found: Turn) -> list[str]:
    return [hazard.code for hazard in found.hazards]


@pytest.mark.parametrize(
    ("step_id", "actions", "code"),
    [
        ("purge_low", [("low", "open"), ("cylinder_valve", "open")], hz.VAPOR_OUT),
        ("connect", [("red_nut", "tight"), ("red_end", "open"), ("red_nut", "loose")],
         hz.LIQUID_OUT),
        ("connect", [("yellow_nut", "tight"), ("yellow_end", "open"), ("blue_end", "open"),
                     ("cylinder_valve", "open"), ("low", "open")], hz.AIR_IN),
        ("baseline", [("high", "open")], hz.HIGH_TO_CYLINDER),
        ("baseline", [("low", "open")], hz.LIQUID_HELD_OPEN),
        ("final_reading", [("low", "open"), ("high", "open")], hz.HIGH_TO_SUCTION),
        ("baseline", [("cylinder_valve", "closed"), ("yellow_nut", "off")], hz.LIQUID_OUT),
        ("baseline", [("cylinder_position", "upright"), ("low", "open")], hz.CYLINDER_HELD_OPEN),
    ],
)  # fmt: skip
def test_a_known_mistake_is_named_when_the_valve_is_turned(
    step_id: str, actions: list[tuple[str, str]], code: str
) -> None:
    procedure = shipped("hand-valved-three-port")
    now = _after("hand-valved-three-port", step_id).after
    last: Turn | None = None
    for valve, to in actions:
        last = turn(procedure, usual(), now, Action(valve, to))
        now = last.after
    assert last is not None
    assert code in _codes(last)
    assert all(hazard.sentence and hazard.cure for hazard in last.hazards)
    assert all("{" not in hazard.sentence for hazard in last.hazards)


def test_a_cold_cylinder_would_be_filled_by_the_unit() -> None:
    table = load_properties().tables["R-410A"]
    suction = dew_pressure(table, 283.15)
    liquid = bubble_pressure(table, 308.15)
    cold = bubble_pressure(table, 268.15)
    assert isinstance(suction, float)
    assert isinstance(liquid, float)
    assert isinstance(cold, float)
    conditions = conditions_from(table, suction, liquid, cold, 101325.0)
    assert not isinstance(conditions, OutOfRange)
    runs = run(shipped("hand-valved-three-port"), conditions)
    assert ("shots", hz.UNIT_TO_CYLINDER) in [(s, h.code) for s, h in hazards_of(runs)]


def test_a_valve_that_stands_differently_is_explained() -> None:
    procedure = shipped("hand-valved-three-port")
    step = step_by_id(procedure, "liquid")
    assert step is not None
    shown = panel(procedure, usual(), step)
    assert shown is not None
    means = {valve["title"]: valve["means"] for valve in shown["valves"]}
    high = valve_by_id(procedure, "high")
    assert high is not None
    assert hz.hazard(hz.HIGH_TO_CYLINDER).sentence in [one["text"] for one in means[high.title]]


def test_a_port_takes_one_hose_and_a_hose_end_one_port() -> None:
    procedure = shipped("self-closing-three-port")
    now = dict(bare(procedure, usual()).settings)
    now["red_on_suction"] = "tight"
    for valve in ("blue_nut", "red_nut", "yellow_on_suction"):
        blocked = in_the_way(procedure, now, Action(valve, "tight"))
        assert blocked is not None
        assert blocked.id == "red_on_suction"
    assert in_the_way(procedure, now, Action("yellow_nut", "tight")) is None
    assert in_the_way(procedure, now, Action("blue_nut", "off")) is None


def test_a_loose_nut_at_the_manifold_does_not_blow_out_the_hose_behind_it() -> None:
    procedure = shipped("self-closing-three-port")
    now = bare(procedure, usual())
    for valve, to in [
        ("yellow_nut", "tight"),
        ("blue_nut", "tight"),
        ("low", "open"),
        ("yellow_body_nut", "loose"),
    ]:
        now = turn(procedure, usual(), now, Action(valve, to)).after
    assert now.contents["middle"].air == 0.0
    assert now.contents["yellow"].air > 0.0


def test_a_cylinder_blowing_at_its_loose_nut_does_not_blow_out_the_hose_there() -> None:
    procedure = shipped("hand-valved-three-port")
    now = bare(procedure, usual())
    for valve, to in [("yellow_nut", "loose"), ("yellow_end", "open"), ("cylinder_valve", "open")]:
        last = turn(procedure, usual(), now, Action(valve, to))
        now = last.after
    assert now.contents["yellow"].air > 0.0
    assert hz.VAPOR_OUT in _codes(last)


# Random turning: whatever anyone does, mass is kept and what hurts is flagged.

PRESSURES = st.tuples(
    st.floats(3.0e5, 1.4e6), st.floats(1.2e6, 3.2e6), st.floats(4.0e5, 2.4e6)
).filter(lambda p: p[0] < p[1])


@st.composite
def turnings(draw: st.DrawFn) -> tuple[Procedure, Conditions, int, list[Action], bool]:
    procedure = shipped(draw(st.sampled_from(SHIPPED)))
    suction, liquid, cylinder = draw(PRESSURES)
    withdrawal = draw(st.sampled_from([INVERT, DIP_TUBE]))
    table = load_properties().tables[draw(st.sampled_from(["R-410A", "R-22", "R-407C"]))]
    made = conditions_from(table, suction, liquid, cylinder, 101325.0, withdrawal)
    assert not isinstance(made, OutOfRange)
    start = draw(st.integers(0, len(procedure.steps)))
    actions = draw(
        st.lists(
            st.sampled_from(procedure.valves).flatmap(
                lambda valve: st.sampled_from(SETTINGS_OF_KIND[valve.kind]).map(
                    lambda to: Action(valve.id, to)
                )
            ),
            max_size=25,
        )
    )
    return procedure, made, start, actions, draw(st.booleans())


@settings(max_examples=150)
@given(turnings())
def test_random_turning_loses_no_mass_and_hurts_nobody_unwarned(
    case: tuple[Procedure, Conditions, int, list[Action], bool],
) -> None:
    procedure, conditions, start, actions, in_shot = case
    now = bare(procedure, conditions)
    sizes = volumes_of(procedure, conditions)
    done: list[Turn] = []
    for step in procedure.steps[:start]:
        for action in actions_of(procedure, conditions, step):
            made = turn(procedure, conditions, now, action, step.page == CHARGE_PAGE)
            done.append(made)
            now = made.after
    for action in actions:
        made = turn(procedure, conditions, now, action, in_shot)
        done.append(made)
        now = made.after
    for made in done:
        total = sum(made.after.received_kg.values()) + held_kg(made.after)
        assert abs(total) < 1e-12
        codes = _codes(made)
        for name, contents in made.after.contents.items():
            assert contents.air >= 0.0
            assert contents.vapor_kg >= 0.0
            assert contents.liquid_kg >= 0.0
            assert contents.pressure_pa > 0.0
            assert contents.air / contents.pressure_pa <= sizes[name] * (1.0 + 1e-9)
        for flow in made.flows:
            assert flow.kg >= 0.0
            if flow.end == OUTSIDE and flow.phase == LIQUID and flow.kg > 1e-9:
                assert hz.LIQUID_OUT in codes
            if flow.air > 0.0 and flow.end in (SUCTION, LIQUID_LINE, CYLINDER):
                assert hz.AIR_IN in codes
            if flow.steady and (flow.start, flow.end) == (LIQUID_LINE, CYLINDER):
                assert hz.HIGH_TO_CYLINDER in codes
            if flow.steady and (flow.start, flow.end) == (LIQUID_LINE, SUCTION):
                assert hz.HIGH_TO_SUCTION in codes
            if flow.steady and (flow.start, flow.end) == (SUCTION, CYLINDER):
                assert hz.UNIT_TO_CYLINDER in codes
            if flow.steady and flow.end == SUCTION and flow.start == CYLINDER and not in_shot:
                at_shot = made.action.valve == "low"
                assert at_shot or {hz.LIQUID_HELD_OPEN, hz.CYLINDER_HELD_OPEN} & set(codes)
            assert flow.phase in (LIQUID, VAPOR, AIR)


def test_settling_twice_moves_nothing_more() -> None:
    for name in SHIPPED:
        procedure = shipped(name)
        for made in done_right(name):
            first = procedure.valves[0]
            again = turn(procedure, usual(), made.after, Action(first.id, "upright"))
            if made.after.settings[first.id] != "upright":
                continue
            assert [f for f in again.flows if not f.steady and f.kg > 1e-9] == []
    assert step_by_id(shipped(SHIPPED[0]), "shots") is not None


# A nut that is only started, and one that is loose


def _red(to: str, name: str = "hand-valved-three-port") -> Turn:
    return turn(shipped(name), usual(), bare(shipped(name), usual()), Action("red_nut", to))


def test_a_started_nut_leaves_the_core_closed_and_a_loose_one_sprays() -> None:
    # One turn of a 7/16-20 thread is 1.27 mm (arithmetic); a core's travel is not published, so a
    # loose nut counts as one that still presses it.
    started = _red("started")
    assert started.hazards == ()
    assert [flow for flow in started.flows if flow.start == LIQUID_LINE] == []
    loose = _red("loose")
    assert _codes(loose)[:2] == [hz.CORE_PRESSED, hz.LIQUID_OUT]
    assert [f.phase for f in loose.flows if f.start == LIQUID_LINE and f.end == OUTSIDE]


@pytest.mark.parametrize("name", SHIPPED)
def test_the_red_hose_is_purged_with_its_end_off_the_port_or_only_started(name: str) -> None:
    for made in done_right(name):
        for one in made.turns:
            for flow in one.flows:
                if flow.start == "red" and flow.end == OUTSIDE and flow.air > 0.0:
                    at = one.after.settings
                    live = step_by_id(shipped(name), made.step_id)
                    assert live is not None
                    assert at["red_nut"] in ("off", "started") or at.get("port_valve") == "closed"


def test_a_nut_loosened_at_or_below_the_air_s_pressure_is_flagged_before_air_goes_in() -> None:
    table = load_properties().tables["R-134a"]
    for suction in (0.7e5, 101325.0):
        made = conditions_from(table, suction, 9.0e5, 6.5e5, 101325.0)
        assert not isinstance(made, OutOfRange)
        for name in SHIPPED:
            procedure = shipped(name)
            for moment in run(procedure, made):
                settings = dict(moment.before.settings)
                for one in moment.turns:
                    valve = next(v for v in procedure.valves if v.id == one.action.valve)
                    was, now = settings[valve.id], one.action.to
                    settings[valve.id] = now
                    loosened = was == "tight" and now != "tight" and valve.kind == "nut"
                    goes_on = was == "off" and now != "off" and valve.b == SUCTION
                    if loosened or goes_on:
                        assert hz.IN_VACUUM in _codes(one), (name, one.action)


def test_in_a_vacuum_every_flow_of_air_into_the_unit_is_flagged() -> None:
    table = load_properties().tables["R-134a"]
    made = conditions_from(table, 0.6e5, 9.0e5, 6.5e5, 101325.0)
    assert not isinstance(made, OutOfRange)
    seen = 0
    for name in SHIPPED:
        for moment in run(shipped(name), made):
            for one in moment.turns:
                into = [f for f in one.flows if f.air > 0.0 and f.end == SUCTION]
                seen = seen + len(into)
                assert not into or {hz.AIR_IN, hz.IN_VACUUM} & set(_codes(one)), one.action
    assert seen > 5
    port = turn(
        shipped("plain-three-port"),
        made,
        bare(shipped("plain-three-port"), made),
        Action("blue_nut", "loose"),
    )
    assert {hz.AIR_IN, hz.IN_VACUUM} <= set(_codes(port))


def test_positive_suction_pressure_is_asked_for_before_the_first_nut_is_loosened() -> None:
    for name in SHIPPED:
        procedure = shipped(name)
        read = False
        for step in procedure.steps:
            read = read or any("more than 0 psig" in line for line in step.do)
            for action in step.actions:
                valve = next(v for v in procedure.valves if v.id == action.valve)
                if action.to == "loose" and valve.start == "tight":
                    assert read, (name, step.id)
        assert read, name


def test_the_liquid_in_each_hose_is_given_in_kilograms() -> None:
    name = "hand-valved-three-port"
    found = liquid_by_hose(shipped(name), _after(name, "shots").after)
    inner = 3.141592653589793 / 4.0 * HOSE_BORE_M * HOSE_BORE_M * HOSE_LENGTH_M
    assert found["yellow"] == pytest.approx(
        liquid_at(usual().densities, usual().cylinder_pa) * inner
    )
    assert found["red"] == pytest.approx(liquid_at(usual().densities, usual().liquid_pa) * inner)
    assert found["blue"] == 0.0
    assert set(found) == {"blue", "red", "yellow", "middle"}
