"""What the words tell hands to do at the machine, the nitrogen and the hoses, played where a hose
model can: a part recovery, a locked hose and its way out, the outlet hose of the machine.

Sources beside each test.
"""

from dataclasses import replace
from functools import cache

import pytest
from hose_cases import shipped, usual

from lowside.core.handbook.handbook import Handbook
from lowside.core.handbook.procedure import (
    CLOSED,
    GATE,
    HANDWHEEL,
    LOOSE,
    NUT,
    OFF,
    OPEN,
    TIGHT,
    Action,
    Procedure,
    Step,
    step_by_id,
    valve_by_id,
)
from lowside.core.handbook.refrigerants import Refrigerant
from lowside.core.hoses.contents import CHARGE, filling_of
from lowside.core.hoses.hazard_words import (
    AIR_IN,
    DEAD_HEADED,
    HIGH_TO_CYLINDER,
    HIGH_TO_SUCTION,
    LIQUID_LOCKED,
    TEXTS,
)
from lowside.core.hoses.hazards import hazards_at_rest
from lowside.core.hoses.run import follow, turn
from lowside.core.judging.sentences import SENTENCES
from lowside.core.pages.charging import SHOT_CHECK
from lowside.core.session.federal import leak_rule
from lowside.procedures import SHIPPED, load_procedures
from lowside.procedures.slips_everywhere import WEATHER, conditions_in, tried_walk
from lowside.procedures.walk_rig import CLEAR, Part, Played, play, rig_of
from lowside.procedures.walk_slips import PART, RECOVER, dangers, slips, unwarned, walk_of

RIGS = tuple(name for name in SHIPPED if "red" in [one.id for one in shipped(name).volumes])


@cache
def rig(name: str) -> Procedure:
    return rig_of(shipped(name), load_procedures())


def step_of(name: str, procedure: str = RIGS[0]) -> Step:
    step = step_by_id(shipped(procedure), name)
    assert step is not None
    return step


def words(name: str, procedure: str = RIGS[0]) -> str:
    return " ".join(step_of(name, procedure).do)


def in_order(text: str, *said: str) -> None:
    at = 0
    for one in said:
        assert one in text[at:], one
        at = text.index(one, at) + len(one)


def played(name: str, walk: str = PART) -> list[Played]:
    there = usual()
    parts, begun = walk_of(rig(name), walk, there)
    return play(rig(name), there, parts, begun)


# --- recovery of a part. Common practice, no source.


def test_the_words_of_a_part_recovery_are_those_played() -> None:
    in_order(
        words("rec_run"),
        "Then open the high side too.",
        "Only a part?",
        "Machine running: close the low-side manifold valve",
        "then the red hose at the port. A self-closing end: take it off there.",
        "At 0 psig on the high-side gauge close the high-side manifold valve.",
        "Clear the machine by its own instructions, switch it off, close the recovery cylinder.",
        "Whole charge out? Before a nut at the unit is loosened, let dry nitrogen in",
        "After a part never.",
    )
    assert "nitrogen" in step_of("rec_run").cautions


@pytest.mark.parametrize("name", RIGS)
def test_after_a_part_the_unit_is_charged_the_red_hose_clear_and_no_nitrogen_in(name: str) -> None:
    made = played(name)
    held = {one.conditions.walk.holds for one in made if one.conditions.walk is not None}
    assert held == {CHARGE}
    assert [one.what for one in made if "nitrogen" in one.what] == []
    assert [(one.what, bad.sentence) for one in made for bad in one.hazards] == []
    assert dangers(rig(name), made) == []
    shut = next(one for one in made if one.what == "rec_part: high closed")
    assert shut.after.contents["red"].liquid_kg == 0.0
    assert shut.after.contents["red"].pressure_pa == usual().atmosphere_pa
    before = next(one for one in made if one.what == "rec_part: low closed")
    assert before.after.contents["red"].liquid_kg > 0.01, "it was full before"


