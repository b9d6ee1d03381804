"""The screen: everything one page is made from, as one value."""

from collections.abc import Mapping
from dataclasses import dataclass

from lowside.core.handbook.handbook import Handbook
from lowside.core.handbook.procedure import Procedure
from lowside.core.numbers.unit_choice import UnitChoice
from lowside.core.session.events import Moment
from lowside.core.session.last_visit import LastVisit, last_visit
from lowside.core.session.ledger import CylinderUse
from lowside.core.session.reads import begun
from lowside.core.session.state import State
from lowside.core.session.ulids import CROCKFORD_32

SHOWN = "shown"
"""The hidden field that says what the page was made from."""


@dataclass(frozen=True)
class Attempt:
    """A form that was refused: what was typed, and what is wrong with it."""

    form: str
    typed: Mapping[str, str]
    problems: Mapping[str, str]
    message: str = ""


@dataclass(frozen=True)
class Screen:
    """What a page of one session shows."""

    state: State
    """The session, folded with the same handbook."""
    handbook: Handbook
    now: Moment
    """The clocks, for running times."""
    fresh: str
    """An unused ULID from which the forms' event ids are made."""
    cylinder_uses: tuple[CylinderUse, ...]
    """Other sessions' use of this session's cylinder, for the leak check between jobs."""
    attempt: Attempt | None
    """A refused form to show again."""
    visits: tuple[LastVisit, ...] = ()
    """What other sessions say of units, so that facts are not asked twice."""

    @property
    def last_visit(self) -> LastVisit | None:
        """Of this session's unit, before it began."""
        return last_visit(self.visits, self.state)

    @property
    def sid(self) -> str:
        return self.state.sid

    @property
    def units(self) -> UnitChoice:
        return self.state.units

    @property
    def procedure(self) -> Procedure | None:
        """The session's steps; `None` when this version does not have them."""
        return self.handbook.procedures.get(self.state.procedure)

    @property
    def shown(self) -> str:
        """What a form of this page carries of the entries that the page was made from: how many
        shots were begun, and the eids of the answers. What comes while it is open is not known."""
        found = [str(begun(self.state.entries))]
        for given in self.state.answers.values():
            found.extend([one.eid for one in given])
        return " ".join(found)

    def eid(self, number: int) -> str:
        """The event id of the page's form with this number."""
        return nth_eid(self.fresh, number)

    def refused(self, form_name: str) -> Attempt | None:
        """The attempt, if it was at this form."""
        if self.attempt is None or self.attempt.form != form_name:
            return None
        return self.attempt


def nth_eid(fresh: str, n: int) -> str:
    """The n-th event id made from one fresh ULID: its last three characters count the forms.

    The same form of the same page always has the same id, so two taps are one event; two forms
    of one page never share one.
    """
    first = CROCKFORD_32[n // 1024 % 32]
    second = CROCKFORD_32[n // 32 % 32]
    return fresh[:23] + first + second + CROCKFORD_32[n % 32]
