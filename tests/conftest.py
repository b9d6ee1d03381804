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
