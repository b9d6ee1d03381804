"""Plays one row of an expert's table of situations through the real forms and says what comes out.

A row names the machine, the checklist and one reading; see `tests/data/expert_situations.csv`.
Cells with several fields read `name=value; name=value`, a number with its unit.
"""

import csv
from collections.abc import Mapping
from dataclasses import dataclass, field
from pathlib import Path

from not_shown import fault_codes
from strategies import PROCEDURE, Book, with_units

from lowside.core.advice.advice import ADD, Advice
from lowside.core.advice.against import advice_now
from lowside.core.handbook.forms import FORMS
from lowside.core.handbook.handbook import Handbook
from lowside.core.numbers.units import OUNCE_KG
from lowside.core.pages.addresses import FORM, Address
from lowside.core.pages.recording import Record, Refusal, record_form
from lowside.core.session.events import Moment
from lowside.core.session.flammability import FLAMMABLE_QUESTIONS
from lowside.core.session.fold import fold
from lowside.core.session.state import State, shot_to_weigh
from lowside.practice.technician import CHECKED

TABLE = Path(__file__).parents[1] / "data" / "expert_situations.csv"

YES = {**CHECKED, **dict.fromkeys(FLAMMABLE_QUESTIONS, "yes")}

WORDS = {
    "add": "add",
    "wait": "wait",
    "stop": "stop",
    "do_not_add": "do_not_add",
    "recover": "recover",
    "weigh_in": "weigh_in",
    "finish": "enough",
    "read": "measure",
}
"""Advice -> the table's word."""

COLUMNS = {
    "suction_psig": ("suction_pressure", "psig"),
    "suction_line_F": ("suction_line", "°F"),
    "liquid_psig": ("liquid_pressure", "psig"),
    "liquid_line_F": ("liquid_line", "°F"),
    "outdoor_F": ("outdoor_dry_bulb", "°F"),
    "return_F": ("return_dry_bulb", "°F"),
    "wet_bulb_F": ("return_wet_bulb", "°F"),
}


@dataclass
class Played:
    """What the program made of a row."""

    answer: str
    ounces: float | None
    why: str
    holes: list[str] = field(default_factory=list)
    """Ways in which charge could still have gone in although the answer is not to add."""
    faults: set[str] = field(default_factory=set)
    """Codes of what speaks against adding."""


def situations(path: Path = TABLE) -> list[dict[str, str]]:
    """The rows of a table."""
    with path.open(encoding="utf-8", newline="") as lines:
        return list(csv.DictReader(lines))


def pairs(cell: str) -> dict[str, str]:
    """`a=1 psig; b=yes` as a mapping."""
    found = {}
    for part in cell.split(";"):
        if "=" in part:
            name, _, value = part.strip().partition("=")
            found[name.strip()] = value.strip()
    return found


@dataclass
class Bench:
    """One session under the hands of the test."""

    handbook: Handbook
    book: Book = field(default_factory=Book)
    refused: str = ""
    taken_lb: float = 0.0
    """Out of the cylinder so far."""
    page: Mapping[str, str] = field(default_factory=dict)
    """Hidden fields of a page that was opened earlier."""
    _state: State | None = None

    def form(self, name: str, typed: Mapping[str, str]) -> bool:
        """Send a form as a page would; what a refusal said is kept in `refused`."""
        self.book.wait(10)
        known = {each for one in FORMS[name].fields for each in (one.name,)}
        unknown = [each for each in typed if each not in known]
        assert not unknown, f"the form {name} has no field {unknown}"
        values = with_spaced_units(name, {n: v for n, v in typed.items() if v != ""})
        outcome = record_form(
            self.state(),
            Address(FORM, self.book.sid, name),
            {
                **values,
                **self.page,
                "eid": f"x{len(self.book.events)}",
                "step": "",
                "shot": self.shot(),
            },
            self.handbook,
            self.now(),
        )
        if isinstance(outcome, Refusal):
            attempt = outcome.attempt
            self.refused = " ".join([attempt.message, *attempt.problems.values()]).strip()
            return False
        assert isinstance(outcome, Record)
        self.refused = ""
        self.book.write(outcome.kind, outcome.data, 0)
        return True

    def shot(self) -> str:
        """The shot to weigh."""
        shot = shot_to_weigh(self.state())
        return "" if shot is None else shot.eid

    def state(self) -> State:
        self._state = fold(self.book.events, self.handbook, self._state)
        return self._state

    def advice(self) -> Advice:
        return advice_now(self.state(), self.now())

    def wait_as_advised(self) -> None:
        """Before a shot: no valve is opened while the advice says to wait."""
        self.book.wait(self.advice().wait_s or 0.0)

    def now(self) -> Moment:
        return Moment(self.book.run, self.book.mono, self.book.at, 0)


def with_spaced_units(form_name: str, typed: Mapping[str, str]) -> dict[str, str]:
    """Like `strategies.with_units`, for units of two words too (`0.5 in wc`)."""
    plain = {}
    units = {}
    numbers = {one.name for one in FORMS[form_name].fields if one.kind == "number"}
    for name, text in typed.items():
        if name in numbers and " " in text:
            number, _, unit = text.partition(" ")
            plain[name] = number
            units[name + "_unit"] = unit
        else:
            plain[name] = text
    return {**with_units(form_name, plain), **units}


