"""What the screens of recovery and weigh-in show beside their forms, and the ways there."""

from typing import Any

from lowside.core.advice import feeding
from lowside.core.advice.ground import restricted
from lowside.core.handbook.fields import NUMBER, choice_text
from lowside.core.handbook.forms import FORM_OF_KIND
from lowside.core.handbook.procedure import (
    RECOVER_STAGE,
    WEIGH_IN_STAGE,
    Procedure,
    Step,
    is_off_step,
    walk_of,
    walk_with,
)
from lowside.core.judging.by_weight import near_full
from lowside.core.judging.charge import OVER
from lowside.core.numbers.unit_choice import label, small_mass
from lowside.core.pages import addresses
from lowside.core.pages.facts import fact
from lowside.core.pages.parts import alert, block_alert, with_form
from lowside.core.pages.screen import Screen
from lowside.core.pages.wording import duration, title_of
from lowside.core.session import block, gate, recovering, weighing
from lowside.core.session.block import BlockCode
from lowside.core.session.entry import EMPTY_FOR
from lowside.core.session.events import Moment
from lowside.core.session.other_cylinder import hose_holds_air
from lowside.core.session.state import State, Taken, latest_reading
from lowside.core.session.unit import by_labels, designation
from lowside.core.session.walk import LIQUID_IN, MACHINE_ON

SHOWN_IN_WALKS: tuple[BlockCode, ...] = (
    "mixed_refrigerant",
    "wrong_refrigerant",
    "cylinder_hot",
    "cylinder_contents",
    "not_qualified",
)
HOSES_ON = ("wi_break", "wi_run", "wi_rest", "wi_off")
"""Steps of weigh-in from which the way out with the unit off is taken, once refrigerant is in."""
RECOVER_LABEL = "Recover refrigerant"
WEIGH_IN_LABEL = "Weigh in the whole charge"


def ways(state: State, procedure: Procedure, step: Step) -> list[dict[str, str]]:
    """Links to the walks: where the answer is one of them, while the session is prepared, and from
    the close-out with the unit off."""
    recover = walk_of(procedure, RECOVER_STAGE)
    weigh = walk_of(procedure, WEIGH_IN_STAGE)
    if state.closed is not None or not recover or not weigh:
        return []
    if walk_with(procedure, step.id):
        return _ways_of_walk(state, procedure, step)
    instead = [
        one
        for one in gate.blocks(state)
        if one.instead == block.WEIGH_IN or one.code in ("mixed_refrigerant", "leaking")
    ]
    told = len(instead) > 0 or _too_much(latest_reading(state)) or restricted(state) is not None
    if not told and step.stage != "Prepare" and not is_off_step(procedure, step.id):
        return []
    return [
        {"href": addresses.step(state.sid, recover[0].id), "label": RECOVER_LABEL},
        {"href": addresses.step(state.sid, weigh[0].id), "label": WEIGH_IN_LABEL},
    ]


def _ways_of_walk(state: State, procedure: Procedure, step: Step) -> list[dict[str, str]]:
    """From a walk's first step: off with the hoses. From weigh-in: recovery."""
    found: list[dict[str, str]] = []
    first_of_walk = step.id == walk_with(procedure, step.id)[0].id
    if (first_of_walk or step.id in HOSES_ON) and procedure.off_steps:
        off = addresses.step(state.sid, procedure.off_steps[0].id)
        label = "Hoses still on? Take them off first"
        if not first_of_walk:
            label = "Close out with the unit off"
        found.append({"href": off, "label": label})
    if step.stage == WEIGH_IN_STAGE:
        first = walk_of(procedure, RECOVER_STAGE)[0]
        found.append({"href": addresses.step(state.sid, first.id), "label": RECOVER_LABEL})
    return found


def is_shut(state: State, step: Step, now: Moment) -> bool:
    """Whether the step's form is not shown: it would open a valve. What went in against a stop can
    still be recorded."""
    recorded = step.form == "charge_off" and weighing.stopped(state) != ""
    return closed_here(state, step, now) != "" and not recorded