@pytest.mark.parametrize("weather", WEATHER)
@pytest.mark.parametrize("name", RIGS)
def test_every_slip_of_a_part_recovery_is_flagged(name: str, weather: str) -> None:
    there = conditions_in("R-454B", weather)
    found = tried_walk(rig(name), PART, there)
    assert found.unflagged == ()
    assert found.wrong_when_right == ()
    assert found.dangerous > 30


@pytest.mark.parametrize("name", RIGS)
def test_the_end_that_was_told_before_pushes_nitrogen_into_the_charge(name: str) -> None:
    parts, begun = walk_of(rig(name), PART, usual())
    told = tuple(Action(v, to) for v, to in CLEAR if valve_by_id(rig(name), v) is not None)
    old = play(rig(name), usual(), (parts[0], replace(parts[1], moves=told)), begun)
    assert AIR_IN in [bad.code for one in old for bad in one.hazards]


@pytest.mark.parametrize(
    ("what", "danger"),
    [
        ("rec_part: omit “red hose-end valve closed”", "liquid sprays out"),
        ("rec_part: omit “recovery machine closed”", "the machine pumps against a closed valve"),
        ("rec_part: “nitrogen regulator open” when", ""),
    ],
)
def test_a_known_slip_of_it(what: str, danger: str) -> None:
    parts, begun = walk_of(rig(RIGS[0]), PART, usual())
    made = [slip for said, slip in slips(rig(RIGS[0]), parts) if said.startswith(what)]
    assert len(made) == 1
    run = play(rig(RIGS[0]), usual(), made[0], begun)
    assert ({said for _, said in dangers(rig(RIGS[0]), run)} or {""}) >= {danger}
    assert unwarned(rig(RIGS[0]), run) == []


@pytest.mark.parametrize("name", RIGS)
def test_a_machine_that_stops_meanwhile_leaves_a_way_out_by_the_low_side(name: str) -> None:
    """The red hose is closed at its port and still full: “Open the low side again.”"""
    parts, begun = walk_of(rig(name), PART, usual())
    red = valve_by_id(rig(name), "red_nut")
    assert red is not None
    shut = [Action("red_end", CLOSED), Action("port_valve", CLOSED)]
    shut += [Action("red_nut", OFF)] if red.self_closing else []
    shut = [one for one in shut if valve_by_id(rig(name), one.valve) is not None]
    stopped = (Action("low", CLOSED), Action("machine", CLOSED), *shut)

    def left(*more: Action) -> list[str]:
        part = replace(parts[1], moves=(*stopped, *more))
        run = play(rig(name), usual(), (parts[0], part, Part("more", ())), begun)
        return [bad.code for bad in run[-2].hazards]

    assert LIQUID_LOCKED in left()
    assert LIQUID_LOCKED not in left(Action("low", OPEN))
    assert "Machine stops before? Open the low side again." in words("rec_run")


# --- the machine's outlet hose and the scale.


@pytest.mark.parametrize("walk", [RECOVER, PART])
@pytest.mark.parametrize("name", RIGS)
def test_the_machine_never_pumps_against_a_closed_end(name: str, walk: str) -> None:
    # Common practice, no source. Every move is judged, the tightening of the nut too.
    made = played(name, walk)
    assert not [one.what for one in made if DEAD_HEADED in [bad.code for bad in one.hazards]]
    parts, begun = walk_of(rig(name), walk, usual())
    moves = list(parts[0].moves)
    moves.remove(Action("machine", CLOSED))
    old = play(rig(name), usual(), (replace(parts[0], moves=tuple(moves)), *parts[1:]), begun)
    wrong = [one.what for one in old if DEAD_HEADED in [bad.code for bad in one.hazards]]
    assert wrong == ["rec_run: out_on_rc tight"]


def test_the_words_stop_the_machine_before_the_nut_is_tight() -> None:
    in_order(
        words("rec_run"),
        "its nut there half a turn loose",
        "Start the machine for a moment",
        "Stop it and tighten the nut.",
        "Open the recovery cylinder’s valve. Only then start the machine.",
        "Then open the high side too.",
    )


