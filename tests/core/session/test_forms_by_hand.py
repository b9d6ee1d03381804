"""What an entry may say: one rule at a time, on both sides of its limit."""

from dataclasses import replace

import pytest
from advice_cases import at, shoot
from outlook_cases import assessed, entry_of, fields, ready, taken

from lowside.core.handbook.fields import Fields
from lowside.core.handbook.forms import FORMS
from lowside.core.handbook.handbook import Handbook
from lowside.core.handbook.system import ChartPoint, Reading
from lowside.core.judging.findings import REFUSE, Finding
from lowside.core.numbers.unit_choice import UnitChoice
from lowside.core.numbers.units import POUND_KG, TON_W
from lowside.core.session import entry as entries_of
from lowside.core.session import weight_entry
from lowside.core.session.events import Moment
from lowside.core.session.overriding import (
    decided_on,
    gone_against,
    needs_a_reason,
    never_added_to,
    open_objection,
)
from lowside.core.session.shots import ended, place_of_closed, started, weighed
from lowside.core.session.state import (
    VOIDED,
    ScaleSetting,
    Taken,
    Weight,
    find_entry,
    is_empty,
    shot_to_weigh,
)
from lowside.core.session.target_entry import check_target
from lowside.core.session.unit import chart_points_of, designation, short_below, system_of
from lowside.core.session.unit_entry import check_unit

US = UnitChoice("psig", "°F", "lb+oz", "ft")


class TestTargetForm:
    @staticmethod
    def problems(
        handbook: Handbook, numbers: dict[str, float], metering: str = "fixed", **texts: str
    ) -> list[str]:
        found: dict[str, str] = {}
        state = ready(unit_texts={"metering": metering})
        check_target(state, Fields(numbers, texts, {}), handbook, found)
        return sorted(found)

    @pytest.mark.parametrize(
        ("numbers", "metering", "texts", "expected"),
        [
            ({"maker_subcooling": 5.0}, "txv", {"method": "subcooling"}, []),
            ({}, "txv", {"method": "subcooling"}, ["maker_subcooling"]),
            ({"maker_subcooling": 20.0 / 1.8}, "txv", {"method": "subcooling"}, []),
            (
                {"maker_subcooling": 20.1 / 1.8},
                "txv",
                {"method": "subcooling"},
                ["subcooling_papers"],
            ),
            (
                {"maker_subcooling": 20.1 / 1.8},
                "txv",
                {"method": "subcooling", "subcooling_papers": "yes"},
                [],
            ),
            ({"maker_superheat": 5.0 / 1.8}, "fixed", {"method": "superheat"}, []),
            ({"maker_superheat": 4.9 / 1.8}, "fixed", {"method": "superheat"}, ["maker_superheat"]),
            ({}, "fixed", {"method": "superheat"}, ["maker_superheat"]),
            ({}, "fixed", {"method": "approach"}, ["maker_approach"]),
            ({"maker_approach": 3.0}, "fixed", {"method": "approach"}, []),
            ({}, "fixed", {"method": "chart"}, []),
            ({}, "txv", {"method": "chart"}, ["method"]),
            ({}, "eev", {"method": "chart"}, ["method"]),
            (
                {"papers_outdoor_lowest": 290.0, "papers_outdoor_highest": 290.0},
                "fixed",
                {"method": "chart"},
                ["papers_outdoor_highest"],
            ),
            (
                {"papers_indoor_lowest": 290.0, "papers_indoor_highest": 291.0},
                "fixed",
                {"method": "chart"},
                [],
            ),
        ],
    )
    def test_a_method_with_what_it_needs(
        self,
        handbook: Handbook,
        numbers: dict[str, float],
        metering: str,
        texts: dict[str, str],
        expected: list[str],
    ) -> None:
        assert self.problems(handbook, numbers, metering, **texts) == expected

    @pytest.mark.parametrize(
        ("numbers", "metering", "texts", "expected"),
        [
            (
                {"point1_outdoor": 300.0, "point1_value": 5.0},
                "txv",
                {"points_of": "subcooling"},
                [],
            ),
            ({"point1_outdoor": 300.0, "point1_value": 5.0}, "txv", {}, ["points_of"]),
            ({}, "txv", {"points_of": "subcooling"}, ["point1_outdoor", "point1_value"]),
            (
                {"point1_outdoor": 300.0, "point1_value": 5.0, "point2_value": 6.0},
                "txv",
                {"points_of": "subcooling"},
                ["point2_outdoor"],
            ),
            (
                {
                    "point1_outdoor": 300.0,
                    "point1_value": 5.0,
                    "point2_outdoor": 300.0,
                    "point2_value": 6.0,
                },
                "txv",
                {"points_of": "subcooling"},
                ["point2_outdoor"],
            ),
            (
                {"point1_outdoor": 300.0, "point1_value": 12.0},
                "txv",
                {"points_of": "subcooling"},
                ["subcooling_papers"],
            ),
            (
                {"point1_outdoor": 300.0, "point1_value": 5.0},
                "txv",
                {"points_of": "superheat"},
                ["method"],
            ),
            (
                {"point1_outdoor": 300.0, "point1_value": 5.0},
                "fixed",
                {"points_of": "superheat"},
                [],
            ),
            (
                {"point1_outdoor": 300.0, "point1_pressure": 1e6},
                "fixed",
                {"points_of": "suction_pressure"},
                ["points_short"],
            ),
            (
                {"point1_outdoor": 300.0, "point1_pressure": 1e6},
                "fixed",
                {"points_of": "suction_pressure", "points_short": "below"},
                [],
            ),
        ],
    )
    def test_points_of_a_chart(
        self,
        handbook: Handbook,
        numbers: dict[str, float],
        metering: str,
        texts: dict[str, str],
        expected: list[str],
    ) -> None:
        found = self.problems(handbook, numbers, metering, method="points", **texts)
        assert found == expected

    def test_points_are_those_with_air_and_value(self) -> None:
        numbers = {
            "point1_outdoor": 300.0,
            "point1_value": 5.0,
            "point1_wet_bulb": 290.0,
            "point2_outdoor": 305.0,
            "point2_pressure": 9.0,
        }
        found = chart_points_of(Fields(numbers, {"points_of": "subcooling"}, {}))
        assert found == (ChartPoint(300.0, 290.0, 5.0),)
        found = chart_points_of(Fields(numbers, {"points_of": "liquid_pressure"}, {}))
        assert found == (ChartPoint(305.0, None, 9.0),)
        assert short_below({}) is None
        assert short_below({"points_short": "below"}) is True
        assert short_below({"points_short": "above"}) is False


