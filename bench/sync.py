"""What a phone's sync costs the server, beside raw appends to the same disk in the same run.

    .venv/bin/python bench/sync.py [--requests 3200] [--phones 16]
    .venv/bin/python bench/sync.py --beside ../before

A real server runs in a process of its own; phones are connections of this process. Sessions have 40
entries. Each phone sends its own sessions: one entry a request, or a hundred. Nothing is
acknowledged before the disk has it. Give it a new folder for each run, in a place where nothing was
removed lately: docs/serving-phones.md says why. What the phones cost the processor is told beside
the server's, as both share its cores. The lists' rows are made later; a column says how long
whoever asks for a list right after waits until they have everything. A phone that hands over
entries is told few of others'; the last column is how long all phones take then until they have
everything that they are to have. A raw append opens a file, writes the lines, waits for the disk
and closes it: the least any store in files can do. Goals that are missed are marked with "!" and
make the command fail with --strict. No test asserts a time.

`--beside` names another checkout. Servers of both then answer a few requests in turn, over and
over: whatever else the machine does, it does to both. Of each the median turn is printed, and the
one that a quarter of all turns were better than.
"""

import argparse
import asyncio
import json
import os
import re
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from itertools import islice
from pathlib import Path

HERE = Path(__file__).resolve().parents[1]
sys.path[:0] = [str(HERE / "tests" / "support")]

from generated_shop import generated  # noqa: E402

from lowside.core.session.events import Event  # noqa: E402
from lowside.store.codec import event_to_json, line_of  # noqa: E402

BATCH = 100
ONE_PHONE_MS = 1.0
REQUESTS_PER_S = 1_200.0
ENTRIES_PER_S = 35_000.0
TURNS = 24
IN_A_TURN = 96
"""Requests of one entry; of a hundred: a third. Few enough that no connection idles too long."""


@dataclass
class Figure:
    """What was measured of one way to send."""

    requests: int
    entries: int
    seconds: float
    processor: float
    """Of the server [s]."""
    phones: float
    """Processor time of the phones, which are this process [s]."""
    lists_s: float
    """How long the list takes that is asked for right after [s]."""
    told_s: float
    """How long all phones take after that until they were told everything [s]."""


class Phone:
    """One connection, and what its owner has received."""

    def __init__(self, port: int, number: int) -> None:
        self._port = port
        self._number = number
        self._cursor = ""
        self._more = True

    async def follow(self) -> None:
        """Take everything there is, so that what comes later is new."""
        self._more = True
        await self.open()
        while self._more:
            await self.send(b"[]", 0)
        await self.open()

    async def open(self) -> None:
        self._in, self._out = await asyncio.open_connection("127.0.0.1", self._port, limit=1 << 24)

    async def list(self) -> None:
        """Open the office's list, which shows everything that was stored."""
        self._out.write(b"GET /office HTTP/1.1\r\nHost: localhost:%d\r\n\r\n" % self._port)
        await self._answer()

    async def send(self, entries: bytes, count: int) -> None:
        """Send these entries and be told that all are stored."""
        body = b'{"v":1,"dev":"phone-%d","cursor":"%b","events":%b}' % (
            *(self._number, self._cursor.encode(), entries),
        )
        self._out.write(
            b"POST /api/sync HTTP/1.1\r\nHost: localhost:%d\r\nContent-Type: application/json\r\n"
            b"Content-Length: %d\r\n\r\n%b" % (self._port, len(body), body)
        )
        answer = await self._answer()
        cursor = re.search(
            r'"cursor": ?"([^"]*)", ?"more": ?(true|false)', answer[-400:].decode(errors="replace")
        )
        if cursor is None or answer.count(b'"stored"') != count:
            raise SystemExit(f"not stored: {answer.decode()[:500]}")
        self._cursor, self._more = cursor[1], cursor[2] == "true"

    async def _answer(self) -> bytes:
        head = await self._in.readuntil(b"\r\n\r\n")
        length = re.search(rb"(?i)content-length: (\d+)", head)
        if not head.startswith(b"HTTP/1.1 200 ") or length is None:
            raise SystemExit(f"the server answered {head.decode()}")
        return await self._in.readexactly(int(length[1]))


def raw_appends(folder: Path, lines: list[bytes], appends: int) -> float:
    """Appends a second of these lines, each waited for, to files of 40 in turn."""
    began = time.perf_counter()
    for count in range(appends):
        file = os.open(folder / f"raw-{count // 40}", os.O_WRONLY | os.O_APPEND | os.O_CREAT, 0o600)
        os.write(file, b"".join(lines))
        os.fsync(file)
        os.close(file)
    return appends / (time.perf_counter() - began)


