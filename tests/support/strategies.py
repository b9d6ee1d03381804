"""Generated sessions and ready-made ones: what the property tests of both languages draw from.

`sessions()` gives every kind of record a store may hold: sensible entries beside absurd and
half-filled ones, unknown kinds, voids, amendments, two devices whose clocks disagree, clocks
that were set and programs that were restarted. `Book` writes sessions by hand, entry by entry.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace

from hypothesis import strategies as st

from lowside.core.handbook.fields import CHOICE, NUMBER, REFRIGERANT, Field, Form
from lowside.core.handbook.forms import FORMS
from lowside.core.numbers.units import QUANTITIES
from lowside.core.session.events import Event, next_hlc
from lowside.core.session.ulids import CROCKFORD_32
from lowside.practice.technician import CHECKED_ALWAYS

START = 1_795_620_000_000
"""2026-11-25 [ms since 1970-01-01 UTC]."""
PROCEDURE = "hand-valved-three-port"

TYPICAL: dict[str, tuple[int, int]] = {
    "psig": (0, 450),
    "kPa": (0, 3100),
    "bar": (0, 31),
    "°F": (30, 125),
    "°C": (0, 50),
    "lb+oz": (0, 60),
    "lb oz": (0, 60),
    "lb": (0, 60),
    "oz": (0, 900),
    "kg": (0, 30),
    "g": (0, 30_000),
    "ft": (0, 8000),
    "m": (0, 2500),
    "in": (0, 1),
    "mm": (2, 20),
    "oz/ft": (0, 2),
    "g/m": (0, 60),
    "ton": (1, 10),
    "kW": (3, 40),
    "%": (0, 100),
    "in wc": (0, 3),
    "Pa": (20, 700),
    "A": (0, 60),
    "s": (0, 900),
    "microns": (0, 2000),
    "min": (0, 60),
}
"""Whole numbers an instrument might show in each unit."""

ABSURD = st.sampled_from(
    (
        "",
        "abc",
        "-1",
        "0",
        "1e3",
        "5,280",
        "999999999",
        "١٢",
        "−400",
        ".",
        "<b>",
        "12345678901234567",
    )
)
REFRIGERANTS = st.sampled_from(("R-410A", "R-22", "R-454B", "R-290", "R-407C", "R-000", ""))


def ulid(number: int, ms: int = START) -> str:
    """The ULID of a number below 2^80."""
    value = (ms << 80) | number
    characters = []
    for _ in range(26):
        characters.append(CROCKFORD_32[value & 31])
        value >>= 5
    return "".join(reversed(characters))


SID = ulid(1)


@dataclass
class Book:
    """Writes one session's events as one device would, its clocks moved by hand."""

    sid: str = SID
    dev: str = "phone-a"
    run: str = "run-1"
    at: int = START
    mono: int = 0
    seen: str = ""
    """The latest clock value this device knows of, as a hybrid logical clock keeps it."""
    events: list[Event] = field(default_factory=list)

    def wait(self, seconds: float) -> "Book":
        """Let both clocks run."""
        self.at += int(seconds * 1000)
        self.mono += int(seconds * 1000)
        return self

    def write(self, kind: str, data: Mapping[str, str] | None = None, after_s: float = 10) -> Event:
        """Write one event `after_s` after the one before and return it."""
        self.wait(after_s)
        number = len(self.events) + 1
        self.seen = next_hlc(self.seen, self.at)
        salt = int.from_bytes(self.dev.encode(), "big") % (1 << 40)
        event = Event(
            sid=self.sid,
            dev=self.dev,
            seq=number,
            eid=ulid((salt << 20) + number, self.at),
            hlc=self.seen,
            at=self.at,
            tz=-360,
            mono=self.mono,
            run=self.run,
            kind=kind,
            data=dict(data or {}),
        )
        self.events.append(event)
        return event

    def form(self, name: str, after_s: float = 10, **typed: str) -> Event:
        """Write what a form would: `gross="27 lb+oz"` sets both the number and its unit."""
        return self.write(FORMS[name].kind, with_units(name, typed), after_s)


