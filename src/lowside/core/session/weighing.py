"""Weigh-in of a whole charge into an evacuated unit: what must be true, and how much goes in."""

from dataclasses import dataclass

from lowside.core.handbook.fields import Fields
from lowside.core.handbook.machine import HEATING, PACKAGE, SUCTION_PORT
from lowside.core.handbook.walk_forms import OVERFILLED
from lowside.core.judging.by_weight import weigh_in
from lowside.core.judging.findings import Unknown, missing, sentence
from lowside.core.numbers.unit_choice import label, unit_for
from lowside.core.numbers.units import OUNCE_KG, PSI_PA, Quantity, limit_label
from lowside.core.session import gate
from lowside.core.session.block import BlockCode
from lowside.core.session.cylinder import HOSES_KG, left_in_cylinder
from lowside.core.session.events import Moment, age_s
from lowside.core.session.ledger import ROUNDING_KG
from lowside.core.session.other_cylinder import weighed_in_wrong
from lowside.core.session.recovering import READY_CURES, START_SHARE, unready
from lowside.core.session.state import STANDS, State, Weight, sum_of_lots, sum_of_shots
from lowside.core.session.steady import BREAK_S
from lowside.core.session.unit import by_labels, designation

SLACK_KG = 0.002
"""No more than this over a charge that burns: a scale's last digit. Ours. READ: never overfill it
(42QHC)."""
STILL_IN = "Refrigerant was weighed in. " + READY_CURES["emptied"]
NO_TOTAL = "The whole charge is not known. "
WARM = "To warm the cylinder, use only water of at most 104 °F (40 °C)."
SHOWN_KG = 0.0023
"""What shows as that half is at most so much less: half of 0.01 lb. Arithmetic of the rounding."""
TEST_PA = 150.0 * PSI_PA
"""Where the instructions give none. READ: nitrogen to 150 psig (4SCU-16LS, 507607-03 p. 10; SPBH4
p. 20). Others go to the design pressure, so it is asked."""
TEST_S = 900.0
"""Without the instructions' own time. READ: 150 psig for at least 15 minutes (ACL p. 25)."""
TEST_SHARE = 0.02
"""How far a pressure may be off or fall. Ours: 10 °F explain 2 percent."""
MICRON_PA = 0.13332236842105263
HELD_VACUUM_PA = 500.0 * MICRON_PA
VACUUM_S = 1200.0
"""Where the instructions give none. READ: not above 500 microns within 20 min after the pump is off
(Haier 4HP16, 507919-01 p. 10). Another holds below 700 for 15 min (Gree UMAT18 p. 29): they
conflict, and the strictest holds."""
ASKED: tuple[tuple[str, Quantity, float, float], ...] = (
    ("test_asked", "gauge_pressure", 50.0 * PSI_PA, 700.0 * PSI_PA),
    ("test_asked_held", "hold", 300.0, 6.0e5),
    ("vacuum_limit", "vacuum", 0.2, 5000.0 * MICRON_PA),
    ("vacuum_limit_time", "hold", 300.0, 6.0e5),
    ("vacuum_reached", "vacuum", 10.0 * MICRON_PA, 1.1e5),
)
"""What instructions may ask for, least and most. READ: nitrogen to 602 psig (4.15 MPa, Technibel
CAFP p. 58), for hours (Midea V8 Mini p. 98: 24); 5000 microns after 4 to 5 minutes is the loosest
vacuum found (the same p. 58), 1500 after 3 to 5 (GPH16 p. 33). 50 psig, 5 minutes, 700 psig for
hoses of 800: ours. A micron gauge that shows 0 shows nothing, and less than 10 at the unit is
in another unit: 2 mbar are 1500 microns. Ours."""
SCALE_KG = 2.0 * OUNCE_KG
"""Two weighings. READ: scales for weighing in are good to 1 oz (FO20R sec. 5.8.2)."""

NOT_WALKED = "R-744"
FLAMMABLE_MOST = ("A2", "A3", "B2", "B3")
CYLINDER_CODES: tuple[BlockCode, ...] = (
    "wrong_refrigerant",
    "cylinder_hot",
    "cylinder_contents",
    "cylinder_empty",
    "not_weighed",
)


@dataclass(frozen=True)
class Whole:
    """The whole charge: its parts and their sum [kg]; `total_kg` is `None` while a part is
    missing, and `missing` says which in words."""

    parts: tuple[tuple[str, float], ...]
    total_kg: float | None
    missing: str


@dataclass(frozen=True)
class Tightness:
    """Whether a test passed, and why not."""

    passed: bool
    sentence: str


