"""`lowside replay` tells what was true after each event, and agrees with the screens."""

import json
import subprocess
import sys
from dataclasses import replace
from pathlib import Path

import pytest
from hypothesis import given, settings
from store_cases import event, opened
from strategies import Book, ready_to_charge, sessions

from lowside.cli import main
from lowside.core.handbook.handbook import Handbook
from lowside.core.numbers.units import OUNCE_KG
from lowside.core.pages.addresses import CURRENT_STEP, Address
from lowside.core.pages.page import Page
from lowside.core.pages.screen import Screen
from lowside.core.pages.view import view
from lowside.core.session.events import Event, in_order
from lowside.core.session.fold import fold
from lowside.core.session.state import latest_reading
from lowside.demo import play, put_demo_sessions, scenarios
from lowside.procedures.shop import FOLDER, Shop, first_revision, keep
from lowside.replay import replay

KEYS = {
    "eid",
    "kind",
    "title",
    "time",
    "step",
    "step_title",
    "running",
    "shot_open",
    "added_g",
    "closed",
    "superheat_k",
    "subcooling_k",
    "verdict",
    "reason",
    "advice",
}


@pytest.fixture(scope="module")
def store(tmp_path_factory: pytest.TempPathFactory) -> Path:
    data = tmp_path_factory.mktemp("demo")
    assert put_demo_sessions(data) == len(scenarios())
    return data


def files(store: Path) -> list[Path]:
    return sorted((store / "sessions").rglob("*.jsonl"))


def test_each_event_of_a_stored_session_gets_a_line(
    store: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    for path in files(store):
        assert main(["replay", str(path), "--json"]) == 0
        lines = [json.loads(line) for line in capsys.readouterr().out.splitlines()]
        assert len(lines) == len(path.read_text("utf-8").splitlines())
        assert all(set(line) >= KEYS for line in lines)
        assert lines[0]["kind"] == "session.started"
        assert lines[0]["superheat_k"] is None


@pytest.mark.parametrize("name", [scenario.name for scenario in scenarios()])
def test_the_last_line_is_what_the_screen_shows(handbook: Handbook, name: str) -> None:
    scenario = next(s for s in scenarios() if s.name == name)
    events = play(scenario, handbook)
    last = list(replay(events, handbook))[-1]
    state = fold(events, handbook)
    latest = latest_reading(state)
    assert latest is not None
    assert latest.assessment is not None
    assert last["superheat_k"] == latest.assessment.measured.superheat_k
    assert last["subcooling_k"] == latest.assessment.measured.subcooling_k
    assert last["verdict"] == latest.assessment.verdict
    assert last["closed"] == (state.closed is not None)
    if state.closed is None:
        screen = Screen(state, handbook, state.entries[-1].moment, "0" * 26, (), None)
        page = view(screen, Address(CURRENT_STEP, state.sid))
        assert isinstance(page, Page)
        assert page.context["step"]["id"] == last["step"]


def test_the_charge_of_the_roof_unit_grows_shot_by_shot(handbook: Handbook) -> None:
    roof = next(s for s in scenarios() if s.name == "roof-unit-r410a")
    lines = list(replay(play(roof, handbook), handbook))
    ends = [line for line in lines if line["kind"] == "shot.weighed"]
    # The scenario's scale: 27 lb 9.5 oz, then 8.5, 5.5, 3.5 and 2.0 oz.
    assert [round(line["added_g"] / 1000 / OUNCE_KG, 6) for line in ends] == [1.0, 4.0, 6.0, 7.5]
    assert [line["shot_open"] for line in lines if line["kind"] == "shot.opened"] == [True] * 4
    assert lines[-1]["verdict"] == "on_target"


def test_replay_in_text_is_for_people(store: Path, capsys: pytest.CaptureFixture[str]) -> None:
    path = next(path for path in files(store) if "R-22" in path.read_text("utf-8"))
    assert main(["replay", str(path)]) == 0
    out = capsys.readouterr().out
    assert "Session started" in out
    assert "superheat" in out
    assert "°F" in out
    assert "on_target" in out


def test_a_shop_s_own_procedure_is_known_by_its_steps(
    tmp_path: Path, handbook: Handbook, capsys: pytest.CaptureFixture[str]
) -> None:
    data = tmp_path / "data"
    shipped = handbook.procedures["hand-valved-three-port"]
    first, *rest = shipped.steps
    renamed = replace(shipped, steps=(replace(first, title="Ring the bell"), *rest))
    ours = first_revision(Shop(), renamed, shipped.id, "Our way")
    keep(data / FOLDER, ours)
    with opened(data) as store:
        started = event(1, kind="session.started", procedure=ours.procedure.id)
        store.append([started])
    (inside,) = files(data)
    outside = tmp_path / "exported.jsonl"
    outside.write_bytes(inside.read_bytes())
    for call, step in (
        ([str(inside)], first.id),
        ([str(outside), "--data", str(data)], first.id),
        ([str(outside)], None),
    ):
        assert main(["replay", *call, "--json"]) == 0
        line = json.loads(capsys.readouterr().out)
        assert line["step"] == step
        assert line["step_title"] == (step and "Ring the bell")
    assert main(["replay", str(inside)]) == 0
    assert capsys.readouterr().out.endswith(" · next: Ring the bell\n")


def test_a_file_that_is_not_there_is_said(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["replay", str(tmp_path / "none.jsonl")]) == 1
    assert "There is no file" in capsys.readouterr().err


def test_a_damaged_line_is_told_and_the_rest_still_replayed(
    store: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    lines = files(store)[0].read_bytes().splitlines(keepends=True)
    damaged = tmp_path / files(store)[0].name
    damaged.write_bytes(b"".join([*lines[:3], lines[3].replace(b"a", b"b", 1), *lines[4:]]))
    assert main(["replay", str(damaged), "--json"]) == 1
    captured = capsys.readouterr()
    assert len(captured.out.splitlines()) == len(lines) - 1
    assert captured.err != ""


def test_the_program_s_own_entry_point_replays(store: Path) -> None:
    command = [sys.executable, "-m", "lowside", "replay", str(files(store)[0]), "--json"]
    done = subprocess.run(command, capture_output=True, text=True, check=True)
    assert json.loads(done.stdout.splitlines()[-1])["kind"]


def test_no_event_gives_no_line(handbook: Handbook) -> None:
    assert list(replay([], handbook)) == []


def test_an_event_that_came_twice_gets_one_line(handbook: Handbook) -> None:
    events = ready_to_charge(Book()).events
    assert len(list(replay([*events, *events], handbook))) == len(events)


def test_a_voided_reading_no_longer_speaks(handbook: Handbook) -> None:
    book = ready_to_charge(Book())
    reading = next(event for event in book.events if event.kind == "reading.taken")
    book.write("event.voided", {"target": reading.eid})
    lines = list(replay(book.events, handbook))
    assert lines[-2]["verdict"] == "add"
    assert lines[-1]["verdict"] is None


@given(sessions(most=10))
@settings(max_examples=20)
def test_any_session_can_be_replayed(handbook: Handbook, events: list[Event]) -> None:
    lines = list(replay(events, handbook))
    assert [line["eid"] for line in lines] == [event.eid for event in in_order(events)]
    assert json.loads(json.dumps(lines)) == lines
    if events:
        alone = list(replay([replace(events[0], data={})], handbook))
        assert len(alone) == 1
