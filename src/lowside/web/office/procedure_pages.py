"""The office pages where a shop makes a procedure its own. Every page is a plain form."""

from collections.abc import Sequence
from dataclasses import replace
from typing import Annotated, Any

from fastapi import APIRouter, Depends, Request
from starlette.responses import HTMLResponse, RedirectResponse, Response

from lowside.core.handbook.procedure import Procedure, Step, step_by_id, valve_by_id
from lowside.core.hoses.procedure_edit import (
    Words,
    arranged,
    left_out,
    moved,
    order_of,
    put_back,
    reworded,
    title_problem,
    without,
    word_problems,
    words_of,
)
from lowside.core.hoses.procedure_verdict import ProcedureReview, Remark
from lowside.core.hoses.words import SETTING_WORDS
from lowside.procedures.shop import Revision, TakenError
from lowside.rendering import render
from lowside.web.field.pages import Typed
from lowside.web.office.missing import not_found
from lowside.web.office.workshop import RefusedError, Workshop

PATH = "/office/procedures"

NO_SUCH_PROCEDURE = "There is no such procedure of the shop’s own."
REFUSED = "Not saved: it could hurt someone, the unit or the record. The step says why."
STALE = (
    "Somebody else saved this procedure. Your changes are still here: look at them again, "
    "then save."
)

router = APIRouter(prefix=PATH)


def the_workshop(request: Request) -> Workshop:
    workshop: Workshop = request.app.state.workshop
    return workshop


TheWorkshop = Annotated[Workshop, Depends(the_workshop)]


@router.get("")
def procedures(workshop: TheWorkshop) -> Response:
    return _list(workshop)


@router.post("/copy")
def copy(workshop: TheWorkshop, typed: Typed) -> Response:
    source, title = typed.get("source", ""), typed.get("title", "")
    if source not in workshop.handbook.procedures:
        return _list(workshop, "Choose the procedure to copy.", title, source)
    problem = title_problem(title) or _title_taken(workshop, title, "")
    if problem != "":
        return _list(workshop, "The name of the copy: " + problem, title, source)
    try:
        made = workshop.copy(source, title)
    except RefusedError as error:
        return _list(workshop, f"It cannot be copied as it is: {error}", title, source)
    except TakenError:
        return _list(workshop, "A file of this name exists already. Change the name.", title)
    return RedirectResponse(f"{PATH}/{made.family}", 303)


@router.get("/{family}")
def procedure(workshop: TheWorkshop, family: str) -> Response:
    newest = workshop.shop.newest(family)
    if newest is None:
        return not_found(NO_SUCH_PROCEDURE)
    return _editor(workshop, newest, order_of(newest.procedure))


@router.post("/{family}/arrange")
def arrange(workshop: TheWorkshop, family: str, typed: Typed) -> Response:
    """Move, leave out or put back a step on the page, or save the order the page shows."""
    newest = workshop.shop.newest(family)
    if newest is None:
        return not_found(NO_SUCH_PROCEDURE)
    shipped = workshop.shipped.procedures[newest.shipped]
    act, _, step_id = typed.get("act", "").partition(":")
    order: Sequence[str] = typed.get("order", "").split()
    if act in ("up", "down"):
        order = moved(order, step_id, act == "up")
    elif act == "out":
        order = without(order, step_id)
    elif act == "back":
        order = put_back(order, step_id, order_of(shipped))
    made = arranged(newest.procedure, order, shipped) if order else None
    if made is None:
        return not_found("This order names steps that do not exist. Open the procedure again.")
    if act != "save":
        return _editor(workshop, newest, order)
    return _save(workshop, newest, made, typed.get("base", ""))


@router.post("/{family}/name")
def name(workshop: TheWorkshop, family: str, typed: Typed) -> Response:
    newest = workshop.shop.newest(family)
    if newest is None:
        return not_found(NO_SUCH_PROCEDURE)
    title = typed.get("title", "")
    order = order_of(newest.procedure)
    problem = title_problem(title) or _title_taken(workshop, title, family)
    if problem != "":
        return _editor(workshop, newest, order, "The name was not saved. " + problem, title)
    made = replace(newest.procedure, title=title.strip())
    return _save(workshop, newest, made, typed.get("base", ""), title)


