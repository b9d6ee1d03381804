"""Clocks, cylinders, visits, photos and walks: one rule at a time, on both sides of its limit."""

from dataclasses import replace

import pytest
from advice_cases import at, shoot
from cylinder_cases import use_of
from outlook_cases import entry_of, fields, ready

from lowside.core.hoses.contents import HOSE_BORE_M, HOSE_LENGTH_M
from lowside.core.numbers.unit_choice import UnitChoice
from lowside.core.session import ledger, photos
from lowside.core.session.events import Moment, elapsed, later, next_hlc
from lowside.core.session.hose_charge import hose_size
from lowside.core.session.last_visit import (
    LastVisit,
    known_cylinders,
    known_units,
    last_visit,
    newest,
    visits_before,
)
from lowside.core.session.ledger import CylinderUse
from lowside.core.session.state import (
    VOIDED,
    Cylinder,
    Job,
    ScaleSetting,
    Shot,
    State,
    UsedCylinder,
    Weight,
    decision_from,
    open_shot,
    recovers_hoses,
    scale_mode_from,
    unweighed_shots,
    withdrawal_of,
)
from lowside.core.session.unit_history import UnitUse, unit_histories
from lowside.core.session.walk import forget, recovered

US = UnitChoice("psig", "°F", "lb+oz", "ft")


class TestClocks:
    def test_time_is_steady_within_a_run_and_by_the_wall_across(self) -> None:
        start = Moment("a", 1000, 50_000)
        assert elapsed(start, Moment("a", 4000, 53_000)).seconds == 3.0
        assert not elapsed(start, Moment("a", 4000, 55_000)).doubtful
        assert elapsed(start, Moment("a", 4000, 55_001)).doubtful
        assert elapsed(start, Moment("a", 4000, 50_999)).doubtful
        other = elapsed(start, Moment("b", 0, 57_000))
        assert (other.seconds, other.doubtful) == (7.0, False)
        back = elapsed(start, Moment("b", 0, 49_999))
        assert (back.seconds, back.doubtful) == (0.0, True)
        assert elapsed(start, Moment("b", 0, 50_000)).doubtful is False

    def test_the_later_of_two(self) -> None:
        assert later(None, None) is None
        assert later(at(1), None) == at(1)
        assert later(None, at(1)) == at(1)
        assert later(at(1), at(2)) == at(2)
        assert later(at(2), at(1)) == at(2)

    def test_the_logical_clock_goes_on(self) -> None:
        assert next_hlc("", 5) == "000000000000005-000000"
        assert next_hlc("000000000000005-000000", 5) == "000000000000005-000001"
        assert next_hlc("000000000000005-000003", 4) == "000000000000005-000004"
        assert next_hlc("000000000000005-000003", 6) == "000000000000006-000000"
        assert next_hlc("000000000000005-999999", 4) == "000000000000006-000000"


class TestVisits:
    @staticmethod
    def visit(sid: str, started_s: float, site: str = "Site", cylinder: str = "") -> LastVisit:
        bottle = {} if cylinder == "" else {"cylinder_label": cylinder}
        return LastVisit(sid, site, "Unit", at(started_s), {}, {}, {}, {}, {}, bottle, 0.0)

    def test_earlier_ones_of_this_unit_count(self) -> None:
        state = ready(sid="me", started=at(100), job=Job(" site ", "UNIT", "T", 0.0))
        old, older, same = self.visit("b", 50), self.visit("a", 20), self.visit("c", 100)
        visits = [old, self.visit("me", 60), self.visit("d", 101), older, same, old,
                  self.visit("e", 70, "Other")]  # fmt: skip
        assert visits_before(visits, state) == [older, old, same]
        assert last_visit(visits, state) == same
        assert last_visit([], state) is None
        assert visits_before(visits, replace(state, job=None)) == []
        assert visits_before(visits, replace(state, started=None)) == []
        assert newest([older, old]) == old
        assert newest([old, older]) == old

    def test_units_and_cylinders_are_known_by_their_last_visit(self) -> None:
        old, new = self.visit("a", 10, cylinder="7"), self.visit("b", 20, cylinder=" 7 ")
        other = self.visit("c", 15, "Other", "8")
        assert known_units([old, other, new]) == [new, other]
        assert known_cylinders([old, other, new, self.visit("d", 30)]) == [new, other]

    def test_charge_in_two_sessions_asks_for_the_leak(self) -> None:
        def use(sid: str, started_s: float, kilograms: float) -> UnitUse:
            return UnitUse(
                sid, "Site", "Unit", "R-410A", "T", at(started_s), None, kilograms, 0, None
            )

        (twice,) = unit_histories([use("b", 20, 0.5), use("a", 10, 0.25)])
        assert [line.total_kg for line in twice.lines] == [0.25, 0.75]
        assert "in 2 sessions" in twice.sentence(US)
        assert "1 lb 10.5 oz in all" in twice.sentence(US)
        (once,) = unit_histories([use("b", 20, 0.5), use("a", 10, 0.0)])
        assert once.sentence(US) == ""


