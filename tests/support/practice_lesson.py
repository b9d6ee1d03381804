"""An apprentice at a lesson: fills in the real pages from the instruments, on its own clock."""

from dataclasses import dataclass, field
from typing import Any

from website import Page, Site

from lowside.core.advice.advice import Advice, advise
from lowside.core.handbook.procedure import off_steps_for
from lowside.core.handbook.system import DIP_TUBE, TXV
from lowside.core.numbers.unit_choice import UnitChoice
from lowside.core.numbers.units import show
from lowside.core.pages.charging import WORDS
from lowside.core.session.events import Moment
from lowside.core.session.gate import blocks
from lowside.core.session.state import recovers_hoses
from lowside.practice.curves import MICROCHANNEL
from lowside.practice.hooked_up import Gauges
from lowside.practice.sessions import PracticeSession
from lowside.practice.technician import CHECKED
from lowside.web.practice.desk import PracticeDesk

PROCEDURE = "hand-valved-three-port"
CHOICE = UnitChoice("psig", "°F", "g", "ft")


@dataclass
class FakeClock:
    """A wall clock that moves when told [ms]."""

    at: int = 1_800_000_000_000
    run: str = "01KFAKECLOCK00000000000000"

    def now(self) -> Moment:
        return Moment(self.run, self.at - 1_800_000_000_000, self.at, 0)


