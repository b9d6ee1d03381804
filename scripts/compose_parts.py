"""Run the parts of docs/compose without containers: PostgreSQL, two servers and the proxy.

    python scripts/compose_parts.py

It takes the servers' command from compose.yaml and the proxy's configuration from nginx.conf, and
changes addresses, ports and paths only. Then a phone is paired through the proxy and hands over
entries, a server is killed while it does, and the phone goes on. It needs PostgreSQL
(scripts/need-postgres.sh), nginx and openssl, and ends all it started.
"""

import http.client
import json
import re
import shutil
import socket
import ssl
import subprocess
import sys
import time
from collections.abc import Iterator, Sequence
from contextlib import ExitStack, closing, contextmanager
from pathlib import Path
from tempfile import TemporaryDirectory
from urllib.parse import urlencode

ROOT = Path(__file__).parents[1]
sys.path.append(str(ROOT / "tests" / "support"))

from ports import free_ports  # noqa: E402
from postgres_cluster import running_cluster  # noqa: E402
from store_cases import SID, event  # noqa: E402

from lowside.store import event_to_json  # noqa: E402

COMPOSE = ROOT / "docs" / "compose"
NAME = "lowside.example"
PATIENCE_S = 90.0
ENTRIES = 40


def main() -> int:
    for program in ("nginx", "openssl"):
        if shutil.which(program, path="/usr/sbin:/usr/bin:/sbin:/bin") is None:
            print(f"{program} is missing: apt-get install nginx-light openssl")
            return 1
    with TemporaryDirectory() as made, running_cluster("fsync=on") as cluster, ExitStack() as stack:
        folder = Path(made)
        secure, *doors = free_ports(5)
        owner, role = cluster.address("lowside"), cluster.address("lowside", "mill")
        lowside("prepare-store", owner, "--shop", "mill", "--role", "mill")
        print("prepare: the shop is ready")
        servers = [
            stack.enter_context(running(server_command(role, folder / name, *doors[2 * n :][:2])))
            for n, name in enumerate(("one", "two"))
        ]
        stack.enter_context(running(proxy_command(folder, secure, doors)))
        for port in doors[::2]:
            until_ready(port)
        print("one, two: ready")
        phone = Phone(secure, folder / "certificate.pem")
        said = lowside("people", "--store", role, "add", "Ina", "--role", "field")
        phone.pair(said.partition("Pairing code for Ina: ")[2].split()[0])
        print("proxy: a phone is paired through it")
        for number in range(1, ENTRIES + 1):
            if number == ENTRIES // 2:
                servers[0].kill()
                servers[0].wait()
                print("one: killed")
            phone.hand_over(number)
        print(f"phone: all {ENTRIES} entries are acknowledged, the later ones by the other server")
        said = lowside("check-store", role).strip()
        assert f"{ENTRIES} " in said, said
        print("check-store:", said)
    return 0


def lowside(*arguments: str) -> str:
    command = [sys.executable, "-m", "lowside", *arguments]
    return subprocess.run(command, check=True, capture_output=True, text=True).stdout


def server_command(role: str, data: Path, local: int, door: int) -> list[str]:
    """As in compose.yaml."""
    text = (COMPOSE / "compose.yaml").read_text()
    found = re.search(r"command: >-\n((?:    .*\n)+?)  environment", text)
    assert found is not None
    words = found[1].split()
    assert words[:2] == ["lowside", "serve"]
    changes = {
        "postgresql://mill@db/lowside": role,
        "data": str(data),
        "0.0.0.0:8139": f"127.0.0.1:{door}",
        "172.28.0.10": "127.0.0.1",
    }
    assert set(changes) <= set(words)
    changed = [changes.get(word, word) for word in words[1:]]
    return [sys.executable, "-m", "lowside", *changed, "--port", str(local)]


