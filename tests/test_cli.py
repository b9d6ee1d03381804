"""The commands a shop's own scripts rely on: what they print, and how they end."""

import csv
import io
import json
import signal
import subprocess
import sys
import urllib.request
from collections.abc import Mapping, Sequence
from contextlib import closing
from pathlib import Path
from typing import Any

import pytest

from lowside.cli import main
from lowside.demo import put_demo_sessions, scenarios
from lowside.outlining import outline
from lowside.store import Store
from lowside.thermo import commands as thermo_commands
from lowside.thermo.tables import Properties


def run(*arguments: str) -> subprocess.CompletedProcess[str]:
    command = [sys.executable, "-m", "lowside", *arguments]
    return subprocess.run(command, capture_output=True, text=True, check=False, timeout=120)


@pytest.fixture(scope="module")
def demo(tmp_path_factory: pytest.TempPathFactory) -> Path:
    data = tmp_path_factory.mktemp("demo")
    put_demo_sessions(data)
    return data


@pytest.mark.parametrize("command", ["serve --no-qr --data", "demo --data", "replay"])
def test_a_place_that_cannot_be_used_is_a_sentence(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], command: str
) -> None:
    file = tmp_path / "a file"
    file.touch()
    place = tmp_path if command == "replay" else file
    assert main([*command.split(), str(place)]) == 1
    (sentence,) = capsys.readouterr().err.splitlines()
    assert sentence.startswith("This could not be done: ")
    assert str(place) in sentence


# serve


def test_serve_does_not_load_what_its_first_answer_does_not_need() -> None:
    unneeded = "('CoolProp', 'PIL', 'cryptography', 'psycopg', 'qrcode')"
    code = (
        "import sys\nimport lowside.web.serving\n"
        f"print([name for name in {unneeded} if name in sys.modules])"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout.strip() == "[]"


@pytest.mark.xdist_group("browser")
@pytest.mark.parametrize("qr", [True, False])
def test_serve_prints_where_it_is_and_answers_there(tmp_path: Path, qr: bool) -> None:
    command = [sys.executable, "-m", "lowside", "serve", "--port", "0", "--data", str(tmp_path)]
    if not qr:
        command.append("--no-qr")
    # Unbuffered: `communicate` does not see what `readline` read ahead, and that may be the code.
    with subprocess.Popen(
        command, stdout=subprocess.PIPE, stderr=subprocess.PIPE, bufsize=0
    ) as process:
        assert process.stdout is not None
        first = process.stdout.readline().decode()
        try:
            assert first.startswith("Lowside is at http://localhost:")
            address = first.split(" at ")[1].strip()
            with urllib.request.urlopen(address + "health", timeout=30) as answer:
                assert answer.read() == b"ok"
        finally:
            process.send_signal(signal.SIGINT)
            out, err = process.communicate(timeout=30)
        assert ("█" in out.decode()) is qr
        assert "Traceback" not in err.decode()


@pytest.mark.xdist_group("browser")
@pytest.mark.parametrize(
    ("options", "named"),
    [
        (("--port", "70000"), "--port must be a port, from 0 to 65535."),
        (("--port", "-1"), "--port must be a port, from 0 to 65535."),
        (("--lan", "--lan-port", "65536"), "--lan-port must be a port, from 0 to 65535."),
        (("--lan", "--trust-port", "99999"), "--trust-port must be a port, from 0 to 65535."),
        (
            ("--proxy-name", "lowside.example", "--proxy-listen", "127.0.0.1:99999"),
            "--proxy-listen must be a port, from 0 to 65535.",
        ),
        (("--proxy-name", "lowside.example", "--proxy-listen", "8139"), "as HOST:PORT"),
        (("--lan", "--proxy-name", "lowside.example"), "Choose one"),
    ],
)
def test_serve_says_which_option_is_wrong(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], options: Sequence[str], named: str
) -> None:
    assert main(["serve", "--data", str(tmp_path / "data"), *options]) == 2
    assert named in capsys.readouterr().err
    assert not (tmp_path / "data").exists()


def test_serve_says_when_its_port_or_its_store_is_taken(tmp_path: Path) -> None:
    command = [sys.executable, "-m", "lowside", "serve", "--no-qr", "--port", "0", "--data"]
    with subprocess.Popen([*command, str(tmp_path / "a")], stdout=subprocess.PIPE) as process:
        assert process.stdout is not None
        first = process.stdout.readline().decode()
        try:
            port = first.strip().strip("/").rsplit(":", 1)[1]
            same_store = run("serve", "--no-qr", "--port", "0", "--data", str(tmp_path / "a"))
            same_port = run("serve", "--no-qr", "--port", port, "--data", str(tmp_path / "b"))
        finally:
            process.terminate()
    assert same_store.returncode == 1
    assert same_store.stderr.strip().endswith(".")
    assert "Traceback" not in same_store.stderr
    assert same_port.returncode == 1
    assert f"Port {port} is taken" in same_port.stderr


# tables and saturation


def test_tables_ends_well_when_every_refrigerant_is_in_spec(
    capsys: pytest.CaptureFixture[str],
) -> None:
    assert main(["tables", "--json"]) == 0
    answer = json.loads(capsys.readouterr().out)
    assert answer["in_spec"] is True
    assert {"R-410A", "R-454B"} <= {report["refrigerant"] for report in answer["refrigerants"]}


