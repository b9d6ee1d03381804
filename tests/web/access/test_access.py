"""Who is let in: nobody is asked on this machine, nobody else comes in without pairing."""

import asyncio
import json
from collections.abc import Iterator, Mapping
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path

import pytest
from fastapi import FastAPI
from httpx import ASGITransport, AsyncClient, Response
from website import DEVICE, Reader

from lowside.core.handbook.handbook import Handbook
from lowside.outlining import outline
from lowside.store import Store
from lowside.store.durable import UnsureError
from lowside.web.access import guard as access
from lowside.web.access.authority import open_authority
from lowside.web.access.door import LOCAL_DOOR, Door, DoorKind, Doorway
from lowside.web.access.guard import COOKIE, may_open
from lowside.web.access.pairing import (
    CODE_LIVES_MS,
    TOKEN_LIVES_MS,
    TOKEN_RENEWED_AFTER_MS,
    TRIES_A_CODE,
    Pairing,
    _signed,
)
from lowside.web.access.people import PeopleError, PeopleLog, Role
from lowside.web.access.trust import Reach
from lowside.web.app import create_app
from lowside.web.keeping import keeping_in
from lowside.web.terminal import Terminal

LAN = "shop.lowside.test"
PHONE = "192.168.1.50"
PLAIN_DOOR = Door(DoorKind.PLAIN, frozenset({LAN}))
TLS_DOOR = Door(DoorKind.TLS, frozenset({LAN, "192.168.1.20"}))
PROXY_DOOR = Door(DoorKind.PROXY, frozenset({LAN}), frozenset({"10.0.0.2"}))
PROXIED = {"X-Forwarded-Proto": "https", "X-Forwarded-For": PHONE}
PERSON = "01KTESTPERS0N0000000000001"


@dataclass
class Shop:
    """The application, a clock that stops until it is moved, and who asks from where."""

    app: FastAPI
    pairing: Pairing
    data: Path
    skipped_ms: int = 0

    def ask(
        self,
        method: str,
        path: str,
        *,
        door: Door = TLS_DOOR,
        peer: str = PHONE,
        host: str = LAN,
        cookie: str = "",
        headers: Mapping[str, str] | None = None,
        data: Mapping[str, str] | None = None,
        content: bytes | None = None,
    ) -> Response:
        scheme = "https" if door.kind is DoorKind.TLS else "http"
        sent = {"Host": host, **(headers or {})}
        if cookie:
            sent["Cookie"] = f"{COOKIE}={cookie}"

        async def exchange() -> Response:
            transport = ASGITransport(Doorway(self.app, door), client=(peer, 50000))
            async with AsyncClient(transport=transport, base_url=f"{scheme}://{LAN}") as client:
                return await client.request(method, path, headers=sent, data=data, content=content)

        return asyncio.run(exchange())

    def owner(self, method: str, path: str, **more: object) -> Response:
        return self.ask(  # type: ignore[arg-type]
            method, path, **({"door": LOCAL_DOOR, "peer": "127.0.0.1", "host": "localhost"} | more)
        )

    def code(self, role: Role = Role.FIELD, person: str = PERSON) -> str:
        self.pairing.add(person, f"Ina {person[-1]}", role)
        return self.pairing.make_code(person)

    def pair(self, code: str, **more: object) -> Response:
        return self.ask(  # type: ignore[arg-type]
            "POST", "/pair", data={"code": code, "label": "Red phone"}, **more
        )

    def token(self, role: Role = Role.FIELD, person: str = PERSON) -> str:
        return cookie_of(self.pair(self.code(role, person)))

    def token_again(self, person: str) -> str:
        return cookie_of(self.pair(self.pairing.make_code(person)))


def cookie_of(answer: Response) -> str:
    return answer.headers["set-cookie"].partition("=")[2].partition(";")[0]


@pytest.fixture
def shop(tmp_path: Path, handbook: Handbook) -> Iterator[Shop]:
    store = Store.open(tmp_path, outline)
    authority = open_authority(tmp_path, (LAN,), datetime.now(UTC))
    reach = Reach(f"https://{LAN}:8443/", f"http://{LAN}:8080/trust", authority)
    app = create_app(store, handbook, DEVICE, reach=reach, keeping=keeping_in(store.root))
    pairing: Pairing = app.state.pairing
    made = Shop(app, pairing, tmp_path)
    clock = pairing._now_ms
    pairing._now_ms = lambda: clock() + made.skipped_ms
    yield made
    store.close()


# This machine


@pytest.mark.parametrize("host", ["localhost", "localhost:8137", "127.0.0.1", "[::1]:8137"])
@pytest.mark.parametrize("peer", ["127.0.0.1", "::1", "::ffff:127.0.0.1"])
def test_on_this_machine_nobody_is_asked(shop: Shop, host: str, peer: str) -> None:
    for path in ("/", "/office", "/office/people"):
        assert shop.owner("GET", path, host=host, peer=peer).status_code == 200


