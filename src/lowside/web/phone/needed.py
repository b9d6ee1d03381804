"""Which sessions a phone is sent before it follows what is new: not the shop's history."""

from collections import OrderedDict
from collections.abc import Sequence
from itertools import chain
from threading import Lock

from lowside.core.session.events import Event
from lowside.core.session.ledger import label_key
from lowside.outlining import USE, USES_READ, use_from
from lowside.store import EventStore, Listed
from lowside.store.answers import Answers
from lowside.store.outline import is_abandoned, key_of, unit_key
from lowside.store.ulid import ulid_ms

DAY_MS = 86_400_000
KEPT_ON_PHONES_MS = 60 * DAY_MS
"""A phone is sent sessions begun within this time."""
MOST_RECENT = 150
MOST_OPEN = 150
MOST_OWN = 150
MOST_CYLINDERS = 100
"""At most so many sessions of each kind, the newest. Our choice: about a month of a small shop."""
VISITS = 3
"""Of a unit's sessions; the last of them may say nothing of it."""
LOOKED_AT = 2000
"""Of the newest sessions, to find these."""
MOST_PEOPLE = 200
"""Whose sessions are kept in mind at one time. Our choice."""


class NeededByPhones:
    """What new phones are sent, found once for all pieces, and for phones that ask together."""

    def __init__(self) -> None:
        self._found: OrderedDict[str, tuple[int, tuple[int, list[str]]]] = OrderedDict()
        self._guard = Lock()

    def sessions(
        self, store: EventStore, now_ms: int, person: str, lately_ms: int
    ) -> tuple[int, list[str]]:
        """As `needed_sessions`, found no longer ago than so many ms."""
        with self._guard:
            at, found = self._found.get(person, (0, (0, [])))
        if not 0 <= now_ms - at < lately_ms:
            found = needed_sessions(store, now_ms, person)
            with self._guard:
                self._found[person] = (now_ms, found)
                self._found.move_to_end(person)
                while len(self._found) > MOST_PEOPLE:
                    self._found.popitem(last=False)
        return found


def needed_sessions(store: EventStore, now_ms: int, person: str) -> tuple[int, list[str]]:
    """Recent ones, open ones, the person's own open ones, and each lately used cylinder's last one.

    Any other session is sent when the phone asks for it by name.

    Returns
        The number of an arrival, and the sessions. What arrived later may not be among them.
    """
    settled = store.settled()
    newest = _listed(store, open_only=False)
    opened = [one for one in _listed(store, open_only=True) if not is_abandoned(one, now_ms)]
    own = [one for one in opened if key_of(one.outline.technician) == key_of(person)]
    recent = [one for one in newest if _made_ms(one) >= now_ms - KEPT_ON_PHONES_MS]
    labels = [one.outline.cylinder for one in newest if one.outline.cylinder != ""]
    cylinders = list(dict.fromkeys(map(label_key, labels)))[:MOST_CYLINDERS]
    users = store.glance(lambda tables: _users(tables, cylinders, "", 1))
    kinds = (recent[:MOST_RECENT], opened[:MOST_OPEN], own[:MOST_OWN])
    return settled, list({*users, *(one.sid for kind in kinds for one in kind)})


def _users(tables: Answers, cylinders: Sequence[str], other_than: str, limit: int) -> list[str]:
    """The sessions that used these cylinders last."""
    rows = [tables.rows.values(USE, key, None, other_than, limit) for key in cylinders]
    return [use_from(row).sid for row in chain.from_iterable(rows)]


def _listed(store: EventStore, open_only: bool) -> list[Listed]:
    return store.glance(
        lambda tables: tables.listed([], open_only, False, practice=False, limit=LOOKED_AT)
    )


def _made_ms(one: Listed) -> int:
    return ulid_ms(one.sid) or one.begun


def near(store: EventStore, events: Sequence[Event]) -> list[str]:
    """The last sessions of the units, and those that used the cylinders last, that these entries
    name.

    A phone that just named a cylinder compares its weight with its last uses, and asks of a unit
    nothing twice.
    """
    cylinders: list[tuple[str, str]] = []
    units: list[tuple[str, str]] = []
    for event in events:
        if "cylinder_label" not in event.data and "unit_label" not in event.data:
            continue
        label = event.data.get("cylinder_label", "")
        if label != "":
            cylinders.append((label_key(label), event.sid))
        site, unit = event.data.get("site", ""), event.data.get("unit_label", "")
        if unit != "":
            units.append((unit_key(site, unit), event.sid))
    if not units and not cylinders:
        return []

    def asked(tables: Answers) -> list[str]:
        found = [_users(tables, [key], sid, USES_READ) for key, sid in cylinders]
        found += [tables.sids_of_unit(key, sid, VISITS) for key, sid in units]
        return list(chain.from_iterable(found))

    # What was saved a moment ago need not be looked for: the phone is sent it as new.
    return list(dict.fromkeys(store.glance(asked)))