class TestLedger:
    @staticmethod
    def use(start_kg: float | None, end_kg: float | None, **changes: object) -> CylinderUse:
        plain = CylinderUse("s", "7", "R-410A", 5.0, start_kg, end_kg, at(0), None, 0.01, 0.0)
        made: CylinderUse = replace(plain, **changes)  # type: ignore[arg-type]
        return replace(made, closed=made.started) if made.closed is None else made

    @pytest.mark.parametrize(
        ("start_kg", "codes"),
        [(10.0, []), (9.981, []), (9.979, ["lost"]), (10.019, []), (10.021, ["gained"])],
    )
    def test_two_steps_either_way(self, start_kg: float, codes: list[str]) -> None:
        found = ledger.between(self.use(12.0, 10.0), self.use(start_kg, None))
        assert [each.code for each in found] == codes
        assert all(each.steps_known for each in found)
        blind = ledger.between(
            self.use(12.0, 10.0, resolution_kg=None), self.use(9.999, None, resolution_kg=None)
        )
        assert [(each.code, each.steps_known) for each in blind] == [("lost", False)]
        coarse = ledger.between(self.use(12.0, 10.0, resolution_kg=0.1), self.use(9.81, None))
        assert coarse == ()

    def test_tare_refrigerant_and_a_missing_end(self) -> None:
        before = self.use(12.0, 10.0)
        assert ledger.between(before, self.use(10.0, None, tare_kg=5.049)) == ()
        (tare,) = ledger.between(before, self.use(10.0, None, tare_kg=5.051))
        assert (tare.code, tare.before_kg, tare.now_kg) == ("tare_changed", 5.0, 5.051)
        (other,) = ledger.between(before, self.use(10.0, None, refrigerant="R-22"))
        assert (other.code, other.before, other.now) == ("refrigerant_changed", "R-410A", "R-22")
        assert ledger.between(before, self.use(None, None)) == ()
        (unknown,) = ledger.between(self.use(12.0, None), self.use(10.0, None))
        assert unknown.code == "no_end_weight"
        assert all(each.steps_known for each in (tare, other, unknown))

    def test_the_last_use_is_the_newest_before(self) -> None:
        uses = [
            self.use(9.0, 8.0, started=at(50), sid="b"),
            self.use(12.0, 10.0, started=at(10), sid="a"),
            self.use(8.0, 7.0, started=at(100), sid="c"),
            self.use(1.0, 1.0, started=None, sid="d"),
            self.use(1.0, 2.0, started=at(60), label="8"),
        ]
        found = ledger.last_use(uses, " 7 ", at(100))
        assert found is not None
        assert found.sid == "b"
        assert found.end_kg == 8.0
        assert ledger.last_use(uses, "7", at(10)) is None
        now = ledger.last_use(uses, "7", None)
        assert now is not None
        assert now.sid == "c"


