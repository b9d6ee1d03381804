"""The hose picture: readable without color, nothing over the edge, the same as the model says."""

import re
from functools import cache
from math import hypot
from pathlib import Path
from typing import Any

import pytest
from hose_cases import panel
from jinja2 import Environment, FileSystemLoader, StrictUndefined

from lowside.core.handbook.procedure import HANDWHEEL, NUT, RECOVERY, Procedure
from lowside.core.handbook.saturation import OutOfRange
from lowside.core.hoses.contents import (
    AIR,
    AIR_AND_VAPOR,
    LIQUID,
    VAPOR,
    Conditions,
    usual_conditions,
)
from lowside.core.hoses.drawing import HEIGHT, WIDTH, draw
from lowside.core.hoses.drawing_parts import filling, valve
from lowside.core.hoses.run import StepRun, run
from lowside.core.hoses.words import SETTING_WORDS
from lowside.procedures import SHIPPED, load_procedures
from lowside.thermo.tables import load_properties


@cache
def conditions() -> Conditions:
    found = usual_conditions(load_properties().tables["R-410A"], 101325.0)
    assert not isinstance(found, OutOfRange)
    return found


@cache
def shipped(name: str) -> Procedure:
    return load_procedures()[name]


@cache
def moments(name: str) -> tuple[tuple[str, StepRun, dict[str, Any]], ...]:
    """Every moment of a procedure with its picture."""
    procedure = shipped(name)
    found = []
    for made in run(procedure, conditions()):
        for one in made.turns:
            picture = draw(procedure, conditions(), one.after, one.flows, {one.action.valve: "1"})
            found.append((f"{made.step_id} {one.action.valve} {one.action.to}", made, picture))
    return tuple(found)


def _texts(picture: dict[str, Any]) -> list[dict[str, str]]:
    return [mark for mark in picture["marks"] if mark["shape"] == "text"]


def _edges(mark: dict[str, str]) -> tuple[float, float, float, float]:
    """Left, right, top and bottom of a text, with a cautious guess of its width."""
    size = {"turn-word": 16, "name": 15, "small": 13}.get(mark["kind"], 14)
    width = len(mark["words"]) * size * (0.58 if mark["kind"] in ("turn-word", "name") else 0.5)
    x, y = float(mark["x"]), float(mark["y"])
    left = {"start": x, "middle": x - width / 2, "end": x - width}[mark["anchor"]]
    return left, left + width, y - size * 0.6, y


@pytest.mark.parametrize("name", SHIPPED)
def test_no_word_runs_over_the_edge_or_over_another_word(name: str) -> None:
    for moment, _, picture in moments(name):
        boxes = [(mark["words"], _edges(mark)) for mark in _texts(picture)]
        for words, (left, right, top, bottom) in boxes:
            assert left >= 0, (moment, words)
            assert right <= WIDTH, (moment, words)
            assert top >= 0, (moment, words)
            assert bottom <= HEIGHT, (moment, words)
        for i, (words, a) in enumerate(boxes):
            for others, b in boxes[i + 1 :]:
                apart = a[1] <= b[0] or b[1] <= a[0] or a[3] <= b[2] or b[3] <= a[2]
                assert apart, (moment, words, others)


STROKE = 2
"""Half the width of a ring's line."""


def _gap(mark: dict[str, str], ring: dict[str, str]) -> float:
    """From a text to a round ring's line, or to that of a square one around it or beside it."""
    left, right, _, bottom = _edges(mark)
    top = bottom - {"turn-word": 12, "turn-number": 12, "name": 11, "small": 10}.get(
        mark["kind"], 10
    )
    if ring["shape"] == "circle":
        x, y = float(ring["x"]), float(ring["y"])
        across, down = max(left - x, x - right, 0), max(top - y, y - bottom, 0)
        return hypot(across, down) - float(ring["r"]) - STROKE
    x, y, width, height = map(int, re.findall(r"\d+", ring["d"])[:4])
    within = min(left - x, x + width - right, top - y, y + height - bottom)
    if within > 0:
        return within - STROKE
    across = max(left - x - width, x - right, 0)
    return hypot(across, max(top - y - height, y - bottom, 0)) - STROKE


@pytest.mark.parametrize("name", SHIPPED)
def test_no_word_touches_the_ring_and_each_ring_has_its_number(name: str) -> None:
    for moment, _, picture in moments(name):
        for ring in [mark for mark in picture["marks"] if mark["kind"] == "turn-ring"]:
            gaps = {mark["words"]: _gap(mark, ring) for mark in _texts(picture)}
            assert min(gaps.values()) >= 2, (moment, gaps)
        assert [mark["words"] for mark in _texts(picture) if mark["kind"] == "turn-number"] == ["1"]


@pytest.mark.parametrize("name", SHIPPED)
def test_every_coordinate_is_a_whole_number_on_the_sheet(name: str) -> None:
    for moment, _, picture in moments(name):
        for mark in picture["marks"]:
            if mark["shape"] == "circle":
                assert int(mark["x"]) - int(mark["r"]) >= 0, moment
                assert int(mark["y"]) + int(mark["r"]) <= HEIGHT, moment
            if mark["shape"] == "path":
                assert "." not in mark["d"]


