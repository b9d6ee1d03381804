"""What the index keeps of a session. The fold works it out from the session's events.

Its line in lists, and one row for each thing that another session's page asks of it. A page then
reads a few rows where it would have to fold every session of a cylinder or a unit.

When the rules that make the rows change, the next start makes all rows again: `rows_version` has a
digest of their sources.
"""

import hashlib
from collections.abc import Callable, Sequence
from contextlib import suppress
from dataclasses import replace
from functools import cache
from pathlib import Path
from typing import Any, TypeVar

from lowside.core.handbook.fields import Fields
from lowside.core.judging.charge import assess
from lowside.core.office.cylinders import (
    About,
    Movement,
    OnHand,
    abouts_of,
    on_hand,
    register_of,
    shows_of,
    stock_kg,
    uses_of,
)
from lowside.core.office.flags import BESIDE, Flag, flags_beside, in_order
from lowside.core.office.leak_rate import Addition
from lowside.core.office.month import MonthLine, month_line
from lowside.core.office.new_cylinder import registered
from lowside.core.office.service_record import UnitRecord
from lowside.core.office.summary import Summary, needs_look, summary_of
from lowside.core.office.unit_rows import AtUnit, at_unit
from lowside.core.office.visits import Visit
from lowside.core.office.went_in import last_added
from lowside.core.session.amount import amount
from lowside.core.session.events import Event, Moment
from lowside.core.session.fold import fold
from lowside.core.session.last_visit import LastVisit, visit_of
from lowside.core.session.ledger import (
    CylinderUse,
    label_key,
    last_use,
    uses_in,
)
from lowside.core.session.photos import Photo, named_photos
from lowside.core.session.state import State, is_finished, latest_reading
from lowside.core.session.unit_history import UnitUse
from lowside.library import load_handbook
from lowside.store.check import PHOTO_ROW
from lowside.store.outline import (
    Beside,
    CylinderRow,
    CylinderRules,
    Derived,
    Outline,
    RowRules,
    RuledOutliner,
    unit_key,
)
from lowside.store.quick_json import decoded, encoded
from lowside.store.site_days import ZONE
from lowside.store.unit_rows import UNWEIGHED

T = TypeVar("T")

USE = "cylinder use"
"""Key: the cylinder's label as the ledger compares it. Value: a `CylinderUse`."""
VISIT = "visit"
"""Key: `visit_key`. Value: a `LastVisit`."""
SUMMARY = "summary"
"""Key: "". Value: a `Summary`; every session has one."""
LOOK = "look"
"""Key: a flag's code, or ANY. A session that nobody has signed off since it was flagged."""
SEEN = "seen"
"""The same of a session that was signed off."""
ANY = "any"
TOP_UP = "top-up"
"""Key: `visit_key`. Value: the `Moment` a session added to its unit last."""
MONTH = "month"
"""Key: "". Value: a `MonthLine`; every session has one."""
AT_UNIT = "at unit"
"""Key: as the store compares units. Value: an `AtUnit`."""
CYLINDER = "cylinder"
"""Key: `cylinder_key`. Value: a `Movement` of a cylinder of either kind."""
ABOUT_CYLINDER = "about cylinder"
"""Key: `cylinder_key`. Value: what the office wrote of it."""
MOST_USES = 500
"""Of a cylinder, those begun last: its page shows them, and its row in the list is made from
them."""
USES_READ = 4
"""Uses of a cylinder by other sessions that one is held against. The last two tell, unless several
jobs share it at a time. Our choice."""


SOURCES = ("core/numbers", "core/handbook", "core/hoses", "core/judging", "core/session")
"""Rooms whose rules are in the rows, beside `core/office` and this module."""


def outline_from(events: Sequence[Event]) -> Outline:
    """A session's line in the index, and its rows. Its last reading is judged."""
    return outline_of(fold(events))


def outline_of(state: State) -> Outline:
    """The same of a session that is folded already."""
    in_stock = registered(state)
    if in_stock is not None:
        return Outline(session=False, derived=tuple(_cylinder_rows((in_stock,), state)))
    job = state.job
    return Outline(
        site=job.site if job is not None else "",
        unit_label=job.unit_label if job is not None else "",
        technician=job.technician if job is not None else "",
        refrigerant=state.unit_texts.get("refrigerant", ""),
        cylinder=state.cylinder.label if state.cylinder is not None else "",
        started=state.started.at if state.started is not None else None,
        closed=state.closed.at if state.closed is not None and is_finished(state) else None,
        added_kg=amount(state).added_kg,
        practice=state.practice,
        derived=_rows(state),
    )


def use_from(text: str) -> CylinderUse:
    """The value of a row of the kind USE."""
    return CylinderUse(**_with_moments(decoded(text), "started", "closed"))


def visit_from(text: str) -> LastVisit:
    """The value of a row of the kind VISIT."""
    return LastVisit(**_with_moments(decoded(text), "started"))


