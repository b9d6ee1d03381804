"""Whoever comes to save while another saves waits. One of those who waited then saves for all."""

from collections.abc import Callable, Sequence
from threading import Lock

from lowside.core.session.events import Event
from lowside.store.codec import BadEvent
from lowside.store.errors import StoreError, StoreStoppedError
from lowside.store.in_progress import InProgress
from lowside.store.verdicts import Receipt

MOST_TOGETHER = 1_000
"""Events saved at one time, those of the first request aside. Our choice: others read meanwhile."""
NOT_NOW = (
    "Saving failed just now ({}). Nothing of this was saved. When the cause is gone, send it again."
)
STOPPED = (
    "Saving failed ({}). Nothing more is saved until you restart Lowside. What is saved stays "
    "sound. Check the disk first."
)
INTERRUPTED = "Saving was interrupted. Restart Lowside."


class Asked:
    """One request to save, and what became of it."""

    def __init__(self, events: Sequence[Event | BadEvent], rows_later: bool) -> None:
        self.events = events
        self.rows_later = rows_later
        self.receipts: list[Receipt] | None = None
        self.error: StoreError | None = None
        self._turn = Lock()
        self._turn.acquire()

    def wait(self) -> None:
        """Until it is done, or it is this one's turn to save."""
        self._turn.acquire()

    def wake(self) -> None:
        self._turn.release()

    @property
    def is_done(self) -> bool:
        return self.receipts is not None or self.error is not None


class Together:
    """Requests that are saved in one go. Any thread may ask."""

    def __init__(self, save: Callable[[Sequence[Asked]], None]) -> None:
        """
        Args:
            save: gives each of these its receipts or its error; it returns when the disk has them.
        """
        self._save = save
        self._guard = Lock()
        self._waiting: list[Asked] = []
        self._is_saving = False
        self.saves = InProgress()

    def save(self, events: Sequence[Event | BadEvent], rows_later: bool) -> list[Receipt]:
        """Save these events, with those of others who wait. Raises StoreError."""
        own = Asked(events, rows_later)
        with self._guard:
            self._waiting.append(own)
            waits, self._is_saving = self._is_saving, True
        if waits:
            own.wait()
        if not own.is_done:
            self._save_for_all(own)
        if own.error is not None:
            raise type(own.error)(*own.error.args) from own.error
        return own.receipts or []

    def _save_for_all(self, own: Asked) -> None:
        group = self._next_group()
        try:
            with self.saves.one():
                self._save(group)
        finally:
            for each in group:
                if not each.is_done:
                    each.error = StoreStoppedError(INTERRUPTED)
            with self._guard:
                following = self._waiting[0] if self._waiting else None
                self._is_saving = following is not None
            for each in group:
                if each is not own:
                    each.wake()
            if following is not None:
                following.wake()

    def _next_group(self) -> list[Asked]:
        """Those who wait, the first in any case: it is the one that asks."""
        with self._guard:
            group, events = [self._waiting[0]], len(self._waiting[0].events)
            for each in self._waiting[1:]:
                events += len(each.events)
                if events > MOST_TOGETHER:
                    break
                group.append(each)
            del self._waiting[: len(group)]
        return group
