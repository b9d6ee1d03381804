"""What an expert says of the second and third reading, when the unit does not answer as a healthy
one that is only short does (common practice, no source), and what it takes to add against that."""

import pytest
from expert import WORDS, YES, Bench
from strategies import CIRCUIT, MACHINE, PROCEDURE

from lowside.core.handbook.handbook import Handbook
from lowside.core.handbook.saturation import bubble_pressure, dew_pressure

Figures = tuple[float, float, float, float]
"""Low-side saturation, superheat, condensing, subcooling [°F]."""

SHORT: Figures = (38.0, 22.0, 111.0, 3.0)


class Session(Bench):
    """A 3 ton R-410A split with an expansion valve, 95 °F outdoors, subcooling 10 ± 3 °F."""

    def begin(self) -> "Session":
        self.book.write("session.started", {"procedure": PROCEDURE})
        self.form("job", {"site": "S", "unit_label": "U", "technician": "T", "elevation": "0 ft"})
        unit = {"capacity": "3 ton", "nameplate_charge": "8 lb", "metering": "txv", **CIRCUIT}
        self.form("unit", {"refrigerant": "R-410A", **unit})
        self.form("machine", MACHINE)
        self.form("target", {"method": "subcooling", "maker_subcooling": "10 °F"})
        self.form("preconditions", {name: YES[name] for name in YES if "flammable" not in name})
        cylinder = {"cylinder_label": "C", "cylinder_refrigerant": "R-410A"}
        self.form("cylinder", {**cylinder, "cylinder_tare": "7 lb", "withdrawal": "dip_tube"})
        self.form("start_weight", {"gross": "27 lb"})
        scale = {"scale_mode": "gross", "scale_resolution": "0.25 oz"}
        self.form("tare", {**scale, "scale_reading": "27.5 lb"})
        return self

    def read(self, figures: Figures, **felt: str) -> str:
        """Settle, read, decide to add; the advice in the table's word."""
        low, superheat, high, subcooling = figures
        table = self.handbook.tables["R-410A"]
        suction = dew_pressure(table, _kelvin(low))
        liquid = bubble_pressure(table, _kelvin(high))
        assert isinstance(suction, float)
        assert isinstance(liquid, float)
        self.book.wait(900)
        typed = {
            "suction_pressure": f"{(suction - 101325.0) / 6894.757:.1f} psig",
            "suction_line": f"{low + superheat:.1f} °F",
            "liquid_pressure": f"{(liquid - 101325.0) / 6894.757:.1f} psig",
            "liquid_line": f"{high - subcooling:.1f} °F",
            "outdoor_dry_bulb": "95 °F",
            "return_dry_bulb": "78 °F",
            "return_wet_bulb": "66 °F",
            **felt,
        }
        assert self.form("reading", typed), self.refused
        if self.state().decision == "":
            self.form("decide", {"decision": "add"})
        return WORDS[self.advice().action]

    def feed(self, ounces: float, seconds: float) -> None:
        self.taken_lb += ounces / 16.0
        self.wait_as_advised()
        assert self.form("shot_open", {}), self.refused
        self.book.wait(seconds - 10.0)
        assert self.form("shot_close", {}), self.refused
        scale = f"{27.5 - self.taken_lb:.4f} lb"
        assert self.form("shot_weigh", {"scale_after": scale}), self.refused


def _kelvin(fahrenheit: float) -> float:
    return (fahrenheit - 32.0) / 1.8 + 273.15


