"""`lowside serve`: opens the store, prints the address with its QR code, and runs until stopped."""

import gc
import socket
import sys
from pathlib import Path

from pydantic.dataclasses import dataclass as checked

from lowside.library import load_handbook
from lowside.outlining import outline
from lowside.store import StoreError
from lowside.store.commands import say_progress
from lowside.store.device import run_name
from lowside.store.moved import why_moved
from lowside.translate.kinds import TranslationError
from lowside.web.access.last_address import note_address
from lowside.web.access.trust import NOT_REACHED, Reach
from lowside.web.app import create_app
from lowside.web.clock import Clock, new_ulid
from lowside.web.keeping import opened
from lowside.web.listening import (
    Lan,
    Listener,
    ListenError,
    Port,
    Proxy,
    open_outside,
    run,
)
from lowside.web.measures import log_line
from lowside.web.phone.offline import Offline

HOST = "127.0.0.1"


@checked(frozen=True)
class Settings:
    """What `lowside serve` was asked for."""

    data: Path
    """Folder of this server's own files, and of the store unless `store` names a database. It is
    made when missing."""
    port: Port
    show_qr: bool
    """Print the address as a QR code too."""
    offline_copy: bool
    """Let phones take one."""
    store: str = ""
    """Address of the store's database, "" for a store in `data`."""
    log_requests: bool = False
    """Write a line of JSON for each request on standard error."""
    outside: Lan | Proxy | None = None
    """How others than this machine are served, `None` when they are not."""


def serve(settings: Settings) -> int:
    """Serve until interrupted."""
    data = settings.data
    data.mkdir(parents=True, exist_ok=True)
    if settings.store == "" and (elsewhere := why_moved(data)):
        print(elsewhere, file=sys.stderr)
        return 1
    try:
        store, keeping = opened(settings.store or data, outline, say_progress)
        name = keeping.writer(lambda: new_ulid(Clock().now().at))
    except StoreError as error:
        print(error, file=sys.stderr)
        return 1
    for problem in store.problems():
        print(problem, file=sys.stderr)
    listener = socket.socket(socket.AF_INET, socket.SOCK_STREAM)
    listener.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
    try:
        listener.bind((HOST, settings.port))
        listener.listen()  # from here on the printed address takes a call
    except OSError:
        print(
            f"Port {settings.port} is taken by another program. Choose one with --port.",
            file=sys.stderr,
        )
        store.close()
        return 1
    reach: Reach = NOT_REACHED
    listeners: list[Listener] = []
    try:
        reach, listeners = open_outside(data, settings.outside)
    except ListenError as error:
        print(error, file=sys.stderr)
        store.close()
        return 1
    address = f"http://localhost:{listener.getsockname()[1]}/"
    device = run_name(name, new_ulid(Clock().now().at))
    app = create_app(
        store,
        load_handbook(),
        device,
        settings.offline_copy,
        reach,
        keeping=keeping,
        log=log_line if settings.log_requests else None,
    )
    if settings.offline_copy and not _offline_copy_made(app.state.offline):
        store.close()
        listener.close()
        return 1
    print(f"Lowside is at {address}", flush=True)
    _print_reach(reach, _address_before(data, reach))
    if settings.show_qr:
        _print_qr(reach.trust_address or reach.address or address)
    gc.freeze()  # what was made until now stays
    run(app, listener, listeners)
    return 0


def _offline_copy_made(offline: Offline) -> bool:
    """Whether phones can take one; says why not."""
    try:
        offline.make()
    except (TranslationError, OSError) as error:
        print(f"The offline copy for phones cannot be made: {error}", file=sys.stderr)
        print("To serve without it, add --no-offline.", file=sys.stderr)
        return False
    return True


def _address_before(data: Path, reach: Reach) -> str:
    """The address phones used before, "" when it is the same or nobody knows."""
    if reach.address == "":
        return ""
    try:
        return note_address(data, reach.address)
    except OSError as error:
        print(f"The address was not noted: {error}.", file=sys.stderr)
        return ""


def _print_reach(reach: Reach, before: str) -> None:
    if reach.address == "":
        return
    print(f"Phones open it at {reach.address}")
    if reach.authority is not None:
        print(f"The first time they start at {reach.trust_address}")
        print(f"Fingerprint of the certificate (SHA-256): {reach.authority.fingerprint}")
    print("Pair a phone from People on the office pages, or with lowside people.")
    if before != "":
        print(
            f"Phones used {before} before. They keep unsent entries under that address. "
            "Let them send there first."
        )
    sys.stdout.flush()


def _print_qr(address: str) -> None:
    import qrcode  # noqa: PLC0415 - with pictures of its own; the first answer needs none

    code = qrcode.QRCode(border=2)
    code.add_data(address)
    code.print_ascii(invert=True)
    sys.stdout.flush()
