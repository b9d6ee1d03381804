"""Two servers that share nothing but the database: what one of them is told holds on both."""

from collections.abc import Callable, Iterator
from concurrent.futures import ThreadPoolExecutor
from contextlib import ExitStack
from pathlib import Path

import pytest
from httpx import Response
from test_access import Shop
from website import PROCEDURE, Site, open_site

from lowside.core.handbook.handbook import Handbook
from lowside.core.session.events import writer_of
from lowside.store.device import run_name
from lowside.web.access.attempts import MOST_FROM_ONE
from lowside.web.access.people import Role
from lowside.web.clock import Clock, new_ulid
from lowside.web.phone.handbook import phone_handbook

pytestmark = pytest.mark.xdist_group("postgres")

PERSON = "01K0000000000000000000PERS"


@pytest.fixture
def sites(new_shop: Callable[[], str], handbook: Handbook) -> Iterator[tuple[Site, Site]]:
    address = new_shop()
    with ExitStack() as stack:
        one, two = (
            stack.enter_context(open_site(address, handbook, new_ulid(Clock().now().at)))
            for _ in range(2)
        )
        yield one, two


@pytest.fixture
def shops(sites: tuple[Site, Site], tmp_path: Path) -> tuple[Shop, Shop]:
    one, two = (Shop(site.app, site.app.state.pairing, tmp_path) for site in sites)
    return one, two


def test_a_phone_paired_on_one_is_let_in_by_both_until_either_blocks_it(
    shops: tuple[Shop, Shop],
) -> None:
    one, two = shops
    code = one.code(Role.OFFICE)
    paired = two.pair(code)
    token = paired.headers["set-cookie"].partition("=")[2].partition(";")[0]
    for shop in shops:
        assert shop.ask("GET", "/office", cookie=token).status_code == 200
    one.pairing.set_role(one.pairing.holder(token).person.id, Role.FIELD)  # type: ignore[union-attr]
    assert two.ask("GET", "/office", cookie=token).status_code == 403
    assert two.ask("GET", "/", cookie=token).status_code == 200
    (device,) = two.pairing.roll().devices
    two.pairing.revoke(device, "lost")
    for shop in shops:
        assert shop.ask("GET", "/", cookie=token).status_code == 401
    assert one.pair(code).status_code == 422


def test_a_code_sent_to_both_at_once_works_once(shops: tuple[Shop, Shop]) -> None:
    code = shops[0].code()
    with ThreadPoolExecutor(4) as pool:
        answers: list[Response] = list(pool.map(lambda n: shops[n % 2].pair(code), range(4)))
    assert sorted(answer.status_code for answer in answers) == [303, 422, 422, 422]
    assert len(shops[1].pairing.roll().devices) == 1


def test_wrong_codes_are_counted_over_both(shops: tuple[Shop, Shop]) -> None:
    wrong = [shops[n % 2].pair("ZZZZZ-ZZZZZ").status_code for n in range(MOST_FROM_ONE)]
    assert wrong == [422] * MOST_FROM_ONE
    assert [shop.pair("ZZZZZ-ZZZZZ").status_code for shop in shops] == [429, 429]
    assert shops[0].pair("ZZZZZ-ZZZZZ", peer="192.0.2.99").status_code == 422


def test_a_session_goes_on_at_the_other_server(sites: tuple[Site, Site]) -> None:
    one, two = sites
    sid = one.start()
    shown = two.get(f"/s/{sid}/form/note").form("/form/note")
    typed = shown.values | {"text": "Noisy contactor"}
    assert two.post(shown.action, typed).status == 303
    assert one.post(shown.action, typed).status == 303  # the same tap by the other way
    assert "Noisy contactor" in one.get(f"/s/{sid}/timeline").text
    kinds = [event.kind for event in one.events(sid)]
    assert kinds == ["session.started", "note.added"]
    assert len({event.dev for event in two.events(sid)}) == 2


def test_a_procedure_made_at_one_is_offered_by_the_other(sites: tuple[Site, Site]) -> None:
    one, two = sites
    form = one.get("/office/procedures").form("/copy")
    one.post(form.action, {"source": PROCEDURE, "title": "Our way"})
    assert "Our way" in two.get("/office/procedures").text
    assert two.desk.handbook.procedures["shop-our-way-1"].title == "Our way"


def test_phones_get_the_same_program_from_both(sites: tuple[Site, Site]) -> None:
    one, two = sites
    for site, title in ((one, "Zigzag"), (two, "Across")):
        form = site.get("/office/procedures").form("/copy")
        site.post(form.action, {"source": PROCEDURE, "title": title})
    for site in sites:
        site.app.state.workshop.look_again()
    named = [list(site.desk.handbook.procedures) for site in sites]
    assert named[0] == named[1]
    assert {"shop-zigzag-1", "shop-across-1"} <= set(named[0])
    programs = [phone_handbook(site.desk.handbook) for site in sites]
    assert programs[0] == programs[1]


def test_both_write_under_one_name_with_endings_of_their_own(sites: tuple[Site, Site]) -> None:
    now = Clock().now().at
    names = [run_name("01K0000000000000000000SERV", new_ulid(now)) for _ in sites]
    assert names[0] != names[1]
    assert writer_of(names[0]) == writer_of(names[1])
