"""Events in, state out: what happened in one charging session, as far as the events tell.

Rules
- Order is (hlc, dev, seq) everywhere; the same event twice counts once.
- A voided (`event.voided`) event is as if never written; voiding a void restores it. An
  `event.amended` replaces all of its target's data; the last one not voided wins.
- Facts of one value (job, unit, a weight …) take the last one; two devices' difference is said.
- An event that cannot be understood, or of a kind unknown to this version, stays on the timeline.
"""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import replace

from lowside.core.handbook.fields import Fields
from lowside.core.handbook.forms import understand
from lowside.core.handbook.handbook import Handbook
from lowside.core.handbook.machine import Machine, machine_from
from lowside.core.handbook.procedure import low_valve_of
from lowside.core.handbook.system import Reading, System
from lowside.core.hoses.to_come import NOTHING_TO_COME, to_come
from lowside.core.judging.charge import assess
from lowside.core.numbers.unit_choice import UnitChoice
from lowside.core.session import shots, walk
from lowside.core.session.apart import Given, answer_of, said_apart, with_answer
from lowside.core.session.clocks import moments_of, said_of
from lowside.core.session.corrections import kind_of, settled
from lowside.core.session.cylinder import contents_findings
from lowside.core.session.drier import drier_after
from lowside.core.session.events import Event, Moment, in_order
from lowside.core.session.hose_charge import HoseCharge, followed, joined_to
from lowside.core.session.other_cylinder import cylinder_from, first_weight, is_another, weigh_again
from lowside.core.session.reads import Read, seconds_since, waits_from
from lowside.core.session.state import (
    NOT_DECIDED,
    SINGLE_VALUED,
    STANDS,
    VOIDED,
    Cylinder,
    Decision,
    Entry,
    Job,
    Lot,
    Recovered,
    ScaleSetting,
    Shot,
    State,
    Taken,
    UsedCylinder,
    Weight,
    decision_from,
    scale_from,
    sum_of_shots,
)
from lowside.core.session.steady import cured, runs_otherwise, was_read
from lowside.core.session.unit import designation, system_of
from lowside.core.session.weighing import verdict_of_test

FEEDS = ("shot.opened", "shot.closed", "weight.start", *walk.LOTS)
"""Kinds of entries after which an end weight is none: it fed, or is weighed as at the start."""


def fold(
    events: Sequence[Event], handbook: Handbook | None = None, before: State | None = None
) -> State:
    """Turn a session's events into its state.

    Args:
        events: in any order, repeats allowed.
        handbook: property tables and charts that judge the readings. Without it they are parsed
            and not judged, which is enough for lists and weights and much quicker.
        before: any state folded with this handbook. Its hose runs, half of a fold's time, are used
            again where procedure and conditions are the same.

    Returns
        The state. Never raises for odd events: they appear in `entries` and `flags`.
    """
    ordered = in_order(events)
    folding = _Folding(handbook, moments_of(ordered))
    voided, amended = settled(ordered)
    for event in ordered:
        if event.kind == "event.amended":
            folding.list_entry(event, event.data, voided, False, {})
            folding.keep_answer(event, voided)
            continue
        data = amended.get(event.eid, event.data)
        fields = understand(event.kind, data)
        folding.list_entry(event, data, voided, event.eid in amended, fields.problems)
        if event.eid not in voided:
            folding.keep_answer(event, voided)
            folding.apply(event, data, fields)
    return folding.state(ordered[0].sid if ordered else "", before)


