"""A copy of a stored entry takes neither its writer, its time nor its place in the order.

The fold counts an `eid` once, the earlier in the order. So a copy from before the stored one would
take its place. That it is set aside is our choice, no source.
"""

from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

import pytest
from store_cases import SID, event, opened

from lowside.core.session.events import hlc, in_order
from lowside.store import Outcome, Store

STORED = replace(event(1), dev="phone-b", hlc=hlc(event(1).at, 5))


@pytest.fixture
def store(tmp_path: Path) -> Iterator[Store]:
    with opened(tmp_path / "data") as store:
        store.append([STORED])
        yield store


@pytest.mark.parametrize(
    "copy",
    [
        replace(STORED, dev="phone-x", hlc=hlc(STORED.at - 1, 0), at=STORED.at - 1),
        replace(STORED, dev="phone-x", hlc=hlc(STORED.at, 4)),
        # At one clock value the names decide.
        replace(STORED, dev="phone-a"),
    ],
)
def test_a_copy_from_before_the_stored_one_is_set_aside(store: Store, copy: object) -> None:
    for _ in range(2):
        assert [one.outcome for one in store.append([copy])] == [Outcome.QUARANTINED]  # type: ignore[list-item]
    assert in_order(store.events(SID)) == [STORED]
    assert [one.event for one in store.quarantined()] == [copy]


def test_so_it_is_within_one_save(tmp_path: Path) -> None:
    copy = replace(STORED, dev="phone-x", hlc=hlc(STORED.at - 1, 0))
    with opened(tmp_path / "other") as store:
        found = [one.outcome for one in store.append([STORED, copy])]
        assert found == [Outcome.STORED, Outcome.QUARANTINED]


@pytest.mark.parametrize(
    "copy",
    [
        replace(STORED, dev="phone-x", hlc=hlc(STORED.at + 1, 0)),
        replace(STORED, dev="phone-x"),
    ],
)
def test_one_tap_that_came_by_two_ways_is_kept_twice_and_counts_once(
    store: Store, copy: object
) -> None:
    """Control."""
    assert [one.outcome for one in store.append([copy])] == [Outcome.ALREADY]  # type: ignore[list-item]
    assert len(store.events(SID)) == 2
    assert in_order(store.events(SID)) == [STORED]
    assert store.quarantined() == []
