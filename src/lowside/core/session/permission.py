"""May this machine be added to at all: by what it is, how it runs, what is in it and the checks.

Each rule names its source beside it: READ (seen in a copy of the document), MEMORY, or common
practice. Where manufacturers conflict the rule asks what its instructions say; without an answer
the strictest holds. An answer that was not given is never a yes, so sessions from before a
question was asked can be looked at and closed, but not added to.
"""

from collections.abc import Mapping

from lowside.core.handbook.machine import (
    BYPASS,
    DUCTLESS,
    HEATING,
    HELD_LASTS_S,
    INVERTER,
    IS_HELD,
    LARGE_LINE,
    MULTI_SPLIT,
    PAPERS_LOW,
    PART_STAGE,
    PORT_UNANSWERED,
    Machine,
    asks_for_held,
    judged_by_readings,
)
from lowside.core.handbook.refrigerants import (
    BY_WEIGHT_ONLY,
    REFRIGERATION,
    Refrigerant,
    flammable,
)
from lowside.core.handbook.system import BY_SUBCOOLING, BY_WEIGHT, FIXED, METERING_UNKNOWN
from lowside.core.handbook.unit_forms import WATER
from lowside.core.judging.by_weight import near_full
from lowside.core.session.block import STOP, WAIT, WEIGH_IN, Block
from lowside.core.session.events import Moment, age_s
from lowside.core.session.federal import leak_rule
from lowside.core.session.flammability import flammable_blocks, questions_for
from lowside.core.session.state import State
from lowside.core.session.unit import by_labels

WEIGH_IN_CURE = (
    "Recover what is inside, find and repair the leak, evacuate, and weigh in the whole charge."
)

SEARCH_CURE = "Leak-check it, then answer the checks again."

QUESTIONS: dict[str, str] = {
    "qualified": "license",
    "protected": "gloves and eye protection",
    "airflow": "filter, blower and indoor coil",
    "outdoor_coil": "outdoor coil and fan",
    "leak": "leak check",
    "steady": "15 minutes of steady running",
    "same_refrigerant": "another refrigerant inside",
}
"""The checks before charging, as a sentence names them."""


def machine_blocks(state: State) -> list[Block]:
    """What speaks against adding by the machine, its mode and its circuit."""
    if state.closed is not None:
        return []
    found = _machine(state, state.machine)
    found.extend(_circuit(state))
    water = state.unit_texts.get("coil", "") == WATER
    if water or (state.system is not None and state.system.method == BY_WEIGHT):
        # Of water: ours. Its readings go by its water, which no form asks for.
        what = "A water-cooled or water-source unit" if water else "This unit"
        found.append(
            Block(
                "by_weight",
                what + " is charged by weight. While it runs, nobody knows how much is inside.",
                WEIGH_IN_CURE,
                WEIGH_IN,
            )
        )
    return found


def check_blocks(state: State) -> list[Block]:
    """What speaks against adding by the checks before charging."""
    checks = state.checks
    found: list[Block] = []
    absent = [words for name, words in QUESTIONS.items() if checks.get(name, "") == ""]
    for name, words in questions_for(state.refrigerant).items():
        if checks.get(name, "") == "":
            absent.append(words)
    if absent:
        found.append(
            Block(
                "checks_unanswered",
                "Not answered yet: " + ", ".join(absent) + ".",
                "Answer the checks before charging. An open question is not a yes.",
                form="preconditions",
            )
        )
    found.extend(_safety(checks))
    found.extend(flammable_blocks(state.refrigerant, checks))
    found.extend(_condition(checks))
    found.extend(_leak(state))
    return found


