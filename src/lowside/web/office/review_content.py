"""What the session's page prints of the office's review."""

from collections.abc import Sequence
from typing import Any

from lowside.core.judging.charge import Assessment
from lowside.core.office.flags import FLAG_NAMES, Flag, flags_of, in_order
from lowside.core.office.review import COMMENT, SIGN_OFF, covers_now, judged_now, review_of
from lowside.core.pages.drafts import NO_DRAFT
from lowside.core.pages.form import Posting, Prefill
from lowside.core.pages.screen import Screen
from lowside.core.pages.wording import day_and_time
from lowside.core.session.state import latest_reading
from lowside.web.office.links import comment_href, sign_off_href
from lowside.web.office.office_form import office_form

JUDGED_NAMES = (
    ("verdict", "Verdict"),
    ("superheat", "Superheat"),
    ("subcooling", "Subcooling"),
    ("tables", "Property tables"),
)


def review_context(screen: Screen, visitor: str, beside: Sequence[Flag]) -> dict[str, Any]:
    """Part of the context of `office/session.html`.

    Args:
        screen: the session, with the form that was refused if one was.
        visitor: who is looking, "" when this machine's owner is.
        beside: flags that other sessions raise.
    """
    state = screen.state
    review = review_of(state)
    signed = review.signed
    now = judged_now(state, last_assessment(screen), screen.handbook.version, signed)
    then = dict(signed.judged) if signed is not None else {}
    return {
        "flags": [
            {"name": FLAG_NAMES[flag.code], "detail": flag.detail}
            for flag in flags_now(screen, beside)
        ],
        "comments": [
            {
                "text": comment.text,
                "by": comment.by,
                "at": day_and_time(comment.moment),
            }
            for comment in review.comments
        ],
        "signed": ""
        if signed is None
        else f"Signed off by {signed.signed}, {day_and_time(signed.moment)}",
        "remark": "" if signed is None else signed.remark,
        "changed": review.changed_since and signed is not None,
        "judged": [
            {"name": name, "then": then.get(code, ""), "now": now.get(code, "")}
            for code, name in JUDGED_NAMES
            if code in then or code in now
        ]
        if signed is not None
        else [],
        "differs": signed is not None
        and any(then.get(code, "") != now.get(code, "") for code, _ in JUDGED_NAMES),
        "comment": _form(screen, COMMENT.name, 2, {}),
        "sign_off": _form(screen, SIGN_OFF.name, 3, {"signed": visitor}),
        "can_sign": state.closed is not None,
        "entries": covers_now(state),
    }


def flags_now(screen: Screen, beside: Sequence[Flag]) -> tuple[Flag, ...]:
    """Every flag of a session, by today's rules and tables."""
    return in_order((*flags_of(screen.state, last_assessment(screen), screen.handbook), *beside))


def last_assessment(screen: Screen) -> Assessment | None:
    """What the last reading means by today's tables."""
    latest = latest_reading(screen.state)
    return None if latest is None else latest.assessment


def _form(screen: Screen, name: str, number: int, known: dict[str, str]) -> dict[str, Any]:
    form = COMMENT if name == COMMENT.name else SIGN_OFF
    action = comment_href(screen.sid) if form is COMMENT else sign_off_href(screen.sid)
    tried = screen.refused(name)
    posting = Posting(action, screen.eid(number), "", "", NO_DRAFT, form.button)
    filling = Prefill(tried.typed if tried is not None else known, tried)
    return office_form(screen, form, filling, posting)