def processor_s(pid: int) -> float:
    """Processor time that a process has used [s]."""
    return time.clock_gettime(~pid << 3 | 2)  # as clock_getcpuclockid(3) makes the clock's name


async def measured(
    port: int, pid: int, sessions: Iterator[list[Event]], phones: int, batch: int, requests: int
) -> Figure:
    """So many phones send as fast as they are answered."""
    each = requests // phones
    bodies = [list(islice(encoded(sessions, n, batch), each)) for n in range(phones)]
    all_phones = [Phone(port, n) for n in range(phones)]
    await asyncio.gather(*(phone.follow() for phone in all_phones))
    began, working, asking = time.perf_counter(), processor_s(pid), time.process_time()

    async def send(phone: Phone, entries: list[bytes]) -> None:
        for one in entries:
            await phone.send(one, batch)

    await asyncio.gather(*map(send, all_phones, bodies))
    ended, worked, asked = time.perf_counter(), processor_s(pid), time.process_time()
    await all_phones[0].list()
    listed = time.perf_counter()
    await asyncio.gather(*(phone.follow() for phone in all_phones))
    return Figure(
        each * phones,
        each * phones * batch,
        ended - began,
        worked - working,
        asked - asking,
        listed - ended,
        time.perf_counter() - listed,
    )


def encoded(sessions: Iterator[list[Event]], phone: int, batch: int) -> Iterator[bytes]:
    """Lists of so many entries of this phone, as they are sent."""
    written = (
        json.dumps(event_to_json(event) | {"dev": f"phone-{phone}"}).encode()
        for events in sessions
        for event in events
    )
    while True:
        yield b"[" + b",".join(islice(written, batch)) + b"]"


class Side:
    """The server of a checkout, the phones that ask it, and what each turn cost."""

    def __init__(self, folder: Path, checkout: Path, phones: int, batch: int) -> None:
        self.server, port = served(folder, checkout)
        self._phones = [Phone(port, n) for n in range(phones)]
        sessions = generated(1_000_000)
        self._lists = [encoded(sessions, n, batch) for n in range(phones)]
        self._batch = batch
        self._each = (IN_A_TURN if batch == 1 else IN_A_TURN // 3) // phones
        self.processor_ms: list[float] = []
        self.waited_ms: list[float] = []
        """Of each request, all phones' side by side."""

    async def follow(self) -> None:
        for phone in self._phones:
            await phone.follow()

    async def turn(self) -> None:
        bodies = [list(islice(lists, self._each)) for lists in self._lists]
        began, working = time.perf_counter(), processor_s(self.server.pid)

        async def send(phone: Phone, entries: list[bytes]) -> None:
            for one in entries:
                await phone.send(one, self._batch)

        await asyncio.gather(*map(send, self._phones, bodies))
        requests = self._each * len(self._phones)
        self.processor_ms.append(1000 * (processor_s(self.server.pid) - working) / requests)
        self.waited_ms.append(1000 * (time.perf_counter() - began) / requests)

    def line(self) -> str:
        """What the turns cost but for the first, which warms up."""
        processor, waited = sorted(self.processor_ms[1:]), sorted(self.waited_ms[1:])
        quarter, middle = len(waited) // 4, len(waited) // 2
        per_s = [1000 * self._batch / one for one in waited]
        return (
            f"{processor[middle]:14.2f}{processor[quarter]:14.2f}"
            f"{per_s[middle]:14.0f}{per_s[quarter]:14.0f}"
        )


async def in_turns(sides: list[Side]) -> None:
    for side in sides:
        await side.follow()
    for turn in range(TURNS):
        for side in sides if turn % 2 == 0 else reversed(sides):
            await side.turn()


def beside(folder: Path, checkouts: dict[str, Path], phones: int) -> None:
    """Print what requests cost in each of these checkouts."""
    print(f"{'':40}{'ms a request':>14}{'best quarter':>14}{'entries/s':>14}{'best quarter':>14}")
    for batch in (1, BATCH):
        for count in (1, phones):
            sides: dict[str, Side] = {}
            try:
                for name, checkout in checkouts.items():
                    place = folder / f"{name}-{count}-{batch}"
                    sides[name] = Side(place, checkout, count, batch)
                asyncio.run(in_turns(list(sides.values())))
            finally:
                for side in sides.values():
                    side.server.terminate()
                    side.server.wait()
            for name, side in sides.items():
                print(f"{f'{count} phones, {batch} a request: {name}':40}{side.line()}")
    print(f"load {os.getloadavg()[0]:.1f}, {os.cpu_count()} cores")


def served(folder: Path, checkout: Path = HERE) -> tuple[subprocess.Popen[str], int]:
    """A server of a new store, and its port."""
    server = subprocess.Popen(
        [sys.executable, "-m", "lowside", "serve", "--data", str(folder), "--port", "0"],
        stdout=subprocess.PIPE,
        text=True,
        env=os.environ | {"PYTHONPATH": str(checkout / "src")},
    )
    assert server.stdout is not None
    for line in server.stdout:
        found = re.search(r"http://localhost:(\d+)/", line)
        if found is not None:
            return server, int(found[1])
    raise SystemExit("the server did not start")


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0] if __doc__ else "")
    parser.add_argument(
        "--requests", type=int, default=3200, help="of one entry; of a hundred: a tenth"
    )
    parser.add_argument("--phones", type=int, default=16)
    parser.add_argument("--folder", type=Path, help="on the disk to measure")
    parser.add_argument("--beside", type=Path, help="another checkout, measured in turn")
    parser.add_argument("--strict", action="store_true", help="fail when a goal is missed")
    chosen = parser.parse_args()
    if chosen.beside is not None:
        with tempfile.TemporaryDirectory(dir=chosen.folder) as made:
            checkouts = {"there": chosen.beside.resolve(), "here": HERE}
            beside(Path(made), checkouts, chosen.phones)
        return 0
    sessions = generated(1_000_000)
    lines = [line_of(event) for events in islice(generated(10), 3) for event in events][:BATCH]
    with tempfile.TemporaryDirectory(dir=chosen.folder) as made:
        folder = Path(made)
        server, port = served(folder / "data")
        try:

            def sent(phones: int, batch: int) -> tuple[Figure, float]:
                """What was measured, beside raw appends of as many entries just before."""
                requests = chosen.requests if batch == 1 else chosen.requests // 10
                raw = raw_appends(folder, lines[-batch:], requests)
                return asyncio.run(
                    measured(port, server.pid, sessions, phones, batch, requests)
                ), raw

            found = [sent(1, 1), sent(chosen.phones, 1), sent(1, BATCH), sent(chosen.phones, BATCH)]
        finally:
            server.terminate()
            server.wait()
    return printed(found, chosen.phones, chosen.strict)