@pytest.mark.parametrize(
    ("later", "answers"),
    [
        # The valve closed the coil's superheat down to nothing: floods, not short any more.
        ((42.0, 3.0, 112.0, 5.0), ("do_not_add",)),
        # Condensing 41 °F above outdoor air: the outdoor coil.
        ((44.0, 12.0, 136.0, 5.0), ("do_not_add",)),
        # Subcooling comes right, superheat stays: a restriction.
        ((36.0, 25.0, 112.0, 8.0), ("do_not_add",)),
        # Subcooling goes down while charge goes in.
        ((38.0, 22.0, 111.0, 0.5), ("measure", "do_not_add")),
        # Past the tolerance.
        ((42.0, 12.0, 114.0, 15.0), ("recover",)),
        # The same with condensing 7 °F higher: the outdoor fan, before anything is recovered.
        ((42.0, 12.0, 118.0, 15.0), ("measure",)),
        # Both sides come together: the compressor stopped pumping.
        ((62.0, 8.0, 99.0, 3.0), ("do_not_add",)),
    ],
)
def test_a_later_reading_that_shows_another_fault_ends_the_adding(
    handbook: Handbook, later: Figures, answers: tuple[str, ...]
) -> None:
    session = Session(handbook).begin()
    assert session.read(SHORT) == "add"
    session.feed(1.5, 15.0)
    session.feed(1.5, 15.0)
    assert session.read(later) in answers, session.advice().reasons
    if session.advice().action in ("do_not_add", "recover"):
        assert not session.form("shot_open", {}), session.advice().reasons


def test_only_a_reason_written_after_that_reading_opens_the_valve_against_a_doubt(
    handbook: Handbook,
) -> None:
    session = Session(handbook).begin()
    session.read(SHORT)
    session.feed(1.5, 15.0)
    session.feed(1.5, 15.0)
    assert session.read((36.0, 25.0, 112.0, 8.0)) == "do_not_add"
    assert not session.form("shot_open", {})
    assert "write why at the decision" in session.refused
    assert not session.form("decide", {"decision": "add"})
    assert session.form("decide", {"decision": "add", "reason": "New drier, no drop across it"})
    session.feed(0.5, 12.0)
    # It was written against that reading, not against the next one.
    assert session.read((36.0, 25.0, 112.0, 8.2)) == "do_not_add"
    assert not session.form("shot_open", {})


def test_enough_is_gone_past_only_with_a_reason_written_at_that_reading(
    handbook: Handbook,
) -> None:
    session = Session(handbook).begin()
    session.read(SHORT)
    session.feed(1.5, 15.0)
    enough = (41.0, 14.0, 114.0, 9.9)
    for _ in range(3):
        answer = session.read(enough)
    assert answer == "enough", session.advice().reasons
    assert not session.form("shot_open", {})
    assert "write why at the decision" in session.refused
    assert session.form("decide", {"decision": "add", "reason": "Long line set, 2 oz short"})
    session.feed(0.5, 12.0)
    session.read(enough)
    assert session.read(enough) == "enough"
    assert not session.form("shot_open", {})


def test_a_shot_far_too_large_is_followed_by_no_other(handbook: Handbook) -> None:
    session = Session(handbook).begin()
    session.read(SHORT)
    session.feed(12.0, 100.0)
    assert session.read((41.0, 14.0, 112.0, 8.0)) in ("enough", "measure")


def test_a_starved_valve_that_does_not_answer_is_not_fed_on(handbook: Handbook) -> None:
    # 14 oz into a unit of 8 lb: a valve that is wide open shows that, unless it went elsewhere.
    session = Session(handbook).begin()
    for _ in range(4):
        assert session.read((36.0, 25.0, 110.0, 3.0), drier="same") == "add"
        session.feed(1.8, 15.0)
        session.feed(1.8, 15.0)
    # A doubt is read twice before it counts.
    assert session.read((36.0, 25.0, 110.0, 3.0)) == "measure"
    assert session.read((36.0, 25.0, 110.0, 3.0)) == "do_not_add"
    assert "hardly responds" in session.advice().reasons[0]


def test_a_starved_valve_that_answers_is_fed_on(handbook: Handbook) -> None:
    session = Session(handbook).begin()
    for step in range(4):
        figures = (36.0 + step, 25.0 - 2.0 * step, 110.0, 3.0)
        assert session.read(figures, drier="same") == "add"
        session.feed(1.8, 15.0)
        session.feed(1.8, 15.0)
    assert session.read((40.0, 17.0, 111.0, 4.0)) == "add"
