"""What every test may lean on: the checkout, the handbook, and repeatable generated cases."""

import gc
import os
import shutil
import subprocess
import sys
from collections import Counter
from collections.abc import Callable, Iterable, Iterator
from itertools import count
from pathlib import Path
from typing import TYPE_CHECKING
from uuid import uuid4

import pytest
from hypothesis import HealthCheck, settings
from workers import shared_by_workers

if TYPE_CHECKING:
    from postgres_cluster import Cluster

    from lowside.core.handbook.handbook import Handbook

# Before anybody imports them, in whatever order tests are named: their assertions are explained.
pytest.register_assert_rewrite("engines", "hands", "pocket_phone", "rough_link", "waiting")

ROOT = Path(__file__).parents[1]

# As the server has it (`NEW_OBJECTS` in `lowside.cli`): a tenth of the time was looking for
# rings in whole sessions, which have none.
gc.set_threshold(50_000)

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
def handbook() -> "Iterator[Handbook]":
    """The handbook the program itself works with; it is told by its version, not as a megabyte."""
    from lowside.core.handbook.handbook import Handbook  # noqa: PLC0415 - few tests need it
    from lowside.library import load_handbook  # noqa: PLC0415

    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(Handbook, "__repr__", lambda one: f"<Handbook {one.version}>")
        # Hypothesis writes a dataclass field by field, whatever it says of itself.
        patch.setattr(
            Handbook, "_repr_pretty_", lambda one, out, _: out.text(repr(one)), raising=False
        )
        yield load_handbook()


@pytest.fixture(scope="session")
def cluster() -> "Iterator[Cluster]":
    """A PostgreSQL for the run; its database `lowside` is made ready for shops.

    Tests that use it are in the xdist group "postgres", so one worker has it.
    """
    from postgres_cluster import running_cluster  # noqa: PLC0415 - few tests need it

    with running_cluster() as cluster:
        yield cluster


NUMBERS = count(1)


@pytest.fixture
def new_shop(cluster: "Cluster") -> Callable[[], str]:
    """Makes a shop in the run's database; gives its address for a role of its own."""
    from lowside.store.postgres.migrating import prepare  # noqa: PLC0415

    def make() -> str:
        name = f"shop_{next(NUMBERS)}"
        prepare(cluster.address("lowside"), name, name)
        return cluster.address("lowside", name)

    return make


@pytest.fixture(
    params=["files", pytest.param("postgres", marks=pytest.mark.xdist_group("postgres"))]
)
def place(request: pytest.FixtureRequest, tmp_path: Path) -> Path | str:
    """Where the test's store is: a folder, then a database. What it tests holds for both."""
    if request.param == "files":
        return tmp_path / "data"
    return str(request.getfixturevalue("new_shop")())


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """Tests of a file that share a fixture of their module, a browser or a Node, are run by one
    worker: else each of the three would start its own."""
    for item in items:
        known = item._fixtureinfo.name2fixturedefs if isinstance(item, pytest.Function) else {}
        shares = any(found[-1].scope == "module" for found in known.values())
        if shares and item.get_closest_marker("xdist_group") is None:
            item.add_marker(pytest.mark.xdist_group(item.nodeid.partition("::")[0]))


def pytest_collection_finish() -> None:
    """What was collected stays to the end, so it is not looked through for garbage."""
    gc.freeze()


AT_WORK = pytest.StashKey[subprocess.Popen[bytes]]()
MAKES_SCRIPT = """\
from lowside.library import load_handbook
from lowside.web.app import SECURITY_HEADERS
from lowside.web.phone.offline import worker_script
worker_script(load_handbook(), SECURITY_HEADERS).encoded
"""


def pytest_configure(config: pytest.Config) -> None:
    """With workers: have the phone's script in the cache before every first server of theirs finds
    it missing and makes it, which takes eight seconds. What is wrong with it, tests will say."""
    if config.getoption("numprocesses", None) and not hasattr(config, "workerinput"):
        config.option.testrunuid = config.option.testrunuid or uuid4().hex
        config.stash[AT_WORK] = subprocess.Popen(
            [sys.executable, "-c", MAKES_SCRIPT],
            stdout=subprocess.DEVNULL,
            stderr=subprocess.DEVNULL,
        )


RAN = pytest.StashKey[str]()
NOT_RUN = pytest.StashKey[str]()


@pytest.hookimpl(trylast=True)
def pytest_unconfigure(config: pytest.Config) -> None:
    """The last lines of a run: what was not tried on this machine, and why; then in which browser
    engines tests really ran, in how many each."""
    if AT_WORK in config.stash:
        config.stash[AT_WORK].wait()
        shutil.rmtree(shared_by_workers(config.option.testrunuid), ignore_errors=True)
    if config.stash.get(NOT_RUN, ""):
        print(config.stash[NOT_RUN])
    if config.stash.get(RAN, ""):
        print(f"Browser tests ran in {config.stash[RAN]}")


def said_of_skipped(reports: Iterable[pytest.TestReport]) -> str:
    """One line about tests that did not run, with each reason; "" when all did."""
    reasons = Counter(
        report.longrepr[2].removeprefix("Skipped: ")
        for report in reports
        if isinstance(report.longrepr, tuple)
    )
    if not reasons:
        return ""
    told = "; ".join(f"{count} because {reason}" for reason, count in sorted(reasons.items()))
    return f"NOT TRIED HERE: {reasons.total()} tests: {told}"


def pytest_terminal_summary(terminalreporter: pytest.TerminalReporter) -> None:
    """Count the tests of each browser engine, and those that did not run."""
    skipped = said_of_skipped(terminalreporter.stats.get("skipped", ()))
    terminalreporter.config.stash[NOT_RUN] = skipped
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
