"""What blocks a shot and what counts as settled: one rule at a time, on both sides of its limit."""

from dataclasses import replace

import pytest
from advice_cases import at, orifice_unit, shoot, valve_unit
from outlook_cases import assessed, entry_of, fields, ready, taken, told

from lowside.core.handbook.handbook import Handbook
from lowside.core.handbook.machine import (
    BYPASS,
    COOLING,
    DUCTLESS,
    FULL_STAGE,
    HEATING,
    INVERTER,
    MULTI_SPLIT,
    PART_STAGE,
    SPLIT,
    Held,
    Machine,
)
from lowside.core.handbook.system import BY_WEIGHT
from lowside.core.judging.charge import NEARLY_EMPTY, POINTS_ELSEWHERE, UNKNOWN, UNSAFE
from lowside.core.judging.findings import DANGER, REFUSE, Fact, Finding
from lowside.core.numbers.units import POUND_KG
from lowside.core.session import gate
from lowside.core.session.final_wait import early, early_now
from lowside.core.session.permission import check_blocks, machine_blocks
from lowside.core.session.steady import counted_from, steady_blocks, still_counts
from lowside.practice.technician import CHECKED_ALWAYS


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
            (
                {"unit_texts": {"refrigerant": "R-22", "coil": "tube_fin", "receiver": "no"}},
                ["wrong_refrigerant"],
            ),
            (
                {"checks": CHECKED_ALWAYS | {"same_refrigerant": "no"}},
                ["mixed_refrigerant"],
            ),
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

    def test_what_is_not_saved_names_its_form(self) -> None:
        for texts, form in (({}, "unit"), ({"coil": "tube_fin", "receiver": "no"}, "target")):
            found = gate.blocks(ready(system=None, unit_texts=texts))
            forms = {block.code: block.form for block in found}
            assert forms["no_target"] == form
        assert gate.blocks(ready(cylinder=None))[0].form == "cylinder"

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
            (999.0, None, ["steady"]),
            (1000.0, None, []),
            (400.0, 300.0, []),
            (399.0, 300.0, ["steady"]),
        ],
    )
    def test_after_a_stop_it_runs_15_minutes_or_as_instructed(
        self, read_s: float, papers_s: float | None, codes: list[str]
    ) -> None:
        """Started again at 100 s."""
        reading = replace(taken(0, assessed()), moment=at(read_s))
        state = ready(
            system=valve_unit(papers_wait_s=papers_s), changed_at=at(100), readings=(reading,)
        )
        assert told(state) == codes
        assert told(replace(state, readings=()))[0] != ""
        assert "steady" in told(replace(state, readings=()))


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

    @pytest.mark.parametrize("papers", ["", "full", "low"])
    @pytest.mark.parametrize("held", ["", "yes", "papers_low", "no"])
    def test_never_with_a_bypass_on(self, papers: str, held: Held) -> None:
        """No reading tells its gas from missing charge, and holding the stage does not close it."""
        machine = Machine(COOLING, BYPASS, SPLIT, held)
        state = ready(machine=machine, target_texts={"papers_stage": papers})
        (found,) = machine_blocks(state)
        assert found.code == "not_held"
        assert found.cure.startswith("Close that way")

    @pytest.mark.parametrize(("passed_s", "over"), [(3600.0, False), (3601.0, True)])
    def test_a_charge_mode_lasts_an_hour(self, passed_s: float, over: bool) -> None:
        """By the newest entry; confirmed at 0 s."""
        newest = entry_of("note.added", passed_s)
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
        state = ready(machine=held, checks=CHECKED_ALWAYS | {"leak": leak})
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
            checks=CHECKED_ALWAYS | {"leak": leak},
        )
        assert [each.code for each in machine_blocks(state)] == codes


class TestTheChecks:
    @pytest.mark.parametrize(
        ("answers", "codes"),
        [
            ({}, []),
            ({"qualified": "no"}, ["not_qualified"]),
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
        state = ready(checks=CHECKED_ALWAYS | answers)
        assert [each.code for each in check_blocks(state)] == codes

    @pytest.mark.parametrize("name", sorted(CHECKED_ALWAYS))
    def test_each_open_question_is_no_yes(self, name: str) -> None:
        answers = {key: text for key, text in CHECKED_ALWAYS.items() if key != name}
        found = [each.code for each in check_blocks(ready(checks=answers))]
        assert found == ["checks_unanswered"]

    def test_a_refrigerant_that_burns_is_asked_for_more(self, handbook: Handbook) -> None:
        burns = ready(refrigerant=handbook.refrigerants["R-32"], checks=CHECKED_ALWAYS)
        assert [each.code for each in check_blocks(burns)] == ["checks_unanswered"]
        leaking = replace(burns, checks=CHECKED_ALWAYS | {"leak": "leaking", "leak_refused": "why"})
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
            unit_texts={"refrigerant": name},
            unit_numbers=plate,
            checks=CHECKED_ALWAYS | {"leak": "leaking"} | answers,
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
        state = ready(machine_at=at(100), changed_at=at(500))
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
        found = early(ready(changed_at=at(1000)), at(now_s), None, handbook)
        assert (found == "") == (early_by == "")
        assert early_by in found
        assert early(ready(changed_at=at(1000)), at(900), None, handbook) == ""

    def test_now_counts_from_the_last_shot(self, handbook: Handbook) -> None:
        state = shoot(shoot(ready(), 100, 0.1), 1000, 0.1)
        assert "after the last shot" in early_now(state, at(1200), handbook)
        assert early_now(state, at(1300), handbook) == ""
        assert early_now(ready(), at(10), handbook) == ""
