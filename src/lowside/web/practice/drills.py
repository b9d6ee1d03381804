"""Practice’s short lessons: a call on paper, or one turn of a valve. A guess, then the answer.

They need no session: the answer is worked out again each time. Which ones were answered right
stays in a cookie on this device.
"""

import re
from collections.abc import Sequence
from typing import Annotated, Any

from fastapi import APIRouter, Query, Request
from starlette.responses import HTMLResponse, RedirectResponse, Response

from lowside.core.pages.addresses import PRACTICE
from lowside.core.pages.charging import WORDS
from lowside.practice import calls, hose_drills
from lowside.practice.calls import Call
from lowside.practice.hose_drills import HoseDrill
from lowside.practice.score import Point
from lowside.rendering import render
from lowside.web.field.pages import Typed, not_found

DONE = "practice-done"
A_YEAR_S = 365 * 24 * 3600
_IDS = re.compile(r"[A-Za-z0-9]{2,4}(\.[A-Za-z0-9]{2,4}){0,400}")
NO_SUCH = "There is no such lesson."

router = APIRouter(prefix=PRACTICE)

Guess = Annotated[str, Query(max_length=40)]


@router.get("/calls/{call_id}")
def call_page(call_id: str, guess: Guess = "") -> Response:
    call = calls.call_by_id(call_id)
    if call is None:
        return not_found(NO_SUCH)
    known = calls.played(call.id)
    context: dict[str, Any] = {
        "progress": f"Call {call.number} of {len(calls.calls())}",
        "heading": calls.title_of(call),
        "facts": [
            {"title": title, "answers": [{"name": n, "value": v} for n, v in answers]}
            for title, answers in calls.facts_of(call)
        ],
        "acts": calls.acts_of(call),
        "pictures": [],
        "question": "What do you do now?",
        "guesses": [{"value": value, "label": label} for value, label in WORDS.items()],
        "post": f"{PRACTICE}/calls/{call.id}",
        "next": _after(f"{PRACTICE}/calls/", [one.id for one in calls.calls()], call.id),
        "answer": None,
    }
    if guess in WORDS:
        scored = calls.point(call, known.advice, guess)
        right = calls.word_of(known.advice)
        context["answer"] = _answer(scored, right, WORDS[guess], known.advice.reasons[1:])
    return _page(context)


@router.get("/hoses/{drill_id}")
def hose_page(drill_id: str, guess: Guess = "") -> Response:
    drill = hose_drills.drill_by_id(drill_id)
    if drill is None:
        return not_found(NO_SUCH)
    offered = hose_drills.choices(drill)
    guessed = guess in dict(offered)
    context: dict[str, Any] = {
        "progress": f"Hoses {int(drill.id[1:])} of {len(hose_drills.DRILLS)}",
        "heading": "At the hoses",
        "facts": [],
        "acts": [drill.told],
        "pictures": hose_drills.pictures(drill, guessed),
        "question": hose_drills.question(drill),
        "guesses": [{"value": value, "label": label} for value, label in offered],
        "post": f"{PRACTICE}/hoses/{drill.id}",
        "next": _after(f"{PRACTICE}/hoses/", [one.id for one in hose_drills.DRILLS], drill.id),
        "answer": None,
    }
    if guessed:
        context["answer"] = _hose_answer(drill, guess)
    return _page(context)


@router.post("/calls/{drill_id}")
@router.post("/hoses/{drill_id}")
def guess(request: Request, drill_id: str, typed: Typed) -> Response:
    what = typed.get("guess", "")
    call, drill = calls.call_by_id(drill_id), hose_drills.drill_by_id(drill_id)
    allowed = (*WORDS, *hose_drills.LABELS, hose_drills.NOTHING)
    if (call is None and drill is None) or what not in allowed:
        return not_found(NO_SUCH)
    answer = RedirectResponse(f"{request.url.path}?guess={what}", 303)
    if _is_right(call, drill, what):
        done = ".".join(sorted({*done_of(request), drill_id}))
        answer.set_cookie(DONE, done, A_YEAR_S, path=PRACTICE, httponly=True, samesite="lax")
    return answer


def _is_right(call: Call | None, drill: HoseDrill | None, guess: str) -> bool:
    """Whether a guess has the whole score. A lesson is done when it has."""
    if call is not None:
        scored = calls.point(call, calls.played(call.id).advice, guess)
        return scored.got == scored.of
    return drill is not None and guess in hose_drills.codes(drill)


def done_of(request: Request) -> set[str]:
    """Short lessons that this device has done."""
    kept = request.cookies.get(DONE, "")
    return set(kept.split(".")) if _IDS.fullmatch(kept) else set()


def listed(request: Request) -> list[dict[str, Any]]:
    """Both kinds of short lessons for the lessons’ page."""
    done = done_of(request)
    on_paper = [(one.id, f"{one.number}. {calls.title_of(one)}") for one in calls.calls()]
    turns = [(one.id, f"{int(one.id[1:])}. {one.told}") for one in hose_drills.DRILLS]
    return [
        {
            "title": title,
            "list": [
                {"href": f"{PRACTICE}/{folder}/{id}", "title": line, "done": id in done}
                for id, line in lines
            ],
        }
        for title, folder, lines in (
            (f"{len(on_paper)} calls on paper: what do you do?", "calls", on_paper),
            (f"{len(turns)} turns at the hoses: what happens?", "hoses", turns),
        )
    ]


def _hose_answer(drill: HoseDrill, guess: str) -> dict[str, Any]:
    codes = hose_drills.codes(drill)
    hazards = hose_drills.found(drill).hazards
    reasons = [f"{one.sentence} {one.cure}" for one in hazards]
    reason = reasons[0] if reasons else "Nothing is wrong with that."
    ok = guess in codes
    point = Point(2 if ok else 0, 2, ("You said so too. " if ok else "") + reason)
    right = hose_drills.label_of(codes[0])
    return _answer(point, right, hose_drills.label_of(guess), reasons[1:])


def _answer(point: Point, right: str, guessed: str, more: Sequence[str]) -> dict[str, Any]:
    return {
        "score": f"{point.got} of {point.of}",
        "right": right,
        "guessed": guessed,
        "ok": point.got == point.of,
        "reason": point.reason,
        "more": list(dict.fromkeys(more)),
    }


def _after(base: str, ids: Sequence[str], this: str) -> str:
    at = ids.index(this) + 1
    return base + ids[at] if at < len(ids) else PRACTICE


def _page(context: dict[str, Any]) -> Response:
    context |= {"title": "Practice", "page": "practice", "home": PRACTICE}
    return HTMLResponse(render("practice/drill.html", context))
