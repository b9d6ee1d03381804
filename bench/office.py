"""The office's pages as a shop grows: 1,000, 10,000 and 100,000 generated sessions side by side.

    .venv/bin/python bench/office.py [--sizes 1000,10000,100000] [--copied] [--folder DIR]

Sessions are those of tests/support/generated_shop.py, with 40 entries each; a store that is in the
folder already is taken. Pages are asked in this process, without a
network. A figure over its budget is marked and makes the command fail. No test asserts a time.
"""

import argparse
import asyncio
import dataclasses
import os
import resource
import shutil
import sys
import tempfile
import time
from collections.abc import Callable, Sequence
from pathlib import Path
from statistics import median

ROOT = Path(__file__).parents[1]
sys.path[:0] = [str(ROOT / "tests" / "support")]

from generated_shop import FIRST_MS, YEAR_MS, filled  # noqa: E402
from httpx import ASGITransport, AsyncClient  # noqa: E402

from lowside.core.session.events import Event  # noqa: E402
from lowside.library import load_handbook  # noqa: E402
from lowside.outlining import outline  # noqa: E402
from lowside.store import Store  # noqa: E402
from lowside.store.check import check  # noqa: E402
from lowside.store.codec import canonical_event  # noqa: E402
from lowside.store.index import INDEX_FILE  # noqa: E402
from lowside.store.outline import Outline, Outliner  # noqa: E402
from lowside.web.app import create_app  # noqa: E402
from lowside.web.keeping import keeping_in  # noqa: E402
from lowside.web.phone import needed  # noqa: E402
from lowside.web.phone.needed import needed_sessions  # noqa: E402

MOST_SENT = float(needed.MOST_RECENT + needed.MOST_OPEN + needed.MOST_OWN + needed.MOST_CYLINDERS)
SIZES = (1_000, 10_000, 100_000)
PAGE_MS = 100.0
EXPORT_PER_S = 5_000.0
REBUILD_PER_S = 400.0
STEADY = 10_000
"""From so many sessions on the start of the reading processes, 0.4 s each, counts for little."""
WARM_S = 2.0
MEMORY_MB = 300.0
LAST_MS = FIRST_MS + 2 * YEAR_MS
"""When the last session has begun."""
ASKED = 5
"""Times each page is asked; the median counts."""

PAGES = (
    "/office",
    "/office?flag=out",
    "/office?flag=overridden",
    "/office?show=all",
    "/office?show=all&sort=added",
    "/office?show=all&sort=site",
    "/office?show=all&technician=Tech%207",
    "/office?show=all&refrigerant=R-22&state=closed&from=2025-03-01&to=2025-03-31",
    "/office?q=site%2012",
    "/office?q=nobody+at+all",
    "/office/units",
    "/office/units?show=repeat",
    "/office/unit?site=Site+12&unit=Unit+0",
    "/office/cylinders",
    "/office/cylinder?label=C-17",
    "/office/month?month=2025-03",
)


async def asked(app: object, path: str) -> tuple[float, int]:
    transport = ASGITransport(app)  # type: ignore[arg-type]
    async with AsyncClient(transport=transport, base_url="http://localhost") as client:
        times = []
        size = 0
        for _ in range(ASKED if "sessions." not in path else 1):
            start = time.perf_counter()
            answer = await client.get(path)
            times.append((time.perf_counter() - start) * 1000.0)
            size = len(answer.content)
            if answer.status_code != 200:
                raise SystemExit(f"{path} answered {answer.status_code}")
    return median(times), size


class Copied:
    """Outlines copied from the first session of each kind: much sooner than folding each.

    Rows are the same but for names and days, so pages cost the same; what making the index costs is
    not measured then.
    """

    def __init__(self) -> None:
        self._kept: dict[int, tuple[Outline, list[Event]]] = {}

    def __call__(self, events: Sequence[Event]) -> Outline:
        if len(events) not in self._kept:
            self._kept[len(events)] = (outline(events), list(events))
        made, model = self._kept[len(events)]
        names = {model[0].sid: events[0].sid, str(model[0].at): str(events[0].at)}
        keys: dict[str, str] = {}
        job: dict[str, str] = {}
        for before, now in zip(model, events, strict=True):
            for name in ("site", "unit_label", "technician", "cylinder_label"):
                if name in before.data:
                    names[f'"{before.data[name]}"'] = f'"{now.data[name]}"'
                    keys[before.data[name].lower()] = now.data[name].lower()
                    job[name] = now.data[name]
        shift = events[0].at - model[0].at
        rows = []
        for row in made.derived:
            value, key = row.value, row.key
            for old, new in names.items():
                value = value.replace(old, new)
            for old, new in keys.items():
                key = key.replace(old, new)
            rows.append(row._replace(key=key, value=value))
        return dataclasses.replace(
            made,
            site=job.get("site", ""),
            unit_label=job.get("unit_label", ""),
            technician=job.get("technician", ""),
            cylinder=job.get("cylinder_label", ""),
            started=events[0].at,
            closed=None if made.closed is None else made.closed + shift,
            derived=tuple(rows),
        )


