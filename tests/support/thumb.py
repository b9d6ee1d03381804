"""A thumb that goes through a job on the real pages and counts what each page costs it.

What is counted:
- a page: a heading not seen before;
- a button: also a link, a choice, an entry of a list, a folded part that must be opened;
- a field: a box into which something other than what it shows has to be typed;
- a key beside a box is a button; none that enters what the last visit read is used, since gauges
  seldom show the same again;
- a tap: a button, and the first field of a form unless it takes the focus by itself. To the fields
  after it leads the keyboard's own key.
"""

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from html.parser import HTMLParser

from website import DEVICE, PatientClock, Site

from lowside.core.handbook.forms import FORMS
from lowside.core.pages.recording import ALL_GOOD
from lowside.demo import Move, Scenario

__all__ = ["DEVICE", "Count", "Thumb"]


@dataclass
class Box:
    """One input of a form: a text box, a list, or the radio buttons of one name."""

    name: str
    kind: str
    value: str = ""
    folded: int = 0
    """Which folded part it is in, counted from 1; 0: in plain sight."""
    focused: bool = False
    keys: list[str] = field(default_factory=list)
    """What one tap on a key beside it enters."""


@dataclass
class Sheet:
    """A form on a page."""

    action: str
    id: str = ""
    boxes: dict[str, Box] = field(default_factory=dict)
    hidden: dict[str, str] = field(default_factory=dict)
    buttons: list[tuple[str, str]] = field(default_factory=list)
    """Name and value of the buttons that say something themselves."""

    @property
    def whole(self) -> Mapping[str, str]:
        """What one tap answers for all choices at once."""
        return {name: value for name, value in self.buttons if name == ALL_GOOD}


class Look(HTMLParser):
    """Heading, forms, links and words of a page, as a thumb needs them."""

    def __init__(self, html: str) -> None:
        super().__init__(convert_charrefs=True)
        self.heading = ""
        self.sheets: list[Sheet] = []
        self.links: list[str] = []
        self.words = 0
        self.waits = False
        """It changes by itself when a wait is over."""
        self._sheet: Sheet | None = None
        self._heading = False
        self._silent = 0
        self._folds: list[int] = []
        self._fold = 0
        self._select: Box | None = None
        self._offered = False
        self._area: Box | None = None
        self.feed(html)
        self.close()

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        at = {name: value or "" for name, value in attrs}
        self.waits = self.waits or "data-next" in at
        if tag in ("script", "style", "title", "svg"):
            self._silent += 1
        elif tag == "h1":
            self._heading = True
        elif tag == "details":
            self._fold += 1
            self._folds.append(0 if "open" in at else self._fold)
        elif tag == "a" and "href" in at:
            self.links.append(at["href"])
        elif tag == "form":
            self._sheet = Sheet(at.get("action", ""), at.get("id", ""))
            self.sheets.append(self._sheet)
        elif tag == "button" and at.get("name") and at.get("form"):
            for sheet in self.sheets:
                if sheet.id == at["form"]:
                    sheet.buttons.append((at["name"], at.get("value", "")))
        elif self._sheet is not None:
            self._in_form(tag, at, self._sheet)

    def _in_form(self, tag: str, at: dict[str, str], sheet: Sheet) -> None:
        folded = max(self._folds, default=0)
        name = at.get("name", "")
        if tag == "input" and at.get("type") == "hidden":
            sheet.hidden[name] = at.get("value", "")
        elif tag == "input" and at.get("type") == "radio":
            box = sheet.boxes.setdefault(name, Box(name, "radio", folded=folded))
            if "checked" in at:
                box.value = at.get("value", "")
        elif tag == "input" and name:
            box = Box(name, "text", at.get("value", ""), folded, "autofocus" in at)
            sheet.boxes[name] = box
        elif tag == "button" and "data-same" in at and "data-stay" not in at:
            list(sheet.boxes.values())[-1].keys.append(at["data-same"])
        elif tag == "textarea":
            self._area = sheet.boxes[name] = Box(name, "text", "", folded)
        elif tag == "select":
            self._select = sheet.boxes[name] = Box(name, "list", "", folded)
            self._offered = False
        elif tag == "option" and self._select is not None:
            if "selected" in at or not self._offered:
                self._select.value = at.get("value", "")
            self._offered = True

    def handle_endtag(self, tag: str) -> None:
        if tag in ("script", "style", "title", "svg"):
            self._silent -= 1
        elif tag == "h1":
            self._heading = False
        elif tag == "details" and self._folds:
            self._folds.pop()
        elif tag == "form":
            self._sheet = None
        elif tag == "select":
            self._select = None
        elif tag == "textarea":
            self._area = None

    def handle_data(self, data: str) -> None:
        if self._silent:
            return
        self.words += len(data.split())
        if self._heading:
            self.heading += data
        if self._area is not None:
            self._area.value += data

    def sheet(self, form: str) -> Sheet | None:
        """The first form that is posted to this name."""
        for sheet in self.sheets:
            if sheet.action.endswith("/" + form):
                return sheet
        return None


