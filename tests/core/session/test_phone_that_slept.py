"""A phone that sleeps may stop its monotonic clock (MDN, `performance.now`, “Ticking during sleep”;
read in excerpts). What must not be too old goes by the wall clock then; a wait does not get shorter
by it."""

import pytest
from expert import Bench
from strategies import MACHINE, READING, ulid
from walked import before_reading, did

from lowside.core.handbook.handbook import Handbook
from lowside.core.pages.addresses import Address
from lowside.core.pages.page import Page
from lowside.core.pages.screen import Screen
from lowside.core.pages.view import view
from lowside.core.session.events import Moment, age_s

HELD = {"mode": "cooling", "compressor": "inverter", "kind": "split", "held": "yes"}


def decided(handbook: Handbook, machine: dict[str, str] = MACHINE) -> Bench:
    target = {"method": "subcooling", "maker_subcooling": "10 °F"}
    bench = before_reading(handbook, {"metering": "txv"}, target, machine)
    did(bench, "reading", **READING)
    did(bench, "decide", decision="add")
    assert bench.advice().action == "add"
    return bench


def sleep(bench: Bench, seconds: float) -> None:
    """In the same run, so that nothing but the wall clock tells."""
    bench.book.at += int(seconds * 1000)


def shots_page(bench: Bench) -> Page:
    screen = Screen(bench.state(), bench.handbook, bench.now(), ulid(9), (), None)
    page = view(screen, Address("step", bench.book.sid, "shots"))
    assert isinstance(page, Page)
    return page


@pytest.mark.parametrize(("asleep_s", "old"), [(860.0, False), (900.0, True), (9000.0, True)])
def test_a_reading_grows_old_while_the_phone_sleeps(
    handbook: Handbook, asleep_s: float, old: bool
) -> None:
    bench = decided(handbook)
    sleep(bench, asleep_s)
    assert bench.advice().action == ("read" if old else "add")
    assert bench.form("shot_open", {}) is not old


def test_the_page_says_how_long_ago_the_reading_was_and_offers_none_of_its_values(
    handbook: Handbook,
) -> None:
    bench = decided(handbook)
    sleep(bench, 5 * 3600.0)
    page = shots_page(bench)
    assert "5 h 0 min ago" in page.context["reading_line"]
    fields = {field["name"]: field for field in page.context["reading"]["fields"]}
    assert fields["outdoor_dry_bulb"]["value"] == ""
    assert "5 h 0 min ago" in fields["suction_pressure"]["hint"]


def test_the_mode_that_holds_the_compressor_ends_meanwhile(handbook: Handbook) -> None:
    """READ: it ends by itself after 60 minutes (NS22HM p. 19)."""
    bench = decided(handbook, HELD)
    sleep(bench, 3700.0)
    assert not bench.form("shot_open", {})
    assert "more than 60 minutes ago" in bench.refused


def test_a_valve_left_open_while_the_phone_slept_is_late(handbook: Handbook) -> None:
    bench = decided(handbook)
    did(bench, "shot_open")
    before = shots_page(bench).context["valve"]
    sleep(bench, 1800.0)
    after = shots_page(bench).context["valve"]
    assert after["elapsed"] == before["elapsed"] + 1800


def test_a_wait_is_not_shorter_for_it(handbook: Handbook) -> None:
    bench = decided(handbook)
    did(bench, "shot_open")
    did(bench, "shot_close")
    did(bench, "shot_weigh", scale_after="27.4 lb")
    waiting = bench.advice()
    assert waiting.action == "wait"
    assert waiting.wait_s is not None
    sleep(bench, waiting.wait_s + 60.0)
    assert bench.advice().action == "wait"
    bench.book.wait(waiting.wait_s)
    assert bench.advice().action != "wait"


def test_age_goes_by_the_clock_that_says_more() -> None:
    start = Moment("run-1", 0, 0)
    assert age_s(start, Moment("run-1", 5000, 3_000_000)) == 3000.0
    assert age_s(start, Moment("run-1", 9000, 5000)) == 9.0
    assert age_s(start, Moment("run-2", 1, 7000)) == 7.0
    assert age_s(start, Moment("run-2", 1, -7000)) == 0.0