def proxy_command(folder: Path, secure: int, doors: Sequence[int]) -> list[str]:
    """As in nginx.conf."""
    certificate, key = folder / "certificate.pem", folder / "key.pem"
    subprocess.run(
        [
            *("openssl", "req", "-x509", "-newkey", "rsa:2048", "-nodes", "-days", "2"),
            *("-subj", f"/CN={NAME}", "-addext", f"subjectAltName=DNS:{NAME}"),
            *("-keyout", str(key), "-out", str(certificate)),
        ],
        check=True,
        capture_output=True,
    )
    text = (COMPOSE / "nginx.conf").read_text()
    for before, after in {
        "one:8139": f"127.0.0.1:{doors[1]}",
        "two:8139": f"127.0.0.1:{doors[3]}",
        "listen 443": f"listen 127.0.0.1:{secure}",
        "/etc/nginx/certificate.pem": str(certificate),
        "/etc/nginx/key.pem": str(key),
    }.items():
        assert text.count(before) == 1, before
        text = text.replace(before, after)
    conf = folder / "nginx.conf"
    conf.write_text(text)
    nginx = shutil.which("nginx", path="/usr/sbin:/usr/bin") or "nginx"
    own = f"daemon off; pid {folder}/nginx.pid; error_log {folder}/nginx.log;"
    return [nginx, "-c", str(conf), "-p", str(folder), "-g", own]


@contextmanager
def running(command: Sequence[str]) -> "Iterator[subprocess.Popen[bytes]]":
    with TemporaryDirectory() as folder:
        log = Path(folder) / "log"
        with log.open("wb") as out:
            process = subprocess.Popen(command, stdout=out, stderr=subprocess.STDOUT)
        try:
            yield process
        except BaseException:
            print(log.read_text("utf-8", "replace")[-2000:])
            raise
        finally:
            process.terminate()
            process.wait()


def until_ready(port: int) -> None:
    give_up = time.monotonic() + PATIENCE_S
    while True:
        try:
            with closing(http.client.HTTPConnection("127.0.0.1", port, timeout=10)) as asking:
                asking.request("GET", "/ready")
                if asking.getresponse().status == 200:
                    return
        except OSError:
            pass
        if time.monotonic() > give_up:
            raise TimeoutError(f"nothing is ready at {port}")
        time.sleep(0.1)


class Phone:
    """Comes in by the proxy and holds on to an entry until it is acknowledged."""

    def __init__(self, port: int, certificate: Path) -> None:
        self._port = port
        self._trusting = ssl.create_default_context(cafile=str(certificate))
        self._cookie = ""
        self._cursor = ""

    def pair(self, code: str) -> None:
        typed = urlencode({"code": code, "label": "Red phone"})
        status, headers, text = self._ask("/pair", typed, "application/x-www-form-urlencoded")
        assert status == 303, text
        self._cookie = headers["set-cookie"].partition(";")[0]

    def hand_over(self, number: int) -> None:
        while not self._handed_over(number):
            time.sleep(0.1)

    def _handed_over(self, number: int) -> bool:
        asked = {
            "v": 1,
            "dev": "phone",
            "cursor": self._cursor,
            "events": [event_to_json(event(number, sid=SID))],
        }
        try:
            status, _, text = self._ask("/api/sync", json.dumps(asked), "application/json")
        except OSError:
            return False
        if status != 200:
            return False
        answer = json.loads(text)
        self._cursor = answer["cursor"]
        outcome: str = answer["verdicts"][0]["outcome"]
        assert outcome in ("stored", "already"), answer
        return True

    def _ask(self, path: str, content: str, kind: str) -> tuple[int, dict[str, str], str]:
        plain = socket.create_connection(("127.0.0.1", self._port), 30)
        connection = http.client.HTTPSConnection(NAME, self._port, context=self._trusting)
        connection.sock = self._trusting.wrap_socket(plain, server_hostname=NAME)
        with closing(connection):
            headers = {"Content-Type": kind, "Cookie": self._cookie, "Host": NAME}
            connection.request("POST", path, content.encode(), headers)
            answer = connection.getresponse()
            found = {name.lower(): value for name, value in answer.getheaders()}
            return answer.status, found, answer.read().decode()


if __name__ == "__main__":
    sys.exit(main())
