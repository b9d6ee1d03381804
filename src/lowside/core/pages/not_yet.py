"""What keeps a step from its time, said on its page."""

from typing import Any

from lowside.core.handbook.procedure import CHARGE_PAGE, Procedure, Step, position
from lowside.core.pages.parts import block_alert
from lowside.core.session import gate
from lowside.core.session.block import DO_NOT_ADD, WAIT, Block, BlockCode
from lowside.core.session.state import State
from lowside.core.session.steady import unread_since
from lowside.core.session.walk import step_now

SAID_ELSEWHERE: tuple[BlockCode, ...] = ("closed", "undecided", "leave", "reading_unknown")
"""Reasons not to add that the page says in other words."""


def not_yet(state: State, procedure: Procedure, step: Step) -> list[dict[str, Any]]:
    """The gravest first. A page ahead of the work has only that one: most of the others say what is
    not done yet, and such a page says so once."""
    found: list[Block] = []
    charges = step.form == "decide" or step.page == CHARGE_PAGE
    for each in gate.blocks(state):
        before_hoses = step.stage == "Connect" and each.code in gate.BEFORE_HOSES
        said = before_hoses or (charges and each.code not in SAID_ELSEWHERE)
        if each.code == "reading_refused" and unread_since(state) is not None:
            continue  # What it found too much was taken out: the next reading says.
        if said and not each.on_target and each.instead in (DO_NOT_ADD, WAIT):
            found.append(each)
    first_open = step_now(procedure, state)
    if first_open is not None and is_ahead(procedure, step, first_open):
        found = found[:1]
    return [block_alert(state, each, "warn", "Not yet.") for each in found]


def is_ahead(procedure: Procedure, step: Step, first_open: Step) -> bool:
    """Whether the work has not come to this step."""
    return position(procedure, step.id) > position(procedure, first_open.id)
