"""A filled-in form in, an event's content and the next page out; the same on server and phone."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from lowside.core.advice.advice import ADD, Advice, advise
from lowside.core.advice.against import why_no_shot
from lowside.core.handbook.fields import Form, read_fields, typed_names
from lowside.core.handbook.forms import FORMS
from lowside.core.handbook.handbook import Handbook
from lowside.core.handbook.procedure import (
    RECOVER_STAGE,
    WEIGH_IN_STAGE,
    Step,
    off_neighbors,
    step_by_id,
    walk_neighbors,
    walk_of,
)
from lowside.core.numbers.unit_choice import small_mass_unit
from lowside.core.numbers.units import show
from lowside.core.pages import addresses
from lowside.core.pages.addresses import (
    AMEND,
    CURRENT_STEP,
    FORM,
    FORM_TARGETS,
    STEP,
    TIMELINE,
    Address,
    parse_path,
)
from lowside.core.pages.form import asked_of
from lowside.core.pages.page import NoPage
from lowside.core.pages.screen import SHOWN, Attempt
from lowside.core.pages.sheet import PART, WITH
from lowside.core.session.apart import REPLACES, naming
from lowside.core.session.entry import Accepted, accept, accept_amendment
from lowside.core.session.events import FIRST_KIND, Moment, age_s
from lowside.core.session.final_wait import WHY_EARLY, early_now
from lowside.core.session.last_end import ALIKE, all_as_then
from lowside.core.session.last_visit import LastVisit, last_visit
from lowside.core.session.permission import mode_over
from lowside.core.session.reads import SHOTS_KNOWN, begun
from lowside.core.session.shots import PLANNED
from lowside.core.session.state import (
    READING_KINDS,
    STANDS,
    Entry,
    State,
    find_entry,
    last_shot_lacks,
    latest_reading,
    withdrawal_of,
)
from lowside.core.session.steady import BREAK_S, COUNTED, by_the_record, still_counts
from lowside.core.session.taps import tapped_again
from lowside.core.session.ulids import is_ulid
from lowside.core.session.weighing import verdict_of_test

SHOT_FORMS = ("shot_open", "shot_close", "shot_weigh", "shot_unweighed")

PROGRAM = "1"
"""Version of the rules a session was started under, written into its first event."""


ALL_GOOD = "all_good"
"""What the button sends that answers a whole checklist."""

HIDDEN = ("eid", "step", "back", "shot", ALL_GOOD, WITH, PART, SHOWN)
"""Fields every form carries beside what the technician typed."""
NOT_TYPED = ("target", "shot", REPLACES, SHOTS_KNOWN, *PLANNED)
"""What an entry keeps beside it."""

SETTLE_FIRST = (
    "The unit has not settled, so the figures do not show how it is left. Wait until the countdown "
    "is over and read again, or write why you cannot."
)

READ_AGAIN = "Every box is as it was written last. Read all gauges again, and correct what differs."

SAVED_BEFORE = (
    "This was saved before, with other values or void since. Save again to add what it says now."
)

NEXT_PART: dict[str, str] = {"": "1", "1": "2", "2": "3"}
"""The mark of the part after this one. It is a letter of that part's id, where no page's own forms
have one (see `Screen.eid`)."""


@dataclass(frozen=True)
class Part:
    """The next form of a page that has several: recorded after the one before is kept."""

    address: Address
    sent: Mapping[str, str]


@dataclass(frozen=True)
class Record:
    """Write this event under `eid`, then go on with `rest`; without one show `next_path`."""

    eid: str
    kind: str
    data: Mapping[str, str]
    next_path: str
    rest: Part | None = None


@dataclass(frozen=True)
class AlreadyRecorded:
    """The same form was sent before, or its page came up under a second tap, or nothing was typed
    into this part of a page: nothing to write. Go on with `rest`; without one show `next_path`."""

    next_path: str
    rest: Part | None = None


@dataclass(frozen=True)
class Refusal:
    """Write nothing; show `address` again with everything typed and what is wrong."""

    address: Address
    attempt: Attempt


def record_form(
    state: State,
    address: Address,
    sent: Mapping[str, str],
    handbook: Handbook,
    now: Moment,
    visits: Sequence[LastVisit] = (),
) -> Record | AlreadyRecorded | Refusal:
    """Decide what a posted form becomes.

    Args:
        state: the session so far, folded with the same handbook.
        address: where it was posted: a FORM page with the form's name, or an AMEND page with the
            entry's eid.
        sent: every field sent, with the hidden `eid`, `step` and `back`.
        handbook: what judges plausibility.
        now: the clocks, which tell a second tap that fell on the next page.
        visits: what other sessions say of units; needed where `held_against_visits` says so.
    """
    now = by_the_record(state, now)
    name = address.about
    typed = _with_the_rest_good(state, name, sent, now)
    if address.page == AMEND:
        accepted = accept_amendment(state, address.about, typed, handbook)
        name = "amend"
    else:
        accepted = accept(state, address.about, typed, handbook)
    beside = _steps_of(state, sent.get(WITH, ""), handbook)
    own = _own(name, typed) if WITH in sent else typed
    rest = _rest(address.sid, sent, beside)
    earlier = find_entry(state, typed.get("eid", ""))
    if earlier is not None and _says_the_same(earlier, own):
        return AlreadyRecorded(_next_path(address, typed, state, handbook), rest)
    if address.page == FORM and tapped_again(state, address.about, now, typed.get("eid", "")):
        return AlreadyRecorded(_same_path(address, typed, state, handbook))
    if not isinstance(accepted, Accepted):
        if sent.get(PART, "") != "" and not _is_typed(name, beside, typed):
            return AlreadyRecorded(addresses.current(state.sid))
        problems = _problems_of_all(accepted.problems, beside, typed)
        attempt = Attempt(name, typed, problems, accepted.message)
        return Refusal(_address_again(state, address, typed), attempt)
    if earlier is not None:
        # Back and Save again: the page is older than its own entry.
        saved = Attempt(name, typed, {}, SAVED_BEFORE)
        return Refusal(_address_again(state, address, typed), saved)
    data = accepted.data
    shown = sent[SHOWN].split(" ") if SHOWN in sent else []
    if name == "shot_open":
        advice = advise(state, now)
        against = why_no_shot(state, advice)
        for over in mode_over(state, now):
            against = f"{over.sentence} {over.cure}"
        if against != "":
            return Refusal(_address_again(state, address, typed), Attempt(name, typed, {}, against))
        data = _with_the_plan(state, data, advice)
    elif accepted.kind in READING_KINDS:
        shots = begun(state.entries)
        knew = [n for n in range(shots) if shown and shown[0] == str(n)]
        data = {**data, SHOTS_KNOWN: str(knew[0] if knew else shots)}
    asked = _asked_back(state, name, typed, handbook, now, visits)
    if asked:
        return Refusal(_address_again(state, address, typed), Attempt(name, typed, asked))
    about = find_entry(state, address.about) if address.page == AMEND else None
    answers = state.answers.get(accepted.kind if about is None else about.kind, [])
    data = naming(data, answers, now.run, shown)
    path = _next_path(address, typed, state, handbook)
    return Record(typed.get("eid", ""), accepted.kind, data, path, rest)


def posted_to(path: str, sent: Mapping[str, str]) -> Address | NoPage:
    """Where this form is recorded, or why it is not one of ours."""
    address = parse_path(path)
    if address is None or address.page not in FORM_TARGETS:
        return NoPage("There is nothing to save at this address.")
    if not is_ulid(sent.get("eid", "")):
        return NoPage("This form came from an unknown page. Open the session and try again.")
    return address


def held_against_visits(state: State, name: str) -> bool:
    """Whether this form is held against the unit's earlier visits: a session's first reading is."""
    return name == "reading" and not state.readings


def _asked_back(
    state: State,
    name: str,
    typed: Mapping[str, str],
    handbook: Handbook,
    now: Moment,
    visits: Sequence[LastVisit],
) -> dict[str, str]:
    """What is possible but hardly meant: the question, beside the field that answers it. A filled
    field is not asked again."""
    if name == "final_reading" and typed.get(WHY_EARLY, "").strip() == "":
        too_soon = early_now(state, now, handbook)
        if too_soon != "":
            return {WHY_EARLY: "This is " + too_soon + ". " + SETTLE_FIRST}
    if name != "reading" or typed.get(ALIKE, "").strip() != "":
        return {}
    before = last_visit(visits, state) if held_against_visits(state, name) else None
    old = None if before is None else before.reading
    latest = latest_reading(state)
    if latest is not None and age_s(latest.moment, now) > BREAK_S:
        entry = find_entry(state, latest.eid)
        old = None if entry is None else entry.data
    return {ALIKE: READ_AGAIN} if all_as_then(old, typed) else {}


def _with_the_plan(state: State, data: Mapping[str, str], advice: Advice) -> Mapping[str, str]:
    """What a shot's start keeps of its advice, in the words of its page."""
    kept = {name: text for name, text in data.items() if name not in PLANNED}
    if advice.action != ADD or advice.amount_kg is None:
        return kept
    kept["planned_unit"] = small_mass_unit(state.units)
    kept["planned"] = show("mass", advice.amount_kg, kept["planned_unit"])
    if advice.rate_kg_s is not None:
        kept["planned_time"] = str(int(advice.amount_kg / advice.rate_kg_s))
        kept["planned_time_unit"] = "s"
    return kept


