"""Whole made-up sessions: valid, absurd, conflicting, voided, corrected, of two devices.

Most of what is typed makes sense together (a reading of a running unit, a scale that falls as shots
go in), so that every verdict comes up; the rest is what a thumb, a dead scale or a second phone
makes of it. Hypothesis draws which entries there are and a seed for each: drawing every digit would
take longer than folding them, and a session still shrinks entry by entry.
"""

from collections.abc import Callable
from dataclasses import dataclass, field
from random import Random
from typing import Any

from hypothesis import strategies as st

from lowside.core.handbook.fields import CHOICE, NUMBER, REFRIGERANT, Field, Form
from lowside.core.handbook.forms import FORM_OF_KIND, FORMS, READING_FIELDS
from lowside.core.handbook.handbook import Handbook
from lowside.core.handbook.procedure import CHARGE_PAGE
from lowside.core.handbook.saturation import OutOfRange, bubble_pressure, dew_pressure
from lowside.core.handbook.system import BY_CHART, BY_SUBCOOLING, BY_SUPERHEAT, FIXED
from lowside.core.numbers.units import QUANTITIES, show
from lowside.core.pages.addresses import (
    AMEND,
    CURRENT_STEP,
    FORM,
    HOSES,
    STEP,
    TICKET,
    TIMELINE,
    Address,
)
from lowside.core.session.events import Event, hlc

SID = "01JMADE0000000000000SESS01"
DEVICES = ("01JMADE000000000000PHONE01", "01JMADE000000000000PHONE02")
ODD_DEVICES = (*DEVICES, "phone\uff5e", "phone\U0001f527", "")
"""U+FF5E sorts before the wrench by code point and after it by UTF-16 unit."""
FRESH = "01JMADE0000000000000FRESH0"
NOON = 1_764_072_000_000
ATMOSPHERE_PA = 101325.0

ODD_NUMBERS = (
    *("0", "-0", "-1", "−5", "+5", ".5", "5.", ",5", "1,234", "0,125", "1e5", "0x10", "nan"),
    *("inf", "1 000", "\u202f12 ", "\u20031", "٣", "½", "1234567890123456", "99999999999999"),
    *("0.000000000001", "0.0000000000001", "1.2.3", "--1", "abc", "“", "<b>", "\x1c7\x85"),
)
ODD_TEXTS = (
    *(
        "<script>alert('x')</script>",
        "& “quotes” \" ' &amp;",
        "🔧" * 130,
        "é\u0301 ß ǅ",
        "\x85\ufeff",
    ),
    *("{signs} {value}", "$& $1 $$", "a\nb\tc", "x" * 119 + "🔧", "constructor", "7", "\ufeff."),
)
KINDS_OF_NOBODY = ("weather.seen", "reading", "", "toString", "__proto__")

USUAL: dict[str, tuple[float, float]] = {
    "elevation": (0.0, 1500.0),
    "capacity": (3000.0, 20000.0),
    "nameplate_charge": (1.0, 8.0),
    "line_length": (0.0, 50.0),
    "line_included": (0.0, 10.0),
    "line_adder": (0.0, 0.1),
    "high_side_limit": (2.0e6, 4.5e6),
    "maker_subcooling": (2.0, 9.0),
    "maker_superheat": (3.0, 12.0),
    "maker_approach": (2.0, 8.0),
    "rated_amps": (5.0, 40.0),
    "static_limit": (100.0, 250.0),
    "maker_tolerance": (0.3, 3.0),
    "cylinder_tare": (5.0, 13.0),
    "cylinder_pressure": (2.0e5, 2.0e6),
    "cylinder_temperature": (275.0, 312.0),
    "hose_length": (0.5, 3.0),
    "hose_bore": (0.003, 0.01),
    "gross": (12.0, 25.0),
    "scale_reading": (0.0, 25.0),
    "scale_resolution": (0.001, 0.05),
    "scale_before": (0.0, 25.0),
    "scale_after": (0.0, 25.0),
    "suction_pressure": (3.0e5, 1.3e6),
    "suction_line": (270.0, 300.0),
    "liquid_pressure": (0.9e6, 3.8e6),
    "liquid_line": (290.0, 328.0),
    "outdoor_dry_bulb": (283.0, 322.0),
    "return_dry_bulb": (287.0, 306.0),
    "return_wet_bulb": (283.0, 299.0),
    "return_humidity": (0.02, 1.0),
    "supply_dry_bulb": (277.0, 296.0),
    "compressor_amps": (1.0, 40.0),
    "static_pressure": (50.0, 300.0),
}
"""Range [SI] of what is usually typed into each field."""


SEEDS = st.integers(0, 2**32 - 1)


