"""The whole work with the server unreachable, and nothing lost on the way to it."""

import itertools
import json
import os
import random
import subprocess
import sys
from collections.abc import Iterator, Mapping
from itertools import pairwise
from pathlib import Path
from typing import TYPE_CHECKING, Any

import pytest
import rough_link
from playwright.sync_api import Page, Response, expect
from pocket_phone import KEEP_SENDING, PocketPhone, eid_of, notes_of
from rough_link import RoughLink
from strategies import READING, Book, set_up, with_units

from lowside.core.handbook.forms import FORM_OF_KIND
from lowside.core.session.last_end import ALIKE
from lowside.core.session.taps import READ_S
from lowside.store.codec import event_to_json, read_events

if TYPE_CHECKING:
    from conftest import NewPhone, Server, StartServer

DAY_MS = 86_400_000
WATCH_LINK = """() => {
    globalThis.seen = [];
    const link = document.getElementById("link");
    const look = () => seen.push(link.textContent);
    new MutationObserver(look).observe(link, { childList: true, characterData: true });
    document.addEventListener("htmx:after:swap", () => seen.push("the next page"), true);
    document.addEventListener("htmx:after:swap", look);
}"""
HOW_THE_INSTALL_ENDS = """async () => {
    const { serviceWorker } = navigator;
    const registration = await serviceWorker.register("/sw.js", { updateViaCache: "none" });
    const worker = registration.installing ?? registration.active;
    while (worker !== null && !["redundant", "activated"].includes(worker.state)) {
        await new Promise(resolve => worker.addEventListener("statechange", resolve));
    }
    return worker?.state ?? "redundant";
}"""
CLOSE_WITHOUT_A_WORD = """() => {
    const begin = IDBDatabase.prototype.transaction;
    IDBDatabase.prototype.transaction = function (tables, mode, options) {
        const begun = begin.call(this, tables, mode, options);
        if (mode === "readwrite") {
            Object.defineProperty(begun, "oncomplete", { set() {} });
            Object.defineProperty(begun, "onabort", { set() {} });
            this.close();
            setTimeout(() => this.dispatchEvent(new Event("close")));
        }
        return begun;
    };
}"""


@pytest.fixture
def phone(request: pytest.FixtureRequest, server: "Server", new_phone: "NewPhone") -> PocketPhone:
    """A phone ready for offline, by the way that breaks where the test has a `link`."""
    has_link = "link" in request.fixturenames
    phone = new_phone(request.getfixturevalue("link").url if has_link else server.url)
    phone.open_ready()
    return phone


@pytest.fixture
def server(start_server: "StartServer") -> "Server":
    return start_server(offline=True)


@pytest.fixture
def link(server: "Server") -> Iterator[RoughLink]:
    """A way to the server that the test can break."""
    link = RoughLink(server.port)
    link.open()
    yield link
    link.close()


def again(start_server: "StartServer", server: "Server") -> "Server":
    """The server, started again on the same data and port."""
    return start_server(server.data, server.port, offline=True)


def stored(server: "Server", sid: str = "") -> list[Mapping[str, Any]]:
    """Every event on the server's disk, or a session's."""
    found: list[Mapping[str, Any]] = []
    for path in sorted((server.data / "sessions").rglob(f"{sid or '*'}.jsonl")):
        events, problems = read_events(path)
        assert problems == []
        found += [event_to_json(event) for event in events]
    return found


def test_one_visit_is_enough_to_start_and_reload_without_the_server(
    server: "Server", phone: PocketPhone
) -> None:
    server.stop()
    sid = phone.begin()
    phone.expect_link("1 entry waiting to be sent")
    phone.page.reload()
    expect(phone.page.get_by_role("heading", name="Job and site")).to_be_visible()
    phone.note(sid, 1)
    phone.open("/practice")
    said = "Practice needs the server, because the practice unit runs there."
    expect(phone.page.get_by_text(said)).to_be_visible()
    phone.open()
    expect(phone.page.get_by_role("link", name="New session")).to_be_visible()
    assert phone.notes(sid) == [1]


