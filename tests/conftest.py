"""What every test may lean on: the checkout, the handbook, and repeatable generated cases."""

import os
from pathlib import Path
from typing import TYPE_CHECKING

import pytest
from hypothesis import HealthCheck, settings

if TYPE_CHECKING:
    from lowside.core.handbook.handbook import Handbook

ROOT = Path(__file__).parents[1]

# No deadline: a timed assertion fails on a busy machine and says nothing about the code.
settings.register_profile(
    "here", deadline=None, suppress_health_check=[HealthCheck.too_slow], print_blob=True
)
# The same cases every time where nobody is there to rerun a flake.
settings.register_profile("ci", settings.get_profile("here"), derandomize=True)
settings.load_profile("ci" if os.environ.get("CI") else "here")


@pytest.fixture(scope="session")
def root() -> Path:
    """The checkout."""
    return ROOT


@pytest.fixture(scope="session")
def handbook() -> "Handbook":
    """The handbook the program itself works with."""
    from lowside.library import load_handbook  # noqa: PLC0415 - few tests need it

    return load_handbook()


RAN = pytest.StashKey[str]()


@pytest.hookimpl(trylast=True)
def pytest_unconfigure(config: pytest.Config) -> None:
    """The last line of a run: in which browser engines tests really ran, in how many each."""
    if config.stash.get(RAN, ""):
        print(f"Browser tests ran in {config.stash[RAN]}")


def pytest_terminal_summary(terminalreporter: pytest.TerminalReporter) -> None:
    """Count the tests of each browser engine."""
    versions: dict[str, str] = {}
    tests: dict[str, int] = {}
    for reports in terminalreporter.stats.values():
        for report in reports:
            if getattr(report, "when", "") != "call" or getattr(report, "skipped", False):
                continue
            for name, value in report.user_properties:
                if name == "engine":
                    engine, _, version = value.partition(" ")
                    tests[engine] = tests.get(engine, 0) + 1
                    versions[engine] = version or versions.get(engine, "")
    ran = [f"{engine} {versions[engine]} ({tests[engine]})" for engine in sorted(tests)]
    terminalreporter.config.stash[RAN] = ", ".join(ran)
