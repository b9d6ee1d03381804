"""`lowside serve --store postgresql://…` as people start it: two processes, one database."""

import json
import signal
import subprocess
import sys
import urllib.request
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from postgres_cluster import Cluster
from store_cases import event

from lowside.cli import main
from lowside.store import event_to_json

pytestmark = pytest.mark.xdist_group("postgres")


def started(address: str, data: Path) -> "subprocess.Popen[bytes]":
    return subprocess.Popen(
        [
            *(sys.executable, "-m", "lowside", "serve", "--store", address, "--data", str(data)),
            *("--port", "0", "--no-qr", "--log-requests"),
        ],
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        bufsize=0,
    )


def where(server: "subprocess.Popen[bytes]") -> str:
    assert server.stdout is not None
    first = server.stdout.readline().decode()
    assert first.startswith("Lowside is at http://localhost:"), first
    return first.split(" at ")[1].strip()


def synced(place: str, cursor: str, *sent: object) -> dict[str, Any]:
    asked = {"v": 1, "dev": "phone", "cursor": cursor, "events": sent}
    request = urllib.request.Request(
        place + "api/sync", json.dumps(asked).encode(), {"Content-Type": "application/json"}
    )
    with urllib.request.urlopen(request, timeout=60) as answer:
        found: dict[str, Any] = json.load(answer)
        return found


def test_a_phone_goes_on_at_the_other_server_when_one_is_killed(
    cluster: Cluster, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    owner, address = cluster.address("lowside"), cluster.address("lowside", "served")
    assert main(["prepare-store", owner, "--shop", "served", "--role", "served"]) == 0
    assert "The role served serves the shop served." in capsys.readouterr().out
    servers = [started(address, tmp_path / name) for name in ("one", "two")]
    one, two = servers
    try:
        first, second = map(where, servers)
        answer = synced(first, "", event_to_json(event(1)))
        assert [each["outcome"] for each in answer["verdicts"]] == ["stored"]
        one.kill()
        answer = synced(second, answer["cursor"], event_to_json(event(1)), event_to_json(event(2)))
        assert [each["outcome"] for each in answer["verdicts"]] == ["already", "stored"]
        assert answer["restarted"] is False
        with urllib.request.urlopen(second + "ready", timeout=60) as ready:
            assert ready.read() == b"ready"
        two.send_signal(signal.SIGTERM)
        _, err = two.communicate(timeout=60)
        assert two.returncode == 0
        lines = [json.loads(line) for line in err.decode().splitlines()]
        assert [(line["kind"], line["status"]) for line in lines] == [("sync", 200), ("watch", 200)]
    finally:
        for server in servers:
            server.kill()
            server.communicate()


def test_people_are_added_to_the_database(
    new_shop: Callable[[], str], capsys: pytest.CaptureFixture[str]
) -> None:
    address = new_shop()
    assert main(["people", "--store", address, "add", "Ina", "--role", "field"]) == 0
    assert "Pairing code for Ina: " in capsys.readouterr().out
    assert main(["people", "--store", address, "list"]) == 0
    assert "Ina · field" in capsys.readouterr().out


@pytest.mark.parametrize(
    ("command", "sentence"),
    [
        (("serve", "--store", "mysql://host/name"), "it must begin with postgresql://"),
        (("people", "--store", "nowhere", "list"), "it must begin with postgresql://"),
    ],
)
def test_an_address_that_is_none_is_refused(
    command: tuple[str, ...], sentence: str, capsys: pytest.CaptureFixture[str]
) -> None:
    with pytest.raises(SystemExit) as caught:
        main(command)
    assert caught.value.code == 2
    assert sentence in capsys.readouterr().err


def test_a_database_that_cannot_be_used_ends_the_start_with_a_sentence(
    cluster: Cluster, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    address = cluster.address("postgres")
    assert main(["serve", "--store", address, "--data", str(tmp_path), "--port", "0"]) == 1
    assert "Run lowside prepare-store first" in capsys.readouterr().err
