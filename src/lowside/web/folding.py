"""The sessions folded lately, so that one tap folds its session once and not at every turn."""

from collections import OrderedDict
from collections.abc import Sequence
from threading import Lock

from lowside.core.handbook.handbook import Handbook
from lowside.core.session.events import Event
from lowside.core.session.fold import fold
from lowside.core.session.state import State

MOST_OPEN = 16
"""Sessions kept with their readings judged: as many as people work with the server at one time."""
MOST_LISTED = 200
"""Sessions kept without: those of the office's longest list."""


class Folded:
    """The last state of some sessions.

    A state is used again for the same events only. Their number would not do: what was counted in
    is taken back when the disk is full, and something else may come in its place. Any thread may
    ask.
    """

    def __init__(self) -> None:
        self._open = _Kept(MOST_OPEN)
        self._listed = _Kept(MOST_LISTED)

    def state(self, events: Sequence[Event], handbook: Handbook) -> State:
        """The session these events tell, its readings judged.

        Args:
            events: all of one session, at least one.
            handbook: what judges; a state folded with another one is not used again.
        """
        return self._open.state(events, handbook)

    def for_lists(self, events: Sequence[Event], handbook: Handbook) -> State:
        """The session for a list or a ledger, which do not ask what its readings mean.

        A session that someone has open here is still judged: its page comes next.
        """
        if events[0].sid in self._open:
            return self._open.state(events, handbook)
        return self._listed.state(events, None)


_One = tuple[tuple[Event, ...], Handbook | None, State]
"""A session's events, what judged them, and what they tell."""


class _Kept:
    """The last state of each of the sessions asked for lately, `most` of them."""

    def __init__(self, most: int) -> None:
        self._most = most
        self._states: OrderedDict[str, _One] = OrderedDict()
        self._guard = Lock()

    def __contains__(self, sid: str) -> bool:
        with self._guard:
            return sid in self._states

    def state(self, events: Sequence[Event], handbook: Handbook | None) -> State:
        sid, told = events[0].sid, tuple(events)
        with self._guard:
            kept = self._states.get(sid)
        if kept is not None and kept[0] == told and kept[1] is handbook:
            return kept[2]
        before = kept[2] if kept is not None and kept[1] is handbook else None
        state = fold(events, handbook, before)
        with self._guard:
            self._states[sid] = (told, handbook, state)
            self._states.move_to_end(sid)
            while len(self._states) > self._most:
                self._states.popitem(last=False)
        return state
