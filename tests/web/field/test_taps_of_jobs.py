"""Each demo job can be done by a thumb on the real pages, in no more acts than the goals."""

import subprocess
import sys
from pathlib import Path

BENCH = Path(__file__).parents[3] / "bench" / "taps.py"


def test_jobs_take_no_more_taps_than_the_goals() -> None:
    """It measures no time: its figures are the same on every machine."""
    ran = subprocess.run([sys.executable, str(BENCH)], capture_output=True, text=True, check=False)
    assert ran.returncode == 0, ran.stdout + ran.stderr
    assert ran.stdout.endswith("All goals are met.\n")
