"""`lowside serve`: opens the store, prints the address with its QR code, and runs until stopped."""

import socket
import sys
from contextlib import suppress
from pathlib import Path

import qrcode
import uvicorn

from lowside.library import load_handbook
from lowside.outlining import outline
from lowside.store import Store, StoreError
from lowside.web.app import create_app, device_name
from lowside.web.clock import Clock, new_ulid

HOST = "127.0.0.1"


def serve(data: Path, port: int, show_qr: bool, offline_copy: bool) -> int:
    """Serve this machine until interrupted.

    Args:
        data: folder of the store, made when missing.
        port: TCP port; 0 takes a free one.
        show_qr: print the address as a QR code too.
        offline_copy: let phones take one.
    """
    data.mkdir(parents=True, exist_ok=True)
    try:
        store = Store.open(data, outline)
    except StoreError as error:
        print(error, file=sys.stderr)
        return 1
    for problem in store.problems():
        print(problem, file=sys.stderr)
    listener = socket.socket(socket.AF_INET, socket.SOCK_STREAM)
    listener.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
    try:
        listener.bind((HOST, port))
        listener.listen()  # from here on the printed address takes a call
    except OSError:
        print(f"Port {port} is taken by another program. Choose one with --port.", file=sys.stderr)
        store.close()
        return 1
    address = f"http://localhost:{listener.getsockname()[1]}/"
    device = device_name(data, lambda: new_ulid(Clock().now().at))
    app = create_app(store, load_handbook(), device, offline_copy)
    print(f"Lowside is at {address}", flush=True)
    if show_qr:
        _print_qr(address)
    server = uvicorn.Server(uvicorn.Config(app, log_level="warning", access_log=False))
    with suppress(KeyboardInterrupt):  # raised anew after an orderly end
        server.run(sockets=[listener])
    return 0


def _print_qr(address: str) -> None:
    code = qrcode.QRCode(border=2)
    code.add_data(address)
    code.print_ascii(invert=True)
    sys.stdout.flush()
