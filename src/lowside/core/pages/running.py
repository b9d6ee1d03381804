"""Clocks that run on a page. Its own script asks these functions too, while the page is up."""

from lowside.core.numbers.arithmetic import floored


def timer(seconds: float) -> str:
    """A running time as a stopwatch shows it: `0:42`, `12:05`, `1:02:03`."""
    whole = floored(seconds) if seconds > 0.0 else 0
    hours = floored(whole / 3600)
    minutes = floored(whole / 60) - hours * 60
    end = ":" + two_digits(whole - floored(whole / 60) * 60)
    return str(minutes) + end if hours == 0 else str(hours) + ":" + two_digits(minutes) + end


def is_over(elapsed: float, wait: float) -> bool:
    """Whether a wait, or the time a valve may be open, is over [s]."""
    return elapsed >= wait


def clock_face(elapsed: float, wait: float) -> str:
    """What a clock shows: how long there is still to wait, to the whole second that has begun, then
    the time since its start [s]."""
    if is_over(elapsed, wait):
        return timer(elapsed)
    return timer(float(-floored(elapsed - wait)))


def two_digits(number: int) -> str:
    """Minutes, seconds or a day as a clock and a calendar show them: `05`."""
    return "0" + str(number) if number < 10 else str(number)
