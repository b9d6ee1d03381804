"""The store in PostgreSQL: saves beside the same server's own, and lists as a shop grows.

    python bench/postgres.py [--sizes 10000,100000,1000000]

It makes a PostgreSQL of its own in a temporary folder, with fsync on, and removes it at the end.
Saves are real ones. For the lists, rows are made by the database itself: as many sessions as asked
for, ten for each unit, a hundred for each technician, one in twenty with a flag.
"""

import argparse
import statistics
import sys
import tempfile
import time
from collections.abc import Callable, Iterator
from concurrent.futures import ThreadPoolExecutor
from contextlib import ExitStack
from pathlib import Path

import psycopg

sys.path.append(str(Path(__file__).parents[1] / "tests" / "support"))

from postgres_cluster import Cluster, running_cluster
from store_cases import event, outline, ulid

from lowside.outlining import ANY, LOOK, SUMMARY, VISIT
from lowside.store import lists
from lowside.store.outline import unit_key
from lowside.store.postgres.migrating import prepare
from lowside.store.postgres.read_logs import body_and_sum
from lowside.store.postgres.store import PostgresStore
from lowside.store.searching import TEXT, TICKET
from lowside.store.selection import BY_SITE, Selection

SAVES = 300
"""Of each kind."""
ASKED = 15
"""Times each list is asked for; the middle one counts."""
FAULTLESS = ("fsync=on", "full_page_writes=on", "autovacuum=on", "shared_buffers=256MB")
SESSIONS = """
INSERT INTO sessions (shop, sid, damaged, events, last_hlc, begun, words, cylinder_key, unit_key,
  site, unit_label, technician, refrigerant, cylinder, started, closed, added_kg, practice, session)
SELECT %(shop)s, lpad(n::text, 26, '0'), 0, 40, '00' || n, n,
  'site ' || n / 100 || E'\\nac ' || n / 10 || E'\\ntechnician ' || n %% 1000 || E'\\n'
    || lower(refrigerant),
  'c-' || n / 20, 'site ' || n / 100 || E'\\nac ' || n / 10,
  'Site ' || n / 100, 'AC ' || n / 10, 'Technician ' || n %% 1000, refrigerant, 'C-' || n / 20,
  n, CASE WHEN n %% 50 > 0 THEN n + 1 END, 0.5, false, true
FROM generate_series(1, %(n)s) AS n, LATERAL (
  SELECT CASE WHEN n %% 100 = 0 THEN 'R-134a' WHEN n / 100 %% 40 = 1 THEN 'R-32' ELSE 'R-410A' END
) AS inside(refrigerant)
"""
"""Of a hundred sessions one has R-134a; of forty sites one has R-32."""
ROWS = """
INSERT INTO derived SELECT %(shop)s, kind, CASE kind WHEN %(visit)s THEN
  'site ' || n / 100 || E'\\nac ' || n / 10 WHEN %(look)s THEN %(any)s ELSE '' END, n,
  lpad(n::text, 26, '0'), 0, CASE kind WHEN %(look)s THEN '' ELSE repeat('v', 300) END
FROM generate_series(1, %(n)s) AS n, unnest(ARRAY[%(visit)s, %(summary)s, %(look)s]) AS kind
WHERE kind <> %(look)s OR n %% 20 = 0
"""
TEXTS = """
INSERT INTO derived SELECT shop, %(text)s, text, begun, sid, 0, ''
FROM sessions, unnest(string_to_array(words, E'\\n')) AS text WHERE shop = %(shop)s
"""
TICKETS = """
INSERT INTO derived SELECT shop, %(ticket)s, right(sid, 6), begun, sid, 0, '1'
FROM sessions WHERE shop = %(shop)s
"""
MARKS = """
INSERT INTO marks SELECT shop, kind, key, count(*) FROM derived
WHERE shop = %(shop)s AND value = '' GROUP BY shop, kind, key
"""
UNCOUNTED = "ALTER TABLE derived DISABLE TRIGGER mark_put"
COUNTED = "ALTER TABLE derived ENABLE TRIGGER mark_put"
UNITS = """
INSERT INTO units SELECT %(shop)s, unit_key, min(site), min(unit_label), count(*), count(*),
  sum(added_kg), max(begun) FROM sessions WHERE shop = %(shop)s GROUP BY unit_key
"""


def seconds(work: Callable[[], object]) -> float:
    began = time.perf_counter()
    work()
    return time.perf_counter() - began


