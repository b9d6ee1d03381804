"""Two servers and one PostgreSQL as a shop grows: 200 phones, pages, memory, beside raw INSERTs.

    python bench/scale.py [--sizes 10000x40,100000x40,1000000x4] [--phones 200]

A size is sessions x entries. PostgreSQL makes the entries itself, from one session of the demo
under other names, with their checksums, on the disk of the temporary folder, with fsync on: a
million entries take about 1.5 GB. Phones are tasks of this process. Each has a session of its own
and sends its next entry when the last one is acknowledged. First they type: an entry every 20
seconds each. Then all of them send as fast as they are answered.
"""

import argparse
import asyncio
import json
import os
import statistics
import subprocess
import sys
import tempfile
import time
import urllib.request
from collections.abc import Iterator
from contextlib import ExitStack, contextmanager
from pathlib import Path
from typing import Any

import psycopg

sys.path += [str(Path(__file__).parents[1] / "tests" / "support")]

from generated_shop import generated
from postgres import (
    COUNTED,
    FAULTLESS,
    MARKS,
    ROWS,
    SESSIONS,
    TEXTS,
    TICKETS,
    UNCOUNTED,
    UNITS,
    questions,
)
from postgres_cluster import Cluster, running_cluster
from store_cases import event, ulid

from lowside.core.office.cylinders import FOR_CHARGING
from lowside.outlining import ANY, AT_UNIT, CYLINDER, LOOK, SUMMARY, VISIT, outline
from lowside.store import event_to_json
from lowside.store.codec import SUM_LENGTH, canonical_event
from lowside.store.cursor import CHAIN_LENGTH, Cursor, written
from lowside.store.outline import rules_of
from lowside.store.postgres.migrating import prepare
from lowside.store.postgres.read_logs import body_and_sum
from lowside.store.postgres.store import PostgresStore
from lowside.store.searching import TEXT, TICKET
from lowside.web.office.links import cylinder_href, unit_href

TYPES_EVERY_S = 20.0
TYPES_FOR_S = 60.0
AT_ONCE = 5
"""Entries of each phone when all send as fast as they can."""
RAW = 300
"""Rows of the comparison."""
ENTRIES = f"""
INSERT INTO events SELECT %(shop)s, sid, dev, seq, place, made.body,
  left(encode(sha256(convert_to(made.body, 'UTF8')), 'hex'), {SUM_LENGTH})
FROM generate_series(%(first)s::bigint, %(last)s::bigint) AS n, lpad(n::text, 26, '0') AS sid,
  model, replace(model.body, %(sid)s, sid) AS made(body)
"""
ARRIVALS = f"""
INSERT INTO arrivals SELECT %(shop)s, (n - 1) * %(each)s + place, lpad(n::text, 26, '0'), dev, seq,
  left(md5(n::text || ' ' || place), {CHAIN_LENGTH})
FROM generate_series(%(first)s::bigint, %(last)s::bigint) AS n, model
"""
"""Their chain is none, so `check-store` would complain. Nothing here follows it."""
REAL_ROWS = ROWS.replace(
    "repeat('v', 300)", "replace(%(values)s::jsonb ->> kind, %(sid)s, lpad(n::text, 26, '0'))"
)
OFFICE_ROWS = """
INSERT INTO derived SELECT shop, kind,
  CASE kind WHEN %(at_unit)s THEN unit_key ELSE %(charging)s || E'\\n' || cylinder_key END,
  begun, sid, 0, replace(replace(%(values)s::jsonb ->> kind, %(sid)s, sid), %(label)s, cylinder)
FROM sessions, unnest(ARRAY[%(at_unit)s, %(cylinder)s]) AS kind WHERE shop = %(shop)s
"""
"""For a unit's and a cylinder's page: ten sessions at each unit, twenty with each cylinder."""
CYLINDERS = """
INSERT INTO cylinders SELECT shop, %(charging)s || E'\\n' || cylinder_key, max(begun),
  %(row)s::jsonb ->> 'refrigerant', %(charging)s, %(row)s::jsonb ->> 'place',
  (%(row)s::jsonb ->> 'stock_kg')::float, NULL, %(row)s::jsonb ->> 'shows',
  replace(replace(%(row)s::jsonb ->> 'value', %(sid)s, max(sid)), %(label)s, min(cylinder))
FROM sessions WHERE shop = %(shop)s GROUP BY shop, cylinder_key
"""
PIECE = 10_000
PAGES = (
    "/office",
    "/office?show=all&sort=added",
    "/office/units",
    unit_href("Site 7", "AC 71"),
    cylinder_href("C-35", FOR_CHARGING),
    "/office/cylinders",
)


