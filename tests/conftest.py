"""What every test may lean on: the checkout, the handbook, and repeatable generated cases."""

import os
from collections.abc import Callable, Iterator
from itertools import count
from pathlib import Path
from typing import TYPE_CHECKING

import pytest
from hypothesis import HealthCheck, settings

if TYPE_CHECKING:
    from postgres_cluster import Cluster

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


@pytest.fixture(scope="session")
def cluster() -> "Iterator[Cluster]":
    """A PostgreSQL for the run, with a database `template` that is ready for two shops.

    Tests that use it are in the xdist group "postgres", so one worker has it.
    """
    from postgres_cluster import SHOPS, running_cluster  # noqa: PLC0415 - few tests need it

    from lowside.store.postgres.migrating import prepare  # noqa: PLC0415

    with running_cluster() as cluster:
        cluster.copy("template0", "template")
        for role, shop in SHOPS.items():
            prepare(cluster.address("template"), shop, role)
        yield cluster


NUMBERS = count()


@pytest.fixture
def database(cluster: "Cluster") -> Iterator[Callable[..., str]]:
    """A database of the test's own: its address for a role, the mill's without one."""
    name = f"test_{next(NUMBERS)}"
    cluster.copy("template", name)
    yield lambda role="lowside_mill": cluster.address(name, role)
    cluster.drop(name)


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
