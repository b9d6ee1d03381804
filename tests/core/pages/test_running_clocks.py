"""A clock on a page says the same when the page comes and while it stays."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from lowside.core.pages.running import clock_face, is_over, timer
from lowside.core.session.taps import ALWAYS_MEANT, READ_S, too_soon


@pytest.mark.parametrize(
    ("seconds", "face"),
    [
        (0.0, "0:00"),
        (-3.0, "0:00"),
        (59.9, "0:59"),
        (60.0, "1:00"),
        (725.0, "12:05"),
        (3599.0, "59:59"),
        (3600.0, "1:00:00"),
        (3723.4, "1:02:03"),
        (360_000.0, "100:00:00"),
    ],
)
def test_a_stopwatch(seconds: float, face: str) -> None:
    assert timer(seconds) == face


@pytest.mark.parametrize(
    ("elapsed", "face"),
    [
        (0.0, "5:00"),
        (0.1, "5:00"),
        (1.0, "4:59"),
        (299.9, "0:01"),
        (300.0, "5:00"),
        (301.0, "5:01"),
    ],
)
def test_a_wait_counts_down_and_then_on(elapsed: float, face: str) -> None:
    assert clock_face(elapsed, 300.0) == face


@given(elapsed=st.floats(0, 1e5), wait=st.floats(0, 1e5))
def test_a_countdown_never_shows_nothing_left_before_it_is_over(
    elapsed: float, wait: float
) -> None:
    assert is_over(elapsed, wait) or clock_face(elapsed, wait) != "0:00"


def test_a_tap_is_too_soon_for_a_second_but_a_stopped_unit_is_always_meant() -> None:
    assert too_soon("done", 0.0)
    assert too_soon("done", READ_S - 0.001)
    assert not too_soon("done", READ_S)
    assert not too_soon("done", -0.001)
    assert not too_soon(ALWAYS_MEANT, 0.0)
