"""The table of every slip in the documents: `python -m lowside.procedures.slips docs/hoses.md`."""

import sys
from pathlib import Path

from lowside.core.numbers.arithmetic import format_decimal
from lowside.procedures import load_procedures
from lowside.procedures.mutations import (
    DANGEROUS,
    HARMLESS,
    WASTEFUL,
    carry_out,
    facts_of_right_run,
    judge,
    mutations,
    table_conditions,
)


def document() -> str:
    """The whole of `docs/hoses.md`."""
    conditions = table_conditions()
    lines = [_HEAD]
    totals: list[str] = []
    tables: list[str] = []
    for procedure in load_procedures().values():
        right = facts_of_right_run(procedure, conditions)
        counts = {HARMLESS: 0, WASTEFUL: 0, DANGEROUS: 0}
        rows: list[str] = []
        for mutation in mutations(procedure, conditions):
            outcome = judge(carry_out(procedure, conditions, mutation.steps), right)
            counts[outcome.kind] = counts[outcome.kind] + 1
            flag = outcome.flag
            if outcome.kind == DANGEROUS:
                when = "before" if outcome.flagged_at < outcome.danger_at else "at the moment"
                flag = f"{flag}, {when}"
            effect = outcome.effect
            if outcome.noticed:
                effect = f"{effect}; {outcome.noticed}" if effect else outcome.noticed
            rows.append(f"| {mutation.what} | {outcome.kind} | {effect} | {flag} |")
        total = sum(counts.values())
        totals.append(
            f"| {procedure.title} | {format_decimal(right.released_kg * 1000.0, 1)} | {total} | "
            f"{counts[HARMLESS]} | {counts[WASTEFUL]} | {counts[DANGEROUS]} |"
        )
        tables.append(
            f"\n## {procedure.title}\n\n| slip | class | what happens | flagged |\n"
            "|---|---|---|---|\n" + "\n".join(rows) + "\n"
        )
    lines.append("\n".join(totals) + "\n")
    lines.extend(tables)
    return "".join(lines)


_HEAD = """# The hose model, and every single slip

Made by `python -m lowside.procedures.slips docs/hoses.md`; a test checks that it is current.

In `src/lowside/core/hoses/`, `contents.py` says what each hose holds, `network.py` what is open to
what, `flow.py` what moves when a valve is turned, `hazards.py` what is wrong with it, `run.py` runs
a procedure through them. Why it is built so is in `decisions/0004-hose-model.md`.

Conditions of the tables below: R-410A, suction at 5 °C saturation, liquid at 42 °C, cylinder and
hoses at 27 °C, sea level, hoses 60 in long with a bore of 3/16 in.

- *harmless*: nothing escapes, nothing is fed uncounted, every gauge reads; the slip may be noticed
  because the next move is impossible.
- *wasteful*: more vapor escapes than in the right run, a shot gives nothing or the wrong phase, or
  a gauge is cut off.
- *dangerous*: air goes into unit or cylinder, liquid sprays out or is shut in, the unit fills the
  cylinder, liquid runs into the suction outside a shot, something is left blowing, on or open.
  Every one is flagged before it happens or at the moment the valve would be turned.

A nut is *tight*, *loose* (backed off: it leaks and still presses the core), *started* (on by one
turn: the core is not reached) or *off*. One turn is 1.27 mm, half a turn 0.6 mm (arithmetic for a
7/16-20 thread). How far a core travels is published nowhere that was found, so a loose nut counts
as one that presses it.

The close-out with the unit off is run from the end of every step and after every single move, for
cylinders turned upside down and with a dip tube. No run meets a hazard, and every dangerous
omission in it is flagged: `tests/core/hoses/test_unit_off.py`.

| procedure | g released when done right | slips | harmless | wasteful | dangerous |
|---|---|---|---|---|---|
"""

if __name__ == "__main__":
    Path(sys.argv[1]).write_text(document(), encoding="utf-8")
