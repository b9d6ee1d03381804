"""docs/compose as a test reads and runs it: the services, nginx's directives, and nginx itself
with other addresses, ports and paths."""

import http.client
import os
import re
import shutil
import socket
import ssl
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any

import yaml

from lowside.web.access.authority import Authority, open_authority, utc_now

ROOT = Path(__file__).parents[2]
COMPOSE = ROOT / "docs" / "compose"
NAME = "lowside.example"
NO_NGINX = "There is no nginx: sh scripts/need-nginx.sh"
TEMPORARY = ("client_body", "proxy", "fastcgi", "uwsgi", "scgi")


def compose() -> dict[str, Any]:
    """compose.yaml, with what its services share in each of them."""
    return dict(yaml.safe_load((COMPOSE / "compose.yaml").read_text()))


def command_of(service: dict[str, Any]) -> list[str]:
    """Its words after `lowside`."""
    first, *words = str(service["command"]).split()
    assert first == "lowside"
    return words


@dataclass(frozen=True)
class Directive:
    """One of nginx's: `listen 443 ssl;`, or `server { … }`."""

    name: str
    words: tuple[str, ...]
    inside: tuple["Directive", ...] = ()


def nginx_conf() -> list[Directive]:
    """Every directive of nginx.conf, however deep."""
    text = re.sub(r"#.*", "", (COMPOSE / "nginx.conf").read_text())
    return list(_with_inner(_directives(iter(re.findall(r"[{};]|[^\s{};]+", text)))))


def _directives(words: Iterator[str]) -> tuple[Directive, ...]:
    found: list[Directive] = []
    said: list[str] = []
    for word in words:
        if word == "}":
            break
        if word in "{;":
            inside = _directives(words) if word == "{" else ()
            found.append(Directive(said[0], tuple(said[1:]), inside))
            said = []
        else:
            said.append(word)
    assert said == []
    return tuple(found)


def _with_inner(directives: Sequence[Directive]) -> Iterator[Directive]:
    for directive in directives:
        yield directive
        yield from _with_inner(directive.inside)


def nginx() -> str:
    """Its program.

    Raises
        FileNotFoundError: there is none.
    """
    places = os.pathsep.join((os.environ["PATH"], "/usr/sbin", f"{ROOT}/.venv/nginx/usr/sbin"))
    found = shutil.which("nginx", path=places)
    if found is None:
        raise FileNotFoundError(NO_NGINX)
    return found


@contextmanager
def nginx_folder() -> Iterator[Path]:
    """For nginx to run in. Started by root it works as another user, who gets through to its own
    temporary files and can list nothing."""
    with TemporaryDirectory() as made:
        Path(made).chmod(0o711)
        yield Path(made)


def certificate_for_nginx(folder: Path) -> Authority:
    """A certificate under the name in nginx.conf, and the authority to trust for it."""
    authority = open_authority(folder, (NAME,), utc_now())
    authority.renew_leaf(utc_now())
    return authority


def nginx_command(folder: Path, secure: int, doors: Sequence[int]) -> list[str]:
    """nginx by nginx.conf, for servers at these two doors of this machine, itself at `secure`."""
    authority = certificate_for_nginx(folder)
    temporary = "".join(f"{each}_temp_path {folder}/{each};" for each in TEMPORARY)
    text = (COMPOSE / "nginx.conf").read_text()
    for before, after in {
        "one:8139": f"127.0.0.1:{doors[0]}",
        "two:8139": f"127.0.0.1:{doors[1]}",
        "listen 443": f"listen 127.0.0.1:{secure}",
        "/etc/nginx/certificate.pem": str(authority.leaf_path),
        "/etc/nginx/key.pem": str(authority.leaf_key_path),
        "http {": f"http {{ access_log off; {temporary}",
    }.items():
        assert text.count(before) == 1, before
        text = text.replace(before, after)
    conf = folder / "nginx.conf"
    conf.write_text(text)
    log = f"{folder}/nginx.log"
    own = f"daemon off; pid {folder}/nginx.pid; error_log {log};"
    return [nginx(), "-e", log, "-c", str(conf), "-p", str(folder), "-g", own]


def through_nginx(port: int, trusting: ssl.SSLContext) -> http.client.HTTPSConnection:
    """A connection to it under its name, which leads to it here alone."""
    plain = socket.create_connection(("127.0.0.1", port), 30)
    connection = http.client.HTTPSConnection(NAME, port, context=trusting)
    connection.sock = trusting.wrap_socket(plain, server_hostname=NAME)
    return connection
