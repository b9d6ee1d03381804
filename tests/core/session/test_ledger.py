"""A cylinder's ledger and a unit's history: what is lost between jobs is seen."""

from dataclasses import replace

import pytest
from cylinder_cases import at, use_of
from cylinder_cases import half_used as use
from hypothesis import given
from hypothesis import strategies as st

from lowside.core.numbers.unit_choice import UnitChoice
from lowside.core.numbers.units import OUNCE_KG, POUND_KG
from lowside.core.session.events import Moment
from lowside.core.session.fold import fold
from lowside.core.session.ledger import (
    GAINED,
    LOST,
    NO_END_WEIGHT,
    REFRIGERANT_CHANGED,
    STEPS_ALLOWED,
    TARE_CHANGED,
    CylinderUse,
    between,
    label_key,
    last_use,
    warnings_now,
)
from lowside.core.session.state import Cylinder, Job, ScaleSetting, Shot, State, Weight
from lowside.core.session.unit_history import unit_histories, unit_use_of

POUNDS = UnitChoice()
METRIC = UnitChoice("bar", "°C", "kg", "m")


@pytest.mark.parametrize("same", ["c 7 b", "C 7 B", "  c 7 b ", "C  7   b"])
def test_capitals_and_unseen_spaces_tell_no_labels_apart(same: str) -> None:
    assert label_key(same) == label_key("C 7 b")
    assert label_key("C7 b") != label_key(same)


def codes(earlier: CylinderUse, later: CylinderUse) -> list[str]:
    return [warning.code for warning in between(earlier, later)]


def last_end_kg(uses: list[CylinderUse], label: str, before: Moment) -> float | None:
    use = last_use(uses, label, before)
    return None if use is None else use.end_kg


def session(sid: str = "A", minutes: int = 0, practice: bool = False) -> State:
    shot = Shot("E1", at(minutes + 5), at(minutes + 6), 60.0, False, 0.25)
    unweighed = Shot("E3", at(minutes + 7), at(minutes + 8), 60.0, False, None)
    return replace(
        fold([]),
        sid=sid,
        started=at(minutes),
        job=Job("Gym", "Roof", "Ines", 0.0),
        unit_texts={"refrigerant": "R-410A"},
        unit_numbers={"nameplate_charge": 3.0},
        cylinder=Cylinder("C-12", "R-410A", 6.0, "invert", None, None),
        start_weight=Weight("E5", at(minutes + 1), 15.0),
        end_weight=Weight("E6", at(minutes + 40), 14.7),
        scale=ScaleSetting("gross", 15.2, 0.005),
        shots=(shot, unweighed),
        closed=at(minutes + 50),
        practice=practice,
    )


def test_a_cylinder_that_weighs_as_it_was_left_says_nothing() -> None:
    assert codes(use(), use("B", 100, start_kg=14.0)) == []


@pytest.mark.parametrize(
    ("steps", "found"), [(0.0, []), (2.0, []), (2.2, [LOST]), (-2.0, []), (-2.2, [GAINED])]
)
@pytest.mark.parametrize("resolution_kg", [0.001, 0.005, OUNCE_KG / 4.0, 0.02 * POUND_KG])
def test_two_steps_of_the_scale_are_allowed_either_way(
    steps: float, found: list[str], resolution_kg: float
) -> None:
    earlier = use(resolution_kg=resolution_kg)
    later = use("B", 100, start_kg=14.0 - steps * resolution_kg, resolution_kg=resolution_kg)
    assert codes(earlier, later) == found


@pytest.mark.parametrize(("one", "other"), [(0.005, 0.05), (0.05, 0.005), (None, 0.05)])
def test_the_coarser_of_two_scales_sets_what_is_allowed(
    one: float | None, other: float | None
) -> None:
    assert codes(use(resolution_kg=one), use("B", 9, start_kg=13.9, resolution_kg=other)) == []
    found = codes(use(resolution_kg=one), use("B", 9, start_kg=13.89, resolution_kg=other))
    assert found == [LOST]


def test_scales_of_unknown_step_allow_nothing_and_say_so() -> None:
    earlier, later = use(resolution_kg=None), use("B", 9, start_kg=13.999, resolution_kg=None)
    (warning,) = between(earlier, later)
    assert (warning.code, warning.steps_known) == (LOST, False)
    assert warning.sentence(METRIC).endswith("The step of neither scale was recorded.")
    assert codes(earlier, replace(later, start_kg=14.0000000001)) == []


def test_lost_weight_is_told_in_the_session_s_units() -> None:
    (warning,) = between(use(), use("B", 100, start_kg=13.8))
    assert (warning.before_kg, warning.now_kg) == (14.0, 13.8)
    assert warning.sentence(METRIC) == (
        "The cylinder weighs 13.800 kg. Its last job ended at 14.000 kg, so 200 g is missing. It "
        "leaks, was used without a record, or a weighing was wrong. Leak-check its valve and "
        "weigh it again."
    )
    assert "30 lb 13.8 oz" in warning.sentence(POUNDS)
    assert "7.1 oz is missing" in warning.sentence(POUNDS)


def test_gained_weight_is_another_cylinder_or_a_refill() -> None:
    (warning,) = between(use(), use("B", 100, start_kg=20.0))
    assert warning.code == GAINED
    assert warning.sentence(METRIC).startswith(
        "The cylinder weighs 20.000 kg. Its last job ended at 14.000 kg, 6000 g less. It was "
        "refilled, is another cylinder,"
    )


