"""What bars a shot, what an entry may say, and what counts as in time: one rule at a time, on both
sides of its limit."""

from dataclasses import replace

import pytest
from advice_cases import at, opening, orifice_unit, shoot, valve_unit
from outlook_cases import assessed, fields, taken

from lowside.core.handbook.fields import Fields
from lowside.core.handbook.forms import FORMS
from lowside.core.handbook.handbook import Handbook
from lowside.core.handbook.machine import (
    COOLING,
    DUCTLESS,
    FULL_STAGE,
    HEATING,
    INVERTER,
    MULTI_SPLIT,
    PART_STAGE,
    SPLIT,
    Machine,
)
from lowside.core.handbook.system import BY_WEIGHT, ChartPoint
from lowside.core.hoses.contents import HOSE_BORE_M, HOSE_LENGTH_M
from lowside.core.judging.charge import NEARLY_EMPTY, POINTS_ELSEWHERE, UNKNOWN, UNSAFE
from lowside.core.judging.findings import DANGER, REFUSE, Fact, Finding
from lowside.core.numbers.unit_choice import UnitChoice
from lowside.core.numbers.units import POUND_KG, TON_W
from lowside.core.session import entry as entries_of
from lowside.core.session import gate, ledger, photos
from lowside.core.session.events import Moment, elapsed, later, next_hlc
from lowside.core.session.final_wait import early, early_now
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
from lowside.core.session.permission import check_blocks, machine_blocks
from lowside.core.session.state import (
    STANDS,
    VOIDED,
    Cylinder,
    Entry,
    Job,
    State,
    Weight,
    is_empty,
    shot_to_weigh,
)
from lowside.core.session.steady import counted_from, steady_blocks, still_counts
from lowside.core.session.target_entry import check_target
from lowside.core.session.unit import chart_points_of, designation, short_below, system_of
from lowside.core.session.unit_entry import check_unit
from lowside.core.session.unit_history import UnitUse, unit_histories
from lowside.core.session.walk import forget, recovered

US = UnitChoice("psig", "°F", "lb+oz", "ft")
EVERY_CHECK = {
    "qualified": "yes",
    "protected": "yes",
    "airflow": "yes",
    "outdoor_coil": "yes",
    "leak": "none_found",
    "steady": "yes",
    "same_refrigerant": "yes",
}


def ready(**changes: object) -> State:
    """A session in which a shot may be started."""
    state = replace(opening(valve_unit()), readings=(taken(0, assessed()),))
    return replace(state, **changes)  # type: ignore[arg-type]


def told(state: State) -> list[str]:
    return [block.code for block in gate.blocks(state)]


