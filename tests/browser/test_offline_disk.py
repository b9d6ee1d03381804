"""A phone whose disk is really full: what was said to be kept is still there after it."""

import os
import subprocess
from collections.abc import Iterator
from pathlib import Path
from typing import TYPE_CHECKING

import pytest
from playwright.sync_api import Playwright
from pocket_phone import PocketPhone, eid_of, notes_of, without_errors

from lowside.store.codec import event_to_json, read_events

if TYPE_CHECKING:
    from conftest import StartServer

DISK = "size=96m"
MOST_NOTES = 400
BLOCK = bytes(65_536)


@pytest.fixture
def small_disk(tmp_path: Path) -> Iterator[Path]:
    """A file system of its own that a test can fill to the last byte."""
    folder = tmp_path / "disk"
    folder.mkdir()
    mount = ["mount", "-t", "tmpfs", "-o", DISK, "tmpfs", str(folder)]
    done = subprocess.run(mount, capture_output=True, text=True, check=False)
    if done.returncode != 0:
        pytest.skip(f"only root can mount a small disk to fill: {done.stderr.strip()}")
    yield folder
    subprocess.run(["umount", "--lazy", str(folder)], check=True)


def test_a_full_disk_costs_nothing_that_was_kept(
    start_server: "StartServer", playwright: Playwright, small_disk: Path
) -> None:
    server = start_server(offline=True)
    phone = PocketPhone(playwright, server.url, small_disk / "profile")
    phone.start()
    try:
        phone.open_ready()
        server.stop()
        sid = phone.begin()
        for number in range(1, 11):
            phone.note(sid, number)
        fill_up(small_disk)
        kept, refused = write_until_refused(phone, sid)
        assert refused
        # Once it has failed, nothing more is written, whatever is tapped.
        assert send(phone, sid, 900) == 503
        phone.kill()

        # Opened while still full: this is when a browser may throw its databases away.
        phone.start()
        phone.open()
        phone.kill()

        (small_disk / "filler").unlink()
        phone.start()
        phone.open()
        # The refused one may be there, until the browser has cleared up what the disk broke off:
        # it could not be taken back any more. Sent again it is the same event.
        assert sorted(notes_of(phone.stored("events"))) in (kept, [*kept, refused])
        phone.note(sid, 901)
        phone.kill()

        start_server(server.data, server.port, offline=True)
        phone.start()
        phone.open()
        phone.expect_link("Ready for offline")
        assert sorted(notes_on(server.data, sid)) in ([*kept, 901], [*kept, refused, 901])
        assert without_errors(phone.said) == []
    finally:
        phone.off()


def write_until_refused(phone: PocketPhone, sid: str) -> tuple[list[int], int]:
    """Notes from 1 on that were kept, and the one that was refused in the end, or 0."""
    kept = list(range(1, 11))
    for number in range(11, MOST_NOTES):
        if send(phone, sid, number) == 503:
            return kept, number
        kept.append(number)
    return kept, 0


def send(phone: PocketPhone, sid: str, number: int) -> int:
    typed = {"eid": eid_of(number), "text": f"note {number}"}
    return phone.send(f"/s/{sid}/form/note", **typed)[0]


def fill_up(folder: Path) -> None:
    """Leave not a byte."""
    with (folder / "filler").open("wb", buffering=0) as filler:
        for block in (BLOCK, BLOCK[:1]):
            try:
                while True:
                    filler.write(block)
            except OSError:
                continue
    assert os.statvfs(folder).f_bavail == 0


def notes_on(data: Path, sid: str) -> list[int]:
    (path,) = (data / "sessions").rglob(f"{sid}.jsonl")
    events, problems = read_events(path)
    assert problems == []
    return notes_of([event_to_json(event) for event in events])
