"""The one interface of every store. No page, route or command but the file's own knows more.

`lowside.store.store` keeps events in files, for one server; `lowside.store.postgres` keeps them in
a database, for many.
"""

from collections.abc import Callable, Collection, Sequence
from typing import Protocol, Self, TypeVar

from lowside.core.session.events import Event
from lowside.store.answers import Answers
from lowside.store.codec import BadEvent
from lowside.store.following import Batch, Needed
from lowside.store.outline import Listed, Outliner
from lowside.store.photo_shelf import Photos
from lowside.store.verdicts import Quarantined, Receipt

T = TypeVar("T")


class EventStore(Protocol):
    """All events of a shop. Every method may be called from any thread.

    Any of them may raise
        StoreError: it cannot be done; the message is the sentence the user reads. Of its kinds
            `NotNowError` means that it may work later, and that sending again is right.
    """

    @property
    def photos(self) -> Photos:
        """The photos that entries name."""
        ...

    def __enter__(self) -> Self: ...
    def __exit__(self, *_error: object) -> None: ...

    def close(self) -> None:
        """Closing twice is fine. Anything else fails then."""
        ...

    def outline_by(self, outline: Outliner) -> None:
        """Make outlines with this from now on: another way to the same outline."""
        ...

    def append(self, events: Sequence[Event | BadEvent], rows_later: bool = False) -> list[Receipt]:
        """Store events. When this returns, they will outlive a power cut.

        Each event gets a receipt, in order; one that cannot be kept never blocks the rest. When it
        raises, none is acknowledged, and sending them again later is always right.

        Args:
            rows_later: the lists' rows may be made a moment later, before `ask` answers.
        """
        ...

    def events(self, sid: str) -> list[Event]:
        """A session's events in the order they arrived; empty when nothing is known of it."""
        ...

    def next_seq(self, sid: str, dev: str) -> int:
        """The number of this device's next event in this session, from 1."""
        ...

    def last_hlc(self) -> str:
        """The latest clock value of any event, "" when the store is empty."""
        ...

    def why_not_saving(self) -> str:
        """Why nothing can be saved just now, as a sentence; "" otherwise."""
        ...

    def practice_among(self, sids: Collection[str]) -> set[str]:
        """Those of these that are practice sessions, as far as their entries here say."""
        ...

    def sessions(
        self,
        query: str = "",
        limit: int | None = None,
        open_only: bool = False,
        closed_only: bool = False,
        practice: bool | None = None,
        before: tuple[int, str] | None = None,
    ) -> list[Listed]:
        """Sessions that hold every word of the query, newest first; see `Store.sessions`."""
        ...

    def derived(
        self,
        kind: str,
        key: str,
        before: int | None = None,
        other_than: str = "",
        limit: int | None = None,
    ) -> list[str]:
        """What sessions say of something, newest session first; see `Store.derived`."""
        ...

    def ask(self, question: Callable[[Answers], T]) -> T:
        """What the tables answer: `lowside.store.lists` has the questions."""
        ...

    def glance(self, question: Callable[[Answers], T]) -> T:
        """As `ask`, but rows of what was saved a moment ago may still be missing."""
        ...

    def settled(self) -> int:
        """The number of an arrival: `glance` shows everything up to it."""
        ...

    def follow(self, cursor: str, limit: int, needed: Needed) -> Batch:
        """What arrived after `cursor`, no practice. Someone new is sent the sessions `needed`
        first.

        The same for someone who is too far behind. Each piece has at most `limit` events.
        """
        ...

    def quarantined(self) -> list[Quarantined]:
        """Every event that contradicts a stored one."""
        ...

    def problems(self) -> list[str]:
        """What a person should look at, as sentences; empty when all is well."""
        ...

    def rebuild_index(self) -> None:
        """Make everything derived again from the events. Everybody who follows goes on."""
        ...
