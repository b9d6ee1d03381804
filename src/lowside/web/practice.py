"""Practice mode's pages: the field pages of a simulated unit, its instruments, its debrief.

The session's own pages are the field pages moved below `/practice`, where no phone's offline copy
answers: the unit runs on the server, so every tap has to reach it.
"""

import secrets
from collections.abc import Mapping
from typing import Annotated, Any

from fastapi import APIRouter, Depends, Request
from starlette.responses import HTMLResponse, RedirectResponse, Response

from lowside.core import addresses
from lowside.core.addresses import FORM_TARGETS, Address, parse_path
from lowside.core.events import Event
from lowside.core.page_forms import Attempt
from lowside.core.page_home import unit_name
from lowside.core.recording import Refusal
from lowside.core.state import State
from lowside.core.system import TXV
from lowside.core.unit_choice import label, small_mass_unit
from lowside.core.units import label as unit_label
from lowside.core.view import NoPage, view
from lowside.core.wording import day_and_time, ticket_number, timer
from lowside.practice import debrief
from lowside.practice.lessons import HIGHEST_SEED, LESSONS, lesson_by_id
from lowside.practice.pace import OPEN, PACES, SHUT
from lowside.practice.sessions import PracticeSession
from lowside.practice.unit import Gauges
from lowside.web.clock import new_ulid
from lowside.web.field import Typed, not_found
from lowside.web.practice_desk import PracticeDesk
from lowside.web.rendering import render

PRACTICE = addresses.PRACTICE
CHARGE_PAGE = "charge"
LATEST = 2
"""Happenings that stay on the instruments' panel."""
BEGUN = 10
"""Sessions on the lessons' page to go on with or to look at again."""
WELL_KEPT = (
    "Return filter clean, supply registers blow well.",
    "Outdoor coil clean, its fan turns freely.",
    "Leak search: none found.",
    "The unit has been cooling steadily for a quarter of an hour.",
)

router = APIRouter(prefix=PRACTICE)


def the_practice(request: Request) -> PracticeDesk:
    desk: PracticeDesk = request.app.state.practice
    return desk


ThePractice = Annotated[PracticeDesk, Depends(the_practice)]


@router.get("")
def lessons_page(practice: ThePractice) -> Response:
    return _lessons(practice, 200)


@router.post("/start")
def start(practice: ThePractice, typed: Typed) -> Response:
    sid = practice.start(typed)
    if sid is None:
        return _lessons(practice, 422)
    return RedirectResponse(addresses.in_practice(addresses.current(sid)), 303)


@router.get("/s/{rest:path}")
def session_page(request: Request, practice: ThePractice) -> Response:
    return _session_page(practice, request.url.path.removeprefix(PRACTICE))


@router.post("/s/{rest:path}")
def session_form(request: Request, practice: ThePractice, typed: Typed) -> Response:
    address = parse_path(request.url.path.removeprefix(PRACTICE))
    if address is None or address.page not in FORM_TARGETS or "eid" not in typed:
        return not_found("There is nothing to save at this address.")
    moved = dict(typed) | {"back": typed.get("back", "").removeprefix(PRACTICE)}
    outcome = practice.post(address, moved)
    if outcome is None:
        return not_found("There is no such practice session.")
    if isinstance(outcome, Refusal):
        return _session_page(practice, addresses.path(outcome.address), outcome.attempt)
    return RedirectResponse(addresses.in_practice(outcome.next_path), 303)


@router.get("/{sid}/instruments")
def instruments_page(request: Request, practice: ThePractice, sid: str) -> Response:
    events = practice.events(sid)
    if not events:
        return not_found("There is no such practice session.")
    state = practice.state(events)
    context = _panel(practice, events, state)
    if request.headers.get("hx-request") == "true":
        return HTMLResponse(render("practice/_instruments.html", context))
    context |= _around(practice, events, state, CHARGE_PAGE)
    context |= {"title": "Instruments", "page": "practice", "heading": "Instruments"}
    return HTMLResponse(render("practice/instruments.html", context))


@router.post("/{sid}/valve")
def turn_valve(practice: ThePractice, sid: str, typed: Typed) -> Response:
    to = typed.get("valve", "")
    if to not in (OPEN, SHUT) or not practice.turn(sid, to):
        return not_found("There is no such valve.")
    return _back(sid, typed)


