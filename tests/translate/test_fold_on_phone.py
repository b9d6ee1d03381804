"""The JavaScript core folds any session to the state the Python core does, to the last bit."""

import os
from collections import Counter
from dataclasses import replace
from typing import get_args

import strategies
from hypothesis import given, settings
from made_up_sessions import sessions
from phone_core import PHASES, Core, assert_same, sent, share

from lowside.core.handbook.handbook import Handbook
from lowside.core.judging.charge import Verdict
from lowside.core.session.events import Event
from lowside.core.session.fold import fold
from lowside.core.session.state import VOIDED, State
from lowside.demo import play, scenarios

SESSIONS = int(os.environ.get("LOWSIDE_MADE_UP_SESSIONS", "600"))
"""How many sessions are folded by both; the variable asks for more."""

TOO_MUCH = {"liquid_pressure": "390 psig", "liquid_line": "99 °F"}
"""Subcooling about 7 °F over the target."""


def test_any_session_folds_to_the_same_bits(core: Core, handbook: Handbook) -> None:
    met: Counter[str] = Counter()

    def compared(events: list[Event]) -> None:
        state = fold(events, handbook)
        # What the hoses hold is long, has tests of its own, and is compared in one of ten.
        hoses = len(events) % 10 == 0
        asked = {"ask": "folds", "sessions": [sent(events)], "judged": True, "hoses": hoses}
        ours = state if hoses else replace(state, hose_runs=())
        assert_same(core.ask("core", asked), [ours])
        met.update(_what_it_has(state))

    @settings(max_examples=share(core, SESSIONS), phases=PHASES)
    @given(events=sessions(handbook))
    def same(events: list[Event]) -> None:
        compared(events)

    same()
    # Whole jobs that went well and a unit with too much, which chance seldom makes up.
    for scenario in scenarios():
        compared(play(scenario, handbook))
    full = strategies.set_up(strategies.Book())
    full.form("reading", **{**strategies.READING, **TOO_MUCH})
    compared(full.events)
    # A generator that never gets this far would prove nothing.
    wanted = {*get_args(Verdict), "conflict", "weighed shot", "struck out", "corrected", "closed"}
    assert share(core, SESSIONS) < SESSIONS or wanted <= met.keys(), (
        f"never generated: {wanted - met.keys()}"
    )


@settings(max_examples=SESSIONS // 15, phases=PHASES)
@given(events=strategies.sessions())
def test_sessions_of_the_other_property_tests_fold_alike(
    events: list[Event], core: Core, handbook: Handbook
) -> None:
    asked = {"ask": "folds", "sessions": [sent(events)], "judged": True, "hoses": True}
    assert_same(core.ask("core", asked), [fold(events, handbook)])


@settings(max_examples=SESSIONS // 15, phases=PHASES)
@given(events=strategies.sessions())
def test_without_a_handbook_they_fold_alike_too(events: list[Event], core: Core) -> None:
    asked = {"ask": "folds", "sessions": [sent(events)], "judged": False, "hoses": True}
    assert_same(core.ask("core", asked), [fold(events)])


def test_no_events_fold_alike(core: Core) -> None:
    asked = {"ask": "folds", "sessions": [[]], "judged": False, "hoses": True}
    assert_same(core.ask("core", asked), [fold([])])


def _what_it_has(state: State) -> list[str]:
    met = [t.assessment.verdict for t in state.readings if t.assessment is not None]
    met += [f.code for t in state.readings if t.assessment for f in t.assessment.findings]
    if any("Two phones" in flag for flag in state.flags):
        met.append("conflict")
    if any(shot.amount_kg is not None for shot in state.shots):
        met.append("weighed shot")
    if any(entry.status == VOIDED for entry in state.entries):
        met.append("struck out")
    if any(entry.amended for entry in state.entries):
        met.append("corrected")
    if state.closed is not None:
        met.append("closed")
    return met