@pytest.mark.parametrize(
    "host",
    [
        "evil.example",
        "evil.example:8137",
        "localhost.evil.example",
        "127.0.0.1.evil.example",
        "127.0.0.2",
        "localhost:x",
        "localhost@evil.example",
        "[::1",
        "[::1]evil",
        LAN,
        "",
    ],
)
def test_a_name_of_another_site_that_leads_here_is_not_answered(shop: Shop, host: str) -> None:
    """DNS rebinding: the peer is this machine's browser, the page is someone else's."""
    for path in ("/", "/office", "/static/js/page.js", "/pair", "/health", "/api/sync"):
        answer = shop.owner("GET", path, host=host)
        assert answer.status_code == 421
        assert "evil" not in answer.text
        assert answer.headers["x-content-type-options"] == "nosniff"


def status_of(shop: Shop, *headers: tuple[bytes, bytes], http_version: str = "1.1") -> int:
    """Of a request for the office from this machine, with exactly these headers."""
    messages: list[dict[str, object]] = []

    async def ask() -> None:
        async def receive() -> dict[str, object]:
            return {"type": "http.request", "body": b"", "more_body": False}

        async def send(message: dict[str, object]) -> None:
            messages.append(message)

        scope = {
            "type": "http",
            "asgi": {"version": "3.0"},
            "http_version": http_version,
            "method": "GET",
            "scheme": "http",
            "path": "/office",
            "raw_path": b"/office",
            "query_string": b"",
            "root_path": "",
            "headers": list(headers),
            "client": ("127.0.0.1", 1),
            "server": ("127.0.0.1", 8137),
        }
        await shop.app(scope, receive, send)  # type: ignore[arg-type]

    asyncio.run(ask())
    status = messages[0]["status"]
    assert isinstance(status, int)
    return status


def test_two_host_headers_are_not_answered(shop: Shop) -> None:
    assert status_of(shop, (b"host", b"localhost"), (b"host", b"evil.example")) == 421


def test_a_proxy_that_says_nothing_of_itself_is_not_the_owner(shop: Shop) -> None:
    """A common proxy, told no more than where to send, speaks HTTP/1.0 and names `localhost`."""
    assert status_of(shop, (b"host", b"localhost:8137")) == 200
    assert status_of(shop, (b"host", b"localhost:8137"), http_version="1.0") == 421


@pytest.mark.parametrize("peer", [PHONE, "10.0.0.2", "fe80::1", "", "localhost"])
def test_another_machine_that_calls_this_one_localhost_is_not_the_owner(
    shop: Shop, peer: str
) -> None:
    for door in (LOCAL_DOOR, TLS_DOOR, PLAIN_DOOR):
        answer = shop.ask("GET", "/office", door=door, peer=peer, host="localhost")
        assert answer.status_code == 421


@pytest.mark.parametrize(
    "header", ["X-Forwarded-For", "X-Forwarded-Host", "X-Forwarded-Proto", "Forwarded", "Via"]
)
def test_what_a_proxy_nobody_configured_passes_on_is_not_the_owner(shop: Shop, header: str) -> None:
    answer = shop.owner("GET", "/office", headers={header: "127.0.0.1"})
    assert answer.status_code == 421


def test_an_application_without_any_door_admits_only_this_machine(shop: Shop) -> None:
    async def ask(peer: str) -> int:
        transport = ASGITransport(shop.app, client=(peer, 1))
        async with AsyncClient(transport=transport, base_url="http://localhost") as client:
            return (await client.get("/office")).status_code

    assert asyncio.run(ask("127.0.0.1")) == 200
    assert asyncio.run(ask(PHONE)) == 421


# Strangers

SHUT = ("/", "/office", "/office/people", "/s/x", "/sw.js", "/static/js/page.js", "/health")
SHUT += (
    "/device",
    "/nowhere",
    "/static/icons/%2e%2e/js/page.js",
    "/start",
    "/static/icons",
    "/pair/x",
)
SHUT += ("/static/icons", "/pair/x", "//pair", "/office/%2e%2e/pair", "/trust/%2e%2e/office")


@pytest.mark.parametrize("path", SHUT)
def test_without_pairing_there_is_the_page_to_pair_and_nothing_else(shop: Shop, path: str) -> None:
    answer = shop.ask("GET", path)
    assert answer.status_code == 401
    assert "Pair this device" in answer.text
    assert "No open session" not in answer.text
    assert answer.headers["strict-transport-security"].startswith("max-age=")


def test_without_pairing_nothing_is_taken_either(shop: Shop) -> None:
    for path in ("/start", "/s/x/form/job", "/office/people/add", "/sign-out", "/trust"):
        assert shop.ask("POST", path, data={"eid": "x"}).status_code in (401, 405)
    assert shop.pairing.roll().people == {}
    for method in ("PUT", "DELETE", "OPTIONS", "PATCH"):
        assert shop.ask(method, "/office").status_code == 401


def test_a_program_gets_401_and_a_sentence(shop: Shop) -> None:
    answer = shop.ask("POST", "/api/sync", content=b"{}")
    assert answer.status_code == 401
    assert "not paired" in answer.json()["error"]


def test_what_the_page_to_pair_needs_is_there(shop: Shop) -> None:
    page = shop.ask("GET", "/pair?code=ABCDE-12345")
    assert page.status_code == 200
    assert Reader(page.text).forms[0].values["code"] == "ABCDE-12345"
    for path in ("/static/css/lowside.css", "/static/icons/lowside.svg", "/manifest.webmanifest"):
        assert shop.ask("GET", path).status_code == 200


