"""A second tap of one hand: it lands on the next page, on a button nobody has read yet."""

from lowside.core.session.events import FIRST_KIND, Moment
from lowside.core.session.state import STANDS, Entry, State
from lowside.core.session.ulids import is_ulid, ulid_ms

READ_S = 1.0
"""Nobody reads a new page and taps its button sooner [s]. Our choice."""

BY_ONE_TAP = (
    "done",
    "decide",
    "shot_open",
    "shot_close",
    "shot_weigh",
    "shot_unweighed",
    "system_started",
    "hold",
    "hoses_recover",
)
"""Forms that one tap can send and that say something was done at the unit."""

ALWAYS_MEANT = "system_stopped"
"""“The unit has stopped” is never too early."""


def tapped_again(state: State, form_name: str, now: Moment, eid: str = "") -> bool:
    """Whether a form came too soon after this device's last entry to be meant.

    Only within one run of the program, by its monotonic clock: across two there is no saying. The
    server has one run for every phone that works through it: a form whose page, by the time in its
    `eid`, is older than that entry was read before it, and is meant.
    """
    if form_name not in BY_ONE_TAP:
        return False
    last = _last_by_hand(state, now.run)
    if last is None:
        return False
    if not state.practice and is_ulid(eid) and ulid_ms(eid) < last.moment.at:
        return False
    return too_soon(form_name, (now.mono - last.moment.mono) / 1000.0)


def too_soon(form_name: str, passed_s: float) -> bool:
    """Whether nobody can have read the page so soon after it came up [s]. The page's own script
    asks this too, of any form that no hand has touched."""
    return form_name != ALWAYS_MEANT and passed_s >= 0.0 and passed_s < READ_S


def _last_by_hand(state: State, run: str) -> Entry | None:
    """The newest entry of this run that a form made; a practice unit writes entries of its own."""
    found: Entry | None = None
    for entry in state.entries:
        by_form = not entry.kind.startswith("practice.") and entry.kind != FIRST_KIND
        if by_form and entry.status == STANDS and entry.moment.run == run:
            found = entry
    return found