def filled(cluster: Cluster, sessions: int, each: int) -> str:
    """A shop with so many sessions of so many entries; its address."""
    shop = f"n{sessions}"
    prepare(cluster.address("lowside"), shop, shop)
    whole = next(generated(1))
    model = whole[:each]
    values = {"shop": shop, "n": sessions, "visit": VISIT, "look": LOOK, "any": ANY}
    values |= {"summary": SUMMARY, "sid": model[0].sid, "each": each}
    values |= {"text": TEXT, "ticket": TICKET}
    rows = {row.kind: row.value for row in outline(whole).derived}  # also of a part
    kinds = (VISIT, SUMMARY, AT_UNIT, CYLINDER)
    values["values"] = json.dumps({kind: rows.get(kind, "") for kind in kinds})
    (label,) = {one.data["cylinder_label"] for one in whole if "cylinder_label" in one.data}
    values |= {"label": label, "at_unit": AT_UNIT, "cylinder": CYLINDER, "charging": FOR_CHARGING}
    rules = rules_of(outline)
    assert rules.cylinders is not None
    made = rules.cylinders.make([rows[CYLINDER]], [])
    assert made is not None
    values["row"] = json.dumps(made._replace(shows=f",{made.shows},")._asdict())
    with psycopg.connect(cluster.address("lowside"), autocommit=True) as owner:
        owner.execute("CREATE TEMPORARY TABLE model (place int, dev text, seq int, body text)")
        for place, one in enumerate(model, start=1):
            row = (place, one.dev, one.seq, canonical_event(one).decode())
            owner.execute("INSERT INTO model VALUES (%s, %s, %s, %s)", row)
        for first in range(1, sessions + 1, PIECE):
            piece = values | {"first": first, "last": min(first + PIECE - 1, sessions)}
            for statement in (ENTRIES, ARRIVALS):
                owner.execute(statement.encode(), piece)
        filling = (
            SESSIONS,
            UNCOUNTED,
            REAL_ROWS,
            OFFICE_ROWS,
            TEXTS,
            TICKETS,
            MARKS,
            COUNTED,
            UNITS,
        )
        for statement in (*filling, CYLINDERS):
            owner.execute(statement.encode(), values)
        done = (sessions * each, rules.version or "", shop)
        owner.execute("UPDATE shops SET arrived = %s, rules = %s WHERE shop = %s", done)
        owner.execute("VACUUM ANALYZE")
        owner.execute("CHECKPOINT")
    return cluster.address("lowside", shop)


def raw(cluster: Cluster) -> dict[str, float]:
    """Rows a second of the same server without Lowside."""
    rows = [(ulid(1), "d", n, n, *body_and_sum(event(n))) for n in range(1, RAW + 1)]
    columns = "(sid text, dev text, seq bigint, place bigint, body text, sum text)"
    with psycopg.connect(cluster.address("lowside"), autocommit=True) as owner:
        owner.execute(f"CREATE TABLE raw {columns}")
        began = time.perf_counter()
        for row in rows:
            owner.execute("INSERT INTO raw VALUES (%s, %s, %s, %s, %s, %s)", row)
        inserted = time.perf_counter()
        with owner.cursor().copy("COPY raw FROM STDIN") as to:
            for row in rows * 50:
                to.write_row(row)
        copied = time.perf_counter()
        owner.execute("DROP TABLE raw")
    return {"INSERT": RAW / (inserted - began), "COPY": 50 * RAW / (copied - inserted)}