def test_before_the_first_use_the_page_says_storage_belongs_to_the_address(shop: Shop) -> None:
    for answer in (
        shop.ask("GET", "/pair"),
        shop.ask("GET", "/trust"),
        shop.owner("GET", "/office/people"),
    ):
        assert "Choose the address first." in answer.text


# Pairing


def test_a_code_lets_a_device_in_for_long_and_only_by_a_safe_cookie(shop: Shop) -> None:
    answer = shop.pair(shop.code())
    assert answer.status_code == 303
    cookie = answer.headers["set-cookie"]
    for word in ("__Host-", "Secure", "HttpOnly", "SameSite=Lax", "Path=/", "Max-Age=34560000"):
        assert word in cookie
    assert "Domain" not in cookie
    assert shop.ask("GET", "/", cookie=cookie_of(answer)).status_code == 200


@pytest.mark.parametrize("change", [str.lower, lambda c: c.replace("-", " "), lambda c: f" {c} "])
def test_a_code_may_be_typed_as_people_type(shop: Shop, change: object) -> None:
    assert callable(change)
    assert shop.pair(change(shop.code())).status_code == 303


def test_opening_the_link_of_a_code_does_not_use_it_up(shop: Shop) -> None:
    code = shop.code()
    for _ in range(3):
        assert shop.ask("GET", f"/pair?code={code}").status_code == 200
    assert shop.pair(code).status_code == 303


def test_a_code_works_once(shop: Shop) -> None:
    code = shop.code()
    assert shop.pair(code).status_code == 303
    again = shop.pair(code)
    assert again.status_code == 422
    assert "set-cookie" not in again.headers


def test_a_code_sent_many_times_at_once_works_once(shop: Shop) -> None:
    code = shop.code()
    with ThreadPoolExecutor(5) as pool:
        answers = list(pool.map(lambda _: shop.pair(code).status_code, range(TRIES_A_CODE)))
    assert sorted(answers) == [303, 422, 422, 422, 422]
    assert len(shop.pairing.roll().devices) == 1


def test_a_code_lives_ten_minutes(shop: Shop) -> None:
    code, late = shop.code(), shop.code(person=PERSON[:-1] + "2")
    shop.skipped_ms += CODE_LIVES_MS - 1000
    assert shop.pair(code).status_code == 303
    shop.skipped_ms += 1000
    assert shop.pair(late).status_code == 422


def test_a_code_of_someone_removed_is_worth_nothing(shop: Shop) -> None:
    code = shop.code()
    shop.pairing.remove(PERSON)
    assert shop.pair(code).status_code == 422


def test_every_bad_code_gets_the_same_sentence(shop: Shop) -> None:
    used, old = shop.code(), shop.code(person=PERSON[:-1] + "2")
    shop.pair(used)
    shop.skipped_ms += CODE_LIVES_MS
    fresh = shop.code(person=PERSON[:-1] + "3")
    wrong = fresh[:-1] + ("0" if fresh[-1] != "0" else "1")
    sentences = {Reader(shop.pair(bad).text).text[-1] for bad in (used, old, wrong, "", "ZZ")}
    texts = {
        shop.pair(bad, peer="192.168.1.51").text.replace(bad, "") for bad in (used, old, wrong)
    }
    assert len(sentences) == 1
    assert len(texts) == 1


def test_a_code_is_burnt_after_five_tries_from_anywhere(shop: Shop) -> None:
    code = shop.code()
    for n in range(TRIES_A_CODE):
        guess = code[:3] + f"00-0000{n}"
        assert shop.pair(guess, peer=f"192.168.1.{60 + n}").status_code == 422
    assert shop.pair(code).status_code == 422
    assert Pairing(shop.data, lambda: 0).roll().codes[code[:3]].spent, (
        "and stays so after a restart"
    )


def test_guessing_from_one_address_is_stopped_and_others_still_pair(shop: Shop) -> None:
    answers = [shop.pair(f"{n:05d}-00000").status_code for n in range(12)]
    assert answers == [422] * 10 + [429] * 2
    code = shop.code()
    refused = shop.pair(code)
    assert refused.status_code == 429
    assert refused.headers["retry-after"] == "600"
    assert shop.pair(code, peer="192.168.1.77").status_code == 303


def test_guessing_from_many_addresses_is_stopped_until_time_passes(shop: Shop) -> None:
    answers = [shop.pair(f"{n:05d}-00000", peer=f"10.1.{n}.1").status_code for n in range(45)]
    assert answers == [422] * 40 + [429] * 5
    assert shop.pair(shop.code(), peer="10.2.0.1").status_code == 429
    shop.skipped_ms += CODE_LIVES_MS
    assert shop.pair(shop.code(person=PERSON[:-1] + "2"), peer="10.2.0.1").status_code == 303


def test_guessing_from_many_threads_does_not_slip_past_the_count(shop: Shop) -> None:
    with ThreadPoolExecutor(8) as pool:
        answers = list(pool.map(lambda n: shop.pair(f"{n:05d}-00000").status_code, range(24)))
    assert answers.count(422) == 10


def test_a_device_is_not_paired_over_plain_http(shop: Shop) -> None:
    code = shop.code()
    for answer in (
        shop.pair(code, door=PLAIN_DOOR),
        shop.pair(code, door=LOCAL_DOOR, peer="127.0.0.1", host="localhost"),
    ):
        assert answer.status_code == 403
        assert "set-cookie" not in answer.headers
    assert shop.pair(code).status_code == 303