def test_the_outlet_hose_keeps_its_vapor_for_one_move_only() -> None:
    """Our choice: the nut is tightened at once, or air is back in the hose and is flagged."""
    run = played(RIGS[0])
    names = [one.what for one in run]
    at = names.index("rec_run: machine closed")
    assert filling_of(run[at].after.contents["out"]) == "vapor"
    parts, begun = walk_of(rig(RIGS[0]), PART, usual())
    moves = list(parts[0].moves)
    i = moves.index(Action("out_on_rc", TIGHT))
    assert moves[i - 1] == Action("machine", CLOSED)
    moves.insert(i, Action("low", OPEN))  # it is open: a moment goes by
    late = play(rig(RIGS[0]), usual(), (replace(parts[0], moves=tuple(moves)), parts[1]), begun)
    assert filling_of(late[i].after.contents["out"]) == "air"
    assert "air into a cylinder" in [said for _, said in dangers(rig(RIGS[0]), late)]
    assert unwarned(rig(RIGS[0]), late) == []


def test_the_recovery_cylinder_stands_on_the_scale_and_the_gain_ends_it() -> None:
    # READ: the cylinder is on the scale before recovery takes place, not more than 80 percent,
    # all isolation valves closed off when done (Haier 1U71S2SG1FA, p. 35).
    in_order(
        words("rec_run"),
        "Recovery cylinder upright on the scale.",
        "Note the scale.",
        "Start the machine",
        "Scale up by the room below? Stop, whatever is left.",
        "close the recovery cylinder.",
    )
    assert "p. 35" in step_of("rec_run").source


# --- the way out with the unit off.


@pytest.mark.parametrize("name", SHIPPED)
def test_the_close_out_stops_the_machine_and_closes_its_cylinder(name: str) -> None:
    # READ: as above; refrigerants are not mixed in recovery cylinders (Sinclair AMC, p. 26).
    said = words("off_recover", name)
    in_order(
        said,
        "recovery cylinder in date, with room, for this refrigerant only.",
        "Start the machine.",
        " 0 psig.",
        "Close the ",
        "Clear the machine by its own instructions, switch it off, close the recovery cylinder.",
        "If there is no machine here",
    )
    assert "asphyxiation" in step_of("off_recover", name).cautions
    shut = said[said.index("0 psig.") :].split(". ")[1].removeprefix("Close the ")
    titles = [one.title for one in shipped(name).valves if one.kind in (GATE, HANDWHEEL)]
    assert shut in titles


# --- cures that mend.


LOCKED = [
    ("hand-valved-three-port", "red_end"),
    ("hand-valved-four-port", "red_end"),
    ("plain-three-port", "port_valve"),
    ("self-closing-three-port", "red_nut"),
]


@pytest.mark.parametrize(("name", "valve"), LOCKED)
def test_a_locked_red_hose_is_opened_at_its_port(name: str, valve: str) -> None:
    # The model: neither of the two ways out that were told relieves a red hose.
    procedure = shipped(name)
    there = usual()
    runs = follow(procedure, there)
    before = next(one for one in runs if one.step_id == "tare").after
    was = before.settings[valve]
    shut = CLOSED if was == OPEN else OFF
    locked = turn(procedure, there, before, Action(valve, shut)).after

    def bursts(*moves: Action) -> bool:
        hoses = locked
        for move in moves:
            hoses = turn(procedure, there, hoses, move).after
        left = hazards_at_rest(procedure, there, hoses, False)
        return LIQUID_LOCKED in [one.code for one in left]

    assert bursts()
    assert bursts(Action("low", OPEN))
    assert bursts(Action("cylinder_valve", OPEN))
    assert not bursts(Action(valve, was))
    in_order(TEXTS[LIQUID_LOCKED][1], "Red hose: open to its port again.", "Else the low-side")


def test_a_locked_yellow_hose_still_has_its_two_ways_out() -> None:
    """The control."""
    cure = TEXTS[LIQUID_LOCKED][1]
    assert "low-side manifold valve while the unit runs" in cure
    assert "the cylinder valve when it is off" in cure