def test_a_form_sent_from_the_page_is_answered_with_the_next_page_and_its_address(
    phone: PocketPhone,
) -> None:
    sid = phone.begin()
    phone.open(f"/s/{sid}/form/note")
    answers: list[tuple[str, str, int]] = []

    def hear(answer: Response) -> None:
        answers.append((answer.url, answer.request.method, answer.status))

    phone.page.on("response", hear)
    phone.page.fill("[name=text]", "note 1")
    phone.page.get_by_role("button", name="Save the note").click()
    expect(phone.page.get_by_role("heading", name="Job and site")).to_be_visible()
    of_session = [answer[1:] for answer in answers if "/s/" in answer[0]]
    assert of_session == [("POST", 200)], "one way through the browser, no redirect"
    expect(phone.page).to_have_url(f"{phone.url}/s/{sid}")
    phone.page.reload()
    expect(phone.page.get_by_role("heading", name="Job and site")).to_be_visible()
    assert phone.notes(sid) == [1]


def test_the_answer_of_the_phone_carries_the_security_headers(
    server: "Server", phone: PocketPhone
) -> None:
    from_server = phone.page.request.get(server.url + "/").headers
    answer = phone.page.reload()
    assert answer is not None
    assert answer.from_service_worker
    from_phone = answer.headers
    for name in ("content-security-policy", "x-content-type-options", "referrer-policy"):
        assert from_phone[name] == from_server[name]
    assert "unsafe" not in from_phone["content-security-policy"]


def test_a_refused_form_comes_back_with_its_reason_and_records_nothing(
    server: "Server", phone: PocketPhone
) -> None:
    server.stop()
    sid = phone.begin()
    # A tap sooner than a page can be read does nothing.
    phone.page.wait_for_timeout((READ_S + 0.1) * 1000)
    phone.page.locator('button[form="step-form"]').click()
    expect(phone.page.locator(".problem").first).to_be_visible()
    status, _ = phone.send(f"/s/{sid}/form/note", eid=eid_of(1), text="")
    assert status == 422
    assert [e["kind"] for e in phone.stored("events")] == ["session.started"]


def test_a_first_reading_is_held_against_the_last_visit_on_this_phone(phone: PocketPhone) -> None:
    numbers = itertools.count(1)

    def send(sid: str, kind: str, data: Mapping[str, str]) -> int:
        path = f"/s/{sid}/form/{FORM_OF_KIND[kind].name}"
        return phone.send(path, **{**data, "eid": eid_of(next(numbers))})[0]

    reading = with_units("reading", READING)
    facts = set_up(Book()).events[1:]
    earlier, now = phone.begin(), phone.begin()
    for sid in (earlier, now):
        assert {send(sid, event.kind, event.data) for event in facts} == {200}
    sent = [(earlier, ""), (now, ""), (now, "yes"), (now, "")]
    answers = [send(sid, "reading.taken", {**reading, ALIKE: again}) for sid, again in sent]
    assert answers == [200, 422, 200, 200]


def test_sessions_from_before_the_offline_copy_are_on_the_phone(
    server: "Server", new_phone: "NewPhone"
) -> None:
    elsewhere = new_phone(server.url)
    elsewhere.open_ready()
    sid = elsewhere.begin()
    elsewhere.note(sid, 1)
    elsewhere.until_sent()
    phone = new_phone(server.url)
    phone.open_ready()
    server.stop()
    phone.open()
    phone.page.get_by_role("link", name="New session").click()
    expect(phone.page.get_by_role("heading", name="Job and site")).to_be_visible()
    assert phone.notes(sid) == [1]


def test_the_page_open_during_the_install_goes_on_from_the_phone(
    server: "Server", link: RoughLink, new_phone: "NewPhone"
) -> None:
    """Its session began on the server, and its next form is the phone's first."""
    link.broken.add("/sw.js")
    phone = new_phone(link.url)
    sid = phone.begin()
    phone.expect_link("Needs the server")
    phone.note(sid, 1)
    assert notes_of(stored(server)) == [1]
    link.broken.clear()
    phone.page.reload()
    phone.expect_link("Ready for offline")
    link.close()
    server.stop()
    phone.note(sid, 2)
    assert phone.notes(sid) == [1, 2]


