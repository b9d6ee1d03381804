"""The shop's cylinders: what each holds, where it is, what it lost between jobs, its test.

Charging cylinders and recovery cylinders are told apart: a recovery cylinder has a fill limit, and
the strictest published rule for what is inside holds. What the office adds (van, test date, when
stock is low) are events of a session that used the cylinder.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Literal

from lowside.core.handbook.fields import CHOICE, NUMBER, Field, Fields, Form, read_fields
from lowside.core.handbook.forms import understand
from lowside.core.handbook.handbook import Handbook
from lowside.core.numbers.unit_choice import UnitChoice
from lowside.core.numbers.units import POUND_KG
from lowside.core.session.events import Moment
from lowside.core.session.ledger import (
    NO_END_WEIGHT,
    ROUNDING_KG,
    CylinderUse,
    LedgerWarning,
    as_of,
    between,
    over,
    uses_in,
)
from lowside.core.session.other_cylinder import as_before
from lowside.core.session.recovering import Limit, due_month, strictest_limit, unit_is_mixed
from lowside.core.session.state import STANDS, State
from lowside.core.session.unit import designation
from lowside.core.session.walk import RECOVERED_KIND

CylinderKind = Literal["charging", "recovery"]

FOR_CHARGING: CylinderKind = "charging"
FOR_RECOVERY: CylinderKind = "recovery"

MIXTURE = "Mixture"
"""What a recovery cylinder holds when it is not one known refrigerant."""

LOW_KG = 3.0 * POUND_KG
"""Below this a charging cylinder is low on stock until the office names its own limit. Ours: what a
home unit that lost half its charge takes."""
DUE_SOON_MONTHS = 3
"""How long before its test is due a cylinder is named. Ours."""

NEW_KIND = "office.cylinder_new"
"""The entry that registers a cylinder nobody has used yet."""
FATES_GONE = ("returned", "scrapped")

Show = Literal["in use", "low", "lost", "due", "full", "recovery", "gone"]
"""A list of cylinders."""

IN_USE: Show = "in use"
LOW_STOCK: Show = "low"
MISFIT: Show = "lost"
TEST_DUE: Show = "due"
NO_ROOM: Show = "full"
RECOVERING: Show = "recovery"
GONE: Show = "gone"

ABOUT = Form(
    "cylinder_about",
    "office.cylinder",
    "Save",
    (
        Field("van", "Van or place", longest=80),
        Field(
            "low",
            "Low on stock below",
            NUMBER,
            "mass",
            hint="Net weight. Left empty: 3 lb",
            lowest=0.0,
            highest=200.0,
        ),
        Field("rc_date", "Month and year stamped", hint="As 06/2024", longest=10),
        Field(
            "rc_date_means",
            "What that date is",
            CHOICE,
            choices=(("tested", "Made, or tested last"), ("due", "Test due")),
        ),
        Field(
            "fate",
            "This cylinder",
            CHOICE,
            choices=(
                ("in_use", "Is in use"),
                ("returned", "Was returned or reclaimed"),
                ("scrapped", "Was scrapped"),
            ),
        ),
        Field("remark", "Remark", longest=300),
    ),
)


@dataclass(frozen=True)
class Movement:
    """One session's use of one cylinder, of either kind [kg]."""

    kind: CylinderKind
    weighed: CylinderUse
    technician: str
    moved_kg: float
    """Out of a charging cylinder, into a recovery cylinder."""
    water_kg: float | None
    """Water capacity of a recovery cylinder."""
    due: int | None
    """Last month in which it may be filled [months since year 0]."""
    registered: bool = False
    """No session: the office weighed it when it came into stock."""


@dataclass(frozen=True)
class About:
    """What the office wrote of a cylinder."""

    kind: CylinderKind
    label: str
    moment: Moment
    fields: Fields
    data: Mapping[str, str]


@dataclass(frozen=True)
class Line:
    """A use with what it says against the use before it."""

    use: Movement
    warnings: tuple[LedgerWarning, ...]


@dataclass(frozen=True)
class OnHand:
    """What the list of cylinders tells of one."""

    kind: CylinderKind
    label: str
    refrigerant: str
    net_kg: float | None
    registered: bool
    """Nobody used it since the office registered it."""
    by_end_weight: bool
    at_most: bool
    """It fed shots that were not weighed, and was not weighed after them."""
    place: str
    """Van or place, or who used it last."""
    sid: str
    """Of its newest use."""
    used: Moment | None
    room_kg: float | None
    """In a recovery cylinder [kg]."""
    due: int | None
    """Last month in which it may be filled [months since year 0]."""
    low: bool
    warned: bool
    """Its newest weighing does not fit the one before."""
    gone: bool

    @property
    def is_full(self) -> bool:
        """Whether a recovery cylinder takes no more."""
        return self.room_kg is not None and self.room_kg <= 0.0