class TestUnitForm:
    @pytest.mark.parametrize(
        ("tons", "pounds", "barred"),
        [
            (3.0, 0.91, False),
            (3.0, 0.89, True),
            (20.0, 10.1, False),
            (20.0, 9.9, True),
            (3.0, 35.9, False),
            (3.0, 36.1, True),
            (12.4, None, False),
            (12.6, None, True),
            (None, 50.0, False),
        ],
    )
    def test_charge_and_capacity_go_together(
        self, tons: float | None, pounds: float | None, barred: bool
    ) -> None:
        """0.3 lb (a large unit 0.5) to 12 lb a ton; above 12.5 tons the charge is asked for."""
        numbers = {} if tons is None else {"capacity": tons * TON_W}
        if pounds is not None:
            numbers["nameplate_charge"] = pounds * POUND_KG
        found: dict[str, str] = {}
        check_unit(fields(numbers), US, found)
        assert list(found) == (["nameplate_charge"] if barred else [])

    def test_a_retrofit_label_goes_first(self) -> None:
        assert designation({"refrigerant": "R-22"}) == "R-22"
        assert designation({"refrigerant": "R-22", "retrofit_refrigerant": "R-407C"}) == "R-407C"
        assert designation({}) == ""

    def test_a_unit_is_known_with_unit_target_and_site(self) -> None:
        unit = fields({"capacity": 9000.0}, refrigerant="R-22", retrofit_refrigerant="R-407C")
        target = fields({"maker_subcooling": 5.0}, method="subcooling")
        found = system_of(unit, target, 0.0, US)
        assert found is not None
        assert (found.refrigerant, found.nameplate_refrigerant) == ("R-407C", "R-22")
        assert found.atmosphere_pa == pytest.approx(101325.0)
        assert not found.by_points
        plain = system_of(fields(refrigerant="R-22"), target, 0.0, US)
        assert plain is not None
        assert plain.nameplate_refrigerant == ""
        for lacking in (
            (None, target, 0.0),
            (unit, None, 0.0),
            (unit, target, None),
            (fields(), target, 0.0),
            (unit, fields(method="guess"), 0.0),
            (unit, target, 1.0e6),
        ):
            assert system_of(*lacking, US) is None


