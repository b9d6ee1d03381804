"""Every omission, every swap of neighbours, every valve left wrong: classified, none unwarned."""

from functools import cache
from pathlib import Path

import pytest

from lowside.core.handbook.procedure import Procedure
from lowside.procedures import SHIPPED, load_procedures
from lowside.procedures.mutations import (
    DANGEROUS,
    FLAGS_FOR,
    HARMLESS,
    WASTEFUL,
    Consequence,
    Facts,
    Mutation,
    carry_out,
    document,
    facts_of_right_run,
    judge,
    mutations,
    table_conditions,
    unwarned,
)


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
def consequences(name: str) -> tuple[tuple[Mutation, Consequence], ...]:
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
    whats = [mutation.what for mutation, _ in consequences(name)]
    count = sum(len(step.actions) for step in procedure.steps)
    assert len([what for what in whats if ": omit “" in what]) == count
    assert len([what for what in whats if "” before “" in what]) == count - 1
    for valve in procedure.valves:
        assert [what for what in whats if what.endswith("step ends") and valve.title in what]


@pytest.mark.parametrize(
    ("name", "what", "kind"),
    [
        ("hand-valved-three-port", "purge_low: omit “blue nut at the manifold loose”", HARMLESS),
        ("hand-valved-three-port", "purge_high: omit the whole step", DANGEROUS),
        ("hand-valved-three-port", "liquid: omit “cylinder inverted”", WASTEFUL),
        ("hand-valved-three-port", "clear_hoses: omit “low handwheel closed”", HARMLESS),
        ("hand-valved-three-port", "clear_high: omit “red hose-end valve closed”", DANGEROUS),
        ("self-closing-three-port", "clear_high: omit “high handwheel open”", DANGEROUS),
        ("plain-three-port", "clear_high: omit the whole step", DANGEROUS),
        ("low-side-only-two-hose", "shots: omit “handwheel closed”", DANGEROUS),
    ],
)
def test_a_known_slip_is_classified_as_the_trade_would(name: str, what: str, kind: str) -> None:
    found = [
        consequence.kind for mutation, consequence in consequences(name) if mutation.what == what
    ]
    assert found == [kind]


def test_every_danger_has_flags_that_name_it() -> None:
    effects = {o.effect for name in SHIPPED for _, o in consequences(name) if o.kind == DANGEROUS}
    assert effects <= set(FLAGS_FOR)


def test_the_table_in_the_documents_is_current(root: Path) -> None:
    assert (root / "docs" / "hoses.md").read_text(encoding="utf-8") == document()
