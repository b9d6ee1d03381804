"""A generated case that fails is told as it is, however long it would be to write out."""

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from lowside.core.handbook.handbook import Handbook

TOO_LONG = "x" * 40_000
"""Hypothesis warns of this, and here warnings are errors."""


def told_of(given_beside: object) -> str:
    """What is told of a case that fails, beside something that every case has."""

    @settings(database=None)
    @given(number=st.integers())
    def never_five(number: int, beside: object) -> None:
        assert number < 5

    with pytest.raises(AssertionError) as caught:
        never_five(beside=given_beside)
    return "\n".join(caught.value.__notes__)


def test_a_failed_case_is_told_without_the_whole_handbook(handbook: Handbook) -> None:
    told = told_of(handbook)
    assert "number=5" in told
    assert handbook.version in told
    assert len(told) < 1_000


def test_a_failed_case_that_is_long_to_tell_is_told() -> None:
    assert "number=5" in told_of(TOO_LONG)
