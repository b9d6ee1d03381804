"""A double tap does one thing: its second half falls on a page nobody has read."""

from collections.abc import Iterator
from pathlib import Path

import pytest
from website import PatientClock, Site, open_site

from lowside.core.handbook.handbook import Handbook
from lowside.demo import scenarios

ROOF = next(scenario for scenario in scenarios() if scenario.name == "roof-unit-r410a")


@pytest.fixture
def site(tmp_path: Path, handbook: Handbook) -> Iterator[Site]:
    with open_site(tmp_path, handbook) as opened:
        yield opened


def tap(site: Site, sid: str, form: str, after_s: float) -> str:
    """Tap the form's button on the session's page; where that leads."""
    shown = site.get(f"/s/{sid}").form("/form/" + form)
    clock = site.desk.clock
    assert isinstance(clock, PatientClock)
    clock.wait(after_s - 2.0)
    answer = site.post(shown.action, shown.values)
    assert answer.status == 303, answer.text
    return answer.response.headers["location"]


def undo(site: Site, sid: str) -> str:
    """Undo the last entry on the session's page; where that leads."""
    shown = site.get(f"/s/{sid}").form("/form/void")
    answer = site.post(shown.action, shown.values)
    assert answer.status == 303, answer.text
    return answer.response.headers["location"]


def kinds(site: Site, sid: str) -> list[str]:
    return [event.kind for event in site.events(sid)]


def test_a_double_tap_on_start_leaves_the_shot_open(site: Site) -> None:
    sid = site.play(ROOF, "shot_open")
    tap(site, sid, "shot_open", 20)
    assert tap(site, sid, "shot_close", 0.3) == f"/s/{sid}"
    assert site.state(sid).shots[-1].closed is None
    tap(site, sid, "shot_close", 1.5)
    assert site.state(sid).shots[-1].closed is not None


def test_a_double_tap_on_the_end_does_not_say_that_the_scale_was_not_read(site: Site) -> None:
    sid = site.play(ROOF, "shot_open")
    tap(site, sid, "shot_open", 20)
    tap(site, sid, "shot_close", 9)
    tap(site, sid, "shot_unweighed", 0.3)
    assert kinds(site, sid)[-1] == "shot.closed"
    tap(site, sid, "shot_unweighed", 1.5)
    # After a shot the next page waits: it has no button under a second tap.
    forms = [form.action for form in site.get(f"/s/{sid}").read.forms]
    assert not [action for action in forms if action.endswith("/shot_open")]


def test_a_double_tap_on_done_does_one_step(site: Site) -> None:
    forms = [move.form for move in ROOF.moves]
    first = forms.index("done")
    assert forms[first + 1] == "done"
    sid = site.play(ROOF, "done")
    tap(site, sid, "done", 20)
    before = site.events(sid)
    second = ROOF.moves[first + 1].step
    assert tap(site, sid, "done", 0.3) == f"/s/{sid}/step/{second}"
    assert site.events(sid) == before
    tap(site, sid, "done", 1.5)
    assert second in site.state(sid).done


def test_a_double_tap_on_stop_leaves_the_unit_stopped_and_stop_is_never_too_early(
    site: Site,
) -> None:
    sid = site.play(ROOF, "shot_open")
    tap(site, sid, "shot_open", 20)
    tap(site, sid, "system_stopped", 0.2)
    tap(site, sid, "system_started", 0.3)
    assert not site.state(sid).running
    tap(site, sid, "system_started", 1.5)
    assert site.state(sid).running


def test_the_next_page_undoes_the_start_the_end_and_the_weight_of_a_shot(site: Site) -> None:
    sid = site.play(ROOF, "shot_open")
    tap(site, sid, "shot_open", 20)
    tap(site, sid, "shot_close", 9)
    tap(site, sid, "shot_unweighed", 9)
    assert undo(site, sid) == f"/s/{sid}"
    assert site.state(sid).shots[-1].weight_asked
    # What undoes an undo is on the timeline: two taps never do and undo.
    assert not [f for f in site.get(f"/s/{sid}").read.forms if f.action.endswith("/void")]


def test_an_end_that_was_tapped_too_soon_is_undone_and_the_shot_is_open_since_its_start(
    site: Site,
) -> None:
    sid = site.play(ROOF, "shot_open")
    tap(site, sid, "shot_open", 20)
    tap(site, sid, "shot_close", 5)
    undo(site, sid)
    assert site.state(sid).shots[-1].closed is None
    tap(site, sid, "shot_close", 6)
    open_s = site.state(sid).shots[-1].open_s
    assert open_s is not None
    assert 12.0 < open_s < 15.0


def test_a_done_step_is_undone_from_the_page_after_it(site: Site) -> None:
    sid = site.play(ROOF, "done")
    step = next(move.step for move in ROOF.moves if move.form == "done")
    tap(site, sid, "done", 20)
    assert undo(site, sid) == f"/s/{sid}/step/{step}"
    assert step not in site.state(sid).done


def other_hand_notes(site: Site, sid: str) -> None:
    """On another phone that works through the server too."""
    clock = site.desk.clock
    assert isinstance(clock, PatientClock)
    note = site.get(f"/s/{sid}/form/note").form("/form/note")
    clock.wait(3)
    assert site.post(note.action, note.values | {"text": "fan squeals"}).status == 303
    clock.wait(0.5 - 2.0)


def test_what_one_hand_saves_is_kept_right_after_another_hand_saved_something(site: Site) -> None:
    sid = site.play(ROOF, "shot_open")
    tap(site, sid, "shot_open", 20)
    close = site.get(f"/s/{sid}").form("/form/shot_close")
    other_hand_notes(site, sid)
    site.post(close.action, close.values)
    assert kinds(site, sid)[-1] == "shot.closed"
    weigh = site.get(f"/s/{sid}").form("/form/shot_weigh")
    other_hand_notes(site, sid)
    site.post(weigh.action, weigh.values | {"scale_after": "27.4", "scale_after_unit": "lb"})
    assert kinds(site, sid)[-1] == "shot.weighed"
    assert site.state(sid).shots[-1].amount_kg is not None
