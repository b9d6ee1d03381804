"""A photo comes once, to the session that names it, and is shown to who may see the session."""

import asyncio
from collections.abc import Iterator, Sequence
from pathlib import Path

import pytest
from httpx import ASGITransport, AsyncClient, Response
from photo_cases import as_file, facts_of, from_a_camera, multipart, photo, picture
from store_cases import event
from website import Page, Site, open_site

from lowside.core.handbook.handbook import Handbook
from lowside.demo import scenarios
from lowside.outlining import outline
from lowside.store import Store
from lowside.store.check import check
from lowside.store.postgres.checking import check_database
from lowside.store.postgres.store import PostgresStore
from lowside.web.access.door import Door, DoorKind, Doorway
from lowside.web.access.guard import may_open
from lowside.web.access.people import Role

ROOF = next(scenario for scenario in scenarios() if scenario.name == "roof-unit-r410a")
JPEG = {"Content-Type": "image/jpeg"}
PHOTO = photo()
FACTS = facts_of(PHOTO)
NAME = FACTS["photo"]


@pytest.fixture
def site(place: Path | str, handbook: Handbook) -> Iterator[Site]:
    with open_site(place, handbook) as opened:
        yield opened


@pytest.fixture
def folder(tmp_path: Path, handbook: Handbook) -> Iterator[Site]:
    """A site whose store is in files, for what does not depend on the store."""
    with open_site(tmp_path / "data", handbook) as opened:
        yield opened


def name_it(site: Site, sid: str, seq: int = 1, **facts: str) -> str:
    """A phone's entry about a photo has arrived; its eid."""
    entry = event(seq, sid=sid, dev="camera", kind="photo.taken", **(FACTS | facts))
    site.store.append([entry])
    return entry.eid


def send(site: Site, sid: str, name: str = NAME, content: bytes = PHOTO) -> Response:
    return site.send("POST", f"/api/photo/{sid}/{name}", content, JPEG)


def files(site: Site) -> list[str]:
    if isinstance(site.store, PostgresStore):
        return [name.rpartition("/")[2] for name in site.store.papers.names("photos/")]
    return [path.name for path in (root_of(site) / "photos").rglob("*") if path.is_file()]


def root_of(site: Site) -> Path:
    assert isinstance(site.store, Store)
    return site.store.root


def problems_at(place: Path | str) -> Sequence[str]:
    """What a check of the store finds."""
    if isinstance(place, Path):
        return check(place, outline).problems
    return check_database(place, outline).problems


# From a phone


def test_a_photo_comes_after_its_entry_and_is_shown(site: Site) -> None:
    sid = site.play(ROOF)
    name_it(site, sid)
    office = site.get(f"/office/session/{sid}")
    assert "Not here yet: still on the phone" in office.text
    assert "Nameplate" in office.text
    assert site.get(f"/photo/{sid}/{NAME}.jpg").status == 404
    for _ in range(2):
        answer = send(site, sid)
        assert (answer.status_code, answer.json()) == (200, {"stored": NAME})
    assert files(site) == [f"{NAME}.jpg"]
    shown = site.send("GET", f"/photo/{sid}/{NAME}.jpg")
    assert (shown.status_code, shown.content) == (200, PHOTO)
    headers = shown.headers
    assert headers["content-type"] == "image/jpeg"
    assert headers["x-content-type-options"] == "nosniff"
    assert headers["cross-origin-resource-policy"] == "same-origin"
    assert headers["cache-control"].startswith("private")
    assert "script-src 'self'" in headers["content-security-policy"]
    office = site.get(f"/office/session/{sid}")
    assert f'src="/photo/{sid}/{NAME}.jpg" alt="Nameplate, ' in office.response.text
    assert "Not here yet" not in office.text
    assert f'<img class="photo" src="/photo/{sid}' in site.get(f"/s/{sid}/timeline").response.text


def test_the_unit_page_has_the_photos_of_all_its_sessions(site: Site) -> None:
    sids = [site.play(ROOF), site.play(ROOF)]
    for number, sid in enumerate(sids):
        content = photo(number)
        name_it(site, sid, **facts_of(content, photo_kind="gauges"))
        assert send(site, sid, facts_of(content)["photo"], content).status_code == 200
    job = site.state(sids[0]).job
    assert job is not None
    page = site.send("GET", f"/office/unit?site={job.site}&unit={job.unit_label}")
    found = [page.text.find(f"/photo/{sid}/") for sid in sids]
    assert all(at > 0 for at in found)
    assert page.text.count("<b>Gauges</b>") == 2


