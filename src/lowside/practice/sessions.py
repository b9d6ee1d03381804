"""A practice session's unit, rebuilt from the session's entries: same entries, same unit.

The state is worked out in steps that depend on the entries alone, never on when somebody looked.
The instruments' noise depends on the seed and the second. So a restart changes nothing.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from random import Random

from lowside.core.handbook.handbook import Handbook
from lowside.core.numbers.arithmetic import to_step
from lowside.core.session.at_hoses import HOSES_OFF
from lowside.core.session.events import Event, in_order
from lowside.core.session.fold import fold
from lowside.practice.asked import NOTHING_KNOWN, Asked, asked_before
from lowside.practice.fluid import fluid
from lowside.practice.hooked_up import CYLINDER_K, Gauges, HookedUp
from lowside.practice.hose_work import Handling, HoseWork, hose_work
from lowside.practice.lessons import Setting, lesson_by_id, running_unit, seed_from, setting
from lowside.practice.pace import OPEN, RECOVERY, SHUT, VALVE
from lowside.practice.recovery import RecoveryMachine

CYLINDER_OPENED = "liquid"
READY_TO_RECOVER = "recovery.ready"
SHOTS = "shots"
CYLINDER_SHUT = ("close_cylinder", "off_cylinder", "off_recover")
"""Steps of every procedure that change the cylinder."""
STOPS_OR_STARTS = ("system.stopped", "system.started", "event.voided", "event.amended")
"""Kinds after which the unit may be off, or run again."""
A_MOMENT_S = 0.0005
"""Entries of the same millisecond were written before the turn."""
HOSE_ON_SCALE_KG = 0.3
"""The hose's pull on the scale."""
VISITS = 30.0
"""One hoseful of air raises the high side by a small part of a psi. No dial shows that. Practice
lets in what this many such visits leave behind, and says so. Our choice, no source."""
BUSY_STEP_S = 1.0
QUIET_STEP_S = 5.0
LONG_QUIET_STEP_S = 60.0
LONG_QUIET_S = 1800.0


@dataclass(frozen=True)
class Held:
    """One opening of the low handwheel [s, kg]. `slugged_kg` reached the compressor as liquid."""

    opened_s: float
    shut_s: float | None
    fed_kg: float
    slugged_kg: float
    missing_before_kg: float
    missing_after_kg: float
    before_cylinder: bool
    """Nothing came: the cylinder was not open yet or already closed, or its hose was off."""
    asked: Asked
    """What the program asked for just before."""
    off_kg: float
    """The part of it that went into a unit that was off."""


@dataclass(frozen=True)
class Cleared:
    """A step that cleared a hose into the unit [s, kg]."""

    at_s: float
    title: str
    missing_before_kg: float
    missing_after_kg: float


@dataclass(frozen=True)
class Look:
    """The true state of the unit when a reading was written down [K]."""

    eid: str
    at_s: float
    value_k: float
    settled_k: float
    liquid_kg: float


