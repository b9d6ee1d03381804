"""The advice is looked at several times between two readings, here as in the bench."""

from collections.abc import Iterator

import pytest

from lowside.practice.once import learned_once


@pytest.fixture(autouse=True)
def remembered() -> Iterator[None]:
    """Within a test the advice remembers what it learned; requests come one after another. That it
    is the same as learned each time is tested in `tests/practice/test_practice.py`."""
    with learned_once():
        yield
