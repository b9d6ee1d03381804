"""A dangerous change to a procedure is refused with its step and its sentence, a poor one told.

What is dangerous is asked of `procedures/mutations.py`, which judges by what moved, where the
editor judges by the open ways before anything moves.
"""

import json
from dataclasses import asdict, replace
from itertools import pairwise

import pytest
from sampling import every

from lowside.core.handbook.handbook import Handbook
from lowside.core.handbook.procedure import Procedure
from lowside.core.handbook.procedure_file import procedure_from
from lowside.core.hoses.procedure_edit import (
    LONGEST_LINE,
    LONGEST_TITLE,
    MOST_LINES,
    Words,
    arranged,
    left_out,
    moved,
    order_of,
    put_back,
    reworded,
    title_problem,
    without,
    word_problems,
    words_of,
)
from lowside.core.hoses.procedure_verdict import FIRST, ProcedureReview, judged
from lowside.procedures import SHIPPED
from lowside.procedures.mutations import (
    DANGEROUS,
    WASTEFUL,
    carry_out,
    facts_of_right_run,
    judge,
    table_conditions,
)

USUAL = "hand-valved-three-port"


def changed(procedure: Procedure, order: tuple[str, ...]) -> Procedure:
    made = arranged(procedure, order, procedure)
    assert made is not None
    return made


def verdict(handbook: Handbook, order: tuple[str, ...], name: str = USUAL) -> ProcedureReview:
    procedure = handbook.procedures[name]
    return judged(changed(procedure, order), procedure, handbook.tables)


def said(verdict: ProcedureReview) -> list[tuple[str, str]]:
    return [(r.step_id, r.sentence) for r in verdict.refusals]


def warned(verdict: ProcedureReview) -> list[tuple[str, str]]:
    return [(r.step_id, r.sentence) for r in verdict.warnings]


@pytest.mark.parametrize("name", SHIPPED)
def test_a_shipped_procedure_passes_without_a_word(handbook: Handbook, name: str) -> None:
    assert verdict(handbook, order_of(handbook.procedures[name]), name) == ProcedureReview((), ())


@pytest.mark.parametrize("name", SHIPPED)
def test_no_dangerous_omission_or_swap_passes_and_no_wasteful_one_is_silent(
    handbook: Handbook, name: str
) -> None:
    procedure = handbook.procedures[name]
    conditions = table_conditions()
    right = facts_of_right_run(procedure, conditions)
    order = order_of(procedure)
    # Steps that only write something down move no refrigerant, wherever they are.
    turning = {step.id for step in procedure.steps if step.actions}
    orders = [without(order, step) for step in order if step in turning]
    neighbors = [pair for pair in pairwise(order) if turning & set(pair)]
    orders += [
        moved(order, later, up=True) for _, later in every(3, neighbors, SHIPPED.index(name))
    ]
    dangerous = 0
    for one in orders:
        made = changed(procedure, one)
        outcome = judge(carry_out(made, conditions, made.steps), right)
        found = judged(made, procedure, handbook.tables)
        if outcome.kind == DANGEROUS:
            dangerous += 1
            assert found.refusals, (one, outcome.effect)
        if outcome.kind == WASTEFUL:
            assert found.refusals or found.warnings, (one, outcome.effect)
        assert all(r.step_id in order and r.sentence for r in found.refusals + found.warnings)
    assert dangerous >= 3


@pytest.mark.parametrize(
    ("left", "step", "sentence"),
    [
        ("connect", "shots", "Liquid sprays out at the blue nut on the suction port."),
        ("purge_high", "shots", "Air goes into the unit."),
        ("clear_high", "disconnect", "Liquid sprays out at the red nut on the liquid port."),
        ("disconnect", "clear_high", "The red nut on the liquid port is still on."),
        ("close_cylinder", "disconnect", "Liquid sprays out at the yellow nut on the cylinder."),
    ],
)
def test_leaving_out_a_step_is_refused_where_it_hurts(
    handbook: Handbook, left: str, step: str, sentence: str
) -> None:
    found = verdict(handbook, without(order_of(handbook.procedures[USUAL]), left))
    assert (step, sentence) in said(found)
    assert all(r.cure for r in found.refusals)


def test_steps_that_record_are_all_needed(handbook: Handbook) -> None:
    procedure = handbook.procedures[USUAL]
    recording = [s for s in procedure.steps if s.form != "" or s.page == "charge"]
    assert len(recording) == 15
    for step in recording:
        found = verdict(handbook, without(order_of(procedure), step.id))
        sentence = f"“{step.title}” is left out, but it asks for what the record rests on."
        assert (step.id, sentence) in said(found)


@pytest.mark.parametrize(("earlier", "later", "sentence"), FIRST)
def test_what_one_entry_needs_of_another_keeps_their_order(
    handbook: Handbook, earlier: str, later: str, sentence: str
) -> None:
    procedure = handbook.procedures[USUAL]
    ids = {"charge": "shots", "reading": "baseline"}
    first, second = ids.get(earlier, earlier), ids.get(later, later)
    order = list(without(order_of(procedure), second))
    order.insert(order.index(first), second)
    assert (second, sentence) in said(verdict(handbook, tuple(order)))


def test_the_bare_cylinder_is_weighed_with_no_hose_on_it(handbook: Handbook) -> None:
    order = order_of(handbook.procedures[USUAL])
    late = moved(order, "start_weight", up=False)
    early = moved(moved(order, "end_weight", up=True), "end_weight", up=True)
    assert "no hose on it" in dict(said(verdict(handbook, late)))["start_weight"]
    assert "every hose off" in dict(said(verdict(handbook, early)))["end_weight"]