@dataclass(frozen=True)
class Register:
    """One cylinder as it is now [kg]."""

    kind: CylinderKind
    label: str
    refrigerant: str
    lines: tuple[Line, ...]
    """As they were over."""
    net_kg: float | None
    """What it holds by its last weighing, or by that less what was taken since."""
    by_end_weight: bool
    place: str
    """The van the office named; else empty."""
    technician: str
    """Who used it last."""
    low: bool
    limit: Limit | None
    room_kg: float | None
    due: int | None
    gone: bool
    about: About | None

    @property
    def warned(self) -> bool:
        """What its newest use says against the one before, a missing weight aside."""
        return any(warning.code != NO_END_WEIGHT for warning in self.lines[-1].warnings)


def uses_of(state: State) -> tuple[Movement, ...]:
    """Every cylinder a session used; none for practice."""
    if state.practice:
        return ()
    technician = "" if state.job is None else state.job.technician
    found = [
        Movement(FOR_CHARGING, used, technician, used.added_kg, None, None)
        for used in uses_in(state)
    ]
    found.extend(_recoveries(state, technician))
    return tuple(found)


def abouts_of(state: State) -> tuple[About, ...]:
    """What the office wrote of cylinders in this session's log."""
    found: list[About] = []
    for entry in state.entries:
        if entry.kind in (ABOUT.kind, NEW_KIND) and entry.status == STANDS:
            kind = FOR_RECOVERY if entry.data.get("kind", "") == FOR_RECOVERY else FOR_CHARGING
            fields = read_fields(ABOUT, entry.data)
            label = entry.data.get("label", "")
            found.append(About(kind, label, entry.moment, fields, entry.data))
    return tuple(found)


def register_of(
    uses: Sequence[Movement], abouts: Sequence[About], handbook: Handbook
) -> Register | None:
    """One cylinder by its uses and what the office wrote of it; `None` without a use."""
    if not uses:
        return None
    about: About | None = None
    for one in abouts:
        if about is None or one.moment.at >= about.moment.at:
            about = one
    return _register(_lines(uses), about, handbook)


def on_hand(one: Register) -> OnHand:
    """What the list tells of it."""
    last = one.lines[-1].use
    return OnHand(
        kind=one.kind,
        label=one.label,
        refrigerant=one.refrigerant,
        net_kg=one.net_kg,
        registered=last.registered,
        by_end_weight=one.by_end_weight,
        at_most=not one.by_end_weight and last.weighed.unweighed_shots > 0,
        place=where(one),
        sid=last.weighed.sid,
        used=last.weighed.started,
        room_kg=one.room_kg,
        due=one.due,
        low=one.low,
        warned=one.warned,
        gone=one.gone,
    )


def shows_of(one: OnHand) -> tuple[Show, ...]:
    """The lists it is in; whether its test is due depends on the day."""
    if one.gone:
        return (GONE,)
    found: list[Show] = [IN_USE]
    if one.low:
        found.append(LOW_STOCK)
    if one.warned:
        found.append(MISFIT)
    if one.is_full:
        found.append(NO_ROOM)
    if one.kind == FOR_RECOVERY:
        found.append(RECOVERING)
    return tuple(found)


def stock_kg(one: OnHand) -> float | None:
    """What it adds to the stock [kg]; `None` when it is gone or its weight is not known."""
    return None if one.gone or one.net_kg is None else max(one.net_kg, 0.0)


def due_by(now_month: int) -> int:
    """A test due up to this month is named [months since year 0]."""
    return now_month + DUE_SOON_MONTHS


def where(one: Register) -> str:
    """Van or place; while nobody named it, whoever used it last."""
    if one.place != "":
        return one.place
    return "With " + one.technician if one.technician != "" else "Not known"


def check_about(fields: Fields) -> dict[str, str]:
    """Sentences beside the fields that do not go together."""
    problems = dict(fields.problems)
    if "rc_date" in fields.texts:
        if due_month(fields.texts) is None:
            problems.setdefault("rc_date", "Type month and year, as 06/2024.")
        if "rc_date_means" not in fields.texts:
            problems.setdefault("rc_date_means", "Choose one.")
    return problems