def _machine(state: State, machine: Machine | None) -> list[Block]:
    if machine is None:
        return [
            Block(
                "machine_unanswered",
                "Not answered yet: cooling or heating, how the compressor runs, what kind of "
                "unit it is.",
                "Answer “Unit type and mode” first. An open question is not a yes.",
                form="machine",
            )
        ]
    if machine.mode == HEATING:
        return _heating(machine)
    if machine.stage == BYPASS:
        return [_not_held(machine)]
    papers = state.target_texts.get("papers_stage", "")
    if papers != "" and not _stage_by_papers(machine, papers):
        return [
            Block(
                "papers_stage",
                f"This unit’s instructions ask for {papers} stage, and it does not run at that.",
                "Hold it at the stage the instructions ask for and answer “What decides” again, or "
                "correct the target.",
                WAIT,
                form="machine",
            )
        ]
    if papers == "" and not judged_by_readings(machine):
        return [_not_held(machine)]
    found: list[Block] = []
    leaked = state.checks.get("leak", "") in ("repaired", "leaking")
    if machine.kind in (DUCTLESS, MULTI_SPLIT) and leaked:
        # READ: never add after a leak, recover and recharge by weight (CS-KS30NKU sec. 10-6,
        # RAV-SP sec. 6-4, YAV112 sec. 8.10, U-26PE1U6 sec. 2-2).
        found.append(
            Block(
                "leaked_ductless",
                "A ductless or multi-split unit that leaked is not topped up. Manufacturers ask "
                "for the whole charge by weight.",
                WEIGH_IN_CURE,
                WEIGH_IN,
            )
        )
    # By the newest entry: nobody asks the wall what time it is here, but when a shot is started.
    if state.entries:
        found.extend(mode_over(state, state.entries[-1].moment))
    return found


def _heating(machine: Machine) -> list[Block]:
    if machine.port == LARGE_LINE:
        # READ: in heating high pressure is at the larger service valve (SSZ14 p. 28).
        return [
            Block(
                "heating_large_line",
                "Do not touch the nut on the large line. In heating the large line is the high "
                "side. The blue hose would see high pressure there.",
                "Use the true suction port at the compressor, or run the unit in cooling.",
                STOP,
                form="machine",
            )
        ]
    found: list[Block] = []
    if machine.port == PORT_UNANSWERED:
        found.append(
            Block(
                "port_unanswered",
                "In heating the large line is the high side. Nobody has said which port the "
                "blue hose goes on.",
                "Answer “Unit type and mode” before you touch a nut.",
                form="machine",
            )
        )
    # READ: do not adjust by the cooling methods while heating, recover and weigh in (PH4Z p. 12,
    # 38HQ p. 11); the chart is a check only (25HCR p. 10). Two manufacturers' partly seen pages
    # hint at a trim in heating (4TWR3 p. 6, NS23AM p. 93): the strictest holds.
    found.append(
        Block(
            "heating",
            "The unit runs in heating. Manufacturers do not allow charge adjustment in heating.",
            "Come back when it can run in cooling. Or recover, evacuate and weigh in the charge.",
            WEIGH_IN,
            form="machine",
        )
    )
    return found


def _stage_by_papers(machine: Machine, papers: str) -> bool:
    """Whether it runs at the stage this unit's instructions ask for. They speak of stages only: an
    inverter, a ductless or a multi-split unit must be held as without them."""
    if papers == "full":
        return judged_by_readings(machine) and machine.held != PAPERS_LOW
    low = machine.stage == PART_STAGE and machine.held != IS_HELD
    return low and machine.kind not in (DUCTLESS, MULTI_SPLIT)


def _not_held(machine: Machine) -> Block:
    what = "The compressor runs at part stage"
    cure = "Hold it at full stage in the manufacturer’s charge or test mode and confirm that."
    if machine.stage == BYPASS:
        what = "Gas or liquid takes another way"
        cure = "Close that way until the hoses are off, and answer again."
    elif machine.stage == INVERTER:
        what = "The control chooses the compressor’s speed"
    elif machine.kind in (DUCTLESS, MULTI_SPLIT):
        what = "A ductless or multi-split unit chooses how it runs"
    return Block(
        "not_held",
        what + ", so pressures do not show the charge.",
        cure + " Or recover, evacuate and weigh in the charge.",
        WEIGH_IN,
        form="machine",
    )


