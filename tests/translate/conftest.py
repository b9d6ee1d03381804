"""The phone's core in each engine that the run asks for, and Node for the small cores of a test."""

from collections.abc import Iterator

import pytest
from phone_core import ENGINES, Core, core_in
from tiny_core import Cores, running_cores

from lowside.core.handbook.handbook import Handbook
from lowside.web.phone.handbook import for_phone


@pytest.fixture(scope="session")
def handbook(handbook: Handbook) -> Handbook:
    """The handbook as a phone has it."""
    return for_phone(handbook)


@pytest.fixture(scope="session", params=ENGINES)
def core(
    request: pytest.FixtureRequest, handbook: Handbook, tmp_path_factory: pytest.TempPathFactory
) -> Iterator[Core]:
    """The phone's script in Node, in Firefox and in WebKit, and its readable modules in Node."""
    with core_in(request.param, handbook, tmp_path_factory.mktemp("profile")) as running:
        yield running


@pytest.fixture(scope="module")
def cores(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Cores]:
    """One Node for the small cores of a test file."""
    with running_cores(tmp_path_factory.mktemp("cores")) as running:
        yield running