def test_pairing_anew_shuts_the_device_s_old_token_out(shop: Shop) -> None:
    old = shop.token()
    new = cookie_of(shop.pair(shop.pairing.make_code(PERSON), cookie=old))
    assert shop.ask("GET", "/", cookie=old).status_code == 401
    assert shop.ask("GET", "/", cookie=new).status_code == 200


# Tokens


def forgeries(token: str, other: str) -> list[str]:
    device, issued, secret, signature = token.split(".")
    theirs = other.split(".")
    return [
        "",
        "x",
        "...",
        f"{device}.{issued}.{secret}",
        f"{device}.{issued}.{secret}.",
        f"{device}.{int(issued) + 1}.{secret}.{signature}",
        f"{theirs[0]}.{issued}.{secret}.{signature}",
        f"{device}.{issued}.{theirs[2]}.{signature}",
        f"{device}.{issued}.{secret}.{theirs[3]}",
        f"{device}.{issued}.{secret}.{signature[:-1]}{'A' if signature[-1] != 'A' else 'B'}",
        token + "A",
        token * 10,
        "A" * 5000,
    ]


def test_a_forged_cookie_lets_nobody_in(shop: Shop) -> None:
    token, other = shop.token(), shop.token(Role.OFFICE, PERSON[:-1] + "2")
    for forged in forgeries(token, other):
        assert shop.ask("GET", "/", cookie=forged).status_code == 401, forged
    assert shop.ask("GET", "/", cookie=token).status_code == 200


def test_a_token_of_another_server_lets_nobody_in(shop: Shop, tmp_path: Path) -> None:
    elsewhere = Pairing(tmp_path / "elsewhere", lambda: 1_800_000_000_000)
    elsewhere.add(PERSON, "Ina", Role.OFFICE)
    token = elsewhere.pair(elsewhere.make_code(PERSON), "x", "y")
    assert elsewhere.holder(token) is not None
    shop.token()
    assert shop.ask("GET", "/", cookie=token).status_code == 401


def test_a_signature_alone_is_not_enough(shop: Shop) -> None:
    """As if the key had leaked and not the log, or the log had been put back to an older copy."""
    token = shop.token()
    device, issued, _, _ = token.split(".")
    forged = _signed(shop.pairing._key(), device, int(issued), "x" * 43)
    assert shop.ask("GET", "/", cookie=forged).status_code == 401


def test_neither_token_nor_code_is_kept(shop: Shop) -> None:
    code = shop.code()
    token = cookie_of(shop.pair(code))
    kept = b"".join(path.read_bytes() for path in shop.data.rglob("*") if path.is_file())
    assert token.split(".")[2].encode() not in kept
    assert token.split(".")[3].encode() not in kept
    assert code.encode() not in kept
    assert code.replace("-", "").encode() not in kept
    assert token.split(".")[0].encode() in kept


def test_what_is_kept_is_for_this_user_alone(shop: Shop) -> None:
    shop.token()
    for name in ("people.jsonl", "access.key", "people.lock"):
        assert (shop.data / name).stat().st_mode & 0o077 == 0


def test_a_lost_phone_is_shut_out_at_once(shop: Shop) -> None:
    token = shop.token()
    device = next(iter(shop.pairing.roll().devices))
    assert shop.owner("POST", "/office/people/revoke", data={"device": device}).status_code == 303
    assert shop.ask("GET", "/", cookie=token).status_code == 401
    assert shop.ask("POST", "/api/sync", cookie=token, content=b"{}").status_code == 401


def test_a_phone_shut_out_by_another_process_is_shut_out_at_once(shop: Shop) -> None:
    token = shop.token()
    assert shop.ask("GET", "/", cookie=token).status_code == 200
    beside = Pairing(shop.data, lambda: 0)
    beside.revoke(next(iter(beside.roll().devices)), "revoked")
    assert shop.ask("GET", "/", cookie=token).status_code == 401


def test_all_devices_of_someone_removed_are_shut_out(shop: Shop) -> None:
    token = shop.token()
    assert shop.owner("POST", "/office/people/remove", data={"person": PERSON}).status_code == 303
    assert shop.ask("GET", "/", cookie=token).status_code == 401


def test_a_token_in_use_is_renewed_and_one_left_lying_runs_out(shop: Shop) -> None:
    token = shop.token()
    assert "set-cookie" not in shop.ask("GET", "/", cookie=token).headers
    shop.skipped_ms += TOKEN_RENEWED_AFTER_MS
    renewed = cookie_of(shop.ask("GET", "/", cookie=token))
    assert renewed != token
    shop.skipped_ms += TOKEN_LIVES_MS - TOKEN_RENEWED_AFTER_MS + 60_000
    assert shop.ask("GET", "/", cookie=token).status_code == 401
    assert shop.ask("GET", "/", cookie=renewed).status_code == 200
    device = next(iter(shop.pairing.roll().devices))
    shop.pairing.revoke(device, "lost")
    assert shop.ask("GET", "/", cookie=renewed).status_code == 401