@router.post("/{sid}/recover")
def recover(practice: ThePractice, sid: str, typed: Typed) -> Response:
    to = typed.get("valve", "")
    if to not in (OPEN, SHUT) or not practice.recover(sid, to):
        return not_found("There is no such machine.")
    return _back(sid, typed)


@router.post("/{sid}/pace")
def set_pace(practice: ThePractice, sid: str, typed: Typed) -> Response:
    pace = typed.get("pace", "")
    if pace not in [str(each) for each in PACES] or not practice.set_pace(sid, int(pace)):
        return not_found("There is no such pace.")
    return _back(sid, typed)


@router.get("/{sid}/debrief")
def debrief_page(practice: ThePractice, sid: str) -> Response:
    events = practice.events(sid)
    if not events:
        return not_found("There is no such practice session.")
    state = practice.state(events)
    handbook = practice.handbook
    session, _, _ = practice.running(sid, events)
    lesson = session.setting.lesson
    context = {
        "title": "Debrief",
        "page": "practice",
        "heading": unit_name(state),
        "open": state.closed is None,
        "lesson": lesson.title,
        "seed": str(session.setting.seed),
        "truth": debrief.what_it_was(session, state),
        "happened": [
            {"time": timer(each.at_s), "text": each.text}
            for each in debrief.happenings(session, state)
        ],
        "readings": debrief.reading_lines(session, state, events, handbook),
        "shots": debrief.shot_lines(session, state, events, handbook),
        "back": addresses.in_practice(addresses.current(sid)),
        "home": PRACTICE,
    }
    return HTMLResponse(render("practice/debrief.html", context))


def _back(sid: str, typed: Mapping[str, str]) -> Response:
    """Nothing for a script; the page it came from for a plain form."""
    if typed.get("quiet") == "yes":
        return Response(status_code=204)
    back = parse_path(typed.get("back", "").removeprefix(PRACTICE))
    if back is not None and back.sid == sid:
        return RedirectResponse(addresses.in_practice(addresses.path(back)), 303)
    return RedirectResponse(f"{PRACTICE}/{sid}/instruments", 303)


def _lessons(practice: PracticeDesk, status: int) -> Response:
    fresh = practice.real_now().at
    begun = [(practice.state(events), events) for events in practice.begun(BEGUN)]
    context = {
        "title": "Practice",
        "page": "practice",
        "lessons": [
            {
                "id": lesson.id,
                "number": str(number),
                "title": lesson.title,
                "sentence": lesson.sentence,
                "on": number == 1,
            }
            for number, lesson in enumerate(LESSONS, start=1)
        ],
        "begun": [_slip(state, events) for state, events in begun if state.closed is None],
        "closed": [_slip(state, events) for state, events in begun if state.closed is not None],
        "procedures": [
            {"value": procedure.id, "label": procedure.title}
            for procedure in practice.handbook.procedures.values()
            if not procedure.retired
        ],
        "seed": str(1 + secrets.randbelow(999)),
        "problem": ""
        if status == 200
        else f"Choose a lesson, and another unit number, from 0 to {HIGHEST_SEED}.",
        "sid": new_ulid(fresh),
        "eid": new_ulid(fresh),
    }
    return HTMLResponse(render("practice/lessons.html", context), status)


def _slip(state: State, events: list[Event]) -> dict[str, str]:
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


def _session_page(practice: PracticeDesk, path: str, attempt: Attempt | None = None) -> Response:
    address = parse_path(path)
    events = practice.events(address.sid) if address is not None else []
    if address is None or not events:
        return not_found("There is no such practice session.")
    state = practice.state(events)
    now = practice.now(address.sid, events)
    fresh = new_ulid(practice.real_now().at)
    page = view(state, address, practice.handbook, now, fresh, (), attempt)
    if isinstance(page, NoPage):
        return not_found(page.sentence)
    context: dict[str, Any] = _moved(dict(page.context), "/s/" + state.sid)
    context |= _panel(practice, events, state)
    context |= _around(practice, events, state, str(context["page"]), address)
    context["under"] = page.template
    html = render("practice/session.html", context)
    return HTMLResponse(html, 200 if attempt is None else 422)


