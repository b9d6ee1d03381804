"""One Node for the small cores of a test file."""

from collections.abc import Iterator

import pytest
from tiny_core import Cores, running_cores


@pytest.fixture(scope="module")
def cores(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Cores]:
    with running_cores(tmp_path_factory.mktemp("cores")) as running:
        yield running