def test_killing_the_browser_while_it_writes_loses_nothing_that_was_said_to_be_kept(
    server: "Server", start_server: "StartServer", phone: PocketPhone
) -> None:
    server.stop()
    sid = phone.begin()
    kills = int(os.environ.get("LOWSIDE_KILLS", "12"))
    chance = random.Random(3)
    for kill in range(1, kills + 1):
        said_before = len(phone.kept())
        phone.page.evaluate(f"asked => void ({KEEP_SENDING})(asked)", [sid, kill * 100_000])
        phone.until(lambda before=said_before: len(phone.kept()) > before, "it keeps entries")
        phone.page.wait_for_timeout(chance.uniform(0, 60))
        phone.kill()
        phone.start()
        shown = phone.notes(sid)
        assert set(phone.kept()) <= set(shown)
        assert len(shown) == len(set(shown)) == len(phone.stored("events")) - 1
    # A database that the browser emptied comes back from the second copies. Then the phone counts
    # on under another name: a number is never given twice.
    numbers: dict[str, list[int]] = {}
    for event in phone.stored("events"):
        numbers.setdefault(event["dev"], []).append(event["seq"])
    for counted in numbers.values():
        assert sorted(counted) == list(range(1, len(counted) + 1))
    assert len(phone.kept()) >= kills
    again(start_server, server)
    phone.open()
    phone.until_sent()
    assert sorted(notes_of(stored(server))) == sorted(shown)


def test_whatever_the_server_answers_every_event_arrives_once(
    server: "Server", link: RoughLink, phone: PocketPhone
) -> None:
    sid = phone.begin()
    phone.until_sent()
    numbers: list[int] = []
    for how, words in (
        (rough_link.REFUSE, "2 entries waiting to be sent"),
        (rough_link.FAIL_AFTER, "2 entries waiting to be sent"),
        (rough_link.LOSE, "2 entries waiting to be sent"),
        (rough_link.SIGNED_OUT, "Sign in to send 2 entries"),
    ):
        link.how = how
        for _ in range(2):
            numbers.append(len(numbers) + 1)
            phone.note(sid, numbers[-1])
        phone.open(f"/s/{sid}")
        phone.expect_link(words)
        assert len(phone.stored("unsent")) == 2
        assert phone.notes(sid) == numbers
        link.how = rough_link.PASS
        phone.open()
        phone.until_sent()
        assert notes_of(stored(server)) == numbers
        assert len(stored(server)) == len(phone.stored("events")) == len(numbers) + 1


def test_the_banner_says_ready_only_while_nothing_waits(
    link: RoughLink, phone: PocketPhone
) -> None:
    sid = phone.begin()
    phone.until_sent()
    link.how = rough_link.HANG
    phone.open(f"/s/{sid}/form/note")
    phone.expect_link("Ready for offline")
    phone.page.evaluate(WATCH_LINK)
    phone.page.fill("[name=text]", "note 1")
    phone.page.get_by_role("button", name="Save the note").click()
    # The worker counts the entry before the page has the answer: the words alone come too soon.
    phone.until(lambda: "the next page" in phone.page.evaluate("seen"), "the next page is there")
    phone.expect_link("1 entry waiting to be sent")
    assert "Ready for offline" not in phone.page.evaluate("seen")
    # And on a page that is opened while it waits.
    phone.page.add_init_script(f"addEventListener('DOMContentLoaded', {WATCH_LINK})")
    phone.open(f"/s/{sid}")
    phone.expect_link("1 entry waiting to be sent")
    seen = phone.page.evaluate("seen")
    assert seen
    assert {words.partition(".")[0] for words in seen} == {"1 entry waiting to be sent"}


def test_each_open_tab_says_what_waits(server: "Server", phone: PocketPhone) -> None:
    sid = phone.begin()
    phone.until_sent()
    other = phone.page.context.new_page()
    other.goto(phone.page.url)
    phone.expect_link("Ready for offline", other)
    server.stop()
    phone.note(sid, 1)
    phone.expect_link("1 entry waiting to be sent", other)


def test_a_server_killed_while_it_commits_has_each_event_once_afterwards(
    server: "Server", start_server: "StartServer", link: RoughLink, phone: PocketPhone
) -> None:
    link.how = rough_link.REFUSE
    sid = phone.begin()
    for number in range(1, 21):
        phone.note(sid, number)
    link.on_sync = server.kill
    link.how = rough_link.PASS
    phone.open()
    phone.until(lambda: server.process.poll() is not None, "the server is killed")
    phone.expect_link("21 entries waiting")
    link.on_sync = None
    again(start_server, server)
    phone.open()
    phone.until_sent()
    assert notes_of(stored(server)) == list(range(1, 21))