class PracticeSession:
    """One session's unit at the time of its last entry or later."""

    def __init__(self, known: Setting, procedure_id: str, handbook: Handbook) -> None:
        self.setting = known
        self.unit = running_unit(known)
        self.work = _bare_hoses(known, self.unit, procedure_id, handbook)
        self.recovery = RecoveryMachine(self.unit)
        self.helds: list[Held] = []
        self.looks: list[Look] = []
        self.cleared: list[Cleared] = []
        self.most_kg = self.unit.charge_kg
        """The most charge there ever was inside."""
        self.decided_missing_kg: dict[str, float] = {}
        """eid of each decision -> what was missing then."""
        self.vacuum_s: float | None = None
        """When it first ran in a vacuum that the recovery machine had drawn."""
        self.closing: Asked | None = None
        """What the page asked for when the shots were done."""
        self.tripped_s: float | None = None
        """When its protector stopped it last."""
        self.cylinder_open = False
        self.hose_on = False
        self.machine_joined = False
        """By a hose of its own: the walk “Recover refrigerant” was begun."""
        self.valve = SHUT
        self.events_seen = 0
        self._handbook = handbook
        self._known: list[Event] = []
        self._asked = NOTHING_KNOWN
        self._off_kg = 0.0
        self._said_running = True
        self._since_s = 0.0
        self._fed_before = 0.0
        self._off_before = 0.0
        self._slug_before = 0.0
        self._missing_before = 0.0
        self._opened_s = 0.0

    def follow(self, events: Sequence[Event]) -> None:
        """Take in the session's new entries, in the session's own order."""
        for event in in_order(events)[self.events_seen :]:
            self._to_event(event.mono / 1000.0)
            self._apply(event)
            self._known.append(event)
            if event.kind in STOPS_OR_STARTS:
                self._switch()
            self.events_seen += 1

    def look_at(self, time_s: float) -> Gauges:
        """What the instruments show at a practice time [s] not before the last entry. The scale
        weighs cylinder and hose."""
        self._advance(time_s)
        known = self.setting
        self.unit.random = Random(f"{known.lesson.id}/{known.seed}/{int(time_s)}")
        shown = self.unit.gauges()
        step = known.drawn.scale_step_kg
        weight = known.tare_kg + (HOSE_ON_SCALE_KG if self.hose_on else 0.0)
        scale = to_step(shown.scale_kg + weight, step)
        return Gauges(
            shown.suction_pressure_pa,
            shown.suction_line_k,
            shown.liquid_pressure_pa,
            shown.liquid_line_k,
            shown.supply_air_k,
            scale,
        )

    def _to_event(self, time_s: float) -> None:
        self._advance(time_s)
        rest = time_s - self.unit.time_s
        if rest > 0.0:
            self._step(rest)
        self._since_s = self.unit.time_s

    def _advance(self, time_s: float) -> None:
        while True:
            step = self._step_s()
            if self.unit.time_s + step > time_s:
                return
            self._step(step)

    def _step_s(self) -> float:
        if self.recovery.is_on or self._opening() > 0.0 or self.unit.liquid_kg > 1.0e-5:
            return BUSY_STEP_S
        quiet = self.unit.time_s - self._since_s
        return LONG_QUIET_STEP_S if quiet > LONG_QUIET_S else QUIET_STEP_S

    def _step(self, seconds: float) -> None:
        unit = self.unit
        self.recovery.step(seconds, self.hose_on or self.machine_joined)
        before_kg, ran = unit.cylinder_kg, unit.thin.running
        unit.step(seconds, self._opening())
        if not ran:
            self._off_kg += before_kg - unit.cylinder_kg
        if ran and unit.thin.stopped_itself:
            self.tripped_s = unit.time_s
        if self.vacuum_s is None and self.recovery.taken_kg > 0.0 and unit.in_vacuum():
            self.vacuum_s = unit.time_s
        self.most_kg = max(self.most_kg, self.unit.charge_kg + self.unit.liquid_kg)

    def _switch(self) -> None:
        """The unit is off or runs as the entries have it. The practice unit stops when the
        technician says that it has stopped."""
        running = fold(self._known).running
        was = self._said_running
        self._said_running = running
        if running != was:
            self.unit.thin.switch(running)

    def _opening(self) -> float:
        if not self._is_joined():
            return 0.0
        if self.valve == OPEN:
            return 1.0
        return self.setting.lesson.seep

    def _is_joined(self) -> bool:
        """Whether there is liquid at the low handwheel."""
        return self.cylinder_open and self.hose_on

    def _apply(self, event: Event) -> None:
        step = event.data.get("step", "")
        if event.kind == VALVE:
            self._turn(event.data.get("valve", ""))
        elif event.kind == RECOVERY:
            self.recovery.switch(event.data.get("machine") == OPEN)
        elif event.kind in ("reading.taken", "reading.final"):
            self.looks.append(
                Look(
                    event.eid,
                    self.unit.time_s,
                    self.unit.value_k(),
                    self.unit.settled_value_k(),
                    self.unit.liquid_kg,
                )
            )
        elif event.kind == READY_TO_RECOVER:
            self.machine_joined = True
        elif event.kind == "decision.made":
            self.decided_missing_kg[event.eid] = self.unit.missing_kg()
        elif event.kind == "step.done":
            if self.work is not None:
                self._feel(self.work.do(step, self.unit.time_s))
            if step == CYLINDER_OPENED:
                self.cylinder_open = True
                self.hose_on = True
            elif step in CYLINDER_SHUT:
                if self.closing is None:
                    self.closing = self._asked_now()
                self.cylinder_open = False
            elif step == SHOTS:
                self.closing = self._asked_now()
            elif step in HOSES_OFF:
                self.hose_on = False

    def _turn(self, to: str) -> None:
        if to == self.valve:
            return
        self.valve = to
        unit = self.unit
        if to == OPEN:
            if self._is_joined() and self.work is not None:
                self._feel(self.work.shoot(unit.time_s))
            self._asked = self._asked_now()
            self._fed_before = unit.cylinder_kg
            self._off_before = self._off_kg
            self._slug_before = unit.slugged_kg
            self._missing_before = unit.missing_kg()
            self._opened_s = unit.time_s
            return
        self.helds.append(self._held(unit.time_s))

    def _asked_now(self) -> Asked:
        return asked_before(self._known, self.unit.time_s + A_MOMENT_S, self._handbook)

    def fed_kg(self) -> float:
        """Refrigerant that went from the cylinder into the unit in shots [kg]."""
        hoses = self.work.out_of_cylinder_kg() if self.work is not None else 0.0
        return self.setting.contents_kg - self.unit.cylinder_kg - hoses

    def _feel(self, handling: Handling | None) -> None:
        """Acts at the hoses change unit and cylinder."""
        if handling is None:
            return
        before = self.unit.missing_kg()
        self.unit.let_in_air(handling.air_pa_m3 * VISITS)
        self.unit.exchange(handling.into_unit_kg, handling.out_of_cylinder_kg)
        if handling.into_unit_kg > 0.0:
            after = self.unit.missing_kg()
            self.cleared.append(Cleared(handling.at_s, handling.title, before, after))

    def open_held(self) -> Held | None:
        """The opening that still goes on."""
        return self._held(None) if self.valve == OPEN else None

    def _held(self, shut_s: float | None) -> Held:
        unit = self.unit
        return Held(
            self._opened_s,
            shut_s,
            self._fed_before - unit.cylinder_kg,
            unit.slugged_kg - self._slug_before,
            self._missing_before,
            unit.missing_kg(),
            not self._is_joined(),
            self._asked,
            self._off_kg - self._off_before,
        )