@pytest.mark.parametrize("code", [HIGH_TO_CYLINDER, HIGH_TO_SUCTION])
def test_a_cure_says_what_to_do_now(code: str) -> None:
    # Common practice, no source: what should have come before helps nobody at that moment.
    cure = next(text[1] for known, text in TEXTS.items() if known == code)
    assert cure == "Close the high-side manifold valve at once."


def test_nobody_is_told_to_pump_down_a_unit_that_may_hold_air() -> None:
    # READ: JRAIA notice of 2014-03-01: air inside, the liquid valve closed and a running
    # compressor burst it.
    assert "Pump down" not in " ".join(SENTENCES.values())
    in_order(SENTENCES["overcharge"], "Air inside", "Switch the compressor off.", "outdoor fan")


# --- weigh-in.


def test_the_unit_is_started_with_its_own_valves_open() -> None:
    # READ: both pipe valves fully open before a start (JRAIA, as above); suction and liquid valves
    # open (Tecumseh Argus, start-up list, p. 12).
    in_order(
        words("wi_run"),
        "own service valves fully open",
        "high-side manifold valve closed?",
        "Remove the lockout. Start the unit in cooling.",
    )
    assert "iquid line valve" not in words("wi_run")


def test_the_scale_is_zeroed_with_the_cylinder_as_it_stays() -> None:
    # Common practice, no source: a hose pulls on a cylinder that is turned over.
    in_order(words("wi_break"), "Set the cylinder so that it gives liquid.", "Zero the scale, then")
    said = "Up to 1 oz (30 g) a hose, or what the machine takes, is then not in the unit."
    assert said in words("wi_off")


def test_the_nitrogen_cylinder_is_closed_for_the_test() -> None:
    # Common practice, no source: a regulator that creeps hides a leak.
    in_order(words("wi_pressure"), "Close the nitrogen cylinder and the regulator.", "Hold")


def test_nitrogen_and_a_live_panel_are_warned_of(handbook: Handbook) -> None:
    # READ: nitrogen asphyxiates in a confined area without ventilation (Taylor-Wharton EF-1500,
    # p. 4); discharge the capacitor before repair (Daikin SiUS091133, p. viii). The pipes: physics.
    assert "displaces the air too: ventilate." in handbook.cautions["nitrogen"].text
    text = handbook.cautions["electricity"].text
    for said in ("capacitor stays charged", "refrigerant that burns", "Discharge pipes burn"):
        assert said in text
    for name in ("rec_run", "wi_break", "off_recover"):
        assert "asphyxiation" in step_of(name).cautions
    for name in ("decide", "shots"):
        assert "electricity" in step_of(name).cautions
    for procedure in SHIPPED:
        off = step_of("disconnect", procedure).cautions
        assert {"electricity", "moving_parts"} <= set(off)


# --- the rest.


@pytest.mark.parametrize(("use", "told"), [("refrigeration", True), ("air_conditioning", False)])
def test_industrial_process_refrigeration_has_30_percent(
    handbook: Handbook, use: str, told: bool
) -> None:
    # READ: 40 CFR 84.106(c)(2)(ii), H12 of regulations_us.json.
    known: Refrigerant = handbook.refrigerants["R-404A" if told else "R-410A"]
    assert known.use == use
    said = leak_rule(known, 20.0, False)
    assert "84.106" in said
    assert ("30 % in industrial process, 10 % in other equipment" in said) == told


def test_a_heavy_shot_opens_the_valve_less() -> None:
    # Plain words: a valve is closed or it is not.
    assert "Open it less the next time." in SHOT_CHECK


def test_hoses_of_another_refrigerant_are_emptied_where_they_are() -> None:
    # Common practice, no source: the unit they were on is in another town.
    assert "Recover what is in them and evacuate them." in words("cylinder")
    assert "to that unit" not in words("cylinder")


def test_a_loose_nut_is_loose() -> None:
    """The control: the rig still has the nut that the words speak of."""
    nut = valve_by_id(rig(RIGS[0]), "out_on_rc")
    assert nut is not None
    assert nut.kind == NUT
    assert Action("out_on_rc", LOOSE) in walk_of(rig(RIGS[0]), PART, usual())[0][0].moves
