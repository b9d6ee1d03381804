"""The shipped procedures: complete, in order, and refused with a clear sentence when broken."""

import copy
import json
import re
from typing import Any

import pytest

from lowside.core.handbook.forms import FORMS
from lowside.core.handbook.procedure import (
    CHARGE_PAGE,
    STAGES,
    Caution,
    Procedure,
    cautions_of,
    is_off_step,
    neighbors,
    off_neighbors,
    open_step,
    position,
    step_by_id,
    steps_of_stage,
)
from lowside.core.handbook.procedure_file import cautions_from, procedure_from
from lowside.core.hoses.hazard_words import TEXTS
from lowside.procedures import FOLDER, SHIPPED, load_cautions, load_procedures

RECORDING = (
    "job", "unit", "machine", "target", "preconditions", "cylinder", "start_weight", "tare",
    "baseline", "decide", "shots", "close_cylinder", "clear_hoses", "final_reading", "disconnect",
    "caps", "end_weight", "reconcile", "record",
)  # fmt: skip


@pytest.fixture(scope="module")
def procedures() -> dict[str, Procedure]:
    return load_procedures()


@pytest.fixture(scope="module")
def cautions() -> dict[str, Caution]:
    return load_cautions()


@pytest.fixture
def data() -> dict[str, Any]:
    """A small good procedure to break."""
    text = (FOLDER / "hand-valved-three-port.json").read_text(encoding="utf-8")
    whole = json.loads(text)
    whole["steps"] = [step for step in whole["steps"] if "shared" not in step]
    return {**whole, "steps": whole["steps"][:1], "off_steps": []}


def test_every_procedure_file_is_offered() -> None:
    files = {path.stem for path in FOLDER.glob("*.json")} - {
        "cautions",
        "shared-steps",
        "walk-steps",
    }
    assert files == set(SHIPPED)
    assert tuple(load_procedures()) == SHIPPED


@pytest.mark.parametrize("name", SHIPPED)
def test_a_procedure_goes_from_the_job_to_the_record(
    procedures: dict[str, Procedure], name: str
) -> None:
    procedure = procedures[name]
    ids = [step.id for step in procedure.steps]
    kept = [step_id for step_id in ids if step_id in RECORDING]
    assert kept == list(RECORDING)
    assert ids.index("connect") < ids.index("liquid") < ids.index("tare")
    stages = [STAGES.index(step.stage) for step in procedure.steps if step.stage != "Measure"]
    assert stages == sorted(stages)


@pytest.mark.parametrize("name", SHIPPED)
def test_each_recording_step_has_its_form_and_the_shots_their_page(
    procedures: dict[str, Procedure], name: str
) -> None:
    for step in procedures[name].steps:
        assert step.form in ("", *FORMS)
        assert (step.page == CHARGE_PAGE) == (step.id == "shots")
    forms = [step.form for step in procedures[name].steps if step.form]
    assert forms == [
        "job", "unit", "machine", "target", "preconditions", "cylinder", "start_weight", "tare",
        "reading", "decide", "final_reading", "end_weight", "reconcile", "record",
    ]  # fmt: skip


def test_the_open_step_is_the_first_one_not_done(procedures: dict[str, Procedure]) -> None:
    procedure = procedures["hand-valved-three-port"]
    first = open_step(procedure, {})
    assert first is not None
    assert first.id == "job"
    later = open_step(procedure, {"job": "E1", "target": "E2"})
    assert later is not None
    assert later.id == "unit"
    assert open_step(procedure, {step.id: "E" for step in procedure.steps}) is None


def test_steps_are_found_by_name_and_place(procedures: dict[str, Procedure]) -> None:
    procedure = procedures["hand-valved-three-port"]
    assert position(procedure, "job") == 0
    assert position(procedure, "no such") == -1
    assert step_by_id(procedure, "no such") is None
    before, after = neighbors(procedure, "unit")
    assert before is not None
    assert after is not None
    assert (before.id, after.id) == ("job", "machine")
    assert neighbors(procedure, "job")[0] is None
    assert neighbors(procedure, "record")[1] is None
    assert [step.id for step in steps_of_stage(procedure, "Charge")] == ["shots"]