def closed_here(state: State, step: Step, now: Moment) -> str:
    """Why this step of a walk must not be done now, so that its words are not shown. Empty: it
    may."""
    if step.stage == WEIGH_IN_STAGE and designation(state.unit_texts) == weighing.NOT_WALKED:
        return weighing.R744_SENTENCE
    if step.id == MACHINE_ON:
        return recovering.why_not(state)
    if step.form in EMPTY_FOR and weighing.charged_kg(state) > 0.0:
        return weighing.STILL_IN
    no = weighing.stopped(state) if step.id in HOSES_ON else ""
    if no == "" and step.id in LIQUID_IN:
        no = weighing.why_not(state)
        no = weighing.old_vacuum(state, now) if no == "" else no
    if no == "" and step.id in ("wi_run", "wi_rest"):
        return weighing.too_little(state)
    return no


NO_PORT_STEPS = ("wi_ready", "wi_break")
NO_PORT = (
    "This unit has no liquid port, and manufacturers conflict on filling one that is off by its "
    "suction port."
)
NO_PORT_CURE = (
    "While it is empty and purged with nitrogen, have an access valve brazed into the liquid line "
    "and weigh in through that. Or fill it by this unit’s instructions only."
)
"""READ: liquid into the suction only while it runs (50TC-17 p. 19), or only while it is off (Maytag
service sheet). The valve: common practice, no source."""


HOSE_HOLDS_AIR = "This cylinder’s hose was off after the vacuum, so it holds air."
PUMPED = (
    "Both manifold valves and the cylinder valve closed: run the pump on the tee for some minutes, "
    "then close the tee’s valve to it."
)
PURGED = (
    "Its nut half a turn loose, its valve closed: crack the low-side manifold valve, the unit’s "
    "vapor pushes the air out. When the nut is tight, close it again. Was the red hose off? The "
    "same way at its port, by the high side."
)
"""Before the first lot and after one. Common practice, no source; played in the hose model."""


def words_hidden(state: State, procedure: Procedure, step: Step, now: Moment) -> bool:
    """Whether the step's words must not be read out: it may not begin yet, though its form may
    say so, or the unit is charged by its own instructions."""
    if closed_here(state, step, now) != "" or (step.id == "wi_break" and not procedure.liquid_port):
        return True
    if step.id == "wi_vacuum":
        return not weighing.pressure_verdict(state).passed
    return step.id == "wi_rest" and weighing.rest_refused(state) != ""


def _too_much(taken: Taken | None) -> bool:
    return taken is not None and taken.assessment is not None and taken.assessment.verdict == OVER


def walk_facts(screen: Screen, step: Step) -> list[dict[str, str]]:
    """Figures a walk's step needs."""
    state = screen.state
    if step.id in ("rec_contents", "rec_run", "rec_after"):
        return _recovery_facts(screen, step)
    if step.id in ("wi_total", "wi_break", "wi_rest", "wi_result"):
        return _charge_facts(state, step)
    return []


def walk_alerts(screen: Screen, procedure: Procedure, step: Step) -> list[dict[str, Any]]:
    """What speaks against going on in a walk."""
    state = screen.state
    found: list[dict[str, Any]] = []
    walk = walk_with(procedure, step.id)
    if not walk or state.closed is not None:
        return found
    no = closed_here(state, step, screen.now)
    if no == weighing.R744_SENTENCE:
        return [alert("stop", "Stop.", no)]
    if no != "":
        found.append(_not_yet(state, no))
    elif step.id == "wi_rest" and weighing.rest_refused(state) != "":
        found.append(alert("stop", "Add nothing.", weighing.rest_refused(state), "Type 0."))
    if designation(state.unit_texts) == "" and not recovering.unit_is_mixed(state):
        found.append(_to_unit(state, "First.", "Save the unit."))
    if step.id in NO_PORT_STEPS and not procedure.liquid_port:
        found.append(alert("stop", "No liquid port.", NO_PORT, NO_PORT_CURE))
    found.extend(_weigh_in_alerts(state, step))
    if step.id in ("rec_contents", "rec_run"):
        found.extend(_room_alerts(screen))
    return found


