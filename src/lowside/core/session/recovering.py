"""Recovery: may this cylinder take it, how much, and what follows for adding.

Never more than the room left. Four published rules for the fill differ; the lowest holds.
"""

from collections.abc import Mapping
from dataclasses import dataclass

from lowside.core.handbook.fields import Fields
from lowside.core.handbook.handbook import Handbook
from lowside.core.handbook.psychrometrics import SEA_LEVEL_PA, atmosphere_pressure
from lowside.core.handbook.refrigerants import BY_WEIGHT_ONLY, flammable
from lowside.core.handbook.saturation import (
    OutOfRange,
    PropertyTable,
    bubble_pressure,
    liquid_density,
)
from lowside.core.judging.by_weight import near_full
from lowside.core.numbers.arithmetic import BadNumber, parse_decimal
from lowside.core.numbers.calendar import civil_date
from lowside.core.numbers.unit_choice import label
from lowside.core.numbers.units import FAHRENHEIT_OFFSET, PSI_PA
from lowside.core.session.events import Moment
from lowside.core.session.flammability import flammable_blocks, questions_for
from lowside.core.session.other_cylinder import mixed_with
from lowside.core.session.state import State
from lowside.core.session.unit import by_labels, designation

TEST_YEARS = 5
"""READ: SAE J2296 asks for a test every 5 years and 49 CFR 180.209 table 1 for 5, 10 or 12 by the
kind of cylinder. The shortest holds; a stamped due date goes before it."""

OLD_LABEL_SHARE = 0.80
"""READ: 0.80 × water capacity, on many labels (ARI Guideline K, early 1990s); the same times the
specific gravity at 77 °F (AHRI Guideline K-2004, trade press)."""
R22_SHARE = 1.05
"""READ: 49 CFR 173.304a(a)(2), R-22."""
HOT_SHARE = 0.74
"""Share filled with liquid at 130 °F. READ, a trade article on cautious practice: by density at
130 °F, 17 and 21 lb of R-410A and R-22 in a 30 lb cylinder, 32 and 39 lb in a 50 lb one. Ours: the
largest whole percent with which none of the four is passed (water capacity 26.2 and 47.7 lb)."""
WATER_77_F = 997.0
"""Density of water at 77 °F [kg/m³]."""
WATER_60_F = 999.0
"""At 60 °F, where water capacity counts [kg/m³]. From memory."""
T_77_F = (77.0 + FAHRENHEIT_OFFSET) * 5.0 / 9.0
T_104_F = (104.0 + FAHRENHEIT_OFFSET) * 5.0 / 9.0
T_130_F = (130.0 + FAHRENHEIT_OFFSET) * 5.0 / 9.0
T_131_F = (131.0 + FAHRENHEIT_OFFSET) * 5.0 / 9.0

OVER_SERVICE = 1.25
"""READ: at 131 °F not over 5/4 of the service pressure (49 CFR 173.304a(c))."""
HIGH_PRESSURE_PA = 155.0 * PSI_PA
"""READ: from 155 psig at 104 °F on a refrigerant is high pressure (40 CFR 82.152)."""
MEDIUM_LEVEL_PA = -10.0 * 3386.389
"""READ: under 200 lb, medium pressure is pulled to 10 in of mercury (40 CFR 82.156 table 1); high
and very high pressure to 0. Older equipment may stop at 4 in; the stricter holds."""
GAUGE_SLACK_PA = 1000.0
START_SHARE = 0.5
"""Least of the whole charge in before the unit is started. READ: liquid into the high side until
the pressures equalize brings 70 to 80 percent, then it is started (gPod p. 39); with too little a
scroll soon pumps a deep vacuum (FHC20 p. 1-20). Half: ours."""
TAKE_ALL = "If it is true, recover the whole charge and weigh in."
LESS = "Less than before. Weigh it bare, or correct the weight before."
EMPTY_KG = 0.06
"""An evacuated cylinder weighs its tare within about 2 oz. Ours."""
FULL_SLACK_KG = 0.0023
"""What shows as the fill limit is at most so much over it: half of 0.01 lb. Arithmetic of the
rounding. A cylinder this close to its limit is full."""
SHOWN_PA = 0.5 * PSI_PA
"""The same of a pressure: half of 1 psi."""


