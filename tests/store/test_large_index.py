"""A large index is used at once and looked through meanwhile."""

from pathlib import Path

import pytest
from store_cases import SID, arrived, event, opened

from lowside.store import index, opening


@pytest.fixture(autouse=True)
def every_index_is_large(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(index, "CHECKED_AT_ONCE", 0)
    monkeypatch.setattr(opening, "CHECKED_AT_ONCE", 0)


def test_a_damaged_one_is_said_and_made_again_at_the_next_start(tmp_path: Path) -> None:
    with opened(tmp_path) as store:
        store.append([event(n, text="x" * 500) for n in range(1, 60)])
        cursor = arrived(store, "").cursor
    path = tmp_path / index.INDEX_FILE
    content = bytearray(path.read_bytes())
    page = int.from_bytes(content[16:18], "big")
    last = len(content) // page - 1
    content[last * page : last * page + 200] = b"\x55" * 200
    path.write_bytes(content)
    with opened(tmp_path) as store:
        assert store._look is not None
        store._look._thread.join()
        assert "restart Lowside" in " ".join(store.problems())
        assert len(store.events(SID)) == 59
    with opened(tmp_path) as store:
        assert store.problems() == []
        assert [one.events for one in store.sessions()] == [59]
        assert arrived(store, cursor).restarted is True


def test_a_sound_one_is_kept(tmp_path: Path) -> None:
    with opened(tmp_path) as store:
        store.append([event(1, text="x")])
        cursor = arrived(store, "").cursor
    with opened(tmp_path) as store:
        assert store._look is not None
        store._look._thread.join()
        assert store.problems() == []
        assert arrived(store, cursor).restarted is False