@dataclass
class _Drawn:
    """A session being made up."""

    draw: Callable[[st.SearchStrategy[Any]], Any]
    handbook: Handbook
    random: Random = field(default_factory=Random)
    texts: tuple[str, ...] = ODD_TEXTS
    metering: str = ""
    events: list[Event] = field(default_factory=list)
    at: int = NOON
    mono: int = 1000
    run: str = "run1"
    refrigerant: str = "R-410A"
    scale_kg: float = 20.0
    seqs: dict[str, int] = field(default_factory=dict)

    def begin(self) -> None:
        """The next entry: a seed of its own, so that dropping one leaves the others alone."""
        self.random = Random(self.draw(SEEDS))

    def whole(self, low: int, high: int) -> int:
        return self.random.randint(low, high)

    def one_in(self, n: int) -> bool:
        return self.random.randrange(n) == 0

    def pick(self, choices: Any) -> Any:
        return choices[self.whole(0, len(choices) - 1)]

    def between(self, low: float, high: float) -> float:
        return low + (high - low) * self.whole(0, 1000) / 1000.0

    # Clocks and identities

    def add(self, kind: str, data: dict[str, str]) -> None:
        self._tick()
        device = DEVICES[0]
        if self.one_in(6):
            device = self.pick(ODD_DEVICES)
        seq = self.seqs.get(device, 0) + 1
        self.seqs[device] = seq
        number = len(self.events) + 1
        clock = hlc(self.at, 0) if not self.one_in(12) else hlc(NOON, number)
        event = Event(
            sid=SID,
            dev=device,
            seq=seq,
            eid=f"01JMADE0000000000000EVNT{number:02d}",
            hlc=clock,
            at=self.at,
            tz=self.pick((0, -300, 330)) if self.one_in(8) else -360,
            mono=self.mono,
            run=self.run,
            kind=kind,
            data=data,
        )
        self.events.append(event)
        if self.one_in(25):
            self.events.append(event)

    def _tick(self) -> None:
        step = self.whole(1, 600_000)
        self.at += step
        self.mono += step
        if self.one_in(15):
            self.at += self.pick((86_400_000, -86_400_000, 5000, -1_900))
        if self.one_in(15):
            self.run = self.pick(("run1", "run2"))

    # What is typed

    def number(self, name: str, quantity: str, si: float, data: dict[str, str]) -> None:
        """Type a value in one of its units, now and then badly."""
        unit = self.pick(tuple(QUANTITIES[quantity])) if self.one_in(4) else _usual_unit(quantity)
        data[name + "_unit"] = unit
        if self.one_in(30):
            data[name] = self.pick(ODD_NUMBERS)
            data[name + "_unit"] = self.pick((unit, "", "furlong", "lb+oz"))
        elif unit == "lb+oz":
            _type_pounds(name, si, data, self.one_in(4))
        else:
            data[name] = show(quantity, si, unit).replace("\u2212", "-")
            if self.one_in(10):
                data[name] = " " + data[name].replace(".", ",") + "\t"

    def fill(self, form: Form) -> dict[str, str]:
        data: dict[str, str] = {}
        for one in form.fields:
            if self.one_in(4 if not one.required else 25):
                continue
            self.field(one, data)
        return data

    def field(self, one: Field, data: dict[str, str]) -> None:
        if one.kind == NUMBER:
            low, high = USUAL.get(one.name, (one.lowest, one.highest))
            self.number(one.name, one.quantity, self.between(low, high), data)
        elif one.kind == CHOICE:
            codes = [code for code, _ in one.choices]
            data[one.name] = "perhaps" if self.one_in(30) else self.pick(codes)
        elif one.kind == REFRIGERANT:
            data[one.name] = "R-999" if self.one_in(25) else self.refrigerant
        elif self.one_in(6):
            data[one.name] = self.pick(self.texts)
        else:
            data[one.name] = self.pick(("Bakery", "AC-2 roof", "Kim", "Old valve, new coil"))

    def reading(self) -> dict[str, str]:
        """A set of readings: two of three belong to a running unit, a third is anything."""
        data: dict[str, str] = {}
        si = {one.name: self.between(*USUAL[one.name]) for one in READING_FIELDS}
        if not self.one_in(3):
            si |= self.of_a_running_unit()
        for one in READING_FIELDS:
            asked = one.name.split("_", maxsplit=1)[0] in ("suction", "liquid")
            if not self.one_in(15 if asked else 6):
                self.number(one.name, one.quantity, si[one.name], data)
        if self.one_in(4):
            data["drier"] = self.pick((*("same",) * 3, "not reached", "colder ", "perhaps"))
        return data

    def of_a_running_unit(self) -> dict[str, float]:
        """Air, saturation and lines that can be seen together."""
        table = self.handbook.tables[self.refrigerant]
        outdoor = self.between(286.0, 316.0)
        indoor = self.between(294.0, 300.0)
        dew = indoor - self.between(10.0, 28.0)
        bubble = outdoor + self.between(4.0, 22.0)
        si = {
            "outdoor_dry_bulb": outdoor,
            "return_dry_bulb": indoor,
            "return_wet_bulb": indoor - self.between(2.0, 9.0),
            "supply_dry_bulb": indoor - self.between(6.0, 14.0),
            "suction_line": dew + self.between(-0.5, 16.0),
            "liquid_line": bubble - self.between(-0.5, 11.0),
        }
        suction = dew_pressure(table, dew)
        liquid = bubble_pressure(table, bubble)
        if not isinstance(suction, OutOfRange) and not isinstance(liquid, OutOfRange):
            si["suction_pressure"] = suction - ATMOSPHERE_PA
            si["liquid_pressure"] = liquid - ATMOSPHERE_PA
        return si

    def take(self) -> None:
        self.begin()
        self.add(self.pick(("reading.taken", "reading.taken", "reading.final")), self.reading())

    def shot(self) -> None:
        self.begin()
        data: dict[str, str] = {}
        if self.one_in(3):
            self.number("scale_before", "mass", max(self.scale_kg, 0.0), data)
        shot = "nowhere"
        if not self.one_in(20):
            self.add("shot.opened", data)
            shot = self.events[-1].eid
        self.scale_kg += self.between(-0.4, 0.05)
        data = {}
        if not self.one_in(8):
            self.number("scale_after", "mass", max(self.scale_kg, 0.0), data)
        if self.one_in(3):
            if not self.one_in(20):
                self.add("shot.closed", data)
            return
        self.add("shot.closed", {})
        if "scale_after" in data or "scale_after_oz" in data:
            self.add("shot.weighed", {**data, "shot": shot})
        elif self.one_in(2):
            self.add("shot.unweighed", {"shot": shot})

    def correct(self) -> None:
        """Void or amend an entry that exists, or one that does not."""
        self.begin()
        target = self.pick(self.events)
        eid = "01JMADE000000000000NOWHERE" if self.one_in(8) else target.eid
        if self.one_in(2) or target.kind not in FORM_OF_KIND:
            self.add("event.voided", {"target": eid, "reason": self.pick(("slip", "<slip>"))})
        else:
            self.add("event.amended", {"target": eid, **self.fill(FORM_OF_KIND[target.kind])})

    def by_form(self, name: str) -> None:
        self.begin()
        form = FORMS[name]
        data = self.fill(form)
        if name == "machine" and not self.one_in(4):
            data |= {"mode": "cooling", "compressor": "full", "kind": "split"}
        if name == "unit" and not self.one_in(4):
            data |= {"coil": "tube_fin", "receiver": "no"}
        if name == "unit":
            self.metering = data.get("metering", "")
        if name == "target" and not self.one_in(4):
            by_hand = (BY_SUPERHEAT, BY_CHART)
            data["method"] = self.pick(by_hand) if self.metering == FIXED else BY_SUBCOOLING
        if self.one_in(2):
            data["step"] = self.pick(_steps(self.handbook))
        self.add(form.kind, data)