READY_CURES: dict[str, str] = {
    "locked": "Switch it off and lock the disconnect first.",
    "emptied": "Recover first: “Recover refrigerant” is below.",
    "hoses_off": "Take them off first: the way is below.",
    "qualified": "Handling refrigerant needs the license your law asks for. Call someone who holds "
    "it.",
    "protected": "Put them on; liquid burns cold.",
}
"""What a “no” before a walk asks for first."""


@dataclass(frozen=True)
class Limit:
    """The most a recovery cylinder may hold [kg], and by which rule."""

    kg: float
    rule: str


def unit_is_mixed(state: State) -> bool:
    """The checks say that another refrigerant may be inside, or one was fed."""
    return mixed_with(state) != ""


def fill_limits(water_kg: float, table: PropertyTable) -> tuple[Limit, ...]:
    """What each of the published rules allows; empty when its densities are not known.

    Args:
        water_kg: water capacity stamped on the cylinder [kg].
        table: of what is inside or will be.
    """
    at_77 = _density(table, T_77_F)
    at_130 = _density(table, T_130_F)
    if at_77 is None or at_130 is None:
        return ()
    rules = [
        Limit(OLD_LABEL_SHARE * water_kg, "0.80 × water capacity"),
        Limit(
            OLD_LABEL_SHARE * water_kg * at_77 / WATER_77_F,
            "0.80 × water capacity × specific gravity at 77 °F",
        ),
        Limit(HOT_SHARE * water_kg * at_130 / WATER_60_F, "liquid density at 130 °F"),
    ]
    if table.refrigerant == "R-22":
        rules.append(Limit(R22_SHARE * water_kg, "49 CFR 173.304a"))
    return tuple(rules)


def fill_limit(water_kg: float, table: PropertyTable) -> Limit | None:
    """The strictest of the published rules; `None` when its densities are not known."""
    best: Limit | None = None
    for rule in fill_limits(water_kg, table):
        if best is None or rule.kg < best.kg:
            best = rule
    return best


def strictest_limit(water_kg: float, name: str, handbook: Handbook) -> Limit | None:
    """For what is inside, by its designation; `""`, a mixture or one not known, is held to the
    lightest refrigerant of those that are topped up running."""
    if name != "":
        table = handbook.tables.get(name)
        return None if table is None else fill_limit(water_kg, table)
    lowest: Limit | None = None
    for other, refrigerant in handbook.refrigerants.items():
        if refrigerant.use != BY_WEIGHT_ONLY:
            one = fill_limit(water_kg, handbook.tables[other])
            if one is not None and (lowest is None or one.kg < lowest.kg):
                lowest = one
    return lowest


def limit_now(state: State, handbook: Handbook) -> Limit | None:
    """For this session's recovery cylinder and refrigerant."""
    cylinder = state.walk.get("recovery.cylinder")
    if cylinder is None:
        return None
    name = "" if unit_is_mixed(state) else designation(state.unit_texts)
    if name == "" and not unit_is_mixed(state):
        return None
    return strictest_limit(cylinder.numbers["rc_water"], name, handbook)


def room_kg(state: State, handbook: Handbook, gross_kg: float) -> float | None:
    """What still fits with this much on the scale [kg]."""
    limit = limit_now(state, handbook)
    cylinder = state.walk.get("recovery.cylinder")
    if limit is None or cylinder is None:
        return None
    return limit.kg - (gross_kg - cylinder.numbers["rc_tare"])


