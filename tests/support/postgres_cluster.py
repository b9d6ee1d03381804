"""A PostgreSQL of the tests' own: in a temporary folder, on a socket, gone with the tests.

PostgreSQL does not run as root; a run as root starts it as the user that its package made.
"""

import fcntl
import os
import pwd
import shutil
import signal
import subprocess
import tempfile
import threading
import time
from atexit import register
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import BinaryIO

import psycopg
import pytest
from psycopg import sql

from lowside.store import NotNowError

PROGRAMS = Path("/usr/lib/postgresql")
NOT_ROOT = "postgres"
PORT = "5432"
"""Only names the socket: nothing listens on a network."""
BEGINNING = "lowside-pg-"
HOLD = "held"
JUST_MADE_S = 600.0
"""A younger folder is let be: it may not be held yet, or be between two starts."""
ROOM = 2 << 30
QUICK = ("fsync=off", "full_page_writes=off", "autovacuum=off", "wal_level=minimal")
SMALL = ("shared_buffers=24MB", "max_connections=40", "max_wal_senders=0")


@contextmanager
def short_patience(monkeypatch: pytest.MonkeyPatch) -> Iterator[None]:
    """While the database is known to be away, the test need not wait for it as a request does."""
    with monkeypatch.context() as patch:
        patch.setattr("lowside.store.postgres.database.PATIENCE_S", 0.3)
        patch.setattr("lowside.store.postgres.database.REST_S", 0.1)
        yield


def wait_until_answers(ask: Callable[[], object], within_s: float = 60.0) -> None:
    """Until the database is back for a store."""
    give_up = time.monotonic() + within_s
    while True:
        try:
            ask()
            return
        except NotNowError:
            if time.monotonic() > give_up:
                raise
            threading.Event().wait(0.05)


def programs() -> Path:
    """The folder of PostgreSQL's programs."""
    found = sorted(PROGRAMS.glob("*/bin/initdb"), key=lambda path: int(path.parts[-3]))
    if not found:
        raise FileNotFoundError("PostgreSQL is not installed: sh scripts/need-postgres.sh")
    return found[-1].parent


def as_nobody_special(command: Sequence[str | Path]) -> list[str]:
    """The command for a user who is not root. It ends when this process does."""
    before = ["setpriv", "--pdeathsig", "INT"]
    if os.getuid() == 0:
        user = pwd.getpwnam(NOT_ROOT)
        before += [f"--reuid={user.pw_uid}", f"--regid={user.pw_gid}", "--clear-groups"]
    return [*before, *map(str, command)]


def as_it_is(command: Sequence[str | Path]) -> Sequence[str | Path]:
    return command


@dataclass
class Cluster:
    """A running PostgreSQL."""

    folder: Path
    settings: tuple[str, ...]
    process: "subprocess.Popen[bytes] | None" = None
    inside: Callable[[Sequence[str | Path]], Sequence[str | Path]] = as_it_is
    """Where the program runs: see `small_disk`."""

    def start(self) -> None:
        command = [programs() / "postgres", "-D", self.folder / "data", "-k", self.folder]
        options = [part for each in self.settings for part in ("-c", each)]
        log = (self.folder / "log").open("ab")
        self.process = subprocess.Popen(
            as_nobody_special(self.inside([*command, *options])),
            stdout=log,
            stderr=log,
            cwd=self.folder,
        )
        log.close()
        while True:
            try:
                psycopg.connect(self.address("postgres")).close()
                break
            except psycopg.OperationalError:
                if self.process.poll() is not None:
                    raise RuntimeError((self.folder / "log").read_text()) from None
                threading.Event().wait(0.05)

    def stop(self, how: signal.Signals = signal.SIGINT) -> None:
        """End it: at once but in order, or with SIGQUIT as in a crash."""
        if self.process is not None:
            self.process.send_signal(how)
            self.process.wait()
            self.process = None

    def address(self, database: str, role: str = NOT_ROOT) -> str:
        return f"postgresql://{role}@/{database}?host={self.folder}&port={PORT}"

    def do(self, *statements: sql.Composed) -> None:
        """Run these as the one who owns everything."""
        with psycopg.connect(self.address("postgres"), autocommit=True) as connection:
            for statement in statements:
                connection.execute(statement)

    def copy(self, template: str, name: str) -> None:
        named = [sql.Identifier(each) for each in (name, template)]
        self.do(sql.SQL("CREATE DATABASE {} TEMPLATE {}").format(*named))

    def drop(self, name: str) -> None:
        text = sql.SQL("DROP DATABASE IF EXISTS {} WITH (FORCE)")
        self.do(text.format(sql.Identifier(name)))


