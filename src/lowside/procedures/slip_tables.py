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
    Consequence,
    Facts,
    Mutation,
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
    slips: tuple[tuple[Mutation, Consequence], ...]


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
            f"| {slip.what} | {found.kind} | {_effect(found)} | {_flag(found)} |\n"
            for slip, found in one.slips
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
        kinds = [consequence.kind for _, consequence in one.slips]
        counts = [len(kinds), *(kinds.count(kind) for kind in (HARMLESS, WASTEFUL, DANGEROUS))]
        released = format_decimal(one.right.released_kg * 1000.0, 1)
        figures = " | ".join(str(count) for count in counts)
        rows.append(f"| {one.procedure.title} | {released} | {figures} |\n")
    return "".join(rows)


def _dangers(judged: Sequence[Judged]) -> str:
    found: dict[str, list[Consequence]] = {}
    for one in judged:
        for _, consequence in one.slips:
            if consequence.kind == DANGEROUS:
                found.setdefault(consequence.effect, []).append(consequence)
    rows = ["| danger | slips | flagged before | flagged at the moment |\n|---|---|---|---|\n"]
    for effect in sorted(found, key=lambda effect: -len(found[effect])):
        outcomes = found[effect]
        before = len(
            [1 for consequence in outcomes if consequence.flagged_at < consequence.danger_at]
        )
        rows.append(f"| {effect} | {len(outcomes)} | {before} | {len(outcomes) - before} |\n")
    return "".join(rows)


def _omissions(judged: Sequence[Judged]) -> str:
    found: dict[tuple[str, str, str], int] = {}
    for one in judged:
        for slip, consequence in one.slips:
            if consequence.kind == DANGEROUS and ": omit " in slip.what:
                row = (slip.what, consequence.effect, consequence.flag)
                found[row] = found.get(row, 0) + 1
    rows = ["| left out | what happens | flagged | procedures |\n|---|---|---|---|\n"]
    for (what, effect, flag), count in sorted(found.items(), key=lambda item: item[0][1]):
        rows.append(f"| {what.replace(': omit ', ': ')} | {effect} | {flag} | {count} |\n")
    return "".join(rows)


def _effect(consequence: Consequence) -> str:
    return "; ".join(text for text in (consequence.effect, consequence.noticed) if text != "")


def _flag(consequence: Consequence) -> str:
    if consequence.kind != DANGEROUS:
        return consequence.flag
    when = "before" if consequence.flagged_at < consequence.danger_at else "at the moment"
    return f"{consequence.flag}, {when}"
