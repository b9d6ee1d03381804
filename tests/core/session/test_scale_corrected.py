"""A corrected scale reading is held to what a new one is: no cylinder gains weight.

Physics: what left the cylinder cannot be less than nothing. How far the scale may be off is the
step of the scale, as at the entry (our choice).
"""

import pytest
from expert import YES, Bench, with_spaced_units
from strategies import PROCEDURE

from lowside.core.advice.advice import ADD, READ
from lowside.core.handbook.forms import FORM_OF_KIND
from lowside.core.handbook.handbook import Handbook
from lowside.core.numbers.units import OUNCE_KG
from lowside.core.pages.addresses import AMEND, Address
from lowside.core.pages.recording import Record, Refusal, record_form

GAIN = "A cylinder cannot gain weight."
SHORT = {
    "suction_pressure": "118 psig",
    "suction_line": "56 °F",
    "liquid_pressure": "350 psig",
    "liquid_line": "102 °F",
    "outdoor_dry_bulb": "95 °F",
    "return_dry_bulb": "78 °F",
    "return_wet_bulb": "66 °F",
}
GROSS = {"scale_mode": "gross", "scale_reading": "27.5 lb", "scale_resolution": "0.25 oz"}
ZEROED = {"scale_mode": "zeroed", "scale_reading": "0 lb", "scale_resolution": "0.25 oz"}


def fed(handbook: Handbook, shown: list[str], scale: dict[str, str] = GROSS) -> Bench:
    """A short R-410A unit with a shot for each of these scale readings [lb]."""
    bench = Bench(handbook)
    bench.book.write("session.started", {"procedure": PROCEDURE})
    for form, typed in (
        ("job", {"site": "S", "unit_label": "U", "technician": "T", "elevation": "0 ft"}),
        (
            "unit",
            {
                "refrigerant": "R-410A",
                "metering": "txv",
                "capacity": "3 ton",
                "nameplate_charge": "8 lb",
                "coil": "tube_fin",
                "receiver": "no",
            },
        ),
        ("machine", {"mode": "cooling", "compressor": "full", "kind": "split"}),
        ("target", {"method": "subcooling", "maker_subcooling": "10 °F"}),
        ("preconditions", YES),
        (
            "cylinder",
            {
                "cylinder_label": "C",
                "cylinder_refrigerant": "R-410A",
                "cylinder_tare": "7 lb",
                "withdrawal": "dip_tube",
            },
        ),
        ("start_weight", {"gross": "27 lb"}),
        ("tare", scale),
    ):
        assert bench.form(form, typed), bench.refused
    bench.book.wait(900)
    assert bench.form("reading", SHORT), bench.refused
    assert bench.form("decide", {"decision": "add"}), bench.refused
    for pounds in shown:
        bench.wait_as_advised()
        if bench.advice().action == READ:
            later = {"liquid_line": f"{102 - len(bench.state().shots) / 2} °F"}
            assert bench.form("reading", SHORT | later), bench.refused
            assert bench.form("decide", {"decision": "add"}), bench.refused
        assert bench.form("shot_open", {}), bench.refused
        bench.book.wait(20)
        assert bench.form("shot_close", {}), bench.refused
        assert bench.form("shot_weigh", {"scale_after": pounds}), bench.refused
    return bench


def correct(bench: Bench, kind: str, at: int, **typed: str) -> Refusal | None:
    """Correct the entry of this kind as its page does; what was refused, or `None`."""
    entry = [one for one in bench.state().entries if one.kind == kind][at]
    changed = with_spaced_units(FORM_OF_KIND[kind].name, typed)
    outcome = record_form(
        bench.state(),
        Address(AMEND, bench.book.sid, entry.eid),
        {**entry.data, **changed, "eid": f"x{len(bench.book.events)}"},
        bench.handbook,
        bench.now(),
    )
    if isinstance(outcome, Refusal):
        assert outcome.address.page == AMEND
        kept = {name: outcome.attempt.typed[name] for name in changed}
        assert kept == changed, "what was typed is on the page again"
        return outcome
    assert isinstance(outcome, Record)
    bench.book.write(outcome.kind, outcome.data, 5)
    return None


