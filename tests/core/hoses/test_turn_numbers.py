"""The numbers in the hose picture are those of the list beside it."""

from lowside.procedures import SHIPPED, load_procedures


def test_each_turn_is_in_a_line_of_its_step() -> None:
    for procedure in load_procedures().values():
        for step in (*procedure.steps, *procedure.off_steps):
            for action in step.actions:
                assert 1 <= int(action.line) <= len(step.do), (procedure.id, step.id, action)


def lines(name: str, step_id: str) -> str:
    procedure = load_procedures()[name]
    steps = (*procedure.steps, *procedure.off_steps)
    step = next(one for one in steps if one.id == step_id)
    return "".join(action.line for action in step.actions)


def test_the_lines_are_the_right_ones() -> None:
    assert lines("hand-valved-three-port", "purge_high") == "1122345"
    assert lines("hand-valved-three-port", "off_recover") == "333456779"
    assert lines("hand-valved-four-port", "off_stop") == "11231555" + "5"
    assert lines("self-closing-three-port", "purge_high") == "13345"
    assert lines("self-closing-four-port", "purge_low") == "122333455"
    assert lines("plain-three-port", "off_stop") == "112355555"
    assert lines("one-charging-hose", "disconnect") == "23"
    assert {lines(name, "shots") for name in SHIPPED} == {"12"}
