"""Whether a shop's own procedure may be followed: the hose model's word, and the record's.

A refusal keeps a change from being saved; a warning is shown and saved with it. The model judges
valves and order. Nothing here can judge the words of a step.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from lowside.core.handbook.procedure import (
    CHARGE_PAGE,
    CYLINDER,
    LIQUID_LINE,
    SUCTION,
    Procedure,
    Step,
    ValveSetting,
    last_with_actions,
    step_by_id,
)
from lowside.core.handbook.psychrometrics import SEA_LEVEL_PA
from lowside.core.handbook.saturation import OutOfRange, PropertyTable
from lowside.core.handbook.system import DIP_TUBE, INVERT
from lowside.core.hoses.contents import LIQUID, Conditions, usual_conditions
from lowside.core.hoses.hazard_words import VAPOR_FED, Hazard
from lowside.core.hoses.hazards import valve_title
from lowside.core.hoses.network import links
from lowside.core.hoses.procedure_edit import changed_settings
from lowside.core.hoses.run import StepRun, follow, grams, hazards_of, in_the_way, run, run_off
from lowside.core.hoses.words import SETTING_WORDS
from lowside.core.numbers.arithmetic import format_decimal

JUDGED_WITH = ("R-410A", "R-22", "R-134a", "R-454B", "R-290")
"""High and low pressure, pure and blend, light and heavy: a way that is open or not is the same
for all; grams are not."""

WASTE_KG = 0.0005
"""More than this let out beyond the shipped procedure is told."""

LABELED = "flammable_label"
"""Caution of the step that may not be left out: a copy is for every refrigerant. READ: the second
leak-check before leaving and the label (42QHC p. 7)."""

PUT_BACK = "Put it back. You can move it and reword it, but not leave it out."

GAUGE_FORMS = ("reading", "final_reading")

FIRST: tuple[tuple[str, str, str], ...] = (
    ("job", "unit", "Site and elevation come before the unit: gauges read against the local air."),
    ("unit", "target", "The nameplate is read before the target is chosen."),
    ("machine", "reading", "Unit type and mode decide whether readings mean anything."),
    ("target", "reading", "Without a target no reading can be judged."),
    ("preconditions", "reading", "The checks come before the first reading is judged."),
    ("cylinder", "start_weight", "The cylinder is named before it is weighed."),
    ("start_weight", "end_weight", "The start weight comes before the end weight."),
    ("reading", "decide", "The reading comes before the decision that rests on it."),
    ("decide", CHARGE_PAGE, "Whether to add is decided before the first shot."),
    ("tare", CHARGE_PAGE, "The scale is set before the first shot, or the shot is not weighed."),
    (CHARGE_PAGE, "final_reading", "The final reading is taken after the last shot."),
    ("end_weight", "reconcile", "Weights are compared after both are known."),
    ("reconcile", "record", "The record is closed after the weights are compared."),
)
"""(earlier, later, sentence): what one form needs of another. `charge`: the page of the shots."""


@dataclass(frozen=True)
class Remark:
    """One thing about one step, and what to do about it."""

    step_id: str
    sentence: str
    cure: str


@dataclass(frozen=True)
class ProcedureReview:
    """`refusals` empty: it may be saved."""

    refusals: tuple[Remark, ...]
    warnings: tuple[Remark, ...]


def judged(
    procedure: Procedure, shipped: Procedure, tables: Mapping[str, PropertyTable]
) -> ProcedureReview:
    """Judge a shop's copy against the shipped procedure it was made from.

    Args:
        procedure: the copy as it would be saved.
        shipped: where it came from; its volumes and valves are the copy's.
        tables: property tables; those of `JUDGED_WITH` are used, each with a cylinder turned
            over and one with a dip tube.
    """
    refusals: list[Remark] = []
    warnings: list[Remark] = []
    for remark in _of_the_record(procedure, shipped) + _of_the_moves(procedure):
        refusals.append(remark)
    own: list[tuple[str, Conditions]] = _conditions(tables)
    if not own:
        refusals.append(Remark(procedure.steps[0].id, "No property table to judge it by.", ""))
    more: dict[str, float] = {}
    for refrigerant, conditions in own:
        runs = run(procedure, conditions)
        for step_id, hazard in hazards_of(runs):
            _add(warnings if hazard.code == VAPOR_FED else refusals, _remark(step_id, hazard))
        for remark in _of_the_gauges(procedure, runs):
            _add(warnings, remark)
        for remark in _of_the_way_out(procedure, conditions, runs):
            _add(refusals, remark)
        extra = grams(runs).released_kg - grams(follow(shipped, conditions)).released_kg
        if extra > WASTE_KG and extra > more.get(refrigerant, 0.0):
            more[refrigerant] = extra
    if more:
        warnings.append(_waste(procedure, more))
    for remark in _of_the_words(procedure, shipped):
        warnings.append(remark)
    return ProcedureReview(tuple(refusals), tuple(warnings))


def _conditions(tables: Mapping[str, PropertyTable]) -> list[tuple[str, Conditions]]:
    found: list[tuple[str, Conditions]] = []
    for name in JUDGED_WITH:
        if name not in tables:
            continue
        for withdrawal in (INVERT, DIP_TUBE):
            made = usual_conditions(tables[name], SEA_LEVEL_PA, withdrawal)
            if not isinstance(made, OutOfRange):
                found.append((name, made))
    return found


def _of_the_record(procedure: Procedure, shipped: Procedure) -> list[Remark]:
    """Steps that record something: all there, and each after what it needs."""
    found: list[Remark] = []
    places = {_form(step): i for i, step in enumerate(procedure.steps)}
    for step in shipped.steps:
        if _form(step) != "" and _form(step) not in places:
            found.append(
                Remark(
                    step.id,
                    f"“{step.title}” is left out, but it asks for what the record rests on.",
                    PUT_BACK,
                )
            )
        if LABELED in step.cautions and step_by_id(procedure, step.id) is None:
            found.append(
                Remark(
                    step.id,
                    f"“{step.title}” is left out, but a refrigerant that burns is leak-checked "
                    "again before you leave, and the unit’s label written.",
                    PUT_BACK,
                )
            )
    for earlier, later, sentence in FIRST:
        if earlier in places and later in places and places[earlier] > places[later]:
            title = procedure.steps[places[earlier]].title
            found.append(
                Remark(
                    procedure.steps[places[later]].id,
                    sentence,
                    f"Move this step below “{title}”, or that one up.",
                )
            )
    turning = [i for i, step in enumerate(procedure.steps) if step.actions]
    if turning and places.get("start_weight", -1) > turning[0]:
        found.append(
            Remark(
                "start_weight",
                "The start weight is that of the bare cylinder, with no hose on it.",
                "Move it up, before the first hose.",
            )
        )
    if turning and places.get("end_weight", len(procedure.steps)) < turning[-1]:
        found.append(
            Remark(
                "end_weight",
                "The end weight is that of the bare cylinder, with every hose off.",
                "Move it down, after the last hose is off.",
            )
        )
    if "record" in places and places["record"] != len(procedure.steps) - 1:
        found.append(
            Remark("record", "Nothing can be written after the record is closed.", "Move it last.")
        )
    return found


def _of_the_moves(procedure: Procedure) -> list[Remark]:
    """Moves that cannot be made, because another hose is in the place."""
    found: list[Remark] = []
    now = {valve.id: valve.start for valve in procedure.valves}
    for step in procedure.steps:
        for action in step.actions:
            other = in_the_way(procedure, now, action)
            if other is not None:
                found.append(
                    Remark(
                        step.id,
                        f"“{_set_to(procedure, action.valve, action.to)}” cannot be done here: "
                        f"“{other.title}” is in the way.",
                        "Move this step to a place where that one is off.",
                    )
                )
            now[action.valve] = action.to
    return found


def _of_the_gauges(procedure: Procedure, runs: Sequence[StepRun]) -> list[Remark]:
    """Readings whose gauge is cut off, and shots that give nothing."""
    found: list[Remark] = []
    for step, made in zip(procedure.steps, runs, strict=True):
        if step.form in GAUGE_FORMS:
            joined = [
                end for way in links(procedure, made.after.settings) for end in (way.a, way.b)
            ]
            ports = [valve.b for valve in procedure.valves]
            for port, name in ((SUCTION, "low"), (LIQUID_LINE, "high")):
                if port in ports and port not in joined:
                    found.append(
                        Remark(
                            step.id,
                            f"The {name} gauge reads nothing here: no hose is open to its port.",
                            "Read before that hose is closed or taken off.",
                        )
                    )
        if step.page == CHARGE_PAGE:
            flows = [flow for one in made.turns for flow in one.flows]
            if not [f for f in flows if f.start == CYLINDER and f.phase == LIQUID]:
                found.append(
                    Remark(
                        step.id,
                        "The shot gives no liquid: cylinder closed, upright or cut off here.",
                        "Move the steps that prepare the cylinder before the shots.",
                    )
                )
    return found


def _of_the_way_out(
    procedure: Procedure, conditions: Conditions, runs: Sequence[StepRun]
) -> list[Remark]:
    """What goes wrong when the unit stops after a step with hoses on."""
    found: list[Remark] = []
    last = last_with_actions(procedure)
    for made in runs:
        if made.step_id == last:
            break
        if not made.turns or made.hazards:
            continue
        for _, hazard in hazards_of(run_off(procedure, conditions, made.after)):
            sentence = "If the unit stops after this step: " + hazard.sentence
            _add(found, Remark(made.step_id, sentence, hazard.cure))
    return found


def _of_the_words(procedure: Procedure, shipped: Procedure) -> list[Remark]:
    """Steps left out, checks that come late, and texts that no longer fit the valves."""
    found: list[Remark] = []
    for step in shipped.steps:
        gone = step_by_id(procedure, step.id) is None and LABELED not in step.cautions
        if gone and _form(step) == "":
            found.append(
                Remark(step.id, f"“{step.title}” is left out. Its reason was: {step.why}", "")
            )
    places = {_form(step): i for i, step in enumerate(procedure.steps)}
    turning = [i for i, step in enumerate(procedure.steps) if step.actions]
    if turning and places.get("preconditions", -1) > turning[0]:
        found.append(
            Remark(
                "preconditions",
                "The checks come after the hoses are on.",
                "A unit that fails them had its gauges put on for nothing. Move them up.",
            )
        )
    between = procedure.steps[places.get("tare", 0) : places.get(CHARGE_PAGE, 0)]
    if "tare" in places and [step for step in between if step.actions]:
        found.append(
            Remark(
                "tare",
                "Valves are turned between setting the scale and the first shot.",
                "What fills the hose then counts as charge. Set the scale last.",
            )
        )
    for step_id, changed in changed_settings(procedure, shipped).items():
        words = [_set_to(procedure, name, to) for name, to in changed.items()]
        found.append(
            Remark(
                step_id,
                "At the end of this step something is now different: " + ", ".join(words) + ".",
                "Read its words again. They may say the opposite.",
            )
        )
    return found


def _waste(procedure: Procedure, more: Mapping[str, float]) -> Remark:
    worst = ""
    for name in more:
        if worst == "" or more[name] > more[worst]:
            worst = name
    text = format_decimal(more[worst] * 1000.0, 1)
    last = [step.id for step in procedure.steps if step.actions]
    return Remark(
        last[-1] if last else procedure.steps[0].id,
        f"{text} g more of {worst} go into the air than with the shipped procedure.",
        "A hose is opened that could be cleared first.",
    )


def _set_to(procedure: Procedure, valve_id: str, to: ValveSetting) -> str:
    return valve_title(procedure, valve_id) + " " + SETTING_WORDS[to]


def _form(step: Step) -> str:
    return CHARGE_PAGE if step.page == CHARGE_PAGE else step.form


def _remark(step_id: str, hazard: Hazard) -> Remark:
    return Remark(step_id, hazard.sentence, hazard.cure)


def _add(remarks: list[Remark], remark: Remark) -> None:
    if remark not in remarks:
        remarks.append(remark)
