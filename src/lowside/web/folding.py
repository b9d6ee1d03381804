"""The sessions folded lately, so that one tap folds its session once and not at every turn."""

from collections import OrderedDict
from collections.abc import Sequence
from threading import Lock

from lowside.core.handbook.handbook import Handbook
from lowside.core.session.events import Event
from lowside.core.session.fold import fold
from lowside.core.session.state import State

MOST_KEPT = 16
"""Sessions whose last state is kept: the people who work with the server at one time."""


class Folded:
    """The last judged state of each of a few sessions.

    A session's events only grow in number, so its id and their number name a state. Any thread
    may ask.
    """

    def __init__(self) -> None:
        self._kept: OrderedDict[str, tuple[int, Handbook, State]] = OrderedDict()
        self._guard = Lock()

    def state(self, events: Sequence[Event], handbook: Handbook) -> State:
        """The session these events tell, its readings judged.

        Args:
            events: all of one session, at least one.
            handbook: what judges; a state folded with another one is not used again.
        """
        sid = events[0].sid
        with self._guard:
            kept = self._kept.get(sid)
        if kept is not None and kept[0] == len(events) and kept[1] is handbook:
            return kept[2]
        state = fold(events, handbook)
        with self._guard:
            self._kept[sid] = (len(events), handbook, state)
            self._kept.move_to_end(sid)
            while len(self._kept) > MOST_KEPT:
                self._kept.popitem(last=False)
        return state

    def for_lists(self, events: Sequence[Event], handbook: Handbook) -> State:
        """The session for a list or a ledger, which do not ask what its readings mean.

        A session that someone has open here is judged all the same: its page comes next.
        """
        with self._guard:
            is_open = events[0].sid in self._kept
        return self.state(events, handbook) if is_open else fold(events)
