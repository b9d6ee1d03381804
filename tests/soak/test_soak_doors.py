"""Every address the program has, and every form its pages show, with what no hand types.

Addresses come from the program's own routes and forms from its pages, so a new one is attacked
without a word here. Short and seeded; `make soak` runs it long.
"""

import random
from pathlib import Path
from urllib.parse import parse_qs, quote, urlsplit

from soaking import NASTY, SEED, times
from store_cases import ulid
from website import Reader, Site, WebForm, open_site

from lowside.core.handbook.handbook import Handbook
from lowside.demo import scenarios
from lowside.web.app import SECURITY_HEADERS
from lowside.web.clock import new_ulid

FIRST = ("/", "/office", "/office/people", "/office/procedures", "/office/month", "/practice")
PAGES = 60
"""Read to find forms."""
NUMBERS = ["0", "-0", "118,5", "1e3", "0.0000001", "99999999999999999999", "-40", "½", "12 345"]


class Doors:
    """What can be asked of a site."""

    def __init__(self, site: Site) -> None:
        self.routes = [
            (path, sorted(methods)) for path, methods in site.app.openapi()["paths"].items()
        ]
        self.forms: dict[str, WebForm] = {}
        self.asked: dict[str, set[str]] = {}
        """Each name in an address's question, with the values that links have."""
        self.parts: set[str] = set()
        """Of addresses."""
        self._read(site)

    def _read(self, site: Site) -> None:
        found, known = list(FIRST), set(FIRST)
        for path in found:
            page = Reader(site.send("GET", path).text)
            for form in page.forms:
                self.forms.setdefault(_kind(form.action), form)
            for link in (link.partition("#")[0] for link in page.links):
                parts = urlsplit(link)
                self.parts |= set(parts.path.split("/"))
                for name, values in parse_qs(parts.query).items():
                    self.asked.setdefault(name, set()).update(values)
                if link.startswith("/") and link not in known and len(found) < PAGES:
                    known.add(link)
                    found.append(link)

    def address(self, chance: random.Random) -> tuple[str, str]:
        """A method and an address."""
        path, methods = chance.choice(self.routes)
        while "{" in path:
            head, _, rest = path.partition("{")
            _, _, tail = rest.partition("}")
            path = head + quote(self._part(chance), safe="/") + tail
        if chance.random() < 0.5:
            names = sorted([*self.asked, "q", "before", "entries", "month", "page"])
            name = chance.choice(names)
            values = [*sorted(self.asked.get(name, ())), *NASTY, *NUMBERS]
            value = quote(_plain(chance.choice(values)))
            path += f"?{name}={value}"
        return chance.choice([*methods, *methods, "head", "put", "options"]).upper(), path

    def form(self, chance: random.Random) -> tuple[str, dict[str, str]]:
        """A form that a page showed, and what is sent with it."""
        form = self.forms[chance.choice(sorted(self.forms))]
        typed = dict(form.values)
        if "eid" in typed:
            typed["eid"] = new_ulid(chance.randrange(1 << 47))
        # One wrong field gets further than many.
        names = sorted(typed)
        wrong = names if chance.random() < 0.3 else chance.sample(names, min(1, len(names)))
        for name in wrong:
            typed[name] = self._typed(chance, typed[name])
        if typed and chance.random() < 0.1:
            typed.pop(chance.choice(sorted(typed)), None)
        return form.action, typed

    def _typed(self, chance: random.Random, shown: str) -> str:
        if chance.random() < 0.2:
            return shown
        return _plain(chance.choice([*NASTY, *NUMBERS, "yes", "no"]))

    def _part(self, chance: random.Random) -> str:
        return _plain(chance.choice([*sorted(self.parts), *NASTY, ulid(chance.randrange(9))]))


def _kind(action: str) -> str:
    """An address without what names one session or thing: one form of each kind is enough."""
    path = urlsplit(action).path
    return "/".join("*" if len(part) == 26 else part for part in path.split("/"))


def _plain(text: str) -> str:
    """As it may go over a wire."""
    return text.encode("utf-8", "replace").decode()


def test_no_address_and_no_form_is_a_server_error(place: Path | str, handbook: Handbook) -> None:
    chance = random.Random(SEED)
    count = times(60, 20_000)
    with open_site(place, handbook) as site:
        for scenario in scenarios()[:2]:
            site.play(scenario)
        site.play(scenarios()[0], until="shot_open")
        site.start()
        doors = Doors(site)
        assert len(doors.routes) > 50
        assert len(doors.forms) > 20
        for _ in range(count):
            if chance.random() < 0.5:
                method, path = doors.address(chance)
                answer = site.send(method, path)
                typed = {}
            else:
                method, (path, typed) = "POST", doors.form(chance)
                answer = site.send(method, path, data=typed)
            assert answer.status_code < 500, (method, path, typed, answer.text[-600:])
            for name, value in SECURITY_HEADERS.items():
                assert answer.headers[name] == value, (method, path)
        for path in FIRST:
            assert site.get(path).status == 200, path
    print(f"{count} requests to {len(doors.routes)} addresses and {len(doors.forms)} forms")