def why_not(state: State) -> str:
    """What speaks against starting the recovery machine; empty: nothing."""
    if designation(state.unit_texts) == "" and not unit_is_mixed(state):
        return "Save the unit first: what may go into the cylinder depends on its refrigerant."
    ready = state.walk.get("recovery.ready")
    if ready is None:
        return "Answer the questions before recovery first."
    open_answer = unready(state, ready)
    if open_answer != "":
        return open_answer
    if "recovery.cylinder" not in state.walk:
        return "Save the recovery cylinder first."
    contents = state.walk.get("recovery.contents")
    if contents is None:
        return "Weigh the recovery cylinder and say what is inside first."
    return _not_made_for_it(state, contents)


def _not_made_for_it(state: State, contents: Fields) -> str:
    facts = state.refrigerant
    fit = contents.texts.get("rc_flammable", "") == "yes"
    if facts is None or not flammable(facts) or fit:
        return ""
    name = facts.designation
    return f"{name} burns. Use a machine and a cylinder made for flammable refrigerant."


def unready(state: State, ready: Fields) -> str:
    """What the answers before a walk still ask for; empty: nothing."""
    for name, cure in READY_CURES.items():
        if ready.texts.get(name, "") == "no":
            return cure
    for name, words in questions_for(state.refrigerant).items():
        if ready.texts.get(name, "") == "":
            return "This refrigerant can burn. Not answered yet: " + words + "."
    for one in flammable_blocks(state.refrigerant, ready.texts):
        return one.sentence + " " + one.cure
    return ""


def check_ready(state: State, fields: Fields, problems: dict[str, str]) -> None:
    """Every answer before a walk must be yes."""
    for name in questions_for(state.refrigerant):
        if name not in fields.texts:
            problems.setdefault(name, "Choose one. This refrigerant can burn.")
    for one in flammable_blocks(state.refrigerant, fields.texts):
        problems[one.code] = one.sentence + " " + one.cure
    for name, cure in READY_CURES.items():
        if fields.texts.get(name, "") == "no":
            problems[name] = cure


def check_cylinder(
    state: State, fields: Fields, handbook: Handbook, problems: dict[str, str]
) -> str:
    """A cylinder past its test, or too weak for what goes in, is refused."""
    name = designation(state.unit_texts)
    if name == "" and not unit_is_mixed(state):
        return "Save the unit first: the fill limit depends on its refrigerant."
    stamped = stamped_month(fields.texts.get("rc_date", ""))
    if stamped is None:
        problems.setdefault("rc_date", "Type month and year, as 06/2024.")
    elif state.entries:
        due = due_month(fields.texts)
        now = month_of(state.entries[len(state.entries) - 1].moment)
        if stamped > now and fields.texts.get("rc_date_means", "") == "tested":
            problems["rc_date"] = "That month is still to come. Read the stamp again."
        elif due is not None and due < now:
            problems["rc_date"] = (
                "Its test is overdue: nothing may be filled into it. Take a cylinder in date. "
                "(Tested every 5 years: SAE J2296; 49 CFR 180.209.)"
            )
    service = fields.numbers.get("rc_service")
    if service is None:
        return ""
    hottest = _hottest_pressure(state, handbook)
    if hottest is None:
        return (
            "No property table reaches 131 °F for this refrigerant. Recover it by the "
            "manufacturer’s and the cylinder’s own instructions."
        )
    if hottest > OVER_SERVICE * (service + SHOWN_PA):
        needed = label("gauge_pressure", hottest / OVER_SERVICE, state.units)
        problems["rc_service"] = (
            f"Too weak for this refrigerant: it needs at least {needed}. Take a stronger cylinder. "
            "(At 131 °F not over 5/4 of the service pressure: 49 CFR 173.304a.)"
        )
    return ""