class TestTheGate:
    @pytest.mark.parametrize(
        ("changes", "codes"),
        [
            ({}, []),
            ({"running": False}, ["stopped"]),
            ({"decision": ""}, ["undecided"]),
            ({"decision": "leave"}, ["leave"]),
            ({"readings": ()}, ["no_baseline"]),
            ({"start_weight": None}, ["not_weighed"]),
            ({"closed": at(9)}, ["closed"]),
            ({"cylinder": None}, ["no_cylinder"]),
            ({"system": None}, ["no_target"]),
            ({"walk": {"weighing.ready": fields()}}, ["weighed_in"]),
            ({"walk": {"weighing.compared": fields()}}, ["weighed_in"]),
            ({"walk": {"recovery.ready": fields()}}, ["recovery_begun"]),
            ({"system": valve_unit(refrigerant="R-22")}, ["wrong_refrigerant"]),
            ({"running": False, "decision": "leave"}, ["stopped", "leave"]),
            ({"liquid_port": False}, ["no_liquid_port"]),
            ({"liquid_port": False, "system": orifice_unit()}, []),
            ({"unit_texts": {"coil": "tube_fin"}}, ["circuit_unanswered"]),
            ({"unit_texts": {"receiver": "no"}}, ["circuit_unanswered"]),
            ({"unit_texts": {}}, []),
            ({"unit_texts": {"coil": "microchannel", "receiver": "no"}}, ["microchannel_papers"]),
        ],
    )
    def test_each_reason_by_itself(self, changes: dict[str, object], codes: list[str]) -> None:
        assert told(ready(**changes)) == codes

    def test_nothing_is_missing_of_a_unit_charged_by_weight(self) -> None:
        by_weight = ready(system=valve_unit(method=BY_WEIGHT), readings=())
        assert told(by_weight) == ["by_weight"]

    def test_an_empty_cylinder(self) -> None:
        """10 kg inside."""
        assert told(shoot(ready(), 100, 9.99)) == []
        assert told(shoot(ready(), 100, 10.0)) == ["cylinder_empty"]

    @pytest.mark.parametrize(
        ("finding", "codes"),
        [
            (Finding("cylinder_hot", DANGER), ["cylinder_hot"]),
            (Finding("cylinder_cold", REFUSE), ["cylinder_cold"]),
            (Finding("contents_high", REFUSE), ["cylinder_contents"]),
            (Finding("contents_agree", "shows"), []),
        ],
    )
    def test_what_is_known_of_the_cylinder(self, finding: Finding, codes: list[str]) -> None:
        assert told(ready(cylinder_findings=(_known(finding),))) == codes

    @pytest.mark.parametrize(
        ("verdict", "codes"),
        [
            (NEARLY_EMPTY, ["reading_weigh_in"]),
            (UNKNOWN, ["reading_unknown"]),
            (POINTS_ELSEWHERE, ["reading_refused"]),
            (UNSAFE, ["reading_stop"]),
        ],
    )
    def test_what_the_newest_reading_says(self, verdict: str, codes: list[str]) -> None:
        wrong = Finding("valve_by_superheat", REFUSE)
        newest = assessed(verdict=verdict, findings=(wrong,), reason_finding=wrong)
        state = ready(readings=(taken(0, assessed()), taken(1, newest)))
        assert told(state) == codes
        assert told(ready(readings=(taken(0, newest), taken(1, assessed())))) == []

    @pytest.mark.parametrize(
        ("read_s", "papers_s", "codes"),
        [
            (999.0, None, ["restarted"]),
            (1000.0, None, []),
            (400.0, 300.0, []),
            (399.0, 300.0, ["restarted"]),
        ],
    )
    def test_after_a_stop_it_runs_15_minutes_or_as_instructed(
        self, read_s: float, papers_s: float | None, codes: list[str]
    ) -> None:
        """Started again at 100 s."""
        reading = replace(taken(0, assessed()), moment=at(read_s))
        state = ready(
            system=valve_unit(papers_wait_s=papers_s), restarted_at=at(100), readings=(reading,)
        )
        assert told(state) == codes
        assert told(replace(state, readings=()))[0] != ""
        assert "restarted" in told(replace(state, readings=()))


def _known(finding: Finding) -> Finding:
    """With the facts its sentence names."""
    pressures = ("pressure", "lowest", "highest", "cylinder", "suction")
    facts = [Fact(name, "gauge_pressure", 1.0e6) for name in pressures]
    facts += [Fact(name, "temperature", 300.0) for name in ("temperature", "limit")]
    return replace(finding, facts=(*facts, Fact("refrigerant", "text", text="R-410A")))