def test_a_server_that_never_answers_makes_no_tap_wait(
    server: "Server", link: RoughLink, phone: PocketPhone
) -> None:
    link.how = rough_link.HANG
    sid = phone.begin()
    phone.until(lambda: link.hung > 0, "a question hangs")
    for number in range(1, 6):
        phone.note(sid, number)
    assert not [asked for asked in link.asked if asked.endswith("/form/note")]
    phone.open(f"/s/{sid}")
    phone.expect_link("6 entries waiting to be sent")
    assert server.process.poll() is None


def test_the_same_form_five_times_at_once_is_one_event(
    server: "Server", phone: PocketPhone
) -> None:
    sid = phone.begin()
    typed = {"eid": eid_of(1), "step": "", "back": "", "text": "note 1"}
    answers = phone.page.evaluate(
        """async ([path, fields]) => Promise.all([1, 2, 3, 4, 5].map(async () => {
            const answer = await fetch(path, { method: "POST", body: new URLSearchParams(fields) });
            return [answer.status, new URL(answer.url).pathname];
        }))""",
        [f"/s/{sid}/form/note", typed],
    )
    assert answers == [[200, f"/s/{sid}"]] * 5
    assert phone.notes(sid) == [1]
    phone.until_sent()
    assert notes_of(stored(server)) == [1]


