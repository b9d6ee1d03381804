"""The debrief and the panel teach the field’s order of work, or say what is simplified."""

from collections.abc import Iterator
from pathlib import Path

import pytest
from practice_lesson import Apprentice
from website import Site, open_site

from lowside.core.handbook.handbook import Handbook
from lowside.practice.recovery import RECOVERY_KG_S


@pytest.fixture
def site(tmp_path: Path, handbook: Handbook) -> Iterator[Site]:
    with open_site(tmp_path / "data", handbook) as opened:
        yield opened


def test_after_too_much_was_recovered_the_readings_decide(site: Site) -> None:
    # docs/weigh-in.md: before weigh-in the whole charge comes out; after a part 15 minutes and a
    # new reading.
    apprentice = Apprentice(site, "too-much")
    apprentice.prepare()
    surplus = -apprentice.running()[0].unit.missing_kg()
    apprentice.recover((surplus + 1.0) / RECOVERY_KG_S)
    told = apprentice.page().text
    assert "Let it run 15 minutes, read again, and add by the readings." in told
    assert "Weigh in what is missing" not in told


def test_the_panel_says_that_its_recovery_is_simplified(site: Site) -> None:
    # Our choice: the lesson recovers from a running unit, the field from one that is locked out.
    apprentice = Apprentice(site, "too-much")
    apprentice.prepare_and_read()
    said = "at work the unit is off and locked out for it"
    assert said in apprentice.page("/step/shots").text
    assert said not in apprentice.page("/step/job").text