def _register(lines: tuple[Line, ...], about: About | None, handbook: Handbook) -> Register:
    last = lines[-1].use
    texts: Mapping[str, str] = {} if about is None else about.fields.texts
    low = LOW_KG if about is None else about.fields.numbers.get("low", LOW_KG)
    net = _net(last)
    gone = texts.get("fate", "") in FATES_GONE
    refrigerant = last.weighed.refrigerant
    limit: Limit | None = None
    if last.kind == FOR_RECOVERY and last.water_kg is not None:
        name = "" if refrigerant == MIXTURE else refrigerant
        limit = strictest_limit(last.water_kg, name, handbook)
    due = due_month(texts)
    return Register(
        kind=last.kind,
        label=last.weighed.label,
        refrigerant=refrigerant,
        lines=lines,
        net_kg=net,
        by_end_weight=last.weighed.end_kg is not None,
        place=texts.get("van", ""),
        technician=last.technician,
        low=last.kind == FOR_CHARGING and not gone and net is not None and net < low - ROUNDING_KG,
        limit=limit,
        room_kg=None if limit is None or net is None else limit.kg - net,
        due=due if due is not None else last.due,
        gone=gone,
        about=about,
    )


def _net(last: Movement) -> float | None:
    weighed = last.weighed
    if weighed.end_kg is not None:
        return weighed.end_kg - weighed.tare_kg
    if weighed.start_kg is None:
        return None
    return weighed.start_kg - weighed.tare_kg - last.moved_kg


def _lines(group: Sequence[Movement]) -> tuple[Line, ...]:
    """Each against the use that was over last of those begun before it."""
    lines: list[Line] = []
    last: CylinderUse | None = None
    for use in sorted(group, key=_began):
        weighed = use.weighed
        warnings: tuple[LedgerWarning, ...] = ()
        if last is not None and weighed.started is not None:
            if last.refrigerant == "":  # it was registered empty: it held nothing else
                last = replace(last, refrigerant=weighed.refrigerant)
            warnings = between(as_of(last, weighed.started), weighed)
        lines.append(Line(use, warnings))
        if weighed.closed is not None and (last is None or over(weighed) >= over(last)):
            last = weighed
    return tuple(sorted(lines, key=lambda line: _was_over(line.use)))


def _began(use: Movement) -> tuple[bool, int, str]:
    started = use.weighed.started
    return (started is None, 0 if started is None else started.at, use.weighed.sid)


def _was_over(use: Movement) -> tuple[bool, int, str]:
    """Those without a start come last, because they cannot be placed."""
    return (use.weighed.started is None, over(use.weighed), use.weighed.sid)


def _recoveries(state: State, technician: str) -> list[Movement]:
    """Each weighing after a recovery, with the cylinder that was named before it."""
    found: list[Movement] = []
    cylinder: Fields | None = None
    contents: Fields | None = None
    before = Moment("", 0, 0)
    for entry in state.entries:
        if entry.status != STANDS:
            continue
        if entry.kind == "recovery.cylinder":
            cylinder = _understood(entry.kind, entry.data, state.units)
            contents = None
        elif entry.kind == "recovery.contents":
            contents = _understood(entry.kind, entry.data, state.units)
            before = entry.moment
        elif entry.kind == RECOVERED_KIND and cylinder is not None and contents is not None:
            after = _understood(entry.kind, entry.data, state.units)
            if after is not None:
                then = as_before(state, entry.eid)
                use = _recovery(then, technician, cylinder, contents, after)
                weighed = replace(use.weighed, started=before, closed=entry.moment)
                found.append(replace(use, weighed=weighed))
    return found


def _understood(kind: str, data: Mapping[str, str], choice: UnitChoice) -> Fields | None:
    fields = understand(kind, data)
    return None if fields.problems else fields


def _recovery(
    state: State,
    technician: str,
    cylinder: Fields,
    contents: Fields,
    after: Fields,
) -> Movement:
    mixed = unit_is_mixed(state) or contents.texts.get("rc_inside", "") == "mixed"
    name = designation(state.unit_texts)
    before_kg = contents.numbers["rc_before"]
    after_kg = after.numbers["rc_after"]
    weighed = CylinderUse(
        sid=state.sid,
        label=cylinder.texts["rc_label"],
        refrigerant=MIXTURE if mixed or name == "" else name,
        tare_kg=cylinder.numbers["rc_tare"],
        start_kg=before_kg,
        end_kg=after_kg,
        started=None,
        closed=None,
        resolution_kg=None,
        added_kg=before_kg - after_kg,
    )
    return Movement(
        kind=FOR_RECOVERY,
        weighed=weighed,
        technician=technician,
        moved_kg=after_kg - before_kg,
        water_kg=cylinder.numbers["rc_water"],
        due=due_month(cylinder.texts),
    )
