"""Every omission, every swap of neighbors, every valve left wrong: classified, none unwarned."""

from functools import cache
from pathlib import Path

import pytest

from lowside.core.handbook.procedure import LIQUID_LINE, RECOVERY, Procedure
from lowside.core.handbook.system import DIP_TUBE, INVERT, Withdrawal
from lowside.procedures import SHIPPED, load_procedures, slip_tables, slips_everywhere
from lowside.procedures.mutations import (
    DANGEROUS,
    FLAGS_FOR,
    HARMLESS,
    WASTEFUL,
    Consequence,
    Facts,
    Mutation,
    carry_out,
    facts_of_right_run,
    judge,
    mutations,
    table_conditions,
    unwarned,
)
from lowside.procedures.slip_tables import Judged, every_slip, hoses_command, short_tables
from lowside.procedures.slips_everywhere import (
    REFRIGERANTS,
    WEATHER,
    conditions_in,
    everywhere_command,
    tried,
)

KINDS = (HARMLESS, WASTEFUL, DANGEROUS)


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


ELSEWHERE: list[tuple[str, str, str, Withdrawal]] = [
    ("hand-valved-three-port", "R-22", "hot", INVERT),
    ("hand-valved-four-port", "R-407C", "hot", DIP_TUBE),
    ("self-closing-three-port", "R-32", "cold", DIP_TUBE),
    ("self-closing-four-port", "R-454B", "cold", INVERT),
    ("plain-three-port", "R-407C", "cold", INVERT),
    ("low-side-only-two-hose", "R-22", "cold", DIP_TUBE),
    ("one-charging-hose", "R-32", "hot", DIP_TUBE),
    ("one-charging-hose", "R-22", "cold", INVERT),
    ("no-liquid-port-two-hose", "R-454B", "hot", INVERT),
    ("no-liquid-port-two-hose", "R-407C", "cold", DIP_TUBE),
]
"""Each procedure in one other place, each refrigerant in heat and in cold, both kinds of cylinder.
`lowside hoses --everywhere` tries them all."""


@pytest.mark.parametrize(("name", "refrigerant", "weather", "withdrawal"), ELSEWHERE)
def test_every_danger_is_flagged_with_other_refrigerants_in_heat_and_cold(
    name: str, refrigerant: str, weather: str, withdrawal: Withdrawal
) -> None:
    found = tried(procedures()[name], conditions_in(refrigerant, weather, withdrawal))
    assert found.unflagged == ()
    assert found.wrong_when_right == ()
    assert found.dangerous > 40


def test_the_other_places_are_chosen_in_pairs() -> None:
    assert {name for name, _, _, _ in ELSEWHERE} == set(SHIPPED)
    chosen = {(refrigerant, weather) for _, refrigerant, weather, _ in ELSEWHERE}
    assert chosen == {(r, w) for r in ("R-22", "R-32", "R-454B", "R-407C") for w in ("hot", "cold")}
    assert {(w, how) for _, _, w, how in ELSEWHERE} == {
        (w, how) for w in ("hot", "cold") for how in (INVERT, DIP_TUBE)
    }


@pytest.mark.parametrize("name", SHIPPED)
def test_slips_cover_every_action_and_every_valve(name: str) -> None:
    procedure = procedures()[name]
    whats = [mutation.what for mutation, _ in consequences(name)]
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
    found = [
        consequence.kind for mutation, consequence in consequences(name) if mutation.what == what
    ]
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
    effects = {o.effect for name in SHIPPED for _, o in consequences(name) if o.kind == DANGEROUS}
    assert effects <= set(FLAGS_FOR)


def judged() -> list[Judged]:
    conditions = table_conditions()
    return [
        Judged(procedure, facts_of_right_run(procedure, conditions), consequences(name))
        for name, procedure in procedures().items()
    ]


def test_the_tables_in_the_documents_are_current(root: Path) -> None:
    assert short_tables(judged()) in (root / "docs" / "hoses.md").read_text("utf-8")


def test_the_table_of_every_slip_has_the_slips_the_summary_counts() -> None:
    lines = every_slip(judged()).splitlines()
    for one in judged():
        counts = [len([1 for _, o in one.slips if o.kind == kind]) for kind in KINDS]
        row = f"{len(one.slips)} | {counts[0]} | {counts[1]} | {counts[2]} |"
        assert [line for line in short_tables(judged()).splitlines() if row in line]
    for kind in KINDS:
        total = sum(1 for one in judged() for _, o in one.slips if o.kind == kind)
        assert len([line for line in lines if f" | {kind} | " in line]) == total


def test_a_document_without_a_place_for_the_tables_is_left_alone(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setattr(slip_tables, "load_procedures", dict)
    page = tmp_path / "page.md"
    page.write_text("# Page\n", "utf-8")
    assert hoses_command(False, page) == 1
    assert page.read_text("utf-8") == "# Page\n"
    assert "has no lines" in capsys.readouterr().err
    page.write_text(f"# Page\n{slip_tables.BEGIN}old\n{slip_tables.END}More\n", "utf-8")
    assert hoses_command(False, page) == 0
    assert page.read_text("utf-8").startswith(f"# Page\n{slip_tables.BEGIN}| procedure |")
    assert page.read_text("utf-8").endswith(f"{slip_tables.END}More\n")


def test_the_command_names_a_slip_that_nothing_warned_of(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setattr(slips_everywhere, "REFRIGERANTS", REFRIGERANTS[:1])
    monkeypatch.setattr(slips_everywhere, "WEATHER", {"mild": WEATHER["mild"]})
    monkeypatch.setattr(slips_everywhere, "SHIPPED", ("one-charging-hose",))
    assert everywhere_command() == 0
    assert "| R-410A | mild | invert | one-charging-hose | 78 | 52 | 0 |" in capsys.readouterr().out
    monkeypatch.setattr(slips_everywhere, "unwarned", lambda facts: facts.dangers)
    assert everywhere_command() == 1
    assert "  shots: omit “charging valve closed”: " in capsys.readouterr().out