def _steps_of(handbook: Handbook, form: str) -> tuple[str, ...]:
    """Steps that this form completes."""
    (procedure, *_) = handbook.procedures.values()
    own = "" if form == "done" else form
    return tuple(step.id for step in procedure.steps + procedure.walk_steps if step.form == own)


def _steps(handbook: Handbook) -> tuple[str, ...]:
    procedure = next(iter(handbook.procedures.values()))
    return (*(step.id for step in procedure.steps + procedure.walk_steps), "no-such-step")


def _usual_unit(quantity: str) -> str:
    return next(iter(QUANTITIES[quantity]))


def _type_pounds(name: str, si: float, data: dict[str, str], one_box: bool) -> None:
    parts = show("mass", abs(si), "lb+oz").replace(" oz", "").split(" lb ")
    pounds, ounces = parts if len(parts) == 2 else ("", parts[0])
    data[name] = pounds
    data[name + "_oz"] = ounces
    if one_box:
        del data[name + "_oz"]


FIRST = ("job", "unit", "machine", "target", "preconditions", "cylinder", "start_weight", "tare")
LAST = ("final_reading", "end_weight", "reconcile", "record")
OFTEN = ("shot", "shot", "shot", "read", "read", "correct", "done", "unknown", *FORMS)


@st.composite
def sessions(draw: Any, handbook: Handbook) -> list[Event]:
    """The events of one session, in the order they reach the fold."""
    made = _Drawn(draw, handbook, texts=(*ODD_TEXTS, *draw(st.lists(st.text(), max_size=2))))
    made.begin()
    made.refrigerant = made.pick(("R-410A", "R-410A", *handbook.tables))
    procedure = made.pick(tuple(handbook.procedures))
    if not made.one_in(30):
        data = {"procedure": procedure, "tables": handbook.version, "rules": "1"}
        if made.one_in(10):
            data = {"procedure": "nobody's", "practice": "yes"}
        made.add("session.started", data)
    if made.one_in(4):
        made.by_form("units")
    for name in FIRST:
        for _ in range(made.pick((1,) * 12 + (0, 2))):
            made.by_form(name)
    for _ in range(made.whole(0, 2)):
        made.take()
    if not made.one_in(5):
        made.by_form("decide")
    for what in draw(st.lists(st.sampled_from(OFTEN), max_size=6)):
        _something(made, what)
    for name in LAST if draw(st.booleans()) else ():
        if not made.one_in(5):
            made.by_form(name)
    if draw(st.integers(0, 2)) == 2 and made.events:
        made.correct()
    if draw(st.integers(0, 5)) == 5:
        made.events.reverse()
    return made.events


