"""`lowside move-store` and `export`: what is damaged is told, and what is only read is not changed.

Sources: docs/running-at-scale.md, "Moving a shop"; the sentences are our choice.
"""

from collections.abc import Callable
from pathlib import Path

import psycopg
import pytest
from office_cases import events, visit
from postgres_cluster import Cluster
from store_cases import SID, event, ulid
from test_move_store import PERSON, filled
from website import open_site

from lowside.cli import main
from lowside.core.handbook.handbook import Handbook
from lowside.moving import move
from lowside.outlining import outline
from lowside.store.answers import Answers
from lowside.store.choosing import open_database, open_store
from lowside.store.device import keep_name
from lowside.web.access.kept import kept_in
from lowside.web.access.pairing import Pairing
from lowside.web.access.people import Role

pytestmark = pytest.mark.xdist_group("postgres")

MANY = 600
"""More sessions than a store keeps in memory."""


def as_owner(cluster: Cluster, change: str, *values: object) -> None:
    """Change rows as only the database's owner can."""
    with psycopg.connect(cluster.address("lowside")) as owner:
        assert owner.execute(change.encode(), values).rowcount == 1


def shop_in(address: str) -> str:
    with open_store(address, outline) as store:
        return str(store._database.shop)  # type: ignore[attr-defined]


@pytest.mark.parametrize(
    ("change", "told"),
    [
        ("UPDATE events SET sum = 'x' WHERE seq = 2 AND shop = %s", f"Entry 2 of session {SID}"),
        ("UPDATE set_aside SET sum = 'x' WHERE shop = %s", f"set aside of session {SID}"),
    ],
)
def test_a_damaged_entry_of_a_database_is_told_each_time(
    change: str,
    told: str,
    tmp_path: Path,
    new_shop: Callable[[], str],
    cluster: Cluster,
    capsys: pytest.CaptureFixture[str],
) -> None:
    address, back = new_shop(), tmp_path / "back"
    with open_store(address, outline) as store:
        store.append([event(1), event(2), event(3), event(1, text="rival")])
    assert main(["move-store", address, str(tmp_path / "sound")]) == 0  # the healthy case
    as_owner(cluster, change, shop_in(address))
    capsys.readouterr()
    for _ in range(2):
        assert main(["move-store", address, str(back)]) == 1
        said = capsys.readouterr()
        assert told in said.err
        assert "is the same in both" not in said.out
    with open_store(back, outline) as store:
        assert [each.seq for each in store.events(SID)] == (
            [1, 3] if "events" in change else [1, 2, 3]
        )


def test_one_damaged_entry_among_many_sessions_is_told(
    tmp_path: Path, new_shop: Callable[[], str], cluster: Cluster
) -> None:
    address = new_shop()
    with open_store(address, outline) as store:
        store.append([event(1, sid=ulid(n)) for n in range(1, MANY + 1)])
    as_owner(
        cluster,
        "UPDATE events SET sum = 'x' WHERE sid = %s AND shop = %s",
        ulid(9),
        shop_in(address),
    )
    found = move(address, tmp_path / "back")
    assert [each[:36] for each in found.problems] == [f"Entry 1 of session {ulid(9)}"[:36]]
    assert found.entries == MANY - 1