def check_contents(
    state: State, fields: Fields, handbook: Handbook, problems: dict[str, str]
) -> str:
    """Only the same refrigerant goes together, and only where there is room."""
    cylinder = state.walk.get("recovery.cylinder")
    if cylinder is None:
        return "Save the recovery cylinder first."
    inside = fields.texts.get("rc_inside", "")
    named = fields.texts.get("rc_refrigerant", "")
    unit = designation(state.unit_texts)
    mixed = unit_is_mixed(state)
    if inside == "one" and mixed:
        problems["rc_inside"] = (
            "The unit’s refrigerant is mixed or not known. Take an empty cylinder, and mark it "
            "as a mixture."
        )
    elif inside == "one" and named == "":
        problems.setdefault("rc_refrigerant", "Say which one. Read the tag.")
    elif inside == "one" and named != unit:
        problems["rc_refrigerant"] = (
            f"The unit holds {unit}. Never mix them: take another recovery cylinder."
        )
    elif inside == "mixed" and not mixed:
        problems["rc_inside"] = (
            f"A mixture would spoil the {unit}. Take an empty cylinder, or one with {unit} only."
        )
    unfit = _not_made_for_it(state, fields)
    if unfit != "":
        problems["rc_flammable"] = unfit
    gross = fields.numbers.get("rc_before")
    if gross is None:
        return ""
    net = gross - cylinder.numbers["rc_tare"]
    if net < -EMPTY_KG:
        problems["rc_before"] = "Less than its tare. Check the scale, its zero and the stamp."
    elif inside == "empty" and net > EMPTY_KG:
        problems["rc_before"] = (
            f"It is not empty: {label('mass', net, state.units)} is inside by weight. Say what "
            "that is."
        )
    room = room_kg(state, handbook, gross)
    if room is None:
        return "The fill limit for this refrigerant is not known. Ask the cylinder’s owner."
    if room <= FULL_SLACK_KG:
        problems["rc_before"] = "There is no room left in it. Take another recovery cylinder."
    return ""


def check_after(state: State, fields: Fields, handbook: Handbook, problems: dict[str, str]) -> str:
    """Never more than the room left, and a whole charge down to the published level."""
    before = state.walk.get("recovery.contents")
    cylinder = state.walk.get("recovery.cylinder")
    limit = limit_now(state, handbook)
    if before is None or cylinder is None or limit is None:
        return "Save the recovery cylinder and its weight before first."
    after = fields.numbers.get("rc_after")
    most = cylinder.numbers["rc_tare"] + limit.kg
    if after is not None and after < before.numbers["rc_before"]:
        problems["rc_after"] = LESS
    elif after is not None and after > most + FULL_SLACK_KG:
        problems["rc_after"] = (
            f"Overfilled by {label('mass', after - most, state.units)}. Liquid can burst it. Keep "
            "it cool. Move the excess into another recovery cylinder until it weighs at most "
            f"{label('mass', most, state.units)}, then weigh again."
        )
    left = fields.numbers.get("rc_left")
    what = fields.texts.get("rc_what", "")
    comes_next = fields.texts.get("rc_next", "")
    if what == "whole" and comes_next == "readings":
        problems["rc_next"] = "The unit is empty, so there is nothing to read. Weigh in."
    runs = what == "part" and comes_next == "readings"
    if runs and left is not None and left <= GAUGE_SLACK_PA:
        problems["rc_left"] = "Nothing is left at 0 psig. Read the blue gauge. " + TAKE_ALL
    if what == "part" and comes_next == "weigh_in":
        problems["rc_what"] = "Before weigh-in the whole charge comes out."
    air = atmosphere_pressure(0.0 if state.job is None else state.job.elevation_m)
    if left is not None and not isinstance(air, OutOfRange) and left < -air - GAUGE_SLACK_PA:
        problems["rc_left"] = (
            "Lower than any vacuum at this elevation. Read it again: psig or inHg?"
        )
    if what == "whole" and left is not None and left > level_pa(state, handbook) + GAUGE_SLACK_PA:
        level = label("gauge_pressure", level_pa(state, handbook), state.units)
        problems["rc_left"] = (
            f"Not recovered yet: pull it to {level} or less and watch that it stays. If the "
            "cylinder is full, choose “A part” and “Another recovery cylinder”. (40 CFR 82.156.)"
        )
    return ""


