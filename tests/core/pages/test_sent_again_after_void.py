"""The same form sent again after its entry was voided is not answered as saved: it is not saved.

Our choice.
"""

from collections.abc import Mapping

import pytest
from strategies import Book, ready_to_charge

from lowside.core.handbook.handbook import Handbook
from lowside.core.pages.addresses import FORM, Address
from lowside.core.pages.recording import (
    SAVED_BEFORE,
    AlreadyRecorded,
    Record,
    Refusal,
    record_form,
)
from lowside.core.session.events import Moment
from lowside.core.session.fold import fold

NOTE = {"text": "The disconnect is loose"}
EID = "01JD00000000000000000000AA"


def sent(
    book: Book, typed: Mapping[str, str], handbook: Handbook
) -> Record | AlreadyRecorded | Refusal:
    state = fold(book.events, handbook)
    now = Moment(book.run, book.mono, book.at)
    return record_form(state, Address(book.sid, FORM, "note"), typed, handbook, now)


@pytest.mark.parametrize("voids", [0, 1, 2])
def test_it_is_saved_only_while_its_entry_counts(handbook: Handbook, voids: int) -> None:
    book = ready_to_charge(Book())
    target = book.write("note.added", NOTE).eid
    typed = {**NOTE, "eid": target}
    assert isinstance(sent(book, {**NOTE, "eid": EID}, handbook), Record)
    for _ in range(voids):
        target = book.write("event.voided", {"target": target, "reason": "typed wrong"}).eid
    answer = sent(book.wait(60), typed, handbook)
    if voids == 1:
        assert isinstance(answer, Refusal)
        assert answer.attempt.message == SAVED_BEFORE
    else:
        assert isinstance(answer, AlreadyRecorded)
