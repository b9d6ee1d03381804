"""How a change dies away: e^−x from a table, because the core has no power function."""

from lowside.core.numbers.arithmetic import linear

_DECAY_X = (0.0, 0.25, 0.5, 0.75, 1.0, 1.25, 1.5, 1.75, 2.0, 2.5, 3.0, 3.5, 4.0, 5.0, 6.0, 8.0)
_DECAY_Y = (
    1.0,
    0.7788,
    0.6065,
    0.4724,
    0.3679,
    0.2865,
    0.2231,
    0.1738,
    0.1353,
    0.0821,
    0.0498,
    0.0302,
    0.0183,
    0.0067,
    0.0025,
    0.0003,
)
"""e^−x to four places."""


def decay(share: float) -> float:
    """e^−`share`, from a table; 0 beyond its end."""
    if share <= 0.0:
        return 1.0
    if share >= 8.0:
        return 0.0
    return linear(_DECAY_X, _DECAY_Y, share)


def time_constants_until(left: float) -> float:
    """How many time constants until only `left` (0 to 1) of a change is still to come."""
    for i in range(1, len(_DECAY_X)):
        if _DECAY_Y[i] <= left:
            share = (_DECAY_Y[i - 1] - left) / (_DECAY_Y[i - 1] - _DECAY_Y[i])
            if share < 0.0:
                return 0.0
            return _DECAY_X[i - 1] + (_DECAY_X[i] - _DECAY_X[i - 1]) * share
    return 8.0