def test_the_flammable_cautions_show_for_their_classes_only(
    procedures: dict[str, Procedure], cautions: dict[str, Caution]
) -> None:
    step = step_by_id(procedures["hand-valved-three-port"], "connect")
    assert step is not None

    def codes(safety_class: str) -> list[str]:
        return [caution.code for caution in cautions_of(step, cautions, safety_class)]

    assert "flammable_a2l" in codes("A2L")
    assert "flammable_a3" not in codes("A2L")
    assert "flammable_a3" in codes("A3")
    assert "flammable_a3" in codes("A2")
    assert "flammable_a2l" not in codes("A1")
    assert "pressure" in codes("A1")
    assert {"flammable_a2l", "flammable_a3"} <= set(codes(""))


def test_the_usual_cautions_are_there_and_used(
    procedures: dict[str, Procedure], cautions: dict[str, Caution]
) -> None:
    needed = {
        "slugging", "cold_burn", "pressure", "flammable_a2l", "flammable_a3", "venting",
        "electricity", "moving_parts", "asphyxiation", "cylinder_heat",
    }  # fmt: skip
    for procedure in procedures.values():
        used = {code for step in procedure.steps for code in step.cautions}
        assert needed <= used
        assert used <= set(cautions)
    assert "125 °F" in cautions["cylinder_heat"].text


def _break(data: dict[str, Any], place: tuple[Any, ...], value: Any) -> dict[str, Any]:
    broken = copy.deepcopy(data)
    at: Any = broken
    for key in place[:-1]:
        at = at[key]
    if value is None:
        del at[place[-1]]
    else:
        at[place[-1]] = value
    return broken


@pytest.mark.parametrize(
    ("place", "value", "words"),
    [
        (("steps",), [], ("mine.json", "“steps” is empty")),
        (("steps", 0, "title"), "", ("mine.json", "step 1", "“connect”", "“title”")),
        (("steps", 0, "do"), [], ("“connect”", "“do” is empty")),
        (("steps", 0, "why"), None, ("“connect”", "“why”")),
        (("steps", 0, "stage"), "Lunch", ("“connect”", "“stage”", "Connect")),
        (("steps", 0, "form"), "nothing", ("“connect”", "“form”", "nothing")),
        (("steps", 0, "page"), "other", ("“connect”", "“page”")),
        (("steps", 0, "cautions"), ["dragons"], ("“connect”", "“cautions”", "dragons")),
        (("steps", 0, "actions", 0, "valve"), "tap", ("“connect”", "“tap” does not exist")),
        (("steps", 0, "actions", 0, "to"), "ajar", ("“connect”", "cannot be “ajar”")),
        (("steps", 0, "settings", "low"), "open", ("“connect”", "“settings”", "leave it closed")),
        (("valves", 0, "kind"), "spout", ("valve 1", "“kind”")),
        (("valves", 5, "a"), "green", ("“low”", "“a”", "green")),
        (("valves", 7, "a_gates"), ["nope"], ("“blue_nut”", "nope")),
        (("volumes", 0, "kind"), "tank", ("volume 1", "“kind”")),
        (("volumes", 1, "id"), "blue", ("volumes", "“blue” is used twice")),
    ],
)
def test_a_bad_file_is_refused_naming_the_place(
    data: dict[str, Any],
    cautions: dict[str, Caution],
    place: tuple[Any, ...],
    value: Any,
    words: tuple[str, ...],
) -> None:
    assert procedure_from(data, cautions, "mine.json").id == "hand-valved-three-port"
    with pytest.raises(ValueError, match=r"mine\.json") as caught:
        procedure_from(_break(data, place, value), cautions, "mine.json")
    for word in words:
        assert word in str(caught.value)


def test_cautions_refuse_a_code_used_twice() -> None:
    one = {"code": "hot", "title": "Hot.", "text": "Careful."}
    with pytest.raises(ValueError, match="used twice"):
        cautions_from({"cautions": [one, one]})


def test_the_steps_speak_the_trade_s_american_english(
    procedures: dict[str, Procedure], cautions: dict[str, Caution]
) -> None:
    wrong = re.compile(
        r"\b(shuts?|vapours?|makers?|bleed\w*|handwheels?|mind|litre|colour)\b", re.I
    )
    texts = [f"{caution.title} {caution.text}" for caution in cautions.values()]
    texts += [sentence for pair in TEXTS.values() for sentence in pair]
    for procedure in procedures.values():
        texts += [procedure.title, procedure.hardware]
        texts += [part.title for part in (*procedure.valves, *procedure.volumes)]
        for step in procedure.steps + procedure.off_steps + procedure.walk_steps:
            texts += [step.title, *step.do, step.why, step.done_when]
    assert [text for text in texts if wrong.search(text)] == []