class TestTheMachine:
    @pytest.mark.parametrize(
        ("machine", "codes"),
        [
            (None, ["machine_unanswered"]),
            (Machine(COOLING, FULL_STAGE, SPLIT), []),
            (Machine(COOLING, PART_STAGE, SPLIT), ["not_held"]),
            (Machine(COOLING, INVERTER, SPLIT), ["not_held"]),
            (Machine(COOLING, FULL_STAGE, DUCTLESS), ["not_held"]),
            (Machine(COOLING, PART_STAGE, SPLIT, "yes"), []),
            (Machine(COOLING, PART_STAGE, SPLIT, "papers_low"), []),
            (Machine(COOLING, INVERTER, SPLIT, "papers_low"), ["not_held"]),
            (Machine(COOLING, FULL_STAGE, MULTI_SPLIT, "yes"), []),
            (Machine(HEATING, FULL_STAGE, SPLIT, "", "large_line"), ["heating_large_line"]),
            (Machine(HEATING, FULL_STAGE, SPLIT), ["port_unanswered", "heating"]),
            (Machine(HEATING, FULL_STAGE, SPLIT, "", "suction_port"), ["heating"]),
        ],
    )
    def test_may_be_judged_as_it_runs(self, machine: Machine | None, codes: list[str]) -> None:
        assert [each.code for each in machine_blocks(ready(machine=machine))] == codes
        assert machine_blocks(ready(machine=machine, closed=at(9))) == []

    @pytest.mark.parametrize(
        ("papers", "machine", "fits"),
        [
            ("full", Machine(COOLING, FULL_STAGE, SPLIT), True),
            ("full", Machine(COOLING, PART_STAGE, SPLIT), False),
            ("full", Machine(COOLING, PART_STAGE, SPLIT, "yes"), True),
            ("full", Machine(COOLING, PART_STAGE, SPLIT, "papers_low"), False),
            ("low", Machine(COOLING, PART_STAGE, SPLIT), True),
            ("low", Machine(COOLING, PART_STAGE, SPLIT, "yes"), False),
            ("low", Machine(COOLING, FULL_STAGE, SPLIT), False),
            ("low", Machine(COOLING, PART_STAGE, DUCTLESS), False),
            ("low", Machine(COOLING, PART_STAGE, MULTI_SPLIT), False),
        ],
    )
    def test_or_as_its_papers_ask(self, papers: str, machine: Machine, fits: bool) -> None:
        state = ready(machine=machine, target_texts={"papers_stage": papers})
        found = [each.code for each in machine_blocks(state)]
        assert found == ([] if fits else ["papers_stage"])

    @pytest.mark.parametrize(("passed_s", "over"), [(3600.0, False), (3601.0, True)])
    def test_a_charge_mode_lasts_an_hour(self, passed_s: float, over: bool) -> None:
        """By the newest entry; confirmed at 0 s."""
        newest = _entry("note.added", passed_s)
        state = ready(
            machine=Machine(COOLING, PART_STAGE, SPLIT, "yes"), machine_at=at(0), entries=(newest,)
        )
        assert [each.code for each in machine_blocks(state)] == (["mode_over"] if over else [])
        plain = replace(state, machine=Machine(COOLING, FULL_STAGE, SPLIT, "yes"))
        assert machine_blocks(plain) == []
        assert machine_blocks(replace(state, machine_at=None)) == []
        assert machine_blocks(replace(state, entries=())) == []

    @pytest.mark.parametrize("leak", ["repaired", "leaking", "none_found"])
    def test_a_ductless_unit_that_leaked_is_weighed_in(self, leak: str) -> None:
        held = Machine(COOLING, FULL_STAGE, DUCTLESS, "yes")
        state = ready(machine=held, checks=EVERY_CHECK | {"leak": leak})
        found = [each.code for each in machine_blocks(state)]
        assert found == ([] if leak == "none_found" else ["leaked_ductless"])
        split = replace(state, machine=Machine(COOLING, FULL_STAGE, SPLIT))
        assert machine_blocks(split) == []

    @pytest.mark.parametrize(
        ("name", "receiver", "leak", "codes"),
        [
            ("R-410A", "no", "repaired", []),
            ("R-410A", "yes", "none_found", ["receiver"]),
            ("R-410A", "unknown", "none_found", []),
            ("R-404A", "unknown", "none_found", ["receiver"]),
            ("R-404A", "no", "none_found", []),
            ("R-407C", "no", "none_found", []),
            ("R-407C", "no", "repaired", ["blend_shifted"]),
            ("R-407C", "no", "leaking", ["blend_shifted"]),
            ("R-290", "no", "none_found", ["by_weight_only"]),
            ("R-290", "yes", "repaired", ["by_weight_only"]),
        ],
    )
    def test_its_refrigerant_may_be_topped_up(
        self, handbook: Handbook, name: str, receiver: str, leak: str, codes: list[str]
    ) -> None:
        state = ready(
            refrigerant=handbook.refrigerants[name],
            unit_texts={"coil": "tube_fin", "receiver": receiver},
            checks=EVERY_CHECK | {"leak": leak},
        )
        assert [each.code for each in machine_blocks(state)] == codes


