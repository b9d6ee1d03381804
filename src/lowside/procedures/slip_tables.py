"""`lowside hoses`: every single slip as Markdown tables. `docs/hoses.md` has the short ones."""

import sys
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

from lowside.core.handbook.procedure import Procedure
from lowside.core.numbers.arithmetic import format_decimal
from lowside.procedures import load_procedures
from lowside.procedures.mutations import (
    DANGEROUS,
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
)

BEGIN = "<!-- begin: lowside hoses -->\n"
END = "<!-- end: lowside hoses -->\n"
"""The short tables are between these two lines of a document."""


@dataclass(frozen=True)
class Judged:
    """One procedure, how it goes when done right, and what comes of each slip."""

    procedure: Procedure
    right: Facts
    slips: tuple[tuple[Mutation, Outcome], ...]


def hoses_command(every: bool, into: Path | None) -> int:
    """Print the short tables or those of every slip, or put the short ones into a document."""
    judged = [judged_slips(procedure) for procedure in load_procedures().values()]
    if into is None:
        print(every_slip(judged) if every else short_tables(judged), end="")
        return 0
    text = into.read_text("utf-8")
    if BEGIN not in text or END not in text:
        print(f"{into} has no lines “{BEGIN.strip()}” and “{END.strip()}”.", file=sys.stderr)
        return 1
    before, after = text.split(BEGIN)[0], text.split(END)[1]
    into.write_text(before + BEGIN + short_tables(judged) + END + after, "utf-8")
    return 0


def judged_slips(procedure: Procedure) -> Judged:
    """Every slip of a procedure, carried out under the conditions of the tables."""
    conditions = table_conditions()
    right = facts_of_right_run(procedure, conditions)
    slips = [
        (slip, judge(carry_out(procedure, conditions, slip.steps), right))
        for slip in mutations(procedure, conditions)
    ]
    return Judged(procedure, right, tuple(slips))


def short_tables(judged: Sequence[Judged]) -> str:
    """Counts for each procedure, the dangers, and the single omissions that are dangerous."""
    return "\n".join((_summary(judged), _dangers(judged), _omissions(judged)))


def every_slip(judged: Sequence[Judged]) -> str:
    """One table for each procedure, one row for each slip."""
    parts: list[str] = []
    for one in judged:
        rows = [
            f"| {slip.what} | {outcome.kind} | {_effect(outcome)} | {_flag(outcome)} |\n"
            for slip, outcome in one.slips
        ]
        head = "| slip | class | what happens | flagged |\n|---|---|---|---|\n"
        parts.append(f"## {one.procedure.title}\n\n{head}{''.join(rows)}")
    return "\n".join(parts)


def _summary(judged: Sequence[Judged]) -> str:
    rows = [
        "| procedure | g released when done right | slips | harmless | wasteful | dangerous |\n"
        "|---|---|---|---|---|---|\n"
    ]
    for one in judged:
        kinds = [outcome.kind for _, outcome in one.slips]
        counts = [len(kinds), *(kinds.count(kind) for kind in (HARMLESS, WASTEFUL, DANGEROUS))]
        released = format_decimal(one.right.released_kg * 1000.0, 1)
        figures = " | ".join(str(count) for count in counts)
        rows.append(f"| {one.procedure.title} | {released} | {figures} |\n")
    return "".join(rows)


def _dangers(judged: Sequence[Judged]) -> str:
    found: dict[str, list[Outcome]] = {}
    for one in judged:
        for _, outcome in one.slips:
            if outcome.kind == DANGEROUS:
                found.setdefault(outcome.effect, []).append(outcome)
    rows = ["| danger | slips | flagged before | flagged at the moment |\n|---|---|---|---|\n"]
    for effect in sorted(found, key=lambda effect: -len(found[effect])):
        outcomes = found[effect]
        before = len([1 for outcome in outcomes if outcome.flagged_at < outcome.danger_at])
        rows.append(f"| {effect} | {len(outcomes)} | {before} | {len(outcomes) - before} |\n")
    return "".join(rows)


def _omissions(judged: Sequence[Judged]) -> str:
    found: dict[tuple[str, str, str], int] = {}
    for one in judged:
        for slip, outcome in one.slips:
            if outcome.kind == DANGEROUS and ": omit " in slip.what:
                row = (slip.what, outcome.effect, outcome.flag)
                found[row] = found.get(row, 0) + 1
    rows = ["| left out | what happens | flagged | procedures |\n|---|---|---|---|\n"]
    for (what, effect, flag), count in sorted(found.items(), key=lambda item: item[0][1]):
        rows.append(f"| {what.replace(': omit ', ': ')} | {effect} | {flag} | {count} |\n")
    return "".join(rows)


def _effect(outcome: Outcome) -> str:
    return "; ".join(text for text in (outcome.effect, outcome.noticed) if text != "")


def _flag(outcome: Outcome) -> str:
    if outcome.kind != DANGEROUS:
        return outcome.flag
    when = "before" if outcome.flagged_at < outcome.danger_at else "at the moment"
    return f"{outcome.flag}, {when}"