def saves(cluster: Cluster) -> Iterator[tuple[str, float]]:
    """How many entries a second, by how they are saved."""
    addresses = [cluster.address("lowside", f"s{n}") for n in range(4)]
    for n in range(4):
        prepare(cluster.address("lowside"), f"s{n}", f"s{n}")
    rows = [(ulid(1), "d", n, n, *body_and_sum(event(n))) for n in range(1, SAVES + 1)]
    columns = "(shop text, sid text, dev text, seq bigint, place bigint, body text, sum text)"
    with psycopg.connect(cluster.address("lowside"), autocommit=True) as owner:
        owner.execute(f"CREATE TABLE raw {columns}")
        put = "INSERT INTO raw VALUES ('s', %s, %s, %s, %s, %s, %s)"
        yield (
            "single-row INSERT, one connection",
            SAVES / seconds(lambda: [owner.execute(put, row) for row in rows]),
        )

        def copy() -> None:
            with owner.cursor().copy("COPY raw (sid, dev, seq, place, body, sum) FROM STDIN") as to:
                for _ in range(50):
                    for row in rows:
                        to.write_row(row)

        yield "COPY, one connection", 50 * SAVES / seconds(copy)
        owner.execute("DROP TABLE raw")

    def write(store: PostgresStore, dev: str, count: int, at_once: int = 1) -> None:
        sid = ulid(hash(dev) % 1_000_000)
        for n in range(0, count, at_once):
            store.append([event(n + m + 1, sid=sid, dev=dev) for m in range(at_once)])

    with ExitStack() as stack:
        stores = [stack.enter_context(PostgresStore.open(one, outline)) for one in addresses]
        yield "store, one entry, one writer", SAVES / seconds(lambda: write(stores[0], "a", SAVES))
        yield (
            "store, a hundred entries, one writer",
            10 * SAVES / seconds(lambda: write(stores[0], "b", 10 * SAVES, 100)),
        )
        for name, used in (("one shop", stores[:1] * 4), ("four shops", stores)):
            with ThreadPoolExecutor(4) as pool:

                def four(used: list[PostgresStore] = used, name: str = name) -> None:
                    done = [
                        pool.submit(write, store, f"{name[:3]}{n}", SAVES // 2)
                        for n, store in enumerate(used)
                    ]
                    for one in done:
                        one.result()

                yield f"store, one entry, four writers of {name}", 2 * SAVES / seconds(four)


def filled(cluster: Cluster, n: int) -> str:
    """A shop with so many sessions; its address."""
    shop = f"n{n}"
    prepare(cluster.address("lowside"), shop, shop)
    values = {"shop": shop, "n": n, "visit": VISIT, "look": LOOK, "any": ANY, "summary": SUMMARY}
    values |= {"text": TEXT, "ticket": TICKET}
    rows = (SESSIONS, UNCOUNTED, ROWS, TEXTS, TICKETS, MARKS, COUNTED, UNITS, "VACUUM ANALYZE")
    with psycopg.connect(cluster.address("lowside"), autocommit=True) as owner:
        for statement in rows:
            owner.execute(statement.encode(), values if "%(" in statement else None)
    return cluster.address("lowside", shop)


def questions(store: PostgresStore, n: int) -> dict[str, Callable[[], object]]:
    """What pages ask, by what it is."""
    unit = ("Site 7", "AC 71")
    return {
        "the newest 50": lambda: store.sessions(limit=50),
        "open ones": lambda: store.sessions(open_only=True, limit=50),
        "what needs a look": lambda: lists.selected(store, Selection(kind=LOOK, key=ANY), SUMMARY),
        "by site, a page further": lambda: lists.selected(
            store, Selection(sort=BY_SITE), SUMMARY, lists.place_named(store, str(n // 2).zfill(26))
        ),
        "a technician's": lambda: lists.selected(
            store, Selection(technician="Technician 7"), SUMMARY
        ),
        "a word that is nowhere": lambda: store.sessions("nowhere", limit=50),
        "a word and a ticket number": lambda: store.sessions(f"site {n // 2:06}", limit=50),
        "two names of one unit": lambda: store.sessions("site 7 ac 71", limit=50),
        "two words, a flag": lambda: lists.selected(
            store, Selection(words="c-35 technician", kind=LOOK, key=ANY), SUMMARY
        ),
        "two words of many, none has both": lambda: store.sessions("r-32 r-134a", limit=50),
        "a unit's": lambda: store.ask(lambda t: t.sids_of_unit(unit_key(*unit), "", 50)),
        "a unit's visits": lambda: store.derived(VISIT, "site 7\nac 71", limit=2),
        "a page of units": lambda: lists.units(store, "", 50),
        "the latest clock value": store.last_hlc,
    }


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--sizes", default="10000,100000")
    sizes = [int(one) for one in parser.parse_args().sizes.split(",")]
    with running_cluster(*FAULTLESS, within=Path(tempfile.gettempdir())) as cluster:
        found = dict(saves_ready(cluster))
        raw = found["single-row INSERT, one connection"]
        for name, rate in found.items():
            print(f"{name:45} {rate:10.0f} entries/s  {rate / raw:6.2f} of a single-row INSERT")
        table: dict[str, list[float]] = {}
        for n in sizes:
            with PostgresStore.open(filled(cluster, n), outline) as store:
                for name, ask in questions(store, n).items():
                    spent = [seconds(ask) for _ in range(ASKED)]
                    table.setdefault(name, []).append(statistics.median(spent) * 1000.0)
        print(f"{'ms, by sessions in the shop':45}" + "".join(f"{n:>12,}" for n in sizes))
        for name, row in table.items():
            print(f"{name:45}" + "".join(f"{ms:12.1f}" for ms in row))


def saves_ready(cluster: Cluster) -> Iterator[tuple[str, float]]:
    prepare(cluster.address("lowside"), "s0", "s0")
    yield from saves(cluster)


if __name__ == "__main__":
    main()
