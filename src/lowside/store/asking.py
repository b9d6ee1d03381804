"""The lists of a store: the same questions, whatever tables answer them."""

from collections.abc import Callable, Collection
from typing import TypeVar

from lowside.store.answers import Answers
from lowside.store.outline import Listed, key_of

T = TypeVar("T")


class Asking:
    """What every store's lists come to. A store says how its tables are asked."""

    def ask(self, question: Callable[[Answers], T]) -> T:
        """What the tables answer: `lowside.store.lists` has the questions."""
        raise NotImplementedError

    def glance(self, question: Callable[[Answers], T]) -> T:
        """As `ask`; a store that makes rows later does not make them first."""
        return self.ask(question)

    def practice_among(self, sids: Collection[str]) -> set[str]:
        """Those of these that are practice sessions, as far as their entries here say."""
        return self.glance(lambda tables: tables.practice_among(sids))

    def sessions(
        self,
        query: str = "",
        limit: int | None = None,
        open_only: bool = False,
        closed_only: bool = False,
        practice: bool | None = None,
        before: tuple[int, str] | None = None,
    ) -> list[Listed]:
        """Sessions, newest first.

        Args:
            query: words; each must occur in a text of the outline or in the session's identifier.
                Capitals do not matter.
            limit: at most this many.
            open_only, closed_only: leave out the others.
            practice: only practice sessions, or none of them; `None` lists both.
            before: only those after this one in the list, by its `begun` and its identifier.
        """
        words = key_of(query).split()
        return self.ask(
            lambda tables: tables.listed(words, open_only, closed_only, practice, limit, before)
        )

    def derived(
        self,
        kind: str,
        key: str,
        before: int | None = None,
        other_than: str = "",
        limit: int | None = None,
    ) -> list[str]:
        """What sessions say of something, as the outline wrote it; newest session first.

        Args:
            before: only sessions begun before this [ms since 1970-01-01 UTC].
            other_than: not this session.
            limit: at most this many.
        """
        return self.ask(lambda tables: tables.rows.values(kind, key, before, other_than, limit))
