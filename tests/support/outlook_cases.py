"""Outlooks and guesses with round figures, for tests that work the answer out by hand."""

import dataclasses
from dataclasses import replace

from advice_cases import at, opening, valve_unit

from lowside.core.advice.feeding import Feed, Suction
from lowside.core.advice.outlook import Outlook
from lowside.core.advice.prior import Slopes
from lowside.core.advice.response import Guess, Observation, Subject
from lowside.core.handbook.fields import Fields
from lowside.core.handbook.system import Reading
from lowside.core.judging.by_target import Measured
from lowside.core.judging.charge import ON_TARGET, Assessment
from lowside.core.judging.findings import Finding
from lowside.core.judging.targets import SUBCOOLING, Target
from lowside.core.numbers.units import OUNCE_KG, TON_W
from lowside.core.session import gate
from lowside.core.session.state import STANDS, Entry, State, Taken

FULL_KG = 4.0
NOTHING = Finding("metering_unknown", "shows")
"""Any finding whose sentence needs no facts."""


def subject(**changes: object) -> Subject:
    """A unit of 4 kg, target 5 K of subcooling, tolerance 2 K, instruments without an error."""
    plain = Subject(
        quantity=SUBCOOLING,
        target_k=5.0,
        tolerance_k=2.0,
        full_charge_kg=FULL_KG,
        headroom_k=5.0,
        valve_setting_k=None,
        step_kg=0.0,
        slopes=Slopes((20.0, 40.0), (0.5, 0.5)),
        bias_k=0.0,
    )
    return replace(plain, **changes)  # type: ignore[arg-type]


def seen(
    added_kg: float,
    gap_k: float,
    since_s: float | None = None,
    valve_superheat_k: float | None = None,
) -> Observation:
    return Observation(added_kg, gap_k, since_s, valve_superheat_k)


def an_outlook(**changes: object) -> Outlook:
    """0.3 kg of 4 kg missing, one settled reading 3 K short of its target of 5 ± 2 K, no hoses."""
    plain = Outlook(
        quantity=SUBCOOLING,
        target_k=5.0,
        gap_k=3.0,
        tolerance_k=2.0,
        blind=False,
        missing_kg=0.3,
        low_kg=0.1,
        high_kg=0.5,
        to_come_kg=0.0,
        safe_kg=0.2,
        most_kg=6.0 * OUNCE_KG,
        opening_kg=0.1,
        within=0.5,
        over=0.0,
        expected_gap_k=3.0,
        full_charge_kg=FULL_KG,
        settling_s=150.0,
        full_wait_s=375.0,
        slope_k_per_kg=10.0,
        flow=Feed(0.004, 0.0056, learned=True),
        counted_kg_s=0.004,
        suction=Suction("R-410A", 3.0 * TON_W, 10.0),
        least_superheat_k=4.0,
        readings_here=1,
        observations=(seen(0.0, 3.0),),
        subject=subject(),
        guesses=(Guess(1.0, 0.075, 40.0),),
        steep_k=60.0,
        answered=True,
    )
    return replace(plain, **changes)  # type: ignore[arg-type]


def a_target(**changes: object) -> Target:
    plain = Target(SUBCOOLING, 5.0, 2.0, NOTHING, short_below=True)
    return replace(plain, **changes)  # type: ignore[arg-type]


def assessed(**changes: object) -> Assessment:
    """A judged reading on target: 6 K of superheat, 5 K of subcooling; no glide unless given."""
    changes = {
        "coil_k": changes.get("dew_k"),
        "condensing_k": changes.get("bubble_k"),
        **changes,
    }
    plain = Assessment(
        measured=Measured(6.0, 5.0, None, None, None, None),
        wet_bulb_k=290.0,
        target=a_target(),
        expected_superheat_k=None,
        verdict=ON_TARGET,
        reason_finding=NOTHING,
        findings=(),
    )
    return reassessed(plain, **changes)


def reassessed(assessment: Assessment, **changes: object) -> Assessment:
    """The same with other figures, whether measured or made of them."""
    names = {each.name for each in dataclasses.fields(Measured)}
    figures = {name: value for name, value in changes.items() if name in names}
    rest = {name: value for name, value in changes.items() if name not in names}
    measured = replace(assessment.measured, **figures)  # type: ignore[arg-type]
    return replace(assessment, measured=measured, **rest)  # type: ignore[arg-type]


def taken(
    number: int,
    assessment: Assessment | None,
    reading: Reading | None = None,
    **changes: object,
) -> Taken:
    """The `number`th reading, one minute after another, of a running unit."""
    plain = Taken(
        eid=f"r{number}",
        moment=at(60.0 * number),
        reading=Reading(None, None, None, None) if reading is None else reading,
        final=False,
        shots_before=0,
        added_kg=0.0,
        since_shot_s=None,
        running=True,
        assessment=assessment,
    )
    return replace(plain, **changes)  # type: ignore[arg-type]


def fields(numbers: dict[str, float] | None = None, **texts: str) -> Fields:
    """What was understood of a form."""
    return Fields(numbers or {}, texts, {})


def ready(**changes: object) -> State:
    """A session in which a shot may be started: one reading, on target."""
    state = replace(opening(valve_unit()), readings=(taken(0, assessed()),))
    return replace(state, **changes)  # type: ignore[arg-type]


def told(state: State) -> list[str]:
    """What blocks a shot."""
    return [block.code for block in gate.blocks(state)]


def entry_of(kind: str, seconds: float, **data: str) -> Entry:
    """An entry that was not voided; its name says kind and time."""
    name = f"{kind}{seconds:.1f}"
    return Entry(name, kind, at(seconds), "d", data, {}, STANDS, amended=False, problems={})