def _to_unit(state: State, word: str, sentence: str) -> dict[str, Any]:
    return with_form(state, alert("warn", word, sentence), "unit")


def _not_yet(state: State, sentence: str) -> dict[str, Any]:
    form = "machine" if state.machine is None else ""
    return with_form(state, alert("stop", "Not yet.", sentence), form)


def _weigh_in_alerts(state: State, step: Step) -> list[dict[str, Any]]:
    """Tests that have not passed, parts of the total that are missing, air in the hose, weights
    that disagree."""
    found: list[dict[str, Any]] = []
    if step.id in LIQUID_IN and hose_holds_air(state):
        cure = PUMPED if weighing.charged_kg(state) == 0.0 else PURGED
        found.append(alert("warn", "Air in the hose.", HOSE_HOLDS_AIR, cure))
    if step.id == "wi_total":
        whole = weighing.whole_charge(state)
        if whole.missing != "":
            found.append(_to_unit(state, "No total yet.", whole.missing))
    if step.id == "wi_vacuum" or (step.id == "wi_pressure" and "pressure.tested" in state.walk):
        test = weighing.pressure_verdict(state)
        if not test.passed:
            found.append(alert("stop", "Not yet.", test.sentence))
    if step.id == "wi_result":
        apart = weighing.difference(state)
        if apart != "":
            found.append(alert("warn", "Caution.", apart))
    return found


def walk_page_alerts(state: State) -> list[dict[str, Any]]:
    """What must not be overlooked in a walk: the unit is off there and nothing is added by
    readings, so what only says that is left out."""
    if state.closed is not None:
        return []
    return [
        block_alert(state, one, "stop", "Stop.")
        for one in gate.blocks(state)
        if one.code in SHOWN_IN_WALKS
    ]


def walk_parts(state: State) -> list[tuple[str, list[dict[str, str]]]]:
    """What was recovered and weighed in, for the record."""
    recovery: list[dict[str, str]] = []
    for i, one in enumerate(state.recovered):
        what = "whole charge" if one.whole else "a part"
        out = "amount not known" if one.kg is None else label("mass", one.kg, state.units)
        recovery.append(fact("Recovered " + str(i + 1), out + ", " + what))
    for kind in ("recovery.cylinder", "recovery.contents", "recovery.weighed"):
        recovery.extend(_answers(state, kind))
    weigh: list[dict[str, str]] = []
    for kind in ("pressure.tested", "vacuum.held"):
        weigh.extend(_answers(state, kind))
    if "pressure.tested" in state.walk:
        weigh.append(fact("Pressure test", weighing.pressure_verdict(state).sentence))
    if "vacuum.held" in state.walk:
        weigh.append(fact("Evacuation", weighing.vacuum_verdict(state).sentence))
    if "weighing.total" in state.walk or "weighing.off" in state.walk:
        whole = weighing.whole_charge(state)
        for name, kilograms in whole.parts:
            weigh.append(fact(name, label("mass", kilograms, state.units)))
        if whole.total_kg is not None:
            weigh.append(fact("Whole charge", label("mass", whole.total_kg, state.units)))
    for lot in state.lots:
        weigh.append(fact(title_of(lot.kind), label("mass", lot.kg, state.units)))
    weigh.extend(_answers(state, "weighing.run"))
    if "weighing.off" in state.walk:
        weigh.append(fact("Weighed in", label("mass", weighing.charged_kg(state), state.units)))
        apart = weighing.difference(state)
        weigh.append(fact("Weights", "agree" if apart == "" else apart))
    weigh.extend(_answers(state, "weighing.compared"))
    return [("Recovery", recovery), ("Weigh-in", weigh)]


