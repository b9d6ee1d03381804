"""The real application on a store of its own, and its pages read as a technician's browser does."""

import asyncio
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass, field, replace
from datetime import datetime, timedelta
from functools import cached_property
from html.parser import HTMLParser
from pathlib import Path

from fastapi import FastAPI
from httpx import ASGITransport, AsyncClient, Response

from lowside.core.handbook.handbook import Handbook
from lowside.core.session.events import Event, Moment
from lowside.core.session.state import State
from lowside.demo import Move, Scenario, play
from lowside.outlining import outline
from lowside.store import EventStore
from lowside.web.app import create_app
from lowside.web.clock import Clock
from lowside.web.field.desk import Desk
from lowside.web.keeping import opened

DEVICE = "01KTESTDEVICE00000000000AA"
PROCEDURE = "hand-valved-three-port"


class PatientClock(Clock):
    """The server's clock, for hands that read each page before they tap. It moves only when it is
    told, so a busy machine makes no hand slow."""

    def __init__(self) -> None:
        super().__init__()
        self.waited_ms = 0
        self._began = super().now()

    def wait(self, seconds: float) -> None:
        self.waited_ms += int(seconds * 1000)

    def now(self) -> Moment:
        now = self._began
        return replace(now, mono=now.mono + self.waited_ms, at=now.at + self.waited_ms)


@dataclass
class WebForm:
    """A form as the page shows it: what would be sent if nothing more were typed."""

    action: str
    values: dict[str, str] = field(default_factory=dict)
    id: str = ""


@dataclass
class Problem:
    """A sentence beside a field (`field` is empty for one about the whole form)."""

    field: str
    sentence: str


class Reader(HTMLParser):
    """Forms, problems, links and visible text of one page."""

    def __init__(self, html: str) -> None:
        super().__init__(convert_charrefs=True)
        self.forms: list[WebForm] = []
        self.problems: list[Problem] = []
        self.links: list[str] = []
        self.text: list[str] = []
        self._form: WebForm | None = None
        self._select = ""
        self._area = ""
        self._problem: Problem | None = None
        self._silent = 0
        self.feed(html)
        self.close()

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        at = {name: value or "" for name, value in attrs}
        present = {name for name, _ in attrs}
        if tag in ("script", "style", "title"):
            self._silent += 1
        if tag == "form":
            self._form = WebForm(at.get("action", ""), id=at.get("id", ""))
            self.forms.append(self._form)
        elif tag == "a" and "href" in at:
            self.links.append(at["href"])
        elif tag == "input" and self._form is not None and "name" in at:
            if at.get("type") not in ("radio", "checkbox") or "checked" in present:
                self._form.values[at["name"]] = at.get("value", "")
        elif tag == "select" and self._form is not None:
            self._select = at["name"]
        elif tag == "option" and self._select and self._form is not None:
            first = self._select not in self._form.values
            if first or "selected" in present:
                self._form.values[self._select] = at.get("value", "")
        elif tag == "textarea" and self._form is not None:
            self._area = at["name"]
            self._form.values[self._area] = ""
        elif tag == "p" and "problem" in at.get("class", "").split():
            self._problem = Problem(at.get("id", "").removesuffix("-problem"), "")
            self.problems.append(self._problem)

    def handle_endtag(self, tag: str) -> None:
        if tag in ("script", "style", "title"):
            self._silent -= 1
        elif tag == "form":
            self._form = None
        elif tag == "select":
            self._select = ""
        elif tag == "textarea":
            self._area = ""
        elif tag == "p":
            self._problem = None

    def handle_data(self, data: str) -> None:
        if self._silent == 0:
            self.text.append(data)
        if self._area and self._form is not None:
            self._form.values[self._area] += data
        if self._problem is not None:
            self._problem.sentence += data