class Server:
    """A `lowside serve` process."""

    def __init__(self, process: "subprocess.Popen[bytes]", port: int) -> None:
        self.process = process
        self.port = port

    def megabytes(self) -> float:
        """The most memory it has had so far."""
        status = Path(f"/proc/{self.process.pid}/status").read_text()
        (line,) = [line for line in status.splitlines() if line.startswith("VmHWM")]
        return int(line.split()[1]) / 1024.0


@contextmanager
def served(address: str) -> Iterator[Server]:
    with tempfile.TemporaryDirectory() as folder:
        process = subprocess.Popen(
            [
                *(sys.executable, "-m", "lowside", "serve", "--store", address),
                *("--data", folder, "--port", "0", "--no-qr"),
            ],
            stdout=subprocess.PIPE,
        )
        try:
            assert process.stdout is not None
            said = process.stdout.readline().decode()
            yield Server(process, int(said.rstrip("/\n").rpartition(":")[2]))
        finally:
            process.terminate()
            process.communicate()


class Phone:
    """Sends one entry after another over one connection."""

    def __init__(self, number: int, server: Server, cursor: str) -> None:
        self._sid = ulid(number + 1, 1_765_000_000_000)
        self._dev = f"phone-{number}"
        self._seq = 0
        self._server = server
        self._cursor = cursor
        self.waited: list[float] = []

    async def _open(self) -> None:
        self._from, self._to = await asyncio.open_connection("127.0.0.1", self._server.port)

    async def type(self, late_s: float) -> None:
        await asyncio.sleep(late_s)
        for _ in range(int(TYPES_FOR_S / TYPES_EVERY_S)):
            began = time.monotonic()
            await self._open()
            await self._sync()
            self._to.close()  # nothing is held open so long
            await asyncio.sleep(max(0.0, began + TYPES_EVERY_S - time.monotonic()))

    async def send_all(self) -> None:
        await self._open()
        for _ in range(AT_ONCE):
            await self._sync()

    async def look(self) -> None:
        """As an open page does every 15 seconds: it takes what is new."""
        await self._open()
        for _ in range(AT_ONCE):
            await self._ask([])

    async def _sync(self) -> None:
        self._seq += 1
        names = {"site": f"Site {self._dev}", "unit_label": "AC", "technician": self._dev}
        sent = event(self._seq, sid=self._sid, dev=self._dev, kind="note.added", text="x", **names)
        verdicts = await self._ask([event_to_json(sent)])
        assert verdicts[0]["outcome"] == "stored", verdicts

    async def _ask(self, events: list[object]) -> Any:
        content = json.dumps(
            {"v": 1, "dev": self._dev, "cursor": self._cursor, "events": events}
        ).encode()
        head = (
            "POST /api/sync HTTP/1.1\r\nHost: localhost\r\nContent-Type: application/json\r\n"
            f"Content-Length: {len(content)}\r\n\r\n"
        )
        began = time.perf_counter()
        self._to.write(head.encode() + content)
        status, answer = await self._answer()
        self.waited.append(time.perf_counter() - began)
        if status != 200:
            raise SystemExit(f"a phone was answered with {status}: {answer[:300]!r}")
        found = json.loads(answer)
        self._cursor = found["cursor"]
        return found["verdicts"]

    async def _answer(self) -> tuple[int, bytes]:
        head = (await self._from.readuntil(b"\r\n\r\n")).decode().lower()
        length = int(head.partition("content-length:")[2].partition("\r\n")[0])
        return int(head.split()[1]), await self._from.readexactly(length)


def processor_s(pid: int) -> float:
    """Of a process and of those it started [s]."""
    spent = 0.0
    for stat in Path("/proc").glob("[0-9]*/stat"):
        try:
            fields = stat.read_text().rpartition(")")[2].split()
        except OSError:
            continue  # it has just ended
        if stat.parent.name == str(pid):
            spent += sum(map(int, fields[11:15]))  # and of those that ended
        elif fields[1] == str(pid):
            spent += sum(map(int, fields[11:13]))
    return spent / os.sysconf("SC_CLK_TCK")