@dataclass
class Apprentice:
    """One session of one lesson."""

    site: Site
    lesson: str
    seed: int = 1
    procedure: str = PROCEDURE
    clock: FakeClock = field(default_factory=FakeClock)
    sid: str = ""
    guess: str = "short"
    """What it thinks the unit has, when it is asked."""
    coil: str = ""
    """What it says of the outdoor coil; "": what is true."""
    receiver: str = "no"
    """What it says of a tank in the liquid line."""

    def __post_init__(self) -> None:
        self.site.desk.clock = self.clock  # type: ignore[assignment]
        form = self.site.get("/practice").form("/practice/start").values
        form |= {"lesson": self.lesson, "seed": str(self.seed), "procedure": self.procedure}
        answer = self.site.post("/practice/start", form)
        assert answer.status == 303, answer.text
        self.sid = form["sid"]
        self.form(
            "units", "", {"pressure": "psig", "temperature": "°F", "mass": "g", "length": "ft"}
        )

    @property
    def desk(self) -> PracticeDesk:
        desk: PracticeDesk = self.site.app.state.practice
        return desk

    def running(self) -> tuple[PracticeSession, Gauges, float]:
        return self.desk.running(self.sid, self.desk.events(self.sid))

    def page(self, rest: str = "") -> Page:
        return self.site.get(f"/practice/s/{self.sid}{rest}")

    def wait(self, wall_s: float) -> None:
        self.clock.at += int(wall_s * 1000)

    def post(self, form: str, step: str, typed: dict[str, str], page: str = "") -> Page:
        """Fill in a form on its page; what the page holds already is sent too."""
        path = page or (f"/step/{step}" if step else f"/form/{form}")
        if form == "decide" and self.guess:
            asked = self.page(path)
            if any(one.action.endswith("/guess") for one in asked.read.forms):
                assert self.site.post(asked.form("/guess").action, {"guess": self.guess})
        shown = self.page(path).form("/form/" + form)
        # Each form by itself: the others of the page come one by one.
        shown.values.pop("with", None)
        assert shown.action.startswith("/practice/s/"), shown.action
        self.wait(2)
        return self.site.post(shown.action, shown.values | typed)

    def form(self, form: str, step: str, typed: dict[str, str], page: str = "") -> None:
        answer = self.post(form, step, typed, page)
        assert answer.status == 303, (form, answer.read.problems, answer.text[:1500])
        assert answer.response.headers["location"].startswith("/practice/s/")

    def done(self, step: str) -> None:
        self.form("done", step, {})

    def prepare_and_read(self) -> None:
        """Everything up to the baseline reading."""
        self.prepare()
        self.wait(30)
        self.read("baseline")

    def prepare(self, leave_out: tuple[str, ...] = ()) -> None:
        """Everything up to the liquid at the manifold."""
        known = self.running()[0].setting
        system = known.drawn.system
        flat = known.lesson.kind == MICROCHANNEL
        self.form(
            "job",
            "job",
            {"site": "Practice yard", "unit_label": "P", "technician": "Ann", "elevation": "0"},
        )
        self.form(
            "unit",
            "unit",
            {
                "refrigerant": system.refrigerant,
                "metering": system.metering,
                "coil": self.coil or ("microchannel" if flat else "tube_fin"),
                "receiver": self.receiver,
            },
        )
        self.form("machine", "machine", {"mode": "cooling", "compressor": "full", "kind": "split"})
        target = {"method": "chart"}
        if system.metering == TXV:
            assert system.maker_subcooling_k is not None
            value = show("temperature_difference", system.maker_subcooling_k, "°F")
            target = {"method": "subcooling", "maker_subcooling": value}
            if flat:
                target["microchannel_papers"] = "yes"
        self.form("target", "target", target)
        self.form(
            "preconditions",
            "preconditions",
            CHECKED,
        )
        self.form(
            "cylinder",
            "cylinder",
            {
                "cylinder_label": known.cylinder_label,
                "cylinder_refrigerant": system.refrigerant,
                "cylinder_tare": show("mass", known.tare_kg, "g"),
                "withdrawal": "dip_tube",
            },
        )
        self.form("start_weight", "start_weight", {"gross": self.scale()})
        for step in self.steps("Connect"):
            if step not in leave_out:
                self.done(step)
        self.set_scale()

    def set_scale(self) -> None:
        """By what it shows now."""
        step_kg = self.running()[0].setting.lesson.scale_step_kg
        self.form(
            "tare",
            "tare",
            {
                "scale_mode": "gross",
                "scale_reading": self.scale(),
                "scale_resolution": f"{step_kg * 1000:.2f}",
                "scale_resolution_unit": "g",
            },
        )

    def steps(self, stage: str) -> list[str]:
        procedure = self.desk.handbook.procedures[self.procedure]
        return [each.id for each in procedure.steps if each.stage == stage]

    def scale(self) -> str:
        return show("mass", self.running()[1].scale_kg, "g")

    def reading(self) -> dict[str, str]:
        session, shown, _ = self.running()
        drawn = session.setting.drawn
        air = drawn.system.atmosphere_pa
        values: dict[str, Any] = {
            "suction_line": shown.suction_line_k,
            "liquid_line": shown.liquid_line_k,
            "outdoor_dry_bulb": drawn.outdoor_k,
            "return_dry_bulb": drawn.return_k,
            "return_wet_bulb": drawn.return_wet_bulb_k,
            "supply_dry_bulb": shown.supply_air_k,
        }
        typed = {name: show("temperature", value, "°F") for name, value in values.items()}
        typed["suction_pressure"] = show("gauge_pressure", shown.suction_pressure_pa - air, "psig")
        typed["liquid_pressure"] = show("gauge_pressure", shown.liquid_pressure_pa - air, "psig")
        return typed

    def read(self, step: str = "") -> None:
        self.form("final_reading" if step == "final_reading" else "reading", step, self.reading())

    def turn(self, to: str) -> None:
        answer = self.site.post(f"/practice/{self.sid}/valve", {"valve": to, "quiet": "yes"})
        assert answer.status == 204, answer.text

    def recover(self, seconds: float) -> None:
        """Hold the recovery machine's button for so long."""
        for to in ("open", "shut"):
            typed = {"valve": to, "quiet": "yes"}
            answer = self.site.post(f"/practice/{self.sid}/recover", typed)
            assert answer.status == 204, answer.text
            if to == "open":
                self.wait(seconds)

    def shot(self, seconds: float, surely: bool = True) -> None:
        """Start the shot, hold the handwheel, end the shot with what the scale shows. Where a jumpy
        scale shows more than before, look again a few times; a cylinder cannot gain weight.

        Args:
            seconds: how long it is held.
            surely: whether it must be allowed. Else nothing is done where it is refused: the
                seconds that a form takes may be those in which a new reading is due.
        """
        before = self.running()[1].scale_kg
        self.say_why()
        typed = {"scale_before": show("mass", before, "g")}
        answer = self.post("shot_open", "", typed, page="/step/shots")
        if answer.status == 422 and not surely:
            return
        assert answer.status == 303, (answer.read.problems, answer.text[:1500])
        self.turn("open")
        self.wait(seconds)
        self.turn("shut")
        self.wait(3)
        self.form("shot_close", "", {}, page="/step/shots")
        for _ in range(10):
            after = self.running()[1].scale_kg
            if after <= before:
                typed = {"scale_after": show("mass", after, "g")}
                self.form("shot_weigh", "", typed, page="/step/shots")
                return
            self.wait(1)
        self.form("shot_unweighed", "", {}, page="/step/shots")

    def say_why(self) -> None:
        """Answer the reading that asks for a reason: what the plates say was looked at."""
        state = self.desk.state(self.desk.events(self.sid))
        if [each.code for each in blocks(state)] == ["reading_reason"]:
            because = {"decision": "add", "reason": "filter and coils are clean, airflow is good"}
            self.form("decide", "decide", because)

    def _advice(self) -> Advice:
        events = self.desk.events(self.sid)
        return advise(self.desk.state(events), self.desk.now(self.sid, events))

    def _offer(self, form: str) -> str:
        """The page on which the charging page offers this form, as `post` takes it."""
        path, read = f"/practice/s/{self.sid}{form}", self.page("/step/shots").read
        if path in read.links:
            return form
        assert path in [each.action for each in read.forms]
        return "/step/shots"

    def advised(self) -> tuple[str, float, float]:
        """What the charging page says now: the action's words, grams, seconds to wait."""
        advice = self._advice()
        assert WORDS[advice.action] in self.page("/step/shots").text
        return advice.action, (advice.amount_kg or 0.0) * 1000.0, advice.wait_s or 0.0

    def charge_by_advice(self) -> str:
        """Follow the advice until it says neither add, wait nor read. Where it offers to recover
        the hoses, that is chosen."""
        for _ in range(150):
            self.say_why()
            if self._advice().recover_hoses:
                self.form("hoses_recover", "", {}, self._offer("/form/hoses_recover"))
            action, grams, wait_s = self.advised()
            if action == "read":
                self.wait(1)
                self.read()
            elif action == "wait":
                self.wait(wait_s / 10.0 + 1.0)
            elif action == "add":
                flow = self.running()[0].setting.drawn.flow_kg_s * 1000.0
                self.shot(grams / flow, surely=False)
            else:
                return action
        raise AssertionError("the advice never came to an end")

    def _way_out(self) -> list[str]:
        """The steps of the close-out: with the unit off where the hoses are recovered."""
        if not recovers_hoses(self.desk.state(self.desk.events(self.sid))):
            return self.steps("Close out")
        procedure = self.desk.handbook.procedures[self.procedure]
        return ["final_reading", *(each.id for each in off_steps_for(procedure, DIP_TUBE)), "caps"]

    def close_out(self, leave_out: tuple[str, ...] = (), recovers: bool = True) -> None:
        """From the last shot to the signature.

        Args:
            leave_out: steps that are skipped.
            recovers: whether the hoses are recovered where that was chosen.
        """
        for step in self._way_out() if recovers else self.steps("Close out"):
            if step in leave_out:
                continue
            if step == "final_reading":
                self.wait(100)
                self.read(step)
            else:
                self.wait(20)
                self.done(step)
        self.form("end_weight", "end_weight", {"gross": self.scale()})
        self.form("reconcile", "reconcile", {"explanation": "scale and seeping valve"})
        self.form("record", "record", {"signed_by": "Ann", "caps_checked": "yes"})

    def debrief(self) -> Page:
        return self.site.get(f"/practice/{self.sid}/debrief")
