"""What a leak check that was not done forbids, whatever reason is written for it.

READ for R-407C: no top-up once it leaked, the composition may have shifted (MCM p. 65, D-series
p. 16). Other blends with wide glide by R-407C, and a leak nobody looked for as one: our choice.
Nothing goes unsearched into a unit whose refrigerant can burn: common practice, no source. For all
others a reason on the record is enough (design; row K08 of the table of situations).
"""

import pytest
from expert import play, situations

from lowside.core.handbook.handbook import Handbook

ROWS = {row["id"]: row for row in situations()}
REASON = "leak=not_searched; checks_reason=the roof is too hot"


WIDE_GLIDE = ("A06", "Q60", "Q61", "E12")
"""R-407C, R-454C (which can burn too), R-407C by a retrofit label: short, to be added to."""


def answered(handbook: Handbook, like: str, checks: str) -> tuple[str, str]:
    """Situation `like` of the table with these checks: the answer and its first reason."""
    played = play(ROWS[like] | {"checks": checks}, handbook)
    assert played.holes == []
    return played.answer, played.why


@pytest.mark.parametrize("like", WIDE_GLIDE)
@pytest.mark.parametrize("checks", [REASON, "leak=not_searched"])
def test_nothing_goes_unsearched_into_a_wide_glide_blend(
    handbook: Handbook, like: str, checks: str
) -> None:
    answer, why = answered(handbook, like, checks)
    assert answer == "do_not_add"
    assert "Nobody has leak-checked the unit. Leak-check it, then" in why
    assert "write" not in why, "no reason helps"


@pytest.mark.parametrize("like", WIDE_GLIDE)
def test_searched_and_none_found_it_is_added_to_as_before(handbook: Handbook, like: str) -> None:
    assert answered(handbook, like, "leak=none_found")[0] == "add"
    answer, why = answered(handbook, like, "leak=repaired")
    assert answer == "weigh_in"
    assert "wide glide, and it has leaked" in why


@pytest.mark.parametrize("checks", [REASON, "leak=not_searched"])
def test_nothing_goes_unsearched_into_what_can_burn(handbook: Handbook, checks: str) -> None:
    answer, why = answered(handbook, "A05", checks)
    assert answer == "do_not_add"
    assert "Nobody has leak-checked the unit. Leak-check it, then" in why
    assert "write" not in why, "no reason helps"


def test_the_same_unit_searched_is_added_to_as_before(handbook: Handbook) -> None:
    assert answered(handbook, "A05", "leak=none_found")[0] == "add"
    assert answered(handbook, "A05", "leak=repaired")[0] == "add"


@pytest.mark.parametrize("like", ["K08", "A09"])
def test_for_others_a_reason_is_enough_as_before(handbook: Handbook, like: str) -> None:
    """R-410A, and R-422B, which may be topped off after a leak (READ: NU-22B)."""
    assert answered(handbook, like, REASON)[0] == "add"
    answer, why = answered(handbook, like, "leak=not_searched")
    assert answer == "do_not_add"
    assert "or write at the checks why not" in why
