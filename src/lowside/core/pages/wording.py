"""Times, durations and names as the screen writes them."""

from lowside.core.handbook import system
from lowside.core.numbers.calendar import civil_date
from lowside.core.pages.running import two_digits
from lowside.core.session.events import Moment

TITLES: dict[str, str] = {
    "session.started": "Session started",
    "units.set": "Units chosen",
    "job.set": "Job",
    "unit.set": "Unit",
    "machine.set": "Unit type and mode",
    "target.set": "Target",
    "checks.answered": "Checks before charging",
    "cylinder.set": "Cylinder",
    "weight.start": "Start weight",
    "scale.set": "Scale set",
    "reading.taken": "Reading",
    "reading.final": "Final reading",
    "decision.made": "Decision",
    "shot.opened": "Shot started",
    "shot.closed": "Shot ended",
    "shot.weighed": "Shot weighed",
    "shot.unweighed": "Shot not weighed",
    "hoses.recover": "Recover the hoses",
    "system.stopped": "Unit stopped",
    "system.started": "Unit running again",
    "hold.started": "Hold begun",
    "note.added": "Note",
    "photo.taken": "Photo",
    "weight.end": "End weight",
    "weights.explained": "Weights compared",
    "session.closed": "Session closed",
    "step.done": "Step done",
    "session.discarded": "Session discarded",
    "recovery.ready": "Before recovery",
    "recovery.cylinder": "Recovery cylinder",
    "recovery.contents": "Recovery cylinder before",
    "recovery.weighed": "Refrigerant recovered",
    "weighing.ready": "Before weigh-in",
    "pressure.tested": "Nitrogen pressure test",
    "vacuum.held": "Vacuum",
    "weighing.total": "Adders",
    "weighing.off": "Weighed in, unit off",
    "weighing.run": "How it runs",
    "weighing.rest": "Weighed in, unit running",
    "weighing.compared": "Weigh-in compared",
    "practice.valve": "Practice: low-side manifold valve turned",
    "practice.pace": "Practice: clock speed",
    "practice.recovery": "Practice: recovery machine",
    "event.voided": "Entry voided",
    "event.amended": "Entry corrected",
    "office.recorded": "Office: service record",
    "office.cylinder": "Office: cylinder",
    "office.commented": "Office: comment",
    "office.signed_off": "Office: signed off",
}
"""What the timeline calls each kind of event."""

METERING_NAMES: dict[system.Metering, str] = {
    system.TXV: "TXV",
    system.EEV: "EEV",
    system.FIXED: "fixed orifice",
    system.METERING_UNKNOWN: "not known",
}

METHOD_NAMES: dict[system.ChargingMethod, str] = {
    system.BY_SUBCOOLING: "manufacturer’s subcooling",
    system.BY_SUPERHEAT: "manufacturer’s superheat",
    system.BY_CHART: "target-superheat chart",
    system.BY_APPROACH: "manufacturer’s approach",
    system.BY_SUCTION_PRESSURE: "suction pressure",
    system.BY_LIQUID_PRESSURE: "liquid pressure",
    system.BY_WEIGHT: "weigh-in",
}

_DAY_MS = 86_400_000


def title_of(kind: str) -> str:
    """The kind of an event in words; an unknown kind is named as it came."""
    return TITLES.get(kind, "Entry of a kind this version does not know: " + kind)


def clock_time(moment: Moment) -> str:
    """Local time of day, `14:05`."""
    minutes = _local_ms(moment) % _DAY_MS // 60_000
    return two_digits(minutes // 60) + ":" + two_digits(minutes % 60)


def clock_seconds(moment: Moment) -> str:
    """Local time of day to the second, `14:05:09`."""
    return clock_time(moment) + ":" + two_digits(_local_ms(moment) % 60_000 // 1000)


def day(moment: Moment) -> str:
    """Local calendar date, `2026-11-25`."""
    year, month, day_of_month = civil_date(_local_ms(moment) // _DAY_MS)
    return str(year) + "-" + two_digits(month) + "-" + two_digits(day_of_month)


def day_and_time(moment: Moment) -> str:
    """`2026-11-25 14:05`."""
    return day(moment) + " " + clock_time(moment)


def duration(seconds: float) -> str:
    """A past time in words: `42 s`, `5 min`, `1 h 20 min`."""
    whole = int(seconds) if seconds > 0.0 else 0
    if whole < 120:
        return str(whole) + " s"
    minutes = whole // 60
    if minutes < 120:
        return str(minutes) + " min"
    return str(minutes // 60) + " h " + str(minutes % 60) + " min"


def ago(seconds: float) -> str:
    """How long a reading is past: `just now`, `2 min ago`, `1 h 20 min ago`."""
    if seconds < 60.0:
        return "just now"
    return ("1 min" if seconds < 120.0 else duration(seconds)) + " ago"


def ticket_number(sid: str) -> str:
    """The short name of a session: the last six characters of its ULID."""
    return sid[-6:]


def _local_ms(moment: Moment) -> int:
    return moment.at + moment.tz * 60_000
