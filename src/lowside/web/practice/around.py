"""What is around a practice session: instruments, plates to read, what a thumb holds."""

from typing import Any

from lowside.core.handbook.procedure import CHARGE_PAGE
from lowside.core.handbook.system import TXV
from lowside.core.numbers.unit_choice import (
    UnitChoice,
    label,
    small_mass,
    unit_for,
)
from lowside.core.numbers.units import IN_WORDS, Quantity, show
from lowside.core.pages import addresses
from lowside.core.pages.addresses import PRACTICE, Address
from lowside.core.pages.running import timer
from lowside.core.pages.wording import day_and_time, ticket_number
from lowside.core.session.events import Event
from lowside.core.session.last_visit import LastVisit, begun_on
from lowside.core.session.state import State
from lowside.core.session.walk import MACHINE_ON
from lowside.practice import debrief
from lowside.practice.curves import MICROCHANNEL
from lowside.practice.debrief_hoses import vented_kg
from lowside.practice.debrief_words import GRAMS_WORTH_SAYING
from lowside.practice.design import DIRTY_CONDENSER, LEAK, LOW_AIRFLOW
from lowside.practice.hooked_up import Gauges
from lowside.practice.lessons import lesson_by_id
from lowside.practice.pace import OPEN, PACES
from lowside.practice.sessions import PracticeSession
from lowside.web.practice.desk import PracticeDesk

LATEST = 2
"""Happenings that stay on the instruments' panel."""
WELL_KEPT = (
    "Return filter clean, good airflow at the supply registers.",
    "Outdoor coil clean, its fan turns freely.",
    "Leak check: none found.",
    "The unit has been cooling steadily for 15 minutes.",
)
NOT_SO = {LOW_AIRFLOW: WELL_KEPT[0], DIRTY_CONDENSER: WELL_KEPT[1], LEAK: WELL_KEPT[2]}


def slip(state: State, events: list[Event]) -> dict[str, str]:
    """A lesson begun, as the lessons' page links to it."""
    data = events[0].data
    lesson = lesson_by_id(data.get("lesson", ""))
    path = addresses.current(state.sid) if state.closed is None else addresses.ticket(state.sid)
    started = day_and_time(state.started) if state.started is not None else ""
    return {
        "href": addresses.in_practice(path),
        "title": lesson.title if lesson is not None else "A lesson this version no longer has",
        "line": f"Unit number {data.get('seed', '')} · {started}",
    }


def panel(practice: PracticeDesk, events: list[Event], state: State) -> dict[str, Any]:
    """Context of `practice/_instruments.html`: what changes every second."""
    session, shown, time_s = practice.running(state.sid, events)
    found = debrief.happenings(session, state)
    return {
        "panel": {
            "dials": _dials(session, shown, state),
            "clock": timer(time_s),
            "pace": str(practice.pace(events)),
            "valve_open": session.valve == OPEN,
            "happened": [
                {"time": timer(each.at_s), "text": each.text} for each in reversed(found[-LATEST:])
            ],
            "recovering": session.recovery.is_on,
            "recovered": _weighable(state, session.recovery.taken_kg),
            "vented": _weighable(state, vented_kg(session)),
            "more_happened": len(found) - LATEST if len(found) > LATEST else 0,
        }
    }


def _weighable(state: State, kilograms: float) -> str:
    """Empty while it is too little to be weighed."""
    if kilograms < GRAMS_WORTH_SAYING:
        return ""
    return small_mass(kilograms, state.units)


def _dials(session: PracticeSession, shown: Gauges, state: State) -> list[dict[str, str]]:
    drawn = session.setting.drawn
    air = drawn.system.atmosphere_pa
    choice = state.units

    def pressure(pascal: float) -> str:
        return label("gauge_pressure", pascal - air, choice)

    def degrees(kelvin: float) -> str:
        return label("temperature", kelvin, choice)

    return [
        _dial("low", "Low", pressure(shown.suction_pressure_pa)),
        _dial("low", "Suction", degrees(shown.suction_line_k)),
        _dial("scale", "Scale", label("mass", shown.scale_kg, choice)),
        _dial("high", "High", pressure(shown.liquid_pressure_pa)),
        _dial("high", "Liquid", degrees(shown.liquid_line_k)),
        _dial("air", "Outdoor", degrees(drawn.outdoor_k)),
        _dial("air", "Return", degrees(drawn.return_k)),
        _dial("air", "Wet bulb", degrees(drawn.return_wet_bulb_k)),
        _dial("air", "Supply", degrees(shown.supply_air_k)),
    ]


def _dial(kind: str, name: str, value: str) -> dict[str, str]:
    return {"kind": kind, "name": name, "value": value}


def around(
    practice: PracticeDesk,
    events: list[Event],
    state: State,
    page: str,
    address: Address | None = None,
) -> dict[str, Any]:
    """What is around the panel and stays: the hand on the valve, the plates to read."""
    session, _, _ = practice.running(state.sid, events)
    base = f"{PRACTICE}/{state.sid}"
    hands = _hands(base)
    here = addresses.path(address) if address is not None else base + "/instruments"
    return {
        "practice": {
            "instruments": base + "/instruments",
            "hands": hands if page == CHARGE_PAGE else hands[1:],
            "pace": base + "/pace",
            "debrief": base + "/debrief",
            "session": addresses.in_practice(addresses.current(state.sid)),
            "back": addresses.in_practice(here) if address is not None else here,
            "paces": [{"value": str(each), "label": f"×{each}"} for each in PACES],
            "hand": page in (CHARGE_PAGE, MACHINE_ON) and state.closed is None,
            "closed": state.closed is not None,
            "ticket": ticket_number(state.sid),
            "lesson": session.setting.lesson.title,
            "plates": _plates(session, state),
            "looks": [*session.setting.lesson.looks, *_usual_looks(session)],
        }
    }