def test_flammables_have_their_own_cautions_where_they_matter_with_a_source(
    procedures: dict[str, Procedure], cautions: dict[str, Caution]
) -> None:
    # permission rows A01-A20 of the references; the left-hand thread rests on a distributor alone.
    where = {
        "preconditions": ("flammable_work", "detector"),
        "cylinder": ("flammable_cylinder", "left-hand thread"),
        "connect": ("flammable_ground", "shortest hoses"),
        "shots": ("flammable_charge", "label"),
        "caps": ("flammable_label", "label"),
        "off_recover": ("flammable_recovery", "sealed"),
    }
    for procedure in procedures.values():
        for step_id, (code, word) in where.items():
            step = step_by_id(procedure, step_id)
            assert step is not None
            shown = {c.code: c for c in cautions_of(step, cautions, "A2L")}
            assert word in shown[code].text
            assert code in [c.code for c in cautions_of(step, cautions, "A3")]
            assert code not in [c.code for c in cautions_of(step, cautions, "A1")]
            assert shown[code].source != ""
    assert "no manufacturer’s text" in cautions["flammable_cylinder"].source


@pytest.mark.parametrize("safety_class", ["A2L", "A2", "A3"])
def test_no_nut_is_opened_without_the_flammable_caution(
    procedures: dict[str, Procedure], cautions: dict[str, Caution], safety_class: str
) -> None:
    """What escapes at a nut can burn: common practice, no source."""
    for procedure in procedures.values():
        nuts = {valve.id for valve in procedure.valves if valve.kind == "nut"}
        for step in (*procedure.steps, *procedure.off_steps):
            opened = [a for a in step.actions if a.valve in nuts and a.to in ("loose", "off")]
            if opened:
                shown = {c.code for c in cautions_of(step, cautions, safety_class)}
                assert shown & {"flammable_a2l", "flammable_a3"}, (procedure.id, step.id)


def test_the_way_out_is_a_branch_and_not_part_of_the_way_through(
    procedures: dict[str, Procedure],
) -> None:
    for procedure in procedures.values():
        ids = [step.id for step in procedure.off_steps]
        assert ids == ["off_stop", "off_drain", "off_cylinder", "off_recover", "off_hoses"]
        assert {step.stage for step in procedure.off_steps} == {"Unit off"}
        for step_id in ids:
            assert position(procedure, step_id) == -1
            assert step_by_id(procedure, step_id) is not None
            assert is_off_step(procedure, step_id)
        first, second = off_neighbors(procedure, "off_stop", "dip_tube")
        assert first is None
        assert second is not None
        assert second.id == "off_recover"


def test_a_clamp_has_its_place_and_the_cylinder_goes_upright_last(
    procedures: dict[str, Procedure],
) -> None:
    for procedure in procedures.values():
        baseline = step_by_id(procedure, "baseline")
        assert baseline is not None
        assert "within about 6 in of the suction port" in " ".join(baseline.do)
        close = step_by_id(procedure, "close_cylinder")
        assert close is not None
        moves = [(action.valve, action.to) for action in close.actions]
        assert moves.index(("low", "open")) < moves.index(("cylinder_position", "upright"))


def test_recovery_and_weigh_in_are_walks_with_a_hookup_of_their_own(
    procedures: dict[str, Procedure],
) -> None:
    for procedure in procedures.values():
        ids = [step.id for step in procedure.walk_steps]
        assert ids[0] == "rec_ready"
        assert {step.stage for step in procedure.walk_steps} == {"Recover", "Weigh in"}
        for step in procedure.walk_steps:
            assert not step.actions
            assert not step.settings
            assert position(procedure, step.id) == -1
        for first in ("rec_ready", "wi_ready"):
            step = step_by_id(procedure, first)
            assert step is not None
            assert "manifold with a red hose" in step.why
        assert ids.index("wi_start_weight") < ids.index("wi_vacuum") < ids.index("wi_break")
        for touched in ("rec_run", "wi_break", "wi_rest", "wi_off"):
            step = step_by_id(procedure, touched)
            assert step is not None
            assert "trapped_liquid" in step.cautions
