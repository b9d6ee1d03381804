"""The pictures of the walks ring what the hands turn, in the order the hose model plays it."""

import pytest
from strategies import Book

from lowside.core.handbook.handbook import Handbook
from lowside.core.handbook.procedure import step_by_id
from lowside.core.pages.walk_pictures import SEEN, picture_of_walk
from lowside.core.session.fold import fold
from lowside.core.session.state import State
from lowside.procedures.slips_everywhere import conditions_in
from lowside.procedures.walk_rig import recovery, rig_of, weigh_in

VESSEL_VALVES = ("machine", "nitrogen_valve", "pump_valve", "cylinder_valve")


def session(handbook: Handbook, procedure: str, withdrawal: str) -> State:
    book = Book()
    book.write("session.started", {"procedure": procedure})
    book.form("job", site="Mill Lane", unit_label="AC-1", technician="I. Varga", elevation="0 ft")
    book.form("unit", refrigerant="R-410A", metering="txv", coil="tube_fin", receiver="no")
    book.form(
        "cylinder",
        cylinder_label="C-1",
        cylinder_refrigerant="R-410A",
        cylinder_tare="7 lb",
        withdrawal=withdrawal,
    )
    return fold(book.events, handbook)


@pytest.mark.parametrize("withdrawal", ["invert", "dip_tube"])
@pytest.mark.parametrize("name", ["hand-valved-three-port", "self-closing-four-port"])
def test_what_is_ringed_is_what_the_hose_model_turns(
    handbook: Handbook, name: str, withdrawal: str
) -> None:
    state = session(handbook, name, withdrawal)
    procedure = handbook.procedures[name]
    rig = rig_of(procedure, dict(handbook.procedures))
    there = conditions_in("R-410A", "mild", "dip_tube" if withdrawal == "dip_tube" else "invert")
    parts = {part.step_id: part for part in (*recovery(rig), *weigh_in(rig, there))}
    for step_id, seen in SEEN.items():
        step = step_by_id(procedure, step_id)
        assert step is not None
        shown = picture_of_walk(state, handbook, procedure, step)
        assert shown is not None
        played = [
            "cylinder_valve" if move.valve in VESSEL_VALVES else move.valve
            for move in parts[step_id].moves
            if move.valve in ("low", "high", "cylinder_position", *VESSEL_VALVES)
        ]
        once = [one for i, one in enumerate(played) if i == 0 or played[i - 1] != one]
        drawn = [one for one in seen.turned if one != "cylinder_position" or one in played]
        assert drawn == once, step_id
        assert len(seen.lines) == len(seen.turned)
        assert all(1 <= int(line) <= len(step.do) for line in seen.lines)
        marks = [mark["kind"] for mark in shown["now"]["marks"]]
        assert "turn-ring" in marks or "turn-word" in marks


@pytest.mark.parametrize(
    ("name", "step_id", "shown", "absent"),
    [
        # Without a red hose the walk's own hookup is drawn.
        ("one-charging-hose", "rec_run", "Red hose: liquid", "cylinder"),
        ("one-charging-hose", "rec_run", "Yellow nut on the recovery machine: tight.", "cylinder"),
        ("hand-valved-three-port", "wi_break", "Yellow hose: empty", "air"),
        ("hand-valved-three-port", "wi_rest", "Yellow hose: liquid", "air"),
    ],
)
def test_the_picture_in_words_says_what_is_there(
    handbook: Handbook, name: str, step_id: str, shown: str, absent: str
) -> None:
    procedure = handbook.procedures[name]
    step = step_by_id(procedure, step_id)
    assert step is not None
    picture = picture_of_walk(session(handbook, name, "invert"), handbook, procedure, step)
    assert picture is not None
    assert shown in picture["now"]["text"]
    assert absent not in picture["now"]["text"].lower()


def test_a_step_that_turns_nothing_and_a_unit_that_is_not_saved_have_no_picture(
    handbook: Handbook,
) -> None:
    procedure = handbook.procedures["hand-valved-three-port"]
    state = session(handbook, "hand-valved-three-port", "invert")
    total = step_by_id(procedure, "wi_total")
    run = step_by_id(procedure, "rec_run")
    assert total is not None
    assert run is not None
    assert picture_of_walk(state, handbook, procedure, total) is None
    empty = Book()
    empty.write("session.started", {"procedure": "hand-valved-three-port"})
    assert picture_of_walk(fold(empty.events, handbook), handbook, procedure, run) is None