@router.post("/{family}/offer")
def offer(workshop: TheWorkshop, family: str, typed: Typed) -> Response:
    """Offer it to new sessions, or stop doing so; sessions that follow it keep it."""
    newest = workshop.shop.newest(family)
    if newest is None:
        return not_found(NO_SUCH_PROCEDURE)
    offered = typed.get("offered", "") == "yes"
    return _save(workshop, newest, newest.procedure, typed.get("base", ""), offered=offered)


@router.post("/{family}/restore")
def restore(workshop: TheWorkshop, family: str, typed: Typed) -> Response:
    """Make an earlier revision the newest again."""
    newest = workshop.shop.newest(family)
    if newest is None:
        return not_found(NO_SUCH_PROCEDURE)
    for one in workshop.shop.families[family]:
        if str(one.number) == typed.get("revision", ""):
            return _save(workshop, newest, one.procedure, typed.get("base", ""))
    return not_found("There is no such revision of this procedure.")


@router.get("/{family}/step/{step_id}")
def step(workshop: TheWorkshop, family: str, step_id: str) -> Response:
    newest = workshop.shop.newest(family)
    found = step_by_id(newest.procedure, step_id) if newest is not None else None
    if newest is None or found is None:
        return not_found("This procedure has no such step.")
    return _words(newest, found, words_of(found))


@router.post("/{family}/step/{step_id}")
def save_step(workshop: TheWorkshop, family: str, step_id: str, typed: Typed) -> Response:
    newest = workshop.shop.newest(family)
    found = step_by_id(newest.procedure, step_id) if newest is not None else None
    if newest is None or found is None:
        return not_found("This procedure has no such step.")
    words = Words(*(typed.get(field, "") for field in ("title", "do", "why", "done_when")))
    problems = word_problems(words)
    if problems:
        return _words(newest, found, words, problems, status=422)
    made = reworded(newest.procedure, step_id, words)
    try:
        workshop.save(family, _number(typed.get("base", "")), made)
    except TakenError:
        return _words(newest, found, words, message=STALE, status=409)
    except RefusedError as error:
        return _words(newest, found, words, message=f"Not saved: {error}", status=422)
    return RedirectResponse(f"{PATH}/{family}#step-{step_id}", 303)


def _save(
    workshop: Workshop,
    newest: Revision,
    made: Procedure,
    base: str,
    title: str | None = None,
    offered: bool = True,
) -> Response:
    order = order_of(made)
    try:
        workshop.save(newest.family, _number(base), made, offered)
    except TakenError:
        return _editor(workshop, newest, order, STALE, title, 409)
    except RefusedError:
        return _editor(workshop, newest, order, REFUSED, title)
    return RedirectResponse(f"{PATH}/{newest.family}", 303)


def _list(workshop: Workshop, problem: str = "", title: str = "", source: str = "") -> HTMLResponse:
    own = [revisions[-1] for revisions in workshop.shop.families.values()]
    shipped = list(workshop.shipped.procedures.values())
    sources = [one.procedure for one in own if one.offered] + shipped
    context = {
        "title": "Procedures",
        "problem": problem,
        "name": title,
        "problems": list(workshop.shop.problems),
        "own": [
            {
                "href": f"{PATH}/{one.family}",
                "title": one.procedure.title,
                "shipped": workshop.shipped.procedures[one.shipped].title,
                "revision": one.number,
                "offered": one.offered,
            }
            for one in own
        ],
        "shipped": [
            {"title": one.title, "hardware": one.hardware, "steps": len(one.steps)}
            for one in shipped
        ],
        "sources": [
            {"value": one.id, "label": one.title, "on": one.id == source} for one in sources
        ],
    }
    return HTMLResponse(render("office/procedures.html", context), 422 if problem else 200)


