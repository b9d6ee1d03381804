"""The key that signs phones' tokens is always one that is kept, and taken away it is gone at once.

Sources: docs/serving-phones.md, "Files"; docs/running-at-scale.md, "What holds across servers".
53100 is PostgreSQL's code for a full disk (its appendix "Error Codes").
"""

from collections.abc import Callable
from pathlib import Path

import psycopg
import pytest
from postgres_cluster import Cluster

from lowside.outlining import outline
from lowside.store.choosing import open_database
from lowside.web.access.kept import kept_with
from lowside.web.access.pairing import Pairing
from lowside.web.access.people import PeopleError, Role

NOW_MS = 1_800_000_000_000
PERSON = "01K0000000000000000000PERS"
FULL = (
    "CREATE FUNCTION full_disk() RETURNS trigger LANGUAGE plpgsql AS "
    "$$ BEGIN RAISE EXCEPTION 'disk full' USING ERRCODE = '53100'; END $$",
    "CREATE CONSTRAINT TRIGGER full_disk AFTER INSERT ON papers DEFERRABLE INITIALLY DEFERRED "
    "FOR EACH ROW WHEN (NEW.name = 'access.key') EXECUTE FUNCTION full_disk()",
    "CREATE CONSTRAINT TRIGGER full_disk AFTER INSERT ON happenings DEFERRABLE INITIALLY DEFERRED "
    "FOR EACH ROW WHEN (NEW.line LIKE '%code.made%') EXECUTE FUNCTION full_disk()",
)
ROOM = (
    "DROP TRIGGER full_disk ON papers",
    "DROP TRIGGER full_disk ON happenings",
    "DROP FUNCTION full_disk",
)


def pairing_in(data: Path) -> Pairing:
    return Pairing(data, lambda: NOW_MS)


@pytest.mark.xdist_group("postgres")
@pytest.mark.parametrize("refused", ["papers", "happenings"])
def test_a_key_that_the_database_did_not_commit_signs_nothing(
    refused: str, new_shop: Callable[[], str], cluster: Cluster
) -> None:
    address = new_shop()
    with (
        open_database(address, outline) as one,
        open_database(address, outline) as two,
        psycopg.connect(cluster.address("lowside"), autocommit=True) as owner,
    ):
        here, there = (Pairing(kept_with(each.papers), lambda: NOW_MS) for each in (one, two))
        here.add(PERSON, "Ina", Role.FIELD)
        for change in FULL:
            if "TRIGGER" not in change.split()[:3] or f"ON {refused}" in change:
                owner.execute(change.encode())
        try:
            with pytest.raises(PeopleError, match="disk full"):
                here.make_code(PERSON)
        finally:
            for change in ROOM:
                owner.execute(change.replace("TRIGGER", "TRIGGER IF EXISTS").encode())
        there.make_code(PERSON)  # the other server needs the key too
        token = there.pair(here.make_code(PERSON), "Phone", "192.0.2.1")
        assert here.holder(token) is not None
        assert there.holder(token) is not None
        assert here.key_for_proofs() == there.key_for_proofs() != b""
        again = here.pair(there.make_code(PERSON), "Phone", "192.0.2.1")
        assert there.holder(again) is not None


def test_removing_the_key_blocks_every_device_at_once_and_each_can_be_paired_again(
    tmp_path: Path,
) -> None:
    server = pairing_in(tmp_path)
    server.add(PERSON, "Ina", Role.FIELD)
    before = server.pair(server.make_code(PERSON), "Phone", "192.0.2.1")
    proofs = server.key_for_proofs()
    assert server.holder(before) is not None
    (tmp_path / "access.key").unlink()
    assert server.holder(before) is None
    token = server.pair(server.make_code(PERSON), "Phone", "192.0.2.1")
    assert server.holder(before) is None
    assert server.key_for_proofs() not in (proofs, b"")
    for asked in (server, pairing_in(tmp_path)):  # also after a restart
        assert asked.holder(token) is not None
        assert asked.holder(before) is None


def test_a_key_that_the_command_made_is_the_servers_too(tmp_path: Path) -> None:
    server = pairing_in(tmp_path)
    server.add(PERSON, "Ina", Role.FIELD)
    before = server.pair(server.make_code(PERSON), "Phone", "192.0.2.1")
    kept = (tmp_path / "access.key").read_bytes()
    (tmp_path / "access.key").unlink()
    code = pairing_in(tmp_path).make_code(PERSON)  # nobody asked the server meanwhile
    token = server.pair(code, "Phone", "192.0.2.1")
    assert server.holder(before) is None
    assert server.holder(token) is not None
    (tmp_path / "access.key").unlink()
    fresh = tmp_path / "access.key"
    fresh.touch(mode=0o600)
    fresh.write_bytes(kept)  # put back from a copy
    assert server.holder(before) is not None
    assert server.holder(token) is None