def test_a_voided_photo_is_hidden_and_stays(site: Site, place: Path | str) -> None:
    sid = site.play(ROOF)
    eid = name_it(site, sid)
    assert send(site, sid).status_code == 200
    void = site.get(f"/s/{sid}/timeline").form("/form/void")
    assert site.post(void.action, void.values | {"target": eid}).status == 303
    assert site.get(f"/photo/{sid}/{NAME}.jpg").status == 404
    assert "<img" not in site.get(f"/office/session/{sid}").response.text
    assert files(site) == [f"{NAME}.jpg"]
    assert send(site, sid).status_code == 200, "a phone may still have it to send"
    assert problems_at(place) == ()


def test_what_no_entry_names_is_not_kept(site: Site) -> None:
    sid, other = site.play(ROOF), site.play(ROOF)
    name_it(site, sid)
    assert send(site, other).status_code == 404, "another session's"
    assert send(site, sid, facts_of(photo(1))["photo"], photo(1)).status_code == 404
    assert send(site, "01KTESTPERS0N0000000000001").status_code == 404
    assert "The entry goes first" in send(site, other).json()["error"]
    assert files(site) == []


@pytest.mark.parametrize(
    "content",
    [
        b"",
        PHOTO[:-1],
        PHOTO + b"<script>alert(1)</script>",
        PHOTO[:200] + bytes([PHOTO[200] ^ 1]) + PHOTO[201:],
        photo(1),
        b"<svg xmlns='http://www.w3.org/2000/svg' onload='alert(1)'/>",
    ],
)
def test_other_bytes_under_its_name_are_refused(folder: Site, content: bytes) -> None:
    sid = folder.play(ROOF)
    name_it(folder, sid)
    answer = send(folder, sid, content=content)
    assert answer.status_code == 422
    assert files(folder) == []


@pytest.mark.parametrize(
    "content",
    [
        PHOTO + b"<html><script>alert(1)</script></html>",
        as_file(picture(), comment=b"<script>alert(1)</script>"),
        from_a_camera(200, 100),
        as_file(picture(), "PNG"),
    ],
)
def test_a_named_file_that_is_more_than_a_picture_is_refused(folder: Site, content: bytes) -> None:
    """The entry is honest about its hash and size: it is the file that may not be."""
    sid = folder.play(ROOF)
    name_it(folder, sid, **facts_of(content))
    answer = send(folder, sid, facts_of(content)["photo"], content)
    assert answer.status_code == 422
    assert "nothing else in it" in answer.json()["error"]
    assert files(folder) == []


def test_too_large_a_photo_is_refused(folder: Site) -> None:
    sid = folder.play(ROOF)
    large = as_file(picture(900, 900, noise=True), quality=90)
    assert len(large) > 300_000
    name_it(folder, sid, **facts_of(large))
    assert send(folder, sid, facts_of(large)["photo"], large).status_code == 404
    name_it(folder, sid, 2, **facts_of(large, photo_bytes="299999"))
    assert send(folder, sid, facts_of(large)["photo"], large).status_code == 422
    assert files(folder) == []


@pytest.mark.parametrize(
    "path",
    [
        "/api/photo/../../device/" + NAME,
        "/api/photo/%2e%2e%2fsessions/" + NAME,
        "/api/photo/SID/..%2f..%2fdevice",
        "/api/photo/SID/" + NAME.upper(),
        "/api/photo/SID/" + NAME + ".jpg",
    ],
)
def test_no_path_leads_elsewhere(site: Site, path: str) -> None:
    sid = site.play(ROOF)
    name_it(site, sid)
    at = path.replace("SID", sid)
    assert site.send("POST", at, PHOTO, JPEG).status_code in (404, 405)
    assert site.send("GET", at.replace("/api", "") + ".jpg").status_code == 404
    assert files(site) == []


def test_an_entry_that_lies_about_its_name_leads_nowhere(site: Site) -> None:
    sid = site.play(ROOF)
    for number, lie in enumerate(("../../device", "x" * 64, '"><script>alert(1)</script>'), 1):
        name_it(site, sid, number, photo=lie)
    for path in (f"/s/{sid}/timeline", f"/office/session/{sid}"):
        html = site.get(path).response.text
        assert "<img" not in html
        assert "<script>alert" not in html


def test_practice_has_no_photos(site: Site) -> None:
    practice = site.get("/practice").form("/practice/start")
    answer = site.post(practice.action, practice.values)
    sid = answer.response.headers["location"].split("/")[3]
    name_it(site, sid)
    assert send(site, sid).status_code == 404
    assert "/form/photo" not in site.get(f"/practice/s/{sid}").response.text


