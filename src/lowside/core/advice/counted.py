"""Which readings figures over several of them are made of."""

from lowside.core.judging.together import apart
from lowside.core.session.state import State, Taken


def counted(state: State, basis: Taken) -> list[Taken]:
    """Those of the running unit up to `basis`, less earlier ones with two numbers that do not go
    together: one of them is wrong, and nobody knows which."""
    found: list[Taken] = []
    for taken in state.readings:
        odd = taken.assessment is None or apart(taken.assessment.findings)
        if taken.running and (taken.eid == basis.eid or not odd):
            found.append(taken)
        if taken.eid == basis.eid:
            break
    return found
