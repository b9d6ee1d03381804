"""The phone shows the bytes the server would, and makes of a posted form what the server would."""

import os
from collections import Counter
from dataclasses import replace
from pathlib import Path
from typing import Any

import strategies
from hypothesis import given, settings
from hypothesis import strategies as st
from made_up_sessions import FRESH, SID, addresses, charging_step, hoses_page, posts, sessions
from phone_core import (
    PHASES,
    Core,
    assert_same,
    pairs,
    running_node,
    sent,
    share,
)

from lowside.core.handbook.forms import FORM_OF_KIND
from lowside.core.handbook.handbook import Handbook
from lowside.core.pages.addresses import (
    CURRENT_STEP,
    FORM,
    TICKET,
    TIMELINE,
    Address,
    parse_path,
    path,
)
from lowside.core.pages.page import NoPage, Page
from lowside.core.pages.recording import AlreadyRecorded, Record, Refusal, record_form, start_data
from lowside.core.pages.screen import Screen
from lowside.core.pages.view import home, view
from lowside.core.session.events import Event, Moment
from lowside.core.session.fold import fold
from lowside.core.session.ledger import uses_in
from lowside.rendering import render
from lowside.translate.templates import compile_templates

SESSIONS = int(os.environ.get("LOWSIDE_MADE_UP_SESSIONS", "600")) // 6

Post = tuple[Address, dict[str, str]]


@st.composite
def cases(draw: Any, handbook: Handbook) -> dict[str, Any]:
    events: list[Event] = draw(sessions(handbook))
    others = draw(st.lists(sessions(handbook), max_size=1))
    last = max((event.at for event in events), default=0)
    return {
        "events": events,
        "others": [
            [replace(event, sid="01JMADE00000000000000OTHER") for event in other]
            for other in others
        ],
        "now": Moment(draw(st.sampled_from(("run1", "run2"))), 10**7, last + 400_000, -360),
        "shown": draw(st.lists(addresses(handbook, events), max_size=3)),
        "post": draw(posts(handbook, events)),
    }


def test_pages_and_posted_forms_are_the_same(core: Core, handbook: Handbook) -> None:
    met: Counter[str] = Counter()

    @settings(max_examples=share(core, SESSIONS), phases=PHASES)
    @given(case=cases(handbook))
    def same(case: dict[str, Any]) -> None:
        met.update(_compare(core, handbook, **case))

    same()
    book = strategies.set_up(strategies.Book(sid=SID))
    tapped = book.events[-1]
    twice = {**tapped.data, "eid": tapped.eid, "back": ""}
    target = Address(FORM, SID, FORM_OF_KIND[tapped.kind].name)
    now = Moment(tapped.run, tapped.mono, tapped.at, tapped.tz)
    # What chance makes up seldom: a tap sent twice, an entry that is taken, a form's own page.
    note = Address(FORM, SID, "note")
    for post in ((target, twice), (note, {"eid": FRESH, "text": "x"})):
        met.update(_compare(core, handbook, book.events, [], now, [note], post))
    wanted = {
        *("field/step.html", "field/charge.html", "field/form.html", "field/timeline.html"),
        *(
            "field/ticket.html",
            "field/hoses.html",
            "NoPage",
            "Record",
            "Refusal",
            "AlreadyRecorded",
            "started",
        ),
    }
    assert share(core, SESSIONS) < SESSIONS or wanted <= met.keys(), (
        f"never generated: {wanted - met.keys()}"
    )


