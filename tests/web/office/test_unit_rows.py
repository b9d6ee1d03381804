"""A unit's page is made from rows: it works no session out but the newest."""

from collections.abc import Iterator, Sequence
from pathlib import Path
from typing import Any

import pytest
from website import Site, open_site

from lowside.core.handbook.handbook import Handbook
from lowside.core.office.unit_rows import at_unit
from lowside.core.session.events import Event
from lowside.core.session.fold import fold
from lowside.core.session.state import latest_reading
from lowside.demo import play, scenarios
from lowside.outlining import AT_UNIT, at_unit_from, outline_from
from lowside.web import folding


@pytest.fixture(scope="module")
def played(handbook: Handbook) -> list[list[Event]]:
    return [play(scenario, handbook) for scenario in scenarios()]


@pytest.fixture
def site(tmp_path: Path, handbook: Handbook, played: list[list[Event]]) -> Iterator[Site]:
    with open_site(tmp_path / "data", handbook) as opened:
        for events in played:
            opened.store.append(events)
        yield opened


def test_a_row_is_read_as_it_was_written(played: list[list[Event]], handbook: Handbook) -> None:
    told = []
    for events in played:
        for row in outline_from(events).derived:
            if row.kind == AT_UNIT:
                told.append(at_unit_from(row.value))
                state = fold(events, handbook)
                latest = latest_reading(state)
                assert told[-1] == at_unit(state, latest.assessment if latest else None)
    assert len(told) > 2
    assert any(one.use is not None and one.visit is not None for one in told)
    assert any(one.added is not None and one.added.kg > 0.0 for one in told)


def test_a_unit_s_page_works_out_its_newest_session_alone(
    site: Site, monkeypatch: pytest.MonkeyPatch
) -> None:
    folded: list[str] = []

    def counting(events: Sequence[Event], *more: Any) -> Any:
        folded.append(events[0].sid)
        return fold(events, *more)

    monkeypatch.setattr(folding, "fold", counting)
    site.desk._folded = folding.Folded()
    links = [link for link in site.get("/office/units").read.links if "/office/unit?" in link]
    assert links
    for link in links:
        folded.clear()
        assert site.get(link).status == 200
        assert len(folded) <= 1
