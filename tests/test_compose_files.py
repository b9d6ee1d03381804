"""docs/compose holds together: its files agree with each other and with Lowside, and nginx reads
its own and sends requests on as that says. The containers themselves are not run."""

import re
import ssl
import subprocess
import sys
import threading
import tomllib
from argparse import Namespace
from collections.abc import Callable, Iterator
from contextlib import closing, contextmanager
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from ipaddress import ip_address, ip_network
from pathlib import Path
from typing import Any, cast
from urllib.parse import urlsplit

import pytest
from compose_files import (
    COMPOSE,
    NAME,
    certificate_for_nginx,
    command_of,
    compose,
    nginx,
    nginx_command,
    nginx_conf,
    nginx_folder,
    through_nginx,
)
from ports import free_ports
from waiting import until

from lowside.cli import DEFAULT_PORT, main
from lowside.web.access.guard import LARGER_BODIES, LARGEST_BODY, LARGEST_PICTURE_FORM
from lowside.web.listening import ENDS_WITHIN_S, Proxy
from lowside.web.serving import Settings
from lowside.web.watching import ready, router

SERVERS = ("one", "two")
SERVICES: dict[str, Any] = compose()["services"]


def words_after(name: str) -> list[tuple[str, ...]]:
    return [each.words for each in nginx_conf() if each.name == name]


@pytest.fixture
def taken(monkeypatch: pytest.MonkeyPatch) -> Callable[[list[str]], Any]:
    """What Lowside's own commands make of these words, without doing it."""
    seen: list[Any] = []

    def see(*made: Any) -> Any:
        seen.append(made[0] if len(made) == 1 else made)
        return [] if len(made) > 1 else 0

    monkeypatch.setattr("lowside.web.serving.serve", see)
    monkeypatch.setattr("lowside.store.choosing.make_ready", see)
    monkeypatch.setattr("lowside.web.access.people_commands.people_command", see)

    def take(words: list[str]) -> Any:
        seen.clear()
        assert main(words) == 0
        (only,) = seen
        return only

    return take


def test_the_servers_serve_the_shop_that_was_prepared(taken: Callable[[list[str]], Any]) -> None:
    owner, shards, shop, role = taken(command_of(SERVICES["prepare"]))
    database = SERVICES["db"]
    prepared = urlsplit(owner)
    assert (prepared.username, prepared.hostname) == ("postgres", "db")
    assert prepared.path == "/" + database["environment"]["POSTGRES_DB"]
    assert shards == []
    assert shop == role
    for name in SERVERS:
        settings = taken(command_of(SERVICES[name]))
        assert isinstance(settings, Settings)
        served = urlsplit(settings.store)
        assert (served.username, served.hostname) == (role, prepared.hostname)
        assert served.path == prepared.path
    # The package's own command or another image: nothing here is started in a third way.
    assert {name for name, each in SERVICES.items() if "command" in each} == {"prepare", *SERVERS}


def test_the_proxy_and_the_servers_find_and_know_each_other(
    taken: Callable[[list[str]], Any],
) -> None:
    proxy = SERVICES["proxy"]
    address = proxy["networks"]["inside"]["ipv4_address"]
    (subnet,) = compose()["networks"]["inside"]["ipam"]["config"]
    assert ip_address(address) in ip_network(subnet["subnet"])
    outside = [taken(command_of(SERVICES[name])).outside for name in SERVERS]
    for each in outside:
        assert isinstance(each, Proxy)
        assert each.host == "0.0.0.0"
        assert each.peers == (address,)
        assert words_after("server_name") == [(each.name,)] == [(NAME,)]
    upstream = {"http://" + words[0] for words in words_after("upstream")}
    assert {words[0] for words in words_after("proxy_pass")} == upstream
    found = [words[0] for words in words_after("server") if words]
    assert found == [f"{name}:{each.port}" for name, each in zip(SERVERS, outside, strict=True)]
    assert set(proxy["depends_on"]) == set(SERVERS)
    (listened,) = (words[0] for words in words_after("listen"))
    assert proxy["ports"] == [f"443:{listened}"]
    assert all("inside" in each["networks"] for each in SERVICES.values())
    assert [name for name, each in SERVICES.items() if "ports" in each] == ["proxy"]


