"""What the sessions at one unit say, gathered for the pages about the law."""

from collections.abc import Sequence
from dataclasses import dataclass

from lowside.core.handbook.handbook import Handbook
from lowside.core.office.law import Law, law_of
from lowside.core.office.leak_rate import Addition
from lowside.core.office.rule_set import RuleSet
from lowside.core.office.service_record import UnitRecord, addition, own_record
from lowside.core.session.state import State
from lowside.core.session.unit import designation
from lowside.web.field.desk import Desk


@dataclass(frozen=True)
class UnitSessions:
    """Every session at a unit, oldest first."""

    states: tuple[State, ...]

    @property
    def additions(self) -> list[Addition]:
        return [one for one in map(addition, self.states) if one is not None]

    @property
    def records(self) -> list[UnitRecord]:
        return [one for one in map(own_record, self.states) if one is not None]

    def law(self, state: State, handbook: Handbook, rules: RuleSet) -> Law:
        """What the rules say of one of them."""
        refrigerant = handbook.refrigerants.get(designation(state.unit_texts))
        return law_of(state, refrigerant, self.additions, self.records, rules)


def sessions_at(desk: Desk, site: str, unit_label: str) -> UnitSessions:
    """The sessions at this unit; practice is none of them."""
    listed = desk.store.sessions_with_unit(site, unit_label)
    states = desk.states_for_lists([each.sid for each in listed])
    dated = [state for state in states if state.started is not None]
    return UnitSessions(tuple(sorted(dated, key=_started)))


def sessions_beside(desk: Desk, state: State) -> UnitSessions:
    """The sessions at this session's unit, itself among them."""
    if state.job is None:
        return UnitSessions((state,))
    found: Sequence[State] = sessions_at(desk, state.job.site, state.job.unit_label).states
    others = [each for each in found if each.sid != state.sid]
    return UnitSessions((*others, state))


def _started(state: State) -> tuple[int, str]:
    return (0 if state.started is None else state.started.at, state.sid)