def told(refused: Refusal | None, field: str) -> str:
    """The sentence beside the field, the only one."""
    assert refused is not None
    assert list(refused.attempt.problems) == [field]
    return refused.attempt.problems[field]


def shots_oz(bench: Bench) -> list[float | None]:
    amounts = [shot.amount_kg for shot in bench.state().shots]
    return [None if kg is None else round(kg / OUNCE_KG, 2) for kg in amounts]


TWO = ["27.4375 lb", "27.375 lb"]
THREE = ["27.4375 lb", "27.375 lb", "27.3125 lb"]


@pytest.mark.parametrize("slip", ["28.375 lb", "72.375 lb"])
def test_a_shot_corrected_to_a_gain_is_refused(handbook: Handbook, slip: str) -> None:
    bench = fed(handbook, TWO)
    events = len(bench.book.events)
    sentence = told(correct(bench, "shot.weighed", 1, scale_after=slip), "scale_after")
    assert GAIN in sentence
    assert "27 lb 7.0 oz before shot 2" in sentence
    assert len(bench.book.events) == events
    assert shots_oz(bench) == [1.0, 1.0]
    assert not bench.form("shot_weigh", {"scale_after": slip})


def test_a_shot_corrected_to_more_than_the_cylinder_held_is_refused(handbook: Handbook) -> None:
    """Physics again; the allowance is that of a new entry."""
    bench = fed(handbook, TWO)
    refused = told(correct(bench, "shot.weighed", 1, scale_after="2.375 lb"), "scale_after")
    assert "more than the cylinder held (19 lb 14.0 oz left)" in refused
    refused = told(correct(bench, "weight.start", 0, gross="7.0625 lb"), "gross")
    assert "more than the cylinder held" in refused
    assert correct(bench, "weight.start", 0, gross="8 lb") is None
    assert shots_oz(bench) == [1.0, 1.0]


def test_it_is_the_sentence_of_a_new_entry(handbook: Handbook) -> None:
    bench = fed(handbook, ["27.4375 lb"])
    refused = told(correct(bench, "shot.weighed", 0, scale_after="28.4 lb"), "scale_after")
    bench.wait_as_advised()
    assert bench.form("shot_open", {})
    bench.book.wait(20)
    assert bench.form("shot_close", {})
    assert not bench.form("shot_weigh", {"scale_after": "28.4 lb"})
    assert refused.partition("shot")[2].removeprefix(" 1") == bench.refused.partition("shot")[2]


def test_a_shot_corrected_below_the_one_after_it_is_refused(handbook: Handbook) -> None:
    bench = fed(handbook, THREE)
    sentence = told(correct(bench, "shot.weighed", 0, scale_after="26.4375 lb"), "scale_after")
    assert GAIN in sentence
    assert "before shot 2" in sentence


def test_a_typing_slip_between_its_neighbors_is_corrected(handbook: Handbook) -> None:
    bench = fed(handbook, ["27.4375 lb", "27.3255 lb", "27.3125 lb"])
    assert correct(bench, "shot.weighed", 1, scale_after="27.375 lb") is None
    assert shots_oz(bench) == [1.0, 1.0, 1.0]
    bench.wait_as_advised()
    assert bench.advice().action in (ADD, READ), "and the advice goes on"


def test_a_gain_within_one_step_of_the_scale_is_none(handbook: Handbook) -> None:
    bench = fed(handbook, TWO)
    assert correct(bench, "shot.weighed", 1, scale_after="27.45 lb") is None
    refused = correct(bench, "shot.weighed", 1, scale_after="27.46 lb")
    assert GAIN in told(refused, "scale_after")


def test_all_readings_too_low_are_corrected_from_the_first_on(handbook: Handbook) -> None:
    """Every reading was typed 10 lb too low: the scale, then each shot."""
    low = {**GROSS, "scale_reading": "17.5 lb"}
    bench = fed(handbook, ["17.4375 lb", "17.375 lb"], low)
    assert correct(bench, "shot.weighed", 1, scale_after="27.375 lb") is not None
    assert correct(bench, "scale.set", 0, scale_reading="27.5 lb") is None
    assert correct(bench, "shot.weighed", 0, scale_after="27.4375 lb") is None
    assert correct(bench, "shot.weighed", 1, scale_after="27.375 lb") is None
    assert shots_oz(bench) == [1.0, 1.0]