def whole_charge(state: State) -> Whole:
    """Nameplate, line set, coil and drier. Never a total from guesses."""
    parts: list[tuple[str, float]] = []
    system = by_labels(state)
    if system is None:
        return Whole((), None, "Save the unit first.")
    charge = weigh_in(system)
    absent = ""
    total = 0.0
    if isinstance(charge, Unknown):
        absent = sentence(charge.reason, state.units)
    else:
        plate = "Nameplate" if system.nameplate_refrigerant == "" else "Retrofit label"
        parts.append((plate, charge.nameplate_kg))
        total = charge.nameplate_kg
        if charge.line_kg is not None:
            parts.append(("Line set", charge.line_kg))
            total = total + charge.line_kg
        elif state.machine is None or state.machine.kind != PACKAGE:
            figures = ("line_length", "line_included", "line_adder")
            absent = sentence(missing(figures), state.units)
    adders = state.walk.get("weighing.total")
    if adders is None:
        return Whole(
            tuple(parts), None, absent if absent != "" else "Save “The whole charge” first."
        )
    for words, name in (("Indoor coil", "coil_adder"), ("Drier", "drier_adder")):
        parts.append((words, adders.numbers[name]))
        total = total + adders.numbers[name]
    return Whole(tuple(parts), None if absent != "" else total, absent)


def pressure_verdict(state: State) -> Tightness:
    """Whether the nitrogen test passed."""
    test = state.walk.get("pressure.tested")
    if test is None:
        return Tightness(False, "The nitrogen pressure test is not on record yet.")
    return _with_charge(state, verdict_of_test(test))


def _with_charge(state: State, found: Tightness) -> Tightness:
    """A test that failed by a correction: no nitrogen is let out of a charged unit, it would take
    refrigerant with it."""
    if found.passed or charged_kg(state) <= 0.0:
        return found
    return Tightness(
        False,
        "Not passed, and refrigerant is in. Recover it, find the leak, repair, then test and "
        "evacuate again.",
    )


def verdict_of_test(test: Fields) -> Tightness:
    """Whether this nitrogen test passed: its step is done with one that did."""
    numbers = test.numbers
    start = numbers["test_pressure"]
    if test.texts.get("leak", "") != "none_found":
        return Tightness(False, "It leaks. Let the nitrogen out, repair, and test again.")
    if numbers["test_end"] < start * (1.0 - TEST_SHARE):
        return Tightness(
            False, "The pressure fell. Find the leak. Let the nitrogen out, repair, and test again."
        )
    if start < numbers.get("test_asked", TEST_PA) * (1.0 - TEST_SHARE):
        return Tightness(False, "Tested at less than the test pressure. Test again.")
    if numbers["test_held"] < numbers.get("test_asked_held", TEST_S):
        return Tightness(False, "Not held long enough. Test again.")
    return Tightness(True, "The nitrogen test passed.")


def vacuum_verdict(state: State) -> Tightness:
    """Whether the unit is tight and dry by its vacuum."""
    held = state.walk.get("vacuum.held")
    if held is None:
        return Tightness(False, "The vacuum is not on record yet.")
    limit = held.numbers.get("vacuum_limit", HELD_VACUUM_PA)
    found = Tightness(True, "The vacuum held.")
    if held.numbers["vacuum_end"] > limit:
        found = Tightness(
            False,
            "The vacuum rose above "
            + label("vacuum", limit, state.units)
            + ". A rise that goes on is a leak, one that levels off is moisture. Find it, break "
            "the vacuum with dry nitrogen, evacuate again.",
        )
    elif held.numbers["vacuum_time"] < held.numbers.get("vacuum_limit_time", VACUUM_S):
        found = Tightness(False, "Not held long enough with the pump valved off. Watch it longer.")
    return _with_charge(state, found)


def old_vacuum(state: State, now: Moment) -> str:
    """Why an empty unit is not filled on this vacuum any more; empty: it may. Air or moisture came
    in since, or not: only the gauge says. Common practice, no source; how old is our choice."""
    if charged_kg(state) > 0.0:
        return ""
    old = False
    for entry in state.entries:
        if entry.kind == "vacuum.held" and entry.status == STANDS:
            old = age_s(entry.moment, now) > BREAK_S
    if not old:
        return ""
    return (
        "The vacuum is hours old. Read the micron gauge again: risen above the limit? Evacuate "
        "again. Then save “Evacuate” again."
    )


def charged_kg(state: State) -> float:
    """What went in by the scale since the unit was empty, in all lots [kg]."""
    return sum_of_lots(state.lots[state.lots_recovered :])


