"""Another recovery cylinder is asked for everything anew: nothing of the first one holds for it.

Source of the limit: the lowest of four published rules (see `recovering.py`), by the stamps of the
cylinder that is filled: 49 CFR 173.304a(c) (read). That no stamp is taken over from another
cylinder: common practice, no source.
"""

import pytest
from expert import Bench
from expert_walk import BEFORE, ORDER
from strategies import PROCEDURE, with_units

from lowside.core.handbook.handbook import Handbook
from lowside.core.numbers.units import POUND_KG
from lowside.core.pages.addresses import STEP, Address
from lowside.core.pages.screen import Screen
from lowside.core.pages.view import view
from lowside.core.session import recovering
from lowside.core.session.entry import Accepted, Refused, accept_amendment

FIRST = ORDER["recovery"]
EMPTY = {"rc_before": "27 lb", "rc_inside": "empty"}
FULL = {"rc_after": "57.7 lb", "rc_left": "100 psig", "rc_what": "part"}
SMALL = FIRST["recovery_cylinder"] | {"rc_water": "26.2 lb", "rc_tare": "24 lb"}


def after_the_first(
    handbook: Handbook,
    what_next: str,
    charge: str = "40 lb",
    cylinder: dict[str, str] = FIRST["recovery_cylinder"],
    before: str = "27 lb",
    after: str = "57.7 lb",
) -> Bench:
    """50 lb cylinder (WC 47.7 lb) filled with 30.7 lb of R-410A."""
    bench = Bench(handbook)
    bench.book.write("session.started", {"procedure": PROCEDURE})
    unit = BEFORE["unit"] | {"refrigerant": "R-410A", "nameplate_charge": charge}
    for name, typed in (BEFORE | {"unit": unit}).items():
        assert bench.form(name, typed), bench.refused
    assert bench.form("recovery_ready", FIRST["recovery_ready"]), bench.refused
    assert bench.form("recovery_cylinder", cylinder), bench.refused
    assert bench.form("recovery_contents", EMPTY | {"rc_before": before}), bench.refused
    full = FULL | {"rc_after": after, "rc_next": what_next}
    assert bench.form("recovery_after", full), bench.refused
    return bench


def filled_in(bench: Bench, step: str) -> dict[str, str]:
    """What the form of a step comes filled in with."""
    screen = Screen(bench.state(), bench.handbook, bench.now(), "x" * 26, (), None)
    fields = view(screen, Address(STEP, bench.book.sid, step)).context["form"]["fields"]
    return {field["name"]: field["value"] for field in fields if field["value"] != ""}


def test_the_machine_does_not_start_on_the_first_ones_stamps(handbook: Handbook) -> None:
    bench = after_the_first(handbook, "another")
    assert "recovery.ready" in bench.state().walk
    assert recovering.limit_now(bench.state(), handbook) is None
    assert recovering.why_not(bench.state()) == "Save the recovery cylinder first."
    assert not bench.form("recovery_contents", EMPTY)
    assert not bench.form("recovery_after", FULL | {"rc_next": "weigh_in"})


def test_the_new_ones_own_limit_holds(handbook: Handbook) -> None:
    bench = after_the_first(handbook, "another")
    assert bench.form("recovery_cylinder", SMALL), bench.refused
    assert bench.form("recovery_contents", {"rc_before": "24 lb", "rc_inside": "empty"})
    assert recovering.why_not(bench.state()) == ""
    limit = recovering.limit_now(bench.state(), handbook)
    assert limit is not None
    # READ, trade article: 17 lb of R-410A in a 30 lb cylinder (WC 26.2 lb).
    assert 16.0 < limit.kg / POUND_KG < 17.0
    whole = {"rc_left": "0 psig", "rc_what": "whole", "rc_next": "weigh_in"}
    assert not bench.form("recovery_after", whole | {"rc_after": "54.7 lb"})
    assert "Overfilled" in bench.refused
    assert bench.form("recovery_after", whole | {"rc_after": "33 lb"}), bench.refused
    kilograms = [one.kg / POUND_KG for one in bench.state().recovered]
    assert kilograms == pytest.approx([30.7, 9.0])


def test_nothing_of_the_first_is_filled_in(handbook: Handbook) -> None:
    bench = after_the_first(handbook, "another")
    for step in ("rec_cylinder", "rec_contents", "rec_after"):
        assert filled_in(bench, step) == {}, step
        assert step not in bench.state().done