def test_files_and_names_are_where_they_are_looked_for(root: Path) -> None:
    page = (root / "docs" / "running-at-scale.md").read_text()
    mounts = dict(reversed(mount.split(":")[:2]) for mount in SERVICES["proxy"]["volumes"])
    assert mounts.pop("/etc/nginx/nginx.conf") == "./nginx.conf"
    keys = words_after("ssl_certificate") + words_after("ssl_certificate_key")
    assert sorted(mounts) == sorted(words[0] for words in keys)
    beside = {Path(source).name for source in mounts.values()}
    text = (COMPOSE / "compose.yaml").read_text()
    comment = " ".join(line for line in text.splitlines() if line.startswith("#"))
    for name in (*beside, ".env"):
        assert name in comment, name
        assert f"`{name}`" in page, name
    asked = set(re.findall(r"\$\{(\w+)\}", text))
    named = set(re.findall(r"\w+_(?:PASSWORD|ZONE)", comment))
    assert asked == named == {"OWNER_PASSWORD", "MILL_PASSWORD", "SHOP_ZONE"}
    owner = SERVICES["db"]["environment"]["POSTGRES_PASSWORD"]
    assert SERVICES["prepare"]["environment"] == {"PGPASSWORD": owner}
    for name in SERVERS:
        set_there = {"PGPASSWORD": "${MILL_PASSWORD}", "TZ": "${SHOP_ZONE}"}
        assert SERVICES[name]["environment"] == set_there
    (volume,) = SERVICES["db"]["volumes"]
    assert volume.split(":")[0] in compose()["volumes"]


def test_the_image_has_what_the_package_is_made_of_and_nothing_else(root: Path) -> None:
    made = {str(SERVICES[name]["build"]) for name in ("prepare", *SERVERS)}
    assert len(made) == 1
    build = SERVICES["one"]["build"]
    assert (COMPOSE / build["context"]).resolve() == root.resolve()
    copied: list[str] = []
    for line in build["dockerfile_inline"].splitlines():
        if line.startswith("COPY "):
            *sources, target = line.split()[1:]
            assert target == "./" or sources == [target], line
            copied += sources
    with (root / "pyproject.toml").open("rb") as file:
        written = tomllib.load(file)
    wheel = written["tool"]["hatch"]["build"]["targets"]["wheel"]
    (package,) = wheel["packages"]
    needed = ["pyproject.toml", written["project"]["readme"], *written["project"]["license-files"]]
    needed += [Path(package).parts[0], *wheel["force-include"]]
    assert sorted(copied) == sorted(needed)


def test_what_lowside_takes_gets_through(root: Path) -> None:
    ((size,),) = words_after("client_max_body_size")
    largest = max(LARGEST_BODY, LARGEST_PICTURE_FORM, *LARGER_BODIES.values())
    assert size.endswith("m")
    assert int(size[:-1]) << 20 >= largest
    assert f"client_max_body_size {size};" in (root / "docs" / "serving-phones.md").read_text()


def test_a_server_has_the_time_to_stop_by_itself() -> None:
    for name in SERVERS:
        grace = SERVICES[name]["stop_grace_period"]
        assert re.fullmatch(r"\d+s", grace)
        assert int(grace[:-1]) >= ENDS_WITHIN_S + 2.0


def test_the_health_check_asks_whether_a_server_is_ready() -> None:
    (path,) = (route.path for route in router.routes if route.endpoint is ready)
    asked = f"http://localhost:{DEFAULT_PORT}{path}"
    for name in SERVERS:
        cmd, python, c, program = SERVICES[name]["healthcheck"]["test"]
        assert (cmd, python, c) == ("CMD", "python", "-c")
        assert asked in program
        for status in (200, 503):
            with answering(status) as server:
                here = program.replace(str(DEFAULT_PORT), str(server.server_port))
                ran = subprocess.run([sys.executable, "-c", here], check=False, capture_output=True)
                assert (ran.returncode == 0) == (status == 200), ran.stderr
                assert [line.split()[1] for line in server.asked] == [path]


def test_the_commands_in_the_text_are_taken(root: Path, taken: Callable[[list[str]], Any]) -> None:
    page = (root / "docs" / "running-at-scale.md").read_text()
    (inside,) = re.findall(r"^    docker compose exec (\w+) lowside (.+)$", page, re.MULTILINE)
    assert inside[0] in SERVERS
    words = [word.strip('"') for word in re.findall(r'"[^"]+"|\S+', inside[1])]
    chosen = taken(words)
    assert isinstance(chosen, Namespace)
    assert (chosen.action, chosen.role) == ("add", "field")
    assert chosen.store == taken(command_of(SERVICES["one"])).store
    assert chosen.data == taken(command_of(SERVICES["one"])).data  # it knows the address of phones


class Answering(ThreadingHTTPServer):
    """In a server's place: has one answer for everything, and notes what it was asked."""

    daemon_threads = True
    status: int
    asked: list[str]