@contextmanager
def running_standby(of: Cluster) -> Iterator[Cluster]:
    """A copy of a running PostgreSQL that follows it."""
    folder = new_folder()
    standby = Cluster(folder, of.settings)
    try:
        make_in(
            folder,
            *(programs() / "pg_basebackup", "-D", folder / "data", "-h", of.folder),
            *("-p", PORT, "-U", NOT_ROOT, "-R", "-c", "fast", "--no-sync"),
        )
        standby.start()
        yield standby
    finally:
        standby.stop(signal.SIGQUIT)
        remove(folder)


def make_in(folder: Path, *command: str | Path) -> None:
    """Run a program that makes a database's files in this folder."""
    made = subprocess.run(
        as_nobody_special(command), capture_output=True, text=True, check=False, cwd=folder
    )
    if made.returncode != 0:
        raise RuntimeError(made.stderr)


def usual_place() -> Path:
    """In memory where there is room: a test that ends a process asks nothing of a disk."""
    memory = Path("/dev/shm")
    try:
        if shutil.disk_usage(memory).free > ROOM:
            return memory
    except OSError:
        pass
    return Path(tempfile.gettempdir())


HELD: dict[Path, BinaryIO] = {}
"""A file in each folder, locked until its process ends, however it ends."""


def new_folder(within: Path | None = None) -> Path:
    """For one PostgreSQL, owned by the user it runs as."""
    within = usual_place() if within is None else within
    for place in {within, Path(tempfile.gettempdir())}:
        clear_away(place)
    folder = Path(tempfile.mkdtemp(prefix=BEGINNING, dir=within))  # a socket's path must be short
    HELD[folder] = (folder / HOLD).open("wb")
    fcntl.flock(HELD[folder], fcntl.LOCK_EX)
    if os.getuid() == 0:
        shutil.chown(folder, NOT_ROOT, NOT_ROOT)
    return folder


def remove(folder: Path) -> None:
    shutil.rmtree(folder, ignore_errors=True)
    HELD.pop(folder).close()


def clear_away(within: Path) -> None:
    """Remove what a run that was killed left behind."""
    for folder in within.glob(BEGINNING + "*"):
        try:
            is_left = time.time() - folder.stat().st_mtime > JUST_MADE_S and not is_in_use(folder)
        except OSError:
            continue  # somebody else's, or it went just now
        if is_left:
            shutil.rmtree(folder, ignore_errors=True)


def is_in_use(folder: Path) -> bool:
    """Whether a run holds it, or a PostgreSQL runs in it."""
    try:
        with (folder / HOLD).open("r+b") as held:
            fcntl.flock(held, fcntl.LOCK_EX | fcntl.LOCK_NB)
    except FileNotFoundError:
        pass  # as tests before these made it
    except BlockingIOError:
        return True
    running = folder / "data" / "postmaster.pid"
    return running.exists() and Path("/proc", running.read_text().split("\n")[0]).exists()


@cache
def fresh_data() -> Path:
    """The files of a new PostgreSQL, made once in a run: copying is quicker."""
    folder = new_folder()
    register(remove, folder)
    cluster = Cluster(folder, (*QUICK, *SMALL, "listen_addresses=", f"port={PORT}"))
    make_in(
        folder,
        *(programs() / "initdb", "-D", folder / "data", "-U", NOT_ROOT, "-A", "trust"),
        *("-E", "UTF8", "--locale=C.UTF-8", "--no-sync", "--no-instructions"),
        "--wal-segsize=1",
    )
    cluster.start()
    try:
        cluster.copy("template0", "lowside")
    finally:
        cluster.stop(signal.SIGTERM)
    return folder / "data"


@contextmanager
def running_cluster(*settings: str, within: Path | None = None) -> Iterator[Cluster]:
    """A new PostgreSQL with an empty database `lowside`. Both are gone at the end.

    Args:
        settings: after the usual ones.
        within: this folder; it is in memory otherwise.
    """
    folder = new_folder(within)
    cluster = Cluster(folder, (*QUICK, *SMALL, "listen_addresses=", f"port={PORT}", *settings))
    try:
        make_in(folder, "cp", "-a", fresh_data(), folder / "data")
        cluster.start()
        yield cluster
    finally:
        cluster.stop(signal.SIGQUIT)  # nobody needs what is in it
        remove(folder)