def test_signing_out_shuts_out_and_deletes_nothing_on_the_phone(shop: Shop) -> None:
    token = shop.token()
    answer = shop.ask("POST", "/sign-out", cookie=token)
    assert answer.status_code == 200
    assert "Nothing on it was deleted" in answer.text
    assert "clear-site-data" not in answer.headers
    assert "Max-Age=0" in answer.headers["set-cookie"]
    assert "<script" not in answer.text
    assert shop.ask("GET", "/", cookie=token).status_code == 401
    assert shop.ask(
        "GET", "/sign-out", cookie=shop.token(person=PERSON[:-1] + "2")
    ).status_code in (
        404,
        405,
    )


# Roles


@pytest.mark.parametrize(
    ("role", "path", "may"),
    [
        *((role, path, True) for role in Role for path in ("/", "/s/x", "/api/sync", "/sw.js")),
        *((role, "/device", True) for role in Role),
        *((role, path, True) for role in Role for path in ("/practice", "/practice/unit")),
        (Role.OFFICE, "/office/people", True),
        *(
            (role, path, False)
            for role in (Role.FIELD, Role.APPRENTICE)
            for path in (
                "/office",
                "/office/people",
                "/office/session/x",
                "/s/../office",
                "//office",
                "/s//office",
                "/static/../office",
                "/s\\office",
                "/anything-new",
                "/practice-books",
                "/api/other",
                "/office/people/add",
            )
        ),
    ],
)
def test_a_role_opens_what_it_should(role: Role, path: str, may: bool) -> None:
    assert may_open(role, path) is may


@pytest.mark.parametrize("role", [Role.FIELD, Role.APPRENTICE])
def test_every_link_of_home_opens_but_the_one_marked_as_the_office_s(
    shop: Shop, role: Role
) -> None:
    token = shop.token(role)
    links = set(Reader(shop.ask("GET", "/", cookie=token).text).links)
    assert {"/practice", "/device", "/office"} <= links
    closed = [p for p in links if shop.ask("GET", p, cookie=token).status_code != 200]
    assert closed == ["/office"]


@pytest.mark.parametrize("role", [Role.FIELD, Role.APPRENTICE])
def test_field_devices_open_no_office_page(shop: Shop, role: Role) -> None:
    token = shop.token(role)
    assert shop.ask("GET", "/", cookie=token).status_code == 200
    for path in ("/office", "/office/people", "/office/cylinders", "/office/%2e%2e/office"):
        answer = shop.ask("GET", path, cookie=token)
        assert answer.status_code == 403
        assert "not for devices" in answer.text


def test_nobody_raises_their_own_role(shop: Shop) -> None:
    token = shop.token(Role.FIELD)
    for headers in ({}, {"X-Role": "office"}, {"X-Forwarded-For": "127.0.0.1"}):
        for path, typed in (
            ("/office/people/role", {"person": PERSON, "role": "office"}),
            ("/office/people/code", {"person": PERSON}),
            ("/office/people/add", {"person": "x", "name": "Me", "role": "office"}),
        ):
            answer = shop.ask("POST", path, cookie=token, data=typed, headers=headers)
            assert answer.status_code == 403
    assert [person.role for person in shop.pairing.roll().people.values()] == [Role.FIELD]
    assert len(shop.pairing.roll().codes) == 1


def test_a_changed_role_holds_from_the_next_request(shop: Shop) -> None:
    token = shop.token(Role.OFFICE)
    assert shop.ask("GET", "/office", cookie=token).status_code == 200
    typed = {"person": PERSON, "role": "field"}
    assert shop.owner("POST", "/office/people/role", data=typed).status_code == 303
    assert shop.ask("GET", "/office", cookie=token).status_code == 403


def test_an_office_device_shuts_phones_out_but_lets_nobody_in(shop: Shop) -> None:
    office, lost = shop.token(Role.OFFICE), shop.token(person=PERSON[:-1] + "2")
    for path, typed in (
        ("/office/people/code", {"person": PERSON}),
        ("/office/people/add", {"person": "x", "name": "New", "role": "office"}),
        ("/office/people/role", {"person": PERSON[:-1] + "2", "role": "office"}),
    ):
        assert shop.ask("POST", path, cookie=office, data=typed).status_code == 403
    device = lost.split(".")[0]
    answer = shop.ask("POST", "/office/people/revoke", cookie=office, data={"device": device})
    assert answer.status_code == 303
    assert shop.ask("GET", "/", cookie=lost).status_code == 401
    assert "revoked by Ina 1" in shop.owner("GET", "/office/people").text


# Other sites and proxies


@pytest.mark.parametrize(
    "headers",
    [
        {"Origin": "https://evil.example"},
        {"Origin": f"http://{LAN}"},
        {"Origin": f"https://{LAN}:9999"},
        {"Origin": "null"},
        {"Sec-Fetch-Site": "cross-site"},
        {"Sec-Fetch-Site": "same-site", "Origin": f"https://{LAN}"},
    ],
)
def test_a_form_of_another_site_changes_nothing(shop: Shop, headers: dict[str, str]) -> None:
    token, code = shop.token(), shop.pairing.make_code(PERSON)
    assert shop.ask("POST", "/sign-out", cookie=token, headers=headers).status_code == 403
    assert shop.pair(code, headers=headers).status_code == 403
    assert shop.ask("GET", "/", cookie=token).status_code == 200
    own = {"Origin": f"https://{LAN}", "Sec-Fetch-Site": "same-origin"}
    assert shop.ask("POST", "/sign-out", cookie=token, headers=own).status_code == 200