class TestTheRest:
    def test_hoses_are_as_typed_or_usual(self) -> None:
        assert hose_size(None) == (HOSE_LENGTH_M, HOSE_BORE_M)
        plain = Cylinder("4", "R-410A", 5.0, "invert", None, None)
        assert hose_size(plain) == (HOSE_LENGTH_M, HOSE_BORE_M)
        typed = replace(plain, hose_length_m=2.0, hose_bore_m=0.005)
        assert hose_size(typed) == (2.0, 0.005)
        assert hose_size(replace(plain, hose_length_m=2.0)) == (2.0, HOSE_BORE_M)

    def test_photos_are_tried_smaller_and_smaller(self) -> None:
        """1600, 1200, 900 and 600 pixels at 85, 70 and 55 %; never larger, never nothing."""
        found = photos.sizes_to_try(3200, 1600)
        assert found[0] == (1600, 800, 85)
        assert found[1] == (1600, 800, 70)
        assert found[3] == (1200, 600, 85)
        assert found[-1] == (600, 300, 55)
        assert len(found) == 12
        assert photos.sizes_to_try(100, 1)[0] == (100, 1, 85)
        assert photos.sizes_to_try(1, 5000)[0] == (1, 1600, 85)

    def test_a_photo_is_kept_once_and_30_at_most(self) -> None:
        name = "a" * 64
        shot = entry_of(
            "photo.added", 1, photo=name, photo_bytes="5", photo_width="4", photo_height="3"
        )
        shot = replace(shot, kind=photos.PHOTO_KIND)
        state = ready(entries=(shot,))
        (found,) = photos.photos_of(state)
        assert (found.size, found.width, found.height, found.shows) == (5, 4, 3, "other")
        problems: dict[str, str] = {}
        assert photos.check_photo(state, {"photo": name}, problems) == ""
        assert "attached before" in problems["photo"]
        fresh: dict[str, str] = {}
        assert photos.check_photo(state, {"photo": "b" * 64}, fresh) == ""
        assert fresh == {}
        many = ready(entries=(shot,) * 30)
        assert photos.check_photo(many, {"photo": "b" * 64}, {}) != ""
        assert photos.check_photo(ready(entries=(shot,) * 29), {"photo": "b" * 64}, {}) == ""
        for broken in ("a" * 63, "g" * 64, ""):
            assert photos.photo_name({"photo": broken}) == ""
        for text in ("0", "", "x", "12345678", "999999999"):
            odd = replace(shot, data=shot.data | {"photo_width": text})  # type: ignore[operator]
            assert photos.photos_of(ready(entries=(odd,))) == []
        assert photos.photos_of(ready(entries=(replace(shot, status=VOIDED),))) == []

    def test_a_new_step_of_a_walk_undoes_what_followed_it(self) -> None:
        walk = {"recovery.ready": fields(), "recovery.contents": fields({"rc_before": 12.0})}
        done = {"rec_run": "x", "wi_vacuum": "y", "other": "z"}
        forget("recovery.cylinder", walk, done)
        assert walk == {"recovery.ready": fields()}
        assert done == {"wi_vacuum": "y", "other": "z"}
        walk = {
            "recovery.ready": fields(),
            "recovery.contents": fields(),
            "recovery.weighed": fields(rc_next="another"),
            "vacuum.held": fields(),
        }
        forget("recovery.weighed", walk, done)
        assert sorted(walk) == ["recovery.ready"]
        assert done == {"other": "z"}
        walk["recovery.weighed"] = fields(rc_next="weigh_in")
        forget("recovery.weighed", walk, done)
        assert sorted(walk) == ["recovery.weighed"]

    def test_a_recovery_is_what_its_cylinder_gained(self) -> None:
        before = {"recovery.contents": fields({"rc_before": 12.0})}
        part = recovered(at(5), before, fields({"rc_after": 13.5}, rc_what="part"))
        assert (part.kg, part.whole, part.moment) == (1.5, False, at(5))
        whole = recovered(at(5), before, fields({"rc_after": 13.5}, rc_what="whole"))
        assert whole.whole
        unknown = recovered(at(5), {}, fields({"rc_after": 13.5}, rc_what="whole"))
        assert (unknown.kg, unknown.whole) == (None, True)