class _Folding:
    """The state under construction; one method for each kind of event."""

    def __init__(self, handbook: Handbook | None, moments: Mapping[str, Moment]) -> None:
        self.handbook = handbook
        self.moments = moments
        self.moment = Moment("", 0, 0)
        self.units = UnitChoice()
        self.procedure = ""
        self.practice = False
        self.started: Moment | None = None
        self.job: Job | None = None
        self.unit: Fields | None = None
        self.target: Fields | None = None
        self.machine: Machine | None = None
        self.machine_at: Moment | None = None
        self.checks: Mapping[str, str] = {}
        self.cylinder: Cylinder | None = None
        self.start_weight: Weight | None = None
        self.end_weight: Weight | None = None
        self.scale: ScaleSetting | None = None
        self.shot_scale: ScaleSetting | None = None
        self.readings: list[Read] = []
        self.shots: list[Shot] = []
        self.last_scale_kg: float | None = None
        self.decision: Decision = NOT_DECIDED
        self.decision_reason = ""
        self.explanation = ""
        self.hoses_weighed_kg: float | None = None
        self.running = True
        self.stopped_at: Moment | None = None
        self.changed_at: Moment | None = None
        self.done: dict[str, str] = {}
        self.notes: list[tuple[Moment, str]] = []
        self.signed_by = ""
        self.closed: Moment | None = None
        self.discarded = False
        self.entries: list[Entry] = []
        self.drier = ""
        self.flags = said_of(moments)
        self.walk: dict[str, Fields] = {}
        self.recovered: list[Recovered] = []
        self.lots: list[Lot] = []
        self.lots_recovered = 0
        self.used: list[UsedCylinder] = []
        self.answers: dict[str, list[Given]] = {}

    def list_entry(
        self,
        event: Event,
        data: Mapping[str, str],
        voided: Mapping[str, str],
        amended: bool,
        problems: Mapping[str, str],
    ) -> None:
        status = VOIDED if event.eid in voided else STANDS
        self.moment = self.moments[event.eid]
        eid, kind, moment = event.eid, event.kind, self.moment
        entry = Entry(eid, kind, moment, event.dev, data, event.data, status, amended, problems)
        self.entries.append(entry)
        self.drier = drier_after(self.drier, entry)
        if problems and status == STANDS:
            self.flags.append(
                f"An entry ({event.kind}) could not be read: {', '.join(problems.values())}"
            )

    def apply(self, event: Event, data: Mapping[str, str], fields: Fields) -> None:
        if event.kind in walk.WALK_KINDS and not fields.problems:
            self.keep_walk(event, fields)
        apply_kind = _APPLY.get(event.kind)
        if apply_kind is not None:
            apply_kind(self, event, data, fields)
        if self.end_weight is not None and (event.kind in FEEDS or shots.is_open(self.shots)):
            self.end_weight = replace(self.end_weight, fed_after=True)
        step = data.get("step", "")
        tested = event.kind == "pressure.tested" and not fields.problems
        if tested and not verdict_of_test(fields).passed:
            self.done.pop(step, None)
        elif step != "" and not fields.problems:
            self.done[step] = event.eid

    def start(self, event: Event, data: Mapping[str, str], _fields: Fields) -> None:
        self.started = self.moment
        self.procedure = data.get("procedure", "")
        self.practice = data.get("practice", "") == "yes"
        self.set_units(event, data, understand("units.set", data))

    def set_units(self, _event: Event, _data: Mapping[str, str], fields: Fields) -> None:
        t = fields.texts
        if not fields.problems:
            self.units = UnitChoice(t["pressure"], t["temperature"], t["mass"], t["length"])

    def set_job(self, _event: Event, _data: Mapping[str, str], fields: Fields) -> None:
        t = fields.texts
        if not fields.problems:
            self.job = Job(t["site"], t["unit_label"], t["technician"], fields.numbers["elevation"])

    def set_unit(self, _event: Event, _data: Mapping[str, str], fields: Fields) -> None:
        self.unit = fields

    def set_target(self, _event: Event, _data: Mapping[str, str], fields: Fields) -> None:
        self.target = fields

    def set_machine(self, event: Event, _data: Mapping[str, str], fields: Fields) -> None:
        machine = machine_from(fields.texts)
        if was_read(self.entries) and runs_otherwise(self.machine, machine):
            self.changed_at = self.moment
        self.machine = machine
        self.machine_at = self.moment

    def answer_checks(self, _event: Event, _data: Mapping[str, str], fields: Fields) -> None:
        if was_read(self.entries):
            self.changed_at = cured(self.changed_at, self.checks, fields, self.moment, self.target)
        self.checks = fields.texts

    def set_cylinder(self, _event: Event, _data: Mapping[str, str], fields: Fields) -> None:
        if not fields.problems:
            before = self.cylinder
            cylinder = cylinder_from(fields, before, len(self.shots))
            if before is not None and is_another(before, cylinder):
                start, end, scale = self.start_weight, self.end_weight, self.scale
                fed, lots, read = len(self.shots), len(self.lots), len(self.readings)
                cleared = weigh_again(self.entries, self.done, self.handbook, self.procedure)
                self.used.append(UsedCylinder(before, start, end, scale, fed, lots, read, cleared))
                self.start_weight = None
                self.end_weight = None
                self.scale = None
                self.last_scale_kg = None
            self.cylinder = cylinder

    def weigh_start(self, event: Event, _data: Mapping[str, str], fields: Fields) -> None:
        if not fields.problems:
            kg = fields.numbers["gross"]
            first = first_weight(self.start_weight, kg, self.shots, self.lots)
            fed, lots = len(self.shots), len(self.lots)
            self.start_weight = Weight(event.eid, self.moment, kg, fed, lots, first)

    def weigh_end(self, event: Event, _data: Mapping[str, str], fields: Fields) -> None:
        if not fields.problems:
            self.end_weight = Weight(event.eid, self.moment, fields.numbers["gross"])

    def set_scale(self, _event: Event, _data: Mapping[str, str], fields: Fields) -> None:
        if not fields.problems:
            self.scale = scale_from(fields)
            self.shot_scale = self.scale
            if shots.passed(self.shots, self.scale, self.last_scale_kg, self.scale.reading_kg):
                self.changed_at = self.moment
            self.last_scale_kg = self.scale.reading_kg

    def stop(self, event: Event, _data: Mapping[str, str], _fields: Fields) -> None:
        self.running = False
        self.stopped_at = self.moment

    def restart(self, event: Event, _data: Mapping[str, str], _fields: Fields) -> None:
        self.running = True
        self.stopped_at = None
        self.changed_at = self.moment

    def decide(self, _event: Event, _data: Mapping[str, str], fields: Fields) -> None:
        self.decision = decision_from(fields.texts.get("decision", ""))
        self.decision_reason = fields.texts.get("reason", "")

    def explain(self, _event: Event, _data: Mapping[str, str], fields: Fields) -> None:
        self.explanation = fields.texts.get("explanation", "")
        self.hoses_weighed_kg = fields.numbers.get("hoses_weighed")

    def add_note(self, event: Event, _data: Mapping[str, str], fields: Fields) -> None:
        if not fields.problems:
            self.notes.append((self.moment, fields.texts["text"]))

    def close(self, event: Event, _data: Mapping[str, str], fields: Fields) -> None:
        if not fields.problems:
            self.signed_by = fields.texts.get("signed_by", "")
            self.closed = self.moment
            self.discarded = event.kind == "session.discarded"

    def state(self, sid: str, before: State | None) -> State:
        elevation = None if self.job is None else self.job.elevation_m
        unit = system_of(self.unit, self.target, elevation, self.units)
        texts = self.unit.texts if self.unit is not None else {}
        handbook = self.handbook
        procedure = None if handbook is None else handbook.procedures.get(self.procedure)
        readings = [each.reading(unit) for each in self.readings]
        latest = readings[-1] if readings else None
        drawn = procedure is not None and latest is not None
        at = joined_to(unit, self.cylinder, latest, handbook) if drawn else None
        runs = followed(procedure, at, before)
        brings = NOTHING_TO_COME if procedure is None else to_come(procedure, runs)
        held = HoseCharge(brings, self.done, self.entries, self.walk, self.used)
        return State(
            sid=sid,
            units=self.units,
            procedure=self.procedure,
            started=self.started,
            job=self.job,
            system=unit,
            unit_numbers=self.unit.numbers if self.unit is not None else {},
            unit_texts=texts,
            target_texts=self.target.texts if self.target is not None else {},
            machine=self.machine,
            machine_at=self.machine_at,
            refrigerant=None if handbook is None else handbook.refrigerants.get(designation(texts)),
            checks=self.checks,
            cylinder=self.cylinder,
            start_weight=self.start_weight,
            end_weight=self.end_weight,
            scale=self.scale,
            readings=tuple(self._taken(i, unit, readings[i], held) for i in range(len(readings))),
            shots=tuple(self.shots),
            last_scale_kg=self.last_scale_kg,
            shot_before_kg=self.shots[-1].before_kg if self.shots else None,
            decision=self.decision,
            decision_reason=self.decision_reason,
            explanation=self.explanation,
            running=self.running,
            stopped_at=self.stopped_at,
            changed_at=self.changed_at,
            done=self.done,
            notes=tuple(self.notes),
            signed_by=self.signed_by,
            closed=self.closed,
            discarded=self.discarded,
            practice=self.practice,
            entries=tuple(self.entries),
            cylinder_findings=contents_findings(self.cylinder, unit, latest, handbook),
            flags=(*self.flags, *said_apart(self.answers)),
            answers=self.answers,
            walk=self.walk,
            recovered=tuple(self.recovered),
            lots=tuple(self.lots),
            lots_recovered=self.lots_recovered,
            used_before=tuple(self.used),
            liquid_port=procedure is None or procedure.liquid_port,
            low_valve=low_valve_of(procedure),
            hoses_brought_kg=held.brought_kg,
            hoses_recovered_kg=held.recovered_kg,
            hoses_weighed_kg=self.hoses_weighed_kg,
            hoses_from_cylinder_kg=brings.from_cylinder_kg,
            hose_runs=runs,
            hoses_at=at,
        )

    def keep_walk(self, event: Event, fields: Fields) -> None:
        """What a form of recovery or weigh-in says; what it makes untrue is forgotten."""
        if event.kind == walk.RECOVERED_KIND:
            out = walk.recovered(self.moment, self.walk, fields)
            self.recovered.append(out)
            if out.kg is None:
                self.flags.append(walk.NO_WEIGHT_BEFORE)
            if out.whole:
                self.lots_recovered = len(self.lots)
            elif fields.texts.get("rc_next", "") == "readings":
                self.stop(event, {}, fields)
        if event.kind in walk.LOTS:
            self.lots.extend(walk.lots_of(self.moment, event, self.start_weight, fields))
        self.walk[event.kind] = fields
        walk.forget(event.kind, self.walk, self.done)

    def keep_answer(self, event: Event, voided: Mapping[str, str]) -> None:
        kind = "" if event.eid in voided else kind_of(self.entries, event)
        if kind in SINGLE_VALUED:
            self.answers[kind] = with_answer(self.answers.get(kind, []), answer_of(event))

    def open_shot(self, event: Event, _data: Mapping[str, str], fields: Fields) -> None:
        before = fields.numbers.get("scale_before")
        if shots.passed(self.shots, self.scale, self.last_scale_kg, before):
            self.changed_at = self.moment
        if shots.is_open(self.shots):
            self.flags.append("A shot was started while another was open.")
            self.shots[-1] = shots.ended(self.shots[-1], self.moment, None, False)
        self.shots.append(shots.started(event.eid, self.moment, self.last_scale_kg, fields.numbers))
        walk.forget(event.kind, self.walk, self.done)

    def close_shot(self, event: Event, _data: Mapping[str, str], fields: Fields) -> None:
        if not shots.is_open(self.shots):
            self.flags.append("A shot was ended, but none was started.")
            return
        after, open_s = fields.numbers.get("scale_after"), fields.numbers.get("open_time")
        self.last_scale_kg = after
        shot = shots.ended(self.shots[-1], self.moment, open_s, after is None)
        self.shots[-1] = shot if after is None else shots.weighed(shot, after, self.shot_scale)

    def weigh_shot(self, _event: Event, data: Mapping[str, str], fields: Fields) -> None:
        """Of a shot that is over, whatever came since; `shot` is its eid."""
        if fields.problems:
            return
        after = fields.numbers.get("scale_after")
        i = shots.place_of_closed(self.shots, data.get("shot", ""))
        if i is None:
            self.flags.append("The scale reading of a shot that does not count was left out.")
            return
        self.shots[i] = shots.weighed(self.shots[i], after, self.shot_scale)
        if i == len(self.shots) - 1:
            self.last_scale_kg = after

    def take_reading(self, event: Event, data: Mapping[str, str], fields: Fields) -> None:
        waits = waits_from(self.entries, event, data, self.moment)
        self.readings.append(
            Read(
                eid=event.eid,
                moment=self.moment,
                numbers=fields.numbers,
                drier=self.drier,
                final=event.kind == "reading.final",
                shots_before=len([shot for shot in self.shots if shot.closed is not None]),
                since_shot_s=seconds_since(self.shots, self.moment, waits),
                running=self.running,
                done=tuple(self.done),
                apart=waits is not None,
            )
        )

    def _taken(self, i: int, unit: System | None, reading: Reading, held: HoseCharge) -> Taken:
        read = self.readings[i]
        judges = self.handbook
        return Taken(
            eid=read.eid,
            moment=read.moment,
            reading=reading,
            final=read.final,
            shots_before=read.shots_before,
            # By what the shots before it are known to be now: a scale may be read after the gauges.
            added_kg=sum_of_shots(self.shots[: read.shots_before]),
            since_shot_s=read.since_shot_s,
            running=read.running,
            assessment=None if unit is None or judges is None else assess(unit, reading, judges),
            hoses_kg=held.at_reading(i, read.done),
            apart=read.apart,
        )


_APPLY: dict[str, Callable[[_Folding, Event, Mapping[str, str], Fields], None]] = {
    "session.started": _Folding.start,
    "units.set": _Folding.set_units,
    "job.set": _Folding.set_job,
    "unit.set": _Folding.set_unit,
    "machine.set": _Folding.set_machine,
    "target.set": _Folding.set_target,
    "checks.answered": _Folding.answer_checks,
    "cylinder.set": _Folding.set_cylinder,
    "weight.start": _Folding.weigh_start,
    "weight.end": _Folding.weigh_end,
    "scale.set": _Folding.set_scale,
    "reading.taken": _Folding.take_reading,
    "reading.final": _Folding.take_reading,
    "shot.opened": _Folding.open_shot,
    "shot.closed": _Folding.close_shot,
    "shot.weighed": _Folding.weigh_shot,
    "shot.unweighed": _Folding.weigh_shot,
    "system.stopped": _Folding.stop,
    "system.started": _Folding.restart,
    "decision.made": _Folding.decide,
    "weights.explained": _Folding.explain,
    "note.added": _Folding.add_note,
    "session.closed": _Folding.close,
    "session.discarded": _Folding.close,
}