def test_a_site_on_another_port_of_this_machine_is_another_site(shop: Shop) -> None:
    typed = {"person": "x", "name": "Me", "role": "office"}
    for origin in ("http://localhost:3000", "http://127.0.0.1:8137"):
        headers = {"Origin": origin}
        answer = shop.owner(
            "POST", "/office/people/add", data=typed, headers=headers, host="localhost:8137"
        )
        assert answer.status_code == 403
    assert shop.pairing.roll().people == {}


def test_behind_a_proxy_pages_forms_and_pairing_work(shop: Shop) -> None:
    own = {"door": PROXY_DOOR, "peer": "10.0.0.2"}
    headers = PROXIED | {"Origin": f"https://{LAN}", "Sec-Fetch-Site": "same-origin"}
    answer = shop.pair(shop.code(), headers=headers, **own)
    assert answer.status_code == 303
    assert answer.headers["strict-transport-security"]
    token = cookie_of(answer)
    page = shop.ask("GET", "/", cookie=token, headers=PROXIED, **own)  # type: ignore[arg-type]
    assert page.status_code == 200
    foreign = PROXIED | {"Origin": f"http://{LAN}"}
    refused = shop.ask("POST", "/sign-out", cookie=token, headers=foreign, **own)  # type: ignore[arg-type]
    assert refused.status_code == 403


@pytest.mark.parametrize(
    ("peer", "host", "headers", "status"),
    [
        ("10.0.0.3", LAN, PROXIED, 403),
        ("127.0.0.1", "localhost", PROXIED, 403),
        ("10.0.0.2", LAN, {}, 403),
        ("10.0.0.2", LAN, {"X-Forwarded-Proto": "http"}, 403),
        ("10.0.0.2", LAN, {"X-Forwarded-Proto": "https, http"}, 403),
        ("10.0.0.2", "localhost", PROXIED, 421),
        ("10.0.0.2", "127.0.0.1:8139", PROXIED, 421),
        ("10.0.0.2", LAN, PROXIED | {"X-Forwarded-For": "127.0.0.1"}, 401),
        ("10.0.0.2", LAN, PROXIED | {"X-Forwarded-Host": "localhost"}, 401),
    ],
)
def test_nothing_a_proxy_passes_on_makes_an_owner(
    shop: Shop, peer: str, host: str, headers: dict[str, str], status: int
) -> None:
    answer = shop.ask("GET", "/office", door=PROXY_DOOR, peer=peer, host=host, headers=headers)
    assert answer.status_code == status


def test_behind_a_proxy_wrong_codes_count_for_the_phone_the_proxy_saw(shop: Shop) -> None:
    def guess(n: int, claimed: str, seen: str) -> int:
        headers = {"X-Forwarded-Proto": "https", "X-Forwarded-For": f"{claimed}, {seen}"}
        own = {"door": PROXY_DOOR, "peer": "10.0.0.2", "headers": headers}
        return shop.pair(f"{n:05d}-00000", **own).status_code

    assert [guess(n, f"10.9.9.{n}", "203.0.113.5") for n in range(12)] == [422] * 10 + [429] * 2
    assert guess(99, "203.0.113.5", "203.0.113.6") == 422


def test_forwarded_words_at_a_door_without_a_proxy_change_nothing(shop: Shop) -> None:
    """Else one phone would be many to the count of wrong codes."""
    answers = [
        shop.pair(f"{n:05d}-00000", headers={"X-Forwarded-For": f"10.0.0.{n}"}).status_code
        for n in range(12)
    ]
    assert answers == [422] * 10 + [429] * 2


@pytest.mark.parametrize("host", ["evil.example", "localhost", "192.168.1.21", ""])
def test_on_the_network_only_the_chosen_names_are_answered(shop: Shop, host: str) -> None:
    token = shop.token()
    for path in ("/", "/pair", "/trust"):
        assert shop.ask("GET", path, host=host, cookie=token).status_code == 421
    assert shop.ask("GET", "/trust", host=host, door=PLAIN_DOOR).status_code == 421
    for good in (LAN, "192.168.1.20:8443", LAN.upper()):
        assert shop.ask("GET", "/", host=good, cookie=token).status_code == 200


# Plain http


def test_plain_http_tells_why_offline_does_not_work_there_and_nothing_else(shop: Shop) -> None:
    page = shop.ask("GET", "/trust", door=PLAIN_DOOR)
    assert page.status_code == 200
    assert "This is plain http: offline will not work here." in page.text
    assert "certificate it trusts" in page.text
    assert shop.app.state.reach.authority.fingerprint in page.text
    assert f"https://{LAN}:8443/" in page.text
    assert "strict-transport-security" not in page.headers
    token = shop.token()
    for path in ("/", "/pair", "/office", "/sw.js", "/static/js/page.js", "/health", "/trust/x"):
        answer = shop.ask("GET", path, door=PLAIN_DOOR, cookie=token)
        assert answer.status_code == 303
        assert answer.headers["location"] == "/trust"
    assert shop.ask("POST", "/api/sync", door=PLAIN_DOOR, cookie=token).status_code == 403


