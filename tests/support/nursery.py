"""`lowside serve` as a process of its own, without the second that its imports take each time.

One process for the run imports the program and does nothing else. Each server is a fork of it: it
reads its options, opens its store, is killed and ends as one that was started by its command. Tests
of the command itself start it by its name: see `tests/test_cli.py`.
"""

import atexit
import json
import os
import signal
import socket
import subprocess
import sys
import time
from collections.abc import Sequence
from functools import cache
from pathlib import Path
from threading import Lock
from typing import NoReturn

ASKS_EACH_S = 0.02


class Served:
    """One server; what tests ask of a `subprocess.Popen`."""

    def __init__(self, nursery: "Nursery", pid: int) -> None:
        self.pid = pid
        self.returncode: int | None = None
        self._nursery = nursery
        self._lock = Lock()

    def poll(self) -> int | None:
        with self._lock:
            if self.returncode is None:
                self.returncode = self._nursery.ask({"ended": self.pid})
            return self.returncode

    def wait(self, timeout: float | None = None) -> int:
        give_up = None if timeout is None else time.monotonic() + timeout
        while (code := self.poll()) is None:
            if give_up is not None and time.monotonic() > give_up:
                raise subprocess.TimeoutExpired("lowside serve", timeout or 0.0)
            time.sleep(ASKS_EACH_S)
        return code

    def send_signal(self, number: int) -> None:
        # Its number is its own until the nursery was told of its end.
        if self.poll() is None:
            os.kill(self.pid, number)

    def terminate(self) -> None:
        self.send_signal(signal.SIGTERM)

    def kill(self) -> None:
        self.send_signal(signal.SIGKILL)


class Nursery:
    """The process that forks; one question at a time, from whatever thread."""

    def __init__(self) -> None:
        ours, its = socket.socketpair()
        with its:
            self._process = subprocess.Popen(
                [sys.executable, __file__, str(its.fileno())],
                stdin=subprocess.DEVNULL,
                stdout=subprocess.DEVNULL,
                pass_fds=[its.fileno()],
            )
        self._wire = ours.makefile("rw", encoding="utf-8")
        ours.close()
        self._lock = Lock()

    def ask(self, question: object) -> int | None:
        with self._lock:
            print(json.dumps(question), file=self._wire, flush=True)
            answer: int | None = json.loads(self._wire.readline())
            return answer

    def end(self) -> None:
        self._wire.close()
        self._process.wait()


@cache
def _nursery() -> Nursery:
    nursery = Nursery()
    atexit.register(nursery.end)
    return nursery


def serve(options: Sequence[str], log: Path) -> Served:
    """Start `lowside serve` with these options; what it prints is added to the log."""
    nursery = _nursery()
    log.touch()
    born = nursery.ask(
        {"options": ["serve", *options], "log": str(log.absolute()), "env": dict(os.environ)}
    )
    assert born is not None
    return Served(nursery, born)


def main(wire: socket.socket) -> None:
    """The nursery itself: fork and bury as asked, until nobody can ask any more."""
    # What `lowside serve` imports, before there is one.
    import lowside.web.serving  # noqa: F401, PLC0415

    with wire, wire.makefile("rw", encoding="utf-8") as asked:
        for line in asked:
            question = json.loads(line)
            if "ended" in question:
                print(json.dumps(_ended(question["ended"])), file=asked, flush=True)
                continue
            born = os.fork()
            if born == 0:
                break
            print(born, file=asked, flush=True)
        else:
            return
    _become(question)


def _ended(pid: int) -> int | None:
    found, status = os.waitpid(pid, os.WNOHANG)
    return os.waitstatus_to_exitcode(status) if found else None


def _become(question: dict[str, object]) -> NoReturn:
    """Be the server; its wire to the tests is closed."""
    from lowside.cli import main as lowside  # noqa: PLC0415

    os.environ.clear()
    os.environ.update(question["env"])
    log = os.open(question["log"], os.O_WRONLY | os.O_CREAT | os.O_APPEND, 0o644)
    os.dup2(log, 1)
    os.dup2(log, 2)
    os.close(log)
    sys.argv = ["lowside", *question["options"]]
    raise SystemExit(lowside())


if __name__ == "__main__":
    main(socket.socket(fileno=int(sys.argv[1])))