class TestTheChecks:
    @pytest.mark.parametrize(
        ("answers", "codes"),
        [
            ({}, []),
            ({"qualified": "no"}, ["not_qualified"]),
            ({"same_refrigerant": "no"}, ["mixed_refrigerant"]),
            ({"protected": "no"}, ["unprotected"]),
            ({"airflow": "no"}, ["airflow"]),
            ({"outdoor_coil": "no"}, ["outdoor_coil"]),
            ({"leak": "not_searched"}, ["not_searched"]),
            ({"leak": "not_searched", "checks_reason": "why"}, []),
            ({"leak": "leaking"}, ["leaking"]),
            ({"leak": "repaired"}, []),
        ],
    )
    def test_each_no_by_itself(self, answers: dict[str, str], codes: list[str]) -> None:
        state = ready(checks=EVERY_CHECK | answers)
        assert [each.code for each in check_blocks(state)] == codes

    @pytest.mark.parametrize("name", sorted(EVERY_CHECK))
    def test_each_open_question_is_no_yes(self, name: str) -> None:
        answers = {key: text for key, text in EVERY_CHECK.items() if key != name}
        found = [each.code for each in check_blocks(ready(checks=answers))]
        assert found == ["checks_unanswered"]

    def test_a_refrigerant_that_burns_is_asked_for_more(self, handbook: Handbook) -> None:
        burns = ready(refrigerant=handbook.refrigerants["R-32"], checks=EVERY_CHECK)
        assert [each.code for each in check_blocks(burns)] == ["checks_unanswered"]
        leaking = replace(burns, checks=EVERY_CHECK | {"leak": "leaking", "leak_refused": "why"})
        assert "Keep flames away" in check_blocks(leaking)[-1].sentence

    @pytest.mark.parametrize(
        ("name", "pounds", "answers", "barred"),
        [
            ("R-410A", 14.9, {"leak_refused": "why"}, False),
            ("R-410A", 14.9, {}, True),
            ("R-410A", 15.1, {"leak_refused": "why"}, True),
            ("R-410A", 15.1, {"leak_refused": "why", "leak_exempt": "yes"}, False),
            ("R-22", 49.9, {"leak_refused": "why"}, False),
            ("R-22", 50.1, {"leak_refused": "why"}, True),
            ("R-22", 50.1, {"leak_refused": "why", "leak_exempt": "yes"}, True),
            ("R-410A", None, {"leak_refused": "why"}, True),
        ],
    )
    def test_a_leak_may_wait_only_outside_the_federal_rules(
        self,
        handbook: Handbook,
        name: str,
        pounds: float | None,
        answers: dict[str, str],
        barred: bool,
    ) -> None:
        """40 CFR 84.106 from 15 lb of an HFC, 82.157 from 50 lb of R-22."""
        plate = {} if pounds is None else {"nameplate_charge": pounds * POUND_KG}
        state = ready(
            refrigerant=handbook.refrigerants[name],
            unit_numbers=plate,
            checks=EVERY_CHECK | {"leak": "leaking"} | answers,
        )
        found = check_blocks(state)
        assert [each.code for each in found] == (["leaking"] if barred else [])
        if barred:
            assert found[0].form == ("unit" if pounds is None else "preconditions")


class TestSteady:
    @pytest.mark.parametrize(
        ("answer", "read_s", "codes"),
        [
            ("yes", 10.0, []),
            ("no", 2000.0, ["steady"]),
            ("counted", 999.0, ["steady"]),
            ("counted", 1000.0, []),
        ],
    )
    def test_by_word_or_by_the_countdown(
        self, answer: str, read_s: float, codes: list[str]
    ) -> None:
        """The machine was told of at 100 s; 15 minutes."""
        reading = replace(taken(0, assessed()), moment=at(read_s))
        state = ready(checks={"steady": answer}, machine_at=at(100), readings=(reading,))
        assert [each.code for each in steady_blocks(state)] == codes
        assert steady_blocks(replace(state, readings=(), checks={"steady": "counted"})) == []

    def test_the_countdown_begins_with_the_later_answer(self) -> None:
        state = ready(machine_at=at(100), restarted_at=at(500))
        assert counted_from(state) == at(500)
        assert still_counts(state, at(1399))
        assert not still_counts(state, at(1401))
        assert still_counts(ready(machine_at=None), at(99999))