def check_part(state: State, fields: Fields, problems: dict[str, str]) -> None:
    """A unit is not run with hardly anything left in it."""
    before, after = state.walk.get("recovery.contents"), fields.numbers.get("rc_after")
    if before is None or after is None or fields.texts.get("rc_next", "") != "readings":
        return
    told = too_little_left(state, parts_kg(state) + after - before.numbers["rc_before"])
    if told != "":
        problems.setdefault("rc_after", told)


def parts_kg(state: State) -> float:
    """What is known to have been recovered since the unit was emptied last [kg]."""
    total = 0.0
    for one in state.recovered:
        if one.whole:
            total = 0.0
        elif one.kg is not None:
            total = total + one.kg
    return total


def too_little_left(state: State, kilograms: float) -> str:
    """Why a unit that so much was recovered from in all is not run; empty: it may."""
    charge = near_full(by_labels(state))
    if charge is None or kilograms <= START_SHARE * charge + FULL_SLACK_KG:
        return ""
    return "More than half of the whole charge is out. Read the scale again. " + TAKE_ALL


def level_pa(state: State, handbook: Handbook) -> float:
    """How far a whole charge is pulled down before the unit is opened [Pa gauge], under 200 lb."""
    table = handbook.tables.get(designation(state.unit_texts))
    if table is None or unit_is_mixed(state):
        return MEDIUM_LEVEL_PA
    pressure = bubble_pressure(table, T_104_F)
    if isinstance(pressure, OutOfRange) or pressure - SEA_LEVEL_PA >= HIGH_PRESSURE_PA:
        return 0.0
    return MEDIUM_LEVEL_PA


def stamped_month(text: str) -> int | None:
    """Months since year 0 of `06/2024` or `6-24`; `None` when it is no date."""
    parts = text.strip().split("/")
    if len(parts) != 2:
        parts = text.strip().split("-")
    if len(parts) != 2:
        return None
    month = parse_decimal(parts[0])
    year = parse_decimal(parts[1])
    if isinstance(month, BadNumber) or isinstance(year, BadNumber):
        return None
    if month != float(int(month)) or year != float(int(year)):
        return None
    if year < 100.0:
        year = year + 2000.0
    if not (1.0 <= month <= 12.0 and 1950.0 <= year <= 2200.0):
        return None
    return int(year) * 12 + int(month) - 1


def due_month(texts: Mapping[str, str]) -> int | None:
    """The last month in which a recovery cylinder may be filled, by its stamp."""
    stamped = stamped_month(texts.get("rc_date", ""))
    if stamped is None:
        return None
    return stamped + 12 * TEST_YEARS if texts.get("rc_date_means", "") == "tested" else stamped


def month_of(moment: Moment) -> int:
    """Months since year 0 of a moment, by its local calendar."""
    year, month, _ = civil_date((moment.at + moment.tz * 60_000) // 86_400_000)
    return year * 12 + month - 1


def _density(table: PropertyTable, temperature_k: float) -> float | None:
    pressure = bubble_pressure(table, temperature_k)
    if isinstance(pressure, OutOfRange):
        return None
    density = liquid_density(table, pressure)
    return None if isinstance(density, OutOfRange) else density


def _hottest_pressure(state: State, handbook: Handbook) -> float | None:
    """Pressure of what goes in at 131 °F [Pa gauge]; of the worst known when it is a mixture."""
    names = [designation(state.unit_texts)]
    if unit_is_mixed(state):
        names = [name for name, one in handbook.refrigerants.items() if one.use != BY_WEIGHT_ONLY]
    return _highest(handbook.tables, names)


def _highest(tables: Mapping[str, PropertyTable], names: list[str]) -> float | None:
    highest: float | None = None
    for name in names:
        table = tables.get(name)
        pressure = None if table is None else bubble_pressure(table, T_131_F)
        if pressure is None or isinstance(pressure, OutOfRange):
            return None
        if highest is None or pressure - SEA_LEVEL_PA > highest:
            highest = pressure - SEA_LEVEL_PA
    return highest
