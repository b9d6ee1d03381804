"""Run the browser tests again and again, and stop at the first run that fails.

    python scripts/steady.py --runs 20
    python scripts/steady.py --runs 10 --busy 2 -- tests/browser/test_offline.py

`--busy` loops keep that many processors busy beside the tests.
"""

import argparse
import subprocess
import sys
import time
from collections.abc import Iterator
from contextlib import contextmanager

LOOP = "import os; parent = os.getppid()\nwhile os.getppid() == parent: pass"
"""Keeps one processor busy, and ends by itself when whoever started it is gone."""


def main() -> int:
    asked = argparse.ArgumentParser(description=__doc__.partition("\n")[0])
    asked.add_argument("--runs", type=int, default=20, help="how often (default 20)")
    asked.add_argument("--busy", type=int, default=0, help="busy loops beside the tests")
    asked.add_argument("tests", nargs="*", default=["tests/browser"], help="for pytest")
    given = asked.parse_args()
    command = [sys.executable, "-m", "pytest", "-p", "no:cacheprovider", *given.tests]
    with busy(given.busy):
        for run in range(1, given.runs + 1):
            began = time.monotonic()
            done = subprocess.run(command, capture_output=True, text=True, check=False)
            took = time.monotonic() - began
            last = done.stdout.rstrip().rsplit("\n", 1)[-1]
            print(f"{run} of {given.runs}: {last} ({took:.0f} s)", flush=True)
            if done.returncode != 0:
                print(done.stdout + done.stderr)
                print(f"Failed in run {run}, after {run - 1} that passed.")
                return 1
    print(f"{given.runs} runs passed, with {given.busy} busy loops beside them.")
    return 0


@contextmanager
def busy(loops: int) -> Iterator[None]:
    running = [subprocess.Popen([sys.executable, "-c", LOOP]) for _ in range(loops)]
    try:
        yield
    finally:
        for loop in running:
            loop.kill()
            loop.wait()


if __name__ == "__main__":
    sys.exit(main())