def test_a_damaged_procedure_is_told_and_every_later_run_goes_on(
    tmp_path: Path,
    new_shop: Callable[[], str],
    handbook: Handbook,
    capsys: pytest.CaptureFixture[str],
) -> None:
    home, address, copy = tmp_path / "data", new_shop(), tmp_path / "copy"
    with open_site(home, handbook) as site:
        filled(site)
    assert main(["move-store", str(home), str(copy)]) == 0
    (path,) = (home / "procedures").glob("*.json")
    sound = path.read_bytes()
    path.write_bytes(sound[:-40])
    for count in range(2):
        with open_store(home, outline) as store:
            store.append([event(10 + count)])
        capsys.readouterr()
        assert main(["move-store", str(home), address]) == 1
        said = capsys.readouterr()
        assert f"The procedure {path.stem} in the target is not JSON" in said.err
        assert " 0 entries were copied" not in said.out
    assert main(["move-store", str(home), str(copy)]) == 0  # the target has it whole
    assert (copy / "procedures" / path.name).read_bytes() == sound
    path.write_bytes(sound)
    (copy / "procedures" / path.name).write_bytes(b"{damaged")
    assert main(["move-store", str(home), str(copy)]) == 0  # copied again
    assert (copy / "procedures" / path.name).read_bytes() == sound
    path.write_bytes(sound.replace(b"Our way", b"Own way").replace(b'"sum"', b'"was"'))
    assert main(["move-store", str(home), str(copy)]) == 1
    assert "belongs to another shop" in capsys.readouterr().err


def test_a_damaged_line_of_people_is_told_with_its_file(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    home = tmp_path / "data"
    with open_store(home, outline) as store:
        store.append([event(1)])
    Pairing(kept_in(home), lambda: 1_800_000_000_000).add(PERSON, "Ina", Role.FIELD)
    people = home / "people.jsonl"
    people.write_bytes(people.read_bytes().replace(b"Ina", b"Ana"))
    assert main(["move-store", str(home), str(tmp_path / "copy")]) == 1
    assert f"Line 1 of {people}: " in capsys.readouterr().err


def test_a_revocation_without_its_line_feed_moves_along(tmp_path: Path) -> None:
    home, copy = tmp_path / "data", tmp_path / "copy"
    with open_store(home, outline) as store:
        store.append([event(1)])
    pairing = Pairing(kept_in(home), lambda: 1_800_000_000_000)
    pairing.add(PERSON, "Ina", Role.FIELD)
    token = pairing.pair(pairing.make_code(PERSON), "Red phone", "192.0.2.7")
    pairing.revoke(token.partition(".")[0], "lost")
    people = home / "people.jsonl"
    people.write_bytes(people.read_bytes()[:-1])
    assert main(["move-store", str(home), str(copy)]) == 0
    assert Pairing(kept_in(copy), lambda: 1_800_000_000_000).holder(token) is None


def test_a_target_that_keeps_its_own_name_as_a_writer_is_told(
    tmp_path: Path, new_shop: Callable[[], str], capsys: pytest.CaptureFixture[str]
) -> None:
    home, address, other = tmp_path / "data", new_shop(), new_shop()
    with open_store(home, outline) as store:
        store.append([event(1)])
    keep_name(home, ulid(70))
    with open_database(address, outline) as store:
        store.papers.put("device", ulid(71).encode())
    assert main(["move-store", str(home), address]) == 1
    said = capsys.readouterr()
    assert "has a name of its own as a writer" in said.err
    assert "1 entries were copied" in said.out
    assert [main(["move-store", str(home), other]) for _ in range(2)] == [0, 0]


def test_what_is_only_read_keeps_the_rows_that_other_rules_made(
    tmp_path: Path, new_shop: Callable[[], str], cluster: Cluster
) -> None:
    address = new_shop()
    with open_store(address, outline) as store:
        store.append(events(visit(1, "2026-01-10", 2.0)))
    shop = shop_in(address)
    as_owner(cluster, "UPDATE shops SET rules = 'older' WHERE shop = %s", shop)

    def rules() -> object:
        with psycopg.connect(cluster.address("lowside")) as owner:
            return owner.execute("SELECT rules FROM shops WHERE shop = %s", (shop,)).fetchone()

    assert main(["export", address, "--out", str(tmp_path / "e.jsonl")]) == 0
    assert main(["move-store", address, str(tmp_path / "back")]) == 0
    assert rules() == ("older",)
    with open_store(tmp_path / "back", outline) as store:
        assert len(store.ask(Answers.sids_of_arrivals)) == 1
    with open_store(address, outline):  # a server, as before
        assert rules() != ("older",)