def mode_over(state: State, now: Moment) -> list[Block]:
    """Whether the mode that holds it has ended by itself by now."""
    machine, since = state.machine, state.machine_at
    if machine is None or since is None or not asks_for_held(machine.stage, machine.kind):
        return []
    if machine.held != IS_HELD or age_s(since, now) <= HELD_LASTS_S:
        return []
    return [
        Block(
            "mode_over",
            "The charge or test mode was confirmed more than 60 minutes ago. It ends by itself.",
            "Start the mode again and answer “Unit type and mode” again.",
            form="machine",
        )
    ]


def _circuit(state: State) -> list[Block]:
    """By the refrigerant and the parts of the circuit."""
    found: list[Block] = []
    refrigerant = state.refrigerant
    texts = state.unit_texts
    if not texts:
        return found
    unknown = state.system is not None and state.system.metering == METERING_UNKNOWN
    if unknown or texts.get("coil", "") == "" or texts.get("receiver", "") == "":
        found.append(
            Block(
                "circuit_unanswered",
                "Not all answered yet: metering device, the outdoor coil’s kind, receiver.",
                "Answer them on the unit’s step. An open question is not a yes.",
                form="unit",
            )
        )
    if refrigerant is not None:
        found.extend(_by_refrigerant(state, refrigerant))
    metering = METERING_UNKNOWN if state.system is None else state.system.metering
    if not state.liquid_port and metering not in (FIXED, METERING_UNKNOWN):
        # READ: only low subcooling without low superheat means missing charge behind a valve (a
        # four-way table, GSZH5), and subcooling needs the high side.
        found.append(
            Block(
                "no_liquid_port",
                "This unit has no liquid port and an expansion valve. Without its high side nobody "
                "can tell what is missing.",
                WEIGH_IN_CURE,
                WEIGH_IN,
                form="unit",
            )
        )
    method = "" if state.system is None else state.system.method
    papers = state.target_texts.get("microchannel_papers", "") == "yes"
    if texts.get("coil", "") == "microchannel" and method == BY_SUBCOOLING and not papers:
        # READ: some units state they cannot be charged by subcooling (4TTM3018 p. 16).
        found.append(
            Block(
                "microchannel_papers",
                "Manufacturers differ on microchannel coils. One forbids charging them by "
                "subcooling.",
                "If the unit’s instructions give a subcooling, answer that at the target. If not, "
                "use their method, or weigh in.",
                form="target",
            )
        )
    return found


def _by_refrigerant(state: State, refrigerant: Refrigerant) -> list[Block]:
    found: list[Block] = []
    name = refrigerant.designation
    if refrigerant.use == BY_WEIGHT_ONLY:
        # READ: R-290 units leave no access fittings (GAR/GA sec. 8), R-744 is charged at the
        # receiver or the liquid line, gas first (AE4-1372 R4).
        why = ", which is flammable," if flammable(refrigerant) else ""
        found.append(
            Block(
                "by_weight_only",
                name + why + " is only ever weighed in. No running unit is topped up with it.",
                WEIGH_IN_CURE,
                WEIGH_IN,
            )
        )
        return found
    receiver = state.unit_texts.get("receiver", "")
    unsure = refrigerant.use == REFRIGERATION and receiver != "no"
    if receiver == "yes" or (unsure and receiver != ""):
        # READ: metered to about a third of the receiver's glass (gForce DX p. 60), stopped at
        # its top (SLXi p. 60); a clear sight glass is never the only basis (LCS p. 21).
        usual = "" if receiver == "yes" else name + " circuits usually have a receiver. "
        found.append(
            Block(
                "receiver",
                usual
                + "A receiver stores extra charge, so subcooling at the condenser does not show "
                "the charge.",
                "Use the manufacturer’s method, such as the level glass on the receiver. Never go "
                "by a clear sight glass alone. Or weigh in.",
                form="unit",
            )
        )
    leaked = state.checks.get("leak", "") in ("repaired", "leaking")
    if refrigerant.shifts_when_it_leaks and leaked:
        # READ for R-407C: top-up not recommended, the composition may have shifted (MCM p. 65,
        # D-series p. 16); R-422B may be topped off (NU-22B). Others by R-407C.
        found.append(
            Block(
                "blend_shifted",
                name + " is a blend with wide glide, and it has leaked. What is left may no longer "
                "be the blend on the label.",
                WEIGH_IN_CURE,
                WEIGH_IN,
            )
        )
    return found