def _steps_of(state: State, names: str, handbook: Handbook) -> list[Step]:
    """The other steps of the page a form came from, as it names them."""
    found: list[Step] = []
    procedure = handbook.procedures.get(state.procedure)
    if procedure is None or names == "":
        return found
    for name in names.split(" "):
        step = step_by_id(procedure, name)
        if step is not None and step.form in FORMS:
            found.append(step)
    return found


def _rest(sid: str, sent: Mapping[str, str], beside: list[Step]) -> Part | None:
    """The next part of the page, with an id of its own that is the same each time it is sent."""
    after = NEXT_PART.get(sent.get(PART, ""), "")
    if not beside or after == "":
        return None
    eid = sent.get("eid", "")
    part = dict(sent)
    part["eid"] = eid[:23] + after + eid[24:]
    part["step"] = beside[0].id
    part[PART] = after
    part[WITH] = " ".join([step.id for step in beside[1:]])
    return Part(Address(FORM, sid, beside[0].form), part)


def _own(name: str, typed: Mapping[str, str]) -> Mapping[str, str]:
    """What belongs to this form, of a page that has several."""
    form = FORMS.get(name)
    if form is None:
        return typed
    names = typed_names(form)
    return {one: text for one, text in typed.items() if one in HIDDEN or one in names}