@dataclass
class Page:
    """One answer of the site."""

    response: Response

    @cached_property
    def read(self) -> Reader:
        """What is on it; of most answers nobody asks more than the status."""
        return Reader(self.response.text)

    @property
    def status(self) -> int:
        return self.response.status_code

    @property
    def text(self) -> str:
        """What is to be read on it, without markup."""
        return " ".join(" ".join(self.read.text).split())

    def form(self, ending: str) -> WebForm:
        """The first form whose action ends so."""
        for form in self.read.forms:
            if form.action.endswith(ending):
                return form
        raise AssertionError(f"no form to {ending} among {[f.action for f in self.read.forms]}")

    def problem(self, name: str) -> str:
        """The sentence beside a field, "" when there is none."""
        return " ".join(p.sentence for p in self.read.problems if p.field == name)


@dataclass
class Site:
    """The application over one store."""

    app: FastAPI
    store: EventStore
    desk: Desk

    def send(
        self,
        method: str,
        path: str,
        content: bytes | None = None,
        headers: Mapping[str, str] | None = None,
        data: Mapping[str, str] | None = None,
    ) -> Response:
        """One request, from whatever thread."""

        async def exchange() -> Response:
            transport = ASGITransport(self.app)
            async with AsyncClient(transport=transport, base_url="http://localhost") as client:
                return await client.request(
                    method, path, content=content, headers=headers, data=data
                )

        return asyncio.run(exchange())

    def get(self, path: str) -> Page:
        response = self.send("GET", path)
        return Page(response)

    def post(
        self, path: str, typed: Mapping[str, str], headers: Mapping[str, str] | None = None
    ) -> Page:
        """Send a form, a moment after the last one; a redirect is not followed."""
        if isinstance(self.desk.clock, PatientClock):
            self.desk.clock.wait(2.0)
        response = self.send("POST", path, headers=headers, data=typed)
        return Page(response)

    def start(self) -> str:
        """Start a session from home; its sid."""
        form = self.get("/").form("/start")
        answer = self.post("/start", form.values)
        assert answer.status == 303
        return form.values["sid"]

    def play(self, scenario: Scenario, until: str = "") -> str:
        """Store a demo session; its sid. With `until` it is up to, not including, its first form
        of that name, and goes on now."""
        moves = list(scenario.moves)
        names = [move.form for move in moves]
        start = scenario.start
        if until:
            moves = moves[: names.index(until)]
            lasted = timedelta(seconds=sum(move.after_s for move in moves))
            now = datetime.fromtimestamp(self.desk.clock.now().at / 1000.0, start.tzinfo)
            start = now - lasted
        until_then = replace(scenario, start=start, moves=tuple(moves))
        events = play(until_then, self.desk.handbook)
        self.store.append(events)
        return events[0].sid

    def fill(self, path: str, form: str, typed: Mapping[str, str]) -> Page:
        """Open a page, type into its form and send it."""
        shown = self.get(path).form("/form/" + form)
        return self.post(shown.action, shown.values | dict(typed))

    def make(self, sid: str, move: Move) -> Page:
        """Fill in a scenario's form on the page where it belongs."""
        path = f"/s/{sid}/step/{move.step}" if move.step else f"/s/{sid}"
        if move.form in ("units", "note") or (move.form == "reading" and not move.step):
            path = f"/s/{sid}/form/{move.form}"
        answer = self.fill(path, move.form, move.typed)
        assert answer.status == 303, (move.form, answer.read.problems)
        return answer

    def events(self, sid: str) -> list[Event]:
        return self.store.events(sid)

    def state(self, sid: str) -> State:
        state = self.desk.state(sid)
        assert state is not None
        return state


@contextmanager
def open_site(data: Path | str, handbook: Handbook, device: str = DEVICE) -> Iterator[Site]:
    """The application on the store at `data`, a folder or a database, as a browser at
    http://localhost sees it."""
    if isinstance(data, Path):
        data.mkdir(parents=True, exist_ok=True)
    store, keeping = opened(data, outline)
    app = create_app(store, handbook, device, keeping=keeping)
    app.state.desk.clock = PatientClock()
    try:
        yield Site(app, store, app.state.desk)
    finally:
        store.close()
