"""What a server does not take stays on the phone, is said, and holds up nothing else."""

from typing import TYPE_CHECKING

import pytest
from photo_cases import from_a_camera
from playwright.sync_api import expect
from pocket_phone import PocketPhone, notes_of
from rough_link import RoughLink
from test_offline import DAY_MS, again, empty_store, move_clock, stored
from test_photo_without_signal import PUT_A_STRANGER, attach

if TYPE_CHECKING:
    from conftest import NewPhone, StartServer


def ready(new_phone: "NewPhone", url: str) -> tuple[PocketPhone, str]:
    """A phone ready for offline, and its session, which the server has."""
    phone = new_phone(url)
    phone.open_ready()
    sid = phone.begin()
    phone.until_sent()
    return phone, sid


def refused(phone: PocketPhone) -> list[bool]:
    return [mark["refused"] != "" for mark in phone.stored("unsent")]


def copies(phone: PocketPhone) -> int:
    count = "async () => (await (await caches.open('unsent')).keys()).length"
    return int(phone.page.evaluate(count))


def test_a_session_written_with_a_date_far_ahead_holds_up_no_other(
    start_server: "StartServer", new_phone: "NewPhone"
) -> None:
    server = start_server(offline=True)
    phone, ahead = ready(new_phone, server.url)
    move_clock(phone, 365 * DAY_MS)
    phone.note(ahead, 1)
    move_clock(phone, 0)
    phone.note(ahead, 2)
    other = phone.begin()
    phone.note(other, 3)
    phone.until(lambda: refused(phone) == [True, True], "only the two of that session wait")
    assert [event["kind"] for event in stored(server, ahead)] == ["session.started"]
    assert notes_of(stored(server, other)) == [3]
    # The order within that session is the order of the taps.
    assert phone.notes(ahead) == [1, 2]
    phone.expect_link("The server did not take 2 entries.")
    phone.expect_link("Save the ticket to a file for the office.")
    phone.expect_link("Start a new session for what is left to do.")


def test_an_emptied_phone_keeps_what_the_server_refuses(
    start_server: "StartServer", new_phone: "NewPhone"
) -> None:
    server = start_server(offline=True)
    phone, sid = ready(new_phone, server.url)
    server.stop()
    move_clock(phone, 3 * DAY_MS)
    phone.note(sid, 1)
    empty_store(phone)
    phone.open()
    assert notes_of(phone.stored("events")) == [1]
    again(start_server, server)
    phone.open()
    phone.expect_link("The server did not take 1 entry.")
    for _ in range(2):
        assert refused(phone) == [True]
        assert copies(phone) == 1
        phone.stop_worker()
        phone.open()
        phone.expect_link("The server did not take 1 entry.")
    assert phone.notes(sid) == [1]


def test_an_emptied_phone_gives_a_restored_server_what_it_wrote_before(
    start_server: "StartServer", new_phone: "NewPhone"
) -> None:
    """Under its older name, and without a proof: the server had it from this phone alone."""
    server = start_server(offline=True)
    phone, sid = ready(new_phone, server.url)
    server.stop()
    phone.note(sid, 1)
    empty_store(phone)
    phone.open()
    server = again(start_server, server)
    phone.open()
    phone.until_sent()
    assert notes_of(stored(server)) == [1]

    server.stop()
    fresh = start_server(server.data.with_name("fresh"), server.port, offline=True)
    phone.open()
    phone.until(lambda: notes_of(stored(fresh)) == [1], "the server has it again")
    phone.until_sent()


def test_a_photo_that_a_proxy_answers_with_a_page_holds_up_no_other(
    start_server: "StartServer", new_phone: "NewPhone", request: pytest.FixtureRequest
) -> None:
    server = start_server(offline=True)
    link = RoughLink(server.port)
    link.open()
    request.addfinalizer(link.close)
    phone, sid = ready(new_phone, link.url)
    stranger = "0" * 64
    link.broken = {f"/api/photo/{sid}/{stranger}"}
    phone.page.evaluate(PUT_A_STRANGER, sid)
    phone.page.get_by_role("link", name="Photo").click()
    attach(phone, from_a_camera(), "Gauges")
    expect(phone.page.locator(".undo")).to_contain_text("Photo")
    phone.until(lambda: len(phone.stored("photos")) == 1, "the other photo was sent")
    phone.expect_link("Photos waiting to be sent: 1. The server answered 500.")
    assert len(list((server.data / "photos").rglob("*.jpg"))) == 1
