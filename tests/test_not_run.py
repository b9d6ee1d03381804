"""No test is left out silently: the last lines of a run say what was not tried, and why, and which
browser engines ran."""

from importlib.util import module_from_spec, spec_from_file_location
from pathlib import Path
from types import SimpleNamespace

import pytest

WHERE = ("test_some.py", 1)


def last_lines(
    root: Path, capsys: pytest.CaptureFixture[str], stats: dict[str, list[SimpleNamespace]]
) -> str:
    """What a run with these reports says at its end."""
    spec = spec_from_file_location("of_every_test", root / "tests" / "conftest.py")
    assert spec is not None
    assert spec.loader is not None
    conftest = module_from_spec(spec)
    spec.loader.exec_module(conftest)
    config = SimpleNamespace(stash=pytest.Stash())
    conftest.pytest_terminal_summary(SimpleNamespace(stats=stats, config=config))
    conftest.pytest_unconfigure(config)
    return capsys.readouterr().out


def report(engine: str = "", when: str = "call", skipped: bool = False) -> SimpleNamespace:
    properties = [("engine", engine)] if engine else [("other", "chromium 1")]
    longrepr = (*WHERE, "Skipped: why") if skipped else None
    return SimpleNamespace(
        when=when, skipped=skipped, user_properties=properties, longrepr=longrepr
    )


def test_a_run_that_leaves_tests_out_says_so_in_its_last_line(
    root: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    def run_of(*reasons: str) -> str:
        skipped = [SimpleNamespace(longrepr=(*WHERE, f"Skipped: {why}")) for why in reasons]
        return last_lines(root, capsys, {"skipped": skipped} if skipped else {})

    assert run_of() == ""
    assert run_of("nobody may mount", "there is no moon", "nobody may mount") == (
        "NOT TRIED HERE: 3 tests: 2 because nobody may mount; 1 because there is no moon\n"
    )


def test_the_last_line_says_which_engines_really_ran(
    root: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert last_lines(root, capsys, {"passed": [report()]}) == ""
    stats = {
        "passed": [
            *(report(name) for name in ("webkit 2.46", "chromium", "chromium 131.0", "chromium")),
            report(),
        ],
        "failed": [report("webkit 2.46")],
        "": [report("firefox 128", when="setup"), report("webkit 2.46", when="teardown")],
        "skipped": [report("firefox 128", skipped=True)],
    }
    assert last_lines(root, capsys, stats) == (
        "NOT TRIED HERE: 1 tests: 1 because why\n"
        "Browser tests ran in chromium 131.0 (3), webkit 2.46 (2)\n"
    )