def _recovery_facts(screen: Screen, step: Step) -> list[dict[str, str]]:
    state = screen.state
    limit = recovering.limit_now(state, screen.handbook)
    cylinder = state.walk.get("recovery.cylinder")
    before = state.walk.get("recovery.contents")
    if limit is None or cylinder is None:
        return []
    most = limit.kg + cylinder.numbers["rc_tare"]
    facts = [
        fact("At most inside", label("mass", limit.kg, state.units)),
        fact("By", limit.rule),
    ]
    if step.id != "rec_contents":
        facts = [fact("Stop at, bare cylinder", label("mass", most, state.units))]
        if before is not None:
            room = most - before.numbers["rc_before"]
            facts.append(fact("Room left", label("mass", room, state.units)))
        level = recovering.level_pa(state, screen.handbook)
        facts.append(fact("Whole charge: pull to", label("gauge_pressure", level, state.units)))
    return facts


def _room_alerts(screen: Screen) -> list[dict[str, Any]]:
    """A charge larger than the room needs a second cylinder."""
    state = screen.state
    before = state.walk.get("recovery.contents")
    charge = near_full(by_labels(state))
    if before is None or charge is None:
        return []
    room = recovering.room_kg(state, screen.handbook, before.numbers["rc_before"])
    if room is None or charge <= room:
        return []
    return [
        alert(
            "warn",
            "Not enough room.",
            "The whole charge is "
            + label("mass", charge, state.units)
            + ", the room is "
            + label("mass", room, state.units)
            + ".",
            "Have a second recovery cylinder ready. Stop this one at its weight.",
        )
    ]


def _charge_facts(state: State, step: Step) -> list[dict[str, str]]:
    whole = weighing.whole_charge(state)
    facts: list[dict[str, str]] = []
    if step.id == "wi_total":
        for name, kilograms in whole.parts:
            facts.append(fact(name, label("mass", kilograms, state.units)))
    rest = 0.0
    if whole.total_kg is not None:
        facts.append(fact("Whole charge", label("mass", whole.total_kg, state.units)))
        rest = max(whole.total_kg - weighing.charged_kg(state), 0.0)
        facts.append(fact("Still to go in", label("mass", rest, state.units)))
    facts.append(fact("Weighed in", label("mass", weighing.charged_kg(state), state.units)))
    unit = by_labels(state)
    if step.id == "wi_rest" and unit is not None:
        # Nothing was read of the running unit, so nothing is taken to boil.
        suction = feeding.suction_of(unit, None, None, feeding.parts_of(state.unit_texts))
        most = feeding.most_in_one_opening(suction, feeding.flow_of(state, 0))
        facts.append(fact("One shot, at most", small_mass(most, state.units)))
        wait = feeding.boil_off_s(suction)
        facts.append(fact("Then wait", duration(wait)))
        if rest > 0.0:
            facts.append(fact("All of it, at least", duration(rest / most * wait)))
    if step.id == "wi_result":
        weights = weighing.by_weights_kg(state)
        if weights is not None:
            facts.append(fact("Cylinder lost", label("mass", weights, state.units)))
    return facts


def _answers(state: State, kind: str) -> list[dict[str, str]]:
    """A form's answers in words, numbers in the session's units, in the form's order."""
    facts: list[dict[str, str]] = []
    fields = state.walk.get(kind)
    if fields is None:
        return facts
    for field in FORM_OF_KIND[kind].fields:
        number = fields.numbers.get(field.name)
        text = fields.texts.get(field.name, "")
        if field.kind == NUMBER and field.quantity != "" and number is not None:
            facts.append(fact(field.label, label(field.quantity, number, state.units)))
        elif text != "":
            facts.append(fact(field.label, choice_text(field.choices, text)))
    return facts
