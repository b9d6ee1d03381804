"""A pressure outside the property table, what no running unit shows, and air that cannot be are
recorded and judged, never refused: a refused reading left the advice of the one before as it was.
READ: never run in a vacuum or at negative pressure (ASC13 S-103); the high side's rating is the
nameplate's. Both need no table. A compressor lifts pressure, and as it stops the pressures meet
before the suction line warms: common practice, no source. That a pressure with no figure adds
nothing is our choice. The slip is still seen beside its box."""

import pytest
from expert import Bench
from strategies import READING, ulid
from walked import before_reading, did, page_at

from lowside.core.advice.against import advice_now
from lowside.core.handbook.handbook import Handbook
from lowside.core.numbers.unit_choice import UnitChoice
from lowside.core.pages.addresses import AMEND, STEP, Address
from lowside.core.pages.figures import figures_of
from lowside.core.pages.form import full_form
from lowside.core.pages.page import Page
from lowside.core.pages.screen import Screen
from lowside.core.pages.view import view
from lowside.core.session import gate

US = UnitChoice()
BY_SUBCOOLING = ({"metering": "txv"}, {"method": "subcooling", "maker_subcooling": "10 °F"})
BY_CHART = ({"metering": "fixed"}, {"method": "chart"})
BY_SUPERHEAT = ({"metering": "fixed"}, {"method": "superheat", "maker_superheat": "12 °F"})


SHORT = READING | {"suction_line": "75 °F", "return_wet_bulb": "64 °F"}


def adding(handbook: Handbook, **unit: str) -> Bench:
    """The advice is to add, and the decision made."""
    bench = before_reading(handbook, BY_SUBCOOLING[0] | unit, BY_SUBCOOLING[1])
    did(bench, "reading", **READING)
    did(bench, "decide", decision="add")
    assert bench.advice().action == "add"
    return bench


def adding_by(handbook: Handbook, how: tuple[dict[str, str], dict[str, str]]) -> Bench:
    """The same by another target."""
    bench = before_reading(handbook, *how)
    did(bench, "reading", **SHORT)
    did(bench, "decide", decision="add")
    assert bench.advice().action == "add"
    return bench


def codes(bench: Bench) -> list[str]:
    return [block.code for block in gate.blocks(bench.state())]


def test_a_deep_vacuum_is_stored_and_ends_the_adding(handbook: Handbook) -> None:
    for psig in ("-3", "-8", "-14"):
        bench = adding(handbook)
        did(bench, "reading", **READING | {"suction_pressure": f"{psig} psig"})
        assert bench.advice().action == "weigh_in"
        assert bench.advice().reasons[0].startswith("Stop the unit. Suction pressure")
        assert codes(bench) == ["reading_weigh_in"]
        assert not bench.form("shot_open", {})


def test_a_liquid_pressure_above_the_rating_stops_it_beyond_the_table_too(
    handbook: Handbook,
) -> None:
    for psig in ("620", "635", "900"):
        bench = adding(handbook, high_side_limit="600 psig")
        high = {"liquid_pressure": f"{psig} psig", "liquid_line": "130 °F"}
        did(bench, "reading", **READING | high)
        assert bench.advice().action == "stop"
        assert "above the unit’s rating of 600 psig" in bench.advice().reasons[0]
        assert not bench.form("shot_open", {})


@pytest.mark.parametrize("how", [BY_SUBCOOLING, BY_SUPERHEAT])
def test_without_a_rating_nothing_is_known_and_nothing_is_added(
    handbook: Handbook, how: tuple[dict[str, str], dict[str, str]]
) -> None:
    """By superheat too: the high side is no figure of that target, but nobody knows how near its
    limits it runs."""
    bench = before_reading(handbook, *how)
    high = {"suction_line": "75 °F", "liquid_pressure": "635 psig", "liquid_line": "130 °F"}
    did(bench, "reading", **READING | high)
    assert bench.advice().action == "read"
    assert "outside the table of R-410A" in bench.advice().reasons[0]
    assert codes(bench) == ["reading_unknown", "undecided"]
    assert not bench.form("decide", {"decision": "add"})


