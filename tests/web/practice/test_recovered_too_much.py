"""The debrief and the panel teach the field’s order of work, or say what is simplified."""

from collections.abc import Iterator
from pathlib import Path

import pytest
from practice_lesson import Apprentice
from strategies import with_units
from walked import RECOVERY_CYLINDER
from website import Site, open_site

from lowside.core.handbook.handbook import Handbook
from lowside.core.handbook.procedure import off_steps_for
from lowside.core.handbook.system import DIP_TUBE
from lowside.core.session.steady import SETTLES_S
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


READY = dict.fromkeys(("locked", "hoses_off", "qualified", "protected"), "yes")


def overcharged(site: Site) -> Apprentice:
    apprentice = Apprentice(site, "too-much", guess="over")
    apprentice.prepare_and_read()
    apprentice.form("decide", "decide", {"decision": "leave"})
    assert apprentice.advised()[0] == "recover"
    return apprentice


def surplus_s(apprentice: Apprentice) -> float:
    return -apprentice.running()[0].unit.missing_kg() / RECOVERY_KG_S


def test_after_a_recovery_the_page_asks_for_a_reading_and_not_for_the_same_again(
    site: Site,
) -> None:
    # docs/weigh-in.md: after a part was recovered it runs 15 minutes and is read anew.
    apprentice = overcharged(site)
    apprentice.recover(surplus_s(apprentice))
    assert apprentice.advised()[0] == "wait"
    assert "Next reading in 1" in apprentice.page("/step/shots").text
    apprentice.wait(SETTLES_S / 10.0 + 1.0)
    assert apprentice.advised()[0] == "read"
    apprentice.read()
    assert apprentice.advised()[0] not in ("recover", "add")


def test_an_opening_after_a_recovery_is_against_the_advice(site: Site) -> None:
    apprentice = Apprentice(site, "first-shots")
    apprentice.prepare_and_read()
    apprentice.form("decide", "decide", {"decision": "add"})
    assert apprentice.advised()[0] == "add"
    apprentice.recover(5)
    apprentice.turn("open")
    apprentice.wait(2)
    apprentice.turn("shut")
    assert not apprentice.running()[0].helds[-1].asked.leaves


def test_the_walk_with_the_hoses_off_recovers_too(site: Site) -> None:
    apprentice = overcharged(site)
    seconds = surplus_s(apprentice)
    apprentice.form("system_stopped", "", {}, page="/step/shots")
    procedure = apprentice.desk.handbook.procedures[apprentice.procedure]
    for step in off_steps_for(procedure, DIP_TUBE):
        apprentice.wait(5)
        apprentice.done(step.id)
    apprentice.recover(3)
    assert apprentice.running()[0].recovery.taken_kg == 0.0, "no hose is on the unit"
    apprentice.form("recovery_ready", "rec_ready", READY)
    collar = with_units("recovery_cylinder", RECOVERY_CYLINDER)
    apprentice.form("recovery_cylinder", "rec_cylinder", collar)
    before = with_units("recovery_contents", {"rc_before": "27 lb", "rc_inside": "empty"})
    apprentice.form("recovery_contents", "rec_contents", before)
    held = apprentice.page("/step/rec_run").response.text
    assert 'data-hold="/practice/' in held
    assert "/valve" not in held
    apprentice.recover(seconds)
    taken_kg = apprentice.running()[0].recovery.taken_kg
    assert taken_kg == pytest.approx(seconds * RECOVERY_KG_S, rel=0.05)
    assert "in the recovery cylinder" in apprentice.page("/step/rec_after").text
    apprentice.done("rec_run")
    after = {
        "rc_after": f"{12247 + taken_kg * 1000:.0f}",
        "rc_left": "100",
        "rc_what": "part",
        "rc_next": "readings",
    }
    apprentice.form("recovery_after", "rec_after", after)
    apprentice.form("system_started", "", {}, page="/step/shots")
    assert apprentice.advised()[0] == "wait"
    apprentice.wait(SETTLES_S / 10.0 + 5.0)
    apprentice.read()
    assert apprentice.advised()[0] not in ("recover", "add")
    apprentice.form("end_weight", "end_weight", {"gross": apprentice.scale()})
    apprentice.form("reconcile", "reconcile", {"explanation": "hoses"})
    apprentice.form("record", "record", {"signed_by": "Ann", "caps_checked": "yes"})
    assert "0 of 2" not in apprentice.debrief().text