def _is_typed(name: str, beside: list[Step], typed: Mapping[str, str]) -> bool:
    """Whether a hand wrote anything into this part of a page or one after it."""
    forms = [FORMS[name]] if name in FORMS else []
    forms.extend([FORMS[step.form] for step in beside])
    return any(_has_text(form, typed) for form in forms)


def _has_text(form: Form, typed: Mapping[str, str]) -> bool:
    return any(typed.get(field.name, "").strip() != "" for field in form.fields)


def _problems_of_all(
    own: Mapping[str, str], beside: list[Step], typed: Mapping[str, str]
) -> Mapping[str, str]:
    """Also what is wrong in the parts below, so that it is all seen at once."""
    problems = dict(own)
    for step in beside:
        form = FORMS[step.form]
        if _has_text(form, typed):
            for name, sentence in read_fields(form, typed).problems.items():
                problems[name] = sentence
    return problems


def _with_the_rest_good(
    state: State, name: str, sent: Mapping[str, str], now: Moment
) -> Mapping[str, str]:
    """What one tap on “all as it should be” says: every question of the checklist that has no
    answer of its own is answered the way it should be. That the unit ran steadily is not said by
    it while the page's own countdown runs."""
    if sent.get(ALL_GOOD, "") == "" or name not in FORMS:
        return sent
    typed = dict(sent)
    for field in FORMS[name].fields:
        if field.good != "" and typed.get(field.name, "") == "" and asked_of(state, field):
            counted = field.name == "steady" and still_counts(state, now)
            typed[field.name] = COUNTED if counted else field.good
    return typed


