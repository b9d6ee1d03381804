"""A file system of a few megabytes, made in a namespace of its own, so nobody need be root."""

import subprocess
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path

import pytest
from postgres_cluster import as_nobody_special

SOMEBODY = "1000"
"""Who PostgreSQL believes to be: it does not run as root, not even as root of a namespace."""


@dataclass(frozen=True)
class SmallDisk:
    """A folder that only programs started by `inside` see as a disk of its own."""

    folder: Path
    holder: int
    """The process that keeps it."""

    def inside(self, command: Sequence[str | Path]) -> list[str | Path]:
        """The command for a program that sees it and ends with this process."""
        enter = ["nsenter", "--user", "--mount", "--preserve-credentials", "-t", str(self.holder)]
        become = ["unshare", "--user", f"--map-user={SOMEBODY}", f"--map-group={SOMEBODY}"]
        return [*enter, *become, "setpriv", "--pdeathsig", "INT", *command]

    def fill(self) -> None:
        """Until not a byte is left."""
        done = self._run("dd", "if=/dev/zero", f"of={self.folder}/filler", "bs=64k")
        assert b"No space left on device" in done.stderr

    def make_room(self) -> None:
        assert self._run("rm", self.folder / "filler").returncode == 0

    def _run(self, *command: str | Path) -> "subprocess.CompletedProcess[bytes]":
        whole = as_nobody_special(self.inside(command))
        return subprocess.run(whole, capture_output=True, check=False)


@contextmanager
def small_disk(folder: Path, megabytes: int) -> Iterator[SmallDisk]:
    """Skips the test, with the reason, where the machine allows no such thing."""
    mount = f"mount -t tmpfs -o size={megabytes}m,mode=700 small {folder} && echo made && exec cat"
    holder = subprocess.Popen(
        as_nobody_special(["unshare", "--user", "--map-root-user", "--mount", "sh", "-c", mount]),
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
    )
    assert holder.stdin is not None
    assert holder.stdout is not None
    try:
        if holder.stdout.readline() != b"made\n":
            assert holder.stderr is not None
            pytest.skip(f"this machine lets nobody mount: {holder.stderr.read()!r}")
        yield SmallDisk(folder, holder.pid)
    finally:
        holder.communicate()  # `cat` ends with its input, however this process ends