def with_units(form_name: str, typed: Mapping[str, str]) -> dict[str, str]:
    """`{"gross": "27 lb"}` as a form sends it: `{"gross": "27", "gross_unit": "lb"}`."""
    numbers = {f.name for f in FORMS[form_name].fields if f.kind == NUMBER}
    data = {}
    for name, text in typed.items():
        if name in numbers and " " in text:
            data[name], data[name + "_unit"] = text.split(" ")
        else:
            data[name] = text
    return data


CIRCUIT = {"coil": "tube_fin", "receiver": "no"}
MACHINE = {"mode": "cooling", "compressor": "full", "kind": "split"}

READING = {
    "suction_pressure": "124 psig",
    "suction_line": "62 °F",
    "liquid_pressure": "348 psig",
    "liquid_line": "104 °F",
    "outdoor_dry_bulb": "90 °F",
    "return_dry_bulb": "77 °F",
}
"""A plausible reading of an undercharged R-410A unit."""


def by_superheat(book: Book) -> None:
    """Change its unit to a fixed orifice that is charged by the manufacturer's superheat."""
    book.form("unit", refrigerant="R-410A", metering="fixed", capacity="3 ton", **CIRCUIT)
    book.form("target", method="superheat", maker_superheat="12 °F")


def set_up(book: Book) -> Book:
    """From the start to a weighed cylinder on a gross-reading scale: an R-410A unit with a TXV."""
    book.write("session.started", {"procedure": PROCEDURE})
    book.form("job", site="Mill Lane", unit_label="AC-1", technician="I. Varga", elevation="0 ft")
    book.form("unit", refrigerant="R-410A", metering="txv", capacity="3 ton", **CIRCUIT)
    book.form("machine", **MACHINE)
    book.form("target", method="subcooling", maker_subcooling="10 °F")
    book.form("preconditions", **CHECKED_ALWAYS)
    book.form(
        "cylinder",
        cylinder_label="C-1",
        cylinder_refrigerant="R-410A",
        cylinder_tare="7 lb",
        withdrawal="invert",
    )
    book.form("start_weight", gross="27 lb")
    book.form("tare", scale_mode="gross", scale_reading="27.5 lb", scale_resolution="0.5 oz")
    return book


def ready_to_charge(book: Book) -> Book:
    """`set_up`, a baseline reading and the decision to add."""
    set_up(book)
    book.form("reading", **READING)
    book.form("decide", decision="add")
    return book


# Generated


@st.composite
def numbers(draw: st.DrawFn, unit: str) -> str:
    """A number as typed, about what an instrument would show in `unit`."""
    low, high = TYPICAL[unit]
    text = str(draw(st.integers(low, high)))
    fraction = draw(st.sampled_from(("", "", ".5", ",5", ".25", ".0")))
    return text + fraction


@st.composite
def field_data(draw: st.DrawFn, item: Field) -> dict[str, str]:
    """One field as it may have come: filled in sensibly, absurdly, or left empty."""
    way = draw(st.integers(0, 9))
    if way == 0:
        return {}
    if item.kind == CHOICE:
        text = draw(st.sampled_from([code for code, _ in item.choices]))
        return {item.name: "maybe" if way == 1 else text}
    if item.kind == REFRIGERANT:
        return {item.name: draw(REFRIGERANTS)}
    if item.kind == NUMBER:
        unit = draw(st.sampled_from(sorted(QUANTITIES[item.quantity])))
        data = {item.name: draw(ABSURD) if way == 1 else draw(numbers(unit))}
        if way != 2:
            data[item.name + "_unit"] = unit
        if unit == "lb oz" and way != 1:
            data[item.name] += draw(st.sampled_from((" lb 3.5 oz", "-4", " oz", "lb", "")))
        if unit == "lb+oz" and draw(st.booleans()):
            data[item.name + "_oz"] = draw(st.sampled_from(("0", "3.5", "15.9", "16", "x")))
        return data
    return {item.name: draw(st.sampled_from(("AC-2", "Mill Lane", "<i>", "a" * 130, "Ünal")))}


