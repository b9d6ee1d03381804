"""Why no refrigerant may go in now: the entry check, the screens and the advice all ask here."""

from lowside.core.handbook.forms import FORM_OF_KIND
from lowside.core.handbook.system import BY_WEIGHT
from lowside.core.judging.charge import (
    CALLS_FOR_CHARGE,
    NEARLY_EMPTY,
    ON_TARGET,
    UNKNOWN,
    UNSAFE,
    reason,
)
from lowside.core.judging.findings import DANGER, REFUSE, sentence
from lowside.core.session.apart import differ
from lowside.core.session.at_hoses import (
    CLOSED_OUT,
    EMPTIED,
    HOSES_OFF,
    is_done,
    liquid_was_let_in,
    off_for_recovery,
)
from lowside.core.session.block import (
    GRAVEST_FIRST,
    KEEP_OPEN,
    NO_LIQUID,
    STOP,
    WAIT,
    WEIGH_IN,
    Block,
    BlockCode,
)
from lowside.core.session.corrections import corrected_apart
from lowside.core.session.cylinder import left_in_cylinder
from lowside.core.session.ledger import ROUNDING_KG
from lowside.core.session.other_cylinder import (
    WEIGH_IT,
    is_wrong,
    liquid_in_hose,
    mixed_with,
    not_joined,
    was_weighed,
)
from lowside.core.session.overriding import (
    SAVE_AGAIN,
    doubtful_target,
    never_added_to,
    open_objection,
)
from lowside.core.session.permission import check_blocks, machine_blocks
from lowside.core.session.state import (
    DECIDED_TO_LEAVE,
    NOT_DECIDED,
    State,
    latest_reading,
)
from lowside.core.session.steady import recovered_blocks, steady_blocks
from lowside.core.session.unit import designation

NOT_IN = (
    "Do not clear its hose into the unit: stop the unit and close out with the unit off, which "
    "clears the hose back or recovers it. What is recovered is a mixture. "
)
"""Of a cylinder with another refrigerant: common practice, no source."""
VOID_THE_REST = "Then void each step of the close-out on the timeline, but no reading."
SAID_ONCE: dict[str, str] = {
    "unit.set": "unit",
    "machine.set": "unit type and mode",
    "target.set": "target",
    "checks.answered": "checks before charging",
    "cylinder.set": "cylinder",
}
"""What a shot depends on, beside the decision: nothing is added while two phones differ."""
BEFORE_HOSES: tuple[BlockCode, ...] = (
    "apart",
    "machine_unanswered",
    "heating_large_line",
    "port_unanswered",
    "checks_unanswered",
    "not_qualified",
    "unprotected",
    "flammable_detector",
    "flammable_air",
    "flammable_ground",
    "flammable_gear",
    "flammable_covers",
)
"""What must be settled before a nut is touched: what the large line is now, and who is there
with what."""


def blocks(state: State) -> tuple[Block, ...]:
    """Every reason that holds now, the most dangerous first; empty when a shot may be started."""
    found: list[Block] = []
    if not state.running:
        found.append(
            Block(
                "stopped",
                "The unit is stopped. Liquid fed into an idle unit ends up in the compressor.",
                at_valves(state) + " Add nothing until the unit runs again and has settled.",
                STOP,
            )
        )
    found.extend(_apart(state))
    found.extend(_mixed(state))
    found.extend(_wrong_refrigerant(state))
    found.extend(_cylinder(state))
    found.extend(recovered_blocks(state))
    found.extend(_by_reading(state))
    found.extend(machine_blocks(state))
    found.extend(check_blocks(state))
    found.extend(steady_blocks(state))
    if "weighing.compared" in state.walk:
        found.append(
            Block(
                "weighed_in",
                "The whole charge was weighed in.",
                "Nothing is added to it by readings.",
                WEIGH_IN,
            )
        )
    elif "weighing.ready" in state.walk or weighed_in(state):
        found.append(
            Block(
                "weighed_in",
                "This unit is charged by weight in this session.",
                "Nothing is added to it by readings. Finish the weigh-in.",
                WEIGH_IN,
            )
        )
    if state.closed is not None:
        found.append(Block("closed", "This session is closed.", "Start a new one."))
    found.extend(_closed_out(state))
    found.extend(_not_saved(state))
    if was_weighed(state):
        found.append(Block("not_weighed", "Another cylinder: weigh it.", WEIGH_IT))
    elif not_joined(state):
        cure = "Do the steps that are open again, up to “Liquid to the manifold”."
        found.append(Block("not_joined", "Another cylinder: its hose is not purged yet.", cure))
    elif state.start_weight is None:
        found.append(
            Block(
                "not_weighed",
                "The cylinder has not been weighed yet.",
                "Weigh it bare before the hose goes on. The record needs that weight.",
            )
        )
    by_weight = state.system is not None and state.system.method == BY_WEIGHT
    if not state.readings and not by_weight:
        found.append(
            Block(
                "no_baseline",
                "No reading has been taken yet.",
                "Take the baseline reading first.",
            )
        )
    if state.decision == NOT_DECIDED:
        found.append(
            Block("undecided", "Nobody has decided to add charge.", "Do the decision step first.")
        )
    elif differ(state.answers.get("decision.made", [])):
        cure = "Look together, then decide once more."
        found.append(Block("leave", "Two phones decided differently.", cure, form="decide"))
    elif state.decision == DECIDED_TO_LEAVE:
        found.append(
            Block("leave", "The decision was not to add.", "Change the decision if it was wrong.")
        )
    return tuple(_gravest_first(_without_second_charge(state, found)))