def by_weights_kg(state: State) -> float | None:
    """What left the cylinders it came from by start and end weight, less what was recovered again
    and shots of the last [kg]."""
    now = state.lots[state.lots_recovered :]
    last, end = state.start_weight, state.end_weight
    if last is None or end is None:
        return None
    if last.first is not None and sum_of_lots(now, last.first.eid) > 0.0:
        last = last.first
    gone = _lost_kg(state, last, end, len(state.lots))
    for used in state.used_before:
        start, end = used.start, used.end
        if start is not None and end is not None and sum_of_lots(now, start.eid) > 0.0:
            gone = gone + _lost_kg(state, start, end, used.lots_until)
    return gone - sum_of_shots(state.shots[last.shots :])


def _lost_kg(state: State, start: Weight, end: Weight, lots_until: int) -> float:
    """What a cylinder lost for what is in the unit now."""
    again = state.lots[start.lots : min(lots_until, state.lots_recovered)]
    return start.kg - end.kg - sum_of_lots(again)


def slack_kg(total: float) -> float:
    """How far what went in may be off the charge [kg]: an ounce, and 2 percent at most. Ours."""
    return min(OUNCE_KG, max(0.02 * total, SLACK_KG))


def too_much(state: State, kilograms: float) -> str:
    """What is done where so much in all is more than the whole charge; empty: it is not. A unit
    with too much is not run: common practice, no source."""
    total = whole_charge(state).total_kg
    facts = state.refrigerant
    if total is None:
        return ""
    burns = facts is not None and facts.safety_class in FLAMMABLE_MOST
    if kilograms <= total + (SLACK_KG if burns else slack_kg(total)):
        return ""
    return (
        f"That is {label('mass', kilograms - total, state.units)} more than the whole charge. Read "
        "the scale again, or correct what was mistyped. True? Valve closed, unit off, and recover "
        "the whole charge: “Recover refrigerant” is below."
    )


def why_not(state: State) -> str:
    """What still speaks against letting refrigerant into the evacuated unit; empty: nothing."""
    name = designation(state.unit_texts)
    if name == "":
        return "Save the unit first."
    if name == NOT_WALKED:
        return R744_SENTENCE
    if state.machine is None:
        return "Answer “Unit type and mode” first."
    ready = state.walk.get("weighing.ready")
    if ready is None:
        return "Answer the questions before weigh-in first."
    open_answer = unready(state, ready)
    if open_answer != "":
        return open_answer
    pressure = pressure_verdict(state)
    if not pressure.passed:
        return pressure.sentence
    vacuum = vacuum_verdict(state)
    if not vacuum.passed:
        return vacuum.sentence
    whole = whole_charge(state)
    if whole.total_kg is None:
        return NO_TOTAL + whole.missing
    if state.cylinder is None:
        return "Save the cylinder first."
    if state.cylinder.refrigerant != name:
        return "The cylinder holds " + state.cylinder.refrigerant + ". Never mix them."
    for block in gate.blocks(state):
        if block.code in CYLINDER_CODES:
            return block.sentence + " " + block.cure
    return ""


def mixed_in(state: State) -> str:
    """Why neither is more weighed in nor the unit started, when another refrigerant was weighed in;
    empty: none was. Common practice, no source."""
    other = weighed_in_wrong(state)
    if other == "":
        return ""
    return (
        f"{other} was weighed in. Add nothing and never run the unit with it: close out with the "
        "unit off, then recover all of it into an empty cylinder marked as a mixture."
    )


def stopped(state: State) -> str:
    """Why the unit is neither filled further nor started with what is in; empty: it may."""
    mixed = mixed_in(state)
    return mixed if mixed != "" else too_much(state, charged_kg(state))


R744_SENTENCE = (
    "R-744 is not walked here. Below 60.4 psig it turns to dry ice, so gas goes in first, with "
    "equipment rated 1300 psig. Follow the manufacturer’s instructions."
)
"""READ: triple point (trade article), gas first (BITZER AT-744), 1300 psig (Copeland AE4-1372
R4)."""


def too_little(state: State) -> str:
    """Why the unit may not be started with what is in; empty: it may. READ: refrigerant pressure
    in the compressor before it runs (AE4-1372 R4 p. 7)."""
    whole = whole_charge(state)
    if whole.total_kg is None:
        return NO_TOTAL + whole.missing
    least = START_SHARE * whole.total_kg
    if charged_kg(state) > max(least - SHOWN_KG, 0.0):
        return ""
    return f"Weigh in at least {label('mass', least, state.units)} with the unit off first. {WARM}"


def check_asked(state: State, fields: Fields, problems: dict[str, str]) -> None:
    """A test of nothing proves nothing, and no hose holds everything."""
    for name, quantity, least, most in ASKED:
        number = fields.numbers.get(name, least)
        unit = unit_for(quantity, state.units)
        if number < least:
            told = limit_label(quantity, least, unit, False)
            problems[name] = f"At least {told}. Read it again."
        elif number > most:
            problems[name] = f"At most {limit_label(quantity, most, unit, True)}. Read it again."