@dataclass
class Count:
    """What it took."""

    pages: int = 0
    taps: int = 0
    fields: int = 0
    buttons: int = 0
    words: int = 0

    def __sub__(self, other: "Count") -> "Count":
        return Count(
            self.pages - other.pages,
            self.taps - other.taps,
            self.fields - other.fields,
            self.buttons - other.buttons,
            self.words - other.words,
        )

    def copy(self) -> "Count":
        return self - Count()


class Thumb:
    """One hand at one site. `look` is the page it sees."""

    def __init__(self, site: Site, home: str = "/") -> None:
        self.site = site
        self.count = Count()
        self.at = ""
        self.look = Look("")
        self._headings: set[str] = set()
        self._shared: Move | None = None
        """What is typed so far into a page of several forms, as a move of the first."""
        self._last_step = ""
        self.open(home)

    def open(self, path: str) -> None:
        """See a page, whatever led to it."""
        page = self.site.get(path)
        if page.status == 303:
            return self.open(page.response.headers["location"])
        assert page.status == 200, (path, page.status, page.text[:300])
        self._see(path, page.response.text)
        return None

    def _see(self, path: str, html: str) -> None:
        self.at = path
        self.look = Look(html)
        self.count.words += self.look.words
        self._headings.add(self.look.heading)
        self.count.pages = len(self._headings)

    def follow(self, ending: str) -> None:
        """Tap a link."""
        found = [href for href in self.look.links if href.endswith(ending)]
        assert found, (ending, self.at, self.look.links)
        self._tap()
        self.open(found[0])

    def send(self, form: str, typed: Mapping[str, str]) -> None:
        """Fill in a form of this page and send it, in the cheapest way the page offers."""
        sheet = self.look.sheet(form)
        assert sheet is not None, (form, self.at, [one.action for one in self.look.sheets])
        values = sheet.hidden | {name: box.value for name, box in sheet.boxes.items()}
        good = {one.name: one.good for one in FORMS[form].fields} if form in FORMS else {}
        opened: set[int] = set()
        first = True
        for name, text in typed.items():
            if values.get(name, "") == text or (sheet.whole and good.get(name) == text):
                continue
            if (name, text) in sheet.buttons:
                values[name] = text
                continue
            box = sheet.boxes.get(name)
            if box is None:
                assert name.endswith("_unit"), (form, name, sorted(sheet.boxes))
                raise AssertionError(f"{form} asks {name} in {values.get(name)}, not in {text}")
            if box.folded and box.folded not in opened:
                opened.add(box.folded)
                self._tap()
            if box.kind == "text" and text not in box.keys:
                self.count.fields += 1
                if first and not box.focused:
                    self.count.taps += 1
                first = False
            else:
                self._tap()
                # A key beside a box puts the cursor into the box after it.
                first = first and text not in box.keys
            values[name] = text
        self._tap()
        self._post(sheet.action, values | sheet.whole)

    def _post(self, action: str, values: Mapping[str, str]) -> None:
        answer = self.site.post(action, values)
        assert answer.status == 303, (action, answer.read.problems, answer.text[:800])
        self.open(answer.response.headers["location"])

    def _tap(self) -> None:
        self.count.taps += 1
        self.count.buttons += 1

    def wait(self, seconds: float) -> None:
        clock = self.site.desk.clock
        assert isinstance(clock, PatientClock)
        clock.wait(seconds)

    def make(self, move: Move) -> None:
        """One form of a job: on this page, or one tap from it. Forms that share a page are sent
        when the last of them is filled in."""
        self.wait(move.after_s)
        if self._shared is not None:
            self._shared = replace(self._shared, typed={**self._shared.typed, **move.typed})
            if move.step == self._last_step:
                whole, self._shared = self._shared, None
                self.send(whole.form, whole.typed)
            return
        if self.look.waits:
            self.open(self.at)
        for form, name in (("job", "unit_label"), ("cylinder", "cylinder_label")):
            if move.form == form and self.choose(name, move.typed[name]):
                return
        if self.look.sheet(move.form) is None:
            self.follow("/form/" + move.form)
        sheet = self.look.sheet(move.form)
        others = "" if sheet is None else sheet.hidden.get("with", "")
        if others:
            self._shared = move
            self._last_step = others.split(" ")[-1]
            return
        self.send(move.form, move.typed)

    def choose(self, name: str, words: str) -> bool:
        """Tap the unit or cylinder of this name, where the page knows it."""
        for sheet in self.look.sheets:
            if sheet.hidden.get(name, "") == words:
                self._tap()
                self._post(sheet.action, sheet.hidden)
                return True
        return False

    def begin(self, scenario: Scenario) -> None:
        """From home into a session of this scenario."""
        self.send("start", {"procedure": scenario.procedure})