def test_the_control_below_the_end_of_the_table_is_judged_as_before(handbook: Handbook) -> None:
    bench = before_reading(handbook, *BY_SUPERHEAT)
    did(bench, "reading", **READING | {"suction_line": "75 °F", "return_wet_bulb": "64 °F"})
    latest = bench.state().readings[-1].assessment
    assert latest is not None
    assert latest.verdict == "add"


@pytest.mark.parametrize(
    ("seen", "action"),
    [
        ({"suction_pressure": "-3 psig"}, "weigh_in"),
        ({"suction_pressure": "-8 psig"}, "weigh_in"),
        ({"liquid_pressure": "635 psig", "liquid_line": "130 °F"}, "wait"),
    ],
)
def test_a_glance_between_two_openings_counts_although_it_is_early(
    handbook: Handbook, seen: dict[str, str], action: str
) -> None:
    """Within two minutes of a shot a reading says nothing of the charge, but this much it does."""
    bench = before_reading(handbook, *BY_SUBCOOLING)
    did(bench, "reading", **READING | {"suction_line": "70 °F", "liquid_pressure": "330 psig"})
    did(bench, "decide", decision="add")
    did(bench, "shot_open")
    bench.book.wait(10)
    did(bench, "shot_close")
    did(bench, "shot_weigh", scale_after="27.45 lb")
    bench.book.wait(60)
    before = advice_now(bench.state(), bench.now())
    assert before.action == "add"
    did(bench, "reading", **READING | seen)
    assert advice_now(bench.state(), bench.now()).action == action
    assert not bench.form("shot_open", {})


MET = {"suction_pressure": "215 psig", "suction_line": "75 °F", "liquid_pressure": "215 psig"}
SWAPPED = {"suction_pressure": "348 psig", "liquid_pressure": "124 psig"}
MEETING = {"suction_pressure": "190 psig", "suction_line": "55 °F", "liquid_pressure": "240 psig"}


REVERSED = {
    "suction_pressure": "330 psig",
    "suction_line": "150 °F",
    "liquid_pressure": "318 psig",
    "liquid_line": "90 °F",
}
"""The reversing valve fell to heating: the blue hose sees the discharge."""
OFF = {"suction_pressure": "170 psig", "liquid_pressure": "210 psig", "compressor_amps": "0 A"}


@pytest.mark.parametrize("seen", [MET, SWAPPED, MEETING, REVERSED, OFF])
@pytest.mark.parametrize("how", [BY_SUBCOOLING, BY_SUPERHEAT])
def test_a_unit_that_does_not_pump_is_a_stop_until_a_new_reading(
    handbook: Handbook, seen: dict[str, str], how: tuple[dict[str, str], dict[str, str]]
) -> None:
    bench = adding_by(handbook, how)
    did(bench, "reading", **SHORT | seen)
    assert bench.advice().action == "stop"
    assert "mistyped" in bench.advice().reasons[0]
    # Said once, not again at each figure.
    latest = bench.state().readings[-1]
    assert [each["word"] for each in figures_of(US, latest)] == ["Not from this reading."] * 2
    assert codes(bench)[0] == "reading_stop"
    told = page_at(bench, STEP, "shots").context["advice"]
    assert (told["word"], told["reason"], told["more"]) == ("Stop", "", [])
    assert not bench.form("shot_open", {})
    did(bench, "reading", **SHORT)
    assert "reading_stop" not in codes(bench)


@pytest.mark.parametrize("psig", ["0", "-3"])
@pytest.mark.parametrize("amps", [{}, {"compressor_amps": "0 A"}])
def test_an_empty_unit_with_no_lift_is_weighed_in(
    handbook: Handbook, psig: str, amps: dict[str, str]
) -> None:
    bench = adding(handbook)
    both = {"suction_pressure": f"{psig} psig", "liquid_pressure": f"{psig} psig"} | amps
    did(bench, "reading", **READING | both)
    assert bench.advice().action == "weigh_in"