def test_tables_check_ends_badly_when_one_is_out_of_spec(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    # The check itself, against tables that are off, is in test_saturation_command.py.
    def one_refused(properties: Properties) -> list[Mapping[str, Any]]:
        reports = [dict(report) for report in properties.reports]
        reports[0]["refusal"] = "0.02 K off"
        return reports

    monkeypatch.setattr(thermo_commands, "_checked", one_refused)
    assert main(["tables", "--check"]) == 1
    assert "0.02 K off" in capsys.readouterr().out
    assert main(["tables"]) == 0


def test_saturation_answers_with_the_agreed_keys(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["saturation", "R-454B", "118psig", "--elevation", "5280ft", "--json"]) == 0
    answer = json.loads(capsys.readouterr().out)
    assert list(answer) == ["refrigerant", "pressure_pa", "dew_k", "bubble_k", "in_range"]
    # Standard atmosphere (ISO 2533) at 1609.344 m: 83 436 Pa.
    assert answer["pressure_pa"] == pytest.approx(118 * 6894.757293168 + 83_436, abs=20)
    assert answer["dew_k"] > answer["bubble_k"]
    assert answer["in_range"] is True


@pytest.mark.parametrize(
    "arguments",
    [
        ["saturation", "R-000", "118psig"],
        ["saturation", "R-410A", "118"],
        ["saturation", "R-410A", "abcpsig"],
        ["saturation", "R-410A", "118psig", "--elevation", "high"],
        ["saturation"],
    ],
)
def test_saturation_refuses_what_it_cannot_read(
    arguments: list[str], capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(arguments) in (1, 2)
    captured = capsys.readouterr()
    assert captured.out + captured.err != ""


# demo, export, check-store


def test_demo_fills_an_empty_store_once(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["demo", "--data", str(tmp_path)]) == 0
    assert f"{len(scenarios())} demo sessions" in capsys.readouterr().out
    before = sorted(path.read_bytes() for path in tmp_path.rglob("*.jsonl"))
    assert len(before) == len(scenarios())
    assert main(["demo", "--data", str(tmp_path)]) == 0
    assert "nothing added" in capsys.readouterr().out
    assert sorted(path.read_bytes() for path in tmp_path.rglob("*.jsonl")) == before


def test_demo_beside_a_server_says_who_has_the_store(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    with closing(Store.open(tmp_path, outline)):
        assert main(["demo", "--data", str(tmp_path)]) == 1
    assert "is in use" in capsys.readouterr().err


def test_whoever_reads_the_first_lines_only_gets_no_complaint(tmp_path: Path) -> None:
    assert main(["demo", "--data", str(tmp_path)]) == 0
    log = next(iter(tmp_path.rglob("*.jsonl")))
    command = [sys.executable, "-m", "lowside", "replay", str(log)]
    with subprocess.Popen(command, stdout=subprocess.PIPE, stderr=subprocess.PIPE) as replay:
        assert replay.stdout is not None
        assert replay.stderr is not None
        replay.stdout.close()
        assert replay.stderr.read() == b""


def test_check_store_is_content_with_the_demo_and_not_with_damage(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    put_demo_sessions(tmp_path)
    assert main(["check-store", str(tmp_path)]) == 0
    assert main(["check-store", str(tmp_path), "--json"]) == 0
    path = next(tmp_path.rglob("*.jsonl"))
    lines = path.read_bytes().splitlines(keepends=True)
    path.write_bytes(b"".join([lines[0], lines[1].replace(b"a", b"b", 1), *lines[2:]]))
    capsys.readouterr()
    assert main(["check-store", str(tmp_path)]) == 1
    assert path.stem in capsys.readouterr().out


def test_export_gives_every_event_once_as_json_lines(
    demo: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["export", str(demo)]) == 0
    events = [json.loads(line) for line in capsys.readouterr().out.splitlines()]
    stored = sum(len(path.read_bytes().splitlines()) for path in demo.rglob("sessions/**/*.jsonl"))
    assert len({event["eid"] for event in events}) == len(events) == stored
    one = events[0]["sid"]
    assert main(["export", "--data", str(demo), "--sid", one]) == 0
    only = [json.loads(line) for line in capsys.readouterr().out.splitlines()]
    assert {event["sid"] for event in only} == {one}


def test_export_as_csv_is_one_line_a_session(demo: Path, tmp_path: Path) -> None:
    out = tmp_path / "sessions.csv"
    assert main(["export", str(demo), "--csv", "--out", str(out)]) == 0
    rows = list(csv.reader(io.StringIO(out.read_text("utf-8"))))
    assert len(rows) == len(scenarios()) + 1
    assert len({len(row) for row in rows}) == 1
    assert any("AC-2 roof east" in row for row in rows)


def test_no_command_or_an_unknown_one_shows_how(capsys: pytest.CaptureFixture[str]) -> None:
    for arguments in ([], ["dance"]):
        with pytest.raises(SystemExit) as ended:
            main(arguments)
        assert ended.value.code == 2
        assert "usage: lowside" in capsys.readouterr().err


def test_backup_and_restore_give_the_store_back(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    data, archive, again = tmp_path / "data", tmp_path / "b", tmp_path / "again"
    assert main(["demo", "--data", str(data)]) == 0
    assert main(["backup", str(data), "--out", str(archive)]) == 0
    assert main(["restore", str(archive), "--data", str(again)]) == 0
    assert "Nothing is wrong." in capsys.readouterr().out
    assert main(["restore", str(archive), "--data", str(again)]) == 1
    assert "not empty" in capsys.readouterr().err
    assert main(["backup", str(tmp_path / "none"), "--out", str(archive)]) == 1
