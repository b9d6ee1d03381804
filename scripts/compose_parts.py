"""Run the parts of docs/compose without containers: PostgreSQL, two servers and the proxy.

    python scripts/compose_parts.py

It takes the servers' command from compose.yaml and the proxy's configuration from nginx.conf, and
changes addresses, ports and paths only. Then a phone is paired through the proxy and hands over
entries, a server is killed while it does, and the phone goes on. It needs PostgreSQL
(scripts/need-postgres.sh) and nginx (scripts/need-nginx.sh), and ends all it started.
"""

import http.client
import json
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

from compose_files import (  # noqa: E402
    NAME,
    certificate_for_nginx,
    command_of,
    compose,
    nginx,
    nginx_command,
    nginx_folder,
    through_nginx,
)
from ports import free_ports  # noqa: E402
from postgres_cluster import running_cluster  # noqa: E402
from store_cases import SID, event  # noqa: E402

from lowside.store import event_to_json  # noqa: E402

PATIENCE_S = 90.0
ENTRIES = 40


def main() -> int:
    try:
        nginx()
    except FileNotFoundError as error:
        print(error)
        return 1
    with (
        nginx_folder() as folder,
        running_cluster("fsync=on") as cluster,
        ExitStack() as stack,
    ):
        secure, *doors = free_ports(5)
        owner, role = cluster.address("lowside"), cluster.address("lowside", "mill")
        lowside("prepare-store", owner, "--shop", "mill", "--role", "mill")
        print("prepare: the shop is ready")
        servers = [
            stack.enter_context(running(server_command(role, folder / name, *doors[2 * n :][:2])))
            for n, name in enumerate(("one", "two"))
        ]
        stack.enter_context(running(nginx_command(folder, secure, doors[1::2])))
        for port in doors[::2]:
            until_ready(port)
        print("one, two: ready")
        phone = Phone(secure, certificate_for_nginx(folder).for_phones())
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
    words = command_of(compose()["services"]["one"])
    changes = {
        "postgresql://mill@db/lowside": role,
        "data": str(data),
        "0.0.0.0:8139": f"127.0.0.1:{door}",
        "172.28.0.10": "127.0.0.1",
    }
    assert set(changes) <= set(words)
    changed = [changes.get(word, word) for word in words]
    return [sys.executable, "-m", "lowside", *changed, "--port", str(local)]


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

    def __init__(self, port: int, authority: bytes) -> None:
        self._port = port
        self._trusting = ssl.create_default_context(cadata=authority)
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
        with closing(through_nginx(self._port, self._trusting)) as connection:
            headers = {"Content-Type": kind, "Cookie": self._cookie, "Host": NAME}
            connection.request("POST", path, content.encode(), headers)
            answer = connection.getresponse()
            found = {name.lower(): value for name, value in answer.getheaders()}
            return answer.status, found, answer.read().decode()


if __name__ == "__main__":
    sys.exit(main())