@pytest.mark.parametrize(
    ("slip", "beside"),
    [
        ({"liquid_pressure": "848 psig"}, {"liquid_pressure": "outside the table of R-410A"}),
        (
            SWAPPED,
            {
                "suction_pressure": "not below liquid pressure",
                "liquid_pressure": "not below liquid pressure",
            },
        ),
        ({"suction_line": "32 °F"}, {"suction_line": "at 32.0 °F is colder than"}),
        ({"compressor_amps": "0.09 A"}, {"compressor_amps": "around one wire only"}),
        (
            {"return_wet_bulb": "92 °F"},
            {"return_wet_bulb": "cannot be above", "return_dry_bulb": "cannot be above"},
        ),
        (
            {"return_wet_bulb": "66 °F", "return_humidity": "20 %"},
            {"return_wet_bulb": "20% does not", "return_humidity": "20% does not"},
        ),
    ],
)
def test_a_slip_is_shown_beside_its_box_and_corrected_there(
    handbook: Handbook, slip: dict[str, str], beside: dict[str, str]
) -> None:
    bench = adding(handbook)
    did(bench, "reading", **READING | slip)
    eid = bench.state().readings[-1].eid
    screen = Screen(bench.state(), handbook, bench.now(), ulid(9), (), None)
    page = view(screen, Address(AMEND, bench.book.sid, eid))
    assert isinstance(page, Page)
    form = page.context["form"]
    fields = {field["name"]: field for field in form["fields"] + form["more"]}
    assert form["more_open"] == any(field["problem"] != "" for field in form["more"])
    assert {name for name, field in fields.items() if field["problem"] != ""} == set(beside)
    for name, words in beside.items():
        assert words in fields[name]["problem"]
        assert fields[name]["value"] == (READING | slip)[name].split()[0]


FLOODS = {"suction_pressure": "128 psig", "suction_line": "43 °F"}
TWO_AIRS = {"return_wet_bulb": "66 °F", "return_humidity": "20 %"}


@pytest.mark.parametrize("slip", [TWO_AIRS, {"return_wet_bulb": "92 °F"}])
@pytest.mark.parametrize("how", [BY_SUBCOOLING, BY_CHART])
def test_a_slip_in_the_air_hides_no_liquid_that_comes_back(
    handbook: Handbook, slip: dict[str, str], how: tuple[dict[str, str], dict[str, str]]
) -> None:
    bench = adding_by(handbook, how)
    did(bench, "reading", **SHORT | FLOODS | slip)
    assert bench.advice().action == "stop"
    assert "liquid is reaching the compressor" in bench.advice().reasons[0]
    assert not bench.form("shot_open", {})
    did(bench, "reading", **SHORT | slip)
    assert bench.advice().action == "do_not_add"
    assert "orrect the reading" in bench.advice().reasons[0]
    assert not bench.form("shot_open", {})
    did(bench, "reading", **SHORT)
    assert "reading_refused" not in codes(bench)
    assert bench.advice().action in ("add", "read")


def test_what_cannot_be_is_not_filled_in_again(handbook: Handbook) -> None:
    bench = adding(handbook)
    did(bench, "reading", **READING | TWO_AIRS)
    screen = Screen(bench.state(), handbook, bench.now(), ulid(9), (), None)
    form = full_form(screen, "reading", 0, "", "")
    fields = {field["name"]: field for field in form["fields"] + form["more"]}
    assert fields["return_dry_bulb"]["value"] == READING["return_dry_bulb"].split()[0]
    for name in TWO_AIRS:
        assert fields[name]["value"] == ""
        assert fields[name]["keys"] == []


@pytest.mark.parametrize(("amps", "off"), [("0.09", True), ("0.1", False)])
def test_a_compressor_that_draws_nothing_is_off(handbook: Handbook, amps: str, off: bool) -> None:
    bench = adding(handbook)
    did(bench, "reading", **READING | {"compressor_amps": f"{amps} A"})
    assert ("reading_stop" in codes(bench)) == off
