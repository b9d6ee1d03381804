"""A session in one row: what lists, the month's report and exports say of it."""

from dataclasses import dataclass
from typing import Literal

from lowside.core.handbook.handbook import Handbook
from lowside.core.judging.charge import Assessment
from lowside.core.office.flags import Flag, flags_of
from lowside.core.office.review import VERDICT_NAMES, VerdictName, review_of
from lowside.core.session.amount import amount
from lowside.core.session.events import Moment
from lowside.core.session.since_read import since_read
from lowside.core.session.state import State
from lowside.core.session.unit import designation

READ_BEFORE: Literal["Not read since"] = "Not read since"
"""In place of a verdict: the reading is of a charge that was not left so."""


@dataclass(frozen=True)
class Summary:
    """Plain values, SI: it is kept as text in the index."""

    sid: str
    site: str
    unit_label: str
    technician: str
    refrigerant: str
    cylinder: str
    started: Moment | None
    closed: Moment | None
    signed_by: str
    added_kg: float
    recovered_kg: float
    at_least: bool
    """A shot was not weighed."""
    shots: int
    verdict: VerdictName | Literal["", "Not read since"]
    """How its last reading is judged; empty without one, READ_BEFORE where charge went in or out
    after it. Then its figures are not here either."""
    superheat_k: float | None
    subcooling_k: float | None
    judged_by: str
    """Version of the property tables; empty when nothing was judged."""
    flags: tuple[Flag, ...]
    signed_off: str
    """Who signed it off in the office, empty while it needs a look or nobody has."""
    comments: int
    seen: tuple[str, ...] | None = None
    """Codes of the flags there were at the sign-off; `None` when it did not keep them."""


def needs_look(one: Summary) -> bool:
    """Whether a flagged session is still to be looked at: nobody signed it off, or another
    session raised a flag since."""
    if one.signed_off == "":
        return True
    return one.seen is not None and any(flag.code not in one.seen for flag in one.flags)


def summary_of(state: State, last: Assessment | None, handbook: Handbook) -> Summary:
    """The row of a session.

    Args:
        state: the session, judged or not: the same comes out.
        last: what its last reading means.
        handbook: it was judged by.
    """
    job = state.job
    found = amount(state)
    review = review_of(state)
    signed = review.signed
    unread = last is not None and since_read(state) != ""
    superheat = None if last is None or unread else last.measured.superheat_k
    subcooling = None if last is None or unread else last.measured.subcooling_k
    verdict: VerdictName | Literal["", "Not read since"] = ""
    if last is not None:
        verdict = READ_BEFORE if unread else VERDICT_NAMES[last.verdict]
    return Summary(
        sid=state.sid,
        site="" if job is None else job.site,
        unit_label="" if job is None else job.unit_label,
        technician="" if job is None else job.technician,
        refrigerant=designation(state.unit_texts),
        cylinder=_cylinders(state),
        started=state.started,
        closed=state.closed,
        signed_by=state.signed_by,
        added_kg=found.added_kg,
        recovered_kg=found.recovered_kg,
        at_least=found.at_least,
        shots=len(state.shots),
        verdict=verdict,
        superheat_k=superheat if isinstance(superheat, float) else None,
        subcooling_k=subcooling if isinstance(subcooling, float) else None,
        judged_by="" if last is None else handbook.version,
        flags=flags_of(state, last, handbook),
        signed_off=signed.signed if signed is not None and not review.changed_since else "",
        comments=len(review.comments),
        seen=None if signed is None else signed.flags,
    )


def _cylinders(state: State) -> str:
    """Those it charged from, in order, each once."""
    labels = [used.cylinder.label for used in state.used_before]
    if state.cylinder is not None:
        labels.append(state.cylinder.label)
    return " | ".join(dict.fromkeys(labels))
