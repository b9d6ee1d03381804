"""What of a session needs a look: from its state alone, and from what is beside it."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Literal

from lowside.core.handbook.forms import FORMS, understand
from lowside.core.handbook.handbook import Handbook
from lowside.core.judging.by_weight import near_full
from lowside.core.judging.charge import ON_TARGET, OVER, Assessment
from lowside.core.numbers.unit_choice import UnitChoice, label, small_mass
from lowside.core.numbers.units import label as seconds_label
from lowside.core.office.dates import DAY_MS, day_text, local_day
from lowside.core.office.review import VERDICT_NAMES, not_the_offices, review_of
from lowside.core.pages.form import entered_last
from lowside.core.pages.ticket import CAPS
from lowside.core.pages.wording import day_and_time, duration
from lowside.core.session.cylinder import HOSES_KG, reconcile_session
from lowside.core.session.events import Moment, elapsed, writer_of
from lowside.core.session.final_wait import early, reason_of
from lowside.core.session.heavy_shot import far_from_plan
from lowside.core.session.hose_charge import hoses_bring
from lowside.core.session.ledger import LOST, CylinderUse, between
from lowside.core.session.shots import fell_closed
from lowside.core.session.since_read import EMPTIED_IN, FED, RECOVERED, since_read
from lowside.core.session.state import (
    DECIDED_TO_ADD,
    SINGLE_VALUED,
    STANDS,
    Entry,
    State,
    Taken,
    find_entry,
    latest_reading,
    open_shot,
    scale_after,
    shots_by_cylinder,
)
from lowside.core.session.steady import COUNTED
from lowside.core.session.unit import by_labels
from lowside.core.session.walk import LOTS
from lowside.core.session.weighing import charged_kg, difference, whole_charge

FlagCode = Literal[
    "unended",
    "over",
    "out",
    "heavy",
    "unread",
    "early",
    "weights",
    "lighter",
    "dates",
    "check",
    "overridden",
    "stopped",
    "again",
    "late",
    "changed",
    "conflict",
    "aside",
]

FLAG_NAMES: dict[FlagCode, str] = {
    "unended": "Shot not ended",
    "over": "Overcharged",
    "out": "Out of target",
    "heavy": "Shot far over its plan",
    "unread": "Not read at the end",
    "early": "Final reading too early",
    "weights": "Weights do not agree",
    "lighter": "Cylinder lighter than it was left",
    "dates": "Check the dates",
    "check": "Check skipped, refused or doubtful",
    "overridden": "Advice overridden",
    "stopped": "Unit stopped",
    "again": "Unit topped up again",
    "late": "Written after closing",
    "changed": "Changed since it was signed off",
    "conflict": "Entries conflict",
    "aside": "Entries set aside",
}
BESIDE: tuple[FlagCode, ...] = ("lighter", "again", "aside")
"""Flags that a session's own entries do not tell."""
ORDER = tuple(FLAG_NAMES)
"""The gravest first."""

WEIGHTS = UnitChoice()
"""Two sessions may have different units, so what they say together is in one."""
FAR_TOO_MUCH_OUT = 2.0
"""So many times the charge recovered at once asks for a look. Ours."""
FIRST_MS = 1_735_689_600_000
"""2025-01-01. No entry is older: there was no such program. Our choice."""
MOST_APART_MS = 30 * DAY_MS
"""Two neighbors of an open session further apart ask for a look. Ours."""
FINE = ("yes", "none_found", COUNTED)
NO_CHECKS = ("checks_reason", "leak_refused", "leak_exempt")
"""Answers of the checks that explain one and are none."""


@dataclass(frozen=True)
class Flag:
    """One thing to look at; `detail` is in the session's own words and units."""

    code: FlagCode
    detail: str


