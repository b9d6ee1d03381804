"""A corrected scale reading that no cylinder could show is refused by the phone too."""

import pytest
from phone_core import Core, assert_same, pairs, sent
from strategies import Book, ready_to_charge, with_units

from lowside.core.handbook.handbook import Handbook
from lowside.core.pages.addresses import AMEND, Address, path
from lowside.core.pages.recording import Record, Refusal, record_form
from lowside.core.session.events import Moment
from lowside.core.session.fold import fold


@pytest.mark.parametrize(("pounds", "kind"), [("27.4", Record), ("28.375", Refusal)])
def test_a_correction_is_judged_alike(
    core: Core, handbook: Handbook, pounds: str, kind: type
) -> None:
    book = ready_to_charge(Book())
    opened = book.form("shot_open")
    book.form("shot_close", 20)
    data = with_units("shot_weigh", {"scale_after": "27.375 lb"})
    weighed = book.write("shot.weighed", {"shot": opened.eid, **data})
    typed = {**data, "scale_after": pounds, "eid": "x", "back": ""}
    address = Address(AMEND, book.sid, weighed.eid)
    now = Moment(book.run, book.mono + 5000, book.at + 5000, -360)
    ours = record_form(fold(book.events, handbook), address, typed, handbook, now)
    assert isinstance(ours, kind)
    answer = core.ask(
        "core",
        {
            "ask": "pages",
            "events": sent(book.events),
            "others": [],
            "now": [now.run, now.mono, now.at, now.tz],
            "fresh": "01ARZ3NDEKTSV4RRFFQ69G5FAV",
            "paths": [],
            "post": {"path": path(address), "typed": pairs(typed)},
        },
    )
    assert_same(answer["outcome"], ours)