class TestEntries:
    def test_end_and_start_weight(self, handbook: Handbook) -> None:
        """Tare 5 kg, 15 kg at the start, steps of 5 g."""

        def refused(form: str, gross: float) -> bool:
            problems: dict[str, str] = {}
            found = fields({"gross": gross})
            entries_of._check_values(ready(), FORMS[form], found, handbook, problems)
            return "gross" in problems

        assert not refused("end_weight", 15.009)
        assert refused("end_weight", 15.011)
        assert not refused("end_weight", 5.0)
        assert refused("end_weight", 4.999)
        assert not refused("start_weight", 5.0)
        assert refused("start_weight", 4.999)

    def test_a_tare_is_no_more_than_the_whole(self) -> None:
        for tare, told_ in ((15.0, False), (15.001, True)):
            problems: dict[str, str] = {}
            weight_entry.check_tare(ready(), fields({"cylinder_tare": tare}), problems)
            assert ("cylinder_tare" in problems) == told_
        unweighed: dict[str, str] = {}
        weight_entry.check_tare(
            ready(start_weight=None), fields({"cylinder_tare": 99.0}), unweighed
        )
        assert unweighed == {}

    @pytest.mark.parametrize(
        ("changes", "reason", "refused"),
        [
            ({}, "", ["reason"]),
            ({}, "why", []),
            ({"readings": (taken(0, assessed(verdict="add")),)}, "", []),
            ({"readings": (taken(0, None),)}, "", []),
        ],
    )
    def test_to_add_without_a_call_for_charge_needs_a_reason(
        self, changes: dict[str, object], reason: str, refused: list[str]
    ) -> None:
        problems: dict[str, str] = {}
        typed = {"decision": "add"} | ({"reason": reason} if reason else {})
        state = ready(**changes)
        assert entries_of._check_decision(state, fields(None, **typed), problems) == ""
        assert list(problems) == refused
        barred = entries_of._check_decision(
            replace(state, running=False), fields(None, **typed), {}
        )
        assert barred.startswith("Not now:")
        left = entries_of._check_decision(state, fields(None, decision="leave"), problems)
        assert left == ""

    def test_the_record_asks_for_the_end_weight_or_why_not(self) -> None:
        assert entries_of._check_record(ready()) != ""
        assert entries_of._check_record(ready(explanation="why")) == ""
        start = ready().start_weight
        assert start is not None
        same = ready(end_weight=Weight("e", at(9), start.kg))
        assert entries_of._check_record(same) == ""
        apart = ready(end_weight=Weight("e", at(9), 14.0))
        assert "do not agree" in entries_of._check_record(apart)
        assert entries_of._check_record(replace(apart, explanation="why")) == ""
        assert entries_of._check_record(ready(start_weight=None)) == ""

    def test_the_newest_of_its_kind(self) -> None:
        first, second = entry_of("unit.set", 0), entry_of("unit.set", 1)
        other = entry_of("note.added", 2)
        state = ready(entries=(first, second, other))
        assert entries_of.is_newest(state, second)
        assert not entries_of.is_newest(state, first)
        void = replace(second, status=VOIDED)
        assert entries_of.is_newest(ready(entries=(first, void)), first)
        assert not entries_of.is_newest(ready(entries=(void,)), void)
        assert find_entry(state, "unit.set1.0") == second
        assert find_entry(state, "x") is None

    def test_an_empty_session_has_its_start_and_units_only(self) -> None:
        begun = (entry_of("session.started", 0), entry_of("units.set", 1))
        assert is_empty(ready(entries=begun))
        assert not is_empty(ready(entries=begun, closed=at(9)))
        note = entry_of("note.added", 2)
        assert not is_empty(ready(entries=(*begun, note)))
        assert is_empty(ready(entries=(*begun, replace(note, status=VOIDED))))

    def test_a_shot_waits_for_its_weight(self) -> None:
        state = shoot(ready(), 100, 0.1)
        assert shot_to_weigh(state) is None
        asked = replace(state.shots[0], weight_asked=True)
        assert shot_to_weigh(replace(state, shots=(asked,))) == asked
        assert shot_to_weigh(ready()) is None