def _compare(
    core: Core,
    handbook: Handbook,
    events: list[Event],
    others: list[list[Event]],
    now: Moment,
    shown: list[Address],
    post: Post,
) -> list[str]:
    """Compare everything; returns which pages and outcomes there were."""
    always = [Address(page, SID) for page in (CURRENT_STEP, TIMELINE, TICKET)]
    always.append(Address(TIMELINE, SID, "2"))
    where = [*always, charging_step(handbook), hoses_page(handbook), *shown]
    target, typed = post
    answer = core.ask(
        "core",
        {
            "ask": "pages",
            "events": sent(events),
            "others": [sent(other) for other in others],
            "now": [now.run, now.mono, now.at, now.tz],
            "fresh": FRESH,
            "paths": [path(address) for address in where],
            "post": {"path": path(target), "typed": pairs(typed)},
        },
    )
    state = fold(events, handbook)
    uses = tuple(use for other in others for use in uses_in(fold(other, handbook)))
    screen = Screen(state, handbook, now, FRESH, uses, None)
    met: list[str] = []
    for address, theirs in zip(where, answer["pages"], strict=True):
        met.append(_same_page(theirs, view(screen, address)))
    _same_page(answer["home"], home([state], handbook, FRESH))
    outcome = record_form(state, target, typed, handbook, now)
    assert isinstance(outcome, Record | AlreadyRecorded | Refusal)
    assert_same(answer["outcome"], outcome)
    met.append(type(outcome).__name__)
    if isinstance(outcome, Refusal):
        again = view(replace(screen, attempt=outcome.attempt), outcome.address)
        _same_page(answer["again"], again)
    assert_same(answer["start"], start_data(typed, handbook))
    if state.started is not None:
        met.append("started")
    return met


def _same_page(theirs: list[Any], ours: Page | NoPage) -> str:
    assert_same(theirs[0], ours)
    if isinstance(ours, NoPage):
        return "NoPage"
    assert theirs[1] == render(ours.template, ours.context)
    return ours.template


def test_a_session_closed_by_one_phone_with_a_shot_open_on_another_has_its_page(
    core: Core, handbook: Handbook
) -> None:
    book = strategies.ready_to_charge(strategies.Book(sid=SID))
    book.form("shot_open")
    book.form("record", signed_by="I. Varga", caps_checked="yes")
    _compare(core, handbook, book.events, [], Moment("run-1", 0, 0), [], (HOME_POST, {}))


HOME_POST = Address("form", SID, "note")


@given(data=st.data())
def test_a_new_session_starts_alike(data: st.DataObject, core: Core, handbook: Handbook) -> None:
    procedure = data.draw(st.sampled_from((*handbook.procedures, "", "nobody's")))
    typed = {"procedure": procedure} if data.draw(st.booleans()) else {}
    asked = {"ask": "start", "typed": pairs(typed)}
    assert_same(core.ask("core", asked), start_data(typed, handbook))


@given(text=st.text(max_size=12) | st.from_regex(r"/s/[A-Z0-9]{0,3}(/[a-z]{0,9}){0,3}"))
def test_addresses_are_read_alike(text: str, core: Core) -> None:
    asked = {"ask": "calls", "file": "pages/addresses", "name": "parse_path", "calls": [[text]]}
    assert_same(core.ask("core", asked), [parse_path(text)])


def test_the_harness_would_see_a_difference(tmp_path: Path) -> None:
    """A template that differs by a letter on one side only is noticed."""
    made = tmp_path / "other.mjs"
    made.write_text(compile_templates().replace("All sessions", "All of them"), "utf-8")
    context = {"title": "t", "page": "missing", "text": "x"}
    with running_node() as node:
        node.load("other", made)
        theirs = node.render("other", "field/missing.html", context)
    assert theirs != render("field/missing.html", context)


def test_a_phone_pages_through_twenty_thousand_entries(core: Core) -> None:
    start = Event("01JMADE000000000000000000A", "phone", 1, "E1", "1", 1, 0, 1, "run1", "x", {})
    many = [
        replace(
            start, seq=n, eid=f"E{n}", hlc=f"{n:06d}", kind="note.added", data={"text": f"n{n}."}
        )
        for n in range(2, 20_001)
    ]
    began = replace(start, hlc="000001", kind="session.started", data={"procedure": "none"})
    question = {
        "ask": "pages",
        "events": sent([began, *many]),
        "others": [],
        "now": ["run1", 10**7, 10**7, 0],
        "fresh": FRESH,
        "paths": [f"/s/{start.sid}/timeline{place}" for place in ("", "/10000", "/100")],
        "post": {"path": f"/s/{start.sid}/form/note", "typed": [["text", "x"], ["eid", FRESH]]},
    }
    pages = [html for _, html in core.ask("core", question)["pages"]]
    for newest, html in zip((20_000, 10_000, 100), pages, strict=True):
        assert f"n{newest}." in html
        assert f"n{newest + 1}." not in html
        assert len(html) < 150_000