def _moved(value: Any, base: str) -> Any:
    """The same context with every address of the session below `/practice`."""
    if isinstance(value, str):
        return (
            addresses.in_practice(value)
            if value == base or value[: len(base) + 1] == (base + "/")
            else value
        )
    if isinstance(value, dict):
        return {name: _moved(each, base) for name, each in value.items()}
    if isinstance(value, list):
        return [_moved(each, base) for each in value]
    return value


def _panel(practice: PracticeDesk, events: list[Event], state: State) -> dict[str, Any]:
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
            "vented": _weighable(state, debrief.vented_kg(session)),
            "more_happened": len(found) - LATEST if len(found) > LATEST else 0,
        }
    }


def _weighable(state: State, kilograms: float) -> str:
    """Empty while it is too little to be weighed."""
    if kilograms < debrief.GRAMS_WORTH_SAYING:
        return ""
    return unit_label("mass", kilograms, small_mass_unit(state.units))


def _dials(session: PracticeSession, shown: Gauges, state: State) -> list[dict[str, str]]:
    drawn = session.setting.drawn
    air = drawn.system.atmosphere_pa
    choice = state.units

    def pressure(pascal: float) -> str:
        return label("gauge_pressure", pascal - air, choice)

    def degrees(kelvin: float) -> str:
        return label("temperature", kelvin, choice)

    return [
        _dial("low", "Low gauge", pressure(shown.suction_pressure_pa)),
        _dial("low", "Suction line", degrees(shown.suction_line_k)),
        _dial("scale", "Scale", label("mass", shown.scale_kg, choice)),
        _dial("high", "High gauge", pressure(shown.liquid_pressure_pa)),
        _dial("high", "Liquid line", degrees(shown.liquid_line_k)),
        _dial("air", "Outdoor air", degrees(drawn.design.outdoor_k)),
        _dial("air", "Return dry bulb", degrees(drawn.design.return_k)),
        _dial("air", "Return wet bulb", degrees(drawn.design.return_wet_bulb_k)),
        _dial("air", "Supply air", degrees(shown.supply_air_k)),
    ]


def _dial(kind: str, name: str, value: str) -> dict[str, str]:
    return {"kind": kind, "name": name, "value": value}


def _around(
    practice: PracticeDesk,
    events: list[Event],
    state: State,
    page: str,
    address: Address | None = None,
) -> dict[str, Any]:
    """What stands around the panel and stays: the hand on the valve, the plates to read."""
    session, _, _ = practice.running(state.sid, events)
    base = f"{PRACTICE}/{state.sid}"
    here = addresses.path(address) if address is not None else base + "/instruments"
    return {
        "practice": {
            "instruments": base + "/instruments",
            "hands": _hands(base),
            "pace": base + "/pace",
            "debrief": base + "/debrief",
            "session": addresses.in_practice(addresses.current(state.sid)),
            "back": addresses.in_practice(here) if address is not None else here,
            "paces": [{"value": str(each), "label": f"×{each}"} for each in PACES],
            "hand": page == CHARGE_PAGE and state.closed is None,
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
            "rest": "Hold to open the low handwheel",
            "held": "Open. Let go to shut",
            "open": "Open the low handwheel",
            "shut": "Shut it",
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
        ("Nominal capacity", label("capacity", known.drawn.design.capacity_w, choice)),
    ]
    if system.maker_subcooling_k is not None:
        value = label("temperature_difference", system.maker_subcooling_k, choice)
        plates.append(("Maker’s subcooling", value))
    else:
        plates.append(("Maker’s figure", "none; use the target-superheat chart"))
    plates += [
        ("Cylinder number", known.cylinder_label),
        ("Refrigerant on the cylinder", system.refrigerant),
        ("Tare stamped on it", label("mass", known.tare_kg, choice)),
        ("Liquid comes out", "upright, by a dip tube"),
        ("Smallest step of the scale", label("mass", known.lesson.scale_step_kg, choice)),
        ("Scale", "has no zero key: it shows cylinder and hose"),
    ]
    return [{"name": name, "value": value} for name, value in plates]


def _usual_looks(session: PracticeSession) -> tuple[str, ...]:
    return WELL_KEPT[1:] if session.setting.drawn.design.fault == "low_airflow" else WELL_KEPT
