"""Two phones correct one reading, each before it saw the other's correction. The later one replaces
all of its data, so what the first one corrected is back as it was first written."""

import pytest
from expert import Bench, with_spaced_units
from overcharged import SHORT, measured
from strategies import Book
from walked import did

from lowside.core.handbook.handbook import Handbook
from lowside.core.session import gate
from lowside.core.session.corrections import corrected_apart
from lowside.core.session.entry import Accepted, accept_amendment
from lowside.core.session.state import State, latest_reading

RIGHT = {"liquid_line": "96 °F", "suction_line": "55 °F"}
"""In tolerance; 104 °F at the liquid line was a slip."""
AIR = {"return_dry_bulb": "76 °F"}


def corrects(bench: Bench, seen: State, dev: str = "phone-a", **typed: str) -> str:
    """What this phone corrects in the last reading, as it saw it; the correction's eid."""
    latest = latest_reading(seen)
    assert latest is not None
    data = with_spaced_units("reading", SHORT | typed)
    said = accept_amendment(seen, latest.eid, data, bench.handbook)
    assert isinstance(said, Accepted)
    if dev == bench.book.dev:
        return bench.book.write(said.kind, said.data).eid
    bench.book.wait(10)
    book = bench.book
    event = Book(book.sid, dev, dev, book.at, len(book.events), book.seen).write(
        said.kind, said.data
    )
    book.seen = event.hlc
    book.events.append(event)
    return event.eid


def apart(bench: Bench) -> bool:
    return "corrected_apart" in [block.code for block in gate.blocks(bench.state())]


def undone(handbook: Handbook) -> Bench:
    bench = measured(handbook, SHORT)
    seen = bench.state()
    corrects(bench, seen, **RIGHT)
    corrects(bench, seen, "phone-b", **AIR)
    return bench


def test_nothing_is_added_on_a_correction_that_undid_another(handbook: Handbook) -> None:
    bench = undone(handbook)
    assert apart(bench)
    assert not bench.form("decide", {"decision": "add"})
    assert "the later correction undid the other" in bench.refused
    assert bench.advice().action == "do_not_add"
    assert not bench.form("shot_open", {})


@pytest.mark.parametrize("dev", ["phone-a", "phone-b"])
def test_corrected_once_more_it_counts(handbook: Handbook, dev: str) -> None:
    bench = undone(handbook)
    corrects(bench, bench.state(), dev, **RIGHT, **AIR)
    assert not apart(bench)


def test_the_first_number_was_right_and_either_way_says_so(handbook: Handbook) -> None:
    """The first phone takes its own correction back; or it is voided."""
    bench = undone(handbook)
    corrects(bench, bench.state(), **AIR)
    assert not apart(bench)
    assert bench.form("decide", {"decision": "add"}), bench.refused
    bench = measured(handbook, SHORT)
    seen = bench.state()
    first = corrects(bench, seen, **RIGHT)
    corrects(bench, seen, "phone-b", **AIR)
    bench.book.write("event.voided", {"target": first})
    assert not apart(bench)


def test_a_new_reading_ends_it(handbook: Handbook) -> None:
    bench = undone(handbook)
    did(bench, "reading", **SHORT)
    assert not apart(bench)


def test_corrections_one_after_the_other_are_as_before(handbook: Handbook) -> None:
    bench = measured(handbook, SHORT)
    corrects(bench, bench.state(), **RIGHT)
    corrects(bench, bench.state(), "phone-b", **RIGHT, **AIR)
    assert not apart(bench)
    corrects(bench, bench.state(), "phone-b", **RIGHT, return_dry_bulb="75 °F")
    assert not apart(bench)


def test_one_phone_may_take_its_own_correction_back(handbook: Handbook) -> None:
    bench = measured(handbook, SHORT)
    corrects(bench, bench.state(), **RIGHT)
    corrects(bench, bench.state())
    corrects(bench, bench.state(), "phone-b", **AIR)
    assert not apart(bench)


def test_a_field_that_was_left_out_at_first_counts_too(handbook: Handbook) -> None:
    bench = measured(handbook, SHORT)
    seen = bench.state()
    corrects(bench, seen, return_wet_bulb="64 °F")
    assert not apart(bench)
    corrects(bench, seen, "phone-b", **AIR)
    assert apart(bench)
    last = latest_reading(bench.state())
    assert last is not None
    assert not corrected_apart(seen.entries, last.eid)
