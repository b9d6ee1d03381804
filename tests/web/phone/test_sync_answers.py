"""How much an answer holds, and that one refused entry keeps no other out."""

from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING

import pytest
from store_cases import event, ulid
from test_sync import NOW, ask, outcomes
from website import Site, open_site

from lowside.core.session.events import Event, hlc
from lowside.web.phone.needed import DAY_MS
from lowside.web.phone.sync import MOST_AT_ONCE, MOST_BESIDE_ENTRIES

if TYPE_CHECKING:
    from lowside.core.handbook.handbook import Handbook

SID, OTHERS = ulid(1, NOW), ulid(2, NOW)


@pytest.fixture
def site(place: Path | str, handbook: "Handbook") -> Iterator[Site]:
    with open_site(place, handbook) as site:
        yield site


def mine(seq: int) -> Event:
    return replace(event(seq, sid=SID), at=NOW, hlc=hlc(NOW, seq))


@pytest.mark.parametrize("is_new", [True, False], ids=["a new phone", "a phone that is behind"])
def test_what_is_handed_over_is_confirmed_by_a_short_answer(site: Site, is_new: bool) -> None:
    start = event(1, sid=OTHERS, kind="session.started", procedure="hand-valved-three-port")
    cursor = "" if is_new else ask(site)["cursor"]
    site.store.append([start, *(event(n, sid=OTHERS) for n in range(2, 701))])
    answer = ask(site, [mine(1)], cursor)
    assert outcomes(answer) == ["stored"]
    assert len(answer["events"]) in (MOST_BESIDE_ENTRIES, MOST_BESIDE_ENTRIES + 1)
    assert answer["more"]
    # Who hands over nothing is sent larger pieces, and nothing is left out.
    following = ask(site, cursor=answer["cursor"])
    assert (len(following["events"]), following["more"]) == (MOST_AT_ONCE, True)
    rest = ask(site, cursor=following["cursor"])
    assert not rest["more"]
    got = [e for one in (answer, following, rest) for e in one["events"] if e["sid"] == OTHERS]
    assert [e["seq"] for e in got] == list(range(1, 701))


def test_who_hands_over_much_is_not_sent_it_again(site: Site) -> None:
    """Its own entries are among what arrived, and so do not take the room of others'."""
    cursor = ask(site)["cursor"]
    site.store.append([event(n, sid=OTHERS) for n in range(1, 151)])
    got: list[dict[str, object]] = []
    for first in range(1, 501, 100):
        answer = ask(site, [mine(seq) for seq in range(first, first + 100)], cursor)
        cursor = answer["cursor"]
        got += answer["events"]
    assert [e["seq"] for e in got if e["sid"] == OTHERS] == list(range(1, 151))
    assert len([e for e in got if e["sid"] == SID]) <= MOST_BESIDE_ENTRIES


ODD = {
    "its time is ahead": {"at": NOW + 2 * DAY_MS},
    "its place in the order is ahead": {"hlc": hlc(NOW + 2 * DAY_MS, 0)},
    "a kind of practice": {"kind": "practice.started"},
    "a kind of the office": {"kind": "office.commented"},
    "a run of practice": {"run": SID},
    "data of practice": {"data": {"practice": "yes"}},
}


@pytest.mark.parametrize("odd", ODD.values(), ids=ODD)
@pytest.mark.parametrize("at", [0, 2, 4])
def test_an_entry_that_is_not_taken_keeps_no_other_out(
    site: Site, odd: dict[str, object], at: int
) -> None:
    sent = [mine(seq) for seq in range(1, 6)]
    sent[at] = replace(sent[at], **odd)  # type: ignore[arg-type]
    answer = ask(site, sent)
    assert outcomes(answer) == ["refused" if n == at else "stored" for n in range(5)]
    assert answer["verdicts"][at]["reason"] != ""
    assert site.store.events(SID) == sent[:at] + sent[at + 1 :]
