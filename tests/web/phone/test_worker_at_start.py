"""A server makes the worker's script before the first phone asks, or says why it cannot."""

import threading
from pathlib import Path
from socket import socket
from typing import Any

import pytest

from lowside.translate.kinds import TranslationError
from lowside.web import serving


@pytest.fixture(autouse=True)
def no_garbage_settings(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("gc.freeze", lambda: None)


def settings(folder: Path, offline_copy: bool) -> serving.Settings:
    return serving.Settings(folder / "data", 0, show_qr=False, offline_copy=offline_copy)


@pytest.mark.parametrize("offline_copy", [True, False])
def test_the_worker_is_made_before_anybody_is_served(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, offline_copy: bool
) -> None:
    made: list[bool] = []

    def served(app: Any, listener: socket, _listeners: object) -> None:
        made.append("worker" in vars(app.state.offline))
        for thread in threading.enumerate():
            if thread.name == "smallest worker":
                thread.join()
        if made[0]:
            made.append("encoded" in vars(app.state.offline.worker))
        app.state.desk.store.close()
        listener.close()

    monkeypatch.setattr(serving, "run", served)
    assert serving.serve(settings(tmp_path, offline_copy)) == 0
    assert made == ([True, True] if offline_copy else [False])


@pytest.mark.parametrize(
    "error",
    [TranslationError("session/fold.py:12: `x @ y`: use + - * / only"), OSError("disk is full")],
)
def test_a_server_that_cannot_make_it_says_why_and_does_not_start(
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
    error: Exception,
) -> None:
    def refuses() -> str:
        raise error

    def served(*_: object) -> None:
        raise AssertionError("it serves without the offline copy it was asked for")

    monkeypatch.setattr("lowside.web.phone.offline.phone_program", refuses)
    monkeypatch.setattr(serving, "run", served)
    assert serving.serve(settings(tmp_path, offline_copy=True)) == 1
    said = capsys.readouterr()
    assert f"The offline copy for phones cannot be made: {error}\n" in said.err
    assert "--no-offline" in said.err
    assert "Lowside is at" not in said.out