def _hands(base: str) -> list[dict[str, str]]:
    """What the thumb holds: a name at rest and while held, two buttons without a script."""
    return [
        {
            "url": base + "/valve",
            "kind": "low",
            "rest": "Hold to open the low-side manifold valve",
            "held": "Open. Let go to close",
            "open": "Open the low-side manifold valve",
            "shut": "Close it",
        },
        {
            "url": base + "/recover",
            "kind": "recover",
            "rest": "Hold to recover",
            "held": "Recovering. Let go to stop",
            "open": "Start the recovery machine",
            "shut": "Stop it",
        },
    ]


def plates_as_known(session: PracticeSession, state: State) -> LastVisit | None:
    """The plates as an earlier visit would have written them: one tap confirms what only reads
    well at a real unit."""
    if state.started is None:
        return None
    known, system = session.setting, session.setting.drawn.system
    choice = state.units
    site, unit_label = "Practice yard", f"P-{known.seed}"
    unit = {
        "refrigerant": system.refrigerant,
        "metering": system.metering,
        **_typed("capacity", "capacity", known.drawn.capacity_w, choice),
    }
    if known.lesson.kind is None:
        # Of a unit of the second model they are what is to be looked for.
        unit |= {"coil": "tube_fin", "receiver": "no"}
    if system.nameplate_charge_kg is not None:
        unit |= _typed("nameplate_charge", "mass", system.nameplate_charge_kg, choice)
    target = {"method": "chart"}
    if system.maker_subcooling_k is not None:
        target = {"method": "subcooling"}
        value = system.maker_subcooling_k
        target |= _typed("maker_subcooling", "temperature_difference", value, choice)
        if known.lesson.kind == MICROCHANNEL:
            target["microchannel_papers"] = "yes"
    return LastVisit(
        sid="",
        site=site,
        unit_label=unit_label,
        started=state.started,
        unit=unit,
        machine={"kind": "split"},
        target=target,
        job={
            "site": site,
            "unit_label": unit_label,
            "technician": "Apprentice",
            **_typed("elevation", "length", 0.0, choice),
        },
        scale={
            "scale_mode": "gross",
            # In grams: a gram would be shown as no ounce at all.
            "scale_resolution": show("mass", known.lesson.scale_step_kg, "g"),
            "scale_resolution_unit": "g",
        },
        cylinder={
            "cylinder_label": known.cylinder_label,
            "cylinder_refrigerant": system.refrigerant,
            "withdrawal": "dip_tube",
            **_typed("cylinder_tare", "mass", known.tare_kg, choice),
        },
        added_kg=0.0,
        dev=begun_on(state),
    )


def _typed(name: str, quantity: Quantity, value: float, choice: UnitChoice) -> dict[str, str]:
    """A field of a form as it would be typed."""
    unit = unit_for(quantity, choice)
    if unit in ("lb+oz", IN_WORDS):
        return {name: label(quantity, value, choice), name + "_unit": IN_WORDS}
    return {name: show(quantity, value, unit), name + "_unit": unit}


def _plates(session: PracticeSession, state: State) -> list[dict[str, str]]:
    """What is to be read off nameplate and cylinder and typed into the forms."""
    known = session.setting
    system = known.drawn.system
    choice = state.units
    plates = [
        ("Site", "Practice yard, at sea level"),
        ("Unit", f"P-{known.seed}"),
        ("Refrigerant on the nameplate", system.refrigerant),
        ("Metering device", "TXV" if system.metering == TXV else "Fixed orifice"),
        ("Nominal capacity", label("capacity", known.drawn.capacity_w, choice)),
    ]
    if system.nameplate_charge_kg is not None:
        plates.append(
            ("Charge on the nameplate", label("mass", system.nameplate_charge_kg, choice))
        )
    if system.maker_subcooling_k is not None:
        value = label("temperature_difference", system.maker_subcooling_k, choice)
        plates.append(("Manufacturer’s subcooling", value))
        if known.lesson.kind == MICROCHANNEL:
            plates.append(("Instructions, microchannel coil", "charge by this subcooling"))
    else:
        plates.append(("Manufacturer’s figure", "none; use the target-superheat chart"))
    plates += [
        ("Cylinder number", known.cylinder_label),
        ("Refrigerant on the cylinder", system.refrigerant),
        ("Tare stamped on it", label("mass", known.tare_kg, choice)),
        ("Liquid comes out", "upright, by a dip tube"),
        ("Smallest step of the scale", label("mass", known.lesson.scale_step_kg, choice)),
        ("Scale", "no zero key: it shows cylinder and hose"),
    ]
    return [{"name": name, "value": value} for name, value in plates]


def _usual_looks(session: PracticeSession) -> list[str]:
    """A well-kept unit's looks, without the one that the fault spoils."""
    spoiled = NOT_SO.get(session.setting.drawn.fault, "")
    return [look for look in WELL_KEPT if look != spoiled]