def _something(made: _Drawn, what: str) -> None:
    if what == "shot":
        made.shot()
    elif what == "read":
        made.take()
    elif what == "correct" and made.events:
        made.correct()
    elif what in FORMS:
        made.by_form(what)
    else:
        made.begin()
        made.add(made.pick(KINDS_OF_NOBODY), {"10": "b", "9": "a", "step": "baseline"})


def charging_step(handbook: Handbook) -> Address:
    """The step at which the shots are given."""
    procedure = next(iter(handbook.procedures.values()))
    steps = [step.id for step in procedure.steps if step.page == CHARGE_PAGE]
    return Address(STEP, SID, steps[0])


def hoses_page(handbook: Handbook) -> Address:
    """The pictures of the first step at which a valve is turned."""
    procedure = next(iter(handbook.procedures.values()))
    return Address(HOSES, SID, next(step.id for step in procedure.steps if step.actions))


@st.composite
def addresses(draw: Any, handbook: Handbook, events: list[Event]) -> Address:
    """A page of the session, sometimes one that is not there."""
    page = draw(
        st.sampled_from((CURRENT_STEP, STEP, STEP, STEP, HOSES, FORM, TIMELINE, TICKET, AMEND))
    )
    if page == HOSES and not draw(st.sampled_from((False, False, True))):
        procedure = handbook.procedures[draw(st.sampled_from(tuple(handbook.procedures)))]
        at_hoses = [step.id for step in procedure.steps if step.actions]
        return Address(page, SID, draw(st.sampled_from(at_hoses)))
    if page in (STEP, HOSES):
        return Address(page, SID, draw(st.sampled_from(_steps(handbook))))
    if page == FORM:
        return Address(page, SID, draw(st.sampled_from((*FORMS, "no-such-form"))))
    if page == AMEND:
        eids = [event.eid for event in events]
        return Address(page, SID, draw(st.sampled_from((*eids, "nowhere"))))
    if page == TIMELINE:
        return Address(page, SID, draw(st.sampled_from(("", "1", "3", "0", "x", "²", "9" * 12))))
    return Address(page, SID)


@st.composite
def posts(draw: Any, handbook: Handbook, events: list[Event]) -> tuple[Address, dict[str, str]]:
    """Where a form is posted and what it sends."""
    made = _Drawn(draw, handbook)
    made.begin()
    made.refrigerant = made.pick(("R-410A", *handbook.tables))
    known = [event for event in events if event.kind in FORM_OF_KIND]
    if known and made.one_in(8):
        # The same form once more, as a double tap or a lost answer sends it.
        twice = made.pick(known)
        typed = {**twice.data, "eid": twice.eid, "back": ""}
        return Address(FORM, SID, FORM_OF_KIND[twice.kind].name), typed
    if known and made.one_in(4):
        target = made.pick(known)
        address = Address(AMEND, SID, target.eid)
        form = FORM_OF_KIND[target.kind]
    else:
        form = FORMS[made.pick(tuple(FORMS))]
        address = Address(FORM, SID, form.name)
    reads = form.name in ("reading", "final_reading")
    typed = made.reading() if reads else made.fill(form)
    typed["eid"] = made.pick(tuple(event.eid for event in events)) if made.one_in(5) else FRESH
    typed["back"] = made.pick(("", "/s/" + SID + "/timeline", "/s/other/timeline", "//x", "/"))
    # Mostly a step of its own, which alone is accepted.
    typed["step"] = made.pick(("", "", *_steps(handbook)))
    if not made.one_in(3):
        typed["step"] = made.pick(("", *_steps_of(handbook, form.name)))
    if form.name == "void" and known and not made.one_in(4):
        typed["target"] = made.pick(known).eid
    if made.one_in(8):
        typed["surplus"] = "x"
    return address, typed
