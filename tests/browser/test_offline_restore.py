"""A server that was restored from a copy gets back from the phone what it lost."""

import shutil
from pathlib import Path
from typing import TYPE_CHECKING
from urllib.parse import urlencode
from urllib.request import urlopen

from pocket_phone import PocketPhone, notes_of

from lowside.store.codec import event_to_json, read_events

if TYPE_CHECKING:
    from conftest import NewPhone, Server, StartServer


def notes_at(server: "Server", sid: str) -> list[int]:
    found = []
    for path in (server.data / "sessions").rglob(f"{sid}.jsonl"):
        events, problems = read_events(path)
        assert problems == []
        found += [event_to_json(event) for event in events]
    return sorted(notes_of(found))


def note_on_server(server: "Server", sid: str, number: int) -> None:
    """Saved on the server's own page, as by a browser without an offline copy."""
    typed = {"eid": f"{number:026}", "step": "", "back": "", "text": f"note {number}"}
    body = urlencode(typed).encode()
    with urlopen(f"{server.url}/s/{sid}/form/note", body) as answer:
        assert answer.status == 200


def phone_shows(phone: PocketPhone, text: str) -> bool:
    phone.page.reload()
    return text in phone.page.inner_text("main")


def test_a_restored_server_is_sent_again_what_it_lost(
    new_phone: "NewPhone", start_server: "StartServer", tmp_path: Path
) -> None:
    server = start_server(offline=True)
    phone = new_phone(server.url)
    phone.open_ready()
    sid = phone.begin()
    phone.note(sid, 1)
    phone.until_sent()

    server.stop()
    copy = tmp_path / "copy"
    shutil.copytree(server.data, copy)
    server = start_server(server.data, server.port, offline=True)
    phone.open(f"/s/{sid}")
    phone.note(sid, 2)
    lost = phone.begin()
    phone.note(lost, 3)
    phone.until_sent()
    note_on_server(server, sid, 4)
    phone.open(f"/s/{sid}/timeline")
    phone.until(lambda: phone_shows(phone, "note 4"), "the phone has the server's note")
    assert (notes_at(server, sid), notes_at(server, lost)) == ([1, 2, 4], [3])

    server.stop()
    shutil.rmtree(server.data)
    shutil.copytree(copy, server.data)
    server = start_server(server.data, server.port, offline=True)
    assert (notes_at(server, sid), notes_at(server, lost)) == ([1], [])
    note_on_server(server, sid, 5)  # before the phone is back: its number is not that of note 4
    phone.open()
    phone.until(
        lambda: notes_at(server, sid) == [1, 2, 4, 5] and notes_at(server, lost) == [3],
        "the server has everything again",
    )
    phone.until_sent()
    phone.open(f"/s/{sid}/timeline")
    phone.until(lambda: phone_shows(phone, "note 5"), "the phone has what came after the restore")
    assert phone_shows(phone, "note 4")
    assert list((server.data / "quarantine").glob("*")) == []
