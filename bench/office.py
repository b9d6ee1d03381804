"""The office's pages as a shop grows: 1,000, 10,000 and 100,000 generated sessions side by side.

    .venv/bin/python bench/office.py [--sizes 1000,10000,100000] [--copied] [--folder DIR]

Sessions are copies of a few generated ones under other names, days, units and cylinders; the first
reading and notes come again until each has 40 entries. Pages are asked in this process, without a
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
from collections.abc import Iterator, Sequence
from pathlib import Path
from statistics import median

ROOT = Path(__file__).parents[1]
sys.path[:0] = [str(ROOT / "tests" / "support")]

from httpx import ASGITransport, AsyncClient  # noqa: E402

from lowside.core.session.events import Event, hlc  # noqa: E402
from lowside.demo import play, scenarios  # noqa: E402
from lowside.library import load_handbook  # noqa: E402
from lowside.outlining import outline  # noqa: E402
from lowside.store import Store  # noqa: E402
from lowside.store.codec import line_of  # noqa: E402
from lowside.store.index import INDEX_FILE  # noqa: E402
from lowside.store.logs import session_path  # noqa: E402
from lowside.store.outline import Outline, Outliner  # noqa: E402
from lowside.web.app import create_app  # noqa: E402
from lowside.web.keeping import keeping_in  # noqa: E402

SIZES = (1_000, 10_000, 100_000)
YEAR_MS = 365 * 86_400_000
FIRST_MS = 1_735_689_600_000
"""2025-01-01."""
ULID_DIGITS = "0123456789ABCDEFGHJKMNPQRSTVWXYZ"
PAGE_MS = 100.0
EXPORT_PER_S = 5_000.0
REBUILD_PER_S = 400.0
WARM_S = 2.0
MEMORY_MB = 300.0
ENTRIES = 40
"""Of each session."""
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


def ulid(number: int, ms: int) -> str:
    value = (ms << 80) | number
    return "".join(ULID_DIGITS[(value >> (5 * place)) & 31] for place in reversed(range(26)))


def generated(count: int) -> Iterator[list[Event]]:
    """So many sessions over two years; units come again and cylinders are shared."""
    handbook = load_handbook()
    played = [filled_up(play(scenario, handbook)) for scenario in scenarios()]
    for n in range(count):
        model = played[n % len(played)]
        at = FIRST_MS + int(n * 2 * YEAR_MS / count)
        shift = at - model[0].at
        sid = ulid(n + 1, at)
        events = []
        for place, event in enumerate(model):
            data = dict(event.data)
            if event.kind == "job.set":
                data |= {
                    "site": f"Site {n % (count // 20 + 1)}",
                    "unit_label": f"Unit {n % 3}",
                    "technician": f"Tech {n % 12}",
                }
            if event.kind == "cylinder.set":
                data["cylinder_label"] = f"C-{n % (count // 200 + 20)}"
            moved = event.at + shift
            events.append(
                dataclasses.replace(
                    event,
                    sid=sid,
                    dev=f"phone-{n % 12}",
                    seq=place + 1,
                    eid=ulid((n << 20) + place + 1, moved),
                    hlc=hlc(moved, place),
                    at=moved,
                    data=data,
                )
            )
        yield events


def filled_up(events: list[Event]) -> list[Event]:
    """The session with its first reading, and a note, taken again and again: 40 entries."""
    place = next(i for i, event in enumerate(events) if event.kind == "reading.taken")
    reading = events[place]
    note = dataclasses.replace(reading, kind="note.added", data={"text": "Looked at it again."})
    more = [(reading, note)[n % 2] for n in range(ENTRIES - len(events))]
    return [*events[:place], *more, *events[place:]]


def filled(root: Path, count: int) -> int:
    """Write the logs themselves: a store waits for the disk after each."""
    entries = 0
    for events in generated(count):
        path = session_path(root, events[0].sid)
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_bytes(b"".join(line_of(event) for event in events))
        entries += len(events)
    return entries


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


def measured(root: Path, count: int, outline: Outliner) -> dict[str, tuple[float, str, float]]:
    """Name of a figure -> value, unit, and its budget (0: none; negative: at least)."""
    found: dict[str, tuple[float, str, float]] = {}
    entries = filled(root, count) if not root.exists() else count * ENTRIES
    for made_before in root.glob(INDEX_FILE + "*"):
        made_before.unlink()
    found["entries a session"] = (entries / count, "", 0.0)
    load_handbook()
    working, start = cpu_s(), time.perf_counter()
    Store.open(root, outline).close()
    spent, waited = cpu_s() - working, time.perf_counter() - start
    least = 0.0 if isinstance(outline, Copied) else -REBUILD_PER_S
    found["index made, per core"] = (count / spent, "sessions/s", least)
    found["index made, by the clock"] = (count / waited, "sessions/s", 0.0)
    print(f"{count} sessions: index made in {spent:.0f} s of processor time", file=sys.stderr)
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