class TestFinalReading:
    """After the last shot 4 minutes or as instructed; after a new start as long as at first."""

    @pytest.mark.parametrize(
        ("since_s", "papers_s", "early_by"),
        [
            (239.0, None, "after the last shot"),
            (240.0, None, ""),
            (None, None, ""),
            (599.0, 600.0, "after the last shot"),
            (600.0, 600.0, ""),
        ],
    )
    def test_after_the_last_shot(
        self, handbook: Handbook, since_s: float | None, papers_s: float | None, early_by: str
    ) -> None:
        state = ready(system=valve_unit(papers_wait_s=papers_s))
        found = early(state, at(5000), since_s, handbook)
        assert (found == "") == (early_by == "")
        assert early_by in found

    @pytest.mark.parametrize(
        ("now_s", "early_by"), [(1000.0, "started again"), (1899.0, "started again"), (1901.0, "")]
    )
    def test_after_a_new_start(self, handbook: Handbook, now_s: float, early_by: str) -> None:
        found = early(ready(restarted_at=at(1000)), at(now_s), None, handbook)
        assert (found == "") == (early_by == "")
        assert early_by in found
        assert early(ready(restarted_at=at(1000)), at(900), None, handbook) == ""

    def test_now_counts_from_the_last_shot(self, handbook: Handbook) -> None:
        state = shoot(shoot(ready(), 100, 0.1), 1000, 0.1)
        assert "after the last shot" in early_now(state, at(1200), handbook)
        assert early_now(state, at(1300), handbook) == ""
        assert early_now(ready(), at(10), handbook) == ""


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
            (3.0, 1.51, False),
            (3.0, 1.49, True),
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
        """Half a pound to 12 lb a ton; above 12.5 tons the charge is asked for."""
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
        found = system_of(unit, target, 0.0)
        assert found is not None
        assert (found.refrigerant, found.nameplate_refrigerant) == ("R-407C", "R-22")
        assert found.atmosphere_pa == pytest.approx(101325.0)
        assert not found.by_points
        plain = system_of(fields(refrigerant="R-22"), target, 0.0)
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
            assert system_of(*lacking) is None


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
            entries_of._check_tare(ready(), fields({"cylinder_tare": tare}), problems)
            assert ("cylinder_tare" in problems) == told_
        unweighed: dict[str, str] = {}
        entries_of._check_tare(ready(start_weight=None), fields({"cylinder_tare": 99.0}), unweighed)
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
        assert entries_of._check_record(ready(end_weight=Weight("e", at(9), 14.0))) == ""
        assert entries_of._check_record(ready(start_weight=None)) == ""
        open_now = shoot(ready(explanation="why"), 100, 0.1)
        open_now = replace(open_now, shots=(replace(open_now.shots[0], closed=None),))
        assert "shot is still open" in entries_of._check_record(open_now)

    def test_the_newest_of_its_kind(self) -> None:
        first, second = _entry("unit.set", 0), _entry("unit.set", 1)
        other = _entry("note.added", 2)
        state = ready(entries=(first, second, other))
        assert entries_of.is_newest(state, second)
        assert not entries_of.is_newest(state, first)
        void = replace(second, status=VOIDED)
        assert entries_of.is_newest(ready(entries=(first, void)), first)
        assert not entries_of.is_newest(ready(entries=(void,)), void)
        assert entries_of.find_entry(state, "unit.set1.0") == second
        assert entries_of.find_entry(state, "x") is None

    def test_an_empty_session_has_its_start_and_units_only(self) -> None:
        begun = (_entry("session.started", 0), _entry("units.set", 1))
        assert is_empty(ready(entries=begun))
        assert not is_empty(ready(entries=begun, closed=at(9)))
        note = _entry("note.added", 2)
        assert not is_empty(ready(entries=(*begun, note)))
        assert is_empty(ready(entries=(*begun, replace(note, status=VOIDED))))

    def test_a_shot_waits_for_its_weight(self) -> None:
        state = shoot(ready(), 100, 0.1)
        assert shot_to_weigh(state) is None
        asked = replace(state.shots[0], weight_asked=True)
        assert shot_to_weigh(replace(state, shots=(asked,))) == asked
        assert shot_to_weigh(ready()) is None


def _entry(kind: str, seconds: float, **data: str) -> Entry:
    return Entry(
        f"{kind}{seconds:.1f}", kind, at(seconds), "d", data, {}, STANDS, amended=False, problems={}
    )


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
        return replace(plain, **changes)  # type: ignore[arg-type]

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
        assert ledger.last_end_kg(uses, "7", at(100)) == 8.0
        assert ledger.last_end_kg(uses, "7", at(10)) is None
        assert [each.sid for each in ledger.in_time_order(uses)] == ["a", "b", "s", "c", "d"]


class TestTheRest:
    def test_hoses_are_as_typed_or_usual(self) -> None:
        assert hose_size(ready(cylinder=None)) == (HOSE_LENGTH_M, HOSE_BORE_M)
        plain = Cylinder("4", "R-410A", 5.0, "invert", None, None)
        assert hose_size(ready(cylinder=plain)) == (HOSE_LENGTH_M, HOSE_BORE_M)
        typed = replace(plain, hose_length_m=2.0, hose_bore_m=0.005)
        assert hose_size(ready(cylinder=typed)) == (2.0, 0.005)
        assert hose_size(ready(cylinder=replace(plain, hose_length_m=2.0))) == (2.0, HOSE_BORE_M)

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
        shot = _entry(
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
        assert sorted(walk) == ["recovery.ready", "recovery.weighed"]
        assert done == {"other": "z"}
        walk["recovery.weighed"] = fields(rc_next="weigh_in")
        forget("recovery.weighed", walk, done)
        assert sorted(walk) == ["recovery.weighed"]

    def test_a_recovery_is_what_its_cylinder_gained(self) -> None:
        before = {"recovery.contents": fields({"rc_before": 12.0})}
        (part,) = recovered(at(5), before, fields({"rc_after": 13.5}, rc_what="part"))
        assert (part.kg, part.whole, part.moment) == (1.5, False, at(5))
        (whole,) = recovered(at(5), before, fields({"rc_after": 13.5}, rc_what="whole"))
        assert whole.whole
        assert recovered(at(5), {}, fields({"rc_after": 13.5})) == ()