class TestGoingAgainstAReading:
    """A rated current that is exceeded may be gone against with a reason; a refusal may not."""

    CURRENT = Finding("current_high", "warn")
    SPLIT = Finding("split_high", "warn")
    RESTRICTION = Finding("restriction", REFUSE)

    @staticmethod
    def read(
        number: int, verdict: str, *findings: Finding, current_a: float | None = None
    ) -> Taken:
        why = Finding("valve_by_superheat", REFUSE)
        judged = assessed(verdict=verdict, findings=findings, reason_finding=why)
        return taken(number, judged, Reading(compressor_a=current_a))

    @pytest.mark.parametrize(
        ("verdict", "codes", "never", "reason"),
        [
            ("add", ("current_high",), None, "current_high"),
            ("do_not_add", ("current_high", "restriction"), "valve_by_superheat", None),
            ("do_not_add", ("restriction",), "valve_by_superheat", None),
            ("over", ("current_high",), "valve_by_superheat", None),
            ("on_target", ("restriction",), None, None),
            ("on_target", ("current_high",), None, "current_high"),
            ("add", ("split_high",), None, "split_high"),
            ("add", (), None, None),
        ],
    )
    def test_only_some_findings_are(
        self, verdict: str, codes: tuple[str, ...], never: str | None, reason: str | None
    ) -> None:
        known = {each.code: each for each in (self.CURRENT, self.SPLIT, self.RESTRICTION)}
        reading = self.read(0, verdict, *[known[code] for code in codes])
        barred, asked = never_added_to(reading), needs_a_reason(reading)
        assert (None if barred is None else barred.code) == never
        assert (None if asked is None else asked.code) == reason
        assert never_added_to(replace(reading, assessment=None)) is None
        assert needs_a_reason(replace(reading, assessment=None)) is None

    def test_a_reason_holds_for_what_it_was_written_against(self) -> None:
        first = self.read(0, "add", self.CURRENT)
        same, other = self.read(1, "add", self.CURRENT), self.read(1, "add", self.SPLIT)
        calm = self.read(1, "add")
        entries = (
            replace(entry_of("reading.taken", 0), eid="r0"),
            entry_of("decision.made", 1),
            replace(entry_of("reading.taken", 2), eid="r1"),
        )
        decided = ready(entries=entries, decision_reason="because")

        def objection(*readings: Taken, **changes: object) -> str | None:
            state = replace(decided, readings=readings, **changes)  # type: ignore[arg-type]
            found = open_objection(state)
            return None if found is None else found.code

        assert objection(first, same) is None
        assert objection(first, other) == "split_high"
        assert objection(first, calm) is None
        assert objection(first, same, decision_reason="") == "current_high"
        assert objection(first, same, entries=()) == "current_high"
        assert objection(calm, same) == "current_high"
        assert objection(self.read(0, "on_target", self.CURRENT), same) is None
        assert objection(self.read(0, "do_not_add", self.CURRENT), same) == "current_high"
        assert objection(first, self.read(1, "add", self.CURRENT, self.SPLIT)) == "split_high"
        at_10 = self.read(0, "add", self.CURRENT, current_a=10.0)
        assert objection(at_10, self.read(1, "add", self.CURRENT, current_a=10.9)) is None
        more = self.read(1, "add", self.CURRENT, current_a=11.1)
        assert objection(at_10, more) == "current_high"
        assert objection(at_10, self.read(1, "add", self.SPLIT, current_a=11.1)) == "split_high"
        assert objection() is None
        later = (*entries, entry_of("decision.made", 3))
        assert objection(first, other, entries=later) is None
        assert decided_on(replace(decided, readings=(first, same))) == first
        assert decided_on(replace(decided, readings=(first, same), entries=later)) == same

    def test_what_it_was_decided_against_is_kept(self) -> None:
        entries = (replace(entry_of("reading.taken", 0), eid="r0"), entry_of("decision.made", 1))

        def against(reading: Taken, decision: str = "add") -> str | None:
            found = gone_against(ready(entries=entries, readings=(reading,), decision=decision))
            return None if found is None else found.code

        assert against(self.read(0, "add")) is None
        assert against(self.read(0, "add", self.SPLIT)) == "split_high"
        assert against(self.read(0, "on_target")) == "valve_by_superheat"
        assert against(self.read(0, "on_target", self.SPLIT)) == "split_high"
        assert against(self.read(0, "on_target"), "leave") is None
        assert against(taken(0, None)) is None


def test_a_shot_from_its_start_to_its_weight() -> None:
    """10 kg before, 9.9 kg after, 20 s open."""
    scale = ScaleSetting("gross", 10.0, 0.005)
    begun = started("s", at(100), 10.0, {"planned": 0.1, "planned_time": 25.0})
    assert (begun.planned_kg, begun.planned_s, begun.before_kg) == (0.1, 25.0, 10.0)
    assert begun.closed is None
    assert not begun.weight_asked
    assert not begun.doubtful_time
    shut = ended(begun, at(120), None, True)
    assert (shut.open_s, shut.closed, shut.amount_kg) == (20.0, at(120), None)
    assert shut.weight_asked
    assert not shut.doubtful_time
    assert ended(begun, Moment("other", 0, 0), None, True).doubtful_time
    told = ended(begun, Moment("other", 0, 0), 12.0, True)
    assert (told.open_s, told.doubtful_time) == (12.0, False)
    on_scale = weighed(shut, 9.9, scale)
    assert on_scale.amount_kg == pytest.approx(0.1)
    assert on_scale.step_kg == 0.005
    assert not on_scale.weight_asked
    assert weighed(shut, None, scale).amount_kg is None
    assert weighed(shut, 9.9, None).amount_kg is None
    assert weighed(replace(shut, before_kg=None), 9.9, scale).amount_kg is None
    assert not ended(begun, at(120), None, False).weight_asked
    assert weighed(shut, None, None).step_kg is None
    shots = [shut, begun, replace(shut, eid="t")]
    assert place_of_closed(shots, "t") == 2
    assert place_of_closed(shots, "s") == 0
    assert place_of_closed(shots[1:], "s") is None
