"""What starts, checks, pages and a new phone's first sync cost as the store grows.

`python bench/growth.py 1000 10000` makes stores of so many sessions (the demo's, under new names)
and prints a line for each. The last column divides by the first store's figure.
"""

import asyncio
import json
import sys
import time
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from tempfile import TemporaryDirectory

from httpx import ASGITransport, AsyncClient, Response

from lowside.core.session.events import Event
from lowside.demo import play, scenarios
from lowside.library import load_handbook
from lowside.outlining import outline
from lowside.store import Store
from lowside.store.check import check
from lowside.store.codec import line_of
from lowside.store.logs import session_path
from lowside.web.app import create_app
from lowside.web.clock import Clock, new_ulid
from lowside.web.keeping import keeping_in

OPEN_EVERY = 30
"""Of so many sessions one is open: 3,000 of 90,000."""
LABEL = "C-1000"
USES = 1000
"""Sessions of one cylinder."""


def fill(root: Path, count: int, demo: list[list[Event]]) -> str:
    """Write the logs past the store; the sid of an open session of the busy cylinder."""
    now = Clock().now().at
    busy = ""
    for number in range(count):
        sid = new_ulid(now - number * 60_000)
        events = demo[number % len(demo)]
        if number % OPEN_EVERY == 0:
            events = [e for e in events if e.kind != "session.closed"]
        shift = now - number * 60_000 - events[0].at
        path = session_path(root, sid)
        path.parent.mkdir(parents=True, exist_ok=True)
        lines = []
        for event in events:
            data = dict(event.data)
            if "cylinder_label" in data:
                data["cylinder_label"] = LABEL if number < USES else f"C-{number % 997}"
            moved = replace(event, sid=sid, eid=new_ulid(now), at=event.at + shift, data=data)
            lines.append(line_of(moved))
        path.write_bytes(b"".join(lines))
        busy = busy or sid
    return busy


def seconds(act: Callable[[], object]) -> float:
    before = time.perf_counter()
    act()
    return time.perf_counter() - before


def measured(count: int, demo: list[list[Event]]) -> dict[str, float]:
    handbook = load_handbook()
    found: dict[str, float] = {}
    with TemporaryDirectory() as folder:
        root = Path(folder)
        busy = fill(root, count, demo)
        cold = seconds(lambda: Store.open(root, outline).close())
        found["start without index [sessions/s]"] = count / cold
        found["warm start [s]"] = seconds(lambda: Store.open(root, outline).close())
        found["check [sessions/s]"] = count / seconds(lambda: check(root, outline))
        store = Store.open(root, outline)
        app = create_app(store, handbook, "bench", keeping=keeping_in(store.root))

        def ask(method: str, path: str, content: bytes | None = None) -> Response:
            async def exchange() -> Response:
                transport = ASGITransport(app)
                async with AsyncClient(transport=transport, base_url="http://localhost") as client:
                    return await client.request(method, path, content=content)

            answer = asyncio.run(exchange())
            assert answer.status_code == 200, answer.text
            return answer

        found["home, first time [ms]"] = 1000 * seconds(lambda: ask("GET", "/"))
        found["home, then [ms]"] = 1000 * seconds(lambda: ask("GET", "/"))
        ask("GET", f"/s/{busy}")
        found[f"field page, {min(USES, count)} uses [ms]"] = 1000 * seconds(
            lambda: ask("GET", f"/s/{busy}")
        )
        calls, entries, cursor, more, longest = 0, 0, "", True, 0.0
        before = time.perf_counter()
        while more:
            body = {"v": 1, "dev": "new", "cursor": cursor, "events": []}
            began = time.perf_counter()
            answer = ask("POST", "/api/sync", json.dumps(body).encode()).json()
            longest = max(longest, time.perf_counter() - began)
            calls, entries = calls + 1, entries + len(answer["events"])
            cursor, more = answer["cursor"], answer["more"]
        found["first sync [s]"] = time.perf_counter() - before
        found["first sync [calls]"] = calls
        found["first sync [entries]"] = entries
        found["first sync, longest call [ms]"] = 1000 * longest
        store.close()
    return found


def main() -> None:
    counts = [int(text) for text in sys.argv[1:]] or [300, 3000]
    handbook = load_handbook()
    demo = [play(scenario, handbook) for scenario in scenarios()]
    columns = [measured(count, demo) for count in counts]
    print(f"{'':36}" + "".join(f"{count:>12}" for count in counts) + f"{'ratio':>12}")
    for name, first in columns[0].items():
        others = [column.get(name, float("nan")) for column in columns]
        shown = "".join(f"{value:12.1f}" for value in others)
        print(f"{name:36}{shown}{others[-1] / first if first else 0:12.2f}")


if __name__ == "__main__":
    main()