def record_start(typed: Mapping[str, str], handbook: Handbook) -> Record | None:
    """What a session begins with, to be written unless it has begun already; `None` when the form
    is not one of ours."""
    sid = typed.get("sid", "")
    eid = typed.get("eid", "")
    data = start_data(typed, handbook)
    if data is None or not is_ulid(sid) or not is_ulid(eid):
        return None
    return Record(eid, FIRST_KIND, data, addresses.current(sid))


def start_data(typed: Mapping[str, str], handbook: Handbook) -> dict[str, str] | None:
    """Data of a session's first event, or `None` when it names no known procedure."""
    procedure = typed.get("procedure", "")
    if procedure not in handbook.procedures:
        return None
    data = {"procedure": procedure, "tables": handbook.version, "rules": PROGRAM}
    units = read_fields(FORMS["units"], typed)
    # Those of this phone's last session; a form without them starts with the usual ones.
    return data if units.problems else data | dict(units.texts)


def _says_the_same(earlier: Entry, typed: Mapping[str, str]) -> bool:
    if earlier.status != STANDS:
        return False
    for name, text in earlier.written.items():
        if name not in NOT_TYPED and typed.get(name, "") != text:
            return False
    for name, text in typed.items():
        ignored = name in HIDDEN or name.endswith("_unit")
        if not ignored and text.strip() != "" and name not in earlier.written:
            return False
    return True


def _address_again(state: State, address: Address, typed: Mapping[str, str]) -> Address:
    """The page a refused form came from; of a closed session one that still has the form."""
    if address.page == AMEND:
        return address
    if address.about == "void":
        return Address(TIMELINE, address.sid)
    if address.about in SHOT_FORMS and (state.closed is None or last_shot_lacks(state)):
        return Address(CURRENT_STEP, address.sid)
    if state.closed is None:
        step = typed.get("step", "")
        if step != "":
            return Address(STEP, address.sid, step)
    return Address(FORM, address.sid, address.about)


def _same_path(address: Address, typed: Mapping[str, str], state: State, handbook: Handbook) -> str:
    """The page whose button was tapped before it could be read."""
    step = typed.get("step", "")
    if step != "":
        return addresses.step(address.sid, step)
    return _next_path(address, typed, state, handbook)


def _next_path(address: Address, typed: Mapping[str, str], state: State, handbook: Handbook) -> str:
    at_the_end = {"discard": addresses.home(), "record": addresses.ticket(address.sid)}
    if address.about in at_the_end:
        return at_the_end[address.about]
    back = parse_path(typed.get("back", ""))
    if address.page == AMEND:
        if back is not None and back.sid == address.sid:
            return addresses.path(back)
        return addresses.timeline(address.sid)
    if address.about == "pressure_test":
        test = read_fields(FORMS["pressure_test"], typed)
        if not test.problems and not verdict_of_test(test).passed:
            return addresses.step(address.sid, "wi_pressure")
    if typed.get("step", "") != "":
        procedure = handbook.procedures.get(state.procedure)
        if procedure is not None:
            after = off_neighbors(procedure, typed["step"], withdrawal_of(state))[1]
            if after is None:
                after = walk_neighbors(procedure, typed["step"])[1]
            chosen = typed.get("rc_next", "")
            if chosen == "another":
                after = walk_of(procedure, RECOVER_STAGE)[1]
            elif chosen == "weigh_in":
                after = walk_of(procedure, WEIGH_IN_STAGE)[0]
            if after is not None:
                return addresses.step(address.sid, after.id)
        return addresses.current(address.sid)
    if back is not None and back.sid == address.sid:
        return addresses.path(back)
    return addresses.current(address.sid)
