"""What the sessions at one unit say, gathered for the pages about the law."""

from dataclasses import dataclass

from lowside.core.handbook.handbook import Handbook
from lowside.core.office.law import Law, law_of
from lowside.core.office.leak_rate import Addition
from lowside.core.office.rule_set import RuleSet
from lowside.core.office.service_record import UnitRecord
from lowside.core.office.unit_rows import AtUnit, at_unit
from lowside.core.session.state import State
from lowside.core.session.unit import designation
from lowside.outlining import AT_UNIT, at_unit_from
from lowside.store.outline import unit_key
from lowside.web.field.desk import Desk


@dataclass(frozen=True)
class UnitSessions:
    """Every session at a unit, oldest first."""

    rows: tuple[AtUnit, ...]

    @property
    def additions(self) -> list[Addition]:
        return [one.added for one in self.rows if one.added is not None]

    @property
    def records(self) -> list[UnitRecord]:
        return [one.record for one in self.rows if one.record is not None]

    def law(self, state: State, handbook: Handbook, rules: RuleSet) -> Law:
        """What the rules say of one of them."""
        refrigerant = handbook.refrigerants.get(designation(state.unit_texts))
        return law_of(state, refrigerant, self.additions, self.records, rules)


def sessions_at(desk: Desk, site: str, unit_label: str) -> UnitSessions:
    """The sessions at this unit; practice is none of them."""
    found = map(at_unit_from, desk.store.derived(AT_UNIT, unit_key(site, unit_label)))
    return UnitSessions(tuple(sorted(found, key=_began)))


def sessions_beside(desk: Desk, state: State) -> UnitSessions:
    """The sessions at this session's unit, itself among them as it is now."""
    own = at_unit(state, None)
    if state.job is None:
        return UnitSessions((own,))
    found = sessions_at(desk, state.job.site, state.job.unit_label).rows
    others = [each for each in found if each.sid != state.sid]
    return UnitSessions((*others, own))


def _began(one: AtUnit) -> tuple[int, str]:
    return (one.began, one.sid)
