"""A unit whose charge was weighed in holds it: nothing tells anybody to weigh it in once more.

To obey would be a double charge, or a recovery for nothing (common practice, no source).
"""

import pytest
from expert import Bench
from walked import BURNS, READY, did, evacuated, page_at, recover, to_vacuum

from lowside.core.handbook.handbook import Handbook
from lowside.core.pages.addresses import STEP, TIMELINE
from lowside.core.session import gate
from lowside.core.session.block import WEIGH_IN


def recovered_whole(handbook: Handbook) -> Bench:
    bench = evacuated(handbook)
    recover(bench, "whole", "32 lb", "weigh_in")
    return to_vacuum(bench)


def charged(bench: Bench, off: str, rest: str) -> Bench:
    did(bench, "charge_off", charged_off=off)
    did(bench, "charge_run", runs_well="yes")
    did(bench, "charge_rest", charged_rest=rest)
    return bench


def asks(bench: Bench) -> list[str]:
    """What asks for a weigh-in."""
    return [one.code for one in gate.blocks(bench.state()) if one.instead == WEIGH_IN]


def told(bench: Bench) -> str:
    page = page_at(bench, TIMELINE, "")
    return " ".join(one["text"] + " " + one["cure"] for one in page.context["alerts_now"])


def test_a_unit_just_weighed_in_is_not_called_empty(handbook: Handbook) -> None:
    bench = charged(recovered_whole(handbook), "80 oz", "16 oz")
    assert asks(bench) == ["weighed_in"]
    assert "mpty" not in told(bench)
    assert "evacuate" not in told(bench)
    did(bench, "end_weight", gross="21 lb")
    did(bench, "charge_result")
    assert asks(bench) == ["weighed_in"]
    assert told(bench) == "The whole charge was weighed in. Nothing is added to it by readings."


def test_nor_is_one_that_is_only_charged_by_weight(handbook: Handbook) -> None:
    bench = evacuated(handbook, "12 oz", "R-290")
    assert "by_weight_only" in asks(bench)
    did(bench, "charge_off", charged_off="12 oz")
    assert asks(bench) == ["weighed_in"]
    assert "Recover what is inside" not in told(bench)


def test_the_advice_does_not_ask_for_a_recovery_either(handbook: Handbook) -> None:
    bench = charged(recovered_whole(handbook), "80 oz", "16 oz")
    did(bench, "end_weight", gross="21 lb")
    did(bench, "charge_result")
    bench.book.write("system.started", {})
    advice = page_at(bench, STEP, "shots").context["advice"]
    assert advice["word"] == "Add nothing: charged by weight"
    assert "was recovered" not in advice["reason"]
    assert bench.advice().action != "add"


@pytest.mark.parametrize("again", [False, True])
def test_the_control_an_emptied_one_is(handbook: Handbook, again: bool) -> None:
    """With nothing in it yet, and after a weigh-in was recovered too."""
    bench = recovered_whole(handbook)
    if again:
        charged(bench, "80 oz", "16 oz")
        recover(bench, "whole", "32 lb", "weigh_in")
        assert "weighed_in" not in asks(bench)
    assert "emptied" in asks(bench)
    assert "An empty unit is never charged by readings." in told(bench)


def test_the_control_what_burns_is_still_asked(handbook: Handbook) -> None:
    bench = evacuated(handbook, "12 oz", "R-290")
    did(bench, "weigh_ready", **(READY | BURNS))
    assert "by_weight_only" in asks(bench)
