"""What a cylinder can weigh: empty, at the start and at the end."""

from lowside.core.handbook.fields import Fields
from lowside.core.numbers.unit_choice import UnitChoice, label
from lowside.core.session.ledger import STEPS_ALLOWED, label_key
from lowside.core.session.state import State, step_of

TARES_MOST = 9.0
"""A full cylinder weighs no more than so many times its tare; common ones weigh about three to
five times (common practice, no source). Our choice."""


def check_start_weight(state: State, fields: Fields, problems: dict[str, str]) -> None:
    """Not less than the empty cylinder, nor more than a full one."""
    gross = fields.numbers.get("gross")
    if gross is None or state.cylinder is None:
        return
    tare = state.cylinder.tare_kg
    if gross < tare:
        problems["gross"] = _below_tare(gross, tare, state.units)
    elif gross > TARES_MOST * tare and tare > 0.0:
        problems["gross"] = (
            f"More than a cylinder with a tare of {label('mass', tare, state.units)} can hold. "
            "Check the number, its unit and the tare."
        )


def check_end_weight(state: State, fields: Fields, problems: dict[str, str]) -> None:
    """Not less than the empty cylinder, nor more than at the start."""
    gross = fields.numbers.get("gross")
    if gross is None:
        return
    if state.cylinder is not None and gross < state.cylinder.tare_kg:
        problems["gross"] = _below_tare(gross, state.cylinder.tare_kg, state.units)
    elif state.start_weight is not None:
        allowance = STEPS_ALLOWED * step_of(state.scale)
        if gross > state.start_weight.kg + allowance:
            start = label("mass", state.start_weight.kg, state.units)
            problems["gross"] = (
                f"More than at the start ({start}). A cylinder cannot gain weight. Weigh it bare, "
                "or correct the start weight on the timeline."
            )


def check_tare(state: State, fields: Fields, problems: dict[str, str]) -> None:
    """Not more than the whole cylinder weighed."""
    tare = fields.numbers.get("cylinder_tare")
    start = state.start_weight
    if tare is not None and start is not None and tare > start.kg:
        problems["cylinder_tare"] = (
            "More than the whole cylinder weighed at the start "
            f"({label('mass', start.kg, state.units)}). Read the stamp again, or correct the start "
            "weight on the timeline."
        )


def is_the_same(state: State, fields: Fields) -> bool:
    """Whether a new entry is of the cylinder that was weighed; another one is weighed again."""
    named = label_key(fields.texts.get("cylinder_label", ""))
    return state.cylinder is None or named == label_key(state.cylinder.label)


def _below_tare(gross: float, tare: float, choice: UnitChoice) -> str:
    return (
        f"{label('mass', gross, choice)} is less than the empty cylinder "
        f"({label('mass', tare, choice)}). Check the scale, its zero and the tare."
    )
