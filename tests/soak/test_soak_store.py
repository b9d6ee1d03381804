"""The store under random failure: full disks, no descriptors, flipped bits, restores, wrong clocks.

Each is short and seeded here; `make soak` runs them long.
"""

import os
import random
import resource
import shutil
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

from soaking import SEED, limited, times
from store_cases import START, arrived, event, opened, outline, ulid

from lowside.core.session.events import Event, hlc, next_hlc
from lowside.demo import put_demo_sessions
from lowside.outlining import outline as real_outline
from lowside.store import NotNowError, Store
from lowside.store.check import check
from lowside.store.index import Index
from lowside.web.phone.needed import DAY_MS


def free_descriptor() -> int:
    file = os.open(os.devnull, os.O_RDONLY)
    os.close(file)
    return file


def under(
    root: Path, limits: Callable[[random.Random, Store], tuple[int, int]], rounds: int
) -> int:
    """Append batches; before every second one the system refuses something. How many it refused."""
    chance = random.Random(SEED)
    expected: dict[str, list[Event]] = {ulid(n): [] for n in range(1, 6)}
    refused = 0
    store = opened(root)
    for turn in range(rounds):
        batch: list[Event] = []
        for sid in chance.sample(sorted(expected), chance.randrange(1, 4)):
            first = len(expected[sid]) + 1
            text = "x" * chance.randrange(0, 400)
            batch += [event(first + n, sid=sid, text=text) for n in range(chance.randrange(1, 4))]
        try:
            with limited(*limits(chance, store)):
                outcomes = [str(v.outcome) for v in store.append(batch)]
        except NotNowError:
            refused += 1
            outcomes = [str(v.outcome) for v in store.append(batch)]
        assert outcomes == ["stored"] * len(batch)
        for each in batch:
            expected[each.sid].append(each)
        if turn % 20 == 19:
            store.close()
            store = opened(root)
        assert {sid: store.events(sid) for sid in expected} == expected
    store.close()
    assert check(root, outline).problems == ()
    return refused


def test_full_disk(tmp_path: Path) -> None:
    def limits(chance: random.Random, _store: Store) -> tuple[int, int]:
        sizes = [path.stat().st_size for path in tmp_path.rglob("*.jsonl")] or [0]
        return resource.RLIMIT_FSIZE, chance.choice(sizes) + chance.randrange(0, 300)

    assert under(tmp_path / "data", limits, times(60, 3000)) > 0


def test_no_descriptors(tmp_path: Path) -> None:
    def limits(chance: random.Random, _store: Store) -> tuple[int, int]:
        return resource.RLIMIT_NOFILE, free_descriptor() + chance.randrange(0, 3)

    assert under(tmp_path / "data", limits, times(60, 3000)) > 0


def test_every_flipped_bit_is_found_and_nothing_else_is_lost(tmp_path: Path) -> None:
    chance = random.Random(SEED)
    root = tmp_path / "data"
    put_demo_sessions(root)
    with Store.open(root, real_outline) as store:
        sid = store.sessions()[0].sid
        rival = replace(store.events(sid)[0], data={"rival": "yes"})
        store.append([rival])
    known = set(check(root, real_outline).problems)
    logs = sorted(p for p in root.rglob("*.jsonl"))
    for turn in range(times(12, 400)):
        copy = tmp_path / f"copy-{turn}"
        shutil.copytree(root, copy)
        path = copy / chance.choice(logs).relative_to(root)
        content = bytearray(path.read_bytes())
        place = chance.randrange(len(content))
        content[place] ^= 1 << chance.randrange(8)
        path.write_bytes(bytes(content))
        found = set(check(copy, real_outline).problems)
        assert found - known, f"byte {place} of {path.name} was flipped and nobody noticed"
        with Store.open(copy, real_outline) as store, Store.open(root, real_outline) as whole:
            for listed in whole.sessions():
                lost = {e.eid for e in whole.events(listed.sid)} - {
                    e.eid for e in store.events(listed.sid)
                }
                assert len(lost) <= 2, "a flipped line feed joins two entries; more is too much"
        shutil.rmtree(copy)