def test_all_readings_too_high_are_corrected_from_the_last_back(handbook: Handbook) -> None:
    high = {**GROSS, "scale_reading": "37.5 lb"}
    bench = fed(handbook, ["37.4375 lb", "37.375 lb"], high)
    sentence = told(correct(bench, "scale.set", 0, scale_reading="27.5 lb"), "scale_mode")
    assert "27 lb 8.0 oz before shot 1" in sentence
    assert correct(bench, "shot.weighed", 1, scale_after="27.375 lb") is None
    assert correct(bench, "shot.weighed", 0, scale_after="27.4375 lb") is None
    assert correct(bench, "scale.set", 0, scale_reading="27.5 lb") is None
    assert shots_oz(bench) == [1.0, 1.0]


def test_the_mode_of_the_scale_is_not_corrected_under_weighed_shots(handbook: Handbook) -> None:
    bench = fed(handbook, TWO)
    assert GAIN in told(correct(bench, "scale.set", 0, scale_mode="zeroed"), "scale_mode")
    assert correct(bench, "scale.set", 0, scale_resolution="0.1 oz") is None
    bench = fed(handbook, ["-0.0625 lb", "-0.125 lb"], ZEROED)
    assert correct(bench, "shot.weighed", 1, scale_after="-0.1875 lb") is None
    assert shots_oz(bench) == [1.0, 2.0]
    refused = correct(bench, "shot.weighed", 1, scale_after="-0.03 lb")
    assert GAIN in told(refused, "scale_after")


def test_the_reading_before_a_shot_is_held_to_it_too(handbook: Handbook) -> None:
    bench = fed(handbook, TWO)
    refused = correct(bench, "shot.opened", 1, scale_before="22.4375 lb")
    assert GAIN in told(refused, "scale_before")
    assert correct(bench, "shot.opened", 1, scale_before="27.43 lb") is None


def test_an_older_entry_that_closed_with_a_reading_is_held_to_it(handbook: Handbook) -> None:
    """Sessions of an older version have the scale in the entry of the closed valve."""
    bench = fed(handbook, ["27.4375 lb"])
    bench.book.write("shot.opened", {})
    data = with_spaced_units("shot_close", {"scale_after": "27.375 lb"})
    bench.book.write("shot.closed", data)
    assert shots_oz(bench) == [1.0, 1.0]
    refused = correct(bench, "shot.closed", 1, scale_after="28.375 lb")
    assert GAIN in told(refused, "scale_after")
    assert correct(bench, "shot.closed", 1, scale_after="27.34375 lb") is None
    assert shots_oz(bench) == [1.0, 1.5]


def test_a_session_that_has_a_gain_can_be_mended(handbook: Handbook) -> None:
    """As one of an older version may: what does not make it worse is taken."""
    bench = fed(handbook, THREE)
    weighed = [one for one in bench.state().entries if one.kind == "shot.weighed"]
    slip = {"target": weighed[0].eid, **weighed[0].data, "scale_after": "72.4375"}
    bench.book.write("event.amended", slip)
    assert shots_oz(bench)[0] == -719.0
    assert correct(bench, "unit.set", 0, capacity="2.5 ton") is None
    refused = correct(bench, "shot.weighed", 0, scale_after="82.4375 lb")
    assert GAIN in told(refused, "scale_after")
    assert correct(bench, "shot.weighed", 0, scale_after="27.4375 lb") is None
    assert shots_oz(bench) == [1.0, 1.0, 1.0]


def test_a_second_scale_setting_keeps_the_shots_before_it(handbook: Handbook) -> None:
    bench = fed(handbook, ["27.4375 lb"])
    assert bench.form("tare", {**ZEROED, "scale_reading": "0.01 lb"}), bench.refused
    assert correct(bench, "scale.set", 1, scale_reading="0 lb") is None
    assert GAIN in told(correct(bench, "shot.weighed", 0, scale_after="28 lb"), "scale_after")
    assert correct(bench, "shot.weighed", 0, scale_after="27.375 lb") is None
    assert shots_oz(bench) == [2.0]