def setting_of(events: Sequence[Event]) -> Setting | None:
    """Lesson and unit of a session; `None` when it is no practice session of a known lesson."""
    for event in in_order(events):
        if event.kind == "session.started" and event.data.get("practice") == "yes":
            lesson = lesson_by_id(event.data.get("lesson", ""))
            seed = seed_from(event.data.get("seed", ""))
            if lesson is not None and seed is not None:
                try:
                    return setting(lesson, seed)
                except LookupError:
                    return None
    return None


def rebuild(events: Sequence[Event], handbook: Handbook) -> PracticeSession | None:
    """The session's unit as its entries leave it; `None` as in `setting_of`."""
    known = setting_of(events)
    if known is None:
        return None
    started = [event for event in in_order(events) if event.kind == "session.started"]
    session = PracticeSession(known, started[0].data.get("procedure", ""), handbook)
    session.follow(events)
    return session


def _bare_hoses(
    known: Setting, unit: HookedUp, procedure_id: str, handbook: Handbook
) -> HoseWork | None:
    """The hoses before they are hooked up, at the pressures of this unit as it runs."""
    refrigerant = known.drawn.system.refrigerant
    inside = fluid(known.drawn.inside)
    low_k, high_k = unit.saturations_k()
    pressures = (
        inside.at_dew(low_k)[0],
        inside.at_bubble(high_k)[0],
        fluid(refrigerant).at_bubble(CYLINDER_K)[0],
    )
    return hose_work(
        handbook.procedures.get(procedure_id),
        handbook.tables[refrigerant],
        pressures,
        known.drawn.system.atmosphere_pa,
    )
