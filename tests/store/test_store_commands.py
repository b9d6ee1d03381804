"""`check-store` and `export`: what they say and the code they end with."""

import csv
import errno
import json
import sqlite3
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import pytest
from store_cases import OTHER_SID, SID, event, log_path, opened, outline, ulid

from lowside.store import Outline
from lowside.store.check import check
from lowside.store.codec import lines_of, read_events
from lowside.store.commands import CSV_COLUMNS, check_store, export
from lowside.store.index import Index


@pytest.fixture
def root(tmp_path: Path) -> Path:
    root = tmp_path / "data"
    with opened(root) as store:
        store.append([event(1, site="Gym", technician="Ines"), event(2), event(1, dev="tablet")])
        store.append([event(1, sid=OTHER_SID), event(2, sid=OTHER_SID, kind="session.closed")])
    return root


def files(root: Path) -> dict[Path, bytes]:
    return {path: path.read_bytes() for path in root.rglob("*") if path.is_file()}


def test_a_sound_store_passes_and_is_not_touched(
    root: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    before = files(root)
    assert check_store(root, outline) == 0
    assert capsys.readouterr().out == "2 sessions, 5 entries, 0 set aside.\nNothing is wrong.\n"
    assert files(root) == before


def spoil_line(root: Path) -> None:
    content = log_path(root).read_bytes()
    log_path(root).write_bytes(content.replace(b"Ines", b"Anes"))


def tear_end(root: Path) -> None:
    with log_path(root).open("ab") as file:
        file.write(lines_of([event(3)])[:40])


def lose_line(root: Path) -> None:
    lines = log_path(root).read_bytes().split(b"\n")
    log_path(root).write_bytes(b"\n".join(lines[:0] + lines[1:]))


def set_aside(root: Path) -> None:
    with opened(root) as store:
        store.append([event(2, text="rival")])


def spoil_index(root: Path) -> None:
    (root / "index.sqlite").write_bytes(b"nothing of the kind" * 100)


def lose_index(root: Path) -> None:
    (root / "index.sqlite").unlink()


def stale_index(root: Path) -> None:
    with log_path(root).open("ab") as file:
        file.write(lines_of([event(3)]))


def changed(statement: str) -> Callable[[Path], None]:
    """Something that changes the index behind the store's back."""

    def change(root: Path) -> None:
        index = sqlite3.connect(root / "index.sqlite", isolation_level=None)
        assert index.execute(statement).rowcount > 0
        index.close()

    return change


def lose_log(root: Path) -> None:
    with opened(root) as store:
        store.append([event(2, text="rival")])
    log_path(root).unlink()


@pytest.mark.parametrize(
    ("spoil", "sentence"),
    [
        (spoil_line, "line 1 was left out: its checksum does not match"),
        (spoil_line, "1 entries of device phone are missing, the first is number 1"),
        (tear_end, "ends in the middle of an entry (40 bytes)"),
        (lose_line, "1 entries of device phone are missing, the first is number 1"),
        (set_aside, "is set aside. An entry with this device’s number is stored already"),
        (spoil_index, "The index cannot be used"),
        (lose_index, "The index is missing"),
        (stale_index, "The index says something else than the logs of 1 sessions"),
        (stale_index, "The index counts 5 entries, the logs hold 6"),
        (changed("UPDATE sessions SET site = 'Hill'"), "else than the logs of 2 sessions"),
        (changed("DELETE FROM derived WHERE key = 'gym'"), "else than the logs of 1 sessions"),
        (changed("UPDATE arrivals SET seq = seq + 7"), "counts 5 entries, the logs hold 5"),
        (
            changed("UPDATE units SET adding = 0"),
            "The index says something else than its sessions of 1",
        ),
        (changed("UPDATE units SET added_kg = 9.0"), "than its sessions of 1 units"),
        (changed("UPDATE units SET site = 'Hill'"), "than its sessions of 1 units"),
        (changed("DELETE FROM units"), "than its sessions of 1 units"),
        (
            changed("INSERT INTO cylinders VALUES ('C-9', 0, '', '', '', 1.0, 0, ',all,', '')"),
            "something else of 1 cylinders than their sessions",
        ),
        (changed("UPDATE marks SET n = n + 1 WHERE key = 'gym'"), "counts 1 texts and flags wrong"),
        (changed("DELETE FROM marks"), "counts 2 texts and flags wrong"),
        (changed("INSERT INTO marks VALUES ('look', 'any', 1)"), "counts 1 texts and flags wrong"),
        (lose_log, f"Session {SID} has entries set aside but no log"),
    ],
)
def test_what_is_wrong_is_said_and_nothing_is_changed(
    root: Path,
    capsys: pytest.CaptureFixture[str],
    spoil: Callable[[Path], None],
    sentence: str,
) -> None:
    spoil(root)
    before = files(root)
    assert check_store(root, outline) == 1
    assert sentence in capsys.readouterr().out
    assert check_store(root, outline, as_json=True) == 1
    found = json.loads(capsys.readouterr().out)
    assert any(sentence in problem for problem in found["problems"])
    assert files(root) == before


def test_a_count_of_none_and_the_last_bit_of_a_sum_are_nothing_wrong(root: Path) -> None:
    changed("INSERT INTO marks VALUES ('look', 'any', 0)")(root)
    changed("UPDATE units SET added_kg = added_kg * 1.0000000000000002")(root)
    assert check_store(root, outline) == 0


@pytest.mark.parametrize(
    "spoil",
    [
        spoil_index,
        lose_index,
        stale_index,
        changed("DELETE FROM units"),
        changed("UPDATE marks SET n = 9"),
    ],
)
def test_rebuild_makes_the_index_anew(
    root: Path, capsys: pytest.CaptureFixture[str], spoil: Callable[[Path], None]
) -> None:
    spoil(root)
    assert check_store(root, outline, rebuild=True) == 0
    assert "made again" in capsys.readouterr().out
    assert check_store(root, outline) == 0


def test_a_rebuilt_index_lists_the_same(root: Path) -> None:
    with opened(root) as store:
        contents, listed = store.ask(Index.contents), store.sessions()
        store.rebuild_index()
        assert (store.ask(Index.contents), store.sessions()) == (contents, listed)


def test_a_gap_filled_by_a_set_aside_entry_is_none(
    root: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    with opened(root) as store:
        store.append([replace(event(3), eid=event(1).eid), event(4)])
    assert check_store(root, outline) == 1
    assert "missing" not in capsys.readouterr().out


def test_a_gap_before_a_set_aside_entry_is_found(
    root: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    with opened(root) as store:
        store.append([replace(event(5), eid=event(1).eid, data={"other": "yes"})])
    assert check_store(root, outline) == 1
    assert "2 entries of device phone are missing, the first is number 3" in capsys.readouterr().out


def test_checking_beside_a_writer_finds_entries_the_logs_lost_and_says_what_it_left_out(
    root: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    with opened(root):
        assert check_store(root, outline) == 0
        assert "is writing, so the index was only asked" in capsys.readouterr().out
        log = next((root / "sessions").rglob("*.jsonl"))
        whole = log.read_bytes()
        log.write_bytes(whole[: whole.index(b"\n") + 1])
        assert check_store(root, outline) == 1
        assert "entries that the logs do not have" in capsys.readouterr().out
        log.write_bytes(whole)
        assert check_store(root, outline, rebuild=True) == 1
        assert "writes to it. Only one can." in capsys.readouterr().err


def test_a_store_that_is_not_there_is_not_made(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    nowhere = tmp_path / "nowhere"
    assert check_store(nowhere, outline) == 1
    assert check_store(nowhere, outline, rebuild=True) == 1
    assert export(nowhere, outline) == 1
    assert capsys.readouterr().err.count("There is no data folder") == 3
    assert not nowhere.exists()


def test_an_export_holds_every_event_and_can_be_stored_again(root: Path, tmp_path: Path) -> None:
    out = tmp_path / "all.jsonl"
    assert export(root, outline, out=out) == 0
    events, problems = read_events(out)
    assert problems == []
    with opened(root) as store, opened(tmp_path / "second") as second:
        assert {v.outcome for v in second.append(events)} == {"stored"}
        for sid in (SID, OTHER_SID):
            assert second.events(sid) == store.events(sid)
        assert second.ask(Index.contents) == store.ask(Index.contents)


def test_one_session_is_exported_to_the_terminal(
    root: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert export(root, outline, sids=[OTHER_SID]) == 0
    lines = capsys.readouterr().out.splitlines()
    assert [json.loads(line)["sid"] for line in lines] == [OTHER_SID] * 2


def test_an_unknown_session_is_named(root: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert export(root, outline, sids=["nope"]) == 1
    assert "There is no session nope" in capsys.readouterr().err


def test_practice_is_in_no_export_not_even_by_name(
    root: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    lesson = ulid(3)
    with opened(root) as store:
        store.append([event(1, sid=lesson, site="Practice yard", practice="yes")])
    for as_csv in (False, True):
        out = tmp_path / "all"
        assert export(root, outline, as_csv=as_csv, out=out) == 0
        text = out.read_text(encoding="utf-8")
        assert SID in text
        assert OTHER_SID in text
        assert lesson not in text
        assert "practice" not in text.lower()
        assert export(root, outline, sids=[lesson, SID], as_csv=as_csv, out=out) == 1
        assert lesson not in out.read_text(encoding="utf-8")
        said = capsys.readouterr().err
        assert f"{lesson} is a practice session" in said
        assert "There is no session" not in said


def test_the_list_is_one_csv_line_a_session(root: Path, tmp_path: Path) -> None:
    with opened(root) as store:
        store.append([event(5, site='=1+1;"x", é')])
    out = tmp_path / "list.csv"
    assert export(root, outline, as_csv=True, out=out) == 0
    with out.open(encoding="utf-8", newline="") as file:
        rows = list(csv.DictReader(file))
    assert tuple(rows[0]) == CSV_COLUMNS
    assert [row["sid"] for row in rows] == [SID, OTHER_SID]
    assert rows[0]["site"] == '\'=1+1;"x", é'
    assert rows[0]["started"] == "2025-11-24T16:00:00+00:00"
    assert (rows[0]["closed"], rows[0]["events"]) == ("", "4")
    assert rows[1]["added_kg"] == "0.25"


def test_a_time_no_calendar_has_breaks_no_list(
    root: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    late = Outline(started=2**53 - 1)
    assert export(root, lambda _events: late, sids=[SID], as_csv=True) == 0
    assert "9007199254740991 ms" in capsys.readouterr().out


def test_weights_in_the_list_are_written_to_a_tenth_of_a_gram(
    root: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    third = Outline(added_kg=1.0 / 3.0)
    assert export(root, lambda _events: third, sids=[SID], as_csv=True) == 0
    (row,) = csv.DictReader(capsys.readouterr().out.splitlines())
    assert row["added_kg"] == "0.3333"


def test_an_export_that_cannot_be_written_says_so_and_leaves_the_old_one(
    root: Path,
    tmp_path: Path,
    capsys: pytest.CaptureFixture[str],
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    out = tmp_path / "all.jsonl"
    assert export(root, outline, out=out) == 0
    old = out.read_bytes()

    def full(_file: int) -> None:
        raise OSError(errno.ENOSPC, "No space left on device")

    with opened(root) as store:
        store.append([event(3)])
    monkeypatch.setattr("os.fsync", full)
    assert export(root, outline, out=out) == 1
    assert "could not be written" in capsys.readouterr().err
    assert out.read_bytes() == old
    assert [path.name for path in tmp_path.iterdir() if path.name != "data"] == ["all.jsonl"]


def test_a_damaged_store_exports_what_it_can_and_says_what_is_missing(
    root: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    spoil_line(root)
    out = tmp_path / "all.jsonl"
    assert export(root, outline, out=out) == 1
    assert len(read_events(out)[0]) == 4
    assert "line 1 was left out" in capsys.readouterr().err


def test_who_waits_for_a_check_or_a_rebuild_is_told_how_far_it_is(
    root: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    count = len(list((root / "sessions").rglob("*.jsonl")))
    monkeypatch.setattr("lowside.store.filling.TOLD_EVERY_S", 1000.0)
    check_store(root, outline, rebuild=True)
    assert "Read" not in capsys.readouterr().err, "it took little time"
    monkeypatch.setattr("lowside.store.filling.TOLD_EVERY_S", -1.0)
    check_store(root, outline, rebuild=True)
    assert capsys.readouterr().err.count(f"Read {count} of {count} sessions.") == 2


@pytest.mark.parametrize(
    ("after", "skipped", "bit"),
    [
        # Also where only the order of a list is kept, and the row itself is sound.
        (SID.encode(), 20, 0x01),
        # In its plan of tables: SQLite complains in words that are then no text.
        (b"CREATE ", 3, 0x80),
    ],
    ids=["a session", "a table"],
)
def test_a_flipped_bit_anywhere_in_the_index_is_found_and_does_not_stop_the_start(
    root: Path, after: bytes, skipped: int, bit: int
) -> None:
    with opened(root) as store:
        right = store.ask(Index.contents)
    path = root / "index.sqlite"
    whole = path.read_bytes()
    places = [at for at in range(len(whole)) if whole.startswith(after, at)]
    assert len(places) > 8
    for place in places:
        changed = bytearray(whole)
        changed[place + skipped] ^= bit
        path.write_bytes(bytes(changed))
        assert check(root, outline).problems != (), place
        with opened(root) as store:
            assert store.ask(Index.contents) == right, place
            assert {one.sid for one in store.sessions()} == {SID, OTHER_SID}
            assert [one.sid for one in store.sessions("gym")] == [SID]
        path.write_bytes(whole)
