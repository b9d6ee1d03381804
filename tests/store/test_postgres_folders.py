"""The tests' own PostgreSQL leaves no folder behind, even when its run was killed."""

import os
from pathlib import Path

from postgres_cluster import BEGINNING, HELD, HOLD, JUST_MADE_S, clear_away, new_folder, remove

LONG_AGO_S = 10 * JUST_MADE_S


def age(folder: Path) -> None:
    then = folder.stat().st_mtime - LONG_AGO_S
    os.utime(folder, (then, then))


def test_what_a_killed_run_left_is_removed_and_what_is_in_use_is_not(tmp_path: Path) -> None:
    used = new_folder(tmp_path)
    left, older, running, young, other = (
        tmp_path / name
        for name in (
            *(f"{BEGINNING}left", f"{BEGINNING}older", f"{BEGINNING}running", f"{BEGINNING}young"),
            "lowside-other",
        )
    )
    for folder in (left, older, running, young, other):
        (folder / "data").mkdir(parents=True)
    (left / HOLD).touch()  # its process is gone, and the lock with it
    (older / "data" / "postmaster.pid").write_text("99999999\n/somewhere\n")
    (running / "data" / "postmaster.pid").write_text(f"{os.getpid()}\n/somewhere\n")
    for folder in (used, left, older, running, other):
        age(folder)
    clear_away(tmp_path)
    assert set(tmp_path.iterdir()) == {used, running, young, other}
    remove(used)
    assert not used.exists()
    assert used not in HELD
