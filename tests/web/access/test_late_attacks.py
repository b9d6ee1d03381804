"""What a careful attacker tries of the newer parts: photos, large requests, sync's shorter way."""

import asyncio
import threading
from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path
from typing import Any
from urllib.parse import urlencode

import pytest
from httpx import ASGITransport, AsyncClient, Response
from photo_cases import facts_of, from_a_camera, multipart, photo
from waiting import WAITS_S, until
from website import Site, open_site

from lowside.core.handbook.handbook import Handbook
from lowside.store import photos
from lowside.store.photo_shelf import FilePhotos
from lowside.store.ulid import is_ulid
from lowside.web.access import guard
from lowside.web.phone import sync
from lowside.web.photos import pages

SID = "01KTESTSESS10N000000000001"


@pytest.fixture
def site(tmp_path: Path, handbook: Handbook) -> Iterator[Site]:
    with open_site(tmp_path / "data", handbook) as opened:
        yield opened


def test_a_form_whose_identifier_is_none_is_no_failure_of_the_server(site: Site) -> None:
    sid = site.start()
    for eid in ("", "x", "¤", "9" * 400, "01KTESTSESS10N00000000000I"):
        assert not is_ulid(eid)
        typed = {"eid": eid, "step": "", "back": "", "text": "x", "target": sid}
        for form in ("system_stopped", "discard", "note", "void"):
            answer = site.send("POST", f"/s/{sid}/form/{form}", data=typed)
            assert 400 <= answer.status_code < 500, (form, eid)
    assert len(site.events(sid)) == 1


def test_a_photo_form_without_an_identifier_is_no_failure_of_the_server(site: Site) -> None:
    sid = site.start()
    body, kind = multipart({"photo_kind": "other"}, photo())
    answer = site.send("POST", f"/s/{sid}/form/photo", body, {"Content-Type": kind})
    assert 400 <= answer.status_code < 500
    assert not (site.store.root / "photos").exists()


def test_two_that_send_one_photo_at_a_time_never_leave_half_of_it(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The second writes while the first gives the file its name."""
    shelf, content = FilePhotos(tmp_path), photo()
    name = facts_of(content)["photo"]
    half, go_on = threading.Event(), threading.Event()
    append, replace = photos.durable.append, photos.os.replace
    second = threading.Thread(target=lambda: shelf.keep(SID, name, content))

    def slowly(path: Path, data: bytes, size: int) -> Any:
        if threading.current_thread() is not second:
            return append(path, data, size)
        path.write_bytes(data[: len(data) // 2])
        half.set()
        go_on.wait(60)
        path.unlink(missing_ok=True)
        return append(path, data, size)

    def renamed(old: Path, new: Path) -> None:
        if threading.current_thread() is not second:
            second.start()
            half.wait(0.5)  # as long as it may take to come in between, if it can
        replace(old, new)

    monkeypatch.setattr(photos.durable, "append", slowly)
    monkeypatch.setattr(photos.os, "replace", renamed)
    assert shelf.keep(SID, name, content)
    kept = photos.photo_path(tmp_path, SID, name).read_bytes()
    go_on.set()
    second.join()
    assert kept == content, "acknowledged, and only half of it is there"
    assert shelf.read(SID, name) == content


async def answers(site: Site, asked: list[tuple[str, str, bytes, str]]) -> list[Response]:
    async with AsyncClient(
        transport=ASGITransport(site.app), base_url="http://localhost", timeout=60
    ) as client:
        sent = (
            client.request(how, path, content=body, headers={"Content-Type": kind} if kind else {})
            for how, path, body, kind in asked
        )
        return await asyncio.gather(*sent)


def test_many_pictures_at_a_time_keep_no_page_waiting(
    site: Site, monkeypatch: pytest.MonkeyPatch
) -> None:
    sid = site.start()
    body, kind = multipart({"eid": SID, "step": "", "back": "", "photo_kind": "other"}, photo())
    begun, go_on = threading.Event(), threading.Event()

    def slow(_content: bytes) -> None:
        begun.set()
        assert go_on.wait(WAITS_S)

    monkeypatch.setattr(pages, "made_small", slow)

    async def attack() -> int:
        pictures = asyncio.ensure_future(
            answers(site, [("POST", f"/s/{sid}/form/photo", body, kind)] * 60)
        )
        while not (begun.is_set() or pictures.done()):
            await asyncio.sleep(0.02)
        await asyncio.sleep(0.3)  # the others come, too
        page = asyncio.ensure_future(answers(site, [("GET", "/", b"", "")]))
        done, _ = await asyncio.wait({page}, timeout=WAITS_S / 2)
        status = page.result()[0].status_code if done else 0
        go_on.set()
        await pictures
        await page
        return status

    assert asyncio.run(attack()) == 200


def test_large_requests_together_are_bounded(site: Site, monkeypatch: pytest.MonkeyPatch) -> None:
    """Each may be large; all of them at a time may not take the memory."""
    sid = site.start()
    body, kind = multipart(
        {"eid": SID, "step": "", "back": "", "photo_kind": "other"}, from_a_camera()
    )
    monkeypatch.setattr(guard, "MOST_HELD", 2 * len(body) + 100)
    monkeypatch.setattr(guard, "SMALL_BODY", 2_000)
    assert len(body) > 2_000
    go_on = threading.Event()

    def slow(_content: bytes) -> None:
        assert go_on.wait(60)

    monkeypatch.setattr(pages, "made_small", slow)

    note = urlencode({"eid": SID, "step": "", "back": "", "text": "x" * 1_500}).encode()
    form = "application/x-www-form-urlencoded"

    async def attack() -> list[int]:
        pictures = [
            asyncio.ensure_future(answers(site, [("POST", f"/s/{sid}/form/photo", body, kind)]))
            for _ in range(5)
        ]
        while sum(each.done() for each in pictures) < 3:  # two are held, the others are refused
            await asyncio.sleep(0.02)
        (small,) = await answers(site, [("POST", f"/s/{sid}/form/note", note, form)])
        assert small.status_code == 303, "an entry comes in all the same"
        go_on.set()
        found = await asyncio.gather(*pictures)
        return sorted(each[0].status_code for each in found)

    statuses = asyncio.run(attack())
    assert statuses.count(503) == 3, statuses
    assert site.get("/").status == 200
    again = site.send("POST", f"/s/{sid}/form/photo", body, {"Content-Type": kind})
    assert again.status_code != 503, "what was held is free again"


def test_large_questions_of_phones_are_read_one_at_a_time(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """Eight megabytes of `[],[],…` take 170 MB when they are read; sixteen could come at once."""
    reading, most, go_on = 0, 0, threading.Event()

    def slow(_body: bytes) -> object:
        nonlocal reading, most
        reading += 1
        most = max(most, reading)
        go_on.wait(60)
        reading -= 1
        raise ValueError("no JSON")

    monkeypatch.setattr(sync, "decoded", slow)

    def ask(size: int) -> None:
        with pytest.raises(sync.BadQuestionError):
            sync.question_from(b" " * size)

    with ThreadPoolExecutor(5) as pool:
        large = [pool.submit(ask, sync.LARGE + 1) for _ in range(4)]
        until(lambda: reading > 0, "one is read")
        go_on.wait(0.3)
        assert most == 1
        small = pool.submit(ask, 10)
        until(lambda: reading == 2, "a small one does not wait for them")
        go_on.set()
        for each in (*large, small):
            each.result()
