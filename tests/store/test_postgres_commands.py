"""`lowside check-store` and `export` on a database."""

import json
from collections.abc import Callable

import psycopg
import pytest
from office_cases import events, visit
from postgres_cluster import Cluster
from store_cases import SID, event

from lowside.cli import main
from lowside.outlining import outline
from lowside.store.choosing import open_store
from lowside.store.codec import canonical_event

pytestmark = pytest.mark.xdist_group("postgres")


@pytest.fixture
def address(new_shop: Callable[[], str]) -> str:
    address = new_shop()
    with open_store(address, outline) as store:
        store.append(events(visit(1, "2026-01-10", 2.0), visit(2, "2026-02-10", 1.0)))
    return address


def as_owner(cluster: Cluster, address: str, text: str) -> None:
    """Do to this shop what nobody who serves may do."""
    shop = address.removeprefix("postgresql://").partition("@")[0]
    with psycopg.connect(cluster.address("lowside"), autocommit=True) as owner:
        assert owner.execute(f"{text} shop = %s".encode(), (shop,)).rowcount > 0


def test_nothing_is_wrong_with_a_sound_store(
    address: str, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["check-store", address]) == 0
    said = capsys.readouterr().out
    assert said.startswith("2 sessions, ")
    assert said.endswith("Nothing is wrong.\n")
    assert main(["check-store", address, "--rebuild", "--json"]) == 0
    assert json.loads(capsys.readouterr().out)["problems"] == []


FAULTS = (
    ("UPDATE events SET body = replace(body, 'Mill', 'Hill') WHERE", "checksum does not match"),
    ("DELETE FROM events WHERE place = 3 AND", "are missing"),
    ("DELETE FROM events WHERE place = 3 AND", "entries arrived and are gone"),
    ("DELETE FROM arrivals WHERE n = 4 AND", "order of arrival is broken at number 5"),
    ("UPDATE arrivals SET seq = 9 WHERE n = 4 AND", "order of arrival is broken at number 4"),
    ("UPDATE sessions SET site = 'Hill' WHERE", "lists say something else"),
    ("DELETE FROM derived WHERE kind = 'summary' AND", "lists say something else"),
)


@pytest.mark.parametrize(("change", "sentence"), FAULTS)
def test_what_was_changed_in_the_database_is_found(
    cluster: Cluster,
    address: str,
    capsys: pytest.CaptureFixture[str],
    change: str,
    sentence: str,
) -> None:
    as_owner(cluster, address, change)
    assert main(["check-store", address]) == 1
    assert sentence in capsys.readouterr().out


def test_rebuilding_makes_the_lists_right_again(
    cluster: Cluster, address: str, capsys: pytest.CaptureFixture[str]
) -> None:
    for change in ("UPDATE sessions SET site = 'Hill' WHERE", "DELETE FROM derived WHERE"):
        as_owner(cluster, address, change)
    assert main(["check-store", address, "--rebuild"]) == 0
    assert "Nothing is wrong." in capsys.readouterr().out


def test_what_is_set_aside_is_told(address: str, capsys: pytest.CaptureFixture[str]) -> None:
    with open_store(address, outline) as store:
        store.append([event(1), event(1, text="rival")])
    assert main(["check-store", address]) == 1
    assert f"Session {SID}: entry " in capsys.readouterr().out


def test_an_export_has_every_entry(address: str, capsys: pytest.CaptureFixture[str]) -> None:
    sent = events(visit(1, "2026-01-10", 2.0), visit(2, "2026-02-10", 1.0))
    assert main(["export", address]) == 0
    lines = capsys.readouterr().out.splitlines()
    assert sorted(lines) == sorted(canonical_event(each).decode() for each in sent)
    assert main(["export", address, "--csv"]) == 0
    assert capsys.readouterr().out.count("Mill Lane") == 2
    assert main(["export", address, "--sid", SID]) == 1
    said = capsys.readouterr().err
    assert f"There is no session {SID} in " in said
    assert "postgresql://" not in said