def visit_key(site: str, unit_label: str) -> str:
    """The key of a unit's rows of the kind VISIT: as `last_visit` compares units."""
    return label_key(site) + "\n" + label_key(unit_label)


def _rows(state: State) -> tuple[Derived, ...]:
    rows: list[Derived] = []
    visit = visit_of(state)
    for one in uses_in(state):
        rows.append(Derived(USE, label_key(one.label), encoded(one), _at(one)))
    if visit is not None:
        rows.append(Derived(VISIT, visit_key(visit.site, visit.unit_label), encoded(visit)))
    if not state.practice:
        rows.extend(_office_rows(state))
    named = named_photos(state)
    if named:
        rows.append(Derived(PHOTO_ROW, "", " ".join((state.sid, *named))))
    return tuple(rows)


def summary_from(text: str) -> Summary:
    """The value of a row of the kind SUMMARY."""
    made, summary = _last_made
    if made is text and summary is not None:
        return summary
    value = _with_moments(decoded(text), "started", "closed")
    value["flags"] = tuple(Flag(**flag) for flag in value["flags"])
    value["seen"] = None if value["seen"] is None else tuple(value["seen"])
    return Summary(**value)


def _summary_row(summary: Summary) -> Derived:
    """Whoever makes it finishes it next, and needs not read what was just written."""
    global _last_made  # noqa: PLW0603
    text = encoded(summary)
    _last_made = (text, summary)
    return Derived(SUMMARY, "", text)


_last_made: tuple[str, Summary | None] = ("", None)


def month_lines_from(texts: Sequence[str]) -> list[MonthLine]:
    """The values of rows of the kind MONTH, read at once: there may be thousands."""
    return [MonthLine(*values) for values in decoded("[" + ",".join(texts) + "]")]


def cylinder_use_from(text: str) -> Movement:
    """The value of a row of the kind CYLINDER."""
    value: dict[str, Any] = decoded(text)
    value["weighed"] = CylinderUse(**_with_moments(value["weighed"], "started", "closed"))
    return Movement(**value)


def about_from(text: str) -> About:
    """The value of a row of the kind ABOUT_CYLINDER."""
    value = _with_moments(decoded(text), "moment")
    value["fields"] = Fields(**value["fields"])
    return About(**value)


def on_hand_from(text: str) -> OnHand:
    """The value of a cylinder's row."""
    return OnHand(**_with_moments(decoded(text), "used"))


class _OlderRowError(ValueError):
    """A row that another version wrote, with other fields."""


def _read(read: Callable[[str], T], text: str) -> T:
    try:
        return read(text)
    except (KeyError, TypeError) as error:
        raise _OlderRowError from error


def _readable(read: Callable[[str], T], texts: Sequence[str]) -> list[T]:
    """What these rows say. An older version's row counts as none until its own session is made
    again, which makes this again."""
    found = []
    for text in texts:
        with suppress(_OlderRowError):
            found.append(_read(read, text))
    return found


def _cylinder_row(uses: Sequence[str], abouts: Sequence[str]) -> CylinderRow | None:
    """What the list of cylinders keeps of one."""
    told = _readable(about_from, abouts)
    register = register_of(_readable(cylinder_use_from, uses), told, load_handbook())
    if register is None:
        return None
    one = on_hand(register)
    return CylinderRow(
        last=0 if one.used is None else one.used.at,
        refrigerant=one.refrigerant,
        kind=one.kind,
        place=one.place,
        stock_kg=stock_kg(one),
        due=None if one.gone else one.due,
        shows=",".join(shows_of(one)),
        value=encoded(one),
    )


def at_unit_from(text: str) -> AtUnit:
    """The value of a row of the kind AT_UNIT."""
    value: dict[str, Any] = decoded(text)
    use, visit, added, record = (value[name] for name in ("use", "visit", "added", "record"))
    return AtUnit(
        value["sid"],
        value["began"],
        None if use is None else UnitUse(**_with_moments(use, "started", "closed")),
        None if visit is None else Visit(**visit),
        None if added is None else Addition(**added),
        None if record is None else UnitRecord(**_with_moments(record, "moment")),
        tuple(Photo(**_with_moments(photo, "moment")) for photo in value["photos"]),
    )


def cylinder_key(kind: str, label: str) -> str:
    """The key of a cylinder's rows."""
    return kind + "\n" + label_key(label)


