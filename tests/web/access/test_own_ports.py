"""The ports that tests use: no two runs beside each other have the same."""

import os
import subprocess
import sys
from pathlib import Path

import ports
from ports import FIRST, ROW, free_ports

OTHER = """
import os
os.getpid = lambda: {mine}
from ports import free_ports
print(*free_ports(3))
"""


def rows(given: list[int]) -> set[int]:
    return {(port - FIRST) // ROW for port in given}


def test_a_run_beside_this_one_takes_another_row_even_with_a_number_like_ours() -> None:
    mine = free_ports(3)
    done = subprocess.run(
        [sys.executable, "-c", OTHER.format(mine=os.getpid())],
        env=os.environ | {"PYTHONPATH": str(Path(ports.__file__).parent)},
        capture_output=True,
        text=True,
        check=True,
    )
    others = [int(port) for port in done.stdout.split()]
    assert len(rows(mine)) == len(rows(others)) == 1
    assert rows(mine).isdisjoint(rows(others))
