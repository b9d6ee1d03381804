"""The office pages' addresses."""

from urllib.parse import urlencode


def session_href(sid: str) -> str:
    return "/office/session/" + sid


def record_href(sid: str) -> str:
    return session_href(sid) + "/record"


def comment_href(sid: str) -> str:
    return session_href(sid) + "/comment"


def sign_off_href(sid: str) -> str:
    return session_href(sid) + "/sign-off"


def void_href(sid: str) -> str:
    return session_href(sid) + "/void"


def unit_href(site: str, unit_label: str) -> str:
    return "/office/unit?" + urlencode({"site": site, "unit": unit_label})


NEW_CYLINDER_HREF = "/office/cylinder/new"


def cylinder_href(label: str, kind: str) -> str:
    return "/office/cylinder?" + urlencode({"label": label, "kind": kind})
