"""What a phone needs to work without the server, how soon it answers, and how soon the server is
there after it made the phone's script, beside the budget.

    .venv/bin/python bench/offline.py

A real Chromium uses a real `lowside serve` on this machine. For the warm tap its processes also run
a quarter of the time. Each figure is printed beside its budget. A figure over budget is marked and
makes the command fail. No test asserts a time. Taps come as a quick hand gives them: the phone has
`BETWEEN_TAPS_MS` for its work behind a tap. They post as the pages do.
"""

import os
import resource
import shutil
import subprocess
import sys
import tempfile
import time
import urllib.request
from pathlib import Path
from statistics import median

ROOT = Path(__file__).parents[1]
sys.path[:0] = [str(ROOT / "tests" / folder) for folder in ("support", "browser")]

import pytest  # noqa: E402
from playwright.sync_api import sync_playwright  # noqa: E402
from pocket_phone import PocketPhone, eid_of  # noqa: E402
from ports import free_port  # noqa: E402

from conftest import Server, launch, wait_until_ready  # noqa: E402
from lowside.cache import CACHE_VARIABLE  # noqa: E402
from lowside.core.session.taps import BY_ONE_TAP, READ_S  # noqa: E402
from lowside.demo import scenarios  # noqa: E402
from lowside.thermo.tables import properties_json, properties_json_path  # noqa: E402
from lowside.web.phone.offline import PRECACHED  # noqa: E402

KIB = 1024.0
STARTS = 5
COLD_STARTS = 25
TAPS = 40
BETWEEN_TAPS_MS = 250
CHARGING = "gym-unit-r410a-open"
"""The demo session in the middle of charging: its page has the most to work out."""
TYPICAL = 30
"""More entries, as in an ordinary session."""
LONG = 500
WAITING = 1000

TIMED_TAP = """async ([sid, number]) => {
    const eid = String(number).padStart(26, "0");
    const body = new URLSearchParams({ eid, step: "", back: "", text: `note ${number}` });
    const headers = { "HX-Request": "true" };
    const start = performance.now();
    const answer = await fetch(`/s/${sid}/form/note`, { method: "POST", body, headers });
    const page = await answer.text();
    const time = performance.now() - start;
    if (!answer.ok || !page.includes("page-charge")) throw new Error(`answered ${answer.status}`);
    return time;
}"""
TIMED_GET = """async path => {
    const start = performance.now();
    const answer = await fetch(path);
    await answer.text();
    const time = performance.now() - start;
    if (!answer.ok) throw new Error(`answered ${answer.status}`);
    return time;
}"""
NOTES = """async ([sid, first, count]) => {
    for (let n = first; n < first + count; n += 1) {
        const eid = String(n).padStart(26, "0");
        const body = new URLSearchParams({ eid, step: "", back: "", text: `note ${n}` });
        await fetch(`/s/${sid}/form/note`, { method: "POST", body, redirect: "manual" });
    }
}"""
TIMED_SYNC = """() => new Promise(resolve => {
    const start = performance.now();
    navigator.serviceWorker.addEventListener("message", event => {
        if (event.data.unsent === 0) resolve(performance.now() - start);
    });
    navigator.serviceWorker.controller.postMessage("sync");
})"""


class Report:
    """Figures beside their budget."""

    def __init__(self) -> None:
        self.over = False

    def say(self, what: str, value: float, most: float, unit: str) -> None:
        fits = value <= most
        self.over = self.over or not fits
        print(f"{what:<58} {value:8.1f} of {most:6g} {unit}{'' if fits else '   OVER BUDGET'}")


def starts(report: Report, folder: Path) -> None:
    """From the command to the first answer, with what was made before and without the script."""
    cache = folder / "cache"
    cache.mkdir()
    properties_json()  # made where they are missing; they are no part of these starts
    shutil.copy(properties_json_path(), cache)
    with pytest.MonkeyPatch.context() as patch:
        patch.setenv(CACHE_VARIABLE, str(cache))
        start(folder, "br")
        warm = [start(folder) for _ in range(STARTS)]
        cold = []
        for _ in range(STARTS):
            for file in cache.glob("phone-*.js"):
                file.unlink()
            cold.append(start(folder))
        for file in (*cache.glob("phone-*.js"), *cache.glob("worker-*.js.br")):
            file.unlink()
        whole = start(folder, "br")
    ready = median(clock for clock, _ in warm)
    later = median(clock for clock, _ in cold) - ready
    report.say("start with a warm cache, median", ready, 1.5, "s")
    report.say("cold: so much later, for the translation, median", later, 3, "s")
    print(f"{'  until the smallest script is there too':<58} {whole[0]:8.1f} s")
    told = [min(processor for _, processor in each) for each in (warm, cold, [whole])]
    print(f"{'  the same three starts, of the processor, least':<58} {told[0]:8.1f}", end=" ")
    print(f"{told[1]:.1f} {told[2]:.1f} s")


def started(folder: Path, port: int) -> Server:
    """By its command, as people start it: the servers of the tests begin with everything loaded."""
    command = [sys.executable, "-m", "lowside", "serve", "--no-qr", "--port", str(port)]
    with (folder / "log").open("wb") as log:
        process = subprocess.Popen(
            [*command, "--data", str(folder / "data")], stdout=log, stderr=subprocess.STDOUT
        )
    return Server(f"http://localhost:{port}", port, folder / "data", process, folder / "log")