def test_another_tare_is_told_but_not_another_rounding_of_it() -> None:
    assert codes(use(tare_kg=25.5 * POUND_KG), use("B", 9, start_kg=14.0, tare_kg=11.6)) == []
    earlier, later = use(tare_kg=6.0), use("B", 9, start_kg=14.0, tare_kg=6.1)
    assert codes(earlier, later) == [TARE_CHANGED]
    assert "The tare was 6.000 kg last time and is 6.100 kg now." in between(earlier, later)[
        0
    ].sentence(METRIC)


def test_another_refrigerant_on_the_label_is_told_first() -> None:
    warnings = between(use(), use("B", 9, start_kg=13.0, tare_kg=7.0, refrigerant="R-22"))
    assert [w.code for w in warnings] == [REFRIGERANT_CHANGED, TARE_CHANGED, LOST]
    assert "held R-410A last time, and now its label says R-22" in warnings[0].sentence(POUNDS)


def test_without_a_weight_nothing_is_guessed() -> None:
    assert codes(use(end_kg=None), use("B", 9)) == [NO_END_WEIGHT]
    assert "cannot be seen" in between(use(end_kg=None), use("B", 9))[0].sentence(POUNDS)
    assert codes(use(), use("B", 9, start_kg=None)) == []


def test_a_use_that_cannot_be_placed_in_time_is_nobodys_last() -> None:
    assert last_use([use("X", started=None)], "C-12", at(9)) is None


def test_the_last_end_weight_is_that_of_the_last_job_or_unknown() -> None:
    uses = [use("B", 100, end_kg=12.0), use("A", 0), use("C", 50, label="other", end_kg=3.0)]
    assert last_end_kg(uses, "c-12 ", at(200)) == 12.0
    assert last_end_kg(uses, "C-12", at(100)) == 14.0
    assert last_end_kg(uses, "C-12", at(0)) is None
    unfinished = [*uses, use("D", 150, end_kg=None)]
    assert last_end_kg(unfinished, "C-12", at(200)) is None


def test_a_session_says_what_it_used() -> None:
    assert use_of(session()) == CylinderUse(
        "A", "C-12", "R-410A", 6.0, 15.0, 14.7, at(1), at(40), 0.005, 0.25, 1
    )
    bare = replace(session(), start_weight=None, end_weight=None, scale=None)
    found = use_of(bare)
    assert found is not None
    assert (found.start_kg, found.end_kg, found.resolution_kg) == (None, None, None)
    assert use_of(replace(session(), cylinder=None)) is None


def test_practice_uses_no_real_cylinder_and_charges_no_real_unit() -> None:
    assert use_of(session(practice=True)) is None
    assert unit_use_of(session(practice=True)) is None
    assert warnings_now(session("B", 60, practice=True), [use("A")]) == ()


def test_a_running_session_is_held_against_the_last_one_and_not_against_itself() -> None:
    running = session("B", 60)
    uses = [use("A", 0, end_kg=15.5), use("B", 60), use("C", 90, end_kg=1.0)]
    assert [w.code for w in warnings_now(running, uses)] == [LOST]
    assert warnings_now(running, [use("A", 0, end_kg=15.0)]) == ()
    assert warnings_now(running, []) == ()
    assert warnings_now(replace(running, cylinder=None), uses) == ()


weights = st.floats(5.0, 60.0)
steps = st.one_of(st.none(), st.floats(0.0001, 0.5))


@given(weights, weights, steps, steps)
def test_a_warning_appears_exactly_beyond_what_is_allowed(
    end: float, start: float, one: float | None, other: float | None
) -> None:
    found = codes(
        use(end_kg=end, resolution_kg=one), use("B", 9, start_kg=start, resolution_kg=other)
    )
    allowed = STEPS_ALLOWED * max(one or 0.0, other or 0.0)
    if abs(end - start) > allowed + 0.00001:
        assert found == [LOST if start < end else GAINED]
    elif abs(end - start) < allowed:
        assert found == []


def test_a_unit_s_history_adds_up_and_asks_for_the_leak() -> None:
    uses = [unit_use_of(session(sid, minutes)) for sid, minutes in (("B", 90), ("A", 0))]
    other = replace(session("C", 50), job=Job("Gym", "Cellar", "Ines", 0.0))
    known = [one for one in (*uses, unit_use_of(other)) if one is not None]
    histories = unit_histories(known)
    assert [(h.unit_label, [line.use.sid for line in h.lines]) for h in histories] == [
        ("Roof", ["A", "B"]),
        ("Cellar", ["C"]),
    ]
    assert [line.total_kg for line in histories[0].lines] == [0.25, 0.5]
    assert histories[0].lines[0].use.unweighed_shots == 1
    assert histories[0].lines[0].use.nameplate_charge_kg == 3.0
    assert histories[0].sentence(METRIC) == (
        "Charge was added here in 2 sessions, at least 0.500 kg in all. A sealed system does not "
        "use up refrigerant. Find the leak."
    )
    assert histories[1].sentence(METRIC) == ""


def test_a_unit_is_known_by_its_site_and_label() -> None:
    one = session("A")
    other = replace(session("B", 9), job=Job("Bakery", "Roof", "Ines", 0.0))
    again = replace(session("C", 19), job=Job(" gym", "ROOF", "Ines", 0.0))
    known = [u for u in map(unit_use_of, (one, other, again)) if u is not None]
    assert [len(h.lines) for h in unit_histories(known)] == [2, 1]
    assert unit_use_of(replace(one, job=None)) is None