def _office_rows(state: State) -> list[Derived]:
    handbook = load_handbook()
    latest = latest_reading(state)
    last = None
    if latest is not None and state.system is not None:
        last = assess(state.system, latest.reading, handbook)
    summary = summary_of(state, last, handbook)
    rows = [_summary_row(summary)]
    if state.started is not None:
        rows.append(Derived(ZONE, "", str(state.started.tz)))
    topped_up = last_added(state)
    if topped_up is not None and state.started is not None and summary.site != "":
        key = visit_key(summary.site, summary.unit_label)
        rows.append(Derived(TOP_UP, key, encoded(topped_up)))
    if state.job is not None and state.started is not None:
        key = unit_key(state.job.site, state.job.unit_label)
        rows.append(Derived(AT_UNIT, key, encoded(at_unit(state, last))))
        if amount(state).at_least:
            rows.append(Derived(UNWEIGHED, key, ""))
    return [*rows, *_cylinder_rows(uses_of(state), state)]


def _cylinder_rows(uses: Sequence[Movement], state: State) -> list[Derived]:
    rows: list[Derived] = []
    for use in uses:
        key = cylinder_key(use.kind, use.weighed.label)
        rows.append(Derived(CYLINDER, key, encoded(use), _at(use.weighed)))
    for about in abouts_of(state):
        key = cylinder_key(about.kind, about.label)
        rows.append(Derived(ABOUT_CYLINDER, key, encoded(about)))
    return rows


def finished(rows: Sequence[Derived], beside: Beside) -> Sequence[Derived]:
    """A session's rows with the flags that other sessions raise, and what follows from flags.

    They stay as they are while an older version's row is among them or beside them: when that one
    is made again, these are finished again.
    """
    try:
        return _finished(rows, beside)
    except _OlderRowError:
        return rows


def _finished(rows: Sequence[Derived], beside: Beside) -> Sequence[Derived]:
    own = {row.kind: row.value for row in rows}
    if SUMMARY not in own:
        return rows  # practice
    raised = _raised(rows, beside)
    if not raised and MONTH in own and not any(_is_beside(row) for row in rows):
        return rows  # finished already, when nothing was beside them either
    kept = [row for row in rows if row.kind not in (LOOK, SEEN, MONTH)]
    place = next(i for i, row in enumerate(kept) if row.kind == SUMMARY)
    summary = _read(summary_from, own[SUMMARY])
    flags = [flag for flag in summary.flags if flag.code not in BESIDE]
    flags.extend(raised)
    now = in_order(flags)
    if now != summary.flags:
        summary = replace(summary, flags=now)
        kept[place] = _summary_row(summary)
    kept.append(Derived(MONTH, "", encoded(tuple(vars(month_line(summary)).values()))))
    if flags:
        kind = LOOK if needs_look(summary) else SEEN
        codes = dict.fromkeys(flag.code for flag in summary.flags)
        kept.extend(Derived(kind, code, "") for code in (ANY, *codes))
    return kept


def _raised(rows: Sequence[Derived], beside: Beside) -> Sequence[Flag]:
    """What other sessions, and what could not be kept, say of the session with these rows."""
    used = [(row.key, _read(use_from, row.value)) for row in rows if row.kind == USE]
    own = [use for _, use in used]
    uses = []
    for key, use in used:
        others = [_read(use_from, text) for text in beside.before.get((USE, key), ())]
        earlier = last_use([*others, *own], use.label, use.started)
        if earlier is not None:
            uses.append((earlier, use))
    topped_up = None
    for row in rows:
        for text in beside.before.get((TOP_UP, row.key), ()) if row.kind == TOP_UP else ():
            topped_up = topped_up or _read(_top_up_from, text)
    return flags_beside(uses, topped_up, beside.aside, beside.unread)


def _at(use: CylinderUse) -> int | None:
    return None if use.started is None else use.started.at


def _is_beside(row: Derived) -> bool:
    return row.kind in (LOOK, SEEN) and row.key in BESIDE


@cache
def rows_version() -> str:
    """Changes with the rules that the rows are made by, and with the property tables."""
    here = Path(__file__).parent
    files = [Path(__file__), here / "store" / "quick_json.py", *(here / "data").glob("*.json")]
    for room in (*SOURCES, "core/office"):
        files += (here / room).glob("*.py")
    digest = hashlib.sha256(load_handbook().version.encode())
    for file in sorted(files):
        digest.update(file.name.encode() + b"\0" + file.read_bytes() + b"\0")
    return digest.hexdigest()[:16]


def _row_rules() -> RowRules:
    cylinders = CylinderRules(CYLINDER, MOST_USES, ABOUT_CYLINDER, _cylinder_row)
    return RowRules((USE, TOP_UP), finished, rows_version(), cylinders, USES_READ)


outline = RuledOutliner(outline_from, _row_rules)
"""Makes a session's line in the index and its rows; given to `Store.open`."""


def _with_moments(value: dict[str, Any], *names: str) -> dict[str, Any]:
    return value | {name: _moment(value[name]) for name in names}


def _top_up_from(text: str) -> Moment:
    return Moment(**decoded(text))


def _moment(value: dict[str, Any] | None) -> Moment | None:
    return None if value is None else Moment(**value)
