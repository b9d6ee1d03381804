"""Superheat so low that liquid comes back, or may: at the compressor it washes out the oil."""

from lowside.core.handbook.system import Reading
from lowside.core.judging.conditions import SLACK_K, thermometer_error
from lowside.core.judging.findings import DANGER, REFUSE, Fact, Finding, Unknown
from lowside.core.judging.targets import SUPERHEAT_FLOOR_K


def floodback(superheat: float | Unknown, reading: Reading) -> list[Finding]:
    """No superheat, or none that the thermometer could tell from none."""
    if isinstance(superheat, Unknown) or reading.suction_line_k is None:
        return []
    if superheat >= thermometer_error(reading.suction_line_k):
        return []
    value = Fact("superheat", "temperature_difference", superheat)
    if superheat <= 0.0:
        return [Finding("liquid_return", DANGER, (value,))]
    return [Finding("floodback", REFUSE, (value,))]


def superheat_floor(superheat: float | Unknown) -> Finding | None:
    """Liquid comes too near the compressor. It refuses behind a fixed orifice. A valve so low may
    be on target, but is set before more goes in (READ: a four-way table, GPH1460H41 p. 35; the
    limit is ours)."""
    if isinstance(superheat, Unknown) or superheat >= SUPERHEAT_FLOOR_K - SLACK_K:
        return None
    value = Fact("superheat", "temperature_difference", superheat)
    limit = Fact("limit", "temperature_difference", SUPERHEAT_FLOOR_K)
    return Finding("superheat_floor", REFUSE, (value, limit))
