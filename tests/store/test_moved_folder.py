"""A folder whose shop went into a database: whoever goes on in it by mistake is told.

Source: docs/running-at-scale.md, "Moving a shop". The sentence is our choice.
"""

import socket
from collections.abc import Callable
from pathlib import Path

import pytest
from fastapi import FastAPI
from store_cases import SID, event
from test_move_store import PERSON

from lowside.cli import main
from lowside.outlining import outline
from lowside.store.choosing import open_store, without_password
from lowside.web.access.kept import kept_in
from lowside.web.access.pairing import Pairing
from lowside.web.access.people import Role

pytestmark = pytest.mark.xdist_group("postgres")

Said = pytest.CaptureFixture[str]


@pytest.fixture
def home(tmp_path: Path) -> Path:
    """A folder with an entry and a person."""
    with open_store(tmp_path / "data", outline) as store:
        store.append([event(1)])
    Pairing(kept_in(tmp_path / "data"), lambda: 1_800_000_000_000).add(PERSON, "Ina", Role.FIELD)
    return tmp_path / "data"


def in_folder(home: Path) -> dict[str, list[str]]:
    """What is done in a folder by mistake."""
    folder = ["--data", str(home)]
    return {
        "people": ["people", *folder, "remove", "Ina"],
        "backup": ["backup", str(home), "--out", str(home.parent / "b.tgz")],
        "check": ["check-store", str(home)],
        "export": ["export", str(home)],
        "demo": ["demo", *folder],
        "serve": ["serve", *folder, "--port", "0", "--no-qr", "--no-offline"],
    }


def served(monkeypatch: pytest.MonkeyPatch) -> list[object]:
    """Whether a server would have been started."""
    started: list[object] = []

    def run(app: FastAPI, listener: socket.socket, *_: object) -> None:
        started.append(True)
        listener.close()
        app.state.desk.store.close()

    monkeypatch.setattr("lowside.web.serving.run", run)
    monkeypatch.setattr("gc.freeze", lambda: None)
    return started


def test_a_folder_whose_shop_was_moved_says_where_it_is(
    home: Path, new_shop: Callable[[], str], capsys: Said, monkeypatch: pytest.MonkeyPatch
) -> None:
    address, started = new_shop(), served(monkeypatch)
    where = without_password(address).partition("?")[0]
    assert main(["move-store", str(home), address]) == 0
    told = f"The shop of {home} is in the database {where} since 20"
    said = capsys.readouterr().out
    assert told in said
    assert "password" not in (home / "moved").read_text()
    for name, command in in_folder(home).items():
        assert main(command) == 1, name
        found = capsys.readouterr()
        assert (found.out + found.err).count(told) == 1, name
    assert started == []
    there = in_folder(home)["serve"]
    assert main([*there, "--store", address]) == 0  # its own files stay in that folder
    assert started == [True]
    assert not (home.parent / "b.tgz").exists()
    assert not Pairing(kept_in(home), lambda: 0).roll().people[PERSON].removed
    assert main(["people", "--store", address, "--data", str(home), "remove", "Ina"]) == 0
    assert main(["move-store", str(home), address]) == 1  # the people went on there
    assert "belongs to another shop" in capsys.readouterr().err


def test_it_is_moved_again_as_often_as_one_likes_and_back(
    home: Path, new_shop: Callable[[], str], capsys: Said, monkeypatch: pytest.MonkeyPatch
) -> None:
    address, copy, started = new_shop(), home.parent / "copy", served(monkeypatch)
    assert [main(["move-store", str(home), address]) for _ in range(2)] == [0, 0]
    with open_store(address, outline) as store:
        store.append([event(2)])
    capsys.readouterr()
    assert main(["move-store", address, str(copy)]) == 0  # a copy, to back it up
    assert f"The shop of {copy}" not in capsys.readouterr().out
    assert main(["backup", str(copy), "--out", str(home.parent / "b.tgz")]) == 0
    assert main(["move-store", address, str(home)]) == 0  # back, and a person says so
    assert f"To go on in this folder anyway, remove {home}/moved." in capsys.readouterr().out
    assert main(in_folder(home)["serve"]) == 1
    (home / "moved").unlink()
    commands = in_folder(home)
    del commands["backup"], commands["demo"]
    for name, command in commands.items():
        assert main(command) == 0, name
    assert started == [True]
    with open_store(home, outline, lambda *_: None) as store:
        assert [each.seq for each in store.events(SID)] == [1, 2]


def test_a_folder_that_a_server_still_writes_to_is_not_marked(
    home: Path, new_shop: Callable[[], str], capsys: Said
) -> None:
    address = new_shop()
    with open_store(home, outline):
        assert main(["move-store", str(home), address]) == 0
        assert f"A server still writes to {home}." in capsys.readouterr().out
    assert not (home / "moved").exists()
    assert main(["move-store", str(home), str(home.parent / "copy")]) == 0  # no database
    assert not (home / "moved").exists()
    assert main(in_folder(home)["check"]) == 0
    assert main(["move-store", str(home), address]) == 0
    assert (home / "moved").exists()
