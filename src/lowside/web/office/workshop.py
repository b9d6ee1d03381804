"""The shop’s procedures of a running server: judged, kept, and used from then on."""

from collections.abc import Callable
from threading import Lock

from lowside.core.handbook.handbook import Handbook
from lowside.core.handbook.procedure import Procedure
from lowside.core.hoses.procedure_verdict import ProcedureReview
from lowside.procedures.shelf import Shelf
from lowside.procedures.shop import (
    Revision,
    TakenError,
    first_revision,
    next_revision,
    verdict_of,
    with_revision,
    with_shop,
)
from lowside.store import StoreError


class RefusedError(Exception):
    """The hose model, or the record, does not let this pass."""

    def __init__(self, verdict: ProcedureReview) -> None:
        super().__init__(verdict.refusals[0].sentence)
        self.verdict = verdict


class Workshop:
    """The one place where procedures change.

    `publish` is handed each new handbook. Handbooks only ever gain procedures, so a page that is
    being made with the one before finds everything it looks for.
    """

    def __init__(self, shelf: Shelf, shipped: Handbook) -> None:
        self._shelf = shelf
        self._count = shelf.count()
        self.shipped = shipped
        self.shop = shelf.load(shipped)
        self.publish: Callable[[Handbook], None] = lambda _handbook: None
        self._saving = Lock()

    @property
    def handbook(self) -> Handbook:
        """Shipped and shop's own."""
        return with_shop(self.shipped, self.shop)

    def verdict(self, procedure: Procedure, shipped: str) -> ProcedureReview:
        """What the model says, without saving."""
        return verdict_of(procedure, shipped, self.shipped)

    def copy(self, source: str, title: str) -> Revision:
        """Make and keep a copy of a procedure in the handbook.

        Raises
            KeyError: there is no such procedure.
            RefusedError, StoreError: nothing was kept.
        """
        with self._saving:
            shipped = source
            for revisions in self.shop.families.values():
                for one in revisions:
                    shipped = one.shipped if one.procedure.id == source else shipped
            made = first_revision(
                self.shop, self.handbook.procedures[source], shipped, title.strip()
            )
            return self._keep(made)

    def save(self, family: str, base: int, procedure: Procedure, offered: bool = True) -> Revision:
        """Keep the next revision of a family.

        Args:
            base: the revision it was made from.

        Raises
            KeyError: there is no such family.
            TakenError: `base` is not the newest any more.
            RefusedError, StoreError: nothing was kept.
        """
        with self._saving:
            last = self.shop.families[family][-1]
            if last.number != base:
                raise TakenError(family)
            return self._keep(next_revision(self.shop, last, procedure, offered))

    def look_again(self) -> None:
        """Use what other servers kept since. What this one kept is read again too: so all of them
        have the procedures in one order, and phones get the same program from each.

        Raises
            StoreError: it is not known now.
        """
        count = self._shelf.count()
        if count is not None and count != self._count:
            with self._saving:
                self.shop = self._shelf.load(self.shipped)
                self._count = count
                self.publish(self.handbook)

    def _keep(self, revision: Revision) -> Revision:
        if revision.offered:
            verdict = self.verdict(revision.procedure, revision.shipped)
            if verdict.refusals:
                raise RefusedError(verdict)
        try:
            self._shelf.keep(revision)
        except OSError as error:
            raise StoreError(f"The procedure was not saved: {error.strerror}.") from error
        self.shop = with_revision(self.shop, revision)
        self.publish(self.handbook)
        return revision