def _editor(
    workshop: Workshop,
    newest: Revision,
    order: Sequence[str],
    problem: str = "",
    title: str | None = None,
    status: int = 422,
) -> HTMLResponse:
    """The procedure in this order, each step with what the model says of it there."""
    shipped = workshop.shipped.procedures[newest.shipped]
    shown = arranged(newest.procedure, order, shipped) or newest.procedure
    verdict = workshop.verdict(shown, newest.shipped)
    last = len(shown.steps) - 1
    context = {
        "title": newest.procedure.title,
        "path": f"{PATH}/{newest.family}",
        "problem": problem,
        "name": newest.procedure.title if title is None else title,
        "shipped": shipped.title,
        "base": newest.number,
        "offered": newest.offered,
        "pending": tuple(order) != order_of(newest.procedure),
        "order": " ".join(order),
        "refused": len(verdict.refusals),
        "warned": len(verdict.warnings),
        "steps": [
            {
                "id": one.id,
                "number": i + 1,
                "title": one.title,
                "stage": one.stage,
                "first": i == 0,
                "last": i == last,
                "refusals": _remarks(verdict.refusals, one.id),
                "warnings": _remarks(verdict.warnings, one.id),
            }
            for i, one in enumerate(shown.steps)
        ],
        "left": [
            {
                "id": one.id,
                "title": one.title,
                "refusals": _remarks(verdict.refusals, one.id),
                "warnings": _remarks(verdict.warnings, one.id),
            }
            for one in left_out(order, shipped)
        ],
        "marked": _marked(verdict, [*shown.steps, *left_out(order, shipped)]),
        "earlier": [
            {"number": one.number, "steps": len(one.procedure.steps), "name": one.procedure.title}
            for one in reversed(workshop.shop.families[newest.family])
            if one.number != newest.number
        ],
    }
    html = render("office/procedure.html", context)
    return HTMLResponse(html, status if problem else 200)


def _words(
    newest: Revision,
    found: Step,
    words: Words,
    problems: dict[str, str] | None = None,
    message: str = "",
    status: int = 200,
) -> HTMLResponse:
    wrong = problems or {}
    if wrong and message == "":
        message = "Not saved. The marked words say why."
    fields = (
        ("title", "Heading", "", words.title, 0),
        ("do", "What to do", "One instruction a line.", words.do, 7),
        ("why", "Why", "For someone who does it the first time.", words.why, 5),
        (
            "done_when",
            "Done when",
            "What the technician must see before going on.",
            words.done_when,
            2,
        ),
    )
    context = {
        "title": found.title,
        "path": f"{PATH}/{newest.family}",
        "procedure": newest.procedure.title,
        "action": f"{PATH}/{newest.family}/step/{found.id}",
        "base": newest.number,
        "message": message,
        "source": found.source,
        "turns": _turns(newest.procedure, found),
        "fields": [
            {
                "name": name,
                "label": label,
                "hint": hint,
                "value": value,
                "rows": rows,
                "problem": wrong.get(name, ""),
            }
            for name, label, hint, value, rows in fields
        ],
    }
    return HTMLResponse(render("office/procedure_step.html", context), status)


def _turns(procedure: Procedure, step: Step) -> list[str]:
    """The step's moves as the drawing words them."""
    found = []
    for action in step.actions:
        valve = valve_by_id(procedure, action.valve)
        found.append(f"{valve.title if valve else action.valve}: {SETTING_WORDS[action.to]}")
    return found


def _remarks(remarks: Sequence[Remark], step_id: str) -> list[dict[str, Any]]:
    return [
        {"text": remark.sentence, "check": remark.cure}
        for remark in remarks
        if remark.step_id == step_id
    ]


def _marked(verdict: ProcedureReview, steps: Sequence[Step]) -> list[dict[str, str]]:
    """Steps with a remark, so that the page can lead to them."""
    ids = [remark.step_id for remark in verdict.refusals + verdict.warnings]
    return [{"id": one.id, "title": one.title} for one in steps if one.id in ids]


def _title_taken(workshop: Workshop, title: str, family: str) -> str:
    """Two of one name could not be told apart where a session is started."""
    others = [one.title for one in workshop.shipped.procedures.values()]
    for name_of, revisions in workshop.shop.families.items():
        if name_of != family and revisions[-1].offered:
            others.append(revisions[-1].procedure.title)
    if title.strip() in others:
        return "There is a procedure with this name already. Choose another name."
    return ""


def _number(text: str) -> int:
    return int(text) if text.isascii() and text.isdigit() and len(text) < 9 else 0