def printed(found: list[tuple[Figure, float]], phones: int, strict: bool) -> int:
    """The table; 1 when a goal is missed and that matters."""
    goals: list[Callable[[Figure], bool]] = [
        lambda one: 1000 * one.processor / one.requests <= ONE_PHONE_MS,
        lambda one: one.requests / one.seconds >= REQUESTS_PER_S,
        lambda _one: True,
        lambda one: one.entries / one.seconds >= ENTRIES_PER_S,
    ]
    names = [f"{n}, {b} a request" for b in (1, BATCH) for n in ("one phone", f"{phones} phones")]
    print(f"load {os.getloadavg()[0]:.1f}, {os.cpu_count()} cores")
    print(
        f"{'':28}{'ms a request':>14}{'of phones, ms':>15}{'requests/s':>12}{'entries/s':>12}"
        f"{'of raw appends':>16}{'list after, s':>15}{'told after, s':>15}"
    )
    missed = False
    for name, (one, raw), goal in zip(names, found, goals, strict=True):
        bad = "" if goal(one) else " !"
        missed = missed or bad != ""
        per_s = one.requests / one.seconds
        print(
            f"{name:28}{1000 * one.processor / one.requests:14.2f}"
            f"{1000 * one.phones / one.requests:15.2f}{per_s:12.0f}"
            f"{one.entries / one.seconds:12.0f}{per_s / raw:16.3f}{one.lists_s:15.2f}"
            f"{one.told_s:15.2f}{bad}"
        )
    print(f"raw appends a second: {found[0][1]:.0f} of one entry, {found[-1][1]:.0f} of {BATCH}")
    print(
        f"goals: {ONE_PHONE_MS:.0f} ms of processor a request; {REQUESTS_PER_S:.0f} requests/s and "
        f"{ENTRIES_PER_S:.0f} entries/s from {phones} phones"
    )
    return 1 if missed and strict else 0


if __name__ == "__main__":
    sys.exit(main())