@pytest.mark.parametrize("name", SHIPPED)
def test_the_valve_to_turn_is_ringed_and_how_it_stands_is_written(name: str) -> None:
    for moment, _, picture in moments(name):
        rings = [mark for mark in picture["marks"] if mark["kind"] == "turn-ring"]
        assert len(rings) == 1, moment
        kind = {v.id: v.kind for v in shipped(name).valves}[moment.split()[1]]
        words = [mark["words"] for mark in _texts(picture) if mark["kind"] == "turn-word"]
        if kind == NUT:
            assert words == []
        else:
            assert len(words) == 1, moment
            assert words[0].endswith(SETTING_WORDS[moment.split()[2]]), moment


@pytest.mark.parametrize("name", SHIPPED)
def test_every_volume_is_named_with_its_contents(name: str) -> None:
    procedure = shipped(name)
    for moment, _, picture in moments(name):
        for volume in procedure.volumes:
            assert any(
                line.lower().startswith(volume.title.lower() + ": ") for line in picture["lines"]
            ), moment
        for one in procedure.valves:
            if one.b == RECOVERY:
                continue
            assert any(one.title.lower() in line.lower() for line in picture["lines"]), moment
        assert picture["text"] == " ".join(picture["lines"])
        written = {mark["words"] for mark in _texts(picture)}
        for volume in procedure.volumes:
            if volume.colour:
                assert volume.colour in written


def test_an_open_valve_lies_in_line_and_a_shut_one_across() -> None:
    def bar(upright: bool, is_open: bool) -> str:
        marks = valve((50, 50), upright, is_open, 12, False)
        return str(next(mark["d"] for mark in marks if mark["kind"] == "valve-bar"))

    assert bar(True, True) == bar(False, False) == "M50 41L50 59"
    assert bar(True, False) == bar(False, True) == "M41 50L59 50"


def test_contents_differ_by_their_hatching() -> None:
    hatchings = {
        words: filling((0, 0), (0, 90), words) for words in (AIR, AIR_AND_VAPOR, VAPOR, LIQUID)
    }
    assert len(set(hatchings.values())) == 4
    assert hatchings[AIR] == ""
    assert hatchings[LIQUID].count("M") > hatchings[VAPOR].count("M")


@pytest.mark.parametrize("name", SHIPPED)
def test_arrows_show_liquid_going_up_the_yellow_and_into_the_suction_in_a_shot(name: str) -> None:
    for moment, _, picture in moments(name):
        arrows = [mark["d"] for mark in picture["marks"] if mark["kind"] == "flow"]
        if moment == "shots low open":
            assert "M180 287L189 305L171 305z" in arrows
            assert "M92 117L101 135L83 135z" in arrows


@pytest.mark.parametrize("name", SHIPPED)
def test_something_hisses_only_where_something_escapes(name: str) -> None:
    seen = 0
    procedure = shipped(name)
    for made in run(procedure, conditions()):
        for one in made.turns:
            picture = draw(procedure, conditions(), one.after, one.flows)
            puffs = [mark for mark in picture["marks"] if mark["kind"] == "puff"]
            escaping = [f for f in one.flows if f.end == "outside" and (f.kg > 0 or f.air > 0)]
            assert bool(puffs) == bool(escaping), (made.step_id, one.action)
            seen = seen + len(puffs)
    assert seen >= 2


@pytest.mark.parametrize("name", SHIPPED)
def test_the_panel_of_every_step_renders_and_explains_every_handwheel(
    root: Path, name: str
) -> None:
    environment = Environment(
        loader=FileSystemLoader(root / "templates"), autoescape=True, undefined=StrictUndefined
    )
    as_html = environment.get_template("field/_hoses.html").module.hose_panel  # type: ignore[attr-defined]
    procedure = shipped(name)
    drawn = 0
    for step in procedure.steps:
        context = panel(procedure, conditions(), step, "size")
        if context is None:
            assert drawn == 0
            continue
        drawn = drawn + 1
        html = str(as_html(context))
        assert html.count("<svg") == html.count('role="img"') >= 1
        assert ("Turn by turn" in html) == bool(step.actions)
        titles = [entry["title"] for entry in context["valves"]]
        for one in procedure.valves:
            if one.kind == HANDWHEEL:
                assert one.title in titles
        for entry in context["valves"]:
            assert entry["harmless"] == (entry["means"] == [])
            assert entry["word"] != entry["other"]
    assert drawn > 10


def test_the_panel_warns_of_an_open_high_handwheel_while_the_cylinder_is_open() -> None:
    procedure = shipped("hand-valved-three-port")
    step = next(step for step in procedure.steps if step.id == "baseline")
    context = panel(procedure, conditions(), step, "size")
    assert context is not None
    high = next(
        entry for entry in context["valves"] if entry["title"] == "high-side manifold valve"
    )
    assert high["word"] == "closed"
    assert "cylinder" in high["means"][0]["text"]