class TestUsesOfCylinders:
    """15 kg at the start, 14 kg at the end; two shots, and one of the cylinder after it."""

    @staticmethod
    def session() -> State:
        state = shoot(shoot(shoot(ready(sid="me"), 100, 0.5), 200, 0.3), 300, 0.2)
        return replace(state, started=at(0), end_weight=Weight("e", at(900), 14.0))

    def test_a_session_s_cylinder(self) -> None:
        use = use_of(self.session())
        assert use is not None
        assert (use.sid, use.label, use.tare_kg) == ("me", "4", 5.0)
        assert (use.start_kg, use.end_kg, use.resolution_kg) == (15.0, 14.0, 0.005)
        assert use.added_kg == pytest.approx(1.0)
        bare = replace(self.session(), start_weight=None, end_weight=None, scale=None)
        unknown = use_of(bare)
        assert unknown is not None
        assert (unknown.start_kg, unknown.end_kg, unknown.resolution_kg) == (None, None, None)
        assert use_of(replace(self.session(), practice=True)) is None
        assert use_of(replace(self.session(), cylinder=None)) is None

    def test_those_before_it_count_where_they_fed_a_shot(self) -> None:
        first = UsedCylinder(
            Cylinder("1", "R-22", 4.0, "invert", None, None),
            Weight("w", at(0), 9.0),
            Weight("x", at(700), 8.0),
            ScaleSetting("gross", 9.0, 0.02),
            2,
        )
        unused = UsedCylinder(replace(first.cylinder, label="2"), None, None, None, 2)
        last = UsedCylinder(replace(first.cylinder, label="3"), None, None, None, 3)
        state = replace(self.session(), used_before=(first, unused, last))
        found = ledger.uses_in(state)[:-1]
        assert [each.label for each in found] == ["1", "3"]
        assert (found[0].start_kg, found[0].end_kg, found[0].resolution_kg) == (9.0, 8.0, 0.02)
        assert (found[0].refrigerant, found[0].tare_kg) == ("R-22", 4.0)
        assert [each.added_kg for each in found] == pytest.approx([0.8, 0.2])
        assert (found[1].start_kg, found[1].end_kg, found[1].resolution_kg) == (None, None, None)
        assert ledger.uses_in(replace(state, practice=True)) == []
        assert len(ledger.uses_in(self.session())) == 1

    def test_now_it_is_held_against_its_last_use_in_another_session(self) -> None:
        other = TestLedger.use(16.0, 15.5, sid="a", label="4", started=at(-100))
        (lost,) = ledger.warnings_now(self.session(), [other])
        assert (lost.code, lost.before_kg, lost.now_kg) == ("lost", 15.5, 15.0)
        assert "so 17.6 oz is missing" in lost.sentence(US)
        itself = replace(other, sid="me")
        assert ledger.warnings_now(self.session(), [itself]) == ()
        assert ledger.warnings_now(self.session(), []) == ()
        refilled = replace(other, end_kg=14.0)
        (gained,) = ledger.warnings_now(self.session(), [refilled])
        assert gained.code == "gained"
        assert "refilled" in gained.sentence(US)
        assert gained.sentence(US).endswith("charge from it.")
        blind = replace(gained, steps_known=False)
        assert blind.sentence(US).endswith("The step of neither scale was recorded.")
        unknown = replace(other, end_kg=None)
        (no_end,) = ledger.warnings_now(self.session(), [unknown])
        assert "had not weighed it back" in no_end.sentence(US)

    def test_what_a_state_says_of_itself(self) -> None:
        assert decision_from("add") == "add"
        assert decision_from("leave") == "leave"
        assert decision_from("x") == ""
        assert scale_mode_from("zeroed") == "zeroed"
        assert scale_mode_from("gross") == "gross"
        assert withdrawal_of(ready()) == "dip_tube"
        assert withdrawal_of(ready(cylinder=None)) == "invert"
        unweighed = Shot("u", at(1), at(2), 1.0, doubtful_time=False, amount_kg=None)
        opened = replace(unweighed, closed=None)
        state = replace(self.session(), shots=(*self.session().shots, unweighed, opened))
        assert unweighed_shots(state) == 2
        assert open_shot(state) == opened
        assert open_shot(self.session()) is None
        assert open_shot(ready()) is None
        assert not recovers_hoses(state)
        assert recovers_hoses(replace(state, walk={"hoses.recover": fields()}))
