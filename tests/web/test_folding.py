"""A tap folds its session once, whatever asks for it; what is shown is never of yesterday."""

from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

import pytest
from strategies import Book, ready_to_charge
from website import Site, open_site

import lowside.web.folding
from lowside.core.handbook.handbook import Handbook
from lowside.core.session.fold import fold
from lowside.demo import play, scenarios
from lowside.web.folding import MOST_OPEN, Folded


@pytest.fixture
def site(tmp_path: Path, handbook: Handbook) -> Iterator[Site]:
    with open_site(tmp_path / "data", handbook) as site:
        yield site


@pytest.fixture
def judged(monkeypatch: pytest.MonkeyPatch) -> list[bool]:
    """One entry for each fold so far: whether it judged the readings."""
    folds: list[bool] = []

    def counted(*asked: object) -> object:
        folds.append(asked[1] is not None)
        return fold(*asked)  # type: ignore[arg-type]

    monkeypatch.setattr(lowside.web.folding, "fold", counted)
    return folds


def test_a_form_and_the_page_after_it_fold_the_session_once(
    site: Site, handbook: Handbook, judged: list[bool]
) -> None:
    (scenario,) = (each for each in scenarios() if each.name == "gym-unit-r410a-open")
    events = play(scenario, handbook)
    site.store.append(events)
    sid = events[0].sid
    site.get(f"/s/{sid}")
    judged.clear()
    for number in (1, 2):
        typed = {"eid": f"01K0000000000000000000000{number}", "step": "", "text": "hot"}
        site.send("POST", f"/s/{sid}/form/note", data=typed | {"back": f"/s/{sid}"})
        assert f"{number + len(events)}" == str(len(site.store.events(sid)))
        site.get(f"/s/{sid}")
        assert judged == [True] * number


def test_lists_judge_no_reading(site: Site, handbook: Handbook, judged: list[bool]) -> None:
    for scenario in scenarios():
        site.store.append(play(scenario, handbook))
    for address in ("/", "/office", "/office/cylinders", "/office/units"):
        site.get(address)
    assert judged
    assert not any(judged)


def test_what_is_kept_is_what_a_fresh_fold_says(handbook: Handbook) -> None:
    folded = Folded()
    events = ready_to_charge(Book()).events
    for count in range(1, len(events) + 1):
        so_far = events[:count]
        assert folded.for_lists(so_far, handbook) == fold(so_far)
    for count in range(1, len(events) + 1):
        so_far = events[:count]
        assert folded.state(so_far, handbook) == fold(so_far, handbook)
        assert folded.for_lists(so_far, handbook) == fold(so_far, handbook)
        assert folded.state(so_far, handbook) is folded.state(so_far, handbook)


def test_what_was_taken_back_is_not_in_what_comes_in_its_place(handbook: Handbook) -> None:
    """As when the disk was full and the next entry is another one, or others before the same."""
    folded = Folded()
    *before, one, other = ready_to_charge(Book()).events
    folded.state([*before, one, other], handbook)
    folded.for_lists([*before, one, other], handbook)
    instead = [*before, replace(one, data={}, kind="note.added"), other]
    assert folded.state(instead, handbook) == fold(instead, handbook)
    assert folded.for_lists(instead, handbook) == fold(instead, handbook)


def test_another_handbook_judges_anew(handbook: Handbook) -> None:
    folded = Folded()
    events = ready_to_charge(Book()).events
    assert folded.state(events, handbook).readings[-1].assessment is not None
    without = replace(handbook, tables={})
    assert folded.state(events, without) == fold(events, without)


def test_only_so_many_sessions_are_kept(handbook: Handbook) -> None:
    folded = Folded()
    first = ready_to_charge(Book()).events
    state = folded.state(first, handbook)
    for number in range(MOST_OPEN):
        folded.state([replace(first[0], sid=f"S{number}")], handbook)
    assert folded.state(first, handbook) is not state