def test_only_a_paired_device_sends_and_sees_and_no_other_site_does(folder: Site) -> None:
    sid = folder.play(ROOF)
    name_it(folder, sid)
    assert may_open(Role.FIELD, f"/api/photo/{sid}/{NAME}")
    assert may_open(Role.FIELD, f"/photo/{sid}/{NAME}.jpg")
    assert not may_open(Role.FIELD, "/photo/../office")
    door = Door(DoorKind.TLS, frozenset({"shop.lowside.test"}))

    async def ask(method: str, path: str) -> int:
        transport = ASGITransport(Doorway(folder.app, door), client=("192.168.1.50", 50000))
        base = "https://shop.lowside.test"
        async with AsyncClient(transport=transport, base_url=base) as client:
            return (await client.request(method, path, headers=JPEG)).status_code

    assert asyncio.run(ask("POST", f"/api/photo/{sid}/{NAME}")) == 401
    assert asyncio.run(ask("GET", f"/photo/{sid}/{NAME}.jpg")) == 401
    path = f"/api/photo/{sid}/{NAME}"
    for foreign in ({"Origin": "https://elsewhere.test"}, {"Sec-Fetch-Site": "cross-site"}):
        assert folder.send("POST", path, PHOTO, JPEG | foreign).status_code == 403
    assert folder.send("POST", path, PHOTO, {"Content-Type": "text/plain"}).status_code == 415
    assert folder.send("POST", path, b"x" * 1_000_001, JPEG).status_code == 413
    assert files(folder) == []


def test_a_disk_that_refuses_keeps_nothing_and_says_so(
    folder: Site, monkeypatch: pytest.MonkeyPatch
) -> None:
    sid = folder.play(ROOF)
    name_it(folder, sid)

    def full(*_: object) -> None:
        raise OSError(28, "No space left on device")

    with monkeypatch.context() as patch:
        patch.setattr("lowside.store.durable.append", full)
        answer = send(folder, sid)
        assert answer.status_code == 503
        assert "could not save the photo" in answer.json()["error"]
    assert files(folder) == []
    assert send(folder, sid).status_code == 200


# From a browser that runs no script


def attach(site: Site, sid: str, content: bytes, **typed: str) -> Page:
    form = site.get(f"/s/{sid}/form/photo").form("/form/photo")
    sent = form.values | typed
    body, kind = multipart(sent, content, "../../evil.svg")
    answer = site.send("POST", form.action, body, {"Content-Type": kind})
    return Page(answer)


def test_without_a_script_the_server_makes_it_small(site: Site, place: Path | str) -> None:
    sid = site.start()
    page = site.get(f"/s/{sid}/form/photo")
    assert 'enctype="multipart/form-data"' in page.response.text
    assert "300 KB" in page.text
    answer = attach(site, sid, from_a_camera())
    assert answer.status == 303, answer.text
    entry = site.events(sid)[-1]
    assert entry.kind == "photo.taken"
    assert (entry.data["photo_width"], entry.data["photo_height"]) == ("800", "1600")
    kept = site.store.photos.read(sid, entry.data["photo"])
    assert kept is not None
    assert b"CAMERA MAKER" not in kept
    assert len(kept) == int(entry.data["photo_bytes"]) <= 300_000
    assert entry.data["photo_kind"] == "nameplate"
    record = site.get(f"/s/{sid}/ticket")
    assert f'src="/photo/{sid}/{entry.data["photo"]}.jpg"' in record.response.text
    assert " Nameplate" in record.text
    # The kind has its answer before the file is chosen: a refusal would cost the file.
    again = site.get(f"/s/{sid}/form/photo")
    assert again.form("/form/photo").values["photo_kind"] == "other"
    assert again.response.text.index("What it shows") < again.response.text.index('type="file"')
    assert attach(site, sid, from_a_camera()).problem("photo") == "This photo was attached before."
    assert len(files(site)) == 1
    assert problems_at(place) == ()


@pytest.mark.parametrize("content", [b"", b"no picture", b"<svg/>", PHOTO[:300]])
def test_what_is_no_picture_is_refused_in_words_and_leaves_nothing(
    folder: Site, content: bytes
) -> None:
    sid = folder.start()
    answer = attach(folder, sid, content, photo=NAME, photo_bytes="9")
    assert answer.status == 422
    assert answer.problem("photo").startswith("No picture could be read")
    assert (len(folder.events(sid)), files(folder)) == (1, [])


def test_a_refused_form_leaves_no_file_and_a_kind_unsaid_is_no_reason(site: Site) -> None:
    sid = site.start()
    answer = attach(site, sid, from_a_camera(), photo_kind="<b>")
    assert answer.status == 422
    assert answer.problem("photo_kind") == "Choose one of the answers."
    assert (len(site.events(sid)), files(site)) == (1, [])
    assert attach(site, sid, from_a_camera(), photo_kind="").status == 303
    assert "<b>Other</b>" in site.get(f"/office/session/{sid}").response.text


def test_a_form_larger_than_a_camera_makes_is_refused(folder: Site) -> None:
    sid = folder.start()
    form = folder.get(f"/s/{sid}/form/photo").form("/form/photo")
    body, kind = multipart(form.values, b"x" * 12_200_000)
    assert folder.send("POST", form.action, body, {"Content-Type": kind}).status_code == 413