def cpu_s() -> float:
    """Processor time of this process and of those it waited for [s]."""
    return sum(os.times()[:4])


def size_of(event: Event) -> int:
    return len(canonical_event(event))


def sound(root: Path) -> None:
    problems = check(root, outline).problems
    if problems:
        raise SystemExit(f"A generated store is not sound: {problems}")


def measured(root: Path, count: int, outline: Outliner) -> dict[str, tuple[float, str, float]]:
    """Name of a figure -> value, unit, and its budget (0: none; negative: at least)."""
    found: dict[str, tuple[float, str, float]] = {}
    filled(root, count)
    for made_before in root.glob(INDEX_FILE + "*"):
        made_before.unlink()
    load_handbook()

    def went_through(name: str, work: Callable[[], object]) -> None:
        working, start = cpu_s(), time.perf_counter()
        work()
        spent, waited = cpu_s() - working, time.perf_counter() - start
        least = 0.0 if isinstance(outline, Copied) or count < STEADY else -REBUILD_PER_S
        found[f"{name}, per core"] = (count / spent, "sessions/s", least)
        found[f"{name}, by the clock"] = (count / waited, "sessions/s", 0.0)
        print(f"{count} sessions: {name} in {spent:.0f} s of processor time", file=sys.stderr)

    went_through("index made", lambda: Store.open(root, outline).close())
    if not isinstance(outline, Copied):
        went_through("checked", lambda: sound(root))
    start, working = time.perf_counter(), time.process_time()
    store = Store.open(root, outline)
    found["warm start"] = (time.perf_counter() - start, "s", WARM_S)
    found["warm start, processor time"] = (time.process_time() - working, "s", WARM_S)
    app = create_app(
        store, load_handbook(), "01KBENCHDEVICE0000000000AA", keeping=keeping_in(store.root)
    )
    for path in PAGES:
        spent, size = asyncio.run(asked(app, path))
        found[path] = (spent, f"ms, {size // 1000} kB", PAGE_MS)
    for name in ("csv", "json"):
        working = time.process_time()
        spent, _ = asyncio.run(asked(app, f"/office/sessions.{name}?show=all"))
        working = time.process_time() - working
        found[f"export {name}"] = (count / (spent / 1000.0), "sessions/s", -EXPORT_PER_S)
        found[f"export {name}, per core"] = (count / working, "sessions/s", -EXPORT_PER_S)
    sids = needed_sessions(store, LAST_MS, "Tech 7")
    entries = [event for sid in sids for event in store.events(sid)]
    found["new phone's first sync, sessions"] = (len(sids), "", MOST_SENT)
    found["new phone's first sync, entries"] = (len(entries), "", 0.0)
    found["new phone's first sync, whole"] = (sum(map(size_of, entries)) / 1e6, "MB", 0.0)
    store.close()
    peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024.0
    found["memory, highest so far"] = (peak, "MB", MEMORY_MB)
    return found


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0] if __doc__ else "")
    parser.add_argument("--sizes", default=",".join(map(str, SIZES)))
    parser.add_argument(
        "--folder", type=Path, help="where the stores are made and kept, or are already"
    )
    parser.add_argument("--copied", action="store_true", help="copy rows instead of folding")
    chosen = parser.parse_args()
    make = Copied() if chosen.copied else outline
    sizes = [int(size) for size in chosen.sizes.split(",")]
    results = {}
    for size in sizes:
        folder = chosen.folder or Path(tempfile.mkdtemp(prefix="lowside-office-"))
        root = folder / str(size)
        try:
            results[size] = measured(root, size, make)
        finally:
            if chosen.folder is None:
                shutil.rmtree(folder)
    over = False
    print(f"{'':78}" + "".join(f"{size:>16,}" for size in sizes) + "   budget")
    for name in results[sizes[0]]:
        cells, unit, budget = [], "", 0.0
        for size in sizes:
            value, unit, budget = results[size][name]
            bad = (budget > 0.0 and value > budget) or (budget < 0.0 and value < -budget)
            over = over or bad
            cells.append(f"{value:,.1f}{' !' if bad else '  '}")
        limit = "" if budget == 0.0 else f"{'≤' if budget > 0.0 else '≥'} {abs(budget):,.0f}"
        row = f"{name} [{unit.split(',')[0]}]"
        print(f"{row:78}" + "".join(f"{cell:>16}" for cell in cells) + f"   {limit}")
    return 1 if over else 0


if __name__ == "__main__":
    sys.exit(main())