def check_test(state: State, fields: Fields, problems: dict[str, str]) -> None:
    """Never above what the instructions or the nameplate allow."""
    check_asked(state, fields, problems)
    start = fields.numbers.get("test_pressure")
    end = fields.numbers.get("test_end")
    if start is None or end is None or "test_asked" in problems:
        return
    asked = fields.numbers.get("test_asked")
    plate = state.unit_numbers.get("high_side_limit")
    most = TEST_PA if asked is None else asked
    if plate is not None and most > plate:
        problems.setdefault(
            "test_asked",
            "More than the highest high-side pressure on the nameplate "
            f"({label('gauge_pressure', plate, state.units)}). Read both again.",
        )
    if start > most * (1.0 + TEST_SHARE):
        allowed = label("gauge_pressure", most, state.units)
        problems["test_pressure"] = (
            f"More than the test pressure, {allowed}. Let it down. The instructions name a "
            "higher one? Type it under “What this unit’s instructions ask”."
        )
    if end > start * (1.0 + TEST_SHARE):
        problems["test_end"] = "Higher than at the start. Close the regulator, and read again."


def check_vacuum(state: State, fields: Fields, problems: dict[str, str]) -> str:
    """A vacuum of a unit that has not passed its pressure test says nothing."""
    check_asked(state, fields, problems)
    verdict = pressure_verdict(state)
    if not verdict.passed:
        return verdict.sentence
    reached = fields.numbers.get("vacuum_reached")
    end = fields.numbers.get("vacuum_end")
    if reached is not None and end is not None and end < reached:
        problems["vacuum_end"] = "Lower than it reached with the pump. Read the gauge again."
    return ""


def check_charged(state: State, fields: Fields, name: str, problems: dict[str, str]) -> str:
    """Nothing against a stop and no more than the whole charge, unless it went in: then the next
    step is a stop. No more than the cylinder held, and no rest into a unit that does not run
    properly."""
    stop = stopped(state)
    no = stop if stop != "" and name == "charged_rest" else why_not(state)
    if no != "":
        return no
    amount = fields.numbers.get(name)
    if amount is None:
        return ""
    if name == "charged_rest":
        no = too_little(state)
        if no != "":
            return no
        if amount > ROUNDING_KG:
            refusal = rest_refused(state)
            if refusal != "":
                problems[name] = refusal
                return ""
    left = left_in_cylinder(state)
    start = state.start_weight
    fed = 0.0 if start is None else sum_of_lots(state.lots, start.eid)
    over = stop if stop != "" else too_much(state, charged_kg(state) + amount)
    if over != "" and OVERFILLED not in fields.texts:
        problems[OVERFILLED] = over
    if left is not None and fed + amount > left + SCALE_KG:
        problems[name] = "That is more than the cylinder held. Check the scale."
    return ""


def check_result(state: State, fields: Fields, problems: dict[str, str]) -> None:
    """A difference nobody explains stays open."""
    if difference(state) != "" and "explanation" not in fields.texts:
        problems["explanation"] = "Write what explains it, even if that is “unknown”."


def difference(state: State) -> str:
    """What does not agree, in words; empty: all agrees."""
    total = whole_charge(state).total_kg
    charged = charged_kg(state)
    weights = by_weights_kg(state)
    if total is None or weights is None:
        return "The total or a weight is missing."
    if abs(charged - total) > slack_kg(total) + ROUNDING_KG:
        return (
            f"{label('mass', charged, state.units)} went in, the whole charge is "
            f"{label('mass', total, state.units)}."
        )
    apart = weights - charged
    if apart < -SCALE_KG or apart > SCALE_KG + HOSES_KG:
        return (
            f"The cylinder lost {label('mass', weights, state.units)}, and "
            f"{label('mass', charged, state.units)} went in by the scale."
        )
    return ""


def rest_refused(state: State) -> str:
    """Why nothing more may go into the running unit. READ: a running addition only completes a
    weighed charge (RAV-SP sec. 6-4, YAV112), and in heating the large line is the high side
    (SSZ14 p. 28); only a port at the compressor serves in heating too (ASC13 S-103)."""
    machine = state.machine
    if machine is not None and machine.mode == HEATING and machine.port != SUCTION_PORT:
        return (
            "In heating the large line is the high side. Run it in cooling and answer “Unit "
            "type and mode” again, or weigh in the rest with the unit off."
        )
    refrigerant = state.refrigerant
    if refrigerant is not None and refrigerant.safety_class in FLAMMABLE_MOST:
        return f"{refrigerant.designation} goes in with the unit off only. {WARM}"
    runs = state.walk.get("weighing.run")
    if runs is None or runs.texts.get("runs_well", "") != "yes":
        return "Only into a unit that runs properly. Keep the valve closed and find the cause."
    return ""