def _safety(checks: Mapping[str, str]) -> list[Block]:
    found: list[Block] = []
    if checks.get("qualified") == "no":
        found.append(
            Block(
                "not_qualified",
                "You do not hold the license this work needs.",
                "Call someone who holds it.",
            )
        )
    if checks.get("protected") == "no":
        found.append(
            Block(
                "unprotected",
                "No gloves or eye protection.",
                "Put them on. Liquid burns cold.",
                form="preconditions",
            )
        )
    return found


def _condition(checks: Mapping[str, str]) -> list[Block]:
    """Airflow comes before charge. READ: charts hold at 350 to 450 cfm a ton (NAC260GKA1), or
    within 21 % of rated (CXH5)."""
    found: list[Block] = []
    if checks.get("airflow") == "no":
        found.append(
            Block(
                "airflow",
                "The indoor side is not in order. Low airflow or outdoor air looks like a wrong "
                "charge.",
                "Clean filter, blower and coil, open the registers, close the economizer, then "
                "answer the checks again.",
                form="preconditions",
            )
        )
    if checks.get("outdoor_coil") == "no":
        found.append(
            Block(
                "outdoor_coil",
                "The outdoor coil is not clean, clear and dry. The high side shows that, not the "
                "charge.",
                "Clean the coil, let it dry, check that its fan turns, then answer the checks "
                "again.",
                form="preconditions",
            )
        )
    return found


def _leak(state: State) -> list[Block]:
    checks = state.checks
    answer = checks.get("leak", "")
    inside = state.refrigerant
    burns = inside is not None and flammable(inside)
    # No reason replaces the search there: common practice, no source.
    must = burns or (inside is not None and inside.shifts_when_it_leaks)
    if answer == "not_searched" and (must or checks.get("checks_reason", "") == ""):
        cure = "Leak-check it, or write at the checks why not. The reason goes on the record."
        if must:
            cure = SEARCH_CURE
        unsearched = "Nobody has leak-checked the unit."
        return [Block("not_searched", unsearched, cure, form="preconditions")]
    if answer != "leaking":
        return []
    if burns:
        # READ: no flame, all refrigerant recovered or isolated when a leak is worked on
        # (HomePointe item 10); that it is not topped up meanwhile: common practice, no source.
        return [
            Block(
                "leaking",
                "Keep flames away and ventilate. The unit leaks now, and its refrigerant can burn.",
                "Add nothing. Recover the charge, purge before a torch, and repair the leak.",
                STOP,
            )
        ]
    full = near_full(by_labels(state))
    rule = leak_rule(state.refrigerant, full, checks.get("leak_exempt", "") == "yes")
    if rule == "" and checks.get("leak_refused", "") != "":
        return []
    cure = "Repair the leak first, then answer the checks again."
    if rule != "":
        cure = rule
    elif checks.get("leak_refused", "") == "":
        cure = cure + " If the owner refuses repair, write that down at the checks."
    return [
        Block(
            "leaking",
            "The unit leaks now. Added charge leaks out again.",
            cure,
            STOP,
            "unit" if full is None else "preconditions",
        )
    ]
