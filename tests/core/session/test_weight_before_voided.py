"""The weight before a recovery is voided: the recovery still counts, of an amount that
nobody knows. An emptied unit is never charged by readings (ours), a part waits 15 minutes of
running (25TPB7 p. 10, READ).
"""

from expert import Bench
from overcharged import OVER, charging, overcharged, step_done
from walked import did, recover

from lowside.core.advice.advice import WAIT, WEIGH_IN
from lowside.core.handbook.handbook import Handbook
from lowside.core.pages.walks import walk_parts
from lowside.core.session import gate
from lowside.core.session.amount import amount


def eid_of(bench: Bench, kind: str) -> str:
    return [one for one in bench.book.events if one.kind == kind][-1].eid


def void(bench: Bench, eid: str) -> str:
    did(bench, "void", target=eid, reason="a slip")
    return eid_of(bench, "event.voided")


def codes(bench: Bench) -> list[str]:
    return [each.code for each in gate.blocks(bench.state())]


def recovered_line(bench: Bench) -> str:
    return dict(walk_parts(bench.state()))["Recovery"][0]["value"]


def test_an_emptied_unit_is_still_weighed_in(handbook: Handbook) -> None:
    bench = charging(handbook)
    recover(bench, "whole", "32 lb", "weigh_in")
    assert recovered_line(bench) == "5 lb 0.0 oz, whole charge"
    struck = void(bench, eid_of(bench, "recovery.contents"))
    step_done(bench.book, "liquid")
    assert "emptied" in codes(bench)
    assert bench.advice().action == WEIGH_IN
    assert not bench.form("shot_open", {})
    assert recovered_line(bench) == "amount not known, whole charge"
    (told,) = bench.state().flags
    assert told.startswith("The weight before a recovery is missing. ")
    assert amount(bench.state()).recovered_kg == 0.0
    void(bench, struck)
    assert recovered_line(bench) == "5 lb 0.0 oz, whole charge"
    assert bench.state().flags == ()
    void(bench, eid_of(bench, "recovery.weighed"))
    assert "emptied" not in codes(bench)


def test_a_part_still_waits_for_its_reading(handbook: Handbook) -> None:
    bench = overcharged(handbook)
    recover(bench, "part", "27.25 lb", "readings")
    void(bench, eid_of(bench, "recovery.contents"))
    assert {"stopped", "recovered"} <= set(codes(bench))
    did(bench, "system_started")
    assert bench.advice().action == WAIT
    bench.book.wait(901)
    did(bench, "reading", **OVER)
    assert "recovered" not in codes(bench)
