"""The office's list: its address becomes a selection, and back into links."""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Literal, get_args
from urllib.parse import urlencode

from lowside.core.office.dates import DAY_MS, day_of
from lowside.core.office.flags import FLAG_NAMES
from lowside.outlining import ANY, LOOK, SEEN
from lowside.store.selection import NEWEST, SORTS, Selection

Show = Literal["look", "seen", "all"]

FILTERS = ("q", "flag", "technician", "site", "unit", "refrigerant", "state", "from", "to")
LONGEST = 200
BAD_DATE = "Type the date as 2026-05-31."
KINDS: dict[Show, str] = {"look": LOOK, "seen": SEEN, "all": ""}


@dataclass(frozen=True)
class Asked:
    """What the address asks for, as typed; what makes no sense there is in `problems`."""

    show: Show
    typed: Mapping[str, str]
    sort: str
    selection: Selection
    problems: Mapping[str, str]

    def href(self, path: str = "/office", **changed: str) -> str:
        """The same list with something else; an empty value leaves a filter out."""
        values = {"show": self.show, **self.typed, "sort": self.sort} | changed
        kept = {name: text for name, text in values.items() if text != ""}
        if kept.get("sort") == NEWEST:
            del kept["sort"]
        if kept.get("show") == "look":
            del kept["show"]
        return path if not kept else path + "?" + urlencode(kept)


def asked_for(query: Mapping[str, str]) -> Asked:
    """The list at an address; `query` is what follows the `?`."""
    typed = {name: query.get(name, "").strip()[:LONGEST] for name in FILTERS}
    show: Show = "all" if typed["q"] != "" and "show" not in query else "look"
    for one in get_args(Show):
        if query.get("show", "") == one:
            show = one
    if typed["flag"] not in FLAG_NAMES:
        typed["flag"] = ""
    if typed["state"] not in ("open", "closed"):
        typed["state"] = ""
    problems: dict[str, str] = {}
    first, after = _days(typed, problems)
    sort = query.get("sort", "")
    kind = KINDS[show]
    if show == "all" and typed["flag"] != "":
        show, kind = "look", LOOK
    selection = Selection(
        words=typed["q"],
        kind=kind,
        key="" if kind == "" else typed["flag"] or ANY,
        technician=typed["technician"],
        site=typed["site"],
        unit_label=typed["unit"],
        refrigerant=typed["refrigerant"],
        state="open" if typed["state"] == "open" else "closed" if typed["state"] else "",
        begun_from=None if first is None else first * DAY_MS,
        begun_before=None if after is None else (after + 1) * DAY_MS,
        sort=next((one for one in SORTS if one == sort), NEWEST),
    )
    return Asked(show, typed, selection.sort, selection, problems)


def _days(typed: Mapping[str, str], problems: dict[str, str]) -> tuple[int | None, int | None]:
    found: list[int | None] = []
    for name in ("from", "to"):
        day = day_of(typed[name])
        if typed[name] != "" and day is None:
            problems[name] = BAD_DATE
        found.append(day)
    return found[0], found[1]
