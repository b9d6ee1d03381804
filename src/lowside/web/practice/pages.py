"""Practice mode's pages: the field pages of a simulated unit, its instruments, its debrief.

The session's own pages are the field pages moved below `/practice`, where no phone's offline copy
answers: the unit runs on the server, so every tap has to reach it.
"""

import json
import secrets
from collections.abc import Mapping
from typing import Annotated, Any

from fastapi import APIRouter, Depends, Request
from starlette.responses import HTMLResponse, RedirectResponse, Response

from lowside.core.handbook.procedure import CHARGE_PAGE
from lowside.core.pages import addresses
from lowside.core.pages.addresses import Address, parse_path
from lowside.core.pages.home import unit_name
from lowside.core.pages.page import NoPage, Page
from lowside.core.pages.recording import Refusal, posted_to
from lowside.core.pages.running import timer
from lowside.core.pages.screen import Attempt, Screen
from lowside.core.pages.view import view
from lowside.core.session.events import Event
from lowside.core.session.state import State, latest_reading
from lowside.core.session.walk import MACHINE_ON
from lowside.practice import debrief, score
from lowside.practice.lessons import HIGHEST_SEED, LESSONS
from lowside.practice.pace import OPEN, PACES, SHUT
from lowside.practice.score import GUESSES, guess_of
from lowside.rendering import render
from lowside.web.clock import new_ulid
from lowside.web.field.pages import Typed, no_page, not_found
from lowside.web.office.content import chart_series, chart_text
from lowside.web.practice import drills
from lowside.web.practice.around import around, panel, plates_as_known, slip
from lowside.web.practice.desk import PracticeDesk

PRACTICE = addresses.PRACTICE
BEGUN = 10
"""Sessions on the lessons' page to go on with or to look at again."""
FINISHED = 40
"""Closed sessions whose lessons are marked as done."""

router = APIRouter(prefix=PRACTICE)


def the_practice(request: Request) -> PracticeDesk:
    desk: PracticeDesk = request.app.state.practice
    return desk


ThePractice = Annotated[PracticeDesk, Depends(the_practice)]


@router.get("")
def lessons_page(request: Request, practice: ThePractice) -> Response:
    return _lessons(request, practice, 200)


@router.post("/start")
def start(request: Request, practice: ThePractice, typed: Typed) -> Response:
    sid = practice.start(typed)
    if sid is None:
        return _lessons(request, practice, 422)
    return RedirectResponse(addresses.in_practice(addresses.current(sid)), 303)


@router.get("/s/{rest:path}")
def session_page(request: Request, practice: ThePractice) -> Response:
    return _session_page(practice, request.url.path.removeprefix(PRACTICE))


@router.post("/s/{rest:path}")
def session_form(request: Request, practice: ThePractice, typed: Typed) -> Response:
    address = posted_to(request.url.path.removeprefix(PRACTICE), typed)
    if isinstance(address, NoPage):
        return no_page(address)
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
    context = panel(practice, events, state)
    if request.headers.get("hx-request") == "true":
        return HTMLResponse(render("practice/_instruments.html", context))
    context |= around(practice, events, state, CHARGE_PAGE)
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


@router.post("/{sid}/guess")
def guess(practice: ThePractice, sid: str, typed: Typed) -> Response:
    what = typed.get("guess", "")
    if what not in GUESSES or not practice.guess(sid, what):
        return not_found("There is no such answer.")
    return RedirectResponse(addresses.in_practice(addresses.current(sid)), 303)


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
    points = score.points(session, state, guess_of(events))
    series = chart_series(state)
    context = {
        "title": "Debrief",
        "points": [
            {"got": str(each.got), "of": str(each.of), "reason": each.reason} for each in points
        ],
        "got": str(sum(each.got for each in points)),
        "of": str(sum(each.of for each in points)),
        "series": json.dumps(series) if series is not None else "",
        "chart_text": chart_text(series),
        "nothing": debrief.nothing_wrong(session, state),
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
        "shots": debrief.shot_lines(session, state),
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


def _lessons(request: Request, practice: PracticeDesk, status: int) -> Response:
    fresh = practice.real_now().at
    finished = practice.finished(FINISHED)
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
                "done": lesson.id in finished,
            }
            for number, lesson in enumerate(LESSONS, start=1)
        ],
        "begun": [slip(state, events) for state, events in begun if state.closed is None],
        "closed": [slip(state, events) for state, events in begun if state.closed is not None],
        "procedures": [
            {"value": procedure.id, "label": procedure.title}
            for procedure in practice.handbook.procedures.values()
            if not procedure.retired
        ],
        "short": drills.listed(request),
        "seed": str(1 + secrets.randbelow(999)),
        "problem": ""
        if status == 200
        else f"Choose a lesson, and another unit number, from 0 to {HIGHEST_SEED}.",
        "sid": new_ulid(fresh),
        "eid": new_ulid(fresh),
    }
    return HTMLResponse(render("practice/lessons.html", context), status)


def _session_page(practice: PracticeDesk, path: str, attempt: Attempt | None = None) -> Response:
    address = parse_path(path)
    events = practice.events(address.sid) if address is not None else []
    if address is None or not events:
        return not_found("There is no such practice session.")
    state = practice.state(events)
    now = practice.now(address.sid, events)
    fresh = new_ulid(practice.real_now().at)
    session, _, _ = practice.running(state.sid, events)
    plates = plates_as_known(session, state)
    visits = () if plates is None else (plates,)
    screen = Screen(state, practice.handbook, now, fresh, (), attempt, visits)
    page = view(screen, address)
    if isinstance(page, NoPage):
        return no_page(page)
    if _tells(page, screen) and guess_of(events) == "":
        return _ask_guess(practice, state, events, address)
    context: dict[str, Any] = _moved(dict(page.context), "/s/" + state.sid)
    context |= panel(practice, events, state)
    where = MACHINE_ON if _step_of(page) == MACHINE_ON else str(context["page"])
    context |= around(practice, events, state, where, address)
    context["under"] = page.template
    html = render("practice/session.html", context)
    return HTMLResponse(html, 200 if attempt is None else 422)


def _step_of(page: Page) -> str:
    step = page.context.get("step")
    return str(step["id"]) if isinstance(step, dict) else ""


def _tells(page: Page, screen: Screen) -> bool:
    """Whether the page says what the readings mean. Before that the apprentice has a guess."""
    asked = _step_of(page) == "decide"
    return asked and screen.state.closed is None and latest_reading(screen.state) is not None


def _ask_guess(
    practice: PracticeDesk, state: State, events: list[Event], address: Address
) -> Response:
    context: dict[str, Any] = {
        "title": "What do you think?",
        "page": "practice",
        "guess": f"{PRACTICE}/{state.sid}/guess",
        "guesses": [{"value": value, "label": label} for value, label in GUESSES.items()],
    }
    context |= panel(practice, events, state)
    context |= around(practice, events, state, "step", address)
    return HTMLResponse(render("practice/guess.html", context))


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