def _apart(state: State) -> list[Block]:
    """Two phones gave different answers, and neither knew the other’s. Our choice."""
    if state.closed is not None:
        return []
    cure = "Look together, then answer once more."
    return [
        Block(
            "apart", f"Two phones answered differently: {name}.", cure, form=FORM_OF_KIND[kind].name
        )
        for kind, name in SAID_ONCE.items()
        if differ(state.answers.get(kind, []))
    ]


def weighed_in(state: State) -> bool:
    """Whether a charge by weight is inside, whole or in part."""
    return "weighing.compared" in state.walk or len(state.lots) > state.lots_recovered


def _without_second_charge(state: State, found: list[Block]) -> list[Block]:
    """Of a unit that was weighed in nothing else asks for a weigh-in: to obey would be a second
    charge, or a recovery for nothing. Whatever is left out, “weighed_in” still blocks adding."""
    if not weighed_in(state):
        return found
    return [one for one in found if one.instead != WEIGH_IN or one.code == "weighed_in"]


def _closed_out(state: State) -> list[Block]:
    """The close-out was begun: the hoses are off, or not as a shot needs them."""
    if state.closed is not None:
        return []
    if is_done(state, HOSES_OFF):
        cure = "Connect and purge them again, up to “Liquid to the manifold”. " + VOID_THE_REST
        return [Block("hoses_off", "The hoses are off.", cure)]
    if off_for_recovery(state.entries, state.done):
        cure = "Connect and purge them again, void “Liquid to the manifold” and do it again."
        return [Block("hoses_off", "The hoses came off for the recovery.", cure)]
    if is_done(state, CLOSED_OUT):
        words = "The close-out has begun: the cylinder is closed."
        cure = "Open it again as in “Liquid to the manifold”. " + VOID_THE_REST
        cure = cure + " Or enter another cylinder."
        return [Block("closed_out", words, cure, form="cylinder")]
    return []


def _not_saved(state: State) -> list[Block]:
    """Facts without which nothing was judged, such as an entry that was voided later."""
    found: list[Block] = []
    if state.system is None:
        found.append(
            Block(
                "no_target",
                "Site, unit and target are not all saved, so no reading can be judged.",
                "Save what is missing, then take a reading.",
                form="target" if state.unit_texts else "unit",
            )
        )
    if state.cylinder is None:
        found.append(
            Block(
                "no_cylinder",
                "The cylinder is not saved. Nobody has checked what is in it.",
                "Save the cylinder first.",
                form="cylinder",
            )
        )
    return found


def _gravest_first(found: list[Block]) -> list[Block]:
    """By what is done instead; in the order found where that is the same."""
    ordered: list[Block] = []
    for instead in GRAVEST_FIRST:
        ordered.extend([block for block in found if block.instead == instead])
    return ordered


