"""Sessions whose entries are saved and whose rows are made a moment later.

A phone that sends entry by entry would have its session worked out for each. So the rows are made
once for several entries: when somebody asks for a list, or a moment after the first of them. Until
then the index says that the session's log has changed. So a start after a kill makes them too.
"""

import sqlite3
import time
from collections.abc import Callable, Sequence
from contextlib import AbstractContextManager
from itertools import islice
from threading import Condition, Thread

from lowside.store.errors import StoreError
from lowside.store.outline import Stamp

MOST_LATE = 1_000
"""Sessions; then the oldest is made before the next entry is saved. Our choice: whoever asks for a
list waits for all of them, two seconds or so when a thousand sessions came at once."""
LATER_S = 1.0
"""How long the rows of an entry wait for further entries. Our choice."""
AT_ONCE = 4
"""Sessions whose rows are made while others wait."""
FEW = 40
"""Sessions whose rows a new phone waits for, a tenth of a second or so. With more of them it is
sent what arrived since the oldest, some of it twice. Our choice."""
STOPS_WITHIN_S = 1.0
"""Less than a process that was told to end may take. Our choice."""
REST = 20.0
"""While entries come in, their rows wait so many times as long as the last ones took. Our choice:
a twentieth of the time is theirs."""

Late = tuple[str, Stamp]
"""A session, and how its log looked after its last entry was saved."""


class LateRows:
    """The sessions that wait for their rows, and a thread that makes them a moment later."""

    def __init__(
        self,
        guard: AbstractContextManager[object],
        put: Callable[[Sequence[Late]], None],
        problems: dict[str, list[str]],
    ) -> None:
        """
        Args:
            guard: the store's lock. Whoever calls `note`, `forget` or `make_room` holds it.
            put: makes the rows of these sessions, all or none.
            problems: gets a sentence while they cannot be made.
        """
        self._guard = guard
        self._put = put
        self._problems = problems
        self._late: dict[str, tuple[Stamp, int]] = {}
        """How each log looked after its last entry, and the last arrival before its first one that
        has no rows. The one that waited longest is the first."""
        self._noted = 0
        """Entries or so; it only grows."""
        self._changed = Condition()
        self._is_wanted = False
        self._is_over = False
        self._thread: Thread | None = None

    def note(self, sid: str, stamp: Stamp, head: int) -> None:
        """This session's rows are to be made: it grew after the arrival with the number `head`."""
        _, first = self._late.get(sid, (stamp, head))
        self._late[sid] = (stamp, first)
        self._noted += 1
        with self._changed:
            if self._is_wanted or self._is_over:
                return
            self._is_wanted = True
            if self._thread is None:
                thread = Thread(target=self._run, name="rows", daemon=True)
                thread.start()
                self._thread = thread
            self._changed.notify()

    def forget(self, sid: str) -> None:
        """This session's rows were made."""
        self._late.pop(sid, None)

    def forget_all(self) -> None:
        """Everybody's were."""
        self._late.clear()

    def settled(self, head: int) -> int:
        """The number of the last arrival up to which no rows are missing; `head` is the last."""
        return min((first for _, first in self._late.values()), default=head)

    def make_room(self, sessions: int) -> None:
        """Make the rows that waited longest, if so many further sessions are too many."""
        if len(self._late) + sessions > MOST_LATE:
            self._make(sessions)

    def catch_up(self) -> None:
        """Make the rows of everything that was saved before now; others come in between."""
        with self._guard:
            waiting = len(self._late)
        for _ in range(0, waiting, AT_ONCE):
            self._make(AT_ONCE)

    def catch_up_few(self) -> None:
        """The same, unless that takes long."""
        with self._guard:
            are_few = len(self._late) <= FEW
        if are_few:
            self.catch_up()

    def stop(self) -> None:
        """Make what is left, for a while, and no more: the next start makes the rest. Nobody may
        hold the guard: it waits for the thread."""
        with self._changed:
            was_over, self._is_over = self._is_over, True
            self._changed.notify()
        if self._thread is not None:
            self._thread.join()
        if not was_over:
            ends = time.monotonic() + STOPS_WITHIN_S
            while self._make(AT_ONCE) and time.monotonic() < ends:
                pass

    def _make(self, most: int) -> bool:
        """Make the rows of so many sessions; whether others still wait."""
        with self._guard:
            some = [(sid, stamp) for sid, (stamp, _) in islice(self._late.items(), most)]
            if not some:
                return False
            error = self._why_not(some)
            behind = [] if error is None else some
            if len(behind) > 1:  # one that cannot be made keeps no other out
                behind = [each for each in some if self._why_not([each]) is not None]
            waited = {sid: self._late.pop(sid) for sid, _ in some}
            self._late |= {sid: waited[sid] for sid, _ in behind}  # again, behind the others
            if behind:
                self._problems["rows"] = [f"The lists are behind: {error}."]
            else:
                self._problems.pop("rows", None)
            return len(behind) < len(some) and bool(self._late)

    def _why_not(self, some: Sequence[Late]) -> Exception | None:
        """Make the rows of these sessions, all or none; why they cannot be made."""
        try:
            self._put(some)
        except (StoreError, sqlite3.Error) as error:
            return error
        return None

    def _run(self) -> None:
        while True:
            with self._changed:
                self._changed.wait_for(lambda: self._is_wanted or self._is_over)
                self._changed.wait_for(lambda: self._is_over, LATER_S)
                self._is_wanted = False
                if self._is_over:
                    return
            self._make_all()

    def _make_all(self) -> None:
        """Of all that wait, a few at a time; others come in between."""
        noted = self._noted
        began = time.monotonic()
        while not self._is_over and self._make(AT_ONCE):
            ended = time.monotonic()
            rest_s = REST * (ended - began) if self._noted != noted else 0.0
            noted = self._noted  # before the rest: what comes in meanwhile is a reason for another
            self._rest(rest_s)
            began = time.monotonic()

    def _rest(self, seconds: float) -> None:
        """Let others work so long, or until the store is closed."""
        time.sleep(0)
        with self._changed:
            self._changed.wait_for(lambda: self._is_over, seconds)