def play(row: Mapping[str, str], handbook: Handbook) -> Played:
    """The row through the forms, to the answer a technician would get."""
    bench = Bench(handbook)
    unit = {name: text for name, text in pairs(row["unit"]).items() if text.split(" ")[0] != ""}
    bench.book.write("session.started", {"procedure": unit.pop("procedure", PROCEDURE)})
    bench.form(
        "job",
        {
            "site": "S",
            "unit_label": "U",
            "technician": "T",
            "elevation": unit.pop("elevation", "0 ft"),
        },
    )
    unit = {name: text for name, text in unit.items() if text not in ("ton", "lb")}
    old = not any(name in unit for name in ("coil", "receiver"))
    facts = {"refrigerant": row["refrigerant"], "metering": row["metering"], **unit}
    if old:
        # A session from before these were asked: its event is as it was written then.
        bench.book.write("unit.set", with_spaced_units("unit", facts))
    elif not bench.form("unit", facts):
        return _refused(bench, "unit")
    machine = pairs(row["machine"])
    if machine:
        whole = all(name in machine for name in ("mode", "compressor", "kind"))
        if whole:
            bench.form("machine", machine)
        else:
            bench.book.write("machine.set", machine)
    targeted = bench.form("target", pairs(row["target"]))
    target_refusal = bench.refused
    checks = {**YES, **pairs(row["checks"])}
    if "" in checks.values():
        bench.book.write("checks.answered", {n: v for n, v in checks.items() if v != ""})
    else:
        bench.form("preconditions", checks)
    cylinder = {
        "cylinder_label": "C",
        "cylinder_refrigerant": row["refrigerant"],
        "cylinder_tare": "7 lb",
        "withdrawal": "dip_tube",
        **pairs(row["cylinder"]),
    }
    bench.form("cylinder", cylinder)
    bench.form("start_weight", {"gross": "27 lb"})
    bench.form(
        "tare",
        {"scale_mode": "gross", "scale_reading": "27.5 lb", "scale_resolution": "0.25 oz"},
    )
    if not targeted:
        return _as_refusal(bench, target_refusal)
    reading = reading_of(row)
    bench.book.wait(900)
    if reading and not bench.form("reading", reading):
        return Played("do_not_add", None, bench.refused, _holes(bench, False))
    decided = bench.form("decide", {"decision": "add"})
    for act in row["then"].split(";"):
        _act(bench, act.strip(), reading)
    return _answer(bench, decided)


def reading_of(row: Mapping[str, str]) -> dict[str, str]:
    """The reading form of a row."""
    found = {}
    for column, (name, unit) in COLUMNS.items():
        if row[column] != "":
            found[name] = f"{row[column]} {unit}"
    return {**found, **pairs(row["more_readings"])} if found else {}


def _act(bench: Bench, act: str, reading: Mapping[str, str]) -> None:
    words = act.split(" ")
    if act == "stopped":
        bench.form("system_stopped", {})
    elif act == "running":
        bench.form("system_started", {})
    elif act.startswith("read again"):
        bench.book.wait(60)
        again = {**reading, **pairs(act.removeprefix("read again"))}
        bench.form("reading", {name: text for name, text in again.items() if text != ""})
    elif act == "reason":
        bench.form("decide", {"decision": "add", "reason": "I know this unit"})
    elif words[0] == "pause":
        bench.book.wait(float(words[1]))
    elif words[0] == "shot":
        bench.taken_lb += float(words[1]) / 16.0
        left = 27.5 - bench.taken_lb
        bench.wait_as_advised()
        assert bench.form("shot_open", {}), bench.refused
        bench.book.wait(float(words[3]) - 10.0)
        assert bench.form("shot_close", {}), bench.refused
        assert bench.form("shot_weigh", {"scale_after": f"{left:.4f} lb"}), bench.refused
    else:
        assert act == "", act


def _refused(bench: Bench, form: str) -> Played:
    return Played("do_not_add", None, f"{form}: {bench.refused}")


def _as_refusal(bench: Bench, why: str) -> Played:
    """A target that was refused leaves the session without one."""
    return Played("do_not_add", None, why, _holes(bench, False))


def _answer(bench: Bench, decided: bool) -> Played:
    advice = bench.advice()
    answer = WORDS[advice.action]
    ounces = None if advice.amount_kg is None else advice.amount_kg / OUNCE_KG
    why = advice.reasons[0] if advice.reasons else ""
    faults = set() if advice.action == ADD else fault_codes(bench.state())
    return Played(answer, ounces, why, _holes(bench, advice.action == ADD or decided), faults)


def _holes(bench: Bench, may_add: bool) -> list[str]:
    """A shot that could be started although nothing was decided, or against a refusal."""
    if may_add:
        return []
    if bench.form("shot_open", {}):
        return ["a shot could be started"]
    return []
