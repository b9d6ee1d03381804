"""Charging sessions of one unit, typed by what the gauges show: for what moves between readings."""

from expert import YES, Bench
from strategies import PROCEDURE

from lowside.core.handbook.handbook import Handbook
from lowside.core.handbook.saturation import OutOfRange, bubble_pressure, dew_pressure
from lowside.core.session.flammability import FLAMMABLE_QUESTIONS

PSI = 6894.757
SEA_LEVEL = 101325.0
HELD = {"mode": "cooling", "compressor": "part", "kind": "split", "held": "yes"}
FULL = {"mode": "cooling", "compressor": "full", "kind": "split"}
CHART = {"method": "chart"}
BY_SUBCOOLING = {"method": "subcooling", "maker_subcooling": "10 °F"}
OUNCE_LB = 1.0 / 16.0

At = tuple[float, float, float, float]
"""Dew point of the low side, superheat, condensing, subcooling [°F]."""


def gauge(found: float | OutOfRange) -> str:
    assert isinstance(found, float)
    return f"{(found - SEA_LEVEL) / PSI:.1f} psig"


class Session(Bench):
    """3 ton of R-410A with 8 lb, 95 °F outdoors, 78/66 °F indoors; 10 ± 3 °F of subcooling."""

    def __init__(
        self,
        handbook: Handbook,
        metering: str = "txv",
        target: dict[str, str] = BY_SUBCOOLING,
        machine: dict[str, str] = FULL,
    ) -> None:
        super().__init__(handbook)
        self.book.write("session.started", {"procedure": PROCEDURE})
        unit = {"refrigerant": "R-410A", "metering": metering, "capacity": "3 ton"}
        unit = {**unit, "nameplate_charge": "8 lb", "coil": "tube_fin", "receiver": "no"}
        checks = {name: YES[name] for name in YES if name not in FLAMMABLE_QUESTIONS}
        bottle = {"cylinder_label": "C", "cylinder_refrigerant": "R-410A", "cylinder_tare": "7 lb"}
        scale = {"scale_mode": "gross", "scale_reading": "27.5 lb", "scale_resolution": "0.25 oz"}
        self.ok("job", {"site": "S", "unit_label": "U", "technician": "T", "elevation": "0 ft"})
        self.ok("unit", {**unit, "rated_amps": "15 A"})
        self.ok("machine", machine)
        self.ok("target", target)
        self.ok("preconditions", checks)
        self.ok("cylinder", {**bottle, "withdrawal": "dip_tube"})
        self.ok("start_weight", {"gross": "27 lb"})
        self.ok("tare", scale)

    def ok(self, name: str, typed: dict[str, str]) -> None:
        assert self.form(name, typed), (name, self.refused)

    def read(self, shown: At, wait_s: int = 600, why: str = "", **more: str) -> str:
        """Take a settled reading and decide to add, for `why`; the advice on it."""
        dew, superheat, condensing, subcooling = shown
        table = self.handbook.tables["R-410A"]
        self.book.wait(wait_s)
        typed = {
            "suction_pressure": gauge(dew_pressure(table, (dew - 32.0) / 1.8 + 273.15)),
            "suction_line": f"{dew + superheat:.1f} °F",
            "liquid_pressure": gauge(bubble_pressure(table, (condensing - 32.0) / 1.8 + 273.15)),
            "liquid_line": f"{condensing - subcooling:.1f} °F",
            "outdoor_dry_bulb": "95 °F",
            "return_dry_bulb": "78 °F",
            "return_wet_bulb": "66 °F",
        }
        self.ok("reading", {**typed, **more})
        if why != "":
            self.ok("decide", {"decision": "add", "reason": why})
        elif self.state().decision == "":
            self.ok("decide", {"decision": "add"})
        return self.advice().action

    def feed(self, ounces: float = 0.75) -> None:
        """One shot of 12 s."""
        self.wait_as_advised()
        self.ok("shot_open", {})
        self.taken_lb += ounces * OUNCE_LB
        self.book.wait(2)
        self.ok("shot_close", {})
        self.ok("shot_weigh", {"scale_after": f"{27.5 - self.taken_lb:.4f} lb"})

    def told(self) -> str:
        return " ".join(self.advice().reasons)


def begun(handbook: Handbook, first: At, **unit: str) -> Session:
    """Read and fed once."""
    fixed = unit.get("metering") == "fixed"
    machine = HELD if unit.get("held") else FULL
    target = CHART if fixed else BY_SUBCOOLING
    session = Session(handbook, unit.get("metering", "txv"), target, machine)
    assert session.read(first, 900) == "add"
    session.feed()
    return session
