"""What a database keeps beside entries is checked too, and a damaged photo can be sent again.

Sources: docs/store-format.md, "What the store promises"; docs/running-at-scale.md, "Checking".
"""

from collections.abc import Callable
from dataclasses import replace

import psycopg
import pytest
from photo_cases import facts_of, photo
from postgres_cluster import Cluster
from store_cases import SID, event, ulid
from website import PROCEDURE, Site, open_site

from lowside.cli import main
from lowside.core.handbook.handbook import Handbook
from lowside.core.session.photos import PHOTO_KIND
from lowside.outlining import outline
from lowside.store import NotNowError
from lowside.store.choosing import open_database
from lowside.web.access.people import Role

pytestmark = pytest.mark.xdist_group("postgres")

PERSON = "01K0000000000000000000PERS"
NAMED = facts_of(photo())
NAME = NAMED["photo"]
JPEG = {"Content-Type": "image/jpeg"}


def as_owner(cluster: Cluster, address: str, change: str) -> None:
    """Change a row of the address's shop as only the database's owner can."""
    with open_database(address, outline) as store:
        shop = store._database.shop
    with psycopg.connect(cluster.address("lowside")) as owner:
        assert owner.execute(f"{change} AND shop = %s".encode(), (shop,)).rowcount == 1


def filled(site: Site) -> None:
    """A paired phone, a procedure, a photo that is here and one that is still on a phone."""
    form = site.get("/office/procedures").form("/copy")
    assert site.post(form.action, {"source": PROCEDURE, "title": "Our way"}).status == 303
    pairing = site.app.state.pairing
    pairing.add(PERSON, "Ina", Role.FIELD)
    pairing.pair(pairing.make_code(PERSON), "Red phone", "192.0.2.7")
    away = facts_of(photo(1))
    taken = [replace(event(n), kind=PHOTO_KIND, data=d) for n, d in ((2, NAMED), (3, away))]
    site.store.append([event(1), *taken])
    site.store.photos.keep(SID, NAME, photo())


@pytest.mark.parametrize(
    ("change", "told"),
    [
        ("UPDATE happenings SET line = replace(line, 'Ina', 'Ana') WHERE n = 1", "Line 1 of the p"),
        ("DELETE FROM happenings WHERE n = 2", "Line 2 of the people in the database is gone."),
        (
            "UPDATE papers SET content = '{' WHERE name LIKE 'procedures/%%'",
            "procedures/shop-our-way-1 in the database is not JSON",
        ),
        (
            "UPDATE papers SET content = '{\"sum\": \"x\"}' WHERE name LIKE 'procedures/%%'",
            "procedures/shop-our-way-1 in the database was changed",
        ),
        (
            "UPDATE papers SET content = 'x' WHERE name LIKE 'photos/%%'",
            f"The photo {NAME} of session {SID} is damaged.",
        ),
    ],
)
def test_a_check_finds_what_is_damaged_beside_the_entries(
    change: str,
    told: str,
    new_shop: Callable[[], str],
    handbook: Handbook,
    cluster: Cluster,
    capsys: pytest.CaptureFixture[str],
) -> None:
    address = new_shop()
    with open_site(address, handbook) as site:
        filled(site)
    assert main(["check-store", address]) == 0
    said = capsys.readouterr().out
    assert "1 photos are not here: they are still on a phone, or were lost with a copy. " in said
    assert said.endswith(f"Sessions: {SID}.\nNothing is wrong.\n")
    as_owner(cluster, address, change)
    assert main(["check-store", address]) == 1
    assert told in capsys.readouterr().out


def test_a_photo_damaged_in_the_database_is_kept_when_a_phone_sends_it_again(
    new_shop: Callable[[], str],
    handbook: Handbook,
    cluster: Cluster,
    capsys: pytest.CaptureFixture[str],
) -> None:
    address, path = new_shop(), f"/api/photo/{SID}/{NAME}"
    with open_site(address, handbook) as site:
        filled(site)
        photos = site.store.photos
        assert not photos.keep(SID, NAME, photo())  # it is there
        for count in range(2):  # also when the second copy is damaged later
            as_owner(
                cluster,
                address,
                f"UPDATE papers SET content = 'x' WHERE name LIKE '%%{NAME}.jpg%%' "
                f"AND content != 'x'",
            )
            assert photos.read(SID, NAME) is None
            assert site.send("POST", path, photo(), JPEG).json() == {"stored": NAME}
            assert photos.read(SID, NAME) == photo(), count
        assert not photos.keep(SID, NAME, photo())
        assert photos.has(SID, NAME)
        shared = site.store.papers
        assert [each.rpartition(".jpg")[2] for each in shared.names("photos/")] == ["", ".2", ".3"]
        shared.put(f"photos/{ulid(9)}/{NAME}.jpg", b"x")
        put = shared.put
        shared.put = lambda name, _content: put(name, b"x") and False  # another was first
        with pytest.raises(NotNowError):
            photos.keep(ulid(9), NAME, photo())
    assert main(["check-store", address]) == 1
    assert f"The photo {NAME} of session {SID}" not in capsys.readouterr().out