class _Answer(BaseHTTPRequestHandler):
    protocol_version = "HTTP/1.1"

    def _answer(self) -> None:
        server = cast("Answering", self.server)
        size = len(self.rfile.read(int(self.headers.get("Content-Length", "0"))))
        said = [self.headers.get(name, "") for name in HEADERS]
        server.asked.append(" ".join((self.command, self.path, str(size), *said)))
        body = f"{server.status} of {server.server_port}".encode()
        self.send_response(server.status)
        self.send_header("Content-Length", str(len(body)))
        self.end_headers()
        self.wfile.write(body)

    do_GET = do_POST = _answer  # noqa: N815  the names http.server calls

    def log_message(self, format: str, *args: object) -> None:
        """Silent."""


HEADERS = ("Host", "X-Forwarded-Proto", "X-Forwarded-For")
SYNC, FORM, PAGE = ("POST", "/api/sync"), ("POST", "/s/1/form/note"), ("GET", "/office")


@contextmanager
def answering(status: int) -> Iterator[Answering]:
    server = Answering(("127.0.0.1", 0), _Answer)
    server.status, server.asked = status, []
    thread = threading.Thread(target=server.serve_forever, args=(0.02,), daemon=True)
    thread.start()
    try:
        yield server
    finally:
        server.shutdown()
        server.server_close()
        thread.join()


def test_nginx_takes_its_file_and_goes_by_what_the_servers_say() -> None:
    """A server that says 503 is passed over, whatever was asked, where asking twice is harmless."""
    with nginx_folder() as folder, answering(200) as one, answering(503) as two:
        (secure,) = free_ports(1)
        command = nginx_command(folder, secure, [one.server_port, two.server_port])
        tried = subprocess.run([*command, "-t"], check=False, capture_output=True, text=True)
        assert tried.returncode == 0, tried.stderr
        assert "[warn]" not in tried.stderr + (folder / "nginx.log").read_text()
        trusting = ssl.create_default_context(cadata=certificate_for_nginx(folder).for_phones())
        process = subprocess.Popen(command)
        try:
            until(lambda: is_there(secure, trusting), "nginx answers")
            one.asked.clear()
            two.asked.clear()
            for asked in (SYNC, PAGE):
                answers = [ask(secure, trusting, *asked) for _ in range(6)]
                assert answers == [(200, f"200 of {one.server_port}")] * 6, asked
            assert len(one.asked) == 12
            assert {line.split()[1] for line in two.asked} == {SYNC[1], PAGE[1]}
            for line in one.asked + two.asked:  # each knows whom it was asked for, and how
                assert line.split()[3:] == [NAME, "https", "127.0.0.1"]
            one.asked.clear()
            two.asked.clear()
            forms = [ask(secure, trusting, *FORM)[0] for _ in range(6)]
            assert sorted(set(forms)) == [200, 503]
            assert len(one.asked) + len(two.asked) == len(forms), "each form went to one server"

            # A save that both refuse reaches the phone with the reason, and keeps nobody out.
            one.status = 503
            for _ in range(6):
                status, said = ask(secure, trusting, *SYNC)
                assert status == 503
                assert said in [f"503 of {server.server_port}" for server in (one, two)]
            one.status = two.status = 200
            assert [ask(secure, trusting, *PAGE)[0] for _ in range(4)] == [200] * 4

            # The largest that the program takes.
            assert ask(secure, trusting, *FORM, LARGEST_PICTURE_FORM)[0] == 200
            sizes = {int(line.split()[2]) for line in one.asked + two.asked}
            assert LARGEST_PICTURE_FORM in sizes
            assert ask(secure, trusting, *FORM, LARGEST_PICTURE_FORM + 1_000_000)[0] == 413
        finally:
            process.terminate()
            process.wait()


def is_there(port: int, trusting: ssl.SSLContext) -> bool:
    try:
        return ask(port, trusting, *PAGE)[0] == 200
    except OSError:
        return False


def ask(
    port: int, trusting: ssl.SSLContext, method: str, path: str, size: int = 10
) -> tuple[int, str]:
    with closing(through_nginx(port, trusting)) as connection:
        connection.request(method, path, b"x" * size if method == "POST" else None, {"Host": NAME})
        answer = connection.getresponse()
        return answer.status, answer.read().decode()


def test_nginx_is_said_to_be_missing(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("compose_files.shutil.which", lambda *_, **__: None)
    with pytest.raises(FileNotFoundError, match="need-nginx"):
        nginx()