def test_two_tabs_write_one_session_without_a_clash(server: "Server", phone: PocketPhone) -> None:
    server.stop()
    sid = phone.begin()
    other = phone.another_tab()
    other.goto(f"{phone.url}/s/{sid}")
    for page, first in ((phone.page, 1000), (other, 2000)):
        page.evaluate(f"asked => void ({KEEP_SENDING})(asked)", [sid, first])
    for tab in (1, 2):
        phone.until(
            lambda tab=tab: sum(n // 1000 == tab for n in phone.kept()) >= 20, "both tabs write"
        )
    other.close()
    kept = set(phone.kept())
    assert kept <= set(phone.notes(sid))
    numbers = sorted(event["seq"] for event in phone.stored("events"))
    assert numbers == list(range(1, len(numbers) + 1))


def test_two_phones_offline_on_one_session_end_with_the_same_record(
    server: "Server", start_server: "StartServer", new_phone: "NewPhone"
) -> None:
    one = new_phone(server.url)
    one.open_ready()
    sid = one.begin()
    one.until_sent()
    two = new_phone(server.url)
    two.open_ready()
    server.stop()
    for number, phone in enumerate((one, two, one, two, two), start=1):
        phone.open(f"/s/{sid}")
        phone.note(sid, number)
    assert one.notes(sid) == [1, 3]
    assert two.notes(sid) == [2, 4, 5]
    again(start_server, server)
    for phone in (one, two):
        phone.open()
        phone.expect_link("Ready for offline")
    for phone in (one, two):
        phone.open()
        phone.until(lambda phone=phone: len(phone.stored("events")) == 6, "it has all entries")
    assert one.notes(sid) == two.notes(sid) == [1, 2, 3, 4, 5]
    texts = {phone.page.locator("main").inner_text() for phone in (one, two)}
    assert len(texts) == 1
    assert notes_of(stored(server)) == notes_of(stored(server, sid))
    assert sorted(notes_of(stored(server))) == [1, 2, 3, 4, 5]


def test_a_new_worker_waits_until_it_is_let_in(
    server: "Server", link: RoughLink, phone: PocketPhone
) -> None:
    sid = phone.begin()
    phone.note(sid, 1)
    first = version(phone)
    link.rewrite["/sw.js"] = lambda script: script.replace(first.encode(), b"f" * len(first))
    phone.page.evaluate("navigator.serviceWorker.getRegistration().then(r => r.update())")
    phone.until(lambda: is_waiting(phone.page), "a new worker waits")
    # Mid-session nothing changes hands, whatever is tapped or reloaded.
    phone.note(sid, 2)
    phone.open(f"/s/{sid}")
    assert version(phone) == first
    expect(phone.page.get_by_role("button", name="Use the new version")).to_have_count(0)
    phone.open()
    with phone.page.expect_navigation():
        phone.page.get_by_role("button", name="Use the new version").click()
    phone.expect_link("Ready for offline")
    assert version(phone) == "f" * len(first)
    phone.note(sid, 3)
    assert phone.notes(sid) == [1, 2, 3]
    phone.until_sent()
    assert notes_of(stored(server)) == [1, 2, 3]


def test_a_worker_that_cannot_get_all_it_needs_is_not_installed_until_it_can(
    server: "Server", link: RoughLink, new_phone: "NewPhone"
) -> None:
    phone = new_phone(link.url)
    for broken in ("/static/css/lowside.css", "/api/sync"):
        link.broken = {broken}
        phone.open()
        assert phone.page.evaluate(HOW_THE_INSTALL_ENDS) == "redundant"
        phone.expect_link("Needs the server")
    link.broken = set()
    link.rewrite["/static/js/page.js"] = lambda script: script + b" "
    phone.open()
    assert phone.page.evaluate(HOW_THE_INSTALL_ENDS) == "redundant"
    phone.expect_link("Needs the server")
    sid = phone.begin()
    phone.note(sid, 1)
    assert notes_of(stored(server)) == [1]
    link.rewrite.clear()
    phone.open_ready()
    assert phone.notes(sid) == [1]


@pytest.mark.parametrize("days", [1, -1])
def test_a_clock_that_jumps_a_day_changes_neither_order_nor_durations(
    days: int, server: "Server", phone: PocketPhone
) -> None:
    sid = phone.begin()
    phone.note(sid, 1)
    move_clock(phone, days * DAY_MS)
    phone.note(sid, 2)
    move_clock(phone, 0)
    phone.note(sid, 3)
    assert phone.notes(sid) == [1, 2, 3]
    events = sorted(phone.stored("events"), key=lambda event: event["hlc"])
    assert notes_of(events) == [1, 2, 3]
    assert abs(events[2]["at"] - events[1]["at"] - days * DAY_MS) < 60_000
    assert len({event["run"] for event in events}) == 1
    for before, after in pairwise(events):
        assert 0 <= after["mono"] - before["mono"] < 60_000
    phone.until_sent()
    assert notes_of(stored(server)) == [1, 2, 3]


def test_times_go_on_when_the_worker_was_stopped_in_between(phone: PocketPhone) -> None:
    sid = phone.begin()
    phone.note(sid, 1)
    phone.stop_worker()
    phone.note(sid, 2)
    events = phone.stored("events")
    runs = [event["run"] for event in events]
    assert runs[0] == runs[1] != runs[2]
    assert events[1]["at"] <= events[2]["at"]
    assert events[1]["hlc"] < events[2]["hlc"]


def test_an_entry_the_server_does_not_take_stays_and_holds_nothing_up(
    server: "Server", phone: PocketPhone
) -> None:
    sid = phone.begin()
    move_clock(phone, 3 * DAY_MS)
    phone.note(sid, 1)
    phone.expect_link("The server did not take 1 entry. This device’s clock")
    assert [mark["refused"] != "" for mark in phone.stored("unsent")] == [True]
    assert phone.notes(sid) == [1]
    assert [event["kind"] for event in stored(server)] == ["session.started"]


def test_unsent_work_can_be_saved_to_a_file_that_replays(
    server: "Server", phone: PocketPhone, tmp_path: Path
) -> None:
    server.stop()
    sid = phone.begin()
    phone.note(sid, 1)
    phone.open(f"/s/{sid}")
    phone.expect_link("2 entries waiting to be sent")
    answer = phone.page.evaluate(
        "async path => { const r = await fetch(path);"
        " return [r.headers.get('content-disposition'), await r.text()]; }",
        phone.page.get_by_role("link", name="to a file").get_attribute("href"),
    )
    assert answer[0] == f'attachment; filename="lowside-{sid}.jsonl"'
    file = tmp_path / "unsent.jsonl"
    file.write_text(answer[1], "utf-8")
    command = [sys.executable, "-m", "lowside", "replay", str(file), "--json"]
    output = subprocess.run(command, check=True, capture_output=True, text=True).stdout
    assert [json.loads(line)["kind"] for line in output.splitlines()] == [
        "session.started",
        "note.added",
    ]


def test_a_phone_whose_store_was_emptied_still_has_every_unsent_entry(
    server: "Server", start_server: "StartServer", phone: PocketPhone
) -> None:
    """What Chromium does to IndexedDB after the disk was full, done by hand."""
    sid = phone.begin()
    phone.note(sid, 1)
    phone.until_sent()
    server.stop()
    phone.note(sid, 2)
    # A long one is copied in another way than a short one; Arabic digits count as three letters.
    long = {"eid": eid_of(3), "text": "note " + "٣".rjust(1900, "٠")}
    assert phone.send(f"/s/{sid}/form/note", **long) == (200, f"/s/{sid}")
    empty_store(phone)
    phone.open()
    assert notes_of(phone.stored("events")) == [2, 3]
    assert len(phone.stored("unsent")) == 2
    again(start_server, server)
    phone.open()
    phone.until_sent()
    assert phone.notes(sid) == [1, 2, 3]
    assert notes_of(stored(server)) == [1, 2, 3]


def test_a_full_quota_says_so_writes_nothing_more_and_recovers(
    server: "Server", start_server: "StartServer", phone: PocketPhone
) -> None:
    server.stop()
    sid = phone.begin()
    phone.note(sid, 1)
    session = phone.page.context.new_cdp_session(phone.page)
    limit = {"origin": phone.url, "quotaSize": 1}
    session.send("Storage.overrideQuotaForOrigin", limit)
    for number in (2, 3):
        typed = {"eid": eid_of(number), "text": f"note {number}"}
        assert phone.send(f"/s/{sid}/form/note", **typed)[0] == 503
    phone.open(f"/s/{sid}")
    phone.expect_link("Saving on this phone failed")
    assert phone.notes(sid) == [1]
    session.send("Storage.overrideQuotaForOrigin", {"origin": phone.url})
    phone.note(sid, 2)
    assert phone.notes(sid) == [1, 2]
    again(start_server, server)
    phone.open()
    phone.until_sent()
    assert notes_of(stored(server)) == [1, 2]


def test_an_entry_without_a_second_copy_is_not_kept(server: "Server", phone: PocketPhone) -> None:
    server.stop()
    sid = phone.begin()
    phone.note(sid, 1)
    phone.worker().evaluate(
        "() => { Cache.prototype.put = () => Promise.reject(new Error('no room')); }"
    )
    typed = {"eid": eid_of(2), "text": "note 2"}
    assert phone.send(f"/s/{sid}/form/note", **typed)[0] == 503
    assert notes_of(phone.stored("events")) == [1]
    assert len(phone.stored("unsent")) == 2
    assert phone.notes(sid) == [1]
    phone.stop_worker()
    phone.note(sid, 2)
    assert phone.notes(sid) == [1, 2]


def test_a_store_that_is_closed_without_a_word_makes_no_tap_wait(
    server: "Server", phone: PocketPhone
) -> None:
    """What Chromium does to a transaction, now and then, when the disk under it is full."""
    server.stop()
    sid = phone.begin()
    phone.note(sid, 1)
    phone.worker().evaluate(CLOSE_WITHOUT_A_WORD)
    typed = {"eid": eid_of(2), "text": "note 2"}
    assert phone.send(f"/s/{sid}/form/note", **typed)[0] == 503
    phone.open(f"/s/{sid}")
    phone.expect_link("Saving on this phone failed")
    phone.stop_worker()
    # It was kept after all, so this one is the same event.
    phone.note(sid, 2)
    phone.note(sid, 3)
    assert phone.notes(sid) == [1, 2, 3]


def version(phone: PocketPhone) -> str:
    """The version of the worker in charge, as it says itself."""
    found = phone.page.evaluate(
        """() => new Promise(resolve => {
            navigator.serviceWorker.addEventListener(
                "message", event => resolve(event.data.version), { once: true });
            navigator.serviceWorker.controller.postMessage("state");
        })"""
    )
    return str(found)


def is_waiting(page: Page) -> bool:
    asked = "navigator.serviceWorker.getRegistration().then(r => r.waiting !== null)"
    return bool(page.evaluate(asked))


def move_clock(phone: PocketPhone, by_ms: int) -> None:
    """Set the wall clock of the phone's worker off by this much."""
    phone.worker().evaluate(
        """by => {
            globalThis.trueNow ??= Date.now.bind(Date);
            Date.now = () => globalThis.trueNow() + by;
        }""",
        by_ms,
    )


def empty_store(phone: PocketPhone) -> None:
    phone.open("/health")
    phone.stop_worker()
    phone.page.evaluate(
        """() => new Promise((resolve, reject) => {
            const deleting = indexedDB.deleteDatabase("lowside");
            deleting.onsuccess = () => resolve(null);
            deleting.onerror = () => reject(deleting.error);
        })"""
    )