def flags_of(state: State, last: Assessment | None, handbook: Handbook) -> tuple[Flag, ...]:
    """Everything that needs a look, the gravest first.

    Args:
        state: the session, judged or not: the same comes out.
        last: what its last reading means; `None` when there is none or it cannot be judged.
        handbook: says what the hoses took from the cylinder.
    """
    found: list[Flag] = []
    found.extend(_result(state, last))
    found.extend(_heavy(state))
    found.extend(_unread(state))
    found.extend(_unended(state))
    found.extend(_early(state, handbook))
    found.extend(_weights(state, handbook))
    found.extend(_fell_closed(state))
    found.extend(_drained(state))
    found.extend(_too_much_out(state))
    found.extend(_dates(state))
    found.extend(_checks(state))
    found.extend(_hurried(state))
    if state.decision == DECIDED_TO_ADD and state.decision_reason != "":
        found.append(Flag("overridden", state.decision_reason))
    stops = [e for e in state.entries if e.kind == "system.stopped" and e.status == STANDS]
    if stops:
        times = "once" if len(stops) == 1 else f"{len(stops)} times"
        found.append(Flag("stopped", f"Stopped {times}"))
    found.extend(_late(state))
    review = review_of(state)
    if review.signed is not None and review.changed_since:
        found.append(Flag("changed", "Signed off by " + review.signed.signed))
    conflicts = [*state.flags, *_corrected_twice(state)]
    if conflicts:
        found.append(Flag("conflict", conflicts[0]))
    return tuple(found)


def flags_beside(
    uses: Sequence[tuple[CylinderUse, CylinderUse]],
    topped_up: Moment | None,
    aside: int,
    unread: int,
) -> tuple[Flag, ...]:
    """What only shows when other sessions, or what could not be kept, are looked at too.

    Args:
        uses: of each cylinder the use before, as it was then, and this session's.
        topped_up: when the session before that added to the same unit did so last; `None` when
            there is none, or nothing was added now.
        aside: entries set aside because they contradict stored ones.
        unread: lines of the log that cannot be read.
    """
    found: list[Flag] = []
    for earlier, use in uses:
        for warning in between(earlier, use):
            if (
                warning.code == LOST
                and warning.before_kg is not None
                and warning.now_kg is not None
            ):
                missing = small_mass(warning.before_kg - warning.now_kg, WEIGHTS)
                found.append(Flag("lighter", f"{use.label}: {missing} missing"))
    if topped_up is not None:
        found.append(Flag("again", "Last time " + day_text(local_day(topped_up))))
    if aside > 0 or unread > 0:
        parts = []
        if aside > 0:
            parts.append("1 entry" if aside == 1 else f"{aside} entries")
        if unread > 0:
            parts.append("1 unreadable line" if unread == 1 else f"{unread} unreadable lines")
        found.append(Flag("aside", ", ".join(parts)))
    return tuple(found)


def in_order(flags: Sequence[Flag]) -> tuple[Flag, ...]:
    """The gravest first."""
    return tuple(sorted(flags, key=lambda flag: ORDER.index(flag.code)))


def _result(state: State, last: Assessment | None) -> list[Flag]:
    """The state the unit was left in; an open session has not left it yet, and a reading before
    the last shot, recovery or weigh-in does not tell."""
    latest = latest_reading(state)
    since = since_read(state)
    # What the hoses held makes too much no less.
    more = since == EMPTIED_IN and last is not None and last.verdict == OVER
    if since != "" and not more:
        return []
    left = state.closed is not None or (latest is not None and latest.final)
    if last is None or not left or last.verdict == ON_TARGET:
        return []
    code: FlagCode = "over" if last.verdict == OVER else "out"
    words = VERDICT_NAMES[last.verdict]
    return [Flag(code, "" if words == FLAG_NAMES[code] else words)]


def _heavy(state: State) -> list[Flag]:
    """The shot furthest over what was planned for it, and how many were far from it."""
    worst = ""
    times = 0.0
    count = 0
    for shot in state.shots:
        far = far_from_plan(shot)
        if far is None:
            continue
        count = count + 1
        if far.kg / far.planned_kg > times:
            times = far.kg / far.planned_kg
            planned = small_mass(far.planned_kg, state.units)
            worst = f"{small_mass(far.kg, state.units)}, planned {planned}"
            if far.quick and far.open_s is not None and far.planned_s is not None:
                worst = worst + ", in " + seconds_label("duration", far.open_s, "s")
    if count == 0:
        return []
    return [Flag("heavy", worst if count == 1 else f"{worst}; {count} shots")]


