"""No test is left out silently: the last line of a run says what was not tried, and why."""

import subprocess
import sys
from pathlib import Path


def test_a_run_that_leaves_tests_out_says_so_in_its_last_line(tmp_path: Path, root: Path) -> None:
    (tmp_path / "conftest.py").write_text((root / "tests" / "conftest.py").read_text())
    (tmp_path / "test_some.py").write_text(
        "import pytest\n\n"
        "def test_one(): pass\n\n"
        "@pytest.mark.parametrize('n', [1, 2])\n"
        "def test_two(n): pytest.skip('nobody may mount')\n\n"
        "@pytest.mark.skipif(True, reason='there is no moon')\n"
        "def test_three(): pass\n"
    )
    command = [sys.executable, "-m", "pytest", "-q", "-p", "no:cacheprovider", "--rootdir"]
    done = subprocess.run(
        [*command, tmp_path, tmp_path], capture_output=True, text=True, check=False, cwd=tmp_path
    )
    assert done.returncode == 0, done.stdout
    assert done.stdout.rstrip().splitlines()[-1] == (
        "NOT TRIED HERE: 3 tests: 2 because nobody may mount; 1 because there is no moon"
    )
