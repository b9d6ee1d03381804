"""How much is too much counts what is in the unit: the hoses' charge is not in it yet, and who
recovers by a figure with it, hoses off, takes too much out. Arithmetic."""

from expert import Bench
from overcharged import RIGHT, charging, overcharged, read_twice, shot
from walked import did, page_at

from lowside.core.advice import ground
from lowside.core.handbook.handbook import Handbook
from lowside.core.pages.addresses import STEP

OVER = "Overcharge, estimate"


def facts(bench: Bench) -> dict[str, str]:
    return {one["name"]: one["value"] for one in page_at(bench, STEP, "shots").context["facts"]}


def test_a_unit_on_target_is_not_overcharged(handbook: Handbook) -> None:
    bench = charging(handbook)
    shot(bench, 15, "27.4375 lb")
    read_twice(bench, RIGHT)
    shown = facts(bench)
    assert OVER not in shown
    assert shown["Still missing without the hoses, estimate"].startswith("at most 0.")


def test_the_figure_is_the_same_once_the_hoses_are_to_be_recovered(handbook: Handbook) -> None:
    bench = overcharged(handbook)
    basis = ground.basis(bench.state())
    assert basis is not None
    assert basis.hoses_kg > 0.05
    before = facts(bench)[OVER]
    did(bench, "hoses_recover")
    assert facts(bench)[OVER] == before


def test_the_control_what_is_missing_is_beside_the_hoses(handbook: Handbook) -> None:
    """Shots and hoses together bring it to the target, so this figure is for the shots."""
    shown = facts(charging(handbook))
    assert "Still missing, estimate" in shown
