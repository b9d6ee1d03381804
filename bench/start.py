"""What a start costs a shop with many sessions: without an index, as usual, after a kill.

`python bench/start.py 100000` makes a store of so many sessions (see `growth.py`) and starts it in
a new process each time. It prints the time by the clock, the processor's time with that of the
processes that help, and the memory of the largest process.
"""

import json
import os
import resource
import signal
import subprocess
import sys
import time
from dataclasses import replace
from pathlib import Path
from tempfile import TemporaryDirectory

from growth import fill

from lowside.core.session.events import Event
from lowside.demo import play, scenarios
from lowside.library import load_handbook
from lowside.outlining import outline
from lowside.store import Store
from lowside.web.clock import new_ulid

WRITTEN = 50
"""Sessions with new entries when the process is killed."""


def opened(root: Path) -> None:
    """Start, and tell what it cost."""
    began = time.perf_counter()
    with Store.open(root, outline) as store:
        took = time.perf_counter() - began
        problems = store.problems()
    used = [resource.getrusage(whom) for whom in (resource.RUSAGE_SELF, resource.RUSAGE_CHILDREN)]
    told = {
        "seconds": took,
        "processor": sum(each.ru_utime + each.ru_stime for each in used),
        "megabytes": max(each.ru_maxrss for each in used) / 1024,
        "problems": len(problems),
    }
    print(json.dumps(told))


def killed(root: Path) -> None:
    """Write entries whose rows are made later, then end as in a power cut."""
    store = Store.open(root, outline)
    for path in logs(root)[:WRITTEN]:
        last = store.events(path.stem)[-1]
        fresh = note(last, store.next_seq(path.stem, "killed"))
        assert [str(one.outcome) for one in store.append([fresh], True)] == ["stored"]
    os.kill(os.getpid(), signal.SIGKILL)


def note(last: Event, seq: int) -> Event:
    data = {"text": "written just before"}
    return replace(last, dev="killed", seq=seq, eid=new_ulid(last.at), kind="note.added", data=data)


def logs(root: Path) -> list[Path]:
    return sorted((root / "sessions").rglob("*.jsonl"))


def without_index(root: Path) -> None:
    for path in root.glob("index.sqlite*"):
        path.unlink()


def torn(root: Path) -> None:
    path = logs(root)[-1]
    path.write_bytes(path.read_bytes()[:-20])


def again(act: str, root: Path) -> str:
    command = [sys.executable, __file__, act, str(root)]
    done = subprocess.run(command, stdout=subprocess.PIPE, text=True, check=False)
    assert done.returncode in (0, -signal.SIGKILL), done
    return done.stdout


def main() -> None:
    if len(sys.argv) == 3:
        {"opened": opened, "killed": killed}[sys.argv[1]](Path(sys.argv[2]))
        return
    count = int(sys.argv[1]) if len(sys.argv) == 2 else 300
    handbook = load_handbook()
    print(
        f"{count} sessions{'':22}{'s':>8}{'processor s':>14}{'MB':>8}{'problems':>10}", flush=True
    )
    with TemporaryDirectory() as folder:
        root = Path(folder)
        fill(root, count, [play(scenario, handbook) for scenario in scenarios()])
        for name, before in (
            ("without an index", lambda: without_index(root)),
            ("as usual", lambda: None),
            ("after a kill", lambda: again("killed", root)),
            ("after a torn last line", lambda: torn(root)),
            ("as usual again", lambda: None),
        ):
            before()
            told = json.loads(again("opened", root))
            print(
                f"{name:32}{told['seconds']:8.1f}{told['processor']:14.1f}"
                f"{told['megabytes']:8.0f}{told['problems']:10}",
                flush=True,
            )


if __name__ == "__main__":
    main()