def test_the_trust_page_over_https_does_not_claim_to_be_plain(shop: Shop) -> None:
    page = shop.ask("GET", "/trust")
    assert page.status_code == 200
    assert "plain http: offline" not in page.text
    for words in ("iPhone", "Certificate Trust Settings", "Android", "CA certificate", "<svg"):
        assert words in page.text


def test_the_certificate_comes_as_phones_install_it(shop: Shop) -> None:
    answer = shop.ask("GET", access.CERTIFICATE, door=PLAIN_DOOR)
    assert answer.status_code == 200
    assert answer.headers["content-type"] == "application/x-x509-ca-cert"
    assert answer.content == shop.app.state.reach.authority.for_phones()


def test_hsts_is_never_sent_over_plain_http(shop: Shop) -> None:
    assert "strict-transport-security" not in shop.owner("GET", "/").headers


# Sizes


def test_a_body_beyond_a_megabyte_is_refused_with_a_page(shop: Shop) -> None:
    token = shop.token()
    answer = shop.ask("POST", "/start", cookie=token, content=b"x" * 1_000_001)
    assert answer.status_code == 413
    assert "Too large" in answer.text
    assert answer.headers["x-content-type-options"] == "nosniff"
    assert shop.owner("POST", "/start", content=b"x" * 1_000_001).status_code == 413


def test_a_body_that_does_not_say_its_length_is_cut_off_too(shop: Shop) -> None:
    taken = 0

    async def endless() -> object:
        nonlocal taken
        while True:
            taken += 65_536
            yield b"x" * 65_536

    async def ask() -> int:
        transport = ASGITransport(Doorway(shop.app, LOCAL_DOOR), client=("127.0.0.1", 1))
        async with AsyncClient(transport=transport, base_url="http://localhost") as client:
            return (await client.post("/start", content=endless())).status_code  # type: ignore[arg-type]

    assert asyncio.run(ask()) == 413
    assert taken < 1_300_000


def test_strangers_may_send_only_a_code(shop: Shop) -> None:
    assert shop.ask("POST", "/pair", content=b"x" * 4_097).status_code == 413


@pytest.mark.parametrize("length", ["-1", "1e3", "9" * 400, "x", ""])
def test_a_length_that_is_none_is_refused(shop: Shop, length: str) -> None:
    answer = shop.owner("POST", "/start", headers={"Content-Length": length}, content=b"a=b")
    assert answer.status_code == 413


def test_a_body_cut_off_in_the_middle_is_not_read_as_a_whole_one(shop: Shop) -> None:
    shop.code()
    messages: list[object] = []
    parts = iter(
        [
            {"type": "http.request", "body": f"person={PERSON}".encode(), "more_body": True},
            {"type": "http.disconnect"},
        ]
    )

    async def ask() -> None:
        async def receive() -> object:
            return next(parts)

        async def send(message: object) -> None:
            messages.append(message)

        scope = {
            "type": "http",
            "asgi": {"version": "3.0"},
            "http_version": "1.1",
            "method": "POST",
            "scheme": "http",
            "path": "/office/people/remove",
            "raw_path": b"/office/people/remove",
            "query_string": b"",
            "root_path": "",
            "headers": [
                (b"host", b"localhost"),
                (b"content-type", b"application/x-www-form-urlencoded"),
            ],
            "client": ("127.0.0.1", 1),
            "server": ("127.0.0.1", 8137),
        }
        gate = access.Gate(shop.app.router, shop.pairing, Terminal(), access.Held())
        await gate(scope, receive, send)  # type: ignore[arg-type]

    asyncio.run(ask())
    assert [message["status"] for message in messages if "status" in message] == [400]
    assert not shop.pairing.roll().people[PERSON].removed


def test_a_phone_may_hand_over_more_at_once_than_a_form(shop: Shop) -> None:
    token = shop.token()
    body = b'{"v": 1, "dev": "D", "cursor": "", "events": [' + b" " * 2_000_000 + b"]}"
    assert shop.ask("POST", "/api/sync", cookie=token, content=body).status_code == 200


# The office page


def test_the_owner_adds_someone_and_pairs_their_phone(shop: Shop) -> None:
    form = next(f for f in Reader(shop.owner("GET", "/office/people").text).forms if f.id == "add")
    typed = form.values | {"name": "Ina Varga", "role": "apprentice"}
    for _ in range(2):
        assert shop.owner("POST", form.action, data=typed).status_code == 303
    people = list(shop.pairing.roll().people.values())
    assert [(person.name, person.role) for person in people] == [("Ina Varga", Role.APPRENTICE)]
    page = Reader(shop.owner("GET", "/office/people").text)
    pair = next(f for f in page.forms if f.action == "/office/people/code")
    shown = shop.owner("POST", pair.action, data=pair.values)
    assert shown.status_code == 200
    assert "<svg" in shown.text
    assert f"http://{LAN}:8080/trust" in shown.text
    code = shown.text.partition('pairing-code"><b>')[2].partition("<")[0]
    assert shop.pair(code).status_code == 303
    listed = shop.owner("GET", "/office/people").text
    assert "Red phone" in listed
    assert code not in listed


@pytest.mark.parametrize(
    "typed",
    [
        {"name": "", "role": "field"},
        {"name": "x" * 81, "role": "field"},
        {"name": "a\u202eb", "role": "field"},
        {"name": "Ina", "role": "owner"},
        {"name": "Ina"},
    ],
)
def test_what_is_no_person_is_refused_and_said(shop: Shop, typed: dict[str, str]) -> None:
    answer = shop.owner("POST", "/office/people/add", data=typed | {"person": PERSON})
    assert answer.status_code == 422
    assert 'role="alert"' in answer.text
    assert shop.pairing.roll().people == {}


