"""The store against the simplest thing it could be: a dict of lists, through any course of events.

Appends, repeats, contradictions, reopening, torn ends and rebuilt indexes come in any order; after
each, the store says what the model says.
"""

import shutil
import tempfile
from dataclasses import replace
from pathlib import Path

from hypothesis import Phase, settings
from hypothesis import strategies as st
from hypothesis.stateful import RuleBasedStateMachine, initialize, invariant, rule
from store_cases import arrived, event, log_path, opened, outline, ulid

from lowside.core.session.events import Event, in_order
from lowside.store.codec import line_of
from lowside.store.index import Index

SIDS = [ulid(1), ulid(2), ulid(3)]
DEVICES = ["phone", "tablet"]

sids = st.sampled_from(SIDS)
devices = st.sampled_from(DEVICES)
texts = st.text(max_size=20)


class StoreAgainstModel(RuleBasedStateMachine):
    @initialize()
    def start(self) -> None:
        self.folder = Path(tempfile.mkdtemp())
        self.root = self.folder / "data"
        self.store = opened(self.root)
        self.stored: dict[str, list[Event]] = {sid: [] for sid in SIDS}
        self.aside: list[Event] = []
        self.torn = 0
        self.cursor = ""
        self.received: set[tuple[str, str, int]] = set()

    def teardown(self) -> None:
        if hasattr(self, "store"):
            self.store.close()
            shutil.rmtree(self.folder)

    def next_seq(self, sid: str, dev: str) -> int:
        known = [*self.stored[sid], *(e for e in self.aside if e.sid == sid)]
        return max((e.seq for e in known if e.dev == dev), default=0) + 1

    def send(self, *events: Event) -> list[str]:
        return [str(verdict.outcome) for verdict in self.store.append(events)]

    @rule(sid=sids, dev=devices, text=texts, count=st.integers(1, 6))
    def append(self, sid: str, dev: str, text: str, count: int) -> None:
        first = self.next_seq(sid, dev)
        batch = [event(first + n, sid=sid, dev=dev, text=text) for n in range(count)]
        assert self.send(*batch) == ["stored"] * count
        self.stored[sid].extend(batch)

    @rule(sid=sids, dev=devices, text=texts, count=st.integers(3, 6))
    def append_over_what_is_stored(self, sid: str, dev: str, text: str, count: int) -> None:
        """A phone that did not hear the answer sends its last entries again with new ones."""
        known = [one for one in self.stored[sid] if one.dev == dev][-2:]
        first = self.next_seq(sid, dev)
        batch = [event(first + n, sid=sid, dev=dev, text=text) for n in range(count)]
        assert self.send(*known, *batch) == ["already"] * len(known) + ["stored"] * count
        self.stored[sid].extend(batch)

    @rule(sid=sids, dev=devices, text=texts)
    def append_among_bad_ones(self, sid: str, dev: str, text: str) -> None:
        good = event(self.next_seq(sid, dev), sid=sid, dev=dev, text=text)
        bad = replace(good, sid="../" + sid[3:])
        assert self.send(bad, good, replace(good, seq=0)) == ["refused", "stored", "refused"]
        self.stored[sid].append(good)

    @rule(sid=sids, pick=st.integers(0, 10**6))
    def repeat(self, sid: str, pick: int) -> None:
        if self.stored[sid]:
            again = self.stored[sid][pick % len(self.stored[sid])]
            assert self.send(again, again) == ["already", "already"]

    @rule(sid=sids, pick=st.integers(0, 10**6), text=texts)
    def contradict(self, sid: str, pick: int, text: str) -> None:
        if self.stored[sid]:
            stored = self.stored[sid][pick % len(self.stored[sid])]
            rival = replace(stored, data={"rival": text})
            assert self.send(rival) == ["quarantined"]
            if rival not in self.aside:
                self.aside.append(rival)

    @rule(sid=sids, pick=st.integers(0, 10**6), same=st.booleans())
    def reuse_an_event_id(self, sid: str, pick: int, same: bool) -> None:
        if not self.stored[sid]:
            return
        stored = self.stored[sid][pick % len(self.stored[sid])]
        other = replace(stored, dev="server", seq=self.next_seq(sid, "server"))
        if same:
            # The first of an eid in the log is the one that counts. None that comes before it in
            # the order is taken: it would count in its place.
            first = next(e for e in self.stored[sid] if e.eid == stored.eid)
            assert first.data == stored.data
            before = in_order([other, first])[0] is other
            assert self.send(other) == ["quarantined" if before else "already"]
            (self.aside if before else self.stored[sid]).append(other)
        else:
            other = replace(other, kind="something.else")
            assert self.send(other) == ["quarantined"]
            self.aside.append(other)

    @rule()
    def reopen(self) -> None:
        self.store.close()
        self.store = opened(self.root)

    @rule()
    def rebuild(self) -> None:
        self.store.rebuild_index()

    @rule()
    def lose_the_index(self) -> None:
        self.store.close()
        (self.root / "index.sqlite").unlink()
        self.store = opened(self.root)

    @rule(sid=sids, dev=devices, text=texts, cut=st.integers(1, 10**6))
    def die_while_writing(self, sid: str, dev: str, text: str, cut: int) -> None:
        """A new entry reaches the disk only in part; it was not acknowledged."""
        coming = event(self.next_seq(sid, dev), sid=sid, dev=dev, text=text)
        line = line_of(coming)
        length = 1 + cut % len(line)
        self.store.close()
        path = log_path(self.root, sid)
        path.parent.mkdir(parents=True, exist_ok=True)
        with path.open("ab") as file:
            file.write(line[:length])
        self.store = opened(self.root)
        if length >= len(line) - 1:
            self.stored[sid].append(coming)
        else:
            self.torn += 1

    @rule(sid=sids, cut=st.integers(0, 10**6))
    def lose_the_end_of_a_log(self, sid: str, cut: int) -> None:
        """Worse than a kill: the disk itself forgets part of the last entry."""
        if not self.stored[sid]:
            return
        line = line_of(self.stored[sid][-1])
        lost = 1 + cut % len(line)
        self.store.close()
        path = log_path(self.root, sid)
        with path.open("r+b") as file:
            file.truncate(path.stat().st_size - lost)
        self.store = opened(self.root)
        if lost > 1:
            self.stored[sid].pop()
        if 1 < lost < len(line):
            self.torn += 1

    @rule(limit=st.integers(1, 5))
    def follow(self, limit: int) -> None:
        batch = arrived(self.store, self.cursor, limit)
        assert len(batch.events) <= limit
        self.cursor = batch.cursor
        self.received |= {(e.sid, e.dev, e.seq) for e in batch.events}
        if not batch.more:
            known = {(e.sid, e.dev, e.seq) for events in self.stored.values() for e in events}
            assert known <= self.received

    @invariant()
    def says_what_the_model_says(self) -> None:
        if not hasattr(self, "store"):
            return
        for sid in SIDS:
            assert self.store.events(sid) == self.stored[sid]
            for dev in DEVICES:
                assert self.store.next_seq(sid, dev) == self.next_seq(sid, dev)
        found = [item.event for item in self.store.quarantined()]
        assert sorted(found, key=repr) == sorted(self.aside, key=repr)
        everything = [e for events in self.stored.values() for e in events]
        assert self.store.last_hlc() == max((e.hlc for e in everything), default="")
        listed = {item.sid: item for item in self.store.sessions()}
        assert set(listed) == {sid for sid in SIDS if self.stored[sid]}
        for sid, item in listed.items():
            assert item.outline == outline(self.stored[sid])
            assert item.events == len(self.stored[sid])
        assert (self.store.problems() != []) == (self.torn > 0)

    @invariant()
    def index_equals_one_made_anew(self) -> None:
        if hasattr(self, "store"):
            with opened(self.root, write=False) as reader:
                assert self.store.ask(Index.contents) == reader.ask(Index.contents)


TestStoreAgainstModel = StoreAgainstModel.TestCase
TestStoreAgainstModel.settings = settings(
    max_examples=50,
    stateful_step_count=25,
    # Shrinking runs thousands of courses, each waiting for the disk: minutes for little.
    phases=[Phase.explicit, Phase.reuse, Phase.generate],
)