def test_a_damaged_index_is_noticed_or_harmless(tmp_path: Path) -> None:
    chance = random.Random(SEED)
    root = tmp_path / "data"
    put_demo_sessions(root)
    with Store.open(root, real_outline) as store:
        right = store.ask(Index.contents)
    for turn in range(times(10, 300)):
        copy = tmp_path / f"copy-{turn}"
        shutil.copytree(root, copy)
        path = copy / "index.sqlite"
        content = bytearray(path.read_bytes())
        place = chance.randrange(len(content))
        content[place] ^= 1 << chance.randrange(8)
        path.write_bytes(bytes(content))
        noticed = check(copy, real_outline).problems != ()
        with Store.open(copy, real_outline) as store:
            if not noticed:
                assert store.ask(Index.contents) == right
            store.rebuild_index()
            assert store.ask(Index.contents) == right
        shutil.rmtree(copy)


def test_restores(tmp_path: Path) -> None:
    """Three followers, copies of all or of a part put back at random: nobody misses an entry."""
    for turn in range(times(6, 300)):
        _one_history(random.Random(SEED + turn), tmp_path / str(turn))
        shutil.rmtree(tmp_path / str(turn))


def _one_history(chance: random.Random, folder: Path) -> None:
    root = folder / "data"
    cursors = dict.fromkeys("abc", "")
    held: dict[str, set[tuple[str, str, int]]] = {who: set() for who in cursors}
    copies: list[Path] = []
    store = opened(root)
    count = 0
    for _ in range(40):
        act = chance.random()
        if act < 0.5:
            sid = ulid(chance.randrange(1, 5))
            count += 1
            dev = f"d{count}"  # each a device of its own, so that a lost number is not reused
            store.append([event(1, sid=sid, dev=dev)])
        elif act < 0.8:
            who = chance.choice("abc")
            batch = arrived(store, cursors[who], limit=chance.randrange(1, 9))
            held[who] |= {(e.sid, e.dev, e.seq) for e in batch.events}
            cursors[who] = batch.cursor
        else:
            store.close()
            if act < 0.88 or not copies:
                copies.append(folder / f"copy-{len(copies)}")
                shutil.copytree(root, copies[-1])
            else:
                _put_back(chance, chance.choice(copies), root)
            store = opened(root)
    stored = {(e.sid, e.dev, e.seq) for n in range(1, 5) for e in store.events(ulid(n))}
    for who in cursors:
        more = True
        while more:
            batch = arrived(store, cursors[who], limit=7)
            held[who] |= {(e.sid, e.dev, e.seq) for e in batch.events}
            cursors[who], more = batch.cursor, batch.more
        assert held[who] >= stored
    store.close()


def _put_back(chance: random.Random, copy: Path, root: Path) -> None:
    part = chance.choice(["all", "index", "sessions"])
    if part == "all":
        shutil.rmtree(root)
        shutil.copytree(copy, root)
    elif part == "sessions":
        if (copy / "sessions").exists():
            shutil.rmtree(root / "sessions", ignore_errors=True)
            shutil.copytree(copy / "sessions", root / "sessions")
    else:
        for suffix in ("", "-wal", "-shm"):
            (root / f"index.sqlite{suffix}").unlink(missing_ok=True)
        shutil.copyfile(copy / "index.sqlite", root / "index.sqlite")


def test_wrong_clocks() -> None:
    """Whatever the clocks of a server and its phones did before, order and form hold."""
    for turn in range(times(20, 2000)):
        chance = random.Random(SEED + turn)
        latest, now = "", START
        for _ in range(60):
            now += chance.randrange(-3 * DAY_MS, 3 * DAY_MS)
            before = latest
            if chance.random() < 0.1:
                latest = max(latest, hlc(max(now, 0), 999_990 + chance.randrange(10)))
            latest = next_hlc(latest, max(now, 0))
            assert latest > before
            assert len(latest) == 22