def _unread(state: State) -> list[Flag]:
    """Closed, and nobody knows what the last shots or the recovery did. What was weighed in after
    it is known by its weight."""
    after = "" if state.closed is None else since_read(state)
    if after == RECOVERED:
        return [Flag("unread", "Recovered")]
    if after == EMPTIED_IN:
        return [Flag("unread", "Hoses emptied")]
    shut = len([shot for shot in state.shots if shot.closed is not None])
    latest = latest_reading(state)
    since = 0 if latest is None else shut - latest.shots_before
    if after != FED or since <= 0:
        return []
    return [Flag("unread", "1 shot" if since == 1 else f"{since} shots")]


def _unended(state: State) -> list[Flag]:
    """Closed, and a valve is open for all anybody knows: what it lets in is not known."""
    shot = open_shot(state)
    if state.closed is None or shot is None:
        return []
    return [Flag("unended", "Opened " + day_and_time(shot.opened))]


def _early(state: State, handbook: Handbook) -> list[Flag]:
    """The final reading before the unit had settled, with why."""
    finals = [taken for taken in state.readings if taken.final]
    if not finals:
        return []
    last: Taken = finals[-1]
    words = early(state, last.moment, last.since_shot_s, handbook)
    if words == "":
        return []
    why = reason_of(state, last.eid)
    return [Flag("early", words if why == "" else words + ": " + why)]


def _weights(state: State, handbook: Handbook) -> list[Flag]:
    if state.end_weight is None or state.start_weight is None:
        return []
    if "weighing.compared" in state.walk or charged_kg(state) > 0.0:
        words = difference(state)
        return [] if words == "" else [Flag("weights", words)]
    # The hose model only widens what is allowed, so it runs only where that may matter.
    apart = reconcile_session(replace(state, hoses_from_cylinder_kg=0.0)).disagreements
    if apart:
        brings = hoses_bring(state, handbook)
        share = 0.0 if brings is None else brings.from_cylinder_kg
        apart = reconcile_session(replace(state, hoses_from_cylinder_kg=share)).disagreements
    if not apart:
        return []
    words = label("mass", abs(apart[0].difference_kg), state.units) + " apart"
    return [Flag("weights", words if state.explanation == "" else f"{words}: {state.explanation}")]


def _fell_closed(state: State) -> list[Flag]:
    """What left a cylinder between two of its shots, which is in no sum of them. Where the scale
    was set again between them, it may have been moved."""
    found: list[Flag] = []
    scales = [*[used.scale for used in state.used_before], state.scale]
    for scale, fed in zip(scales, shots_by_cylinder(state), strict=True):
        for i in range(1, len(fed)):
            shown, amount = fed[i - 1].before_kg, fed[i - 1].amount_kg
            if scale is None or shown is None or amount is None:
                continue
            fell = fell_closed(scale, scale_after(scale.mode, shown, amount), fed[i].before_kg)
            if fell is not None:
                words = small_mass(fell, state.units)
                found.append(Flag("weights", f"The scale fell {words} with the valve closed"))
    return found


def _checks(state: State) -> list[Flag]:
    found: list[Flag] = []
    for field in FORMS["preconditions"].fields:
        answer = state.checks.get(field.name, "")
        if answer == "" or answer in FINE or field.name in NO_CHECKS or not field.choices:
            continue
        if field.name == "leak" and answer == "repaired":
            continue
        words = field.label + ": " + dict(field.choices).get(answer, answer)
        reason = state.checks.get("leak_refused", "") or state.checks.get("checks_reason", "")
        if field.name == "leak" and reason != "":
            words = words + ". " + reason
        found.append(Flag("check", words))
    signed = entered_last(state, "session.closed")
    if state.closed is not None and signed is not None and signed.get(CAPS, "") == "no":
        found.append(Flag("check", "Caps on, ports leak-checked: No"))
    return found


