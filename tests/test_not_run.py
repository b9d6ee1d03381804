"""No test is left out silently: the last line of a run says what was not tried, and why."""

from importlib.util import module_from_spec, spec_from_file_location
from pathlib import Path
from types import SimpleNamespace

import pytest

WHERE = ("test_some.py", 1)


def test_a_run_that_leaves_tests_out_says_so_in_its_last_line(
    root: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    spec = spec_from_file_location("of_every_test", root / "tests" / "conftest.py")
    assert spec is not None
    assert spec.loader is not None
    conftest = module_from_spec(spec)
    spec.loader.exec_module(conftest)

    def run_of(*reasons: str) -> str:
        skipped = [SimpleNamespace(longrepr=(*WHERE, f"Skipped: {why}")) for why in reasons]
        config = SimpleNamespace(stash=pytest.Stash())
        conftest.pytest_terminal_summary(
            SimpleNamespace(stats={"skipped": skipped} if skipped else {}, config=config)
        )
        conftest.pytest_unconfigure(config)
        return capsys.readouterr().out

    assert run_of() == ""
    assert run_of("nobody may mount", "there is no moon", "nobody may mount") == (
        "NOT TRIED HERE: 3 tests: 2 because nobody may mount; 1 because there is no moon\n"
    )