@st.composite
def form_data(draw: st.DrawFn, form: Form) -> dict[str, str]:
    """The data of one event of this form, sensible or not."""
    data: dict[str, str] = {}
    for item in form.fields:
        data |= draw(field_data(item))
    if draw(st.integers(0, 3)) == 0:
        data["step"] = draw(st.sampled_from(("job", "baseline", "shots", "nowhere")))
    return data


@dataclass
class _Device:
    book: Book
    seq: int = 0


KINDS = sorted(FORMS)
FREQUENT = ("reading", "shot_open", "shot_close", "decide", "unit", "target", "job")


@st.composite
def sessions(draw: st.DrawFn, most: int = 25) -> list[Event]:
    """A whole session in the order it was written, by one or two devices.

    Args:
        most: at most this many events after the first.
    """
    devices = [_Device(Book(dev=name, run=name + "-1")) for name in ("phone-a", "phone-b")]
    devices[1].book.at += draw(st.sampled_from((0, 0, 3000, -3_600_000)))
    events: list[Event] = []
    if draw(st.integers(0, 9)) == 0:
        events.append(_write(devices[0], "session.started", {"procedure": "nobody-knows"}))
    elif draw(st.integers(0, 9)) != 0:
        begun = ready_to_charge(devices[0].book).events
        events.extend(begun[: draw(st.integers(1, len(begun)))])
        devices[0].seq = len(begun)
    for _ in range(draw(st.integers(0, most))):
        device = draw(st.sampled_from((devices[0], devices[0], devices[1])))
        _move_clocks(draw, device.book)
        kind, data = draw(_entries(events))
        # Who corrects an entry has seen it, so the correction is later by its clock.
        known = [event.hlc for event in events if event.eid == data.get("target")]
        device.book.seen = max(device.book.seen, *known, "")
        events.append(_write(device, kind, data))
    return events


def _move_clocks(draw: st.DrawFn, book: Book) -> None:
    book.wait(draw(st.sampled_from((0, 1, 20, 600))))
    trouble = draw(st.integers(0, 14))
    if trouble == 0:
        book.at += draw(st.sampled_from((-7_200_000, 5000, 7_200_000)))
    elif trouble == 1:
        book.run = book.run + "+"
        book.mono = 0


def _write(device: _Device, kind: str, data: Mapping[str, str]) -> Event:
    """Written by the device's book, but numbered and named apart from `set_up`'s events."""
    device.seq += 1
    salt = 1 if device.book.dev == "phone-a" else 2
    made = device.book.write(kind, data, 0)
    return replace(made, seq=device.seq, eid=ulid((salt << 40) + device.seq))


@st.composite
def _entries(draw: st.DrawFn, events: Sequence[Event]) -> tuple[str, dict[str, str]]:
    way = draw(st.integers(0, 9))
    if way == 0:
        return "weather.seen", {"sky": "clear"}
    if way <= 2 and events:
        target = draw(st.sampled_from([event.eid for event in events] + ["nothing"]))
        return "event.voided", {"target": target, "reason": "slip"}
    if way == 3 and events:
        event = draw(st.sampled_from(list(events)))
        data = {"target": event.eid}
        for form in FORMS.values():
            if form.kind == event.kind:
                data |= draw(form_data(form))
        return "event.amended", data
    form = FORMS[draw(st.sampled_from((*KINDS, *FREQUENT)))]
    data = draw(form_data(form))
    shots = [event.eid for event in events if event.kind == "shot.opened"]
    if form.kind in ("shot.weighed", "shot.unweighed") and shots:
        data["shot"] = draw(st.sampled_from(shots))
    return form.kind, data


@st.composite
def arrivals(draw: st.DrawFn) -> tuple[list[Event], list[Event]]:
    """A session, and the same events as another device may receive them: shuffled, repeated."""
    events = draw(sessions())
    again = draw(st.lists(st.sampled_from(events), max_size=5)) if events else []
    return events, draw(st.permutations(events + again))