def start(folder: Path, coding: str = "") -> tuple[float, float]:
    """Seconds until a new server answers; with a coding, until it sends the worker in it. Then the
    processor's time for it."""
    before, began = resource.getrusage(resource.RUSAGE_CHILDREN), time.perf_counter()
    server = started(folder, free_port())
    wait_until_ready(server)
    if coding != "":
        request = urllib.request.Request(server.url + "/sw.js")
        request.add_header("Accept-Encoding", coding)
        with urllib.request.urlopen(request) as answer:
            assert answer.headers["Content-Encoding"] == coding
    took = time.perf_counter() - began
    server.stop()
    used = resource.getrusage(resource.RUSAGE_CHILDREN)
    return took, used.ru_utime + used.ru_stime - before.ru_utime - before.ru_stime


def download(report: Report, server: Server) -> None:
    """The bytes that cross the network, as browsers ask for them where workers are allowed."""
    total = 0
    for url in ("/sw.js", *PRECACHED):
        request = urllib.request.Request(server.url + url)
        request.add_header("Accept-Encoding", "gzip, deflate, br")
        with urllib.request.urlopen(request) as answer:
            size = len(answer.read())
        if total == 0:
            print(f"{'the worker with core, templates and handbook':<58} {size / KIB:8.1f}")
        total += size
    report.say("all a field page needs", total / KIB, 150, "KB")


def answers(report: Report, phone: PocketPhone, server: Server) -> None:
    phone.open_ready()
    sid = charging(phone)
    phone.page.evaluate(NOTES, [sid, 1, TYPICAL])
    phone.expect_link("Ready for offline")
    server.stop()

    cold = []
    for _ in range(COLD_STARTS):
        phone.stop_worker()
        phone.page.wait_for_timeout(300)
        cold.append(phone.page.evaluate(TIMED_GET, f"/s/{sid}"))
    report.say("first answer after the worker was stopped, median", median(cold), 60, "ms")
    print(f"{'  its slowest and fastest':<58} {max(cold):8.1f}   {min(cold):.1f} ms")

    taps = tap_times(phone, sid, 1000)
    report.say("warm tap: form recorded and next page here, median", median(taps), 16, "ms")
    with phone.slowed_to(0.25):
        taps = tap_times(phone, sid, 2000)
    report.say("the same with a quarter of the processor, median", median(taps), 60, "ms")

    sid = phone.begin()
    phone.page.evaluate(NOTES, [sid, 10_000, LONG])
    opens = [phone.page.evaluate(TIMED_GET, f"/s/{sid}") for _ in range(9)]
    report.say(f"a session with {LONG} entries opens, median", median(opens), 100, "ms")


def charging(phone: PocketPhone) -> str:
    """A session with its first shot and reading; its sid."""
    sid = phone.begin()
    scenario = next(each for each in scenarios() if each.name == CHARGING)
    shot = ""
    for number, move in enumerate(scenario.moves):
        path = f"/s/{sid}/form/{move.form}"
        typed = {"eid": eid_of(5000 + number), "step": move.step, **move.typed}
        if move.form == "shot_open":
            shot = typed["eid"]
        if move.form == "shot_weigh":
            typed["shot"] = shot
        if move.form in BY_ONE_TAP:
            phone.page.wait_for_timeout(READ_S * 1000)
        status, _ = phone.send(path, **typed)
        assert status == 200, f"{move.form} was answered with {status}"
    phone.open(f"/s/{sid}")
    assert phone.page.locator(".page-charge").count() == 1
    return sid


def tap_times(phone: PocketPhone, sid: str, first: int) -> list[float]:
    times = []
    for number in range(first, first + TAPS):
        times.append(phone.page.evaluate(TIMED_TAP, [sid, number]))
        phone.page.wait_for_timeout(BETWEEN_TAPS_MS)
    return times


def backlog(report: Report, phone: PocketPhone, server: Server) -> None:
    unsent = len(phone.stored("unsent"))
    sid = phone.page.url.rsplit("/", 1)[1]
    phone.page.evaluate(NOTES, [sid, 20_000, WAITING - unsent])
    count = len(phone.stored("unsent"))
    again = launch(server.data, server.port, server.log, offline=True)
    wait_until_ready(again)
    seconds = phone.page.evaluate(TIMED_SYNC) / 1000.0
    again.stop()
    report.say(f"sync of {count} waiting entries", seconds, 3, "s")


def main() -> int:
    report = Report()
    with tempfile.TemporaryDirectory() as folder:
        starts(report, Path(folder))
    with tempfile.TemporaryDirectory() as folder, sync_playwright() as playwright:
        server = launch(Path(folder) / "data", free_port(), Path(folder) / "log", offline=True)
        wait_until_ready(server)
        phone = PocketPhone(playwright, server.url, Path(folder) / "phone")
        phone.start()
        try:
            download(report, server)
            answers(report, phone, server)
            backlog(report, phone, server)
        finally:
            phone.off()
            server.kill()
    # Times on a busy machine say little. Whatever else ran is part of the figure.
    print(f"load over the last minute: {os.getloadavg()[0]:.1f} on {os.cpu_count()} processors")
    return 1 if report.over else 0


if __name__ == "__main__":
    sys.exit(main())