def test_what_holds_is_still_filled_in(handbook: Handbook) -> None:
    """The control: before the machine runs, each form shows what was saved."""
    bench = after_the_first(handbook, "another")
    assert bench.form("recovery_cylinder", SMALL), bench.refused
    assert filled_in(bench, "rec_cylinder")["rc_water"] == "26.2"
    assert filled_in(bench, "rec_ready")["locked"] == "yes"


def test_a_part_that_ends_the_recovery_keeps_its_cylinder(handbook: Handbook) -> None:
    """The control: no other cylinder follows, so the record still names this one."""
    bench = after_the_first(handbook, "readings", "62 lb")
    assert bench.state().walk["recovery.weighed"].texts["rc_next"] == "readings"
    assert [one.whole for one in bench.state().recovered] == [False]


def corrected(
    bench: Bench, form: str, number: int, typed: dict[str, str]
) -> dict[str, str] | Accepted:
    kind = {
        "recovery_cylinder": "recovery.cylinder",
        "recovery_contents": "recovery.contents",
        "recovery_after": "recovery.weighed",
    }[form]
    entry = [one for one in bench.state().entries if one.kind == kind][number]
    data = with_units(form, typed)
    outcome = accept_amendment(bench.state(), entry.eid, data, bench.handbook)
    return {**outcome.problems, "": outcome.message} if isinstance(outcome, Refused) else outcome


def small_then_large(handbook: Handbook) -> Bench:
    """24 lb of tare and WC 26.2 lb: full at 40.9 lb. The second holds 30.8 lb over 27."""
    bench = after_the_first(handbook, "another", cylinder=SMALL, before="24 lb", after="36 lb")
    assert bench.form("recovery_cylinder", FIRST["recovery_cylinder"]), bench.refused
    assert bench.form("recovery_contents", EMPTY), bench.refused
    whole = {"rc_left": "0 psig", "rc_what": "whole", "rc_next": "weigh_in"}
    assert bench.form("recovery_after", {"rc_after": "40 lb", **whole}), bench.refused
    return bench


ANOTHER = {"rc_left": "100 psig", "rc_what": "part", "rc_next": "another"}


def test_a_correction_is_held_against_its_own_cylinder(handbook: Handbook) -> None:
    bench = small_then_large(handbook)
    over = corrected(bench, "recovery_after", 0, ANOTHER | {"rc_after": "45 lb"})
    assert isinstance(over, dict)
    assert "Overfilled" in over["rc_after"]
    # By the second’s tare and limit these would be wrong.
    fits = corrected(bench, "recovery_after", 0, ANOTHER | {"rc_after": "36.5 lb"})
    assert isinstance(fits, Accepted)
    before = EMPTY | {"rc_before": "24.1 lb"}
    assert isinstance(corrected(bench, "recovery_contents", 0, before), Accepted)
    before = EMPTY | {"rc_before": "27 lb"}
    full = corrected(bench, "recovery_contents", 0, before)
    assert isinstance(full, dict)
    assert "3 lb 0.0 oz is inside" in full["rc_before"]


@pytest.mark.parametrize(("water", "told"), [("18 lb", True), ("26 lb", False)])
def test_so_are_its_stamps(handbook: Handbook, water: str, told: bool) -> None:
    bench = small_then_large(handbook)
    outcome = corrected(bench, "recovery_cylinder", 0, SMALL | {"rc_water": water})
    assert isinstance(outcome, dict) == told
    if isinstance(outcome, dict):
        assert "Overfilled" in outcome["rc_water"]


def test_before_the_second_is_named_the_first_can_be_corrected(handbook: Handbook) -> None:
    bench = after_the_first(handbook, "another")
    typed = ANOTHER | {"rc_after": "57 lb"}
    assert isinstance(corrected(bench, "recovery_after", 0, typed), Accepted)
    before = EMPTY | {"rc_before": "27.1 lb"}
    assert isinstance(corrected(bench, "recovery_contents", 0, before), Accepted)


def test_nor_by_the_weight_of_the_next_where_its_own_is_void(handbook: Handbook) -> None:
    bench = small_then_large(handbook)
    contents = next(one for one in bench.state().entries if one.kind == "recovery.contents")
    assert bench.form("void", {"target": contents.eid, "reason": "a slip"})
    outcome = corrected(bench, "recovery_after", 0, ANOTHER | {"rc_after": "36.5 lb"})
    assert isinstance(outcome, dict)
    assert "its weight before first" in outcome[""]