async def phones(servers: list[Server], database: int, count: int, cursor: str) -> dict[str, float]:
    """What phones waited for [ms], and how many entries a second were taken."""
    found: dict[str, float] = {}
    every = [Phone(n, servers[n % len(servers)], cursor) for n in range(count)]
    pace = TYPES_EVERY_S / count
    await asyncio.gather(*(phone.type(n * pace) for n, phone in enumerate(every)))
    found |= waits("typing", every)
    for what in ("an entry", "a look"):
        parts = {"servers": [one.process.pid for one in servers], "database": [database]}
        before = {part: sum(map(processor_s, pids)) for part, pids in parts.items()}
        began = time.perf_counter()
        if what == "an entry":
            await asyncio.gather(*(phone.send_all() for phone in every))
            found["all at once: entries a second"] = count * AT_ONCE / (time.perf_counter() - began)
            found |= waits("all at once", every)
        else:
            await asyncio.gather(*(phone.look() for phone in every))
        for part, pids in parts.items():
            spent = sum(map(processor_s, pids)) - before[part]
            found[f"{what}: processor of the {part}, ms"] = spent * 1000.0 / (count * AT_ONCE)
    return found


def waits(when: str, every: list[Phone]) -> dict[str, float]:
    waited = sorted(each * 1000.0 for phone in every for each in phone.waited)
    for phone in every:
        phone.waited.clear()
    return {
        f"{when}: median wait, ms": statistics.median(waited),
        f"{when}: 99 of 100 wait less than, ms": waited[int(len(waited) * 0.99)],
    }


def asked_ms(server: Server, page: str) -> float:
    began = time.perf_counter()
    with urllib.request.urlopen(f"http://localhost:{server.port}{page}") as answer:
        answer.read()
    return (time.perf_counter() - began) * 1000.0


def measured(cluster: Cluster, sessions: int, each: int, count: int) -> dict[str, float]:
    began = time.perf_counter()
    address = filled(cluster, sessions, each)
    print(f"{sessions} x {each}: made in {time.perf_counter() - began:.0f} s", file=sys.stderr)
    found: dict[str, float] = {"entries": sessions * each}
    with psycopg.connect(cluster.address("lowside")) as owner:
        text = "SELECT pg_database_size('lowside')"
        found["database so far, GB"] = (owner.execute(text).fetchone() or (0,))[0] / 1e9
    rates = raw(cluster)
    with PostgresStore.open(address, outline) as store:
        # Of phones that were here before: a new one is sent the open sessions first.
        cursor = store.ask(lambda tables: written(Cursor(tables.head()), tables))
    with ExitStack() as stack:
        servers = [stack.enter_context(served(address)) for _ in range(2)]
        assert cluster.process is not None
        found |= asyncio.run(phones(servers, cluster.process.pid, count, cursor))
        taken = found["all at once: entries a second"]
        for name, rate in rates.items():
            found[f"single {name}: rows a second"] = rate
            found[f"all at once, beside {name}"] = taken / rate
        for page in PAGES:
            spent = [asked_ms(servers[0], page) for _ in range(9)]
            found[f"{page}, first, ms"] = spent[0]
            found[f"{page}, median, ms"] = statistics.median(spent)
        found["memory of a server, MB"] = max(server.megabytes() for server in servers)
    with PostgresStore.open(address, outline) as store:
        for name, ask in questions(store, sessions).items():
            spent = []
            for _ in range(9):
                began = time.perf_counter()
                ask()
                spent.append(time.perf_counter() - began)
            found[f"{name}, ms"] = statistics.median(spent) * 1000.0
    return found


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--sizes", default="10000x40")
    parser.add_argument("--phones", type=int, default=200)
    chosen = parser.parse_args()
    sizes = [tuple(map(int, size.split("x"))) for size in chosen.sizes.split(",")]
    settings = (*FAULTLESS, "max_wal_size=4GB", "max_connections=60")
    with running_cluster(*settings, within=Path(tempfile.gettempdir())) as cluster:
        columns = [measured(cluster, n, each, chosen.phones) for n, each in sizes]
    print(f"{'':45}" + "".join(f"{n:>11,} x {each:<3}" for n, each in sizes))
    for name in columns[0]:
        print(f"{name:45}" + "".join(f"{shown(column[name]):>15} " for column in columns))


def shown(value: float) -> str:
    return f"{value:,.1f}" if value >= 1.0 else f"{value:.4f}"


if __name__ == "__main__":
    main()