def test_a_move_that_cannot_be_made_is_refused(handbook: Handbook) -> None:
    """The suction port takes one hose: the red one is blown out there and has to come off first."""
    name = "self-closing-three-port"
    order = moved(order_of(handbook.procedures[name]), "purge_low", up=True)
    found = verdict(handbook, order, name)
    assert [r for r in found.refusals if "cannot be done here" in r.sentence]


@pytest.mark.parametrize(
    ("order_after", "step", "words"),
    [
        ("out:clear_hoses", "clear_hoses", "to suction” is left out. Its reason was: "),
        ("out:liquid", "shots", "The shot gives no liquid"),
        ("up:clear_high", "final_reading", "The high gauge reads nothing here"),
        ("out:clear_hoses", "disconnect", "1.1 g more of R-410A go into the air"),
        ("up:tare", "tare", "Valves are turned between setting the scale and the first shot."),
        ("up:purge_low", "connect", "something is now different: blue hose-end valve open."),
        ("down:preconditions*3", "preconditions", "The checks come after the hoses are on."),
    ],
)
def test_a_poor_change_is_warned_of_and_may_be_saved(
    handbook: Handbook, order_after: str, step: str, words: str
) -> None:
    order = order_of(handbook.procedures[USUAL])
    act, _, rest = order_after.partition(":")
    moved_step, _, times = rest.partition("*")
    for _ in range(int(times or "1")):
        order = (
            without(order, moved_step) if act == "out" else moved(order, moved_step, act == "up")
        )
    found = verdict(handbook, order)
    assert found.refusals == ()
    assert [s for at, s in warned(found) if at == step and words in s], warned(found)


def test_without_a_property_table_nothing_passes(handbook: Handbook) -> None:
    procedure = handbook.procedures[USUAL]
    assert judged(procedure, procedure, {}).refusals != ()


# The changes themselves


def test_up_and_down_undo_each_other_and_stop_at_the_ends(handbook: Handbook) -> None:
    order = order_of(handbook.procedures[USUAL])
    for step in order[1:]:
        assert moved(moved(order, step, up=True), step, up=False) == order
    assert moved(order, order[0], up=True) == order
    assert moved(order, order[-1], up=False) == order
    assert moved(order, "nobody", up=True) == order


def test_a_left_out_step_comes_back_where_it_was(handbook: Handbook) -> None:
    procedure = handbook.procedures[USUAL]
    order = order_of(procedure)
    for step in order:
        short = without(order, step)
        assert [s.id for s in left_out(short, procedure)] == [step]
        assert put_back(short, step, order) == order
        again = changed(procedure, put_back(short, step, order))
        assert again == procedure
    assert put_back(order, order[3], order) == order
    assert put_back(order, "nobody", order) == order


def test_an_order_of_strangers_or_doubles_is_none(handbook: Handbook) -> None:
    procedure = handbook.procedures[USUAL]
    assert arranged(procedure, ("job", "nobody"), procedure) is None
    assert arranged(procedure, ("job", "job"), procedure) is None


def test_a_changed_order_still_passes_the_check_of_the_files(handbook: Handbook) -> None:
    """`procedure_from` refuses steps that say otherwise of a valve than the turns before them."""
    for name in SHIPPED:
        procedure = handbook.procedures[name]
        for step in order_of(procedure)[1:]:
            made = changed(procedure, moved(order_of(procedure), step, up=True))
            data = json.loads(json.dumps(asdict(made)))
            assert procedure_from(data, handbook.cautions, name) == made


def test_words_are_kept_line_by_line(handbook: Handbook) -> None:
    procedure = handbook.procedures[USUAL]
    words = Words(" Mine ", "one\r\n\r\n  two \n", "because\r\nof that", "seen")
    assert word_problems(words) == {}
    made = reworded(procedure, "shots", words)
    step = next(step for step in made.steps if step.id == "shots")
    assert (step.title, step.do, step.why) == ("Mine", ("one", "two"), "because of that")
    assert words_of(step).do == "one\ntwo"
    others = [s for s in made.steps if s.id != "shots"]
    assert others == [s for s in procedure.steps if s.id != "shots"]
    shipped = next(step for step in procedure.steps if step.id == "shots")
    assert replace(step, title="", do=(), why="", done_when="") == replace(
        shipped, title="", do=(), why="", done_when=""
    )


@pytest.mark.parametrize(
    ("field", "text", "sentence"),
    [
        ("title", " ", "Needed."),
        ("title", "x" * (LONGEST_TITLE + 1), "Too long: 81"),
        ("do", "\n \r\n", "one instruction a line."),
        ("do", "a\n" * (MOST_LINES + 1), "Too many lines: 13"),
        ("do", "x" * (LONGEST_LINE + 1), "One line has 401 characters."),
        ("why", "", "Needed."),
        ("done_when", "x" * (LONGEST_LINE + 1), "Too long"),
    ],
)
def test_words_that_cannot_stand(field: str, text: str, sentence: str) -> None:
    words = replace(Words("a", "b", "c", "d"), **{field: text})
    problems = word_problems(words)
    assert list(problems) == [field]
    assert sentence in problems[field]


def test_a_name_is_needed() -> None:
    assert title_problem("  ") != ""
    assert title_problem("x" * (LONGEST_TITLE + 1)) != ""
    assert title_problem("Ours") == ""
