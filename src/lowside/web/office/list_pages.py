"""The office's first page: sessions that need a look, every filter of it, and its exports."""

from collections.abc import Iterable, Iterator
from typing import Any

from fastapi import APIRouter, Request
from starlette.responses import HTMLResponse, PlainTextResponse, Response, StreamingResponse

from lowside.core.office.summary import Summary
from lowside.outlining import SUMMARY, summary_from
from lowside.rendering import render
from lowside.store import EventStore, lists
from lowside.store.selection import Place
from lowside.store.ulid import is_ulid
from lowside.web.field.pages import TheDesk
from lowside.web.office.exporting import csv_lines, json_lines
from lowside.web.office.list_content import ROWS, list_context
from lowside.web.office.selecting import KINDS, Asked, asked_for

router = APIRouter(prefix="/office")


@router.get("")
def office_list(request: Request, desk: TheDesk) -> Response:
    store = desk.store
    asked = asked_for(request.query_params)
    after = request.query_params.get("after", "")
    found = lists.selected(store, asked.selection, SUMMARY, _place(store, after), ROWS + 1)
    context = list_context(asked, found, _counts(store, asked), after)
    context |= {"set_aside": len(store.quarantined()), "store": store.problems()}
    return HTMLResponse(render("office/list.html", context))


@router.get("/sessions.csv")
def sessions_csv(request: Request, desk: TheDesk) -> Response:
    asked, si = _export(request)
    if asked.problems:
        return _refused(asked)
    lines = csv_lines(summaries(desk.store, asked), si)
    return _file(_in_pieces(lines), "text/csv; charset=utf-8", "sessions.csv")


@router.get("/sessions.json")
def sessions_json(request: Request, desk: TheDesk) -> Response:
    asked, si = _export(request)
    if asked.problems:
        return _refused(asked)
    lines = json_lines(summaries(desk.store, asked), si)
    return _file(_in_pieces(lines), "application/json", "sessions.json")


def summaries(store: EventStore, asked: Asked) -> Iterator[Summary]:
    """Every session of the selection, some at a time."""
    for _, text in lists.every(store, asked.selection, SUMMARY):
        if text != "":
            yield summary_from(text)


def _counts(store: EventStore, asked: Asked) -> dict[str, int]:
    kind = KINDS[asked.show]
    return {} if kind == "" else lists.counts(store, kind)


def _export(request: Request) -> tuple[Asked, bool]:
    query: dict[str, Any] = dict(request.query_params)
    return asked_for(query), query.get("units", "") == "si"


def _refused(asked: Asked) -> Response:
    """A file is not made with a filter left out: nothing in it would say so."""
    return PlainTextResponse(" ".join(dict.fromkeys(asked.problems.values())), 422)


def _place(store: EventStore, sid: str) -> Place | None:
    if not is_ulid(sid):
        return None
    return lists.place_named(store, sid)


def _in_pieces(lines: Iterable[str]) -> Iterator[str]:
    """Many short lines as fewer long pieces: each piece crosses a thread."""
    piece: list[str] = []
    for line in lines:
        piece.append(line)
        if len(piece) == 500:
            yield "".join(piece)
            piece.clear()
    yield "".join(piece)


def _file(pieces: Iterator[str], kind: str, name: str) -> Response:
    headers = {"Content-Disposition": f'attachment; filename="lowside-{name}"'}
    return StreamingResponse(pieces, media_type=kind, headers=headers)