def _drained(state: State) -> list[Flag]:
    """Whether the hoses came off a stopped unit after the last lot, which had filled them."""
    off = False
    for entry in state.entries:
        off = (off and entry.kind not in LOTS) or entry.eid == state.done.get("off_hoses", "")
    if not off or charged_kg(state) <= 0.0:
        return []
    most = small_mass(HOSES_KG, state.units)
    return [Flag("weights", f"Hoses off with the unit off: up to {most} less is in the unit")]


def _too_much_out(state: State) -> list[Flag]:
    """A recovery of so much more than the charge that a weight or the plate was read wrong."""
    total = whole_charge(state).total_kg
    charge = near_full(by_labels(state)) if total is None else total
    most = max([one.kg for one in state.recovered if one.kg is not None], default=0.0)
    if charge is None or most <= FAR_TOO_MUCH_OUT * charge:
        return []
    out, full = label("mass", most, state.units), label("mass", charge, state.units)
    return [Flag("weights", f"{out} recovered, the charge is {full}")]


def _hurried(state: State) -> list[Flag]:
    """A vacuum saved sooner after the pressure test than it says it was held."""
    tested: Moment | None = None
    found: list[Flag] = []
    for entry in state.entries:
        if entry.kind == "pressure.tested" and entry.status == STANDS:
            tested = entry.moment
        elif entry.kind == "vacuum.held" and entry.status == STANDS and tested is not None:
            since = elapsed(tested, entry.moment)
            held = understand(entry.kind, entry.data).numbers.get("vacuum_time", 0.0)
            found = []
            if since.seconds < held and not since.doubtful:
                words = f"Vacuum: {duration(held)} valved off, saved {duration(since.seconds)}"
                found = [Flag("check", words + " after the pressure test")]
    return found


def _dates(state: State) -> list[Flag]:
    """The first date that cannot be true, or hardly is. `state.flags` say when one phone’s clock is
    behind another’s."""
    closed = False
    before: Entry | None = None
    for entry in state.entries:
        if entry.moment.at < FIRST_MS:
            return [Flag("dates", _dated(entry))]
        if entry.kind.startswith("office."):
            continue
        if before is not None and not closed:
            passed = entry.moment.at - before.moment.at
            back = passed < -DAY_MS and writer_of(entry.dev) == writer_of(before.dev)
            if back or passed > MOST_APART_MS:
                last = day_text(local_day(before.moment))
                return [Flag("dates", f"{_dated(entry)}, the one before it {last}")]
        closed = closed or (entry.kind == "session.closed" and entry.status == STANDS)
        before = entry
    return []


def _dated(entry: Entry) -> str:
    return "An entry is dated " + day_text(local_day(entry.moment))


def _corrected_twice(state: State) -> list[str]:
    """Two devices' corrections of one entry that do not agree, in words; or a correction after a
    void that its device had not seen: no page corrects a voided entry."""
    last: dict[str, Entry] = {}
    voided: list[str] = []
    for entry in state.entries:
        if entry.kind == "event.voided" and entry.status == STANDS:
            voided.append(entry.data.get("target", ""))
        if entry.kind != "event.amended" or entry.status != STANDS:
            continue
        target = find_entry(state, entry.data.get("target", ""))
        if target is not None and target.status != STANDS and target.eid in voided:
            return [
                f"One device voided an entry (“{target.kind}”), another corrected it. It stays "
                "void; both are on the timeline."
            ]
        if target is None or target.status != STANDS or not target.amended:
            continue
        if target.kind in SINGLE_VALUED:  # `state.flags` has them.
            continue
        earlier = last.get(target.eid)
        other = earlier is not None and writer_of(earlier.dev) != writer_of(entry.dev)
        if earlier is not None and other and earlier.data != entry.data:
            return [
                f"Two devices corrected an entry (“{target.kind}”) differently. The later one "
                "counts; both are on the timeline."
            ]
        last[target.eid] = entry
    return []


def _late(state: State) -> list[Flag]:
    closed = False
    after: list[str] = []
    for entry in state.entries:
        if entry.kind == "session.closed" and entry.status == STANDS:
            closed = True
        elif closed:
            after.append(entry.eid)
    late = len(not_the_offices(state).intersection(after)) if after else 0
    if late == 0:
        return []
    return [Flag("late", "1 entry" if late == 1 else f"{late} entries")]
