"""A photo taken where there is no signal is kept on the phone, and comes to the office once."""

import hashlib
import io
from typing import TYPE_CHECKING

from photo_cases import from_a_camera
from PIL import Image
from playwright.sync_api import expect
from pocket_phone import PocketPhone

from lowside.web.photos.picture import size_of_photo

if TYPE_CHECKING:
    from conftest import NewPhone, StartServer

PUT_A_STRANGER = """sid => new Promise((resolve, reject) => {
    const opening = indexedDB.open("lowside");
    opening.onsuccess = () => {
        const adding = opening.result.transaction("photos", "readwrite");
        adding.objectStore("photos").put(new Uint8Array(9), [sid, "0".repeat(64)]);
        adding.oncomplete = () => { opening.result.close(); resolve(); };
        adding.onerror = () => reject(adding.error);
    };
})"""
WIDTH_OF = """image => image.decode().then(() => image.naturalWidth)"""


def attach(phone: PocketPhone, content: bytes, kind: str) -> None:
    file = {"name": "IMG_1.jpg", "mimeType": "image/jpeg", "buffer": content}
    phone.page.get_by_label("Photo").set_input_files(file)  # type: ignore[arg-type]
    phone.page.get_by_text(kind, exact=True).click()
    phone.page.get_by_role("button", name="Attach the photo").click()


def test_a_photo_without_a_signal_reaches_the_office_once(
    new_phone: "NewPhone", start_server: "StartServer"
) -> None:
    server = start_server(offline=True)
    phone = new_phone(server.url)
    phone.open_ready()
    sid = phone.begin()
    phone.until_sent()
    server.stop()
    phone.page.get_by_role("link", name="Photo").click()
    attach(phone, b"no picture", "Gauges")
    expect(phone.page.locator(".problem")).to_contain_text("No picture could be read")
    # An almost full phone keeps no photo and goes on keeping entries.
    session = phone.page.context.new_cdp_session(phone.page)
    used = phone.page.evaluate("async () => (await navigator.storage.estimate()).usage")
    limit = {"origin": phone.url, "quotaSize": used + 2_000_000}
    session.send("Storage.overrideQuotaForOrigin", limit)
    attach(phone, from_a_camera(), "Nameplate")
    expect(phone.page.locator(".problem")).to_contain_text("This phone is almost full")
    phone.note(sid, 1)
    session.send("Storage.overrideQuotaForOrigin", {"origin": phone.url})
    attach(phone, from_a_camera(), "Nameplate")
    expect(phone.page.locator(".undo")).to_contain_text("Photo")

    # An empty battery loses nothing, and the picture is seen without the server.
    phone.kill()
    phone.start()
    phone.open(f"/s/{sid}/timeline")
    shown = phone.page.locator("img.photo")
    assert shown.evaluate(WIDTH_OF) == 800
    phone.expect_link("2 entries waiting to be sent")
    # One that the server will refuse is the first to be sent; it holds up no other.
    phone.page.evaluate(PUT_A_STRANGER, sid)

    server = start_server(server.data, server.port, offline=True)
    phone.page.reload()
    phone.until(lambda: len(phone.stored("photos")) == 1, "the photo was sent")
    (path,) = (server.data / "photos").rglob("*.*")
    content = path.read_bytes()
    assert path.stem == hashlib.sha256(content).hexdigest()
    assert size_of_photo(content) == (800, 1600), "upright, and nothing in it but the picture"
    with Image.open(io.BytesIO(content)) as opened:
        color = opened.convert("RGB").getpixel((700, 800))
    assert isinstance(color, tuple)
    assert color[0] > 200 > color[2], "held on its side, red was above"
    phone.expect_link("Photos waiting to be sent: 1. No entry of this session names this photo")
    assert shown.evaluate(WIDTH_OF) == 800
    phone.open(f"/office/session/{sid}")
    assert phone.page.get_by_alt_text("Nameplate").evaluate(WIDTH_OF) == 800
    assert phone.page.locator("img.photo").count() == 1