def test_a_name_is_text_wherever_it_is_shown(shop: Shop) -> None:
    shop.pairing.add(PERSON, "<script>alert(1)</script>", Role.FIELD)
    code = shop.pairing.make_code(PERSON)
    answer = shop.ask("POST", "/pair", data={"code": code, "label": "<img src=x>"})
    token = cookie_of(answer)
    for page in (
        shop.owner("GET", "/office/people"),
        shop.ask("GET", "/device", cookie=token),
        shop.ask("POST", "/sign-out", cookie=token),
    ):
        assert "<script>alert" not in page.text
        assert "<img" not in page.text


# The log


def test_a_torn_end_is_set_aside_and_the_rest_holds(shop: Shop) -> None:
    token = shop.token()
    path = shop.data / "people.jsonl"
    whole = path.read_bytes()
    path.write_bytes(whole + b'{"event":{"kind":"device.rev')
    assert shop.ask("GET", "/", cookie=token).status_code == 200
    shop.pairing.make_code(PERSON)
    assert path.read_bytes().startswith(whole)
    assert path.read_bytes().count(b"\n") == whole.count(b"\n") + 1
    assert b"device.rev" in (shop.data / "people.jsonl.torn").read_bytes()


def test_a_damaged_line_lets_nobody_in_because_it_may_be_a_revocation(shop: Shop) -> None:
    token = shop.token()
    shop.pairing.revoke(token.split(".")[0], "lost")
    path = shop.data / "people.jsonl"
    path.write_bytes(path.read_bytes().replace(b"device.revoked", b"device.revokes"))
    answer = shop.ask("GET", "/", cookie=token)
    assert answer.status_code == 503
    assert "no device can sign in" in answer.text
    assert str(shop.data) not in answer.text
    stranger = shop.pair("7F3KQM2XW9")
    assert stranger.status_code == 503
    assert str(shop.data) not in stranger.text
    assert shop.owner("GET", "/").status_code == 200
    people = shop.owner("GET", "/office/people")
    assert people.status_code == 503
    assert str(shop.data) in people.text


def test_lines_are_only_ever_added(shop: Shop) -> None:
    path = shop.data / "people.jsonl"
    token = shop.token()
    before = path.read_bytes()
    shop.pairing.set_role(PERSON, Role.OFFICE)
    shop.pairing.revoke(token.split(".")[0], "lost")
    shop.pairing.revoke(token.split(".")[0], "lost again")
    shop.pairing.remove(PERSON)
    assert path.read_bytes().startswith(before)
    kinds = [json.loads(line)["event"]["kind"] for line in path.read_bytes().splitlines()]
    assert kinds == [
        "person.added",
        "code.made",
        "device.paired",
        "person.role_set",
        "device.revoked",
        "person.removed",
    ]


def test_a_role_of_a_newer_version_opens_nothing(shop: Shop) -> None:
    token = shop.token(Role.OFFICE)
    PeopleLog(shop.data).write(
        lambda _: [{"kind": "person.role_set", "at": 1, "person": PERSON, "role": "auditor"}]
    )
    assert shop.ask("GET", "/", cookie=token).status_code == 401


def test_two_processes_write_without_losing_a_line(shop: Shop) -> None:
    beside = Pairing(shop.data, lambda: 0)

    def add(n: int) -> None:
        (beside if n % 2 else shop.pairing).add(f"P{n}", f"Person {n}", Role.FIELD)

    with ThreadPoolExecutor(4) as pool:
        list(pool.map(add, range(20)))
    assert len(shop.pairing.roll().people) == len(beside.roll().people) == 20


def test_a_disk_that_confirms_nothing_is_said_and_nothing_counts_as_done(
    shop: Shop, monkeypatch: pytest.MonkeyPatch
) -> None:
    def unsure(*_: object) -> None:
        raise UnsureError(5, "Input/output error")

    shop.pairing.add(PERSON, "Ina", Role.FIELD)
    monkeypatch.setattr("lowside.web.access.people.durable.append", unsure)
    with pytest.raises(PeopleError, match="Input/output"):
        shop.pairing.make_code(PERSON)
    monkeypatch.undo()
    with pytest.raises(PeopleError, match="until you restart Lowside"):
        shop.pairing.make_code(PERSON)
    assert shop.pairing.roll().codes == {}


def test_a_key_that_others_may_read_signs_nothing(
    shop: Shop, capsys: pytest.CaptureFixture[str]
) -> None:
    token = shop.token()
    (shop.data / "access.key").chmod(0o644)
    fresh = Pairing(shop.data, shop.pairing._now_ms)
    answer = shop.ask("GET", "/", cookie=token)
    assert answer.status_code == 503
    # Where the server keeps its keys is for whoever sits at it.
    assert "chmod 600" not in answer.text
    assert str(shop.data) not in answer.text
    shop.ask("GET", "/", cookie=token)
    assert capsys.readouterr().err.count("chmod 600") == 1
    with pytest.raises(Exception, match="chmod 600"):
        fresh.holder(token)
