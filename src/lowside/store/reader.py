"""Reads logs in processes of their own, as a start without an index has many to read.

`main` is one of them. It ends when the one that started it does: its standard input ends then.
"""

import gc
import marshal
import os
import pickle
import subprocess
import sys
from collections import deque
from collections.abc import Iterator, Sequence
from concurrent.futures import Future, ThreadPoolExecutor
from contextlib import suppress
from dataclasses import dataclass
from pathlib import Path
from queue import SimpleQueue
from typing import IO

from lowside.store.kept import Kept, kept_of
from lowside.store.logs import Key, read_log
from lowside.store.outline import Derived, Outliner, RowRules, Stamp, rules_of, stamp_of
from lowside.store.quick_records import quicken

PIECE = 40
"""Logs in one question to a process."""
MANY = 500
"""From so many logs on it is quicker to start processes. Our choice."""
MOST_PROCESSES = 8


@dataclass(frozen=True)
class Told:
    """What the index needs of a log in which nothing is wrong."""

    sid: str
    keys: tuple[Key, ...]
    last_hlc: str
    kept: Kept
    stamp: Stamp
    damaged: tuple[str, ...] = ()


Wanted = tuple[str, Path]
"""A session and its log."""


def read_many(wanted: Sequence[Wanted], outline: Outliner) -> Iterator[tuple[Wanted, Told | None]]:
    """Read logs side by side, in their order. `None` for one that the caller must read itself:
    something is wrong with it, or there are too few to start processes.

    Never more than a few hundred logs are in memory.
    """
    processes = min(os.cpu_count() or 1, MOST_PROCESSES)
    if len(wanted) < MANY or processes < 2 or not _can_be_sent(outline):
        yield from ((each, None) for each in wanted)
        return
    pool = _Pool(processes, outline)
    waiting: deque[tuple[tuple[Wanted, ...], Future[list[Told | None]]]] = deque()
    try:
        for piece in _pieces(wanted):
            waiting.append((piece, pool.read(piece)))
            if len(waiting) > 2 * processes:
                yield from _answered(*waiting.popleft())
        while waiting:
            yield from _answered(*waiting.popleft())
    finally:
        pool.close()


def _pieces(wanted: Sequence[Wanted]) -> Iterator[tuple[Wanted, ...]]:
    for start in range(0, len(wanted), PIECE):
        yield tuple(wanted[start : start + PIECE])


def _answered(
    piece: tuple[Wanted, ...], answer: "Future[list[Told | None]]"
) -> Iterator[tuple[Wanted, Told | None]]:
    yield from zip(piece, answer.result(), strict=True)


def _can_be_sent(outline: Outliner) -> bool:
    try:
        pickle.dumps(outline)
    except (pickle.PicklingError, AttributeError, TypeError):
        return False
    return True


class _Pool:
    """Processes, and a thread for each piece that waits for one of them."""

    def __init__(self, processes: int, outline: Outliner) -> None:
        self._first = pickle.dumps((sys.path, pickle.dumps(outline)))
        self._free: SimpleQueue[subprocess.Popen[bytes]] = SimpleQueue()
        self._all = [self._process() for _ in range(processes)]
        for process in self._all:
            self._free.put(process)
        self._threads = ThreadPoolExecutor(processes)

    def _process(self) -> "subprocess.Popen[bytes]":
        process = subprocess.Popen(
            [sys.executable, "-c", f"from {__name__} import main; main()"],
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            stderr=subprocess.DEVNULL,
        )
        with suppress(OSError):
            _say(process.stdin, self._first)
        return process

    def read(self, piece: tuple[Wanted, ...]) -> "Future[list[Told | None]]":
        return self._threads.submit(self._read, piece)

    def _read(self, piece: tuple[Wanted, ...]) -> list[Told | None]:
        process = self._free.get()
        try:
            _say(process.stdin, pickle.dumps(piece))
            found = [_unpacked(each) for each in marshal.loads(_heard(process.stdout))]
        except (OSError, EOFError, ValueError, TypeError):
            return [None] * len(piece)  # it ended; the caller reads these itself
        finally:
            self._free.put(process)
        return found

    def close(self) -> None:
        """End the processes; those that still read are not waited for."""
        for process in self._all:
            process.kill()
        self._threads.shutdown()
        for process in self._all:
            with suppress(BrokenPipeError), process:  # closes the pipes and waits
                pass


def _say(to: IO[bytes] | None, message: bytes) -> None:
    if to is not None:
        to.write(len(message).to_bytes(8, "big") + message)
        to.flush()


def _heard(from_: IO[bytes] | None) -> bytes:
    if from_ is None:
        raise EOFError
    length = from_.read(8)
    if len(length) < 8:
        raise EOFError
    return from_.read(int.from_bytes(length, "big"))


def _told(wanted: Wanted, outline: Outliner, rules: RowRules) -> Told | None:
    sid, path = wanted
    try:
        log = read_log(path, sid)
        if log.problems():
            return None
        kept = kept_of(sid, outline(log.events), rules)
        return Told(sid, log.keys, log.last_hlc, kept, stamp_of(path))
    except Exception:  # noqa: BLE001  who asked reads it again, and says what is wrong
        return None


def _packed(told: Told | None) -> bytes | None:
    """In Python's plainest values: as records they take twice as long on their way."""
    if told is None:
        return None
    kept = (dict(told.kept.line), [*map(tuple, told.kept.rows)])
    try:
        return marshal.dumps((told.sid, told.keys, told.last_hlc, *kept, tuple(told.stamp)))
    except ValueError:  # an outline of values of its own
        return None


def _unpacked(packed: bytes | None) -> Told | None:
    if packed is None:
        return None
    sid, keys, last_hlc, line, rows, stamp = marshal.loads(packed)
    return Told(sid, keys, last_hlc, Kept(line, (*map(Derived._make, rows),)), Stamp(*stamp))


def main() -> None:
    """Answer pieces from standard input until it ends."""
    asked, answers = sys.stdin.buffer, sys.stdout.buffer
    sys.stdout = sys.stderr  # nothing else may get between the answers
    with suppress(EOFError, KeyboardInterrupt, BrokenPipeError):
        paths, outline_by_name = pickle.loads(_heard(asked))
        sys.path[:] = paths
        outline: Outliner = pickle.loads(outline_by_name)
        rules = rules_of(outline)
        quicken()
        gc.freeze()  # what was imported stays; looking through it again and again finds nothing
        gc.set_threshold(PIECE * 1_000)
        while True:
            piece: tuple[Wanted, ...] = pickle.loads(_heard(asked))
            told = [_told(wanted, outline, rules) for wanted in piece]
            _say(answers, marshal.dumps([_packed(each) for each in told]))
