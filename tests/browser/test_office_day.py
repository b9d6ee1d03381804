"""A day in the office, among a few hundred sessions: find, sign off, print, export, restore.

`LOWSIDE_OFFICE_SESSIONS=100000` has it among so many, and `-rP` shows each page's time.
`LOWSIDE_OFFICE_FOLDER` names a folder of generated stores, as `bench/office.py --folder` leaves
them; the one of that size is copied, or made there. `make soak` runs it so.
"""

import csv
import io
import os
import shutil
import subprocess
import sys
from datetime import datetime, timedelta, timezone
from pathlib import Path
from typing import TYPE_CHECKING
from unicodedata import normalize

from generated_shop import began, filled, session_at
from office_cases import events, visit
from playwright.sync_api import Browser, Page, expect
from pypdf import PdfReader
from strategies import READING, Book

from lowside.outlining import outline
from lowside.store import Store

if TYPE_CHECKING:
    from .conftest import StartServer

VISITS = 300
OTHERS = int(os.environ.get("LOWSIDE_OFFICE_SESSIONS", "0"))
"""Generated sessions that the visits are among."""
FOLDER = os.environ.get("LOWSIDE_OFFICE_FOLDER", "")
STOPPED = 211
"""The one whose unit stopped on the way."""
TOOK = """() => {
  const page = performance.getEntriesByType("navigation")[0];
  return page.responseEnd - page.requestStart;
}"""
"""Until the server's whole answer was there [ms]."""
SAME_PAGES = (
    "/office",
    "/office?show=seen",
    "/office?show=all",
    "/office?show=all&sort=site",
    "/office?show=all&sort=added",
    "/office?flag=conflict",
    "/office?q=mill+lane",
    "/office?q=nobody+at+all",
    "/office/units",
    "/office/units?show=repeat",
    "/office/cylinders",
    "/office/cylinder?label=C-1",
    "/office/month?month=2026-05",
)


def shop(root: Path) -> str:
    """A store of many visits; returns the session whose unit stopped."""
    if FOLDER != "":
        made = Path(FOLDER) / str(OTHERS)
        filled(made, OTHERS)
        shutil.copytree(made, root)
    else:
        filled(root, OTHERS)
    books = [a_visit(number) for number in range(1, VISITS + 1)]
    with Store.open(root, outline) as store:
        for first in range(0, VISITS, 50):
            store.append(events(*books[first : first + 50]))
    return books[STOPPED - 1].sid


def a_visit(number: int) -> Book:
    day = f"2026-{number % 5 + 2:02d}-{number % 27 + 1:02d}"
    book = visit(
        number,
        day,
        float(number % 3),
        unit=f"AC-{number % 140}",
        site=f"{number % 7} Mill Lane",
        technician=("I. Varga", "T. Odell")[number % 2],
    )
    closing = book.events.pop()
    if number == STOPPED:
        book.form("system_stopped", 1)
    book.form("final_reading", 900.0, **READING)
    book.write(closing.kind, closing.data, 1)
    return book


def month_of(n: int) -> str:
    """Of the generated session at this place, where its unit is."""
    there = timezone(timedelta(minutes=session_at(n, OTHERS)[0].tz))
    return datetime.fromtimestamp(began(n, OTHERS) / 1000, there).strftime("%Y-%m")


def words(page: Page, address: str, took: dict[str, list[float]]) -> str:
    page.goto(address)
    took.setdefault(address, []).append(page.evaluate(TOOK))
    lines = page.locator("main").inner_text().splitlines()
    return "\n".join(line for line in lines if not line.startswith("Made "))


def test_the_office_finds_signs_off_prints_exports_and_restores(
    start_server: "StartServer", chromium: Browser, tmp_path: Path
) -> None:
    data = tmp_path / "shop"
    sid = shop(data)
    server = start_server(data)
    context = chromium.new_context(
        base_url=server.url, viewport={"width": 1280, "height": 900}, locale="en-US"
    )
    page = context.new_page()

    # Three actions: the office, the flag, the session.
    page.goto("/office")
    page.get_by_role("link", name="Unit stopped 1").click()
    rows = page.locator("tbody tr")
    expect(rows).to_have_count(1)
    rows.get_by_role("link").first.click()
    page.wait_for_url(f"**/office/session/{sid}")
    expect(page.get_by_text("Stopped once")).to_be_visible()

    page.get_by_label("Signed off by").fill("B. Chief")
    page.get_by_role("button", name="Sign off").click()
    expect(page.get_by_text("Signed off by B. Chief")).to_be_visible()

    printed = PdfReader(io.BytesIO(page.pdf(format="Letter")))
    # A font may print two letters as one, and a line may end anywhere.
    text = normalize("NFKC", " ".join(sheet.extract_text() for sheet in printed.pages))
    text = " ".join(text.split())
    for said in (f"AC-{STOPPED % 140}", "R-410A", "Signed off by B. Chief", "40 CFR"):
        assert said in text, said
    assert "Write a comment" not in text
    page.goto("/office")
    expect(page.get_by_role("link", name="Unit stopped 1")).to_have_count(0)

    page.goto("/office/month?month=2026-05")
    expect(page.get_by_role("heading", name="May 2026")).to_be_visible()
    with page.expect_download() as getting:
        page.get_by_role("link", name="CSV").click()
    exported = Path(getting.value.path()).read_text("utf-8-sig")
    tickets = {row["ticket"]: row for row in csv.DictReader(io.StringIO(exported))}
    in_may = [number for number in range(1, VISITS + 1) if number % 5 + 2 == 5]
    others = [n for n in range(OTHERS) if month_of(n) == "2026-05"]
    assert len(tickets) == len(in_may) + len(others)
    assert all(row["started"].startswith("2026-05") for row in tickets.values())

    run = (sys.executable, "-m", "lowside")
    archive, back = tmp_path / "shop.tar.gz", tmp_path / "back"
    pages = (*SAME_PAGES, f"/office/session/{sid}", f"/office/session/{sid}/record")
    took: dict[str, list[float]] = {}
    before = {address: words(page, address, took) for address in pages}
    subprocess.run((*run, "backup", str(data), "--out", str(archive)), check=True)
    server.stop()
    subprocess.run((*run, "restore", str(archive), "--data", str(back)), check=True)
    context.close()
    restored = chromium.new_context(
        base_url=start_server(back).url, viewport={"width": 1280, "height": 900}, locale="en-US"
    )
    page = restored.new_page()
    for address, shown in before.items():
        assert words(page, address, took) == shown, address
    restored.close()
    print(f"{OTHERS + VISITS:,} sessions; each page before and after the restore [ms]")
    for address, times in took.items():
        print(f"{address:60}" + "".join(f"{ms:9.1f}" for ms in times))