def _mixed(state: State) -> list[Block]:
    """By the checks, or by a cylinder that fed it."""
    mixed = mixed_with(state)
    if mixed == "":
        return []
    return [
        Block(
            "mixed_refrigerant",
            mixed + " may be inside. Pressures then mean nothing.",
            "Recover, evacuate and weigh in the right charge, or correct the entry if one was "
            "mistyped.",
            STOP,
        )
    ]


def _wrong_refrigerant(state: State) -> list[Block]:
    """The cylinder's label and the unit's nameplate name different refrigerants."""
    cylinder = state.cylinder
    if cylinder is None or not is_wrong(state):
        return []
    return [
        Block(
            "wrong_refrigerant",
            f"The cylinder says {cylinder.refrigerant}, the unit says "
            f"{designation(state.unit_texts)}. Never mix them.",
            (NOT_IN if liquid_in_hose(state) else "")
            + "Get the right cylinder, or correct the entry if one was mistyped.",
            STOP,
        )
    ]


def _cylinder(state: State) -> list[Block]:
    """A cylinder nothing is charged from: hot, empty, or with other contents than its label."""
    found: list[Block] = []
    for finding in state.cylinder_findings:
        if finding.level == DANGER:
            words = sentence(finding, state.units)
            cure = "Charge from it only when it is cool again."
            found.append(Block("cylinder_hot", words, cure, STOP, "cylinder"))
        elif finding.code == "cylinder_cold":
            words = sentence(finding, state.units)
            cure = (
                "If it is warmer, enter its temperature or pressure. If not, warm it in warmer "
                "air, never with a flame."
            )
            found.append(Block("cylinder_cold", words, cure, WAIT, "cylinder"))
        elif finding.level == REFUSE:
            words = sentence(finding, state.units)
            cure = "Take another cylinder, or correct the entry."
            found.append(Block("cylinder_contents", words, cure, form="cylinder"))
    left = left_in_cylinder(state)
    if left is not None and left <= ROUNDING_KG:
        found.append(
            Block(
                "cylinder_empty",
                "The cylinder is empty by its weight.",
                "Weigh another one and use that.",
                form="cylinder",
            )
        )
    return found


def _by_reading(state: State) -> list[Block]:
    """What the newest reading forbids whatever anybody decides."""
    latest = latest_reading(state)
    if latest is None or latest.assessment is None:
        return []
    verdict = latest.assessment.verdict
    if verdict == NEARLY_EMPTY:
        return [
            Block(
                "reading_weigh_in",
                reason(latest.assessment, state.units),
                at_valves(state),
                WEIGH_IN,
            )
        ]
    refused = never_added_to(latest)
    slip = doubtful_target(state, latest)
    if slip is not None:
        return [Block("reading_refused", sentence(slip, state.units), SAVE_AGAIN, form="target")]
    if refused is not None and refused.code != "missing":
        return [
            Block(
                "reading_refused",
                sentence(refused, state.units),
                "No reason opens this. Fix the cause, then take a new reading.",
                on_target=verdict == ON_TARGET,
            )
        ]
    if refused is not None or verdict == UNKNOWN:
        why = latest.assessment.reason_finding if refused is None else refused
        return [
            Block(
                "reading_unknown",
                sentence(why, state.units),
                "Take a complete reading first.",
            )
        ]
    objection = open_objection(state)
    if objection is not None and verdict == CALLS_FOR_CHARGE:
        return [
            Block(
                "reading_reason",
                sentence(objection, state.units),
                "Fix the cause, or write at the decision why you add anyway.",
            )
        ]
    if verdict != UNSAFE and corrected_apart(state.entries, latest.eid):
        return [
            Block(
                "corrected_apart",
                "Two phones corrected the reading, and the later correction undid the other.",
                "Correct it once more, with every number as it was read, or take a new reading.",
            )
        ]
    if verdict != UNSAFE:
        return []
    return [
        Block(
            "reading_stop",
            reason(latest.assessment, state.units),
            at_valves(state) + " Find the cause before anything else.",
            STOP,
        )
    ]


def at_valves(state: State) -> str:
    """What a stop asks for at the valves, as the hoses are now."""
    off = off_for_recovery(state.entries, state.done)
    cleared = off or is_done(state, ("off_stop", *EMPTIED))
    cylinder = KEEP_OPEN if liquid_was_let_in(state) and not cleared else NO_LIQUID
    return "Close the " + state.low_valve + ". " + cylinder
