"""Every omission, every swap of neighbours, every valve left wrong: classified, none unwarned."""

from functools import cache
from pathlib import Path

import pytest

from lowside.core.handbook.procedure import LIQUID_LINE, RECOVERY, Procedure
from lowside.procedures import SHIPPED, load_procedures
from lowside.procedures.mutations import (
    DANGEROUS,
    FLAGS_FOR,
    HARMLESS,
    WASTEFUL,
    Facts,
    Mutation,
    Outcome,
    carry_out,
    facts_of_right_run,
    judge,
    mutations,
    table_conditions,
    unwarned,
)
from lowside.procedures.slips import document


@cache
def procedures() -> dict[str, Procedure]:
    return load_procedures()


@cache
def slips(name: str) -> tuple[tuple[Mutation, Facts], ...]:
    procedure = procedures()[name]
    conditions = table_conditions()
    return tuple(
        (mutation, carry_out(procedure, conditions, mutation.steps))
        for mutation in mutations(procedure, conditions)
    )


@cache
def outcomes(name: str) -> tuple[tuple[Mutation, Outcome], ...]:
    right = facts_of_right_run(procedures()[name], table_conditions())
    return tuple((mutation, judge(facts, right)) for mutation, facts in slips(name))


@pytest.mark.parametrize("name", SHIPPED)
def test_the_right_run_has_neither_danger_nor_flag(name: str) -> None:
    right = facts_of_right_run(procedures()[name], table_conditions())
    assert right.dangers == ()
    assert right.flags == ()
    assert right.unread == ()
    assert right.charged == "liquid"
    assert right.released_kg < 0.012


@pytest.mark.parametrize("name", SHIPPED)
def test_every_danger_of_every_slip_is_flagged_at_or_before_its_moment(name: str) -> None:
    seen = 0
    for mutation, facts in slips(name):
        assert unwarned(facts) == [], mutation.what
        seen = seen + len(facts.dangers)
    assert seen > 50


@pytest.mark.parametrize("name", SHIPPED)
def test_slips_cover_every_action_and_every_valve(name: str) -> None:
    procedure = procedures()[name]
    whats = [mutation.what for mutation, _ in outcomes(name)]
    count = sum(len(step.actions) for step in procedure.steps)
    assert len([what for what in whats if ": omit “" in what]) == count
    assert len([what for what in whats if "” before “" in what]) == count - 1
    for valve in procedure.valves:
        if valve.b != RECOVERY:
            assert [what for what in whats if what.endswith("step ends") and valve.title in what]


@pytest.mark.parametrize(
    ("name", "what", "kind"),
    [
        ("hand-valved-three-port", "purge_low: omit “blue nut at the manifold loose”", HARMLESS),
        ("hand-valved-three-port", "purge_high: omit the whole step", DANGEROUS),
        ("hand-valved-three-port", "liquid: omit “cylinder inverted”", WASTEFUL),
        ("hand-valved-three-port", "clear_hoses: omit “low-side manifold valve closed”", HARMLESS),
        ("hand-valved-three-port", "clear_high: omit “red hose-end valve closed”", DANGEROUS),
        ("self-closing-three-port", "clear_high: omit “high-side manifold valve open”", DANGEROUS),
        ("plain-three-port", "clear_high: omit the whole step", DANGEROUS),
        # A loose nut still presses the core: thread arithmetic; no published core travel.
        (
            "hand-valved-three-port",
            "connect: red nut on the liquid port loose when the step ends",
            DANGEROUS,
        ),
        (
            "hand-valved-four-port",
            "connect: red nut on the liquid port loose when the step ends",
            DANGEROUS,
        ),
        (
            "self-closing-three-port",
            "shots: red hose end on the liquid port loose when the step ends",
            DANGEROUS,
        ),
        ("one-charging-hose", "close_cylinder: omit “charging valve open”", DANGEROUS),
        ("no-liquid-port-two-hose", "close_cylinder: omit “manifold valve open”", DANGEROUS),
        ("low-side-only-two-hose", "shots: omit “manifold valve closed”", DANGEROUS),
    ],
)
def test_a_known_slip_is_classified_as_the_trade_would(name: str, what: str, kind: str) -> None:
    found = [outcome.kind for mutation, outcome in outcomes(name) if mutation.what == what]
    assert found == [kind]


@pytest.mark.parametrize("name", SHIPPED)
def test_a_nut_that_presses_a_live_liquid_core_while_loose_is_flagged_as_such(name: str) -> None:
    procedure = procedures()[name]
    nuts = [v.title for v in procedure.valves if v.b == LIQUID_LINE and v.core]
    seen = 0
    for mutation, facts in slips(name):
        for title in nuts:
            if mutation.what.endswith(f"{title} loose when the step ends"):
                assert "core_pressed" in [code for _, code in facts.flags], mutation.what
                assert [danger for _, danger in facts.dangers if "liquid sprays" in danger]
                seen = seen + 1
    assert (seen > 3) == bool(nuts)


def test_every_danger_has_flags_that_name_it() -> None:
    effects = {o.effect for name in SHIPPED for _, o in outcomes(name) if o.kind == DANGEROUS}
    assert effects <= set(FLAGS_FOR)


def test_the_table_in_the_documents_is_current(root: Path) -> None:
    assert (root / "docs" / "hoses.md").read_text(encoding="utf-8") == document()
